"""What a week's task sheet says, gathered from the plan before anything is drawn."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import fsum

from forcing.dates import DAY, WEEK, Span, iso_week
from forcing.engine.frost import SHUT, FrostNight, cover_answer, nobody_in
from forcing.engine.outlook import Outlook
from forcing.engine.work.tasks import CAUTIONS, lapsed
from forcing.errors import Finding, sort_findings
from forcing.model import Place, Plan, RoomSetting, Season, Task
from forcing.reports.entry import places_in_use
from forcing.reports.matters import Problem, above_freezing, in_words, matters
from forcing.reports.style import day_month, long_date, setting_words, short_date
from forcing.reports.task_words import CHECKS, ROUNDS, WALK, Whose, is_look, joined, owners, title
from forcing.text import natural, one_line, some
from forcing.units import Measures, TemperatureUnit, show_area, show_temperature, told

# The order of a pot's life, in which the work of one place on one day is listed.
_ORDER = (
    "uncover", "open", "order", "unpack", "sow", "germination check", "prick out", "transplant", "pot", "into cooler",
    "root check", "step down", "bring in", WALK, *CHECKS, "turn and space", "pinch", "deadhead", "feed", "move", "hold",
    "harden off", "hold set-out", "set out", "set out and swap", "dispatch", "cover", "close and mat",
    "bring in for the night",
)  # fmt: skip
PART = "; "  # between the parts of what to look for
_OFTEN = 3  # places of a sheet in which an instruction would stand: so many, and it stands once, before the first task
# no pot is potted or carried
_LOOKED_AT = (*CHECKS, *ROUNDS, WALK, "root check", "order", "unpack", "step down", "set temperature")
WIDE, MOST_CLOSER = (
    7,
    4,
)  # days of uncertain bloom that make a lot worth a closer look, and how many are named
NEXT_STAGE = {"shoots": "buds", "bud": "colour", "colour": "open flowers"}


@dataclass(frozen=True, slots=True)
class Work:
    """How much some tasks come to; what a lot has that is potted or carried, once however often that is."""

    tasks: int
    pots: float
    hours: float
    boxes: float = 0.0

    def words(self) -> str:
        counted = ((self.pots, "pot", "pots"), (self.boxes, "box", "boxes"))
        pots = [
            f"{whole(count)} {one if round(count) == 1 else many}" for count, one, many in counted if count
        ]
        return " · ".join([some(self.tasks, "task"), *pots, hours_words(self.hours)])


@dataclass(frozen=True, slots=True)
class DayWork:
    """The tasks of one day, place by place in the order of the season's places (None: no place named, last)."""

    day: date
    places: tuple[tuple[str | None, tuple[Task, ...]], ...]
    walks: tuple[Task, ...]  # one a place, where the looks of the week stand in one block
    work: Work  # walks too

    @property
    def tasks(self) -> tuple[Task, ...]:
        """All of the day."""
        return (*self.walks, *(task for _, tasks in self.places for task in tasks))


@dataclass(frozen=True, slots=True)
class RoomWeek:
    """A place's set temperature over the week in words; `changes`: the days on which it is changed."""

    place: str
    settings: tuple[str, ...]  # what holds from Monday, unless it is changed that day; then one a change
    changes: tuple[date, ...]


