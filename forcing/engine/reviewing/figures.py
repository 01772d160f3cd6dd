"""What a season says of its recipes, and next year's figures as rows of the `crops` table."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from forcing.crops.loader import RecipeBook
from forcing.crops.names import fold
from forcing.engine.reviewing.lot import LotReview
from forcing.errors import RecipeError
from forcing.model import BloomClass, Override, Recipe, Season
from forcing.science.flowering import lognormal_sigma
from forcing.science.pooling import Effect, Measured, SeenSpread, Split, pooled, pooled_spread

Quantity = Literal["need", "life"]
Z90 = 1.2815515655446004
# Spread of the life on display where a recipe gives no low and high of display_days. Practice, no source.
LIFE_SIGMA = 0.25
MOST_SAVED = 6.9  # days a week of cold may save: a recipe with 7 contradicts itself


@dataclass(frozen=True, slots=True)
class Posterior:
    """A class (cultivar None) or a cultivar of a crop: the factor on its recipe, and what that rests on."""

    crop: str
    bloom_class: BloomClass | None
    cultivar: str | None
    effect: Effect
    lots: int  # seen to the end: to bloom, or to fade
    stages: int  # known by the stages on the way to bloom only
    seen: float | None  # the plain mean of the lots seen to the end, before it is pulled; None: none was
    recipe: (
        Recipe | None
    )  # of just this reach; None: there is no such recipe (a crop known by cultivars only)
    spread: SeenSpread | None = (
        None  # between the lots of a class; None: of a cultivar, or fewer than two lots
    )


Key = tuple[str, BloomClass | None]


def posteriors(rows: Sequence[LotReview], book: RecipeBook, quantity: Quantity) -> tuple[Posterior, ...]:
    """Each class with data, in the order of its first lot, followed by its cultivars with data."""
    groups: dict[Key, list[LotReview]] = defaultdict(list)
    for row in rows:
        if measured_of(row, quantity) is not None:
            groups[row.recipe.crop, row.lot.bloom_class].append(row)
    return tuple(p for key, group in groups.items() for p in _group(key, group, book, quantity))


def measured_of(row: LotReview, quantity: Quantity) -> Measured | None:
    """What a lot says of the quantity; None: nothing."""
    return row.need if quantity == "need" else row.life


def _group(key: Key, group: Sequence[LotReview], book: RecipeBook, quantity: Quantity) -> Iterator[Posterior]:
    # Lots whose cultivar is not stated may be of one or of many: each is taken as a cultivar of its own.
    cultivars: dict[object, list[LotReview]] = defaultdict(list)
    for row in group:
        cultivars[fold(row.lot.cultivar) if row.lot.cultivar else (row.lot.name,)].append(row)
    recipe = _recipe(book, key, None)
    sigma = _sigma(recipe or group[0].recipe, quantity)
    whole, effects = pooled([_all_measured(rows, quantity) for rows in cultivars.values()], Split.of(sigma))
    ends = [row for row in group if _to_the_end(row, quantity)]
    spread = None
    if len(ends) > 1:
        spread = pooled_spread([m.log_ratio for m in _all_measured(ends, quantity)], sigma)
    yield _posterior(key, None, group, whole, quantity, recipe, spread)
    for rows, effect in zip(cultivars.values(), effects, strict=True):
        name = rows[0].lot.cultivar
        if name:
            yield _posterior(key, name, rows, effect, quantity, _recipe(book, key, name))


def _posterior(
    key: Key, cultivar: str | None, rows: Sequence[LotReview], effect: Effect, quantity: Quantity,
    recipe: Recipe | None, spread: SeenSpread | None = None,
) -> Posterior:  # fmt: skip
    ends = [row for row in rows if _to_the_end(row, quantity)]
    ratios = [m.log_ratio for m in _all_measured(ends, quantity)]
    seen = math.exp(math.fsum(ratios) / len(ratios)) if ratios else None
    return Posterior(*key, cultivar, effect, len(ends), len(rows) - len(ends), seen, recipe, spread)


def _to_the_end(row: LotReview, quantity: Quantity) -> bool:
    return quantity == "life" or row.basis == "bloom"


def _all_measured(rows: Sequence[LotReview], quantity: Quantity) -> list[Measured]:
    return [m for row in rows if (m := measured_of(row, quantity)) is not None]


def _recipe(book: RecipeBook, key: Key, cultivar: str | None) -> Recipe | None:
    try:
        return book.recipe(*key, cultivar)
    except RecipeError:
        return None


def _sigma(recipe: Recipe, quantity: Quantity) -> float:
    """Standard deviation of the logarithm that the recipe gives to the quantity."""
    if quantity == "need":
        return float(lognormal_sigma(recipe.spread))
    figure = recipe.figures.get("display_days")
    if figure is None or figure.low is None or figure.high is None or not 0 < figure.low < figure.high:
        return LIFE_SIGMA
    return math.log(figure.high / figure.low) / (2 * Z90)


# ---------------------------------------------------------------- rows for next year


def next_figures(
    season: Season,
    book: RecipeBook,
    need: Sequence[Posterior],
    life: Sequence[Posterior],
    rows: Sequence[LotReview],
) -> tuple[Override, ...]:
    """Next year's figures: classes before cultivars, need before life; none where nothing was seen."""
    name = season_name(season, rows)
    found = [row for p in need for row in _need_rows(p, name)]
    found += [row for p in life for row in _life_rows(p, name)]
    return tuple(found)


