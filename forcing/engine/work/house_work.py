"""The work of the house beside that of its lots: its own jobs, the daily round, and what comes after the show.

A job (casting containers, signs) is a chain of steps. Each starts so many days before the opening of the show, or of a
display, or before a day that is stated, and lasts so many days (both calendar days: concrete cures on Sundays too).
Work is done on working days: a step that would start on a day off starts on the working day before it, and still ends
when it would have ended. Where the steps as stated leave each other room, they keep it: a step that moved earlier
pushes those before it, so that no lead time is cut short.

A step that recurs is done on its weekdays, or every so many days from its start, as long as it lasts. What falls on
a day off is done on the working day before it; where that day has it already, or the step has none, it is left out.

Cast containers: 21 to 28 days of slow damp curing, then 7 to 10 days of filling and draining, or lime in the
water harms the plants (garden craft pages on hypertufa, several agreeing; wet cement is caustic: NIOSH and OSHA).
Fresh concrete is spoilt by frost, and hardly hardens below 5 °C (40 °F, the limit of cold-weather concreting in ACI
306; from memory): where a step that cures is done outdoors its nights are looked at.
"""

from __future__ import annotations

import itertools
import math
import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from types import MappingProxyType

from dateutil.rrule import DAILY, WEEKLY, rrule

from forcing.dates import DAY, WEEK, Span, monday
from forcing.engine.climate import Climate
from forcing.engine.companions import CompanionPlan
from forcing.engine.context import Context
from forcing.engine.show.standing import Standing
from forcing.engine.work.tasks import CAUTIONS, make_task
from forcing.errors import Finding, Severity
from forcing.model import Job, LotPlan, PlaceKind, PlaceLoad, Round, RoundWork, Season, Task
from forcing.text import fold, one_line, some
from forcing.units import show_temperature

CEMENT = "cement"  # wet cement is caustic
ALLOWED: tuple[str, ...] = tuple(CAUTIONS)
LONGEST = 3660  # days: a lead time beyond ten years is a slip

# Words of a step or job that mean work with wet cement or its lime, on ladders, with sprays: the caution comes unasked.
_UNASKED = tuple((re.compile(rf"\b({words})\b", re.IGNORECASE), key) for words, key in (
    ("cement|concrete|mortar|grout|(hyper)?tufa|cast|casting|demould|demoulding|cure|curing|leach|leaching", CEMENT),
    ("ladder|ladders|steps?ladders?|gutters?|roofs?|hang|hanging|baskets?|overhead", "ladder"),
    ("spray|spraying|drench|drenching|growth regulators?|fungicides?|insecticides?|pesticides?", "chemicals"),
))  # fmt: skip
_CAST = re.compile(r"\b(casts?|casting|(hyper)?tufa)\b", re.IGNORECASE)
_CURE, _LEACH = re.compile(r"\b(cure|curing)\b", re.IGNORECASE), re.compile(r"\bleach", re.IGNORECASE)
_LEAST_DAYS = ((_CURE, 21), (_LEACH, 7))
CURES_AT, FREEZING = 5.0, 0.0  # °C


@dataclass(frozen=True, slots=True)
class JobStep:
    """A step with its days: work is on the working days of the span."""

    job: Job
    span: Span
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Stated:
    """A step as it is stated, before days off move it."""

    job: Job
    to: date  # what its days are counted to
    words: str  # that day in words

    @property
    def span(self) -> Span:
        start = self.to - timedelta(days=self.job.days_before)
        return Span(start, start + timedelta(days=self.job.duration_days))


