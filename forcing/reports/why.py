"""How one lot's dates came about: in lines for the terminal, and as one page."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.platypus import BaseDocTemplate, Frame, KeepInFrame, PageTemplate, Spacer, Table

from forcing.dates import iso_week
from forcing.engine.why import Case, Cause, LotWeek, Reasons
from forcing.files import replacing
from forcing.model import Figure, LotPlan, Season
from forcing.reports.draw.paper import UPRIGHT
from forcing.reports.draw.pdf import REGULAR, date_file, register_fonts
from forcing.reports.style import QUIET, RULE, lateness_words, short_date
from forcing.reports.week.parts import FOOT, SIDE, TOP, PageLook, draw_footer, safe
from forcing.text import later, listed, one_line, some
from forcing.units import TemperatureUnit, in_degrees, show_difference, show_temperature, told

CASES: dict[Case, str] = {
    "bench cooler": "its bench is {bench} cooler", "bench warmer": "its bench is {bench} warmer",
    "a week later": "it is brought in a week later", "weather colder": "it is {weather} colder outdoors",
    "weather warmer": "it is {weather} warmer outdoors",
}  # fmt: skip
CAUSES: dict[Cause, str] = {
    "cold": "the cold-weeks that room, hours and other lots leave it", "days off": "days on which nobody works",
    "agreed": "what was agreed", "logged": "what was done, as logged", "hours": "the hours of full days and weeks",
}  # fmt: skip
EVENTS = {
    "potted": "pot", "cooler in": "into the cooler", "rooted": "rooted", "brought in": "bring in", "shoots": "shoots",
    "bud": "bud", "colour": "colour", "bloom": "bloom", "set out": "set out", "faded": "faded",
}  # fmt: skip
_SHOWN = (  # the figures that a page has room for: those that its sums rest on, in their order
    "cold_min", "cold_target", "cold_max", "cold_curve", "rooting", "rooting_at", "base", "cap", "reference",
    "bench_days", "bench_days_min", "days_saved", "line_from", "line_to", "spread",
    "display_days", "display_reference", "display_base",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class WhyPage:
    """One lot with its weeks and reasons, as seen from the plan's day."""

    season: Season
    plan: LotPlan
    weeks: tuple[LotWeek, ...]
    reasons: Reasons
    agreed: bool  # whether it was agreed
    changed: tuple[str, ...] = ()  # what is not as it was agreed, and why
    states_cold: bool = False  # whether the season states its cold-weeks

    def degrees(self, celsius: float) -> str:
        """A difference of temperatures in the season's unit."""
        return show_difference(celsius, self.season.unit)


def file_name(lot: str) -> str:
    """The name of a lot's page: letters and digits of the lot's name, other signs as hyphens."""
    plain = re.sub(r"[^\w-]+", "-", one_line(lot), flags=re.UNICODE).strip("-")[:60]
    return f"why-{plain or 'lot'}.pdf"


# ---------------------------------------------------------------- sentences


def sentences(page: WhyPage) -> Iterator[str]:
    """What the page says in words: its days, its need, what moved it, its slack, what if."""
    plan, lot = page.plan, page.plan.lot
    days = ", ".join(f"{EVENTS[event]} {short_date(day)}" for event, day in plan.days.items())
    late = lateness_words(-plan.days_early)
    wanted = "" if lot.target_stage == "bloom" else f", in {lot.target_stage}"
    target = f"Target {short_date(plan.target)}{wanted}; bloom {short_date(plan.bloom)}, {late}."
    yield f"{target} {days[0].upper()}{days[1:]}."
    yield from _need(page)
    yield from _moved(page)
    slack = page.reasons.slack
    if slack is not None:
        yield (
            f"Slack: {some(slack, 'working day')} by which it may be brought in later and still bloom by its target."
        )
    held = [step for step in plan.steps if step.step == "hold"]
    if held:
        first, last = held[0].span.start, held[-1].span.end
        why = (
            "as stated"
            if lot.hold_days
            else f"as it is to be in bloom {page.season.confidence_of(lot):.0%} surely"
        )
        yield (
            f"Held cold at colour in {listed(list(dict.fromkeys(str(s.place) for s in held)))} from "
            f"{short_date(first)} to {short_date(last)}, {some((last - first).days, 'day')}, {why}."
        )


