"""board.html: the week, every lot's line, the outlook and the places on one page, for a tablet or a wall screen."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache, partial
from importlib.resources import files
from itertools import chain, groupby
from pathlib import Path
from typing import Any

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from forcing.dates import DAY, WEEK, Span, iso_week, monday, weeks_of
from forcing.engine.frost import FrostNight
from forcing.engine.outlook import Outlook
from forcing.errors import SEVERITIES
from forcing.files import write_text
from forcing.model import CLASSES, STAGE_EVENTS, BloomClass, LotPlan, Plan, Step, StepName, Task
from forcing.reports import frames, style
from forcing.reports.draw.days import last_open, months_of, target_words
from forcing.reports.entry import LOGGED_AS, places_in_use
from forcing.reports.frames import rows_of
from forcing.reports.gantt.chart import Chart, GanttRow, chart_of, fullest, unplanned_words
from forcing.reports.matters import Problem, problems_of
from forcing.reports.style import CLASS_MARKS, day_month, lateness_words, long_date, short_date
from forcing.reports.task_words import Whose, route, title, way_on
from forcing.reports.week.facts import (
    ROOM_TO_WRITE,
    WeekFacts,
    days_late,
    gather,
    room_weeks,
    week_words,
)
from forcing.text import natural, number, one_line, some, together, without_controls
from forcing.units import show_pot

# Letters of the steps, for bars too short for the word; a show has the letter of its class.
LETTERS: dict[StepName, str] = {
    "pot": "P", "root": "R", "cool": "C", "bench": "B", "hold": "Ho", "harden": "Ha",
}  # fmt: skip
CLASS_LETTERS = {kind: mark.letter if kind else "" for kind, mark in CLASS_MARKS.items()}
_NARROWEST = 290.0  # width of a line on a screen of 320 px
_LETTER = 7.5  # width of a letter, at most [px]


@dataclass(frozen=True, slots=True)
class Axis:
    """The season in parts of 100: first days of months, names, week numbers, today (None: outside), opening."""

    span: Span
    months: tuple[str, ...]
    names: tuple[tuple[str, str], ...]  # where, name
    weeks: tuple[tuple[str, int, bool], ...]  # where, number, whether there is room for it on a small screen
    today: str | None
    opens: str | None  # None: there is no show

    def at(self, day: date) -> str:
        """Where a day begins."""
        return share_of(self.span, day)


@dataclass(frozen=True, slots=True)
class Bar:
    """A step: its name as drawn (a show is its class), where it begins, how wide it is, the word in it."""

    kind: str
    x: str
    width: str
    word: str
    middle: str


@dataclass(frozen=True, slots=True)
class Line:
    """One lot: heading, bars and marks, and what they say in words."""

    raw: str  # the name as the season has it
    name: str
    called: str
    pots: str
    bloom: str  # likely bloom against target, in words
    late: bool
    bars: tuple[Bar, ...]
    logged: tuple[str, str] | None  # where what is logged begins, and how wide it is
    target: str
    target_day: date
    likely: str
    band: tuple[str, str] | None  # where early begins, and how wide it is until late
    steps: tuple[tuple[str, str], ...]
    facts: str
    expected: str


def percent(share: float, digits: int = 2) -> str:
    """A share as a number of hundredths, as short as so many decimals allow."""
    text = f"{share * 100:.{digits}f}".rstrip("0").rstrip(".")
    return text.removeprefix("0") if text.startswith("0.") else text


def share_of(span: Span, day: date) -> str:
    """Where in a span a day begins."""
    return percent((day - span.start).days / span.days)


def axis_of(chart: Chart) -> Axis:
    """The axis of a chart."""
    span, on = chart.span, chart.plan.on
    at = partial(share_of, span)

    def room(day: date) -> float:
        """Width from a day to the end on the smallest screen [px]."""
        return (span.end - day).days / span.days * _NARROWEST

    months = months_of(span)
    wide = [m for m in months if m.days / span.days * _NARROWEST >= 3.5 * _LETTER]
    weeks = weeks_of(span)
    every = max(1, -(-len(weeks) * 30 // int(_NARROWEST)))  # a week number takes 30 px
    return Axis(
        span,
        tuple(at(m.start) for m in months if m.start != span.start),
        tuple((at(m.start), day_month(m.start).split()[1]) for m in wide),
        tuple(
            (at(day), day.isocalendar().week, i % every == 0 and room(day) > 20)
            for i, day in enumerate(weeks)
        ),
        at(on) if on in span else None,
        at(chart.plan.season.span.start) if chart.plan.season.has_show else None,
    )


def line_of(row: GanttRow, axis: Axis, outlook: Outlook | None) -> Line:
    """The line of a lot; without an outlook its bloom is the planned one."""
    lot = row.plan.lot
    if outlook is None:
        likely, words = row.plan.bloom, f"planned {short_date(row.plan.bloom)}, {together(row.lateness)}"
        band = None
    else:
        likely = outlook.likely
        words = f"likely {short_date(likely)}, {together(lateness_words(outlook.days_late))}"
        band = _stretch(axis, outlook.early, outlook.late + DAY)
    done = [step for step in row.steps if step.basis == "actual"]
    return Line(
        raw=lot.name,
        name=one_line(lot.name),
        called=", ".join(one_line(part) for part in (lot.cultivar, lot.crop) if part),
        pots=together(Whose(in_boxes=bool(lot.box_cm)).counted(lot.pots)),
        bloom=words,
        late=likely > row.target,
        bars=tuple(_bar(row, step, axis) for step in row.steps),
        logged=_stretch(axis, done[0].span.start, done[-1].span.end) if done else None,
        target=axis.at(row.target),
        target_day=row.target,
        likely=axis.at(likely),
        band=band,
        steps=tuple((step.step, _step_words(step)) for step in row.steps),
        facts=_facts(row.plan),
        expected=_expected(outlook),
    )


def _stretch(axis: Axis, start: date, end: date) -> tuple[str, str]:
    """Where a span begins and how wide it is, cut to the axis."""
    start, end = (min(max(day, axis.span.start), axis.span.end) for day in (start, end))
    return axis.at(start), percent((end - start).days / axis.span.days)


def ink_of(kind: str) -> str:
    """How type stands on a bar: 'h' in white, 'o' with white around it where there is a hatch, '' in ink."""
    if kind == "root" or kind == "pot":
        return "h"
    return "o" if kind in ("mid", "late", "none", "hold") else ""


def _bar(row: GanttRow, step: Step, axis: Axis) -> Bar:
    share = step.span.days / axis.span.days
    kind: str = step.step
    words: tuple[str, ...] = (step.step, LETTERS.get(step.step, ""))
    if step.step == "show":
        kind, words = row.bloom_class or "none", (CLASS_LETTERS[row.bloom_class],)
    elif step.step == "harden":  # too low a bar for type
        words = ()
    written = next((w for w in words if w and len(w) * _LETTER + 2 <= share * _NARROWEST), "")
    x, width = _stretch(axis, step.span.start, step.span.end)
    middle = percent(((step.span.start - axis.span.start).days + step.span.days / 2) / axis.span.days, 1)
    return Bar(kind, x, width, written, middle)


def _step_words(step: Step) -> str:
    days = short_date(step.span.start) + (f", {step.span.days} d" if step.span.days > 1 else "")
    logged = "logged" if step.basis == "actual" else ""
    return " · ".join(filter(None, (one_line(step.place or ""), days, logged)))


def _facts(plan: LotPlan) -> str:
    """What the steps do not say: a show begins with the bloom, and a lot is set out where a step changes place."""
    steps = {step.step for step in plan.steps if step.span.days}
    parts = [] if "pot" in steps else [f"potted {short_date(plan.potting)}"]
    if plan.recipe.needs_cold:
        parts.append(f"cold {plan.cold_weeks:.1f} of {plan.cold_wanted:g} weeks")
    parts += [f"{stage} {short_date(day)}" for stage, day in plan.stages.items() if stage != "bloom"]
    parts += [] if "show" in steps else [f"planned bloom {short_date(plan.bloom)}"]
    parts.append(f"fades {short_date(plan.fade)}" if plan.fade else "fade not known")
    if any(step.basis == "expected" for step in plan.steps):
        parts.append("what is not logged is as now expected")
    return "; ".join(parts) + "."


def _expected(outlook: Outlook | None) -> str:
    if outlook is None:
        return "No outlook."
    stage = f"{outlook.seen} seen" if outlook.seen else outlook.stage
    early, late = short_date(outlook.early), short_date(outlook.late)
    return f"{stage}; early {early}, late {late}; chance on time {outlook.chance:.0%}."


CROWDED = 12  # more overdue tasks than this are folded: they would push the week away
_EVERY = "*"  # a tag that every choice of the filter shows


@dataclass(frozen=True, slots=True)
class Tag:
    """What the filter goes by: a class, and the numbers of places parted by spaces; '*' for every one."""

    kind: str = _EVERY
    places: str = _EVERY


@dataclass(frozen=True, slots=True)
class BoardTask:
    """One task of the board."""

    tag: Tag
    key: str  # a digest of the task's key: the same from plan to plan
    done: bool
    name: str
    note: str
    lot: str
    letter: BloomClass | None
    about: str
    pots: str
    where: str
    # What a tick logs: event, lot as the season has it, planned day, place; no event: nothing is logged by it.
    event: str
    raw: str
    date: str
    to: str


@dataclass(frozen=True, slots=True)
class Kind:
    """Tasks in a row that ask for the same look and the same caution, which are said once."""

    name: str
    look_for: str
    mind: str
    again: bool  # the same is said above, on the same day
    jobs: tuple[BoardTask, ...]


@dataclass(frozen=True, slots=True)
class Jobs:
    """Tasks under one heading: overdue, or those of a day."""

    heading: str
    work: str
    late: bool
    few: bool  # so few that they do not push the week away
    day: str  # ISO; empty: overdue
    places: tuple[tuple[str, tuple[Kind, ...]], ...]


@dataclass(frozen=True, slots=True)
class Gauge:
    """How full a place is, in words and as a bar: parts of 100 within and over capacity, and where that stands."""

    words: str
    within: str = "0"
    over: str = ""
    capacity: str = ""


@dataclass(frozen=True, slots=True)
class Loaded:
    """A row of the table of places."""

    tag: Tag
    place: str
    settings: tuple[str, ...]
    week: Gauge
    peak: Gauge


@dataclass(frozen=True, slots=True)
class Tags:
    """Tags of lots, tasks, places and findings; places go by number, so that no name is needed to filter."""

    places: Mapping[str, int]
    lots: Mapping[str, Tag]

    def task(self, task: Task) -> Tag:
        mine = {place for place in (task.place, task.to) if place is not None}
        kind = self.lots.get(task.lot or "", Tag()).kind
        return Tag(kind, self.numbers(mine) if mine or task.lot else _EVERY)

    def problem(self, problem: Problem) -> Tag:
        """That of its lot or its place; what is about several, or none of them, is always shown."""
        if len(problem.lots) == 1:
            return self.lots.get(problem.lots[0], Tag())
        place = () if problem.place is None or problem.lots else (problem.place,)
        return Tag(places=self.numbers(place) or _EVERY)

    def numbers(self, places: Iterable[str]) -> str:
        return " ".join(str(n) for n in sorted({self.places[p] for p in places if p in self.places}))


def write_board(
    plan: Plan, outlooks: Sequence[Outlook], path: Path, *, created: datetime, nights: Sequence[FrostNight] = (),
    chances: Sequence[str] = (),
) -> Path:  # fmt: skip
    """Write the board of a plan as one HTML file; gives its path.

    `outlooks` are those of the day of the plan; a lot without one keeps its planned dates. `chances`: a line a display,
    how sure it is of its wanted cover. `created` goes into the file (a time without a zone is taken as UTC). Raises
    OutputError where the file cannot be written.
    """
    write_text(path, board_html(plan, outlooks, created=created, nights=nights, chances=chances))
    return path


def board_html(
    plan: Plan, outlooks: Sequence[Outlook], *, created: datetime, nights: Sequence[FrostNight] = (),
    chances: Sequence[str] = (),
) -> str:  # fmt: skip
    """The text of the board."""
    start = monday(plan.on)
    facts, chart = gather(plan, Span(start, start + WEEK), nights=nights, on_paper=False), chart_of(plan)
    stamp = created.astimezone(UTC) if created.tzinfo else created.replace(tzinfo=UTC)
    tags, found = _tags(plan, facts), problems_of(plan, plan.findings)
    seen = {outlook.lot: outlook for outlook in outlooks}
    axis = axis_of(chart)
    text = _template().render(
        plan=plan,
        pot=show_pot(15, plan.season.measures),
        facts=facts,
        frost=[(day.isoformat(), line.replace(ROOM_TO_WRITE, "nobody named")) for day, line in facts.frost],
        chances=chances,
        frost_work=facts.frost_work,
        last=last_open(chart.plan.season.span),
        axis=axis,
        letters=CLASS_LETTERS,
        step_letters=LETTERS,
        ink=ink_of,
        colours=_colours(),
        digest=_digest(f"{plan.season.title} {plan.season.span.start}"),
        name=one_line(plan.season.title) or "Forcing plan",
        opening=opening_words(plan.season.span, plan.on)
        if plan.season.has_show
        else target_words(plan, plan.on),
        week=f"{iso_week(start)[5:]}, {week_words(facts.week)}",
        work=facts.work,
        jobs=_jobs(facts, tags),
        groups=[(g.heading, g.bloom_class, _lines(chart, g.rows, axis, seen)) for g in chart.groups],
        tags=tags,
        unplanned=list(zip(plan.unplanned, unplanned_words(plan), strict=True)),
        expected=_expected_lots(outlooks, tags),
        unseen=[row.name for row in chart.rows if row.name not in seen],
        loaded=_loaded(facts, tags),
        findings=[(s, told) for s in SEVERITIES if (told := [p for p in found if p.severity == s])],
        kinds=[k for k in CLASSES if any(t.kind == k for t in tags.lots.values())],
        classless=any(t.kind == "none" for t in tags.lots.values()),
        steps=[
            s
            for s in style.STEP_MARKS
            if s != "show" and any(b.step == s for r in chart.rows for b in r.steps)
        ],
        logged=any(step.basis == "actual" for row in chart.rows for step in row.steps),
        stamp=stamp,
        written=(*STAGE_EVENTS, "looked", "faded", "lost", "sold"),
        in_use=places_in_use(plan, facts.week),
    )
    return _tight(text) + "\n"


def opening_words(show: Span, on: date) -> tuple[str, str]:
    """How far the show is from day `on`: a number or a word, and what it means."""
    days, last = (show.start - on).days, max(show.start, show.end - DAY)
    if days > 0:
        return f"{days:,}", f"{'day' if days == 1 else 'days'} to opening, {long_date(show.start)}"
    if on in show:
        return "Open", f"day {1 - days} of {show.days}, until {long_date(last)}"
    return "Closed", f"since {long_date(max(show.start, show.end))}"


# ---------------------------------------------------------------- the template


@lru_cache(maxsize=1)
def _template() -> Template:
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, finalize=_printable
    )
    environment.filters |= {
        "day": _day, "short": short_date, "long": long_date, "some": some, "plain": one_line, "sha256": _sha256,
        "tight": _tight,
    }  # fmt: skip
    source = files("forcing.reports").joinpath("board.html.j2").read_text(encoding="utf-8")
    return environment.from_string(source)


def _day(day: date) -> str:
    """A date that may be parted after the day of the week only."""
    weekday, rest = short_date(day).split(" ", 1)
    return f"{weekday} {together(rest)}"


def _printable(value: Any) -> Any:
    """Text as a page may hold it: on one line, without control characters. What is markup already stays."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return re.sub(" +", " ", without_controls(value)).strip(" ")
    return value


