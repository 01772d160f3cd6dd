"""A plan made by hand, of any size, for tests of sheets: no engine, no reader, nothing but the nouns.

Its dates are plain arithmetic (nothing forced); names carry accents, length and markup on purpose.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import cache

from forcing.dates import Span, WorkCalendar
from forcing.errors import Finding
from forcing.model import (
    CLASSES,
    Display,
    Lot,
    LotPlan,
    Place,
    PlaceLoad,
    Plan,
    Recipe,
    RoomSetting,
    Season,
    Step,
    Task,
    Unplanned,
)
from forcing.recipes.book import RecipeBook
from forcing.units import TemperatureUnit

CULTIVARS = (
    "Été Précoce",
    "Grand Old Duchess of the Northern Meadow (double)",
    "Zoë & <b>Co</b>",
    "Ivory",
    "Ångström",
)


@cache
def recipe(crop: str = "tulip") -> Recipe:
    return replace(
        RecipeBook.from_overrides().recipe("tulip"), figures={},
        crop=crop, bloom_class="early", cultivar=None, cold_min=13, cold_target=15, cold_max=18,
        cold_curve="tulip", rooting=3, rooting_at=9, cooled_at=5, kept_at=1, sprouting=12, precooled_max=9,
        base=2, cap=20, reference=16, bench_days=25, bench_days_min=17, days_saved=2.5, line_from=0, line_to=1000,
        shoots=0.2, bud=0.5, colour=0.85, bench_low=10, bench_high=20, hold=1.5, hold_max=14,
        display_reference=14, display_days=12, display_base=2, display_longest=24, frost=-2, spread=0.08,
        bulbs_per_pot=6, pot=15, store_at=17, pot_by=14, potted_wait=21, earliest=0,
    )  # fmt: skip


def sample_plan(lots: int = 5, unit: TemperatureUnit = "C", paper: str = "A4") -> Plan:
    """A plan of `lots` lots opening Sat 20 March 2027, seen on Tue 3 November 2026."""
    opens, on = date(2027, 3, 20), date(2026, 11, 3)
    places = (
        Place("Cold room North", "cooler", 900.0),
        Place("Cold room South", "cooler", 700.0, day=5, night=5),
        Place("Bench 1", "bench", 300.0, day=17, night=13),
        Place("Bench 2", "bench", 250.0, day=18, night=14),
        Place("Frame", "frame", 200.0, day=8, night=4),
        Place("Terrace", "site"),
    )
    season = Season(
        title="Spring in the Orangery – fenêtre sur cour",
        span=Span(opens, date(2027, 5, 3)),
        unit=unit,
        calendar=WorkCalendar(frozenset(range(5)), frozenset({date(2026, 12, 25)})),
        confidence=0.5,
        bulbs_in_hand=date(2026, 9, 20),
        hours_per_week=60.0,
        paper="Letter" if paper == "Letter" else "A4",
        places=places,
        displays=(Display("Terrace troughs", 24, "Terrace", Span(opens, date(2027, 5, 3))),),
    )
    planned = tuple(_lot_plan(i, season) for i in range(lots))
    programme = (
        (date(2026, 9, 28), date(2026, 11, 9), 9.0, "rooting"),
        (date(2026, 11, 9), date(2027, 1, 4), 5.0, "all lots rooted"),
        (date(2027, 1, 4), date(2027, 3, 1), 1.0, "shoots about 2.5 cm"),
    )
    rooms = (
        *(RoomSetting("Cold room North", Span(a, b), t, t, "planned", why) for a, b, t, why in programme),
        RoomSetting("Bench 1", Span(date(2026, 9, 1), date(2027, 5, 3)), 17.0, 13.0, "stated"),
    )
    loads = tuple(_load(place, planned) for place in places if place.kind != "site")
    step_down = Task(
        "step down/Cold room North/1", date(2026, 11, 9), None, "step down", 0, 0.5, "Cold room North",
        look_for="set 5 °C; roots out of the drain holes", cautions=("cold room",),
    )  # fmt: skip
    tasks = (*(task for p in planned for task in _tasks(p)), step_down)
    findings = (
        Finding("cold-above-max", "warning", "lots", 3, "cold weeks", "more cold than the crop's limit",
                "expect tall weak stems; shorten the cold or bring in earlier", "19", lot="T002"),
        Finding("place-overfull", "warning", "places", 4, "pots", "Bench 1 is 12 pots over in 2027-W09",
                "move a lot to another bench or add space", "312 of 300"),
    )  # fmt: skip
    return Plan(
        season, on, planned,
        (Unplanned(Lot("Lost cause", "tulip", 10, row=99), "needs 13 cold-weeks, has 9", date(2027, 4, 2)),),
        rooms, loads, tuple(sorted(tasks, key=lambda t: (t.date, t.key))), findings,
    )  # fmt: skip


def _lot_plan(i: int, season: Season) -> LotPlan:
    opens = season.span.start
    target = opens + timedelta(days=(i % 3) * 9)
    bring_in = target - timedelta(days=25 + i % 4)
    cooler_in = bring_in - timedelta(days=105 + i % 5)
    potting, rooted = cooler_in - timedelta(days=1), cooler_in + timedelta(days=24)
    cooler, bench = season.places[i % 2].name, season.places[2 + i % 2].name
    lot = Lot(
        f"T{i + 1:03d}", "tulip" if i % 4 else "hyacinth", 12 + (i * 7) % 40, CLASSES[i % 3], CULTIVARS[i % 5],
        15.0, 6, target, cooler=cooler, bench=bench, display="Terrace troughs", row=i + 2,
    )  # fmt: skip
    colour, install, fade = (
        target - timedelta(days=4),
        target - timedelta(days=1),
        target + timedelta(days=14),
    )
    spans = (
        ("pot", None, potting, cooler_in),
        ("root", cooler, cooler_in, rooted),
        ("cool", cooler, rooted, bring_in),
        ("bench", bench, bring_in, install),
        ("harden", "Terrace", install, target),
        ("show", "Terrace", target, fade),
    )
    steps = tuple(Step(lot.name, name, place, Span(a, b)) for name, place, a, b in spans)  # type: ignore[arg-type]
    stages = {
        "shoots": bring_in + timedelta(days=5), "bud": bring_in + timedelta(days=12), "colour": colour,
        "bloom": target,
    }  # fmt: skip
    return LotPlan(
        lot, recipe(lot.crop), steps, target, potting, cooler_in, rooted, cooler_in + timedelta(days=84), bring_in,
        stages, target, fade, install, 15.0 + (i % 5) / 7, 15.0, 350.0, 0, 160,
    )  # fmt: skip


def _load(place: Place, planned: tuple[LotPlan, ...]) -> PlaceLoad:
    start = date(2026, 9, 1)
    pots = [0.0] * 260
    for plan in planned:
        for step in plan.steps:
            if step.place == place.name:
                for day in step.span:
                    if 0 <= (day - start).days < len(pots):
                        pots[(day - start).days] += plan.lot.pots
    return PlaceLoad(place.name, place.pots, start, tuple(pots))


def _tasks(plan: LotPlan) -> tuple[Task, ...]:
    lot, pots = plan.lot.name, float(plan.lot.pots)
    cooler, bench = plan.lot.cooler, plan.lot.bench
    assert plan.cooler_in and plan.rooted and plan.install
    rows = (
        ("order", plan.potting - timedelta(weeks=12), None, None, "cultivar, size and count", ()),
        ("pot", plan.potting, None, None, "noses level with the rim", ("bulbs", "lifting")),
        ("into cooler", plan.cooler_in, None, cooler, "labels on", ("lifting", "cold room")),
        ("root check", plan.rooted, cooler, None, "white roots at the drain holes", ("cold room",)),
        ("bring in", plan.bring_in, cooler, bench, "shoots 2-5 cm", ("lifting", "cold room", "wet floor")),
        ("check shoots", plan.stages["shoots"], bench, None, "shoots green and even", ()),
        ("check colour", plan.stages["colour"], bench, None, "first colour on the buds", ()),
        ("set out", plan.install, bench, "Terrace", "no frost tonight", ("lifting",)),
    )
    return tuple(
        Task(f"{task}/{lot}/1", day, lot, task, pots, round(pots * 0.03, 2), place, to, look, cautions,
             "overdue" if day < date(2026, 11, 3) and plan.lot.row == 2 else "planned")
        for task, day, place, to, look, cautions in rows
    )  # fmt: skip
