"""A lot's line on the board: its steps, target and bloom as parts of 100 of the season, and the same in words."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from forcing.dates import DAY, Span, weeks_of
from forcing.engine.outlook import Outlook
from forcing.model import LotPlan, Step, StepName
from forcing.sheets.gantt.chart import Chart, Row, months_of
from forcing.sheets.outlook_words import lateness_words
from forcing.sheets.style import CLASS_MARKS, short_date
from forcing.sheets.task_words import plain, some

# Letters of the steps, for bars too short for the word; a show has the letter of its class.
LETTERS: dict[StepName, str] = {
    "pot": "P", "root": "R", "cool": "C", "bench": "B", "hold": "Ho", "harden": "Ha",
}  # fmt: skip
CLASS_LETTERS = {kind: "–" if mark.letter == "-" else mark.letter for kind, mark in CLASS_MARKS.items()}
_NARROWEST = 290.0  # width of a line on a screen of 320 px
_LETTER = 7.5  # width of a letter, at most [px]
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True, slots=True)
class Axis:
    """The season in parts of 100: first days of months, names, week numbers, today (None: outside), opening."""

    span: Span
    months: tuple[str, ...]
    names: tuple[tuple[str, str], ...]  # where, name
    weeks: tuple[tuple[str, int, bool], ...]  # where, number, whether there is room for it on a small screen
    today: str | None
    opens: str

    def at(self, day: date) -> str:
        """Where a day begins."""
        return percent((day - self.span.start).days / self.span.days)


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


def together(words: str) -> str:
    """Words that are not parted at the end of a line."""
    return words.replace(" ", "\u00a0")


def axis_of(chart: Chart) -> Axis:
    """The axis of a chart."""
    span, on = chart.span, chart.plan.on

    def at(day: date) -> str:
        return percent((day - span.start).days / span.days)

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
        tuple((at(m.start), _MONTHS[m.start.month - 1]) for m in wide),
        tuple(
            (at(day), day.isocalendar().week, i % every == 0 and room(day) > 20)
            for i, day in enumerate(weeks)
        ),
        at(on) if on in span else None,
        at(chart.plan.season.span.start),
    )


def line_of(row: Row, axis: Axis, outlook: Outlook | None) -> Line:
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
        name=plain(lot.name),
        called=", ".join(plain(part) for part in (lot.cultivar, lot.crop) if part),
        pots=some(lot.pots, "pot"),
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


def _bar(row: Row, step: Step, axis: Axis) -> Bar:
    share = step.span.days / axis.span.days
    kind: str = step.step
    words: tuple[str, ...] = (step.step, LETTERS.get(step.step, ""))
    if step.step == "show":
        kind, words = row.bloom_class or "none", (CLASS_LETTERS[row.bloom_class],)
    elif step.step == "harden":  # too low a bar for type
        words = ()
    written = next((w for w in words if len(w) * _LETTER + 2 <= share * _NARROWEST), "")
    x, width = _stretch(axis, step.span.start, step.span.end)
    middle = percent(((step.span.start - axis.span.start).days + step.span.days / 2) / axis.span.days, 1)
    return Bar(kind, x, width, written, middle)


def _step_words(step: Step) -> str:
    days = short_date(step.span.start) + (f", {step.span.days} d" if step.span.days > 1 else "")
    logged = "logged" if step.basis == "actual" else ""
    return " · ".join(filter(None, (plain(step.place or ""), days, logged)))


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
