"""The recipes in force as plain text: all crops in short, or one crop with every figure and its source."""

from __future__ import annotations

import re
import textwrap
from collections import Counter
from collections.abc import Iterable, Sequence

from forcing.errors import RecipeError
from forcing.model import BloomClass, Figure, Recipe
from forcing.recipes.book import CompanionBook, CropBook, RecipeBook, Source, shipped_sources
from forcing.units import TemperatureUnit, from_celsius, show_temperature

WIDTH = 108
_BASES = {"published": "P", "derived": "D", "practice": "C", "house": "H"}
_CITED = re.compile(r"\[([a-z][a-z0-9_]*)\]")
_NAME_WIDTH = 19

_HEAD = f"  {'':<20}{'low':>8}{'typical':>9}{'high':>8}  {'unit':<18}basis"

_MEANINGS = (
    "What each figure means stands on the words sheet of a starter workbook: forcing start FILE.xlsx",
    "Your own figures go in the crops table of the season: forcing crops CROP --season SEASON shows them here.",
)

Kind = tuple[BloomClass | None, str | None]


def crops_text(
    book: RecipeBook, companions: CompanionBook, crop: str | None = None, unit: TemperatureUnit = "C"
) -> str:
    """The text of `forcing crops [CROP]`, temperatures in `unit`.

    Raises RecipeError, with names that come near, for a crop that neither book knows.
    """
    if crop is None:
        return _all_crops(book, companions, unit)
    name = CropBook("recipe", (*book.crops, *companions.crops)).name(crop)
    return _one_crop(book, name, unit) if book.knows(name) else _one_companion(companions, name, unit)


# ---------------------------------------------------------------- all crops in short


def _all_crops(book: RecipeBook, companions: CompanionBook, unit: TemperatureUnit) -> str:
    head = ("crop", "class, cultivar", "cold-weeks", "bench days", "display days", *[""] * len(_BASES))
    under = ("", "", "least-plan-most", "bring in to bloom", "bloom to fade", *_BASES.values())
    rows: list[Sequence[str]] = [head, under]
    notes: list[str] = []
    for crop in book.crops:
        for kind in book.kinds(crop):
            try:
                rows.append(_short_row(book.recipe(crop, *kind), crop, kind, unit))
            except RecipeError as error:
                # A crop told by class only has no recipe without one: that is no fault of the house.
                rows.append(
                    (_cut(crop), _kind_name(kind) or "any", "incomplete", "", "", *[""] * len(_BASES))
                )
                notes.append(str(error))
    text = _ruled(_aligned(rows, left=5))
    beside = [("companion", "sow to transplant", "transplant to finish", "hardening", *_BASES.values())]
    for crop in companions.crops:
        try:
            beside.append(_short_companion(companions, crop, unit))
        except RecipeError as error:
            beside.append((_cut(crop), "incomplete", "", "", *[""] * len(_BASES)))
            notes.append(str(error))
    text += ["", *_ruled(_aligned(beside, left=4), heads=1)]
    for note in notes:
        text += _wrapped(note, rest="  ")
    text += _wrapped(
        "The last columns count figures by basis: P published (in print), D derived (arithmetic on print), C common "
        "practice (no source; from memory), H the house's own (the crops table of the season)."
    )
    text.append("Every figure of one crop, with its source: forcing crops CROP, such as: forcing crops tulip")
    return "\n".join(text)


def _ruled(lines: Sequence[str], heads: int = 2) -> list[str]:
    rule = "-" * min(WIDTH, max(map(len, lines)))
    return [*lines[:heads], rule, *lines[heads:], rule]


def _short_companion(companions: CompanionBook, crop: str, unit: TemperatureUnit) -> tuple[str, ...]:
    recipe = companions.recipe(crop)
    return (
        _cut(crop),
        f"{recipe.sow_to_transplant:g} days",
        f"{recipe.transplant_to_finish:g} days at {show_temperature(recipe.finish_reference, unit)}",
        f"{recipe.harden_days:g} days",
        *_counts(recipe.figures.values()),
    )


def _counts(figures: Iterable[Figure]) -> Iterable[str]:
    """How many figures are of each basis."""
    count: Counter[str] = Counter(figure.basis for figure in figures)
    return (str(count[basis]) if count[basis] else "-" for basis in _BASES)


def _short_row(recipe: Recipe, crop: str, kind: Kind, unit: TemperatureUnit) -> Sequence[str]:
    cold = f"{recipe.cold_min:g}-{recipe.cold_target:g}-{recipe.cold_max:g}" if recipe.needs_cold else "none"
    return (
        _cut(crop),
        _kind_name(kind) or "any",
        cold,
        f"{recipe.bench_days:g} at {show_temperature(recipe.reference, unit)}",
        f"{recipe.display_days:g} at {show_temperature(recipe.display_reference, unit)}",
        *_counts(recipe.figures.values()),
    )


def _aligned(rows: Iterable[Sequence[str]], left: int) -> list[str]:
    """Rows as text in columns two spaces apart: the first `left` columns flush left, the others right."""
    table = list(rows)
    widths = [max(len(row[i]) for row in table) for i in range(len(table[0]))]
    return [
        "  ".join(
            cell.ljust(width) if i < left else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in table
    ]


def _kind_name(kind: Kind) -> str:
    return _cut(", ".join(part for part in kind if part))


def _cut(name: str) -> str:
    return name if len(name) <= _NAME_WIDTH else name[: _NAME_WIDTH - 1] + "…"


def _wrapped(text: str, *, first: str = "", rest: str = "") -> list[str]:
    """Text in lines of WIDTH, never broken at a hyphen: dates and names stay whole."""
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)


# ---------------------------------------------------------------- one crop in full


