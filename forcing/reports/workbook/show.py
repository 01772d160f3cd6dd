"""The sheets `Companions`, `Bloom cover` and `Frost nights`: what a season has beside its lots."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from forcing.dates import iso_week
from forcing.engine.companions import CompanionPlan
from forcing.engine.extras import SeasonExtras
from forcing.engine.frost import FrostNight, NightChance
from forcing.engine.show.cover import Cover
from forcing.model import Companion, Plan
from forcing.reports.style import ALERT, QUIET, TINT
from forcing.reports.workbook.cells import DAY_LOOK, NONE, NOTE, NUMBER, TENTH, TEXT, Look, Pen, Value
from forcing.reports.workbook.table import (
    Column,
    Marked,
    as_needed,
    filtered,
    headed,
    set_up_page,
    table_room,
    write_table,
)
from forcing.science.frost import LEAF_MARGIN
from forcing.units import from_celsius

CONTENTS = (
    ("Companions", "a row a companion: every date from ordering the seed to setting out"),
    ("Bloom cover", "each display day by day: the share in bloom to be expected, and the thin days"),
    ("Frost nights", "the evenings on which a display needs its cover, or may need it"),
)
_TOP = 3
_Row = tuple[Value | Marked, ...]
_SHARE = NUMBER.but(number="0.0%")
_ALARM = TEXT.but(bold=True, ink=ALERT)
_SURE_TO_TELL = 1e-9  # as the engine: a share this little below the wanted one is not thin


# ---------------------------------------------------------------- companions

_COMPANIONS = (
    Column("Companion", TEXT.but(bold=True), most=100),
    Column("Crop", most=80),
    Column("Pots", NUMBER),
    Column("Order seed", DAY_LOOK),
    Column("Sow", DAY_LOOK),
    Column("Transplant", DAY_LOOK),
    Column("Pinch", DAY_LOOK),
    Column("Grown at", most=80),
    Column("Harden off", DAY_LOOK),
    Column("Hardened at", most=80),
    Column("Finished", DAY_LOOK),
    Column("Set out", DAY_LOOK),
    Column("Wanted", DAY_LOOK),
    Column("Shown at", most=90),
)


def write_companions(pen: Pen, sheet: Any, plan: Plan, beside: SeasonExtras) -> None:
    """The sheet `Companions`, in the order of the season's own table."""
    headed(
        pen, sheet, "Companions",
        "What is grown beside the bulbs, counted back from the day it is wanted. "
        "Finished: when the typical pot has had its growth.",
    )  # fmt: skip
    planned = {grown.companion.name: grown for grown in beside.companions}
    rows = [
        _grown_cells(planned[c.name]) if c.name in planned else _not_grown(c) for c in plan.season.companions
    ]
    after = write_table(pen, sheet, _TOP, _COMPANIONS, rows, table_room(plan.season.paper))
    _finish(pen, sheet, plan, len(_COMPANIONS), after, bool(rows), "No companion is stated in this season.")


def _grown_cells(grown: CompanionPlan) -> _Row:
    shown = ", ".join(dict.fromkeys(s.place for s in grown.steps if s.step == "show" and s.place))
    return (
        grown.companion.name, grown.companion.crop, as_needed(grown.companion.pots, NUMBER), grown.order,
        grown.sow, grown.transplant, grown.pinch or Marked("not pinched", NONE), grown.place, grown.harden,
        grown.harden_at, grown.finish or Marked("not known", NONE), grown.set_out, grown.ready,
        shown or Marked("no display", NONE),
    )  # fmt: skip


def _not_grown(companion: Companion) -> _Row:
    dates = (None,) * (len(_COMPANIONS) - 5)
    why = Marked("▲ not planned: see the sheet Notices", _ALARM)
    wanted: Value | Marked = companion.ready or Marked("not stated", NONE)
    return (companion.name, companion.crop, companion.pots or None, *dates, wanted, why)


# ---------------------------------------------------------------- bloom cover

_COVER = (
    Column("Display", TEXT.but(bold=True), most=150),
    Column("Date", DAY_LOOK),
    Column("Week", TEXT.but(wrap=False)),
    Column("Pots standing", NUMBER),
    Column("In bloom, expected", _SHARE),
    Column("Wanted", _SHARE),
    Column("Chance of enough", _SHARE),
    Column("Thin days", TEXT.but(wrap=False)),
)


def write_bloom_cover(pen: Pen, sheet: Any, plan: Plan, beside: SeasonExtras) -> None:
    """The sheet `Bloom cover`: display × day, thin days with ▲, in words and hatched."""
    headed(
        pen, sheet, "Bloom cover",
        "Share of the pots in each display that is expected in bloom. ▲ thin: less than wanted, or enough is "
        "less likely than not.",
    )  # fmt: skip
    covers = beside.show.covers
    rows = [row for cover in covers for row in _cover_cells(cover)]
    after = write_table(pen, sheet, _TOP, _COVER, rows)
    _finish(pen, sheet, plan, len(_COVER), after, bool(rows), "No display is open on any day of this season.")
    row = after + 1
    for cover in covers:
        if cover.unknown:
            said = f"{cover.display}: not counted, as not planned: {', '.join(cover.unknown)}"
            pen.put(sheet, row, 1, said, NOTE)
            row += 1