def _need(page: WhyPage) -> Iterator[str]:
    plan, recipe, unit = page.plan, page.plan.recipe, page.season.unit
    reference, base = (show_temperature(t, unit) for t in (recipe.reference, recipe.base))
    above, need = (in_degrees(heat, unit) for heat in (recipe.reference - recipe.base, plan.need))
    if recipe.needs_cold:
        extra, target = plan.cold_weeks - recipe.cold_target, f"{recipe.cold_target:g}"
        yield (
            f"Cold: {plan.cold_weeks:.2f} weeks ({plan.cold_wanted:g} chosen), {abs(extra):.1f} weeks "
            f"{'more' if extra >= 0 else 'less'} than the {target} of its recipe. After {target} weeks it takes "
            f"{recipe.bench_days:g} days at {reference}, {recipe.days_saved:g} fewer for each week more, never under "
            f"{recipe.bench_days_min:g}."
        )
        if recipe.beyond_line(plan.cold_weeks) > 0:
            low, high = recipe.line
            yield (
                f"What a week of cold saves is known from {low:g} to {high:g} weeks only: outside them no more is "
                "reckoned with, and bloom is less sure."
            )
    days = page.reasons.days_needed
    yield (
        f"Need: {days:.1f} days × ({reference} − base {base}) = {days:.1f} × {above:g} °{unit} = {need:.1f} °{unit}·d "
        "from bring in to bloom."
    )


def _moved(page: WhyPage) -> Iterator[str]:
    plan, alone = page.plan, page.reasons.alone
    if page.agreed:
        on = short_date(page.season.agreed[-1].on)
        yield f"As agreed on {on}" + (f", but for: {'; '.join(page.changed)}." if page.changed else ".")
    recipe = plan.recipe
    if recipe.needs_cold and abs(plan.cold_wanted - recipe.cold_target) > 1e-6:
        why = "so the season states" if page.states_cold else "room, hours or the other lots ask for it"
        yield f"It is planned on {plan.cold_wanted:g} cold-weeks and not {recipe.cold_target:g}: {why}."
    if alone is not None and alone.bring_in != plan.bring_in:
        days = (plan.bring_in - alone.bring_in).days
        yield (
            f"Alone, and if every day were a working day, it would be brought in on {short_date(alone.bring_in)}, "
            f"{later(-days)}, on {alone.cold_weeks:.1f} weeks of cold. "
            f"What moved it: {listed([_cause(page, cause, by) for cause, by in alone.by])}."
        )
    if plan.cooler_in is not None and (ahead := (plan.cooler_in - plan.potting).days) > 3:
        yield f"It is potted {ahead} days before it goes into the cooler, to take hours off a full day or week."


def _cause(page: WhyPage, cause: Cause, days: int) -> str:
    """'2 days sooner for days on which nobody works'."""
    why = "the cold-weeks that the season states" if cause == "cold" and page.states_cold else CAUSES[cause]
    return f"{later(days)} for {why}"


def what_if_rows(page: WhyPage) -> Iterator[tuple[str, str, str]]:
    """(if, then it blooms, and would be in time if brought in by) of each case."""
    bench, weather = page.degrees(1.0), page.degrees(2.0)
    for one in page.reasons.what_if:
        case = CASES[one.case].format(bench=bench, weather=weather)
        if one.bloom is None or one.days is None:
            bloom = "not known"
        else:
            change = later(one.days) if one.days else "the same day"
            bloom = f"{short_date(one.bloom)}, {change}"
        yield case, bloom, "" if one.bring_in is None else short_date(one.bring_in)


def week_rows(page: WhyPage) -> Iterator[tuple[str, ...]]:
    """(week, step, place, days, mean, cold, so far, heat, so far) of each week, as text."""
    unit = page.season.unit

    def shown(value: float | None, digits: int) -> str:
        return "?" if value is None else f"{value:.{digits}f}"

    def heat(value: float | None) -> float | None:
        return None if value is None else in_degrees(value, unit)

    for w in page.weeks:
        days = (w.span.end - w.span.start).days
        cold = w.step in ("root", "cool", "precooled")
        yield (
            iso_week(w.span.start)[5:], w.step, w.place, str(days),
            "?" if w.mean is None else show_temperature(w.mean, unit) + ("" if w.measured == days else "*"),
            shown(w.cold, 2) if cold else "", shown(w.cold_so_far, 2) if cold else "",
            "" if cold else shown(heat(w.heat), 1), "" if cold else shown(heat(w.heat_so_far), 1),
        )  # fmt: skip


def week_heads(unit: TemperatureUnit) -> tuple[str, ...]:
    return ("week", "step", "place", "days", "mean", "cold, weeks", "so far", f"heat, °{unit}·d", "so far")


