"""Every table that leaves the program, once, as a pandas DataFrame; and the CSV files, which are written from them.

Days are datetime64, counts whole numbers, text as a person wrote it ("" where nothing is stated); what is not known is
missing. Temperatures are in the season's unit, heat is in °C·d, cold in weeks. A table that other programs read has the
columns of its file first; columns after those are for sheets and notebooks.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from forcing.dates import iso_week, monday
from forcing.engine.companions import CompanionPlan
from forcing.engine.frost import FrostNight, cover_answer
from forcing.engine.night_chances import NightChance
from forcing.engine.outlook import Outlook
from forcing.engine.review import EVENTS, PARTS, LotReview, Review
from forcing.engine.show.cover import Cover
from forcing.engine.show.planting import PlantingDay, row_words
from forcing.engine.why import Leeway, LotWeek
from forcing.engine.work.orders import OrderLine, companion_order_day, order_lines
from forcing.errors import Finding, sort_findings
from forcing.files import write_text
from forcing.model import PARAMETERS, Figure, LotPlan, Override, Plan, Recipe, Season, Task
from forcing.recipes.book import COMPANION_UNITS, UNITS
from forcing.units import Measures, TemperatureUnit, from_celsius, order_unit, show_pot, told

if TYPE_CHECKING:
    from forcing.engine.steering.advice import Steering

PLAN_COLUMNS = ("lot", "crop", "class", "cultivar", "pots", "step", "place", "start", "end", "basis")
TASK_COLUMNS = ("date", "week", "place", "lot", "task", "pots", "hours", "caution", "state")
FINDING_COLUMNS = ("code", "severity", "table", "row", "column", "message", "hint")
OUTLOOK_COLUMNS = (
    "lot", "on", "stage", "heat", "need", "early", "likely", "late", "target", "days late", "chance",
)  # fmt: skip
STEER_COLUMNS = ("place", "from", "to", "mean", "day", "night")
MOVE_COLUMNS = ("lot", "from", "to", "on")
OPTION_COLUMNS = (
    "option", "actions", "settings", "moves", "holds", "hours", "within a day", "days off", "recommended",
)  # fmt: skip
OPTION_DIGITS = {"hours": 1, "days off": 2}
COVER_COLUMNS = ("display", "date", "share", "chance", "wanted")
CROPS_COLUMNS = ("crop", "class", "cultivar", "parameter", "typical", "low", "high", "source")
# Decimals of measures, where a file shows as many of them in every row.
OUTLOOK_DIGITS = {"heat": 1, "need": 1, "chance": 2}
COVER_DIGITS = {"share": 4, "chance": 4}
REVIEW_DIGITS = {
    "cold planned": 2, "cold credited": 2, "need planned": 1, "need predicted": 1, "need seen": 1, "need ratio": 3,
    "life predicted": 1, "life seen": 1,
}  # fmt: skip

_DAY, _WHOLE, _NUMBER, _FLAG = "datetime64[s]", "Int64", "float64", "bool"  # all else is text


# ---------------------------------------------------------------- a frame, and a file of it


def frame_of(columns: Iterable[str], rows: Iterable[Sequence[Any]], **kinds: Iterable[str]) -> pd.DataFrame:
    """A frame of these columns; `kinds`: columns by `day`, `whole`, `number` and `flag`, the others hold text."""
    frame = pd.DataFrame(list(rows), columns=list(columns), dtype=object)
    types = {"day": _DAY, "whole": _WHOLE, "number": _NUMBER, "flag": _FLAG}
    return frame.astype({name: types[kind] for kind, names in kinds.items() for name in names})


# Text that a spreadsheet program runs when it opens a CSV file; an apostrophe before it keeps it text.
_RUN_AS_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_SAFE: ContextVar[bool] = ContextVar("safe cells in CSV files", default=False)


@contextmanager
def formulas_kept_from_running(safe: bool) -> Iterator[None]:
    """While the block runs and `safe`, text in CSV files that would be run as a formula begins with an apostrophe."""
    token = _SAFE.set(safe)
    try:
        yield
    finally:
        _SAFE.reset(token)


def _kept_as_text(value: Any) -> Any:
    return f"'{value}" if isinstance(value, str) and value.startswith(_RUN_AS_FORMULA) else value


def write_csv(
    frame: pd.DataFrame, path: Path, columns: Sequence[str] = (), digits: Mapping[str, int] | None = None
) -> Path:
    """Write `columns` of a frame (none named: all) and give `path` back: RFC 4180, UTF-8, ISO 8601 days, no index.

    `digits`: decimals of the columns that always show them. Raises OutputError where it cannot be written; what was
    there before is then untouched.
    """
    if _SAFE.get():
        frame = frame.assign(
            **{name: frame[name].map(_kept_as_text).astype(object) for name in frame.select_dtypes(object)}
        )
    write_text(path, csv_text(frame, columns, digits))
    return path


def csv_text(
    frame: pd.DataFrame, columns: Sequence[str] = (), digits: Mapping[str, int] | None = None
) -> str:
    """The text of `write_csv`."""
    shown = frame[list(columns or frame.columns)]
    fixed = {
        name: shown[name].map(lambda value, n=n: "" if pd.isna(value) else f"{value:.{n}f}").astype(object)
        for name, n in (digits or {}).items()
    }
    mixed = {
        name: shown[name].map(lambda value: _short(value) if isinstance(value, float) else value)
        for name in shown.select_dtypes(object)
    }
    text: str = shown.assign(**mixed, **fixed).to_csv(
        index=False, lineterminator="\r\n", date_format="%Y-%m-%d", float_format=_short
    )
    return text


def _short(value: float) -> str:
    """Digits without a needless '.0' and without the noise of binary fractions."""
    return f"{value:.10g}" if abs(value) < 1e10 else repr(value)


def rows_of(frame: pd.DataFrame) -> Iterator[dict[str, Any]]:
    """The rows of a frame by column: days as dates, and None for what is missing."""
    columns = [_values(frame[name]) for name in frame.columns]
    return (dict(zip(frame.columns, row, strict=True)) for row in zip(*columns, strict=True))


def _values(column: pd.Series) -> list[Any]:
    values = column.dt.date if column.dtype.kind == "M" else column
    return [
        None if value is None or value is pd.NaT or value is pd.NA or value != value else value
        for value in values
    ]


def write_tables(plan: Plan, folder: Path) -> tuple[Path, ...]:
    """Write plan.csv, tasks.csv and findings.csv into `folder`; give their paths in that order.

    Each file is whole or untouched. Raises OutputError where a file cannot be written.
    """
    return (
        write_csv(steps(plan), folder / "plan.csv"),
        write_csv(tasks(plan), folder / "tasks.csv", TASK_COLUMNS),
        write_csv(findings(plan.findings), folder / "findings.csv", FINDING_COLUMNS),
    )


# ---------------------------------------------------------------- the plan


def season_order(plan: Plan) -> tuple[LotPlan, ...]:
    """Planned lots in the order the grower listed them; lots the season does not list come last."""
    place_in_line = {lot.name: i for i, lot in enumerate(plan.season.lots)}
    return tuple(sorted(plan.lots, key=lambda p: place_in_line.get(p.lot.name, len(place_in_line))))


def where(task: Task) -> str:
    """Where a task is done: one place, or 'from → to' where pots move between two."""
    if task.place and task.to:
        return f"{task.place} → {task.to}"
    return task.place or task.to or ""


def _who(planned: LotPlan) -> tuple[str, str, str, str, int]:
    lot = planned.lot
    return lot.name, lot.crop, planned.bloom_class or "", lot.cultivar or "", lot.pots


_LOT_DAYS = (
    "target", "potting", "cooler_in", "rooted", "sprouted", "bring_in", "shoots", "bud", "colour", "bloom", "fade",
    "install",
)  # fmt: skip


def lots(plan: Plan) -> pd.DataFrame:
    """The planned lots in season order, a row each under its name: who it is, its days, its cold, heat and places.

    `days_early`: target less bloom. `cooler` and `bench`: the places it stands in, in order, with commas.
    """
    columns = (
        "lot", "crop", "class", "cultivar", "pots", *_LOT_DAYS, "days_early", "cold_wanted", "cold_weeks", "need",
        "assumed_days", "cooler", "bench",
    )  # fmt: skip
    made = frame_of(
        columns, map(_lot, season_order(plan)), day=_LOT_DAYS, whole=("pots", "days_early", "assumed_days"),
        number=("cold_wanted", "cold_weeks", "need"),
    )  # fmt: skip
    return made.set_index("lot")


def _lot(p: LotPlan) -> tuple[Any, ...]:
    stage = p.stages.get
    return (
        *_who(p), p.target, p.potting, p.cooler_in, p.rooted, p.sprouted, p.bring_in, stage("shoots"), stage("bud"),
        stage("colour"), p.bloom, p.fade, p.install, p.days_early, p.cold_wanted, p.cold_weeks, p.need,
        p.assumed_days, _places(p, "root", "cool"), _places(p, "bench"),
    )  # fmt: skip


LOTS_COLUMNS = (
    "lot", "crop", "class", "display", "pots", "potting", "cooler in", "bring in", "set out", "target", "bloom",
    "confidence", "hold from", "hold until", "hold place", "cold weeks", "slack days", "cooler", "warmer",
)  # fmt: skip


def lot_dates(plan: Plan, leeways: Mapping[str, Leeway]) -> pd.DataFrame:
    """lots.csv: a row a lot with its dates, its wait in the cold, and what they bear.

    `slack days`: working days by which it may be brought in later and still be in time; `cooler`, `warmer`: bloom with
    its bench 1 °C off on these dates. Missing: there is none, or it is not known.
    """
    rows = (
        (
            p.lot.name, p.lot.crop, p.bloom_class or "", p.lot.display or "", p.lot.pots, p.potting, p.cooler_in,
            p.bring_in, p.install, p.target, p.bloom, plan.season.confidence_of(p.lot), *_hold(p),
            round(p.cold_weeks, 2), leeways[p.lot.name].slack, leeways[p.lot.name].cooler, leeways[p.lot.name].warmer,
        )
        for p in season_order(plan)
    )  # fmt: skip
    days = (
        "potting",
        "cooler in",
        "bring in",
        "set out",
        "target",
        "bloom",
        "hold from",
        "hold until",
        "cooler",
        "warmer",
    )
    return frame_of(
        LOTS_COLUMNS, rows, day=days, whole=("pots", "slack days"), number=("confidence", "cold weeks")
    )


def _hold(planned: LotPlan) -> tuple[date | None, date | None, str]:
    """From, until and where it is held cold."""
    held = [step for step in planned.steps if step.step == "hold"]
    return (held[0].span.start, held[-1].span.end, _places(planned, "hold")) if held else (None, None, "")


def unplanned(plan: Plan) -> pd.DataFrame:
    """The lots that cannot be planned, why, and the earliest bloom that is possible (missing: not known)."""
    rows = (
        (u.lot.name, u.lot.crop, u.lot.bloom_class or "", u.lot.cultivar or "", u.lot.pots, u.lot.target, u.earliest,
         u.reason)
        for u in plan.unplanned
    )  # fmt: skip
    columns = ("lot", "crop", "class", "cultivar", "pots", "target", "earliest", "reason")
    return frame_of(columns, rows, day=("target", "earliest"), whole=("pots",))


def _places(planned: LotPlan, *names: str) -> str:
    """Where the lot stands in these steps, in order; it may stand in more than one place."""
    inside = sorted((s for s in planned.steps if s.step in names and s.place), key=lambda s: s.span.start)
    return ", ".join(dict.fromkeys(str(step.place) for step in inside))


def steps(plan: Plan) -> pd.DataFrame:
    """plan.csv: a row a step, lots in season order, the steps of each in time; half-open days.

    `pots`: those that there are at the end of the step; what is lost or sold later does not change it.
    """
    rows = (
        (*_who(planned)[:-1], planned.pots_on(step.span.end - timedelta(days=1)), step.step, step.place or "",
         step.span.start, step.span.end, step.basis)
        for planned in season_order(plan)
        for step in sorted(planned.steps, key=lambda s: (s.span.start, s.span.end))
    )  # fmt: skip
    return frame_of(PLAN_COLUMNS, rows, day=("start", "end"), whole=("pots",))


def tasks(plan: Plan) -> pd.DataFrame:
    """tasks.csv by date, place, lot and task; then where from and to, whose pots, what to look for."""
    cultivars = {p.lot.name: p.lot.cultivar or p.lot.crop for p in plan.lots}
    rows = (
        (
            task.date, iso_week(task.date), where(task), task.lot or "", task.task, task.pots, task.hours,
            "; ".join(task.cautions), task.state, task.place or "", task.to or "", cultivars.get(task.lot or "", ""),
            task.look_for,
        )
        for task in sorted(plan.tasks, key=lambda t: (t.date, where(t), t.lot or "", t.task, t.key))
    )  # fmt: skip
    columns = (*TASK_COLUMNS, "from", "to", "cultivar", "look for")
    return frame_of(columns, rows, day=("date",), number=("pots", "hours"))


def hours(plan: Plan) -> pd.DataFrame:
    """Staff hours: Monday of the week, kind of task, hours; kinds in the order in which they first come."""
    ordered = sorted(plan.tasks, key=lambda t: (t.date, t.key))
    spent = dict.fromkeys(((monday(t.date), t.task) for t in ordered), 0.0)
    for task in plan.tasks:
        spent[monday(task.date), task.task] += task.hours
    for work in plan.rounds:
        for day, each in work.visits:
            key = monday(day), "daily round"
            spent[key] = spent.get(key, 0.0) + each
    rows = ((*key, total) for key, total in spent.items())
    return frame_of(("week", "task", "hours"), rows, day=("week",), number=("hours",))


def loads(plan: Plan) -> pd.DataFrame:
    """How full each place is on each day: 15 cm-pot equivalents against its capacity (missing: not stated)."""
    rows = (
        (load.start + timedelta(days=i), load.place, pots, load.capacity)
        for load in plan.loads
        for i, pots in enumerate(load.pots)
    )
    return frame_of(("date", "place", "pots", "capacity"), rows, day=("date",), number=("pots", "capacity"))


def rooms(plan: Plan) -> pd.DataFrame:
    """What each place is set to, places in season order; half-open days, temperatures in the season's unit."""
    unit, order = plan.season.unit, {place.name: i for i, place in enumerate(plan.season.places)}
    kinds = {place.name: place.kind for place in plan.season.places}
    rows = (
        (r.place, kinds.get(r.place, ""), r.span.start, r.span.end, *_degrees(unit, r.day, r.night, r.mean), r.basis,
         r.reason)
        for r in sorted(plan.rooms, key=lambda r: (order.get(r.place, len(order)), r.place, r.span))
    )  # fmt: skip
    columns = ("place", "kind", "from", "to", "day", "night", "mean", "basis", "reason")
    return frame_of(columns, rows, day=("from", "to"), number=("day", "night", "mean"))


