"""board.html: the week, every lot's line, the outlook and the places on one page, for a tablet or a wall screen.

One file that asks nothing of any network. What people typed reaches it as text and attribute values only, escaped;
the page's own script and style are named in its content security policy by their SHA-256 (CSP level 3), so that
nothing else in it can run.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from importlib.resources import files
from itertools import chain, groupby
from pathlib import Path
from typing import Any

from jinja2 import Environment, StrictUndefined, Template
from markupsafe import Markup

from forcing.dates import DAY, WEEK, Span, iso_week, monday
from forcing.engine.outlook import Outlook
from forcing.errors import SEVERITIES, Finding
from forcing.files import write_text
from forcing.model import CLASSES, BloomClass, Plan, StepName, Task
from forcing.sheets import style
from forcing.sheets.board_lines import (
    CLASS_LETTERS,
    LETTERS,
    Axis,
    Line,
    axis_of,
    ink_of,
    line_of,
    percent,
    together,
)
from forcing.sheets.gantt.chart import Chart, chart_of, fullest, unplanned_words
from forcing.sheets.outlook_words import lateness_words
from forcing.sheets.style import count, long_date, short_date
from forcing.sheets.task_words import Whose, natural, plain, route, some, title, way_on
from forcing.sheets.week.facts import WeekFacts, days_late, gather, total, week_words

CROWDED = 12  # more overdue tasks than this are listed below those of the week, which they would push away
_EVERY = "*"  # a tag that every choice of the filter shows
_UNPRINTABLE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]+")


@dataclass(frozen=True, slots=True)
class Tag:
    """What the filter goes by: a class, and the numbers of places parted by spaces; '*' for every one."""

    kind: str = _EVERY
    places: str = _EVERY


@dataclass(frozen=True, slots=True)
class Job:
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


@dataclass(frozen=True, slots=True)
class Kind:
    """Tasks in a row that ask for the same look and the same caution, which are said once."""

    name: str
    look_for: str
    mind: str
    jobs: tuple[Job, ...]


@dataclass(frozen=True, slots=True)
class Jobs:
    """Tasks under one heading: overdue, or those of a day."""

    heading: str
    work: str
    late: bool
    places: tuple[tuple[str, tuple[Kind, ...]], ...]


@dataclass(frozen=True, slots=True)
class Expected:
    """A row of the outlook table."""

    tag: Tag
    outlook: Outlook
    words: str
    stage: str


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
    rows: Mapping[tuple[str, int], Tag]

    def task(self, task: Task) -> Tag:
        mine = {place for place in (task.place, task.to) if place is not None}
        kind = self.lots.get(task.lot or "", Tag()).kind
        return Tag(kind, self.numbers(mine) if mine or task.lot else _EVERY)

    def finding(self, finding: Finding) -> Tag:
        return self.rows.get((finding.table, finding.row or 0), Tag())

    def numbers(self, places: Iterable[str]) -> str:
        return " ".join(str(n) for n in sorted({self.places[p] for p in places if p in self.places}))


def write_board(plan: Plan, outlooks: Sequence[Outlook], path: Path, *, created: datetime) -> Path:
    """Write the board of a plan as one HTML file; gives its path.

    `outlooks` are those of the day of the plan; a lot without one keeps its planned dates. `created` goes into the
    file (a time without a zone is taken as UTC). Raises OutputError where the file cannot be written.
    """
    write_text(path, board_html(plan, outlooks, created=created))
    return path


def board_html(plan: Plan, outlooks: Sequence[Outlook], *, created: datetime) -> str:
    """The text of the board."""
    start = monday(plan.on)
    facts, chart = gather(plan, Span(start, start + WEEK)), chart_of(plan)
    stamp = created.astimezone(UTC) if created.tzinfo else created.replace(tzinfo=UTC)
    tags = _tags(plan, facts)
    seen = {outlook.lot: outlook for outlook in outlooks}
    axis = axis_of(chart)
    text = _template().render(
        plan=plan,
        facts=facts,
        last=chart.last_day,
        axis=axis,
        letters=CLASS_LETTERS,
        step_letters=LETTERS,
        ink=ink_of,
        colours=_colours(),
        digest=_digest(f"{plan.season.title} {plan.season.span.start}"),
        name=plain(plan.season.title) or "Forcing plan",
        opening=opening_words(plan.season.span, plan.on),
        week=f"{iso_week(start)[5:]}, {week_words(facts.week)}",
        work=facts.work,
        jobs=_jobs(facts, tags),
        overdue_last=len(facts.overdue) > CROWDED and bool(facts.days),
        groups=[(g.heading, g.bloom_class, _lines(chart, g.rows, axis, seen)) for g in chart.groups],
        tags=tags,
        unplanned=list(zip(plan.unplanned, unplanned_words(plan), strict=True)),
        expected=_expected(outlooks, tags),
        unseen=[row.name for row in chart.rows if row.name not in seen],
        loaded=_loaded(facts, tags),
        findings=[(s, [f for f in plan.findings if f.severity == s]) for s in SEVERITIES],
        kinds=[k for k in CLASSES if any(t.kind == k for t in tags.lots.values())],
        classless=any(t.kind == "none" for t in tags.lots.values()),
        steps=[
            s
            for s in style.STEP_MARKS
            if s != "show" and any(b.step == s for r in chart.rows for b in r.steps)
        ],
        logged=any(step.basis == "actual" for row in chart.rows for step in row.steps),
        stamp=stamp,
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
        "day": _day, "short": short_date, "long": long_date, "some": some, "plain": plain, "sha256": _sha256,
        "tight": _tight,
    }  # fmt: skip
    source = files("forcing.sheets").joinpath("board.html.j2").read_text(encoding="utf-8")
    return environment.from_string(source)


def _day(day: date) -> str:
    """A date that may be parted after the day of the week only."""
    weekday, rest = short_date(day).split(" ", 1)
    return f"{weekday} {together(rest)}"


def _printable(value: Any) -> Any:
    """Text as a page may hold it: on one line, without control characters. What is markup already stays."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return re.sub(" +", " ", _UNPRINTABLE.sub(" ", value)).strip(" ")
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
    bare = Tags(places, {}, {})
    lots = {
        name: Tag(facts.whose.get(name, Whose()).bloom_class or "none", bare.numbers(stood))
        for name, stood in stand.items()
    }
    rows = {("lots", lot.row): lots[lot.name] for lot in _lots(plan) if lot.row is not None}
    for place in plan.season.places:
        if place.row is not None:
            rows["places", place.row] = Tag(places=str(places[place.name]))
    return Tags(places, lots, rows)