@dataclass(frozen=True, slots=True)
class WeekFacts:
    """Everything the sheet of one week says."""

    plan: Plan
    week: Span
    overdue: tuple[Task, ...]  # from before this week, oldest first
    days: tuple[DayWork, ...]  # only days with work
    # The looks of the week, place by place and day by day, where a place is walked on several days or a look at an
    # earlier stage is overdue; else none
    walks: tuple[tuple[str | None, Mapping[date, Sequence[Task]]], ...]
    overtaken: Mapping[
        str, Sequence[Task]
    ]  # key of a look of these -> overdue ones at earlier stages of its lot
    cautions: tuple[tuple[str, str], ...]  # key, text: each hazard of this sheet once
    rooms: tuple[RoomWeek, ...]
    changed: tuple[str, ...]  # what was said otherwise before, a line each
    agreed: (
        date | None
    )  # the day of the agreement that `changed` is told against; None: against last week's plan
    closer: tuple[str, ...]  # lots whose next stage would tell most, a line each
    ahead: tuple[str, ...]  # the next two weeks, a line each
    findings: tuple[Finding, ...]
    whose: Mapping[str, Whose]
    rounds: Mapping[
        str, tuple[str, ...]
    ]  # key of a task that is one round of a place -> the lots of the round
    often: Mapping[
        str, str
    ]  # work -> what to look for, or its last part, where many places of the sheet would say it
    # The frost call: each evening of this week on which something needs care, and what to do in a line.
    frost: tuple[tuple[date, str], ...]
    frost_work: str  # how it is done, of all these evenings
    covering: tuple[Task, ...]  # the work of these evenings that the call tells, so that no row does
    round: tuple[str, ...]  # the daily round, a line each: places, then who is there on days off
    round_hours: float  # of the daily round in this week
    first: tuple[Problem, ...]  # what matters first; of frost the call tells
    coming: str  # of a week with no work: when the next is; empty: there is some, or none at all is left
    unkept: tuple[str, ...]  # what the log lacks, a line a kind of work, and that the show is over

    @property
    def work(self) -> Work:
        return total(self.tasks, self.whose)

    @property
    def tasks(self) -> tuple[Task, ...]:
        """All of the week, in order of day."""
        return tuple(task for day in self.days for task in day.tasks)

    @property
    def looks(self) -> tuple[Task, ...]:
        """All that stand in the block of the week's walks."""
        return tuple(task for _, days in self.walks for looks in days.values() for task in looks)

    @property
    def late(self) -> Work:
        """What is overdue from earlier weeks."""
        return total(self.overdue, self.whose)

    def whose_is(self, task: Task) -> Whose:
        """What the task's lot or companion is; work on a place is nobody's."""
        return self.whose.get(task.lot or "", Whose())

    @property
    def shut(self) -> tuple[date, ...]:
        """The days of the week on which the house would work and is closed."""
        calendar = self.plan.season.calendar
        return tuple(d for d in self.week if d.weekday() in calendar.weekdays and not calendar.works(d))

    @property
    def lots(self) -> tuple[str, ...]:
        """The lots that the tasks of this sheet name."""
        listed = (*self.overdue, *self.looks, *self.tasks)
        return tuple(dict.fromkeys(task.lot for task in listed if task.lot))