def plan_jobs(
    season: Season, jobs: Sequence[Job], context: Context, climate: Climate | None = None
) -> tuple[tuple[Task, ...], tuple[Finding, ...]]:
    """The tasks of the jobs in order of day, with their state as seen on the day, and what is wrong.

    Counted back from the first day of the show, or what is stated; a step that is counted to a display which the season
    does not have is left out, as the checks tell. A step with hours has a task on each of its
    working days, the hours spread evenly; one without has a single task at its start; one that recurs has a task with
    its hours each time. A step that cannot be understood is left out with an error finding; the others go on. Key:
    job/<name>/<step>/<turn>; a step of the same name in the same chain is numbered. `climate`: of the places where
    something cures; None: their nights are not looked at.
    """
    steps, findings = job_steps(season, jobs)
    seen: Counter[tuple[str, str]] = Counter()
    tasks: list[Task] = []
    for step in steps:
        name = (fold(step.job.name), fold(step.job.step))
        seen[name] += 1
        tasks += _tasks(season, step, seen[name], context)
    cold = () if climate is None else tuple(_cold_cures(season, steps, climate, context.on))
    return tuple(sorted(tasks, key=lambda t: (t.date, t.key))), (*findings, *cold)


def job_steps(season: Season, jobs: Sequence[Job]) -> tuple[tuple[JobStep, ...], tuple[Finding, ...]]:
    """The days of every step, chain by chain in the order stated, and what is wrong."""
    findings: list[Finding] = []
    chains: dict[str, list[Job]] = {}
    for job in jobs:
        faults = tuple(_faults(job))
        findings += [*faults, *_cautions(job)[1]]
        if not faults:
            chains.setdefault(fold(job.name), []).append(job)
    steps: list[JobStep] = []
    for chain in chains.values():
        stated = _stated(season, chain)
        for step, span in zip(stated, _spans(season, stated), strict=True):
            steps.append(JobStep(step.job, span, _cautions(step.job)[0]))
            if not _work_days(season, step.job, span):
                findings.append(_no_day(step.job, span))
        findings += _doubts(stated)
    return tuple(steps), tuple(findings)


# ---------------------------------------------------------------- the days of a job


def _stated(season: Season, chain: Sequence[Job]) -> list[_Stated]:
    """The steps of a chain with the day that each is counted to; one that says none goes by the others."""
    opens = {display.name: display.span.start for display in season.displays}
    said = {job.counted_to for job in chain if job.counted_to is not None}
    steps = []
    for job in chain:
        to = next(iter(said)) if len(said) == 1 else job.counted_to
        if to is None:
            steps.append(_Stated(job, season.span.start, "the opening"))
        elif isinstance(to, date):
            steps.append(_Stated(job, to, str(to)))
        elif to in opens:
            steps.append(_Stated(job, opens[to], f"{to} opens"))
    return steps


def _spans(season: Season, chain: Sequence[_Stated]) -> list[Span]:
    """Days of each step of a chain, in the order given; found from the last step back."""
    spans: dict[int, Span] = {}
    for i in sorted(range(len(chain)), key=lambda i: chain[i].span.start, reverse=True):
        day, lasts = chain[i].span.start, timedelta(days=chain[i].span.days)
        for j, later in spans.items():
            # Only steps that had room for each other as stated keep it; others run side by side on purpose.
            if chain[i].span.end <= chain[j].span.start:
                day = min(day, later.start - lasts)
        spans[i] = Span(season.calendar.on_or_before(day), day + lasts)
    return [spans[i] for i in range(len(chain))]


def recurring(span: Span, every: Collection[int] | int) -> list[date]:
    """Days of a span on those weekdays (0 = Monday), or every so many days from its start."""
    if span.days == 0:
        return []
    begin, last = (datetime.combine(day, time()) for day in (span.start, span.end - DAY))
    if isinstance(every, int):
        found = rrule(DAILY, begin, interval=every, until=last)
    else:
        found = rrule(WEEKLY, begin, byweekday=tuple(every), until=last)
    return [moment.date() for moment in found]


def _work_days(season: Season, job: Job, span: Span) -> list[date]:
    """The days on which a step is worked at, in order."""
    calendar = season.calendar
    if job.every is not None:
        rolled = {calendar.on_or_before(day) for day in recurring(span, job.every)}
        return sorted(day for day in rolled if day in span)
    if job.hours == 0:
        return [span.start]
    return [
        day for day in recurring(span, calendar.weekdays) if calendar.works(day)
    ]  # its start is always one


# ---------------------------------------------------------------- its tasks


