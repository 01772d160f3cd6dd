"""Seasons for tests of the allocation: drawn at random, tight and feasible because they are built backwards."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta

from forcing.dates import Span
from forcing.engine.allocation.options import ClimateSums, OptionBuilder, places_of
from forcing.engine.allocation.problem import Problem
from forcing.engine.climate import build_climate
from forcing.engine.coolers import programmes
from forcing.model import Lot, Place, Season
from forcing.recipes.book import RecipeBook
from tests.builders import MON_FRI, seen_on

CROPS = ("tulip", "tulip", "tulip", "hyacinth", "narcissus", "crocus", "muscari", "miniature narcissus")
CLASSES = {"tulip": ("early", "mid", "late"), "narcissus": ("early", "mid", "late")}


def drawn_season(
    lots: int, coolers: int, benches: int, seed: int, *, room: float = 0.85, days: int = 40, **other: object
) -> Season:
    """Lots of many crops with targets over `days`, in coolers and benches that hold `room` of the easy peak."""
    rng = random.Random(seed)
    opens = date(2027, 3, 8)
    stated = []
    for i in range(lots):
        crop = rng.choice(CROPS)
        kind = rng.choice(CLASSES[crop]) if crop in CLASSES else None
        target = opens + timedelta(days=rng.randrange(days))
        stated.append(Lot(f"L{i:04d}", crop, rng.randint(8, 60), kind, target=target))
    pots = sum(lot.pots for lot in stated)
    cold = [(9.0, 9.0), (5.0, 5.0), (7.0, 7.0)]
    warm = [(18, 14), (17, 13), (16, 12), (15, 11), (17, 15), (16, 14)]
    places = [
        Place(
            f"Cooler {k}", "cooler", round(room * pots / coolers * (0.9 + 0.2 * rng.random())), *cold[k % 3]
        )
        for k in range(coolers)
    ]
    # A lot is about five weeks on a bench, growing and in bloom.
    share = min(1.0, 35 / max(days, 1) * 0.75)
    places += [
        Place(
            f"Bench {k}",
            "bench",
            round(room * pots * share / benches * (0.8 + 0.4 * rng.random())),
            *warm[k % 6],
        )
        for k in range(benches)
    ]
    made = Season(
        "drawn",
        Span(opens, opens + timedelta(days=days)),
        calendar=MON_FRI,
        places=tuple(places),
        lots=tuple(stated),
    )
    return replace(made, **other)  # type: ignore[arg-type]


def problem_of(season: Season, hours: float | None = None) -> Problem:
    """The numbers of a season's allocation in rooms that are empty so far."""
    book = RecipeBook.from_overrides(season.overrides)
    programme = programmes(season, ())
    climate_sums = ClimateSums(season, build_climate(season, programme))
    maker = OptionBuilder(season, climate_sums, (), {})
    candidates = []
    for lot in sorted(season.lots, key=lambda lot: lot.name):
        recipe = book.recipe(lot.crop, lot.bloom_class, lot.cultivar)
        candidates.append(maker.candidate(lot, recipe, *places_of(season, lot, recipe)))
    return Problem(
        season,
        climate_sums,
        tuple(candidates),
        seen_on(season.span.start).minutes,
        hours or season.hours_per_week,
    )


def tight_season(lots: int, coolers: int, benches: int, seed: int) -> Season:
    """A season that fits by construction: lots are given places and dates at random, and rooms just hold them."""
    rng = random.Random(seed)
    loose = drawn_season(lots, coolers, benches, seed, room=50.0)
    problem = problem_of(loose)
    taken: dict[str, dict[int, float]] = {p.name: {} for p in loose.places}
    for candidate in problem.candidates:
        option = rng.choice(candidate.options)
        for place, start, end in option.dates.stands:
            for day in range(start, end):
                taken[place][day] = taken[place].get(day, 0.0) + candidate.area
    places = tuple(replace(p, pots=max(taken[p.name].values(), default=0.0) + 1e-4) for p in loose.places)
    return replace(loose, places=places)
