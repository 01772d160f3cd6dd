"""The commands. Each reads its words, makes one call, shows the answer; heavy imports wait until then.

Exit code 0: done. 1: done, but error findings leave lots unplanned. 2: could not read or understand, and
nothing was written. 130: stopped with Ctrl-C, the old files as they were.
"""

from __future__ import annotations

import atexit
import gc
import io
import os
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click

from forcing import __version__
from forcing.dates import YEARS, iso_week, parse_date
from forcing.errors import SEVERITIES, Finding, ForcingError, NothingToPlan, SeasonUnreadable

if TYPE_CHECKING:
    from forcing.api import LoadedSeason, PlannedSeason, SeasonReview, SeasonSteering

INTERRUPTED, PIPE_CLOSED = 130, 141  # 128 and the number of the signal, as shells count
_Command = TypeVar("_Command", bound=Callable[..., Any])
_Made = TypeVar("_Made")


def _day(ctx: click.Context, param: click.Parameter, value: str | None) -> date | None:
    """A calendar date written YYYY-MM-DD."""
    if value is None:
        return None
    try:
        day = parse_date(value)
    except ValueError:
        raise click.BadParameter(
            f"{value} is not a date: write it as year-month-day, like 2026-11-02"
        ) from None
    if not YEARS[0] <= day.year <= YEARS[1]:
        raise click.BadParameter(f"the year {day.year} cannot be right: no season is of it")
    return day


SEASON = click.argument("season", type=click.Path(path_type=Path))
SEEN_FROM = "The day from which the season is seen: what is done, due and overdue."


def _on(otherwise: str, help: str = SEEN_FROM) -> Callable[[_Command], _Command]:
    """The option --on; `otherwise` says in words what holds where it is not given."""
    return click.option("--on", callback=_day, metavar="YYYY-MM-DD", show_default=otherwise, help=help)


ON = _on("today")
OUT = click.option(
    "-o", "--out", type=click.Path(path_type=Path, file_okay=False), default=Path("out"), show_default=True,
    metavar="DIR", help="Folder for the sheets; it is made where there is none.",
)  # fmt: skip

ACTIONS = click.option(
    "--actions", type=click.IntRange(0), metavar="N", default=None, show_default="the few that earn their work",
    help="Steer by so many actions at most.",
)  # fmt: skip

SAFE = click.option(
    "--safe-csv", is_flag=True,
    help="Put an apostrophe before CSV cells that a spreadsheet program would run as formulas.",
)  # fmt: skip


def _unit(default: str | None, otherwise: str = "") -> Callable[[_Command], _Command]:
    """The option --unit; `otherwise` says in words what holds where it is not given."""
    return click.option(
        "--unit", type=click.Choice(["C", "F"], case_sensitive=False), metavar="C|F", default=default,
        show_default=otherwise or True, help="Unit of the temperatures.",
    )  # fmt: skip


class _InOrder(click.Group):
    """Lists the commands in the order in which a season needs them; prints what a terminal has no letter for as ?."""

    def main(self, *words: Any, **named: Any) -> Any:
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):
                stream.reconfigure(errors="replace")
        with _no_collecting():
            return super().main(*words, **named)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)


@contextmanager
def _no_collecting() -> Iterator[None]:
    """Never look for cycles of garbage: a tenth of a run goes into it, and what it would free is little."""
    gc.disable()
    atexit.register(gc.freeze)  # nor at the end, when all is freed anyway
    try:
        yield
    finally:
        gc.enable()


@click.group(
    cls=_InOrder,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="SEASON is a workbook (.xlsx) or a folder of .csv files; it is never written into. "
    "First steps: forcing demo, then forcing start my-season.xlsx. Exit code 0: done; 1: done, but "
    "error findings leave lots or rows out; 2: not understood, and nothing was written.",
)
@click.version_option(__version__, prog_name="forcing")
def main() -> None:
    """Plan a forced-bulb show back from its opening day, and hand out the work."""