def _tasks(season: Season, step: JobStep, number: int, context: Context) -> Iterator[Task]:
    """Tasks of a step; `number` tells steps of the same name in one chain apart."""
    job = step.job
    name = f"{job.name}/{job.step}" if number == 1 else f"{job.name}/{job.step} {number}"
    days = _work_days(season, job, step.span)
    for turn, (day, hours) in enumerate(zip(days, _hours(job, len(days)), strict=True), start=1):
        yield make_task(
            context, f"{job.name}: {job.step}", name, turn, day, kind="job", hours=hours,
            look_for=_look_for(step, turn, len(days)), cautions=step.cautions,
        )  # fmt: skip


def _hours(job: Job, turns: int) -> list[float]:
    """Hours of each day of a step: what is stated each time it recurs; else its share, to a thousandth."""
    if job.every is not None:
        return [job.hours] * turns
    share = math.floor(job.hours / turns * 1000) / 1000
    # The last day takes what rounding left over, so that the hours of the step are kept.
    return [share] * (turns - 1) + [round(job.hours - share * (turns - 1), 3)]


def _look_for(step: JobStep, turn: int, turns: int) -> str:
    if step.span.days == 1:
        return ""
    last = (step.span.end - DAY).isoformat()
    if turns == 1:
        return f"until {last}"
    return f"day {turn} of {turns}; until {last}"


# ---------------------------------------------------------------- what is told of it


def _faults(job: Job) -> Iterator[Finding]:
    """Why a step cannot be planned at all."""
    for column, text in (("job", job.name), ("step", job.step)):
        if not text.strip():
            yield _finding(
                "job-unnamed", "error", job, column, "lacks a name", f"Fill in the {column}.", None
            )
    if not 0 <= job.days_before <= LONGEST:
        yield _finding(
            "job-days", "error", job, "days before", f"must be 0 to {LONGEST} days before the opening",
            "Count from the opening back to the day the step starts.", f"{job.days_before}",
        )  # fmt: skip
    if not 1 <= job.duration_days <= LONGEST:
        yield _finding(
            "job-duration", "error", job, "duration days", f"must be 1 to {LONGEST} days",
            "Give the days the step lasts, at least 1.", f"{job.duration_days}",
        )  # fmt: skip
    sound = job.every is None or (
        job.every >= 1 if isinstance(job.every, int) else bool(job.every) and set(job.every) <= set(range(7))
    )
    if not sound:
        yield _finding(
            "job-every", "error", job, "every", "must be days of the week, or a number of days of at least 1",
            "Name weekdays such as Mon, Thu, or give an interval such as 3 days.", f"{job.every}",
        )  # fmt: skip
    if not (math.isfinite(job.hours) and job.hours >= 0):
        yield _finding(
            "job-hours", "error", job, "hours", "must be 0 or more",
            "Give the staff hours of the whole step.", f"{job.hours:g}",
        )  # fmt: skip


def _cautions(job: Job) -> tuple[tuple[str, ...], list[Finding]]:
    """The cautions of a step, those added that its words call for, and those unknown."""
    known: list[str] = []
    findings: list[Finding] = []
    for word in filter(None, (fold(part) for part in re.split(r"[,;]", job.caution))):
        if word in ALLOWED:
            known.append(word)
        else:
            findings.append(
                _finding(
                    "job-caution-unknown",
                    "warning",
                    job,
                    "caution",
                    "there is no such caution",
                    f"Use one of: {', '.join(ALLOWED)}.",
                    word,
                )
            )
    known += [key for words, key in _UNASKED if words.search(f"{job.name} {job.step}")]
    return tuple(dict.fromkeys(known)), findings