def _degrees(unit: TemperatureUnit, *celsius: float) -> tuple[float, ...]:
    return tuple(round(from_celsius(value, unit), 2) for value in celsius)


def findings(found: Iterable[Finding]) -> pd.DataFrame:
    """findings.csv, worst first; then the lot, place and week it is about."""
    rows = (
        (f.code, f.severity, f.table, f.row, f.column or "", f.what(), f.hint, f.lot or "", f.place or "", f.week or "")
        for f in sort_findings(found)
    )  # fmt: skip
    return frame_of((*FINDING_COLUMNS, "lot", "place", "week"), rows, whole=("row",))


def orders(plan: Plan, companions: Sequence[CompanionPlan] = ()) -> pd.DataFrame:
    """Everything to order: bulbs, pots, trays, labels, mix, seed, plugs or plants of the `companions`, cloth.

    `per pot`: bulbs in each pot, every number that occurs; `pack` is missing for what is sold singly; `state`: where
    the order stands on the day of the plan; `price`: of one pack, `cost`: of all, missing where no price is stated;
    `received`: missing where nothing has come.
    """
    potted = {entry.lot for entry in plan.season.log if entry.event == "potted" and entry.date <= plan.on}
    lines = (_in_measures(o, plan.season.measures) for o in order_lines(plan, companions))
    rows = (
        (
            o.kind, o.item, o.unit, o.crop, o.bloom_class or "", o.cultivar or "", ", ".join(o.lots), o.pots,
            " or ".join(map(_short, o.per_pot)), o.used, o.need, o.packs, o.pack, o.quantity, o.needed, o.lead_weeks,
            o.lead_basis, o.order_by, _order_state(o, potted, plan.on), o.supplier or "", o.size or "",
            o.substitute or "", o.price, o.cost, o.received,
        )
        for o in lines
    )  # fmt: skip
    columns = (
        "kind", "item", "unit", "crop", "class", "cultivar", "lots", "pots", "per pot", "used", "need", "packs", "pack",
        "quantity", "first used", "lead weeks", "lead basis", "order by", "state", "supplier", "size", "substitute",
        "price", "cost", "received",
    )  # fmt: skip
    return frame_of(
        columns, rows, day=("first used", "order by"), whole=("pots", "packs"),
        number=("used", "need", "pack", "quantity", "lead weeks", "price", "cost", "received"),
    )  # fmt: skip