def gather(
    plan: Plan,
    week: Span,
    outlooks: Sequence[Outlook] = (),
    before: Plan | None = None,
    changes: Sequence[str] = (),
    nights: Sequence[FrostNight] = (),
    *,
    on_paper: bool = True,
) -> WeekFacts:
    """All that the sheet of `week` says; `outlooks` name the lots to look at closely, `nights` the frosts ahead.

    on_paper: the looks of a place are one walk; else each lot has its own, to be logged on a screen.
    changes: against what was agreed, a line each; where nothing was, `before`, last week's plan, says what has moved.

    Raises ValueError where `week` is not Monday to Monday.
    """
    if week.start.weekday() != 0 or week.days != 7:
        raise ValueError(f"not an ISO week, Monday to Monday: {week.start} to {week.end}")
    plan = replace(plan, tasks=tuple(replace(t, look_for=in_words(t.look_for, plan.on)) for t in plan.tasks))
    near = [n for n in nights if n.evening in week and n.evening >= plan.on]
    mine, covering = _week_work(plan, week, near if on_paper else ())
    overdue, overtaken = _overdue(plan, week, mine if on_paper else ())
    agreed = plan.season.agreed[-1].on if plan.season.agreed else None
    in_use = places_in_use(plan, week)
    # what a room is set to is news once pots stand there, or come next week
    soon = {*in_use, *places_in_use(plan, Span(week.start + WEEK, week.end + WEEK))}
    rounds, whose = dict[str, tuple[str, ...]](), owners(plan)
    walks = _walks(plan, mine, several=not overtaken) if on_paper else ()
    days = _days(plan, joined(mine, rounds, on_paper=on_paper, all_walked=bool(walks)), whose, bool(walks))
    told = {task.key for looks in overtaken.values() for task in looks}
    found = matters(replace(plan, tasks=tuple(task for task in plan.tasks if task.key not in told)), nights)
    return WeekFacts(
        plan=plan,
        week=week,
        overdue=overdue,
        days=days,
        walks=walks,
        overtaken=overtaken,
        cautions=_cautions(plan.season, [*overdue, *mine, *covering]),
        rooms=tuple(r for r in room_weeks(plan, week) if r.place in (soon if r.changes else in_use)),
        changed=tuple(changes) if agreed else _moved(plan, before, Span(week.start, week.end + 2 * WEEK)),
        agreed=agreed,
        closer=_closer(outlooks, week),
        ahead=tuple(
            _ahead(plan, Span(week.start + WEEK * i, week.end + WEEK * i), whose, on_paper) for i in (1, 2)
        ),
        findings=_findings(plan, week, [*overdue, *mine, *covering]),
        whose=whose,
        rounds=rounds,
        often=_often([overdue, *(tasks for day in days for _, tasks in day.places)]),
        unkept=tuple(_unkept(plan)),
        round=tuple(_round(plan, week)),
        round_hours=sum(each for work in plan.rounds for day, each in work.visits if day in week),
        first=tuple(p for p in found.first if p.kind != "frost" or not near) if plan.on in week else (),
        coming=found.dates if plan.on in week and not days else "",
        frost=tuple(_frost_call(plan.season, near)),
        frost_work=_frost_work(plan.season, near),
        covering=covering,
    )


_FROST_WORK = (
    "Look at the forecast each day and decide by three in the afternoon. On before sunset, down to the soil, edges "
    "sealed; off in the morning once the air is above freezing and has warmed, plastic before the sun heats it; leave "
    "frosted leaves alone until thawed. Ice underfoot: grit, boots, no running."
)
ROOM_TO_WRITE = "________"
STALE = 6 * WEEK  # after which nobody goes back to what was not logged: no line of a sheet; the house's rule


def _frost_call(season: Season, nights: Sequence[FrostNight]) -> Iterator[tuple[date, str]]:
    """Each evening with frost care and a line: the low, what to see to and with how much, who; days off loudly."""
    duty = dict(season.duty)
    for evening in sorted({night.evening for night in nights}):
        mine = [night for night in nights if night.evening == evening]
        low = show_temperature(min(night.low for night in mine), season.unit)
        work = "; ".join(_frost_place(night, season.measures) for night in mine)
        who = [
            f"{words}: {duty.get(day.weekday(), ROOM_TO_WRITE)}"
            + (" – NOBODY IS IN: ARRANGE" if nobody_in(season, day) else "")
            for words, day in (("on", evening), (f"off {short_date(evening + DAY)}", evening + DAY))
        ]
        if danger := above_freezing(mine):
            low += f", {danger}"
        yield evening, f"{short_date(evening)}, {low}: {work}; {'; '.join(who)}"


def _frost_work(season: Season, nights: Sequence[FrostNight]) -> str:
    """How to cover, and what of each place is the most tender."""
    tender: dict[str, FrostNight] = {}
    for night in sorted(nights, key=lambda n: n.limit):
        tender[night.display] = night
    said = [_FROST_WORK, *([f"Frames: {SHUT}."] if any(n.kind == "frame" for n in nights) else [])]
    stand = (
        f"{night.display}: {night.tenderest}, to {show_temperature(night.limit, season.unit)}"
        for _, night in sorted(tender.items())
    )
    return f"{' '.join(said)} Tenderest in {'; '.join(stand)}."