def _doubts(chain: Sequence[_Stated]) -> Iterator[Finding]:
    """Steps that last past what they are counted to, overlap the next one, or are shorter than containers need.

    Work that recurs may go on into the show and beside other steps.
    """
    for step in chain:
        job = step.job
        if job.every is None and job.duration_days > job.days_before:
            yield _finding(
                "job-late", "warning", job, "days before",
                f"starts {job.days_before} days before {step.words} but lasts {job.duration_days}",
                f"Start it at least {job.duration_days} days before.", f"{job.days_before}",
            )  # fmt: skip
        for words, least in _LEAST_DAYS:
            if words.search(job.step) and job.duration_days < least:
                yield _finding(
                    "job-short", "warning", job, "duration days",
                    f"cast containers need at least {least} days for this", f"Allow {least} days or more.",
                    f"{job.duration_days}",
                )  # fmt: skip
    said = " ".join(f"{step.job.name} {step.job.step}" for step in chain)
    lacking = [
        name for name, pattern in (("curing", _CURE), ("leaching", _LEACH)) if not pattern.search(said)
    ]
    if _CAST.search(said) and lacking:
        yield _finding(
            "cast-not-washed", "warning", chain[-1].job, "step",
            f"is of a job that casts, and none of its steps is {' or '.join(lacking)}",
            "Give it steps of their own: 21 to 28 days to cure damp, then 7 to 10 days of filling and draining, or "
            "one to two months of rain: lime in the water harms the plants. If it is no cement, name it otherwise.",
            None,
        )  # fmt: skip
    ordered = sorted((step for step in chain if step.job.every is None), key=lambda step: step.span.start)
    for step, after in itertools.pairwise(ordered):
        if step.span.start < after.span.start < step.span.end:
            yield _finding(
                "job-overlap", "note", step.job, "duration days",
                f"is not over when {after.job.step} starts {after.job.days_before} days before {after.words}",
                "Leave it if both go on side by side; else start it earlier.", f"{step.job.duration_days}",
            )  # fmt: skip


def _cold_cures(season: Season, steps: Sequence[JobStep], climate: Climate, on: date) -> Iterator[Finding]:
    """Steps that cure where nights are too cold for it, and when they would not be."""
    outdoors = {place.name for place in season.places if place.kind in ("site", "frame")}
    for step in steps:
        job, place = step.job, step.job.place
        if place not in outdoors or not _CURE.search(job.step) or step.span.end <= on:
            continue
        lows = _lows(climate, place, step.span)
        if lows is None or min(lows) >= CURES_AT:
            continue
        least, cold = show_temperature(CURES_AT, season.unit), sum(low < CURES_AT for low in lows)
        sooner = _mild_start(climate, place, step.span, on)
        yield _finding(
            "cure-cold", "warning" if min(lows) < FREEZING else "note", job, "place",
            f"cures in {place}, where {some(cold, 'night is', 'nights are')} colder than {least} from "
            f"{step.span.start} to {step.span.end - DAY}, down to about {show_temperature(min(lows), season.unit)}: "
            f"frost spoils fresh concrete, and below {least} it hardly hardens",
            f"Cure it under a roof that stays above {least}"
            + (f", or have it begin by {sooner}." if sooner else ", or in a milder season."), place,
        )  # fmt: skip


def _lows(climate: Climate, place: str, span: Span) -> list[float] | None:
    """The low of each night [°C]; None where one is not known."""
    if climate.first_gap(place, span) is not None:
        return None
    return [float(low) for low in climate.low[place][climate.index(span.start) : climate.index(span.end)]]


def _mild_start(climate: Climate, place: str, span: Span, on: date) -> date | None:
    """The last day before a span from which as many days are mild enough to cure; None: there is none from `on`."""
    for back in range(1, (span.start - on).days + 1):
        lows = _lows(climate, place, Span(span.start - back * DAY, span.end - back * DAY))
        if lows is None:
            return None
        if min(lows) >= CURES_AT:
            return span.start - back * DAY
    return None


def _no_day(job: Job, span: Span) -> Finding:
    return _finding(
        "job-no-day", "warning", job, "every",
        f"has no day of work from {span.start} to {span.end - DAY}",
        "Let it last longer, or name days of the week on which somebody works.", None,
    )  # fmt: skip


def _finding(
    code: str, severity: Severity, job: Job, column: str, message: str, hint: str, value: str | None
) -> Finding:
    who = f"{one_line(job.name) or '(no job)'}: {one_line(job.step) or '(no step)'}"
    return Finding(code, severity, "jobs", job.row, column, f"{who} {message}", hint, value)


# ---------------------------------------------------------------- the daily round