def _in_measures(order: OrderLine, measures: Measures) -> OrderLine:
    """An order in the units in which the season's measures order: what is not counted, and the names of pots."""
    unit, size = order_unit(order.unit, measures)
    item = (
        f"pots {show_pot(order.width, measures)}"
        if order.width is not None
        else told(order.item, "C", measures)
    )
    pack = None if order.pack is None else order.pack / size
    return replace(
        order, item=item, unit=unit, used=order.used / size, need=order.need / size, pack=pack,
        quantity=order.quantity / size,
    )  # fmt: skip


def planting(days: Iterable[PlantingDay]) -> pd.DataFrame:
    """planting.csv: a row for each pot of each container: display, container, row, place from the left, lot."""
    rows = (
        (day.display.name, number, word, place, name)
        for day in days
        for number, container in enumerate(day.containers, 1)
        for word, row in zip(row_words(len(container)), container, strict=True)
        for place, name in enumerate(row, 1)
    )
    return frame_of(
        ("display", "container", "row", "place", "lot or companion"), rows, whole=("container", "place")
    )


def _order_state(order: OrderLine, potted: Collection[str], on: date) -> str:
    """When it is to be ordered; what is potted is no longer."""
    done, days = sum(name in potted for name in order.lots), (order.order_by - on).days
    if done:
        return "potted" if done == len(order.lots) else f"{done} of {len(order.lots)} lots potted"
    if days < 0:
        return f"{-days} days ago: check it is ordered"
    return "today" if days == 0 else f"in {days} days"


