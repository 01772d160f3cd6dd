"""What matters, first: the few things of a plan that must be seen, the dates ahead; the head or foot of every sheet.

Findings of one cause are told once. Frost of the coming nights goes before what cannot wait, that before what is late,
then what is too full; within each what weighs most in pots x days.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from forcing.dates import DAY, WEEK, WEEKDAYS, iso_week, monday, week_span
from forcing.engine.frost import FREEZING, FrostNight, cover_answer, nobody_in
from forcing.engine.work.hours import hours_by_week
from forcing.engine.work.house_work import round_hours, weekly
from forcing.errors import Finding, Severity, merged, sort_findings
from forcing.model import Plan, Task
from forcing.reports.style import long_date, short_date
from forcing.text import listed, one_line, some
from forcing.units import show_temperature

Kind = Literal["frost", "waits", "late", "full", "risk", "note"]
KINDS: tuple[Kind, ...] = ("frost", "waits", "late", "full", "risk", "note")
# What is no error and yet more than a risk. A frost finding is one of frost in the week before its night only.
_KIND: dict[str, Kind] = {
    "cover-too-thin": "frost", "frost-day-off": "frost", "forecast-no-low": "frost", "set-out-frost": "frost",
    "place-off-setting": "waits", "bulbs-late": "waits", "lot-lost": "waits", "companion-again": "waits",
    "pots-not-potted": "waits", "log-not-brought-in": "waits", "stepped-before-rooted": "waits",
    "lot-late": "late", "cover-thin": "late", "waves-short": "late", "job-late": "late", "companion-late": "late",
    "place-overfull": "full", "hours-short": "full",
}  # fmt: skip
_OF_POTS = ("place-overfull", "cover-thin", "pots-not-potted")  # findings whose number counts pots
_OF_DAYS = ("lot-late", "companion-late")  # findings whose number counts days late
_OF_NIGHT = ("frost-day-off", "cover-too-thin")  # told with the nights they are about
SLIGHT = 1  # days late that nobody would act on: the likely bloom is not known to a day; practice
FIRST = 3  # problems on the head of a sheet
NEAR = WEEK  # a frost night that far ahead is one to see to
SOON = 3 * WEEK  # and one that far ahead, with nobody in, is time enough to ask somebody
FAR = 300  # days from the day of the plan: beyond them a date shows its year
NAMED = 4  # tasks or displays by name

_ISO_DAY = re.compile(rf"\b(?:(?:{'|'.join(WEEKDAYS)}) )?(\d{{4}}-\d{{2}}-\d{{2}})\b")
_ISO_WEEK = re.compile(r"\b(?:(?:the )?week )?(\d{4}-W\d{2})\b")
# What a person who plans looks for first: when it begins, and what comes next.
_NEXT = {
    "pot": "potting",
    "into cooler": "into the cooler",
    "bring in": "bring in",
    "set out": "set out",
    "dispatch": "dispatch",
}


@dataclass(frozen=True, slots=True)
class Problem:
    """Something to know or do, in the words of sheets and terminal: dates as 'Sat 20 Mar', no full stop after `what`.

    `where` is the table, row and column for the person who keeps the season; staff sheets leave it out.
    """

    kind: Kind
    severity: Severity
    what: str
    do: str
    where: str = ""  # empty: it stands in no table
    lots: tuple[str, ...] = ()
    place: str | None = None
    days: tuple[date, ...] = ()
    weight: float = 0.0  # pots x days
    code: str = ""  # of its finding

    @property
    def told(self) -> str:
        """What is wrong and what to do; of an error also where it stands, for the one who mends the season."""
        where = f" ({self.where})" if self.severity == "error" and self.where else ""
        return f"{self.what}{where}. {self.do}"


@dataclass(frozen=True, slots=True)
class Matters:
    """What matters on a day."""

    on: date
    ahead: tuple[tuple[str, date], ...]  # 'potting', 'bring in' ... and their next day
    busiest: tuple[str, float] | None  # ISO week and its hours; None: no work is left
    problems: tuple[Problem, ...]  # all of them, notes included, what matters most first

    @property
    def first(self) -> tuple[Problem, ...]:
        """The few to put right first; notes are none of them."""
        return tuple(problem for problem in self.problems if problem.kind != "note")[:FIRST]

    @property
    def dates(self) -> str:
        """'Next potting Mon 28 Sep; busiest is the week of Mon 15 Mar (43 h).'; empty: nothing is left."""
        if not self.ahead or self.busiest is None:
            return ""
        said = ", ".join(f"{what} {short_date(day)}" for what, day in self.ahead)
        week, hours = self.busiest
        return f"Next {said}; busiest is {in_words(week, self.on)} ({hours:.0f} h)."


def matters(plan: Plan, nights: Sequence[FrostNight]) -> Matters:
    """What matters on the day of a plan; `nights`: those that ask for cover, as forecast."""
    ahead = [task for task in plan.tasks if task.date >= plan.on]
    first: dict[str, date] = {}
    for task in ahead:
        if task.task in _NEXT:
            first[task.task] = min(task.date, first.get(task.task, task.date))
    hours = hours_by_week(ahead)
    for week, more in weekly(round_hours(plan.rounds, plan.on)).items():
        hours[week] = hours.get(week, 0.0) + more
    busiest = max(sorted(hours), key=lambda week: hours[week], default=None)
    near = [night for night in nights if plan.on <= night.evening < plan.on + NEAR]
    told = {day for night in near for day in (night.evening, night.morning)}
    others = (f for f in plan.findings if f.code not in _OF_NIGHT or not told.issuperset(f.days))
    found = [*_frost(plan, near), *_overdue(plan), *problems_of(plan, others)]
    return Matters(
        plan.on,
        tuple((_NEXT[task], first[task]) for task in _NEXT if task in first),
        None if busiest is None else (iso_week(busiest), hours[busiest]),
        tuple(sorted(found, key=_rank)),
    )


def _rank(problem: Problem) -> tuple[int, bool, float, tuple[date, ...]]:
    # a warning that is far off, or of what is over, is no more than a note, yet stands before those
    noted = problem.kind == "note" and problem.severity == "note"
    return KINDS.index(problem.kind), noted, -problem.weight, problem.days


# ---------------------------------------------------------------- findings


def problems_of(plan: Plan, findings: Iterable[Finding]) -> list[Problem]:
    """Findings of a plan as problems, those of one cause as one, what matters most first."""
    return sorted((problem_of(f, plan) for f in merged(sort_findings(findings))), key=_rank)


def problem_of(finding: Finding, plan: Plan) -> Problem:
    """A finding as a problem of its kind and weight."""
    return Problem(
        _kind(finding, plan.on), finding.severity, in_words(finding.what(), plan.on), in_words(finding.hint, plan.on),
        finding.where(), finding.about, finding.place, finding.days, _weight(finding, plan), finding.code,
    )  # fmt: skip


def _kind(finding: Finding, on: date) -> Kind:
    if finding.severity == "note" or (finding.code in _OF_DAYS and 0 < (finding.number or 0) <= SLIGHT):
        return "note"
    kind = _KIND.get(finding.code, "waits" if finding.severity == "error" else "risk")
    first, last = (finding.days[0], finding.days[-1]) if finding.days else (on, on)
    if kind == "frost" and not (finding.days and first <= on + NEAR and on - DAY <= last):
        return "risk" if first <= on + SOON else "note"
    return "note" if kind in ("late", "full", "risk") and last < on else kind  # it is over: nothing mends it


def _weight(finding: Finding, plan: Plan) -> float:
    """Pots x days: of its lots, or the pots it counts itself; one day and one pot where it tells of neither."""
    days = (finding.days[-1] - finding.days[0]).days + 1 if finding.days else 1
    if finding.code in _OF_POTS:
        return (finding.number or 1.0) * days
    about = set(finding.about)
    pots = sum(lot.pots for lot in plan.season.lots if lot.name in about or lot.part_of in about)
    late = finding.number if finding.code == "lot-late" else None
    return float(max(pots, 1)) * (late or days)


def in_words(text: str, on: date) -> str:
    """A text with its ISO dates as sheets show them: 'Sat 20 Mar', with the year where that is far from `on`.

    A week is told by its Monday: 'the week of Mon 15 Mar'.
    """

    def told(day: date) -> str:
        return short_date(day) if abs((day - on).days) <= FAR else long_date(day)

    def shown(match: re.Match[str]) -> str:
        try:
            return told(date.fromisoformat(match[1]))
        except ValueError:  # what was typed for a date, and is none
            return match[1]

    def shown_week(match: re.Match[str]) -> str:
        try:
            return f"the week of {told(week_span(match[1]).start)}"
        except ValueError:
            return match[0]

    return _ISO_WEEK.sub(shown_week, _ISO_DAY.sub(shown, text))


# ---------------------------------------------------------------- nights and work


def _frost(plan: Plan, near: Sequence[FrostNight]) -> Iterator[Problem]:
    """The first evening of the coming week that asks for cover, who is there, and how many follow it."""
    evenings = sorted({night.evening for night in near})
    if not evenings:
        return
    first = evenings[0]
    mine = [night for night in near if night.evening == first]
    low = show_temperature(min(night.low for night in mine), plan.season.unit)
    when = "tonight" if first == plan.on else f"in the night of {short_date(first)}"
    danger = above_freezing(mine) or "frost"
    more = f"; so too {some(len(evenings) - 1, 'night')} after it" if len(evenings) > 1 else ""
    answers = (f"{night.display}: {answer}" for night in mine if (answer := cover_answer(night)))
    do = ["Cover before sunset, down to the soil", *answers]
    off = sorted(
        {d for n in near for d in (n.evening, n.morning) if d >= plan.on and nobody_in(plan.season, d)}
    )
    if off:
        do.append(f"nobody is in on {listed(list(map(short_date, off)), NAMED)}: arrange for someone")
    yield Problem(
        "frost", "warning", f"{danger} {when}: {low} is forecast, and {listed([n.display for n in mine], NAMED)} "
        f"{'asks' if len(mine) == 1 else 'ask'} for cover{more}",
        f"{'; '.join(do)}.", days=(first, evenings[-1]), weight=float(sum(max(1, n.containers) for n in mine)),
    )  # fmt: skip


def above_freezing(nights: Sequence[FrostNight]) -> str:
    """What a night threatens whose air stays above 0 °C; empty: it freezes."""
    if any(night.low <= FREEZING for night in nights):
        return ""
    cold = dict.fromkeys(night.tenderest for night in nights if night.frost or night.low > night.margin)
    return f"too cold for {listed(list(cold), NAMED)}" if cold else "ground frost possible"


def _overdue(plan: Plan) -> Iterator[Problem]:
    """The tasks that should have been done and are not logged, as one, the oldest first."""
    late = [task for task in plan.tasks if task.state == "overdue"]
    late.sort(key=lambda task: (_due(task), task.key))
    if not late:
        return
    kinds: dict[str, list[str]] = {}
    for task in late:
        kinds.setdefault(one_line(task.task), []).append(one_line(task.lot or task.place or ""))
    doing = "; ".join(f"{kind} {listed(names, NAMED)}".rstrip() for kind, names in kinds.items())
    them, are = ("it", "it is") if len(late) == 1 else ("them", "they are")
    many, oldest = ("One task is", "") if len(late) == 1 else (f"{len(late)} tasks are", ", the oldest")
    yield Problem(
        "waits", "warning", f"{many} overdue{oldest} since "
        f"{short_date(_due(late[0]))}: {doing}",
        f"Do {them} {_first_of_all(plan)}; where {are} done, write {them} into the log.",
        lots=tuple(dict.fromkeys(t.lot for t in late if t.lot)), days=(_due(late[0]), _due(late[-1])),
        weight=sum(t.pots * max(1, (plan.on - _due(t)).days) for t in late),
    )  # fmt: skip


def _first_of_all(plan: Plan) -> str:
    """When what is overdue can be done: in a week in which nobody works, on the first day after it."""
    day = plan.season.calendar.on_or_after(plan.on)
    return "before anything else" if monday(day) == monday(plan.on) else f"first thing on {short_date(day)}"


def _due(task: Task) -> date:
    return task.was_due or task.date