def _cover_cells(cover: Cover) -> Iterator[_Row]:
    days = zip(cover.span, cover.standing, cover.share, cover.chance, cover.thin, strict=True)
    for day, standing, share, chance, thin in days:
        look = (
            _SHARE.but(bold=True, fill=QUIET, pattern="lightUp", ground=TINT)
            if thin and share is not None
            else _SHARE
        )
        yield (
            cover.display, day, iso_week(day), standing, _part(share, look), cover.wanted, _part(chance, _SHARE),
            Marked(f"▲ {_why(cover, share)}", _ALARM.but(wrap=False)) if thin else "",
        )  # fmt: skip


def _part(value: float | None, look: Look) -> Marked:
    return Marked("none", NONE.but(align="right")) if value is None else Marked(round(value, 4), look)


def _why(cover: Cover, share: float | None) -> str:
    if share is None:
        return "nothing stands there"
    if share < cover.wanted - _SURE_TO_TELL:
        return "less than wanted"
    return "enough less likely than not"


# ---------------------------------------------------------------- frost nights


def write_frost_nights(pen: Pen, sheet: Any, plan: Plan, beside: SeasonExtras) -> None:
    """The sheet `Frost nights`: nights with a forecast that asks for the cover, and the chance of the others."""
    unit = plan.season.unit
    headed(
        pen, sheet, "Frost nights",
        "Forecast: cover on that evening. Former years: how often such a night came at that time of year. "
        "Look at the day's own forecast in any case.",
    )  # fmt: skip
    columns = (
        Column("Evening", DAY_LOOK),
        Column("Display", TEXT.but(bold=True), most=130),
        Column("What to do", TEXT, most=110),
        Column("Rests on", TEXT, most=80),
        Column(f"Low ahead °{unit}", TENTH.but(number="0.0")),
        Column(f"Cover at or below °{unit}", TENTH.but(number="0.0")),
        Column("Tenderest there", TEXT, most=110),
        Column(f"It stands °{unit}", TENTH.but(number="0.0")),
        Column("Chance that night", _SHARE),
        Column("Chance then or later in spring", _SHARE),
        Column("Cloth m²", TENTH),
    )
    order = {display.name: i for i, display in enumerate(plan.season.displays)}
    rows = [(n.evening, order.get(n.display, -1), 0, _night_cells(plan, n)) for n in beside.nights]
    rows += [(c.evening, order.get(c.display, -1), 1, _chance_cells(plan, c)) for c in beside.chances]
    cells = [row for *_, row in sorted(rows, key=lambda found: found[:3])]
    after = write_table(pen, sheet, _TOP, columns, cells, table_room(plan.season.paper))
    _finish(pen, sheet, plan, len(columns), after, bool(cells), "No night that asks for a cover is known of.")


def _night_cells(plan: Plan, night: FrostNight) -> _Row:
    unit = plan.season.unit
    margin = LEAF_MARGIN if plan.season.frost_margin is None else plan.season.frost_margin
    said = f"▲ cover {night.containers} container{'' if night.containers == 1 else 's'}"
    if night.holds is False:
        said += "; the cover is not enough: bring the tender pots in"
    tender = f"{night.tenderest}; not known: {', '.join(night.assumed)}" if night.assumed else night.tenderest
    return (
        night.evening, night.display, Marked(said, _ALARM), "forecast", round(from_celsius(night.low, unit), 2),
        round(from_celsius(night.limit + margin, unit), 2), tender, round(from_celsius(night.limit, unit), 2),
        None, None, Marked("not known", NONE) if night.area is None else round(night.area, 2),
    )  # fmt: skip


def _chance_cells(plan: Plan, chance: NightChance) -> _Row:
    unit = plan.season.unit
    years = "1 year" if chance.years == 1 else f"{chance.years} years"
    return (
        chance.evening, chance.display, "", f"{years} before", None,
        round(from_celsius(chance.threshold, unit), 2), chance.tenderest, round(from_celsius(chance.limit, unit), 2),
        *(
            Marked("not known", NONE) if value is None else Marked(round(value, 4), _SHARE)
            for value in (chance.chance, chance.later)
        ),
        None,
    )  # fmt: skip


def _finish(pen: Pen, sheet: Any, plan: Plan, columns: int, after: int, some: bool, none: str) -> None:
    if some:
        filtered(sheet, _TOP, columns, after)
    else:
        pen.put(sheet, after, 1, none, NOTE)
    sheet.freeze_panes = f"A{_TOP + 1}"
    sheet.print_title_rows = f"1:{_TOP}"
    set_up_page(sheet, plan.season.paper, plan.season.title)