@main.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False), default=Path("forcing-demo"))
@_unit("C")
@_on("a day of its autumn, then one of its winter")
def demo(folder: Path, unit: str, on: date | None) -> None:
    """Write an example season and do everything with it.

    FOLDER is forcing-demo unless you name one.
    """
    with _failing_in_words():
        from forcing.api import load
        from forcing.season.demo import DEMO_AUTUMN, DEMO_LOT, DEMO_WINTER, write_demo

        workbook = write_demo(folder, "F" if unit.upper() == "F" else "C", progress=_progress)
        season = load(workbook, progress=_progress)
        made = season.plan(on=on or DEMO_AUTUMN)
        _show(made, [workbook, *made.write(folder / "sheets")])
        done = made.agree()
        season = done.season
        where = f": {done.folder}" if done.folder else f" as on {done.agreement.on}"
        click.echo(f"\nAgreed, so that its dates and places stay{where}")
        winter = season.plan(on=on or DEMO_WINTER)
        click.echo(f"\nThe same season seen on {winter.on}, with its log and readings until then:")
        _say_changes(winter)
        steering = winter.steer()
        _list(winter.write_week(folder / "winter"))
        _list(winter.outlook().write(folder / "winter"))
        _list(steering.write(folder / "winter"))
        _list(winter.why(DEMO_LOT).write(folder / "winter"))
        _list(season.review(on=on).write(folder / "winter"))
        click.echo(f"\n{steering.words}")
        click.echo(
            f"\nOpen {workbook} to see what a season looks like, then try: forcing start my-season.xlsx"
        )
        sys.exit(_code(made.result.plan.findings))


@main.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), required=False)
@_unit("C")
@click.option(
    "--paper", type=click.Choice(["A4", "Letter"], case_sensitive=False), metavar="A4|Letter", default="A4",
    show_default=True, help="Paper of the printed sheets.",
)  # fmt: skip
@click.option(
    "--measures", type=click.Choice(["metric", "US"], case_sensitive=False), metavar="metric|US", default="metric",
    show_default=True, help="Measures of pots, mix and cloth.",
)  # fmt: skip
@click.option("--columns", is_flag=True, help="Print every table and column instead, as Markdown.")
def start(file: Path | None, unit: str, paper: str, measures: str, columns: bool) -> None:
    """Write a starter season workbook for you to fill in.

    FILE is its name and ends in .xlsx; a file that is there already is left alone.
    """
    with _failing_in_words():
        if columns:
            from forcing.season.schema import tables_markdown

            click.echo(tables_markdown(), nl=False)
            return
        if file is None:
            _stop("give the new workbook a name that ends in .xlsx, such as my-season.xlsx")
        if file.suffix.lower() != ".xlsx":
            _stop(f"{file}: the starter is a workbook; give it a name that ends in .xlsx")
        if file.exists():
            _stop(f"{file} is there already and is yours: choose another name, or move it away first")
        from forcing.season.starter import write_starter

        write_starter(
            file, unit="F" if unit.upper() == "F" else "C", paper=paper,
            measures="US" if measures.upper() == "US" else "metric",
        )  # fmt: skip
        click.echo(f"{file} written. Fill it in, then: forcing check {file}")


@main.command()
@SEASON
@ON
def check(season: Path, on: date | None) -> None:
    """Say all that is wrong or risky in a season's tables, at once.

    Each finding names table, row and column, what is found there and what to do. Nothing is planned: what only
    planning can tell, such as a room that is too small, is said by forcing plan.
    """
    with _failing_in_words():
        from forcing.api import load

        findings = load(season).checked(on=on or date.today())
        _say(findings)
        if findings:
            leave = " Errors leave lots or rows out of the plan." if _code(findings) else ""
            click.echo(f"\n{_counted(findings)}.{leave}")
        sys.exit(_code(findings))


@main.command()
@SEASON
@OUT
@SAFE
@ON
def plan(season: Path, out: Path, safe_csv: bool, on: date | None) -> None:
    """Work a season out: the plan and all its sheets."""
    with _failing_in_words():
        made, paths = _worked(season, on, out, lambda made, out: made.write(out, safe_csv=safe_csv))
        _show(made, paths)
        sys.exit(_code(made.result.plan.findings))


@main.command()
@SEASON
@ON
@click.option("--steering", is_flag=True, help="Agree to the steering advice of the day too.")
@ACTIONS
def agree(season: Path, on: date | None, steering: bool, actions: int | None) -> None:
    """Record the plan as it is handed out.

    From then on its dates and places are kept; what later has to change is listed with its cause. The record is a
    folder of CSV files beside the season, which itself is not written into.
    """
    with _failing_in_words():
        from forcing.api import load

        done = load(season, progress=_progress).agree(
            on=on or date.today(), steering=steering, actions=actions
        )
        found = done.planned.result.plan.findings
        _say_errors(found)
        if done.planned.result.agreement is not None:
            _say_changes(done.planned)
        count = "1 lot" if len(done.agreement.lots) == 1 else f"{len(done.agreement.lots)} lots"
        if done.folder is None:
            click.echo(f"Nothing new: what was agreed on {done.agreement.on} stands, for {count}.")
        else:
            click.echo(f"Agreed for {count}: {done.folder}. These dates and places now stay.")
        sys.exit(_code(found))