def cover(covers: Iterable[Cover]) -> pd.DataFrame:
    """cover.csv, day by day; then the pots that stand in the display, and whether the day is thin.

    Share and chance are missing where nothing stands.
    """
    rows = (
        (each.display, day, share, chance, round(each.wanted, 6), standing, thin)
        for each in covers
        for day, share, chance, standing, thin in zip(
            each.span, each.share, each.chance, each.standing, each.thin, strict=True
        )
    )
    return frame_of(
        (*COVER_COLUMNS, "standing", "thin"), rows, day=("date",), number=("share", "chance", "wanted"),
        whole=("standing",), flag=("thin",),
    )  # fmt: skip


def companions(plan: Plan, grown: Iterable[CompanionPlan]) -> pd.DataFrame:
    """A row a companion of the season, in its order; of one that is not planned only what is stated of it."""
    planned = {each.companion.name: each for each in grown}
    columns = (
        "companion", "crop", "pots", "order", "sow", "transplant", "pinch", "place", "harden", "harden_at", "finish",
        "set_out", "ready", "shown", "planned",
    )  # fmt: skip
    rows = (
        (c.name, c.crop, c.pots or None, *_grown(plan.season, planned[c.name]), True)
        if c.name in planned
        else (c.name, c.crop, c.pots or None, *[None] * 4, "", None, "", None, None, c.ready, "", False)
        for c in plan.season.companions
    )
    return frame_of(
        columns, rows, day=("order", "sow", "transplant", "pinch", "harden", "finish", "set_out", "ready"),
        number=("pots",), flag=("planned",),
    )  # fmt: skip


