"""The front page: what this is, whether anything is wrong, and what it was made from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from openpyxl.chart import BarChart, LineChart, Reference
from openpyxl.chart.series import SeriesLabel
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.chart.text import RichText, Text
from openpyxl.chart.title import Title
from openpyxl.drawing.line import LineProperties
from openpyxl.drawing.text import (
    CharacterProperties,
    Paragraph,
    ParagraphProperties,
    RegularTextRun,
    RichTextProperties,
)
from openpyxl.drawing.text import Font as DrawingFont
from openpyxl.worksheet.hyperlink import Hyperlink

from forcing.dates import DAY, WEEKDAYS, Span
from forcing.engine.frost import FrostNight
from forcing.errors import SEVERITIES, merged, sort_findings
from forcing.model import LATER, OPENING, Plan, Season
from forcing.reports import frames
from forcing.reports.draw.days import shown_words
from forcing.reports.frames import rows_of
from forcing.reports.matters import Matters, matters, problem_of
from forcing.reports.style import ALERT, INK, RULE, long_date
from forcing.reports.workbook.cells import (
    DAY_LOOK,
    HEAD,
    NOTE,
    NUMBER,
    PLAIN,
    SECTION,
    TEXT,
    TITLE,
    Look,
    Pen,
    Value,
    height,
    lines,
    points,
    span,
)
from forcing.reports.workbook.lists import ALL, FULLEST, LIMIT, TOP, known
from forcing.reports.workbook.table import Marked, set_up_page
from forcing.text import number, some
from forcing.xlsx import FONT

SAFETY = (
    "Reminders only. Labels, local codes, the house's own safety rules and licensed practice come before "
    "anything in this file. The cautions of each task are on the sheet Tasks."
)
# Column widths of the page: the table of lots without a plan sets them, the rest fits in.
WIDTHS = (22.0, 11.0, 15.0, 6.0, 17.0, 31.0, 17.0)
_WIDE = sum(WIDTHS[1:])
_MOST_ERRORS = _MOST_LOST = 6  # told in full: the page is to be taken in at a glance
_ALARM = Look(bold=True, size=12, ink=ALERT)
_GOOD = Look(bold=True, size=12)
_LABEL = Look(bold=True)
_FLOWING = Look(wrap=True)


@dataclass(slots=True)
class _Down:
    """Writes down the page, one row after another."""

    pen: Pen
    sheet: Any
    row: int = 1

    def line(self, text: str, look: Look = PLAIN) -> None:
        """A line over the whole width, wrapped where it is long."""
        self._across(1, text, look, sum(WIDTHS))
        self.row += 1

    def fact(self, label: str, value: Value) -> None:
        self.pen.put(self.sheet, self.row, 1, label, _LABEL)
        self.sheet.row_dimensions[self.row].height = height(1)
        if isinstance(value, str):
            self._across(2, value, _FLOWING, _WIDE)
        else:
            look = NUMBER.but(edge="", align="left") if isinstance(value, int) else DAY_LOOK.but(edge="")
            self.pen.put(self.sheet, self.row, 2, value, look)
            span(self.sheet, self.row, 2, 3)
        self.row += 1

    def section(self, text: str) -> None:
        self.row += 1
        self.pen.put(self.sheet, self.row, 1, text, SECTION)
        self.sheet.row_dimensions[self.row].height = height(1, SECTION.size) + 3
        self.row += 1

    def cells(self, values: tuple[Value | Marked, ...], look: Look) -> None:
        marked = [v if isinstance(v, Marked) else Marked(v, look) for v in values]
        for column, cell in enumerate(marked, 1):
            self.pen.put(self.sheet, self.row, column, cell.value, cell.look)
        needed = [
            lines(cell.value, width, cell.look.size, cell.look.bold)
            for cell, width in zip(marked, WIDTHS, strict=False)
            if isinstance(cell.value, str) and cell.look.wrap
        ]
        self.sheet.row_dimensions[self.row].height = height(max(needed, default=1))
        self.row += 1

    def link(self, name: str, what: str) -> None:
        """The name of another sheet, which leads there, and what is on it."""
        self.fact(name, what)
        cell = self.pen.put(self.sheet, self.row - 1, 1, name, Look(link=True))
        cell.hyperlink = Hyperlink(ref=cell.coordinate, location=f"'{name}'!A1", display=name)

    def _across(self, first: int, text: str, look: Look, width: float) -> None:
        self.pen.put(self.sheet, self.row, first, text, look.but(wrap=True))
        span(self.sheet, self.row, first, len(WIDTHS))
        count_ = lines(text, width, look.size, look.bold)
        self.sheet.row_dimensions[self.row].height = height(count_, look.size)


def write_front(
    pen: Pen, sheet: Any, plan: Plan, contents: Iterable[tuple[str, str]], source: str = "",
    nights: Sequence[FrostNight] = (), chart: BarChart | None = None,
) -> None:  # fmt: skip
    """The sheet `Season`; `contents`: the name of each other sheet and what is on it; `source`: the season's file.

    `chart` stands beside the numbers.
    """
    for letter, width in zip("ABCDEFG", WIDTHS, strict=True):
        sheet.column_dimensions[letter].width = width
    page = _Down(pen, sheet)
    show = plan.season.span
    page.line(plan.season.title, TITLE)
    page.line(
        f"Forced for dates: {shown_words(plan)}."
        if not plan.season.has_show
        else f"Open {long_date(show.start)} to {long_date(show.end - DAY)}, {show.days} days."
        if show.days
        else f"Opens {long_date(show.start)}."
    )
    page.line(
        "This file is the forcing plan of the season: what to pot, cool, bring in and set out, when and "
        "where, counted back from the day each lot must be in bloom.",
        NOTE,
    )
    _next(page, matters(plan, nights))
    _verdict(page, plan)
    _unplanned(page, plan)
    _errors(page, plan)
    page.section("In numbers")
    top = page.row
    for label, value in _numbers(plan):
        page.fact(label, value)
    if chart is not None:
        while page.row < top + _CHART_ROWS:
            sheet.row_dimensions[page.row].height = height(1)
            page.row += 1
        chart.height = height(1) * (page.row - top) / _CM
        chart.width = sum(map(points, WIDTHS[3:])) * 0.96 / _CM
        sheet.add_chart(chart, f"D{top}")
    page.section("What it was made from")
    if source:
        page.fact("Season file", source)
    for label, value in _basis(plan):
        page.fact(label, value)
    page.section("What is in this file")
    for name, what in contents:
        page.link(name, what)
    page.section("Safety")
    page.line(SAFETY)
    sheet.sheet_view.showGridLines = False
    set_up_page(sheet, plan.season.paper, plan.season.title, landscape=False)
    sheet.page_setup.fitToHeight = 1


def _next(page: _Down, found: Matters) -> None:
    """What to do next, before anything else."""
    if not found.dates and not found.first:
        return
    page.section("What to do next")
    for problem in found.first:
        page.line(f"{problem.what}. {problem.do}")
    if found.dates:
        page.line(found.dates, _LABEL)


def _verdict(page: _Down, plan: Plan) -> None:
    """Planned or not, and the findings, before anything else."""
    page.row += 1
    total, lost = len(plan.lots) + len(plan.unplanned), len(plan.unplanned)
    if total == 0:
        page.line("▲ There is no lot in this season: nothing to plan.", _ALARM)
    elif lost:
        lots = "lot" if total == 1 else "lots"
        page.line(f"▲ {lost} of {total} {lots} cannot be planned: see below.", _ALARM)
    else:
        page.line("The one lot is planned." if total == 1 else f"All {total} lots are planned.", _GOOD)
    found = Counter(f.severity for f in plan.findings)
    if not found:
        page.line("Nothing was found wrong or risky.", _GOOD)
        return
    words = [some(found[s], s) for s in SEVERITIES if found[s]]
    look = _ALARM if found["error"] else _GOOD
    page.line(f"{'▲ ' if found['error'] else ''}{', '.join(words)}: see the sheet Notices.", look)


def _unplanned(page: _Down, plan: Plan) -> None:
    if not plan.unplanned:
        return
    page.section("Lots that cannot be planned")
    page.cells(("Lot", "Crop", "Cultivar", "Pots", "Wanted in bloom", "Why", "Earliest bloom possible"), HEAD)
    looks = {
        "lot": TEXT.but(bold=True), "crop": TEXT, "cultivar": TEXT, "pots": NUMBER.but(align="left"),
        "target": DAY_LOOK, "reason": TEXT, "earliest": DAY_LOOK.but(bold=True),
    }  # fmt: skip
    for lost in rows_of(frames.unplanned(plan).head(_MOST_LOST)):
        row = known({name: Marked(lost[name], look) for name, look in looks.items()},
                    target="not stated", earliest="not known")  # fmt: skip
        page.cells(tuple(row.values()), TEXT)
    if len(plan.unplanned) > _MOST_LOST:
        page.line(f"and {len(plan.unplanned) - _MOST_LOST} more below the lots on the sheet Key dates.", NOTE)


def _errors(page: _Down, plan: Plan) -> None:
    """The worst findings in full, but for lots that stand above with the reason; the rest are on the sheet Notices."""
    told = {("lots", lost.lot.row) for lost in plan.unplanned if lost.lot.row is not None}
    errors = [
        f
        for f in merged(sort_findings(plan.findings))
        if f.severity == "error" and (f.table, f.row) not in told
    ]
    if not errors:
        return
    page.section("Errors")
    for finding in errors[:_MOST_ERRORS]:
        page.line(f"▲ {problem_of(finding, plan).told}")
    if len(errors) > _MOST_ERRORS:
        page.line(f"and {len(errors) - _MOST_ERRORS} more on the sheet Notices.", NOTE)


def _numbers(plan: Plan) -> Iterator[tuple[str, Value]]:
    yield "Lots planned", len(plan.lots)
    yield "Lots not planned", len(plan.unplanned)
    yield "Pots planned", sum(p.lot.pots for p in plan.lots)
    orders = frames.orders(plan)
    used, need = orders.loc[orders.kind == "bulbs", ["used", "need"]].round().sum().astype(int)
    yield "Bulbs in those pots", int(used)
    if need != used:  # pots counted back from a display have the loss in them already
        yield "Bulbs with the loss", int(need)
    if plan.lots:
        yield "First potting", min(p.potting for p in plan.lots)
        yield "First bring in", min(p.bring_in for p in plan.lots)
        yield "First bloom", min(p.bloom for p in plan.lots)
        yield "Last bloom", max(p.bloom for p in plan.lots)
    yield "Tasks", len(plan.tasks)
    yield "Staff hours", round(sum(t.hours for t in plan.tasks))


# ---------------------------------------------------------------- the chart

_CHART_ROWS, _CM = 14, 72 / 2.54  # rows at least; points in a centimetre
_CHART_TEXT = CharacterProperties(sz=800, b=False, latin=DrawingFont(typeface=FONT))  # hundredths of a point
# What is drawn of each column of the sheet Hours: its name, and dash and width [pt] of a line, told apart in grey.
_DRAWN = {
    ALL: ("Hours of work", "solid", 0.5),
    LIMIT: ("Hours there are", "dash", 1.25),
    FULLEST["cooler"]: (FULLEST["cooler"], "solid", 2.25),
    FULLEST["bench"]: (FULLEST["bench"], "sysDot", 2.0),
}


def hours_chart(hours: Any) -> BarChart | None:
    """Of the sheet `Hours`: the hours of each week as bars, those there are and the fullest places as lines.

    None where there is no work.
    """
    columns = {cell.value: cell.column for cell in hours[TOP]}
    if ALL not in columns:
        return None
    last = hours.max_row - 1  # above the sum of the season

    def drawn(chart: Any, titles: Sequence[str]) -> Any:
        for title in titles:
            cells = Reference(hours, min_col=columns[title], min_row=TOP, max_row=last)
            chart.add_data(cells, titles_from_data=True)
            name, dash, wide = _DRAWN[title]
            chart.series[-1].tx, chart.series[-1].smooth = SeriesLabel(v=name), False
            line = LineProperties(solidFill=INK[1:], prstDash=dash, w=round(12700 * wide))
            chart.series[-1].graphicalProperties = GraphicalProperties(ln=line)
        chart.set_categories(Reference(hours, min_col=1, min_row=TOP + 1, max_row=last))
        return chart

    bars, full = drawn(BarChart(), [ALL]), drawn(LineChart(), list(FULLEST.values()))
    bars.gapWidth, bars.series[0].graphicalProperties.solidFill = 15, RULE[1:]
    _axes(bars, full, last - TOP)
    if LIMIT in columns:
        bars += drawn(LineChart(), [LIMIT])
    bars += full
    return bars


def _axes(bars: Any, full: Any, weeks: int) -> None:
    """Hours at the left, the part of the room at the right, a week's name under every so many weeks."""
    bars.title, bars.legend.position, bars.legend.txPr = None, "b", _chart_text()
    bars.x_axis.tickLblSkip = bars.x_axis.tickMarkSkip = max(1, -(-weeks // 5))
    bars.y_axis.title, full.y_axis.title = _axis_title("hours a week"), _axis_title("of its room")
    bars.y_axis.number_format, full.y_axis.number_format = "0", "0%"
    full.y_axis.axId, full.y_axis.crosses, full.y_axis.majorGridlines = 200, "max", None
    for axis in (bars.y_axis, full.y_axis):
        axis.scaling.min = 0
    for axis in (bars.x_axis, bars.y_axis, full.y_axis):
        axis.delete, axis.txPr = False, _chart_text()
    bars.x_axis.txPr = _chart_text(-45)


def _chart_text(turned: int = 0) -> RichText:
    """Small type that is not bold, `turned` so many degrees."""
    paragraph = Paragraph(pPr=ParagraphProperties(defRPr=_CHART_TEXT), endParaRPr=CharacterProperties())
    return RichText(bodyPr=RichTextProperties(rot=60_000 * turned), p=[paragraph])


def _axis_title(words: str) -> Title:
    run = RegularTextRun(rPr=_CHART_TEXT, t=words)
    return Title(
        tx=Text(rich=RichText(p=[Paragraph(pPr=ParagraphProperties(defRPr=_CHART_TEXT), r=[run])])),
        overlay=False,
    )


def _basis(plan: Plan) -> Iterator[tuple[str, Value]]:
    season = plan.season
    yield "Made on", plan.on
    stated = (
        (len({lot.stated_name for lot in season.lots}) or len(plan.lots) + len(plan.unplanned), "lot"),
        (len(season.places), "place"),
        (len(season.displays), "display"),
        (len(season.companions), "companion"),
        (len(season.setpoints), "setpoint"),
        (len(season.overrides), "house figure"),
    )
    yield "From", ", ".join(some(number, word) for number, word in stated if number) or "nothing stated"
    logged = [entry.date for entry in season.log if entry.date <= plan.on]
    entries = some(len(logged), "entry", "entries")
    yield "Log", entries + _until(logged, len(season.log) - len(logged))
    readings = [r.date for r in season.readings if r.kind == "measured"]
    measured = [day for day in readings if day <= plan.on]
    days = some(len(measured), "measured day") if measured else "none: every temperature is assumed"
    forecast = len(season.readings) - len(readings)
    ahead = f"; {some(forecast, 'day')} of forecast" if forecast else ""
    yield "Temperature readings", days + _until(measured, len(readings) - len(measured)) + ahead
    yield "Temperatures in", f"°{season.unit}"
    yield "Confidence", _confidence(season)
    yield "Working days", _working_days(plan)
    hours = season.hours_per_week
    yield "Hours a week", "no limit stated" if hours is None else f"{number(hours)} hours"
    yield "Bulbs in hand", season.bulbs_in_hand or "whenever wanted (no date stated)"
    yield "Expected loss", f"{season.loss:.1%} of pots" if season.loss else "none stated"


def _until(days: list[date], later: int) -> str:
    """The last of these days, and how many lie after the day of the plan and tell it nothing."""
    last = f", the last on {long_date(max(days))}" if days else ""
    return last + (f"; {later} after the day this was made" if later else "")


def _confidence(season: Season) -> str:
    chance, words = season.confidence, "timed so that a lot is in bloom on its target with that chance"
    if chance is None:
        usual = "for lots that open a display, which are in bloom when they are set out"
        own = sum(season.confidence_of(lot) not in (OPENING, LATER) for lot in season.lots)
        where = f"; {some(own, 'lot')} otherwise, as stated or as an opening asks" if own else ""
        return f"{OPENING:.0%} {usual}; {LATER:.0%} for others{where}"
    if abs(chance - 0.5) < 1e-9:
        words = "dates for the typical pot; as likely a little early as a little late"
    own = sum(season.confidence_of(lot) != chance for lot in season.lots)
    return f"{chance * 100:.3g} %: {words}{_other(own)}"


def _other(lots: int) -> str:
    return f"; another is stated for {some(lots, 'lot')}" if lots else ""


def _working_days(plan: Plan) -> str:
    days = sorted(plan.season.calendar.weekdays)
    runs: list[list[int]] = []
    for day in days:
        if runs and runs[-1][-1] == day - 1:
            runs[-1].append(day)
        else:
            runs.append([day])
    words = [
        f"{WEEKDAYS[run[0]]} to {WEEKDAYS[run[-1]]}" if len(run) > 2 else ", ".join(WEEKDAYS[d] for d in run)
        for run in runs
    ]
    text = "every day" if len(days) == 7 else ", ".join(words)
    span = _whole(plan)
    off = sorted(d for d in plan.season.calendar.holidays if d in span and d.weekday() in days)
    if not off:
        return text
    named = ", ".join(long_date(d) for d in off[:12]) + (" and more" if len(off) > 12 else "")
    return f"{text}, less {some(len(off), 'holiday')}: {named}"


def _whole(plan: Plan) -> Span:
    """From the first potting (or today) to the end of the show."""
    start = min((p.potting for p in plan.lots), default=plan.on)
    end = max(plan.season.span.end, start + timedelta(days=1))
    return Span(min(start, plan.on, end), end)