@main.command()
@SEASON
@OUT
@SAFE
@ON
def week(season: Path, out: Path, safe_csv: bool, on: date | None) -> None:
    """Write all that a Monday needs.

    The task sheet of the week of --on, the outlook, the steering options, the board and a workbook to enter what was
    done, from one working-out.
    """
    with _failing_in_words():
        made, (sheet, *others) = _worked(
            season, on, out, lambda made, out: made.write_week(out, safe_csv=safe_csv)
        )
        _say_errors(made.result.plan.findings)
        _say_changes(made)
        click.echo(f"{sheet}: the work of {iso_week(made.on)}")
        _list(others)
        sys.exit(_code(made.result.plan.findings))


@main.command()
@SEASON
@OUT
@SAFE
@ON
def outlook(season: Path, out: Path, safe_csv: bool, on: date | None) -> None:
    """Say when each lot is now expected to bloom.

    Early, likely and late, from the log and the readings so far.
    """
    with _failing_in_words():

        def look(made: PlannedSeason, out: Path) -> tuple[str, Sequence[Path]]:
            seen = made.outlook()
            return seen.words, seen.write(out, safe_csv=safe_csv)

        made, (words, paths) = _worked(season, on, out, look)
        _say_errors(made.result.plan.findings)
        click.echo(words)
        _list(paths)
        sys.exit(_code(made.result.plan.findings))


@main.command()
@SEASON
@OUT
@SAFE
@ON
@ACTIONS
def steer(season: Path, out: Path, safe_csv: bool, on: date | None, actions: int | None) -> None:
    """Say what to set, move or hold to bloom on target.

    Bench temperatures, moves between benches and cold holds, with what they change.
    """
    with _failing_in_words():

        def advise(made: PlannedSeason, out: Path) -> tuple[SeasonSteering, Sequence[Path]]:
            steering = made.steer(actions)
            return steering, steering.write(out, safe_csv=safe_csv)

        made, (steering, paths) = _worked(season, on, out, advise)
        found = made.result.plan.findings
        _say_errors(found)
        if steering.advice.findings:
            _say(steering.advice.findings)
        if made.result.changes:
            _say_changes(made)
        click.echo(f"\n{steering.words}")
        _list(paths)
        sys.exit(_code([*found, *steering.advice.findings]))


@main.command()
@SEASON
@click.argument("lot")
@OUT
@ON
def why(season: Path, lot: str, out: Path, on: date | None) -> None:
    """Say how the dates of one LOT came about.

    Its weeks of cold and heat, how they made its need, what moved it, its slack, what if; and every figure with its
    source. On the terminal, and as one page.
    """
    with _failing_in_words():

        def explain(made: PlannedSeason, out: Path) -> tuple[str, Sequence[Path]]:
            try:
                reasons = made.why(lot)
            except KeyError as error:
                _stop(str(error.args[0]))
            return reasons.words, reasons.write(out)

        _, (words, paths) = _worked(season, on, out, explain)
        click.echo(words)
        _list(paths)


@main.command()
@SEASON
@OUT
@SAFE
@_on("all that is logged", "Look back on what was logged until this day.")
def review(season: Path, out: Path, safe_csv: bool, on: date | None) -> None:
    """Compare plan and log; next year's figures.

    What was planned beside what happened, lot by lot, and the house's own figures for the crops table.
    """
    with _failing_in_words():
        from forcing.api import load

        def look_back(season: LoadedSeason, out: Path) -> tuple[SeasonReview, Sequence[Path]]:
            looked = season.review(on=on)
            return looked, looked.write(out, safe_csv=safe_csv)

        looked, paths = load(season, progress=_progress).spared(look_back, out)
        left_out = [finding for finding in looked.season.read_findings if finding.severity == "error"]
        _say_errors(left_out)
        click.echo(looked.words)
        _list(paths)
        sys.exit(_code(left_out))


@main.command()
@click.argument("crop", required=False)
@click.option(
    "--season", type=click.Path(path_type=Path), metavar="SEASON", default=None,
    help="With the figures of this season's own crops table over the shipped ones.",
)  # fmt: skip
@_unit(None, "the season's, else C")
def crops(crop: str | None, season: Path | None, unit: str | None) -> None:
    """Show the recipes in force, with their sources.

    All crops in short, or one CROP in full. A row of your crops table that names no class gives way to a shipped
    row of the class: with --season it is shown where.
    """
    with _failing_in_words():
        from forcing.recipes.book import CompanionBook, RecipeBook
        from forcing.recipes.listing import crops_text

        book, companions, shown = RecipeBook.from_overrides(), CompanionBook.from_overrides(), "C"
        if season is not None:
            from forcing.api import load

            loaded = load(season)
            book, shown = loaded.book, loaded.stated.unit
            companions = CompanionBook.from_overrides(loaded.stated.overrides)
        click.echo(crops_text(book, companions, crop, "F" if (unit or shown).upper() == "F" else "C"))