def _grown(season: Season, p: CompanionPlan) -> tuple[Any, ...]:
    shown = dict.fromkeys(step.place for step in p.steps if step.step == "show" and step.place)
    return (
        companion_order_day(season, p), p.sow, p.transplant, p.pinch, p.place, p.harden, p.harden_at, p.finish,
        p.set_out, p.ready, ", ".join(map(str, shown)),
    )  # fmt: skip


def frost(plan: Plan, nights: Iterable[FrostNight], chances: Iterable[NightChance]) -> pd.DataFrame:
    """Evenings on which a display or place needs its cover: by a forecast (`years` missing), or with what chance.

    `cover_at`: a low at or below it asks for the cover; `stands`: what the tenderest there stands.
    """
    unit = plan.season.unit
    rows: list[tuple[Any, ...]] = [
        (n.evening, n.display, None, *_degrees(unit, n.low, n.cover_at), n.tenderest,
         *_degrees(unit, n.limit), None, None, n.area, n.containers, cover_answer(n), ", ".join(n.assumed))
        for n in nights
    ] + [
        (c.evening, c.display, c.years, None, *_degrees(unit, c.threshold), c.tenderest, *_degrees(unit, c.limit),
         c.chance, c.later, None, None, "", "")
        for c in chances
    ]  # fmt: skip
    order = {display.name: i for i, display in enumerate(plan.season.displays)}
    rows.sort(key=lambda row: (row[0], order.get(row[1], -1), row[2] is not None))
    columns = (
        "evening", "display", "years", "low", "cover_at", "tenderest", "stands", "chance", "later", "cloth",
        "containers", "answer", "unknown",
    )  # fmt: skip
    return frame_of(
        columns, rows, day=("evening",), whole=("years", "containers"),
        number=("low", "cover_at", "stands", "chance", "later", "cloth"),
    )  # fmt: skip


