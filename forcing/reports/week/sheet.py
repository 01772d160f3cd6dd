"""The weekly task sheet: one PDF that is handed to staff on Monday, ticked, written on and handed back.

It is read standing up and printed on a black-and-white printer: big boxes, words beside every mark, colour
never alone. ISO 8601 names the week; the file is plain PDF with its fonts embedded and its text copyable.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from io import BytesIO
from math import fsum
from pathlib import Path
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Frame,
    HRFlowable,
    KeepTogether,
    NextPageTemplate,
    PageTemplate,
    Spacer,
    Table,
)

from forcing.dates import DAY, Span, iso_week
from forcing.engine.frost import FrostNight
from forcing.engine.outlook import Outlook
from forcing.errors import merged
from forcing.files import replacing
from forcing.model import Plan
from forcing.reports.draw.days import target_words
from forcing.reports.draw.paper import UPRIGHT
from forcing.reports.draw.pdf import REGULAR, date_file, register_fonts
from forcing.reports.draw.text import letters_note
from forcing.reports.matters import Problem, problem_of
from forcing.reports.style import CLASS_MARKS, INK, QUIET, long_date, short_date
from forcing.reports.task_words import Whose
from forcing.reports.week.facts import (
    WeekFacts,
    gather,
    hours_words,
    opening_words,
    tally,
    week_words,
)
from forcing.reports.week.parts import (
    FOOT,
    SIDE,
    STANDING,
    TOP,
    Later,
    OpenPages,
    PageLook,
    PageMark,
    draw_footer,
    safe,
)
from forcing.reports.week.tables import (
    COMMON,
    beside,
    caution_marks,
    caution_table,
    day_tables,
    label_row,
    lots_column,
    overdue_tables,
    room_table,
    walk_tables,
    write_in,
)
from forcing.text import one_line

# Scales of type and boxes for a sheet that just misses a page less, and what part of a page each may save a page
_CLOSER = ((0.94, 0.06), (0.88, 0.16))
_FEW = 6  # pages of a sheet, of which setting it closer may save one
_MOST_FINDINGS, _MOST_CHANGES = 6, 15
_FINDING = 1200  # characters: what to do stands at the end of a finding and must not be cut off


@dataclass(slots=True)
class _Came:
    """What a layout came to: pages, the one that has the cautions, and how full the last is before its empty lines."""

    pages: int = 1
    cautions: int = 1
    filled: float = 0.0


def write_week(
    plan: Plan,
    week: Span,
    folder: Path,
    *,
    created: datetime,
    outlooks: Sequence[Outlook] = (),
    before: Plan | None = None,
    changes: Sequence[str] = (),
    nights: Sequence[FrostNight] = (),
) -> Path:
    """Write the task sheet of one ISO week as `week-2026-W45.pdf` in `folder` and return its path.

    `created` goes into the file's own dates, so that the same plan gives the same bytes. Raises ValueError
    where `week` is not Monday to Monday, OutputError where the file cannot be written.
    """
    facts = gather(plan, week, outlooks, before, changes, nights)
    path = folder / f"week-{iso_week(week.start)}.pdf"
    content = _print(facts, created)
    with replacing(path) as temporary:
        temporary.write_bytes(content)
    return path


def _print(facts: WeekFacts, created: datetime) -> bytes:
    """The sheet at its full size; set closer where that saves one of a few pages."""
    register_fonts()
    full, content = _lay_out(facts, 1.0, created)
    others = full.pages - 1
    for scale, saves in _CLOSER if 1 <= others < _FEW else ():
        if full.filled <= saves * others:
            closer, printed = _lay_out(facts, scale, created)
            if closer.pages <= others:
                return printed
    return content


def _lay_out(facts: WeekFacts, scale: float, created: datetime) -> tuple[_Came, bytes]:
    season, file = facts.plan.season, BytesIO()
    width, height = UPRIGHT[season.paper]
    look = PageLook(width - 2 * SIDE, scale, lots_column(facts))
    came = _Came()
    name = f"{one_line(season.title)} · {iso_week(facts.week.start)}"

    def on_page(canvas: Any, document: Any) -> None:
        date_file(canvas, created)
        number = came.pages = canvas.getPageNumber()
        seen = f"plan of {long_date(facts.plan.on)}"
        canvas.at_end(lambda: draw_footer(canvas, width, name, f"{seen}   page {number} of {came.pages}"))

    def on_work_page(canvas: Any, document: Any) -> None:
        on_page(canvas, document)
        labels = label_row(look)
        _, tall = labels.wrapOn(canvas, look.width, height)
        labels.drawOn(canvas, SIDE, height - TOP - tall)

    def frame(top: float) -> Frame:
        return Frame(SIDE, FOOT, look.width, height - top - FOOT, 0, 0, 0, 0)

    document = BaseDocTemplate(
        file,
        pagesize=(width, height),
        pageTemplates=[
            PageTemplate("plain", [frame(TOP)], onPage=on_page),
            PageTemplate("work", [frame(TOP + look.mm(5))], onPage=on_work_page),
        ],
        title=f"Task sheet {iso_week(facts.week.start)}: {one_line(season.title)}",
        author="forcing",
        subject=f"Tasks for {week_words(facts.week)}",
        creator="forcing",
        lang="en-GB",
        displayDocTitle=True,
        initialFontName=REGULAR,
        invariant=1,
    )
    document.build(_story(facts, look, came), canvasmaker=OpenPages)
    return came, file.getvalue()


# ---------------------------------------------------------------- from top to bottom


def _story(facts: WeekFacts, look: PageLook, came: _Came) -> list[Any]:
    story = [
        *_header(facts, look),
        *_frost_call(facts, look),
        *_summary(facts, look),
        *_first(facts, look),
        *_cautions_ahead(facts, look, came),
    ]
    story += _block("Daily round", facts.round, look)
    looks = [f"{work[:1].upper()}{work[1:]}: {text}" for work, text in facts.often.items()]
    story += _block("What to do and look for, wherever it is not said", looks, look, columns=2)
    story += _block("Log not kept: log what was done", facts.unkept, look, columns=2)
    if facts.days or facts.overdue:
        # A further page of tasks says at its top what the columns are.
        story.append(NextPageTemplate("work"))
        labels = [Spacer(0, look.mm(0.8)), label_row(look)]
        tables = [*labels, *overdue_tables(facts, look)] if facts.overdue else []
        tables += walk_tables(facts, look) if facts.walks else []
        story += tables if facts.overdue else [*tables, *labels]
    for day in facts.days:
        story += day_tables(facts, day, look)
    story += [NextPageTemplate("plain"), *_after_tasks(facts, look)]
    if facts.cautions:
        lead = "<b>Cautions</b>  Labels, local codes and the house's own rules come first."
        mark = PageMark(lambda page, _: setattr(came, "cautions", page))
        box = [look.text(lead, 9), Spacer(0, look.mm(0.8)), caution_table(facts.cautions, look)]
        story.append(KeepTogether([Spacer(0, look.mm(2.5)), mark, *box]))
    if facts.rooms:
        story.append(KeepTogether([Spacer(0, look.mm(2.5)), room_table(facts, look)]))
    story += _ahead(facts, look)
    story += [*_findings(facts, look), Spacer(0, look.mm(2.5)), CondPageBreak(look.mm(25))]
    rows = UPRIGHT[facts.plan.season.paper][1] - TOP - FOOT
    story.append(PageMark(lambda _, y: setattr(came, "filled", 1 - (y - FOOT) / rows)))
    return [*story, *write_in(look)]


def _header(facts: WeekFacts, look: PageLook) -> list[Any]:
    number = facts.week.start.isocalendar().week
    plan, monday = facts.plan, facts.week.start
    big, meaning = (
        opening_words(plan.season.span, monday) if plan.season.has_show else target_words(plan, monday)
    )
    dates = f"<font size='{12.5 * look.scale}'>{week_words(facts.week)}</font>"
    left = [look.text(safe(facts.plan.season.title), 11), Spacer(0, look.mm(1.4)),
            look.text(f"<b>Week {number}</b> {dates}", 27)]  # fmt: skip
    right = [look.text(f"<b>{big}</b>", 27, align="right"), Spacer(0, look.mm(1)),
             look.text(meaning.replace(": ", "<br/>"), 9, align="right")]  # fmt: skip
    table = Table([[left, right]], colWidths=[look.width * 0.71, look.width * 0.29])
    table.setStyle([
        *((f"{side}PADDING", (0, 0), (-1, -1), 0) for side in ("LEFT", "RIGHT", "TOP")),
        ("FONTNAME", (0, 0), (-1, -1), REGULAR),
        ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
        ("BOTTOMPADDING", (0, 0), (-1, -1), look.mm(2.2)),
    ])  # fmt: skip
    rule = HRFlowable(
        width="100%", thickness=2.4, color=HexColor(INK), spaceBefore=0, spaceAfter=look.mm(1.4)
    )
    return [table, rule]


def _frost_call(facts: WeekFacts, look: PageLook) -> list[Any]:
    """The strip under the title, in a thick frame; its instructions stand here and nowhere else."""
    if not facts.frost:
        return []
    marks = caution_marks(facts, {key for task in facts.covering for key in task.cautions})
    lines = [
        look.text(f"<b>FROST CALL</b>{beside(marks, look, 9)}", 11),
        *(look.text(safe(line, _FINDING), 11, least=STANDING) for _, line in facts.frost),
    ]
    table = Table([[[*lines, look.text(safe(facts.frost_work, _FINDING), 9)]]], colWidths=[look.width])
    table.setStyle([
        ("BOX", (0, 0), (-1, -1), 1.8, HexColor(INK)), ("FONTNAME", (0, 0), (-1, -1), REGULAR),
        *((f"{side}PADDING", (0, 0), (-1, -1), look.mm(1.6)) for side in ("LEFT", "RIGHT", "TOP", "BOTTOM")),
    ])  # fmt: skip
    return [table, Spacer(0, look.mm(1.6))]


def _first(facts: WeekFacts, look: PageLook) -> list[Any]:
    """What matters first, and what to do about it."""
    if not facts.first:
        return []
    said = [look.text(f"<b>{i}.  {safe(p.what, _FINDING)}.</b> {safe(p.do, _FINDING)}", 9.5)
            for i, p in enumerate(facts.first, start=1)]  # fmt: skip
    return [look.text("<b>What matters first</b>", 11), *said, Spacer(0, look.mm(1.6))]


def _summary(facts: WeekFacts, look: PageLook) -> list[Any]:
    """What the week's work is and when the house is closed, then what it comes to in hours."""
    limit, work = facts.plan.season.hours_per_week, facts.work
    said = f"{work.words()} – {tally(facts.tasks)}" if work.tasks else "nothing planned"
    lines = [look.text(f"<b>This week: {safe(said, _FINDING)}</b>", 11)]
    if facts.coming:
        lines.append(look.text(safe(facts.coming), 11))
    words = [f"<b>house closed: {_run(facts.shut)}</b>"] if facts.shut else []
    frost = fsum(task.hours for task in facts.covering)
    hours = work.hours + facts.round_hours + frost
    if frost:
        words.append(f"frost call: {hours_words(frost)}")
    if facts.round_hours:
        words.append(f"daily round: {hours_words(facts.round_hours)}")
    if facts.overdue:
        hours += facts.late.hours
        words.append(f"overdue: {facts.late.words()}")
    if limit is not None and hours:
        over = f", <b>{hours_words(hours - limit)} over</b>" if hours > limit + 0.05 else ""
        over = over.replace(" h ", "\u00a0h\u00a0")
        words.append(f"staff hours: {hours:,.1f} of {limit:,.1f}{over}")
    return [*lines, *([look.text("   |   ".join(words), 10)] if words else []), Spacer(0, look.mm(1.2))]