def _round(plan: Plan, week: Span) -> Iterator[str]:
    """The daily round: a line a place, and one for each day off with its minutes and who is there."""
    by_day: dict[date, float] = {}
    for place in dict.fromkeys(work.place for work in plan.rounds):
        said = []
        for work in plan.rounds:
            visits = [(day, hours) for day, hours in work.visits if day in week]
            if work.place == place and visits:
                for day, hours in visits:
                    by_day[day] = by_day.get(day, 0.0) + hours
                minutes = round(60 * sum(hours for _, hours in visits) / len(visits))
                said.append(f"{work.work} ({_round_days([day for day, _ in visits])}, {minutes} min)")
        if said:
            yield f"{place}: {'; '.join(said)}"
    duty, season = dict(plan.season.duty), plan.season
    for day in sorted(day for day in by_day if not season.calendar.works(day)):
        stated = None if day in season.calendar.holidays else duty.get(day.weekday())
        who = stated or f"{ROOM_TO_WRITE} – NOBODY IS IN: ARRANGE"
        yield f"{short_date(day)}, a day off: {round(60 * by_day[day])} min in all; on duty: {who}"


def _round_days(days: Sequence[date]) -> str:
    if len(days) == 7:
        return "every day"
    return ", ".join(short_date(day).split()[0] for day in days)


def _frost_place(night: FrostNight, measures: Measures) -> str:
    cloth = "" if night.area is None else f", {show_area(night.area, measures, 0)} of cloth"
    what = f" ({some(night.containers, 'container')}{cloth})" if night.containers else ""
    answer = cover_answer(night)
    return f"{night.display}{what}{', ' if answer else ''}{answer}"


def total(tasks: Iterable[Task], whose: Mapping[str, Whose]) -> Work:
    """Number of tasks, pots and boxes that are handled, and hours."""
    listed = list(tasks)
    pots: dict[str, float] = {}
    for task in listed:
        if task.task not in _LOOKED_AT:
            pots[task.lot or task.key] = max(task.pots, pots.get(task.lot or task.key, 0.0))
    boxed = {name for name in pots if whose.get(name, Whose()).in_boxes}
    # fsum: the same total to the last bit in whatever order the tasks come
    return Work(
        len(listed), fsum(count for name, count in pots.items() if name not in boxed), fsum(t.hours for t in listed),
        fsum(pots[name] for name in boxed),
    )  # fmt: skip


def whole(count: float) -> str:
    """A count as people count, in whole numbers: '1,203'."""
    return f"{round(count):,}"


def hours_words(hours: float) -> str:
    """'3.5 h'; 'under 0.1 h' rather than a nought for work that is there."""
    if 0 < hours < 0.05:
        return "under 0.1 h"
    return f"{hours:,.1f} h"


def week_words(week: Span) -> str:
    """'Mon 2 Nov – Sun 8 Nov 2026', with both years where they differ."""
    last = week.end - DAY
    first = short_date(week.start) if week.start.year == last.year else long_date(week.start)
    return f"{first} – {long_date(last)}"


def opening_words(show: Span, monday: date) -> tuple[str, str]:
    """How far the show is, seen from Monday: a big word or number, and what it means."""
    last = show.end - DAY
    days = (show.start - monday).days
    if days > 0:
        return (
            f"{days:,}",
            f"{'day' if days == 1 else 'days'} from Monday to opening: {long_date(show.start)}",
        )
    if monday in show:
        return "Open", f"until {long_date(last)}: since {short_date(show.start)}"
    return "Closed", f"since {long_date(show.end)}"


def days_late(plan: Plan, task: Task) -> int:
    """Days from the task's date to the day the plan was made for."""
    return (plan.on - (task.was_due or task.date)).days


# ---------------------------------------------------------------- tasks