# A row of the season says what is done in a place, on which weekdays or every how many days, and for how many minutes;
# with the item `daily round` set to usual, places without rows of their own have the usual ones of their kind. It is
# walked from the first to the last day on which pots stand there, within its dates where these are stated. A round is
# no task: it is not moved, ticked or logged, but its hours are those of somebody who is there.
_DAILY = tuple(range(7))
DEADHEAD = "deadhead and tidy"
# What is done, on which weekdays, minutes each time and minutes for a hundred 15 cm pots: common practice, no source;
# from memory; time it once in your own house.
USUAL: Mapping[PlaceKind, tuple[tuple[str, tuple[int, ...], float, float], ...]] = MappingProxyType({
    "cooler": (("read low and high, look at a few pots, air", (0, 3), 10, 0), ("look for rot and mould", (0,), 5, 2)),
    "bench": (
        ("water what is light, vent by the reading, read low and high", _DAILY, 10, 6),
        ("look for pests and mould under the leaves", (0, 3), 5, 4),
    ),
    "frame": (
        ("open or close the lights, water, read low and high", _DAILY, 8, 5), ("look for slugs and pests", (0,), 5, 3),
    ),
    "site": (
        ("water by feel, put right what wind or visitors did", _DAILY, 10, 4), (DEADHEAD, (0, 2, 4), 5, 10),
    ),
})  # fmt: skip


def daily_rounds(
    season: Season, loads: Sequence[PlaceLoad], companions: Sequence[CompanionPlan] = ()
) -> tuple[RoundWork, ...]:
    """The rounds of a season in the order of its places, with the days and hours of each; none if none are wanted.

    The usual round of a site names the `companions` there that are deadheaded.
    """
    return tuple(work for load in loads for work in _of_place(season, load, companions) if work.visits)


def _of_place(season: Season, load: PlaceLoad, companions: Sequence[CompanionPlan]) -> Iterator[RoundWork]:
    days = [load.start + timedelta(days=i) for i, pots in enumerate(load.pots) if pots > 0]
    if not days:
        return
    stands = Span(days[0], days[-1] + DAY)
    shown = [
        plan.companion.name for plan in companions
        if plan.recipe.deadhead > 0 and any(s.step == "show" and s.place == load.place for s in plan.steps)
    ]  # fmt: skip
    for row in _rows(season, load.place):
        work = f"{row.work}: {', '.join(shown)}" if shown and row.work == DEADHEAD else row.work
        yield RoundWork(load.place, work, _DAILY if row.every is None else row.every, tuple(
            (day, (row.minutes + row.per_hundred * load.pots[(day - load.start).days] / 100) / 60)
            for day in _visits(row, stands)
        ))  # fmt: skip


def _rows(season: Season, place: str) -> list[Round]:
    """What is done in a place: as stated, else the usual where that is wanted."""
    mine = [row for row in season.rounds if row.place == place]
    if not mine and season.daily_round == "usual":
        return [
            Round(place, work, every, minutes, hundred)
            for work, every, minutes, hundred in USUAL[season.place(place).kind]
        ]
    return mine


def _visits(row: Round, stands: Span) -> list[date]:
    """The days of a round while something stands there."""
    start, end = max(stands.start, row.start or stands.start), stands.end
    end = end if row.until is None else min(end, row.until + DAY)
    return recurring(Span(start, end), _DAILY if row.every is None else row.every) if start < end else []


def round_minutes(season: Season, days: Span) -> dict[str, tuple[list[float], list[float]]]:
    """Place -> minutes of its rounds on each day, and for each 15 cm pot; of places without rounds nothing."""
    found: dict[str, tuple[list[float], list[float]]] = {}
    for place in season.places:
        for row in _rows(season, place.name):
            once, each = found.setdefault(place.name, ([0.0] * days.days, [0.0] * days.days))
            for day in _visits(row, days):
                once[(day - days.start).days] += row.minutes
                each[(day - days.start).days] += row.per_hundred / 100
    return found


def as_tasks(rounds: Iterable[RoundWork]) -> tuple[Task, ...]:
    """The visits of rounds as work of a place, to be reckoned with and never handed out."""
    return tuple(
        Task(f"round/{work.place}/{work.work}/{day}", day, None, work.work, 0.0, hours, work.place)
        for work in rounds
        for day, hours in work.visits
    )