def season_name(season: Season, rows: Sequence[LotReview]) -> str:
    """The season as people call it: 2026/27, or 2027 where it lies in one year."""
    first = min((day for row in rows for day in row.actual.values()), default=season.span.start)
    last = season.span.start.year
    return f"{first.year}/{last % 100:02d}" if first.year < last else str(last)


def _need_rows(p: Posterior, name: str) -> Iterator[Override]:
    if p.recipe is None:
        return
    r, f, source = p.recipe, p.effect.factor, _source(p, name, "bloom")
    yield _row(p, "bench_days", r.bench_days * f, source, r.bench_days * p.effect.low,
               r.bench_days * p.effect.high)  # fmt: skip
    # The factor is on the whole need, whatever the cold: the floor and what cold saves go with it.
    scaled = f"{source}: in step with bench_days"
    yield _row(p, "bench_days_min", r.bench_days_min * f, scaled)
    yield _row(p, "days_saved", min(MOST_SAVED, r.days_saved * f), scaled, digits=2)
    if p.spread is not None:
        yield _row(p, "spread", p.spread.typical, source, p.spread.low, p.spread.high, digits=3)


def _life_rows(p: Posterior, name: str) -> Iterator[Override]:
    if p.recipe is not None:
        days = p.recipe.display_days
        yield _row(p, "display_days", days * p.effect.factor, _source(p, name, "fade"), days * p.effect.low,
                   days * p.effect.high)  # fmt: skip


def _row(
    p: Posterior, parameter: str, typical: float, source: str, low: float | None = None,
    high: float | None = None, digits: int = 1,
) -> Override:  # fmt: skip
    least = 0.0 if parameter == "days_saved" else 10.0**-digits  # a recipe cannot have 0 days
    values = [None if v is None else max(least, round(v, digits)) for v in (typical, low, high)]
    assert values[0] is not None
    return Override(p.crop, parameter, values[0], p.bloom_class, p.cultivar, values[1], values[2], source)


def _source(p: Posterior, name: str, end: str) -> str:
    """Like 'house, season 2026/27, 3 lots'."""
    parts = [f"house, season {name}", f"{p.lots} {'lot' if p.lots == 1 else 'lots'} seen to {end}"]
    if p.stages:
        parts.append(f"{p.stages} by {'its' if p.stages == 1 else 'their'} stages")
    return ", ".join(parts if p.lots else [parts[0], *parts[2:]])


def next_table(season: Season, figures: Sequence[Override]) -> tuple[Override, ...]:
    """The whole `crops` table of next year: this season's own rows, but for those that `figures` replace."""
    replaced = {_place(row) for row in figures}
    return (*(row for row in season.overrides if _place(row) not in replaced), *figures)


def _place(row: Override) -> tuple[object, ...]:
    return fold(row.crop), row.bloom_class, fold(row.cultivar or ""), row.parameter