def _run(days: Sequence[date]) -> str:
    """'Thu 24 Dec, Mon 28 Dec – Fri 1 Jan': days on end as one."""
    runs: list[list[date]] = []
    for day in days:
        if runs and day - runs[-1][-1] == DAY:
            runs[-1].append(day)
        else:
            runs.append([day])
    return ", ".join(" – ".join(map(short_date, dict.fromkeys((run[0], run[-1])))) for run in runs)


def _cautions_ahead(facts: WeekFacts, look: PageLook, came: _Came) -> list[Any]:
    """The hazards of the sheet and where its cautions are, before the first task."""
    if not facts.cautions:
        return []
    keys = " · ".join(f"{i} {safe(key)}" for i, (key, _) in enumerate(facts.cautions, start=1))

    def cautions(where: str) -> Any:
        return look.text(f"<b>⚠ {keys}</b> – read the cautions {where} before you start.", 10)

    def found() -> Any:
        return cautions("below" if came.cautions == 1 else f"on page {came.cautions}")

    return [Later(cautions("on page 88"), found)]


def _after_tasks(facts: WeekFacts, look: PageLook) -> list[Any]:
    if not facts.days:
        return []  # the head of the sheet says so
    works = facts.plan.season.calendar.works
    busy = {day.day for day in facts.days}
    free = [short_date(day) for day in facts.week if works(day) and day not in busy]
    shut = [short_date(day) for day in facts.week if not works(day)]
    letters = ", ".join(f"{mark.letter} {name}" for name, mark in CLASS_MARKS.items() if name)
    words = [f"Class: {letters}."]
    words += [f"Nothing planned: {', '.join(free)}."] if free else []
    words += [f"Not working days: {', '.join(shut)}."] if shut else []
    cultivars = (facts.whose.get(lot, Whose()).cultivar or "" for lot in facts.lots)
    note = letters_note((facts.plan.season.title, *facts.lots, *cultivars))
    words += [note] if note else []
    return [Spacer(0, look.mm(1.2)), look.text("  ".join(words), 8, colour=QUIET)]