NOT_RECORDED = "not recorded"  # the source of a value that came without its figure


def used_figures(plan: Plan) -> pd.DataFrame:
    """Every figure the plan rests on, once, with its source: by crop, parameter, and the wider reach first."""
    found: dict[Figure, int] = {}
    for planned in season_order(plan):
        for name in PARAMETERS:
            found.setdefault(_figure_in_force(planned.recipe, name), len(found))
    crop_rank = {name: i for i, name in enumerate(dict.fromkeys(figure.crop for figure in found))}
    reach = {f: (f.bloom_class is not None, f.cultivar is not None, place) for f, place in found.items()}
    ordered = sorted(found, key=lambda f: (crop_rank[f.crop], PARAMETERS.index(f.parameter), *reach[f]))
    rows = (
        (f.crop, f.bloom_class or "", f.cultivar or "", *_figure_row(f.parameter, f, plan.season.unit))
        for f in ordered
    )
    return frame_of(("crop", "class", "cultivar", *_FIGURE_COLUMNS), rows)


def _figure_in_force(recipe: Recipe, name: str) -> Figure:
    """A number of a recipe; a value that came without its figure says so."""
    figure = recipe.figures.get(name)
    # The crop of a figure is the one it is written under, which every lot of that crop shares.
    return replace(figure, crop=recipe.crop) if figure else Figure(
        recipe.crop, name, getattr(recipe, name), UNITS[name], "practice", NOT_RECORDED, "", recipe.bloom_class,
        recipe.cultivar,
    )  # fmt: skip