# ---------------------------------------------------------------- shared words


@contextmanager
def _failing_in_words() -> Iterator[None]:
    """Turns errors into words and exit code 2; a traceback never reaches a user who has not asked for it."""
    try:
        yield
    except SeasonUnreadable as error:
        _say(error.findings)
        _stop("Mend these first, then run it again. Nothing was written.")
    except NothingToPlan as error:
        _say(error.findings)
        click.echo("There is nothing to plan, and nothing was written.", err=True)
        sys.exit(1)
    except ForcingError as error:
        _stop(str(error))
    except KeyboardInterrupt:
        click.echo("Stopped: what was there before is as it was.", err=True)
        sys.exit(INTERRUPTED)
    except BrokenPipeError:  # whoever reads along has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(PIPE_CLOSED)
    except Exception as error:
        if os.environ.get("FORCING_TRACEBACK"):
            raise
        _stop(
            f"This is a fault of forcing itself, not of your season: {type(error).__name__}: {error}. Please report it "
            "with the command and the season; with FORCING_TRACEBACK=1 set, it also says where."
        )


def _worked(
    season: Path, on: date | None, out: Path, work: Callable[[PlannedSeason, Path], _Made]
) -> tuple[PlannedSeason, _Made]:
    """The season worked out as seen on day `on`, and what `work` makes of it and writes into `out`.

    on: None is today; the clock is asked here, in `check` and in `agree` only.
    """
    from forcing.api import load

    def plan_first(season: LoadedSeason, folder: Path) -> tuple[PlannedSeason, _Made]:
        made = season.plan(on=on or date.today())
        return made, work(made, folder)

    return load(season, progress=_progress).spared(plan_first, out)


def _stop(text: str) -> NoReturn:
    click.echo(text, err=True)
    sys.exit(2)


def _progress(text: str) -> None:
    click.echo(f"  {text} ...", err=True)


def _code(findings: Sequence[Finding]) -> int:
    return 1 if any(f.severity == "error" for f in findings) else 0


def _say(findings: Sequence[Finding]) -> None:
    for finding in findings:
        click.echo(f"{finding.severity}: {finding}")
    if not findings:
        click.echo("No findings.")


def _counted(findings: Sequence[Finding]) -> str:
    """How many findings there are of each severity: 1 error, 2 warnings."""
    counts = Counter(finding.severity for finding in findings)
    return ", ".join(
        f"{counts[severity]} {severity}{'' if counts[severity] == 1 else 's'}"
        for severity in SEVERITIES
        if counts[severity]
    )


def _show(made: PlannedSeason, paths: Sequence[Path]) -> None:
    plan = made.result.plan
    _say(plan.findings)
    lots = "1 lot" if len(plan.lots) == 1 else f"{len(plan.lots)} lots"
    click.echo(f"\n{lots} planned, {len(plan.unplanned)} not.")
    _say_changes(made)
    if dates := made.dates_ahead:
        click.echo(dates)
    _list(paths)


def _say_errors(findings: Sequence[Finding]) -> None:
    """What a Monday needs: errors in full, the rest as a count; `forcing plan` says them all."""
    errors = [finding for finding in findings if finding.severity == "error"]
    for finding in errors:
        click.echo(f"error: {finding}")
    others = len(findings) - len(errors)
    if others:
        click.echo(
            f"{others} {'warning or note' if others == 1 else 'warnings and notes'}: see forcing plan."
        )


MOST_CHANGES = 12  # lines on the terminal: the rest stands in changes.csv


def _say_changes(made: PlannedSeason) -> None:
    """What is not as it was agreed; where nothing was agreed, how to."""
    agreement = made.result.agreement
    if agreement is None:
        click.echo("Nothing is agreed yet: forcing agree keeps these dates and places.")
        return
    lines = made.change_lines
    for line in lines[:MOST_CHANGES]:
        click.echo(f"changed: {line}")
    if len(lines) > MOST_CHANGES:
        click.echo(f"changed: {len(lines) - MOST_CHANGES} more, see changes.csv")
    if not lines:
        click.echo(f"As agreed on {agreement.on}, but for what the log tells.")


def _list(paths: Sequence[Path]) -> None:
    """How many files were written, a line for each folder."""
    for folder, count in Counter(path.parent for path in paths).items():
        click.echo(f"Written: {'1 file' if count == 1 else f'{count} files'} in {folder}")