def _week_work(
    plan: Plan, week: Span, near: Sequence[FrostNight]
) -> tuple[tuple[Task, ...], tuple[Task, ...]]:
    """The work of the week but for what the call of the frosts of `near` tells, and that."""
    called = {f"{kind}/{night.display}/{night.evening}" for night in near for kind in ("cover", "uncover")}
    mine = [task for task in plan.tasks if task.date in week and task.state != "closed"]
    covering = tuple(task for task in mine if task.key in called and task.state != "done")
    return tuple(task for task in mine if task not in covering), covering


def _overdue(plan: Plan, week: Span, mine: Sequence[Task]) -> tuple[tuple[Task, ...], dict[str, list[Task]]]:
    """What is overdue, oldest first; looks among it go by the first look of `mine` at a later stage of their lot."""
    looks = sorted(filter(is_look, mine), key=lambda task: task.date)
    late = (task for task in plan.tasks if task.state == "overdue" and task.date < week.start)
    overdue, overtaken = list[Task](), dict[str, list[Task]]()
    for task in sorted(late, key=lambda task: (task.date, *_rank(plan)(task))):
        later = (t for t in looks if t.lot == task.lot and task.task in CHECKS[: CHECKS.index(t.task)])
        if look := next(later, None):
            overtaken.setdefault(look.key, []).append(task)
        else:
            overdue.append(task)
    return tuple(overdue), overtaken


def _rank(plan: Plan) -> _Rank:
    return _Rank({place.name: i for i, place in enumerate(plan.season.places, start=1)})


@dataclass(frozen=True, slots=True)
class _Rank:
    """Sort key of a task within its day: place, kind of work, lot."""

    places: Mapping[str, int]

    def __call__(self, task: Task) -> tuple[object, ...]:
        place = task.place or task.to
        kind = _ORDER.index(task.task) if task.task in _ORDER else len(_ORDER)
        last = len(self.places) + 1
        where = last + 1 if place is None else self.places.get(place, last)
        return (where, place or "", kind, task.task, natural(task.lot or ""), task.key)


def _days(
    plan: Plan, tasks: Iterable[Task], whose: Mapping[str, Whose], walks_apart: bool
) -> tuple[DayWork, ...]:
    """The days with their work; walks_apart: the walks are under no place."""
    grouped: dict[date, list[Task]] = {}
    rank = _rank(plan)
    for task in sorted(tasks, key=lambda t: (t.date, *rank(t))):
        grouped.setdefault(task.date, []).append(task)
    found = []
    for day, listed in grouped.items():
        walks = [task for task in listed if walks_apart and task.task == WALK]
        others = [task for task in listed if task not in walks]
        places = tuple((place, tuple(mine)) for place, mine in _by_place(others).items())
        found.append(DayWork(day, places, tuple(walks), total(listed, whose)))
    return tuple(found)


def _by_place(tasks: Iterable[Task]) -> dict[str | None, list[Task]]:
    grouped: dict[str | None, list[Task]] = {}
    for task in tasks:
        grouped.setdefault(task.place or task.to, []).append(task)
    return grouped


def _walks(
    plan: Plan, tasks: Iterable[Task], *, several: bool
) -> tuple[tuple[str | None, Mapping[date, Sequence[Task]]], ...]:
    """The looks of the week by place and day; several: none where no place has any on more than one day."""
    found = []
    for place, looks in _by_place(sorted(filter(is_look, tasks), key=_rank(plan))).items():
        days = sorted({task.date for task in looks})
        found.append((place, {day: [task for task in looks if task.date == day] for day in days}))
    return tuple(found) if not several or any(len(days) > 1 for _, days in found) else ()