class _Bibliography:
    """Numbers the sources in the order in which the text meets them."""

    def __init__(self) -> None:
        self.sources = shipped_sources()
        self.numbers: dict[str, int] = {}

    def number(self, key: str) -> str:
        return f"[{self.numbers.setdefault(key, len(self.numbers) + 1)}]"

    def cited(self, text: str) -> str:
        """A locator with the keys in it turned into numbers."""
        return _CITED.sub(lambda m: self.number(m[1]) if m[1] in self.sources else m[0], text)

    def section(self) -> Iterable[str]:
        """The sources met so far, under their heading; nothing where there are none."""
        if self.numbers:
            yield from ("", "Sources")
        for key, number in self.numbers.items():
            yield from _wrapped(f"{f'[{number}]':<5}{_entry(self.sources[key])}", rest=" " * 5)


def _one_crop(book: RecipeBook, crop: str, unit: TemperatureUnit) -> str:
    bibliography = _Bibliography()
    text = [_HEAD]
    for kind in book.kinds(crop):
        text += ["", *_wrapped(_title(book, crop, kind))]
        if not any(kind):
            figures, note = _whole(book, crop)
            text += _wrapped(note, first="  ", rest="  ")
        else:
            figures = tuple(book.own_figures(crop, *kind).values())
        for figure in figures:
            text += _figure(figure, _outdoes(figure, book), bibliography, unit)
    text += _contradictions(_problems(book, crop, unit))
    return "\n".join([*text, "", *_MEANINGS, *bibliography.section()])


def _one_companion(companions: CompanionBook, crop: str, unit: TemperatureUnit) -> str:
    bibliography = _Bibliography()
    recipe = companions.recipe(crop)
    text = [_HEAD, "", f"{crop}, a companion"]
    for figure in recipe.figures.values():
        text += _figure(figure, "", bibliography, unit)
    text += _contradictions(companions.check(recipe, unit))
    return "\n".join([*text, "", *_MEANINGS, *bibliography.section()])


def _title(book: RecipeBook, crop: str, kind: Kind) -> str:
    if not any(kind):
        return crop
    rest = ", in place of the above" if (None, None) in book.kinds(crop) else ""
    return f"{crop}, {', '.join(part for part in kind if part)}{rest}"


def _whole(book: RecipeBook, crop: str) -> tuple[Sequence[Figure], str]:
    """All figures of the crop itself, and in words what is missing."""
    try:
        return tuple(book.recipe(crop).figures.values()), ""
    except RecipeError as error:
        return tuple(book.own_figures(crop).values()), str(error)


def _problems(book: RecipeBook, crop: str, unit: TemperatureUnit) -> Iterable[str]:
    """What contradicts itself in the recipes of a crop's kinds, each once."""
    found: dict[str, None] = {}
    for kind in book.kinds(crop):
        try:
            found.update(dict.fromkeys(book.check(book.recipe(crop, *kind), unit)))
        except RecipeError:
            continue  # said above, with the figures
    return found


def _contradictions(problems: Iterable[str]) -> list[str]:
    lines = [line for problem in problems for line in _wrapped(f"- {problem}", rest="  ")]
    return ["", "These figures contradict each other", *lines] if lines else []


def _figure(
    figure: Figure, outdone: str, bibliography: _Bibliography, unit: TemperatureUnit
) -> Iterable[str]:
    """The line of a figure and, below it, where it comes from."""
    return (
        _numbers(figure, unit),
        *_wrapped(_origin(figure, bibliography) + outdone, first=" " * 6, rest=" " * 6),
    )


def _numbers(figure: Figure, unit: TemperatureUnit) -> str:
    shown_unit = f"°{unit}" if figure.unit == "°C" else figure.unit
    basis = "house's own" if figure.basis == "house" else figure.basis
    if isinstance(figure.typical, str):
        return f"  {figure.parameter:<20}{figure.typical:>25}  {shown_unit:<18}{basis}"
    low, typical, high = (_number(v, figure.unit, unit) for v in (figure.low, figure.typical, figure.high))
    return f"  {figure.parameter:<20}{low:>8}{typical:>9}{high:>8}  {shown_unit:<18}{basis}"


def _number(value: float | str | None, unit: str, wanted: TemperatureUnit) -> str:
    if value is None or isinstance(value, str):
        return "-"
    shown = round(from_celsius(value, wanted), 1) if unit == "°C" else value
    return f"{shown + 0.0:g}"


def _origin(figure: Figure, bibliography: _Bibliography) -> str:
    """Where a figure comes from: number, title and place in the work, or the house's own words."""
    if figure.basis == "house":
        return f"{figure.locator}: {figure.source or 'no source given'}"
    number = bibliography.number(figure.source)
    locator = bibliography.cited(figure.locator)
    title = "" if figure.source == "practice" else f"{bibliography.sources[figure.source].title}: "
    return f"{number} {title}{locator}"


def _outdoes(figure: Figure, book: RecipeBook) -> str:
    """Says so where a shipped row of a class wins over the house's own row for the whole crop."""
    if figure.basis == "house":
        return ""
    whole = book.own_figures(figure.crop).get(figure.parameter)
    if whole is None or whole.basis != "house" or (figure.bloom_class, figure.cultivar) == (None, None):
        return ""
    own = f"your own {figure.parameter} of {figure.crop}"
    return f" (wins over {own}, which names no class: a row with the class would win)"


def _entry(source: Source) -> str:
    if source.key == "practice":
        return f"{source.title}: {source.where}."
    parts = (source.author, "" if source.year is None else str(source.year), source.title, source.where)
    work = " ".join(f"{part.rstrip('.')}." for part in parts if part)
    return f"{work} ({source.kind}, confidence {source.confidence})"