def figure_rows(page: WhyPage) -> Iterator[tuple[str, str, str, str]]:
    """(figure, value, how it is known, where from) of what the sums rest on."""
    units = page.season.unit, page.season.measures
    for name in _SHOWN:
        figure: Figure | None = page.plan.recipe.figures.get(name)
        if figure is not None:
            typical = figure.typical
            if figure.unit == "°C" and not isinstance(typical, str):
                value = show_temperature(typical, page.season.unit)
            else:
                value = typical if isinstance(typical, str) else f"{typical:g} {figure.unit}"
            yield (
                name,
                value,
                figure.basis,
                f"{figure.source}: {said}" if (said := told(figure.locator, *units)) else figure.source,
            )


def title_of(page: WhyPage) -> str:
    lot = page.plan.lot
    kind = " ".join(filter(None, (lot.bloom_class, lot.crop)))
    return f"{lot.name}: {some(lot.pots, 'pot')} of {kind}" + (f" {lot.cultivar}" if lot.cultivar else "")


def why_text(page: WhyPage) -> str:
    """The page as lines for a terminal."""
    lines = [title_of(page), "", *sentences(page), ""]
    lines += [f"If {case}: {bloom}" + (f"; in time if brought in by {day}" if day else "")
              for case, bloom, day in what_if_rows(page)]  # fmt: skip
    lines += ["", *_columns([week_heads(page.season.unit), *week_rows(page)])]
    lines += ["* not, or not all, measured", "", *_columns(list(figure_rows(page)))]
    return "\n".join(lines)


def _columns(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))] if rows else []
    return ["  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows]


# ---------------------------------------------------------------- the page


def write_why(page: WhyPage, folder: Path, *, created: datetime) -> Path:
    """Write the page of one lot into `folder`, on the season's paper; give its path. Raises OutputError."""
    register_fonts()
    width, height = UPRIGHT[page.season.paper]
    look, file = PageLook(width - 2 * SIDE, 1.0), BytesIO()
    foot = f"{one_line(page.season.title)} · * not, or not all, measured"

    def on_page(canvas: Any, document: Any) -> None:
        date_file(canvas, created)
        draw_footer(canvas, width, foot, "")

    frame = Frame(SIDE, FOOT, look.width, height - TOP - FOOT, 0, 0, 0, 0)
    document = BaseDocTemplate(
        file, pagesize=(width, height), pageTemplates=[PageTemplate("page", [frame], onPage=on_page)],
        title=one_line(title_of(page)), author="forcing", creator="forcing", lang="en-GB", displayDocTitle=True,
        initialFontName=REGULAR, invariant=1,
    )  # fmt: skip
    # One page, whatever the weeks and figures: what does not fit is set smaller as a whole.
    document.build([KeepInFrame(look.width, height - TOP - FOOT - 1, _story(page, look), mode="shrink")])
    path = folder / file_name(page.plan.lot.name)
    with replacing(path) as temporary:
        temporary.write_bytes(file.getvalue())
    return path


def _story(page: WhyPage, look: PageLook) -> list[Any]:
    gap = Spacer(0, look.mm(1.5))
    story: list[Any] = [look.text(f"<b>{safe(title_of(page), 60)}</b>", 14), gap]
    story += [look.text(safe(line, 600), 9) for line in sentences(page)]
    story += [
        gap,
        _table([("if", "bloom", "in time if brought in by"), *what_if_rows(page)], look, (0.42, 0.3, 0.28)),
    ]
    widths = (0.07, 0.09, 0.24, 0.07, 0.12, 0.11, 0.09, 0.12, 0.09)
    story += [gap, _table([week_heads(page.season.unit), *week_rows(page)], look, widths)]
    heads = ("figure", "value", "basis", "source")
    return [*story, gap, _table([heads, *figure_rows(page)], look, (0.15, 0.15, 0.09, 0.61))]


def _table(rows: Sequence[Sequence[str]], look: PageLook, widths: Sequence[float]) -> Table:
    head, *others = rows
    cells = [[look.text(f"<b>{safe(c)}</b>", 7.5) for c in head]]
    cells += [[look.text(safe(c), 7.5) for c in row] for row in others]
    table = Table(cells, colWidths=[share * look.width for share in widths], repeatRows=1)
    table.setStyle([
        ("FONTNAME", (0, 0), (-1, -1), REGULAR), ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LINEBELOW", (0, 0), (-1, 0), 0.8, HexColor(QUIET)), ("LINEBELOW", (0, 1), (-1, -1), 0.25, HexColor(RULE)),
        *((f"{side}PADDING", (0, 0), (-1, -1), 0.6) for side in ("TOP", "BOTTOM")),
        ("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 4),
    ])  # fmt: skip
    return table