def round_hours(rounds: Iterable[RoundWork], first: date = date.min) -> dict[date, float]:
    """Hours of all rounds by day, from a first one on."""
    hours: dict[date, float] = {}
    for work in rounds:
        for day, each in work.visits:
            if day >= first:
                hours[day] = hours.get(day, 0.0) + each
    return hours


def weekly(hours: Mapping[date, float]) -> dict[date, float]:
    """Hours by day -> by week, named by its Monday."""
    weeks: dict[date, float] = {}
    for day, each in hours.items():
        weeks[monday(day)] = weeks.get(monday(day), 0.0) + each
    return weeks


# ---------------------------------------------------------------- after the show

# A display is cleared on the first working day after it has closed; rooms are cleaned once the show is over and their
# last pot has left; the review comes a week after the show. What is kept follows the crop: bulbs that come again
# outdoors are planted out with their leaves on; those that seldom flower again go to the compost, and what looks ill
# never does.
_COMPOST = "compost: forced bulbs of these seldom flower well again"
_OUT = "plant out with the leaves on, feed once, let the leaves die down"
# What becomes of a crop once it has been forced: common practice, no source; from memory.
KEPT: Mapping[str, str] = MappingProxyType({
    "narcissus": _OUT, "miniature narcissus": _OUT, "crocus": _OUT, "muscari": _OUT, "scilla": _OUT,
    "iris reticulata": _OUT, "lily": _OUT, "amaryllis": "grow on in the pot: leaves on, feed, dry rest in autumn",
})  # fmt: skip


def after_tasks(
    season: Season, plans: Sequence[LotPlan], found: Sequence[Standing], loads: Sequence[PlaceLoad], context: Context
) -> tuple[Task, ...]:  # fmt: skip
    """The work after a show: none where the season has no display. KeyError without the minutes of its tasks."""
    if not found:
        return ()
    crops = {plan.lot.name: plan.lot.crop for plan in plans}
    cleared = [task for stand in found for task in _cleared(season, stand, crops, context)]
    day = season.calendar.on_or_after(season.span.end + WEEK)
    review = make_task(
        context, "look back", "season", 1, day,
        look_for="log the last blooms and fades and the hours; run the review; keep its figures for the next season; "
        "note what visitors liked; order while it is fresh",
    )  # fmt: skip
    return (*cleared, *_cleaned(season, loads, context), review)


def _cleared(season: Season, stand: Standing, crops: Mapping[str, str], context: Context) -> Iterator[Task]:
    """The day on which what still stands in a display goes."""
    left = [piece for piece in stand.pieces if piece.end is None]
    if not left or not stand.display.span.days:
        return
    ways: dict[str, list[str]] = {}
    for piece in left:
        ways.setdefault(KEPT.get(crops.get(piece.lot, ""), _COMPOST), []).append(piece.lot)
    words = "; ".join(f"{', '.join(dict.fromkeys(lots))}: {way}" for way, lots in ways.items())
    yield make_task(
        context, "clear", stand.display.name, 1, season.calendar.on_or_after(stand.display.span.end),
        pots=float(sum(piece.pots for piece in left)), place=stand.display.site,
        look_for=f"{stand.display.name}: {words}; anything mouldy or odd into a bag and the bin; tip or top up the mix",
    )  # fmt: skip


def _cleaned(season: Season, loads: Sequence[PlaceLoad], context: Context) -> Iterator[Task]:
    """Coolers, benches and frames, once they are empty for good and nobody is busy with the show."""
    for load in loads:
        place = season.place(load.place)
        days = [i for i, pots in enumerate(load.pots) if pots > 0]
        if place.kind == "site" or not days:
            continue
        empty = load.start + timedelta(days=days[-1]) + DAY
        yield make_task(
            context, "clean", place.name, 1, season.calendar.on_or_after(max(empty, season.span.end)), place=place.name,
            look_for="empty it; sweep up damp, wash down, then a disinfectant as its label says; rinse, dry, air; wash "
            "pots, trays and labels first, thermometers apart; note what wants mending",
        )  # fmt: skip