# ---------------------------------------------------------------- on the way, and looking back


def outlook(outlooks: Iterable[Outlook]) -> pd.DataFrame:
    """outlook.csv in the order given: stage seen, or else reckoned; then the last one seen."""
    rows = (
        (o.lot, o.on, o.seen or o.stage, o.heat, o.need, o.early, o.likely, o.late, o.target, o.days_late, o.chance,
         o.seen or "", o.ahead)
        for o in outlooks
    )  # fmt: skip
    return frame_of(
        (*OUTLOOK_COLUMNS, "seen", "ahead"), rows, day=("on", "early", "likely", "late", "target"),
        whole=("days late",), number=("heat", "need", "chance"),
    )  # fmt: skip


def steer(steering: Steering, unit: TemperatureUnit) -> pd.DataFrame:
    """steer.csv, by place and day: half-open days, temperatures in `unit`."""
    rows = (
        (s.place, s.span.start, s.span.end, *_degrees(unit, s.mean, s.day, s.night))
        for s in sorted(steering.settings, key=lambda s: (s.place, s.span.start))
    )
    return frame_of(STEER_COLUMNS, rows, day=("from", "to"), number=("mean", "day", "night"))


def moves(steering: Steering) -> pd.DataFrame:
    """moves.csv, by day and lot: moves between benches, into a cooler and out of it again; then the pots."""
    rows = (
        (m.lot, m.place, m.to, m.on, m.pots)
        for m in sorted((*steering.moves, *steering.holds), key=lambda m: (m.on, m.lot, m.to))
    )
    return frame_of((*MOVE_COLUMNS, "pots"), rows, day=("on",), whole=("pots",))


def options(steering: Steering) -> pd.DataFrame:
    """options.csv: ways to go on beside each other, from doing nothing to all that is worth it.

    `within a day`: lots likely to bloom within a day of their targets; `days off`: of likely blooms, mean of all pots.
    """
    rows = (
        (o.name, o.actions, o.turns, len(o.moves) + len(o.left_out), o.held, o.hours, o.within, o.days_off,
         "yes" if o.recommended else "no")
        for o in steering.options
    )  # fmt: skip
    whole = ("actions", "settings", "moves", "holds", "within a day")
    return frame_of(OPTION_COLUMNS, rows, whole=whole, number=("hours", "days off"))


def steered(steering: Steering) -> pd.DataFrame:
    """What steering changes, a row a lot under its name: likely bloom without and with it, and what could be reached.

    `soonest`, `latest`: bloom at the warmest and at the coolest it may have from now on, alone.
    """
    rows = (
        (o.lot, o.pots, o.target, o.before.likely, o.after.likely, o.soonest, o.latest, o.off_before, o.off_after)
        for o in steering.lots
    )  # fmt: skip
    days, off = ("target", "before", "after", "soonest", "latest"), ("days_off_before", "days_off_after")
    made = frame_of(("lot", "pots", *days, *off), rows, day=days, whole=("pots", *off))
    return made.set_index("lot")


_REVIEW_WHOLE = (
    "pots", "potted pots", "lost pots", *(f"{event} days late" for event in EVENTS),
    *(f"days late by {part}" for part in PARTS),
)  # fmt: skip


def review(looked_back: Review) -> pd.DataFrame:
    """review.csv, lots in season order. What is not logged is missing."""
    dated = tuple(f"{event} {what}" for event in EVENTS for what in ("planned", "actual"))
    columns = (
        "lot", "crop", "class", "cultivar", "pots", "potted pots", "lost pots", "target",
        *(f"{event} {what}" for event in EVENTS for what in ("planned", "actual", "days late")),
        *(f"days late by {part}" for part in PARTS),
        "cold planned", "cold credited", "need planned", "need predicted", "need seen", "need ratio", "basis",
        "life predicted", "life seen", "notes",
    )  # fmt: skip
    return frame_of(
        columns,
        map(_reviewed, looked_back.lots),
        day=("target", *dated),
        whole=_REVIEW_WHOLE,
        number=REVIEW_DIGITS,
    )


