"""What the commands show: findings, what matters, changes and files as lines of a terminal, or all of it as JSON.

Dates are as on the sheets; JSON has them in ISO 8601. Colour only where a terminal reads it and NO_COLOR is not set,
and never alone: the word stands there too. Text is wrapped for a terminal only, never in a pipe.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from forcing.errors import SEVERITIES, Finding, Severity, merged, sort_findings

if TYPE_CHECKING:
    from forcing.api import PlannedSeason, SeasonOutlook
    from forcing.reports.matters import Problem

MOST_LINES, WIDTH = 25, 80  # of what `forcing plan` says, on a terminal that wide
MOST_DISPLAYS = 4  # by name: the rest stands in cover.csv
LEAST_LOTS, MOST_LOTS = 4, 12  # rows of the outlook: the rest stands in outlook.csv
OF_OUTLOOK = ("lot-late",)  # findings that an outlook tells itself
MOST_CHANGES = 6  # lines: the rest stands in changes.csv
_COLOURS = {"error": "red", "warning": "yellow", "note": "cyan"}


# ---------------------------------------------------------------- a line


def say(text: str = "", severity: Severity | None = None) -> None:
    """A line, or several; with a severity its word stands before it, in colour where that is read."""
    word = f"{severity}: " if severity else ""
    shown = "\n".join(map(_wrapped, f"{word}{text}".splitlines())) if sys.stdout.isatty() else f"{word}{text}"
    if severity:
        bold = click.style(f"{severity}:", fg=_COLOURS[severity], bold=severity == "error")
        shown = f"{bold}{shown[len(severity) + 1 :]}"
    click.echo(shown, color=False if os.environ.get("NO_COLOR") else None)


def _wrapped(line: str) -> str:
    """A line of text wrapped to the terminal; of a table it stays as it is."""
    if "  " in line.strip():
        return line
    width = max(40, shutil.get_terminal_size((WIDTH, MOST_LINES)).columns)
    return textwrap.fill(line, width, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)


def lines_of(text: str) -> int:
    """Lines that a text takes on a terminal of WIDTH."""
    return sum(max(1, len(textwrap.wrap(line, WIDTH))) for line in text.splitlines() or [""])


# ---------------------------------------------------------------- findings


def say_findings(findings: Sequence[Finding], on: date | None, *, where: bool = True) -> None:
    """All of them, those of one cause as one; `on`: the day from which dates are told, None: they stay as written.

    where: with table, row and column, for the one who fills them in.
    """
    for finding in merged(findings):
        told = finding if on is None else in_day_words(finding, on)
        say(str(told) if where else f"{told.what()}. {told.hint}", finding.severity)
    if not findings:
        say("No findings.")


def in_day_words(finding: Finding, on: date) -> Finding:
    """A finding with its dates as on the sheets; what a person typed stays as typed."""
    return replace(finding, message=in_days(finding.message, on), hint=in_days(finding.hint, on))


def in_days(text: str, on: date) -> str:
    """A text with its ISO dates as on the sheets."""
    from forcing.reports.matters import in_words

    return in_words(text, on)


def counted(severities: Iterable[Severity]) -> str:
    """'1 error, 2 warnings'."""
    counts = Counter(severities)
    return ", ".join(
        f"{counts[severity]} {severity}{'' if counts[severity] == 1 else 's'}"
        for severity in SEVERITIES
        if counts[severity]
    )


# ---------------------------------------------------------------- what matters


def say_plan(made: PlannedSeason, paths: Sequence[Path]) -> None:
    """A plan in MOST_LINES lines: findings as far as they fit, what has changed, what matters first, the folder."""
    plan, found = made.result.plan, made.matters
    lots = "1 lot" if len(plan.lots) == 1 else f"{len(plan.lots)} lots"
    head = [f"\n{lots} planned, {len(plan.unplanned)} not.", *change_lines(made)]
    tail = [*map(_problem_line, found.first), found.dates, *file_lines(paths)]
    # less the blank line and heading of what matters, and the count of what does not fit
    room = MOST_LINES - 3 - sum(map(lines_of, [*head, *tail]))
    for line in (chances := chance_lines(made, room - 2)):
        say(line)
    room -= sum(map(lines_of, chances))
    _say_others([p for p in found.problems if p not in found.first], room, "findings.csv")
    for line in head:
        say(line)
    say_matters(made, paths, where=True)


def say_chances(made: PlannedSeason) -> None:
    """How sure each display is of being in colour, before anything else."""
    for line in chance_lines(made):
        say(line)


def chance_lines(made: PlannedSeason, most: int = MOST_DISPLAYS) -> list[str]:
    """A heading and a line for each of the `most` least sure displays; none where there is no room or no display."""
    wanted = f"Chance that at least {made.result.plan.season.wanted_cover:.0%} of the pots are in bloom:"
    told = [f"  {line}" for line in made.chances[: max(0, min(most, MOST_DISPLAYS))]]
    more = len(made.chances) - len(told)
    return (
        [wanted, *told, *([f"  {more} more, surer than these: see cover.csv"] if more else [])]
        if told
        else []
    )


def say_errors_and_matters(
    made: PlannedSeason,
    words: str,
    paths: Sequence[Path],
    changes: Sequence[str] | None = None,
    told: Sequence[str] = (),
) -> None:
    """What a Monday needs: errors, what has changed, the answer of the command, what matters first, the folder.

    changes: lines of what has; None: those of the plan against what was agreed. told: findings that `words` tell.
    """
    found = made.matters
    others = [p for p in found.problems if p not in found.first]
    errors = [p for p in others if p.severity == "error"]
    _say_others(errors, MOST_LINES, "forcing plan")
    if len(others) > len(errors):
        say(f"{counted(p.severity for p in others if p.severity != 'error')} more: see forcing plan.")
    for line in change_lines(made) if changes is None else changes:
        say(line)
    say(words)
    say_matters(made, paths, told)


def say_outlook(made: PlannedSeason, seen: SeasonOutlook, paths: Sequence[Path]) -> None:
    """An outlook in MOST_LINES lines: its table as long as what stands around it leaves room for."""
    first = [f"{p.severity}: {_short(p)}" for p in made.matters.first if p.code not in OF_OUTLOOK]
    around = [*change_lines(made), *first, made.matters.dates, *file_lines(paths)]
    room = (
        MOST_LINES - 3 - sum(map(lines_of, around))
    )  # less the count of other findings, a blank line, a heading
    rows = next((n for n in range(MOST_LOTS, LEAST_LOTS, -1) if lines_of(seen.text(n)) <= room), LEAST_LOTS)
    say_errors_and_matters(made, seen.text(rows), paths, told=OF_OUTLOOK)


def say_matters(
    made: PlannedSeason, paths: Sequence[Path], told: Sequence[str] = (), *, where: bool = False
) -> None:
    """The foot of every command: the few things to put right first, the dates ahead, the folder.

    told: codes of findings that are told above; where: with table, row and column.
    """
    first = [problem for problem in made.matters.first if problem.code not in told]
    if first:
        say("\nWhat matters first:")
    for problem in first:
        say(_text(problem) if where else _short(problem), problem.severity)
    for line in (made.matters.dates, *file_lines(paths)):
        if line:
            say(line)


def _say_others(problems: Sequence[Problem], room: int, more: str) -> None:
    """As many problems as fit in `room` lines, and how many more there are."""
    for i, problem in enumerate(problems):
        room -= lines_of(_problem_line(problem))
        if room < 0:
            say(f"{counted(p.severity for p in problems[i:])} more: see {more}.")
            return
        say(_text(problem), problem.severity)


def _text(problem: Problem) -> str:
    where = f"{problem.where}: " if problem.where else ""
    return f"{where}{problem.what}. {problem.do}"


def _short(problem: Problem) -> str:
    """A problem without where it stands, but for an error, which is to be mended there."""
    return _text(problem) if problem.severity == "error" else problem.told


def _problem_line(problem: Problem) -> str:
    return f"{problem.severity}: {_text(problem)}"


def change_lines(made: PlannedSeason) -> list[str]:
    """What is not as it was agreed; where nothing was agreed, how to."""
    agreement = made.result.agreement
    if agreement is None:
        return ["Nothing is agreed yet: forcing agree keeps these dates and places."]
    lines = [f"changed: {line}" for line in made.change_lines]
    if len(lines) > MOST_CHANGES:
        lines[MOST_CHANGES:] = [f"changed: {len(lines) - MOST_CHANGES} more, see changes.csv"]
    return lines or [f"As agreed on {in_days(str(agreement.on), made.on)}, but for what the log tells."]


def file_lines(paths: Sequence[Path]) -> list[str]:
    """How many files were written, a line for each folder."""
    return [
        f"Written: {'1 file' if count == 1 else f'{count} files'} in {folder}"
        for folder, count in Counter(path.parent for path in paths).items()
    ]


# ---------------------------------------------------------------- JSON


def say_json(**parts: Any) -> None:
    """One JSON document: text as it is, days in ISO 8601, what is not known null."""
    click.echo(json.dumps(parts, ensure_ascii=False, indent=2, default=str))


def findings_data(findings: Sequence[Finding]) -> list[dict[str, Any]]:
    """Every finding by itself, worst first."""
    return [
        {key: value for key, value in asdict(f).items() if key not in ("several", "rows")} | {"lots": f.about}
        for f in sort_findings(findings)
    ]


def plan_data(made: PlannedSeason, paths: Sequence[Path]) -> dict[str, Any]:
    """What `say_plan` says, whole."""
    plan, found = made.result.plan, made.matters
    return {
        "on": made.on,
        "planned": [p.lot.name for p in plan.lots],
        "unplanned": [u.lot.name for u in plan.unplanned],
        "next": dict(found.ahead),
        "busiest": None
        if found.busiest is None
        else dict(zip(("week", "hours"), found.busiest, strict=True)),
        "chances": list(made.chances),
        "first": [asdict(problem) for problem in found.first],
        "findings": findings_data(plan.findings),
        "agreed": None if made.result.agreement is None else made.result.agreement.on,
        "changes": list(made.change_lines),
        "files": [str(path) for path in paths],
    }


def outlook_data(seen: SeasonOutlook) -> list[dict[str, Any]]:
    """The table of outlook.csv as records."""
    from forcing.reports.frames import OUTLOOK_COLUMNS, rows_of

    return list(rows_of(seen.table[list(OUTLOOK_COLUMNS)]))