def _often(groups: Iterable[Sequence[Task]]) -> dict[str, str]:
    """What would stand in _OFTEN places of the sheet or more: of each kind of work the commonest thing to look for.

    Where no text is as common as that, the last part ('...; water in') with which all texts of a kind end.
    """
    counted: dict[str, Counter[str]] = {}
    for tasks in groups:
        for work, look_for in dict.fromkeys((t.task, t.look_for) for t in tasks if t.state != "done"):
            counted.setdefault(work, Counter())[look_for] += 1
    often = {}
    for work, texts in counted.items():
        text, places = max(texts.items(), key=lambda found: (bool(found[0]), found[1]))
        ends = {text.rpartition(PART)[2] if PART in text else "" for text in texts}
        if text and places >= _OFTEN:
            often[work] = text
        elif len(ends) == 1 and any(ends) and texts.total() >= _OFTEN and work not in (*ROUNDS, WALK):
            often[work] = ends.pop()
    return often


def _cautions(season: Season, tasks: Iterable[Task]) -> tuple[tuple[str, str], ...]:
    used = {key for task in tasks for key in task.cautions}
    known = [(key, told(text, season.unit, season.measures)) for key, text in CAUTIONS.items() if key in used]
    return (*known, *((key, one_line(key)) for key in sorted(used - CAUTIONS.keys())))


def _moved(plan: Plan, before: Plan | None, span: Span) -> tuple[str, ...]:
    """Work of the days of `span` that has moved, come or gone since the plan before.

    Looks at stages and turning, which move with every reading, and what is done are left out.
    """
    if before is None:
        return ()
    now, then = ({task.key: task for task in p.tasks} for p in (plan, before))
    either = {**then, **now}
    lines = []
    for key in sorted(either, key=lambda k: (either[k].date, k)):
        new, old = now.get(key), then.get(key)
        task = either[key]
        if (
            task.task in (*ROUNDS, *CHECKS)
            or task.state == "done"
            or not any(t and t.date in span for t in (new, old))
        ):
            continue
        name = " ".join(filter(None, (one_line(task.task), one_line(task.lot or task.place or ""))))
        if new is None:
            lines.append(f"{name}: no longer on {short_date(task.date)}")
        elif old is None:
            lines.append(f"{name}: new on {short_date(new.date)}")
        elif new.date != old.date:
            lines.append(f"{name}: {short_date(new.date)} instead of {short_date(old.date)}")
    return tuple(lines)


def _unkept(plan: Plan) -> Iterator[str]:
    """'Root check: A 9 Dec, B 15 Dec': what was to be done by now; and that open tasks are closed after the show."""
    behind = {finding.lot for finding in plan.findings if finding.code == "log-not-kept"}
    missed: dict[str, list[str]] = {}
    for task in plan.tasks:
        if task.lot in behind and lapsed(task) and task.date + STALE > plan.on:
            missed.setdefault(title(task), []).append(f"{one_line(task.lot or '')} {day_month(task.date)}")
    for work, lots in missed.items():
        yield f"{work}: {', '.join(lots)}"
    for finding in plan.findings:
        if finding.code == "show-over":
            many = some(finding.number or 0, "task that was not logged is", "tasks that were not logged are")
            yield f"The show has closed: {many} closed"


def _closer(outlooks: Sequence[Outlook], week: Span) -> tuple[str, ...]:
    """The lots on the benches whose bloom is least certain, in words, the widest first."""
    growing = [o for o in outlooks if o.heat > 0 and o.seen != "bloom" and o.band >= WIDE]
    widest = sorted(growing, key=lambda o: (-o.band, o.lot))[:MOST_CLOSER]
    return tuple(
        f"{o.lot}: bloom {_between(o.early, o.late)}; look for {NEXT_STAGE.get(o.seen or '', 'shoots')}"
        for o in widest
    )


def _ahead(plan: Plan, week: Span, whose: Mapping[str, Whose], on_paper: bool) -> str:
    """'W47, 16–22 Nov: 2 tasks · 26 pots · 0.8 h – pot 1, into cooler 1'; the checks of stages are one kind."""
    mine = (task for task in plan.tasks if task.date in week and task.state != "closed")
    tasks = joined(mine, {}, on_paper=on_paper)
    name = f"{iso_week(week.start)[5:]}, {_between(week.start, week.end - DAY)}"
    if not tasks:
        return f"{name}: nothing planned"
    return f"{name}: {total(tasks, whose).words()} – {tally(tasks)}"