def _reviewed(lot: LotReview) -> tuple[Any, ...]:
    of = lot.lot
    days = ((lot.planned.get(e), lot.actual.get(e), lot.days_late(e)) for e in EVENTS)
    return (
        of.name, of.crop, of.bloom_class or "", of.cultivar or "", of.pots or None, lot.potted, lot.lost, lot.target,
        *(value for three in days for value in three), *(lot.parts.get(part) for part in PARTS),
        lot.cold_planned, lot.cold_credited, lot.need_planned, lot.need_predicted, lot.need_seen, lot.factor,
        lot.basis or "", lot.life_predicted, lot.life_seen, "; ".join(lot.notes),
    )  # fmt: skip


_TEMPERATURES = {name for name, unit in {**COMPANION_UNITS, **UNITS}.items() if unit == "°C"}


def crops(rows: Iterable[Override], unit: TemperatureUnit) -> pd.DataFrame:
    """The `crops` table of a season, as next-crops.csv has it: temperatures in `unit`, figures may be words."""
    return frame_of(CROPS_COLUMNS, (_crops_row(row, unit) for row in rows))


def _crops_row(row: Override, unit: TemperatureUnit) -> tuple[Any, ...]:
    def stated(value: float | str | None) -> float | str | None:
        warm = row.parameter in _TEMPERATURES and isinstance(value, float | int)
        return from_celsius(float(value), unit) if warm and value is not None else value

    values = (stated(value) for value in (row.typical, row.low, row.high))
    return (row.crop, row.bloom_class or "", row.cultivar or "", row.parameter, *values, row.source)


_WHY_COLUMNS = (
    "week", "step", "place", "start", "end", "mean", "measured", "cold", "cold_so_far", "heat", "heat_so_far", "need",
    "left",
)  # fmt: skip


def why(weeks: Sequence[LotWeek], need: float, unit: TemperatureUnit) -> pd.DataFrame:
    """The weeks of one lot: mean temperature in `unit`, cold in weeks, heat in °C·d, need and what is left of it.

    `measured`: days whose temperature was read, and not assumed. `start` and `end` are half-open.
    """
    rows = (
        (
            iso_week(w.span.start), w.step, w.place, w.span.start, w.span.end,
            None if w.mean is None else _degrees(unit, w.mean)[0], w.measured, w.cold, w.cold_so_far, w.heat,
            w.heat_so_far, need, None if w.heat_so_far is None else max(0.0, need - w.heat_so_far),
        )
        for w in weeks
    )  # fmt: skip
    return frame_of(
        _WHY_COLUMNS, rows, day=("start", "end"), whole=("measured",),
        number=("mean", "cold", "cold_so_far", "heat", "heat_so_far", "need", "left"),
    )  # fmt: skip


_FIGURE_COLUMNS = ("parameter", "typical", "low", "high", "unit", "basis", "source", "locator")


def figures(recipe: Recipe, unit: TemperatureUnit) -> pd.DataFrame:
    """Every number of a recipe with where it comes from: temperatures in `unit`, all else in the unit beside it."""
    return frame_of(_FIGURE_COLUMNS, (_figure_row(name, f, unit) for name, f in recipe.figures.items()))


def _figure_row(name: str, figure: Figure, unit: TemperatureUnit) -> tuple[Any, ...]:
    warm = figure.unit == "°C"
    values = (
        _degrees(unit, v)[0] if warm and isinstance(v, float | int) else v
        for v in (figure.typical, figure.low, figure.high)
    )
    return (name, *values, f"°{unit}" if warm else figure.unit, figure.basis, figure.source, figure.locator)