def _lots(plan: Plan) -> Iterable[Any]:
    return chain((p.lot for p in plan.lots), (u.lot for u in plan.unplanned))


def _jobs(facts: WeekFacts, tags: Tags) -> list[Jobs]:
    found = []
    for day in facts.days:
        places = tuple(
            (plain(place) if place else _without_place(tasks), _kinds(facts, tags, tasks))
            for place, tasks in day.places
        )
        found.append(Jobs(short_date(day.day), day.work.words(), False, places))
    if facts.overdue:
        kinds = _kinds(facts, tags, facts.overdue, overdue=True)
        late = Jobs("Overdue from earlier weeks", total(facts.overdue).words(), True, (("", kinds),))
        found.insert(len(found) if len(facts.overdue) > CROWDED else 0, late)
    return found


def _without_place(tasks: Sequence[Task]) -> str:
    kinds = {task.task for task in tasks}
    if kinds == {"pot"}:
        return "Potting"
    return "Ordering" if kinds == {"order"} else "Elsewhere"


def _kinds(facts: WeekFacts, tags: Tags, tasks: Sequence[Task], *, overdue: bool = False) -> tuple[Kind, ...]:
    runs = groupby(tasks, key=lambda task: (task.task, task.look_for, task.cautions))
    return tuple(
        Kind(
            name[:1].upper() + name[1:],
            look_for,
            ", ".join(key for key, _ in facts.cautions if key in cautions),
            tuple(_job(facts, tags, task, overdue=overdue) for task in run),
        )
        for (name, look_for, cautions), run in runs
    )


def _job(facts: WeekFacts, tags: Tags, task: Task, *, overdue: bool = False) -> Job:
    owner = facts.whose.get(task.lot or "", Whose())
    late = days_late(facts.plan, task)
    by = f"{some(late, 'day')} late" if late > 0 else "overdue"
    note = {"overdue": by, "done": "done, as logged", "due": "today", "not logged": "not logged"}.get(
        task.state, ""
    )
    return Job(
        tag=tags.task(task),
        key=_digest(task.key),
        done=task.state == "done",
        name=title(task),
        note=f"{short_date(task.date)}, {by}" if overdue else note,
        lot=plain(task.lot or ""),
        letter=owner.bloom_class,
        about=", ".join(plain(part) for part in (owner.cultivar, owner.crop) if part),
        pots=some(task.pots, "pot") if task.pots else "",
        where=route(task) if overdue else way_on(task),
    )


def _lines(chart: Chart, rows: Iterable[Any], axis: Axis, seen: Mapping[str, Outlook]) -> list[Line]:
    return [line_of(row, axis, seen.get(row.name)) for row in rows]


def _expected(outlooks: Sequence[Outlook], tags: Tags) -> list[Expected]:
    """The lots most late first, as the command prints them."""
    order = sorted(outlooks, key=lambda o: (-o.days_late, natural(o.lot)))
    return [
        Expected(
            tags.lots.get(o.lot, Tag()),
            o,
            lateness_words(o.days_late),
            f"{o.seen} seen" if o.seen else o.stage,
        )
        for o in order
    ]


def _loaded(facts: WeekFacts, tags: Tags) -> list[Loaded]:
    rooms = {room.place: room.settings for room in facts.rooms}
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
        words = nothing if capacity is None else f"{nothing}, room for {count(capacity)}"
        return Gauge(words)
    if capacity is None:
        return Gauge(some(pots, "pot"), percent(pots / top))
    within, over = min(pots, capacity), pots - capacity
    words = f"{count(pots)} of {count(capacity)}"
    if over <= 1e-6:  # a sum of fractions this little above a capacity is not over it
        return Gauge(words, percent(within / top), "", percent(capacity / top))
    return Gauge(
        f"{words}, {count(over)} over", percent(within / top), percent(over / top), percent(capacity / top)
    )