def tally(tasks: Sequence[Task]) -> str:
    """'set out 4, pot 2, stage checks 12': how many of each kind, most hours first, looks and turning last."""
    kinds: dict[str, list[float]] = {}
    for task in tasks:
        look = task.task in (*CHECKS, WALK)
        kinds.setdefault("stage checks" if look else one_line(task.task), []).append(task.hours)
    last = ("stage checks", *ROUNDS)
    ordered = sorted(kinds, key=lambda kind: (kind in last, -fsum(kinds[kind]), kind))
    return ", ".join(f"{kind} {len(kinds[kind])}" for kind in ordered)


def _between(first: date, last: date) -> str:
    """'16–22 Nov', '30 Nov – 6 Dec': from the first to the last day."""
    (one, month), (other, until) = (short_date(day).split()[1:] for day in (first, last))
    return f"{one}–{other} {until}" if month == until else f"{one} {month} – {other} {until}"


# ---------------------------------------------------------------- set temperatures


def room_weeks(plan: Plan, week: Span) -> tuple[RoomWeek, ...]:
    """The set temperature of every place over the week, in the season's order and unit."""
    listed = {place.name: place for place in plan.season.places}
    extra = sorted({room.place for room in plan.rooms} - listed.keys())
    return tuple(_room_week(plan, name, listed.get(name), week) for name in (*listed, *extra))


def _room_week(plan: Plan, name: str, place: Place | None, week: Span) -> RoomWeek:
    rooms = [room for room in plan.rooms if room.place == name]
    unit = plan.season.unit
    before = _set_on(rooms, place, week.start - DAY)
    words: list[str] = []
    changes: list[date] = []
    for day in week:
        now = _set_on(rooms, place, day)
        # A place that had no setting yet is being switched on, which somebody must do as well.
        if now != before:
            why = next((room.reason for room in rooms if room.span.start == day and room.reason), "")
            reason = f" ({one_line(why)})" if why else ""
            was = "" if before is None else f", was {setting_words(*before, unit)}"
            new = "not set" if now is None else setting_words(*now, unit)
            words.append(f"{new} from {short_date(day)}{was}{reason}")
            changes.append(day)
        elif day == week.start:
            words.append(_standing(now, place, unit))
        before = now
    return RoomWeek(name, tuple(words), tuple(changes))


def _set_on(rooms: Iterable[RoomSetting], place: Place | None, day: date) -> tuple[float, float] | None:
    """Day and night setting [°C] on a date; the place's standing one where no dated one holds."""
    for room in rooms:
        if day in room.span:
            return room.day, room.night
    if place is not None and place.day is not None and place.night is not None:
        return place.day, place.night
    return None


def _standing(setting: tuple[float, float] | None, place: Place | None, unit: TemperatureUnit) -> str:
    if setting is not None:
        return setting_words(*setting, unit)
    return "outdoors" if place is not None and place.kind in ("site", "frame") else "not set"


# ---------------------------------------------------------------- findings


def _findings(plan: Plan, week: Span, tasks: Iterable[Task]) -> tuple[Finding, ...]:
    """Errors on this sheet's lots and places, and any finding but a note that is about this week or its days."""
    listed = list(tasks)
    lots = {task.lot for task in listed}
    places = {place for task in listed for place in (task.place, task.to)}
    rows = {("lots", lot.row) for lot in (*plan.season.lots, *(p.lot for p in plan.lots)) if lot.name in lots}
    rows |= {("places", place.row) for place in plan.season.places if place.name in places}
    return sort_findings(
        f
        for f in plan.findings
        if (f.severity == "error" and f.row is not None and (f.table, f.row) in rows)
        or (
            f.severity != "note"
            and (f.week == iso_week(week.start) or f.is_about(week.start, week.end - DAY))
        )
    )