def _tight(text: str) -> str:
    """Text without indents and empty lines, which would be a tenth of the file."""
    return re.sub(r"\n\s*", "\n", text).strip()


def _sha256(text: str) -> str:
    """A script or style as a content security policy names it."""
    return base64.b64encode(hashlib.sha256(str(text).encode()).digest()).decode()


def _digest(text: str) -> str:
    """A short name for a text that may hold anything."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:16]


def _colours() -> dict[str, Any]:
    classes = {"none" if kind is None else kind: mark.fill for kind, mark in style.CLASS_MARKS.items()}
    steps: dict[StepName, str] = {step: mark.fill for step, mark in style.STEP_MARKS.items()}
    plain_colours = {name: getattr(style, name.upper()) for name in ("ink", "quiet", "rule", "tint", "alert")}
    return {**plain_colours, "classes": classes, "steps": steps}


# ---------------------------------------------------------------- what is shown


def _tags(plan: Plan, facts: WeekFacts) -> Tags:
    stand = {p.lot.name: [s.place for s in p.steps if s.place is not None] for p in plan.lots}
    for unplanned in plan.unplanned:
        stand[unplanned.lot.name] = [p for p in (unplanned.lot.cooler, unplanned.lot.bench) if p]
    named = chain((p.name for p in plan.season.places), (load.place for load in plan.loads), *stand.values())
    tasks = (p for t in plan.tasks for p in (t.place, t.to) if p is not None)
    places = {place: i for i, place in enumerate(dict.fromkeys(chain(named, tasks)))}
    bare = Tags(places, {})
    lots = {
        name: Tag(facts.whose.get(name, Whose()).bloom_class or "none", bare.numbers(stood))
        for name, stood in stand.items()
    }
    return Tags(places, lots)


def _jobs(facts: WeekFacts, tags: Tags) -> list[Jobs]:
    found = []
    for day in facts.days:
        said: set[tuple[object, ...]] = set()
        places = tuple(
            (one_line(place) if place else _without_place(tasks), _kinds(facts, tags, tasks, said))
            for place, tasks in day.places
        )
        found.append(Jobs(short_date(day.day), day.work.words(), False, True, day.day.isoformat(), places))
    if facts.overdue:
        kinds = _kinds(facts, tags, facts.overdue, set(), overdue=True)
        few = len(facts.overdue) <= CROWDED
        late = Jobs("Overdue from earlier weeks", facts.late.words(), True, few, "", (("", kinds),))
        found.insert(0, late)
    return found


def _without_place(tasks: Sequence[Task]) -> str:
    kinds = {task.task for task in tasks}
    if kinds == {"pot"}:
        return "Potting"
    if kinds == {"unpack"}:
        return "Bulb store"
    return "Ordering" if kinds == {"order"} else "Elsewhere"


def _kinds(
    facts: WeekFacts,
    tags: Tags,
    tasks: Sequence[Task],
    said: set[tuple[object, ...]],
    *,
    overdue: bool = False,
) -> tuple[Kind, ...]:
    """Tasks by kind; `said` holds what the day has asked for so far."""
    kinds = []
    for alike, run in groupby(tasks, key=lambda task: (task.task, task.look_for, task.cautions)):
        name, look_for, cautions = alike
        mind = ", ".join(key for key, _ in facts.cautions if key in cautions)
        jobs = tuple(_job(facts, tags, task, overdue=overdue) for task in run)
        kinds.append(Kind(name[:1].upper() + name[1:], look_for, mind, alike in said, jobs))
        said.add(alike)
    return tuple(kinds)


def _job(facts: WeekFacts, tags: Tags, task: Task, *, overdue: bool = False) -> BoardTask:
    owner = facts.whose.get(task.lot or "", Whose())
    late = days_late(facts.plan, task)
    by = f"{some(late, 'day')} late" if late > 0 else "overdue"
    note = {"overdue": by, "done": "done, as logged", "not logged": "not logged"}.get(task.state, "")
    return BoardTask(
        tag=tags.task(task),
        key=_digest(task.key),
        done=task.state == "done",
        name=title(task),
        note=f"{short_date(task.date)}, {by}" if overdue else note,
        lot=one_line(task.lot or ""),
        letter=owner.bloom_class,
        about=", ".join(
            one_line(part) for part in facts.rounds.get(task.key, (owner.cultivar, owner.crop)) if part
        ),
        pots=together(_counted(facts, task)) if task.pots else "",
        where=route(task) if overdue else way_on(task),
        event=(LOGGED_AS.get(task.task) or "") if task.lot in tags.lots else "",
        raw=task.lot or "",
        date=task.date.isoformat(),
        to=task.to or "",
    )


def _counted(facts: WeekFacts, task: Task) -> str:
    """'24 pots', '1 box'; a round may be of both."""
    lots = facts.rounds.get(task.key, (task.lot or "",))
    boxed = {facts.whose.get(lot, Whose()).in_boxes for lot in lots}
    return (
        f"{number(task.pots)} pots and boxes"
        if len(boxed) > 1
        else Whose(in_boxes=boxed == {True}).counted(task.pots)
    )


def _lines(chart: Chart, rows: Iterable[Any], axis: Axis, seen: Mapping[str, Outlook]) -> list[Line]:
    return [line_of(row, axis, seen.get(row.name)) for row in rows]


def _expected_lots(outlooks: Sequence[Outlook], tags: Tags) -> list[dict[str, Any]]:
    """The rows of the outlook, the lots most late first, as the command prints them."""
    rows = sorted(rows_of(frames.outlook(outlooks)), key=lambda row: (-row["days late"], natural(row["lot"])))
    return [
        row | {"tag": tags.lots.get(row["lot"], Tag()), "words": lateness_words(row["days late"])}
        for row in rows
    ]


def _loaded(facts: WeekFacts, tags: Tags) -> list[Loaded]:
    rooms = {room.place: room.settings for room in room_weeks(facts.plan, facts.week)}
    found = []
    for load in facts.plan.loads:
        days = [(day - load.start).days for day in facts.week]
        pots = max(load.pots[i] if 0 <= i < len(load.pots) else 0.0 for i in days)
        most, when = fullest(load) if load.pots else (0.0, None)
        top = max(most, load.capacity or 0.0)
        peak = _gauge(most, load.capacity, top, "nothing all season")
        if when is not None and most:
            peak = Gauge(f"{peak.words}, {short_date(when)}", peak.within, peak.over, peak.capacity)
        tag = Tag(places=str(tags.places[load.place]))
        week = _gauge(pots, load.capacity, top, "empty")
        found.append(Loaded(tag, load.place, rooms.get(load.place, ()), week, peak))
    return found


def _gauge(pots: float, capacity: float | None, top: float, nothing: str) -> Gauge:
    """Pots against a capacity, drawn on a scale from 0 to `top`."""
    if not pots:
        words = nothing if capacity is None else f"{nothing}, room for {number(capacity)}"
        return Gauge(words)
    if capacity is None:
        return Gauge(some(pots, "pot"), percent(pots / top))
    within, over = min(pots, capacity), pots - capacity
    words = f"{number(pots)} of {number(capacity)}"
    if over <= 1e-6:  # a sum of fractions this little above a capacity is not over it
        return Gauge(words, percent(within / top), "", percent(capacity / top))
    return Gauge(
        f"{words}, {number(over)} over", percent(within / top), percent(over / top), percent(capacity / top)
    )