def _ahead(facts: WeekFacts, look: PageLook) -> list[Any]:
    story = [*_block("Next two weeks", facts.ahead, look)]
    changed = list(facts.changed[:_MOST_CHANGES])
    if len(facts.changed) > len(changed):
        changed.append(f"… and {len(facts.changed) - len(changed)} more")
    since = "a week ago" if facts.agreed is None else f"the plan was agreed on {short_date(facts.agreed)}"
    story += _block(f"Changed since {since}", changed, look, columns=2 if facts.agreed is None else 1)
    lead = "Look at these closely and log what you see (8 chances in 10 that they bloom within these days)"
    return [*story, *_block(lead, facts.closer, look, columns=2)]


def _block(heading: str, lines: Sequence[str], look: PageLook, *, columns: int = 1) -> list[Any]:
    """A heading and what stands below it, line by line, down the columns; nothing where there is no line."""
    if not lines:
        return []
    said = [look.text(safe(line), 9) for line in lines]
    head = [Spacer(0, look.mm(2.5)), look.text(f"<b>{heading}</b>", 9.5)]
    if columns == 1 or len(said) == 1:
        return [KeepTogether([*head, *said])]
    rows = -(-len(said) // columns)
    cells = [[said[c * rows : (c + 1) * rows] for c in range(columns)]]
    table = Table(cells, colWidths=[look.width / columns] * columns)
    table.setStyle([
        *COMMON, ("RIGHTPADDING", (0, 0), (-1, -1), look.mm(2)), ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
    ])  # fmt: skip
    return [KeepTogether([*head, table])]


def _told_by(problem: Problem, first: Problem) -> bool:
    """Whether it says nothing that the other does not say: of this week alone one event may name fewer lots."""
    return problem == first or (
        problem.code == first.code and bool(problem.lots) and set(problem.lots) <= set(first.lots)
    )


def _findings(facts: WeekFacts, look: PageLook) -> list[Any]:
    """What else is to be put right, findings of one cause told once."""
    found = [problem_of(finding, facts.plan) for finding in merged(facts.findings)]
    found = [p for p in found if p.kind != "note" and not any(_told_by(p, first) for first in facts.first)]
    if not found:
        return []
    lines = [
        look.text(f"<b>{p.severity}</b> {safe(f'{p.what}. {p.do}', _FINDING)}", 9)
        for p in found[:_MOST_FINDINGS]
    ]
    if len(found) > _MOST_FINDINGS:
        lines.append(look.text(f"… and {len(found) - _MOST_FINDINGS} more in findings.csv", 9))
    return [KeepTogether([Spacer(0, look.mm(2.5)), look.text("<b>To be put right</b>", 9.5), *lines])]
