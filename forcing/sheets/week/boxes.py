"""What stands below the tasks of the printed sheet: cautions, temperatures to read, lines to write on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import chain, pairwise
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.platypus import Table, TableStyle

from forcing.sheets.style import INK, QUIET, RULE, TINT, short_date
from forcing.sheets.week.facts import WeekFacts
from forcing.sheets.week.parts import STANDING, Look, NumberDisc, Ruled, safe
from forcing.sheets.week.tables import COMMON, beside


def caution_table(cautions: Sequence[tuple[str, str]], look: Look) -> Any:
    """Each hazard once, numbered as in the rows, in as many columns as take the least of the page."""
    tables = [_caution_columns(cautions, look, n) for n in range(1, min(3, len(cautions)) + 1)]
    return min(tables, key=lambda table: table.wrap(look.width, look.mm(1000))[1])


def _caution_columns(cautions: Sequence[tuple[str, str]], look: Look, columns: int) -> Any:
    cells: list[list[Any]] = []
    for number, (_, text) in enumerate(cautions, start=1):
        lead, colon, rest = safe(text).partition(":")
        words = f"<b>{lead}{colon}</b>{rest}" if colon else lead
        cells.append([NumberDisc(number, look.mm(4.6)), look.text(words, 9)])
    cells += [["", ""]] * (-len(cells) % columns)
    rows = [list(chain(*cells[i : i + columns])) for i in range(0, len(cells), columns)]
    disc = look.mm(7.5)
    style = [
        *COMMON,
        ("BOX", (0, 0), (-1, -1), 1.2, HexColor(INK)),
        ("TOPPADDING", (0, 0), (-1, -1), look.mm(1.2)),
        ("BOTTOMPADDING", (0, 0), (-1, -1), look.mm(1.2)),
        *(("LEFTPADDING", (2 * i, 0), (2 * i, -1), look.mm(1.8)) for i in range(columns)),
        *(("RIGHTPADDING", (2 * i + 1, 0), (2 * i + 1, -1), look.mm(2)) for i in range(columns)),
    ]
    return Table(rows, colWidths=[disc, look.width / columns - disc] * columns, style=TableStyle(style))


def room_table(facts: WeekFacts, look: Look) -> Any:
    """Place and set temperature, then low and high of each day to write in; ▲ marks a day of change."""
    days = list(facts.week)
    name = look.mm(53)
    half = (look.width - name) / (2 * len(days))
    head: list[Any] = [look.text("<b>Temperatures</b>", 9)]
    sub: list[Any] = [look.text(f"set: day / night, °{facts.plan.season.unit}", 7.5, colour=QUIET)]
    for day in days:
        head += [look.text(f"<b>{_day_number(day)}</b>", 9, align="centre"), ""]
        sub += [look.text(word, 7.5, colour=QUIET, align="centre") for word in ("low", "high")]
    rows = [head, sub]
    for room in facts.rooms:
        standing = room.settings[: len(room.settings) - len(room.changes)]  # at most one, held from Monday
        held = "".join(_held(safe(said), look) for said in standing)
        lines = [look.text(f"<b>{safe(room.place)}</b>{held}", 9)]
        lines += [look.text(f"<b>▲ {safe(words)}</b>", 9) for words in room.settings[len(standing) :]]
        row: list[Any] = [lines]
        for day in days:
            row += [look.text("<b>▲</b>", 7.5) if day in room.changes else "", ""]
        rows.append(row)
    return Table(rows, colWidths=[name, *[half] * (2 * len(days))], repeatRows=2,
                 rowHeights=None, style=TableStyle(_room_style(facts, look, days)))  # fmt: skip


def _held(setting: str, look: Look) -> str:
    """A set temperature in figures to be read standing; words ('outdoors') in small."""
    whole = setting.replace(" ", "\u00a0")
    return (
        beside(f"<b>{whole}</b>", look, 11, least=STANDING)
        if any(map(str.isdigit, setting))
        else beside(whole, look, 9, QUIET)
    )


def _room_style(facts: WeekFacts, look: Look, days: list[date]) -> list[Any]:
    style = [
        *COMMON,
        ("TOPPADDING", (0, 0), (-1, 1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, 1), look.mm(0.5)),
        ("TOPPADDING", (0, 2), (-1, -1), look.mm(1.2)),
        ("BOTTOMPADDING", (0, 2), (-1, -1), look.mm(1.6)),
        ("RIGHTPADDING", (0, 0), (0, -1), look.mm(2)),
        ("LEFTPADDING", (1, 2), (-1, -1), look.mm(0.8)),
        ("LINEABOVE", (0, 2), (-1, 2), 0.9, HexColor(INK)),
        ("LINEBELOW", (0, 2), (-1, -1), 0.6, HexColor(QUIET)),
    ]
    for i, day in enumerate(days):
        left = 1 + 2 * i
        style += [
            ("SPAN", (left, 0), (left + 1, 0)),
            ("LINEBEFORE", (left, 0), (left, -1), 0.6, HexColor(QUIET)),
            ("LINEBEFORE", (left + 1, 2), (left + 1, -1), 0.4, HexColor(RULE)),
        ]
        if not facts.plan.season.calendar.works(day):
            style.append(("BACKGROUND", (left, 0), (left + 1, -1), HexColor(TINT)))
    style.append(("LINEAFTER", (-1, 0), (-1, -1), 0.6, HexColor(QUIET)))
    return style


_LOG = (
    (0.0, "day"),
    (0.1, "lot or place"),
    (0.3, "event, stage or count"),
    (0.56, "pots"),
    (0.65, "note"),
    (0.9, "who"),
)


def write_in(look: Look) -> list[Any]:
    """Lines to write counts, stages and notes on, in the columns of the season's log."""
    edges = [edge for edge, _ in _LOG]
    widths = [look.width * (after - edge) for edge, after in pairwise((*edges, 1.0))]
    pad = look.mm(1)
    names = Table([[look.text(name, 7.5, colour=QUIET) for _, name in _LOG]], colWidths=widths)
    names.setStyle(TableStyle([
        *COMMON, ("LEFTPADDING", (1, 0), (-1, 0), pad), ("TOPPADDING", (0, 0), (-1, 0), pad),
        ("BOTTOMPADDING", (0, 0), (-1, 0), 0),
    ]))  # fmt: skip
    lead = "<b>Counts and notes</b>  What is written here goes into the log."
    return [look.text(lead, 9.5), names, Ruled(look.mm(8), 2, 14, edges)]


def _day_number(day: date) -> str:
    return short_date(day).rsplit(maxsplit=1)[0]
