"""The sheets `Companions`, `Bloom cover` and `Frost nights`: what a season has beside its lots."""

from __future__ import annotations

from typing import Any

from forcing.dates import iso_week
from forcing.engine.show.show import SeasonExtras
from forcing.model import Plan
from forcing.reports import frames
from forcing.reports.frames import rows_of
from forcing.reports.workbook.cells import DAY_LOOK, NONE, NOTE, NUMBER, TENTH, Look, Pen
from forcing.reports.workbook.lists import ALARM, HATCHED, NAME, SHORT, Columns, Row, known, write_list
from forcing.reports.workbook.table import ListColumn, Marked, as_needed
from forcing.text import some
from forcing.units import order_unit

_SURE_TO_TELL = 1e-9  # as the engine: a share this little below the wanted one is not thin
_SHARE = NUMBER.but(number="0.0%")
_COMPANIONS: Columns = {
    "companion": ListColumn("Companion", NAME, most=100),
    "crop": ListColumn("Crop", most=80),
    "pots": ListColumn("Pots", NUMBER),
    "order": ListColumn("Order seed", DAY_LOOK),
    "sow": ListColumn("Sow", DAY_LOOK),
    "transplant": ListColumn("Transplant", DAY_LOOK),
    "pinch": ListColumn("Pinch", DAY_LOOK),
    "place": ListColumn("Grown at", most=80),
    "harden": ListColumn("Harden off", DAY_LOOK),
    "harden_at": ListColumn("Hardened at", most=80),
    "finish": ListColumn("Finished", DAY_LOOK),
    "set_out": ListColumn("Set out", DAY_LOOK),
    "ready": ListColumn("Wanted", DAY_LOOK),
    "shown": ListColumn("Shown at", most=90),
}


def write_companions(pen: Pen, sheet: Any, plan: Plan, beside: SeasonExtras) -> None:
    """The sheet `Companions`, in the order of the season's own table."""
    words = (
        "Companions",
        "What is grown beside the bulbs, counted back from the day it is wanted. "
        "Finished: when the typical pot has had its growth.",
    )
    rows = [_grown_cells(row) for row in rows_of(frames.companions(plan, beside.companions))]
    write_list(pen, sheet, plan.season, words, _COMPANIONS, rows, "No companion is stated in this season.")


def _grown_cells(row: Row) -> Row:
    if not row["planned"]:
        return known(row, ready="not stated") | {
            "shown": Marked("▲ not planned: see the sheet Notices", ALARM)
        }
    marked = known(row, pinch="not pinched", finish="not known", shown="no display")
    return marked | {"pots": as_needed(row["pots"] or 0, NUMBER)}


# ---------------------------------------------------------------- bloom cover

_COVER: Columns = {
    "display": ListColumn("Display", NAME, most=150),
    "date": ListColumn("Date", DAY_LOOK),
    "week": ListColumn("Week", SHORT),
    "standing": ListColumn("Pots standing", NUMBER),
    "share": ListColumn("In bloom, expected", _SHARE),
    "wanted": ListColumn("Wanted", _SHARE),
    "chance": ListColumn("Chance of enough", _SHARE),
    "thin": ListColumn("Thin days", SHORT),
}


def write_bloom_cover(pen: Pen, sheet: Any, plan: Plan, beside: SeasonExtras) -> None:
    """The sheet `Bloom cover`: display × day, thin days with ▲, in words and hatched."""
    words = (
        "Bloom cover",
        "Share of the pots in each display that is expected in bloom. ▲ thin: less than wanted, or enough is "
        "less likely than not.",
    )
    covers = beside.show.covers
    rows = [_cover_cells(row) for row in rows_of(frames.cover(covers))]
    none = "No display is open on any day of this season."
    row = write_list(pen, sheet, plan.season, words, _COVER, rows, none, fitted=False) + 1
    for cover in covers:
        if cover.unknown:
            said = f"{cover.display}: not counted, as not planned: {', '.join(cover.unknown)}"
            pen.put(sheet, row, 1, said, NOTE)
            row += 1


def _cover_cells(row: dict[str, Any]) -> Row:
    thin = row["thin"]
    why = "nothing stands there" if row["share"] is None else "enough less likely than not"
    if row["share"] is not None and row["share"] < row["wanted"] - _SURE_TO_TELL:
        why = "less than wanted"
    share = _part(row["share"], _SHARE.but(**HATCHED) if thin else _SHARE)
    return row | {
        "week": iso_week(row["date"]), "share": share, "chance": _part(row["chance"]),
        "thin": Marked(f"▲ {why}", ALARM.but(wrap=False)) if thin else "",
    }  # fmt: skip


def _part(value: float | None, look: Look = _SHARE, none: str = "none") -> Marked:
    if value is None:
        return Marked(none, NONE.but(align="right") if none == "none" else NONE)
    return Marked(round(value, 4), look)


# ---------------------------------------------------------------- frost nights


def write_frost_nights(pen: Pen, sheet: Any, plan: Plan, beside: SeasonExtras) -> None:
    """The sheet `Frost nights`: nights with a forecast that asks for the cover, and the chance of the others."""
    unit = plan.season.unit
    words = (
        "Frost nights",
        "Forecast: cover on that evening. Former years: how often such a night came at that time of year. "
        "Look at the day's own forecast in any case.",
    )
    degrees = TENTH.but(number="0.0")
    area, square = order_unit("m²", plan.season.measures)
    columns = {
        "evening": ListColumn("Evening", DAY_LOOK),
        "display": ListColumn("Display or place", NAME, most=130),
        "do": ListColumn("What to do", most=110),
        "rests on": ListColumn("Rests on", most=80),
        "low": ListColumn(f"Low ahead °{unit}", degrees),
        "cover_at": ListColumn(f"Cover at or below °{unit}", degrees),
        "tenderest": ListColumn("Tenderest there", most=110),
        "stands": ListColumn(f"It stands °{unit}", degrees),
        "chance": ListColumn("Chance that night", _SHARE),
        "later": ListColumn("Chance then or later in spring", _SHARE),
        "cloth": ListColumn(f"Cloth {area}", TENTH),
    }
    rows = [_night_cells(row, square) for row in rows_of(frames.frost(plan, beside.nights, beside.chances))]
    none = "No night that asks for a cover is known of."
    write_list(pen, sheet, plan.season, words, columns, rows, none)


def _night_cells(row: dict[str, Any], square: float) -> Row:
    if row["years"] is not None:
        chances = {name: _part(row[name], none="not known") for name in ("chance", "later")}
        told = "last frost" if row["chance"] is None else "normals"
        return (
            row
            | chances
            | {"do": "", "rests on": f"{some(row['years'], 'year')} before" if row["years"] else told}
        )
    said = f"▲ cover {some(row['containers'], 'container')}" if row["containers"] else "▲ close or cover"
    said += f"; {row['answer']}" if row["answer"] else ""
    tender = f"{row['tenderest']}; not known: {row['unknown']}" if row["unknown"] else row["tenderest"]
    cloth = Marked("not known", NONE) if row["cloth"] is None else round(row["cloth"] / square, 2)
    return row | {"do": Marked(said, ALARM), "rests on": "forecast", "tenderest": tender, "cloth": cloth}
