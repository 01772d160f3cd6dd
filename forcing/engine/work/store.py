"""The dry store: bulbs from the day they are in hand until they are potted, and those that wait too long in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from typing import NamedTuple

from forcing.dates import Span
from forcing.engine.context import Context
from forcing.engine.coolers import pot_area
from forcing.engine.loads import FULL
from forcing.engine.work.tasks import make_task
from forcing.errors import Finding, Several
from forcing.model import LotPlan, PlaceLoad, Season, Task
from forcing.text import listed, number
from forcing.units import TemperatureUnit, show_temperature

NAMED = 5  # lots by name
SEVERAL = Several(
    "the bulbs of {names} wait dry for longer than they bear before they are potted, up to {most} weeks",
    "Ask for them nearer to their potting, or pot them sooner: each crop's notice says which, and by when.",
)
COUNTED = 4  # crops: a line of a sheet holds no more
# In these the flower is made before they are planted, and can be seen: common practice, no source.
MADE = ("tulip", "hyacinth", "prepared hyacinth", "narcissus", "miniature narcissus", "paperwhite")
CUT = "cut a few of each to see a whole flower; "


class _Arrival(NamedTuple):
    """Bulbs that are unpacked together: those of a day that go to one store."""

    day: date
    cooled: bool  # before they came
    store_at: float  # °C


def unpacking(season: Season, plans: Sequence[LotPlan], context: Context) -> tuple[Task, ...]:
    """Unpacking of the bulbs on the working day on which they are in hand, once for each store they go to."""
    together: dict[_Arrival, list[LotPlan]] = {}
    for plan in plans:
        if (day := season.in_hand(plan.lot)) is not None and plan.lot.pots:
            cooled = plan.lot.precooled_weeks > 0
            arrival = _Arrival(season.calendar.on_or_after(day), cooled, store_at(plan))
            together.setdefault(arrival, []).append(plan)
    return tuple(
        make_task(
            context, "unpack", f"{arrival.day}", turn, arrival.day, pots=float(sum(p.lot.pots for p in lots)),
            lot=lots[0].lot.name if len(lots) == 1 else None, look_for=_look_for(arrival, lots, season.unit),
        )
        for turn, (arrival, lots) in enumerate(sorted(together.items()), 1)
    )  # fmt: skip


def store_at(plan: LotPlan) -> float:
    """Temperature [°C] at which the bulbs of a lot wait; those that come cooled stay cool."""
    recipe = plan.recipe
    return min(recipe.store_at, recipe.cooled_at) if plan.lot.precooled_weeks else recipe.store_at


def _look_for(arrival: _Arrival, lots: Sequence[LotPlan], unit: TemperatureUnit) -> str:
    bulbs: dict[str, float] = {}
    for p in lots:
        each = p.lot.bulbs_per_pot or p.recipe.bulbs_per_pot
        bulbs[p.recipe.crop] = bulbs.get(p.recipe.crop, 0.0) + p.lot.pots * each
    most = sorted(bulbs.items(), key=lambda item: (-item[1], item[0]))
    counted = listed([f"{number(count, 0)} {crop}" for crop, count in most], COUNTED)
    cooled = " (they were cooled: not into the warm)" if arrival.cooled else ""
    cut = CUT if bulbs.keys() & set(MADE) else ""
    return (
        f"trays at {show_temperature(arrival.store_at, unit)}{cooled}, air, no fruit near; {cut}soft or mouldy ones "
        f"out (gloves, dust mask); count, spares included: {counted} bulbs; potting from "
        f"{min(p.potting for p in lots)} on"
    )


# ---------------------------------------------------------------- too long


def store_findings(
    season: Season, plans: Sequence[LotPlan], loads: Sequence[PlaceLoad], on: date
) -> Iterator[Finding]:
    """Bulbs that wait too long before they are potted, and pots that wait too long for their cooler."""
    yield from _dry_too_long(season, plans, loads, on)
    yield from _warm_too_long(season, plans, on)


def _warm_too_long(season: Season, plans: Sequence[LotPlan], on: date) -> Iterator[Finding]:
    """Lots that are to stand potted in the warm for longer than they bear, before they go into the cooler."""
    for plan in plans:
        if plan.cooler_in is None or plan.cooler_in < on or not plan.lot.pots:
            continue
        days, most = (plan.cooler_in - plan.potting).days, plan.recipe.potted_wait
        if days > most:
            sooner = season.calendar.on_or_before(plan.potting + timedelta(days=int(most)))
            by = (
                f"Put it into its cooler by {sooner}"
                if sooner > plan.potting
                else "Pot it nearer to its cooler"
            )
            yield Finding(
                "potted-waits", "warning", "lots", plan.lot.row, "cooler",
                f"{plan.lot.name} stands potted in the warm for {days} days before it goes into the cooler on "
                f"{plan.cooler_in}; {most:g} are what {plan.recipe.crop} bears",
                f"{by}, or let it wait as cool as {show_temperature(plan.recipe.rooting_at, season.unit)}.",
                lot=plan.lot.name, number=days, days=(plan.potting, plan.cooler_in),
            )  # fmt: skip


def _dry_too_long(
    season: Season, plans: Sequence[LotPlan], loads: Sequence[PlaceLoad], on: date
) -> Iterator[Finding]:
    """For each crop: the lots still to be potted on `on` whose bulbs are to wait dry for longer than they bear."""
    late: dict[str, list[tuple[LotPlan, date]]] = {}
    potted = {entry.lot for entry in season.log if entry.date <= on}
    for plan in plans:
        came = season.in_hand(plan.lot)
        if came is None or not plan.lot.pots or plan.lot.name in potted:
            continue
        by = came + timedelta(days=int(plan.recipe.pot_by * 7))
        if plan.potting > by:
            late.setdefault(plan.recipe.crop, []).append((plan, by))
    for crop, these in late.items():
        longest = round(max((plan.potting - by).days / 7 + plan.recipe.pot_by for plan, by in these), 1)
        lots = tuple(plan.lot.name for plan, _ in these)
        yield Finding(
            "potted-late", "warning", "lots", these[0][0].lot.row, "in hand",
            f"the bulbs of {listed(lots, NAMED)} ({crop}) wait dry for up to {longest:g} weeks before they are potted; "
            f"{these[0][0].recipe.pot_by:g} are what they bear",
            _what_to_do(season, these, loads), lot=lots[0] if len(lots) == 1 else None, lots=lots, number=longest,
            days=(min(by for _, by in these), max(plan.potting for plan, _ in these)), several=SEVERAL,
        )  # fmt: skip


def _what_to_do(season: Season, late: Sequence[tuple[LotPlan, date]], loads: Sequence[PlaceLoad]) -> str:
    """Potting sooner where cold and room allow it; for the others a later delivery, or the best store."""
    sooner = [(plan, day) for plan, by in late if (day := _sooner(season, plan, by, loads)) is not None]
    names = {plan.lot.name for plan, _ in sooner}
    rest = [plan for plan, _ in late if plan.lot.name not in names]
    words = []
    if sooner:
        first, last = min(day for _, day in sooner), max(day for _, day in sooner)
        by = str(first) if first == last else f"{first} to {last}"
        words.append(
            f"{listed([p.lot.name for p, _ in sooner], NAMED)} may be potted by {by}: their cooler has room"
        )
    if rest:
        come = min(p.potting - timedelta(days=int(p.recipe.pot_by * 7)) for p in rest)
        which = listed([p.lot.name for p in rest], NAMED) if sooner else "them"
        words.append(
            f"ask for {which} to come about {come}, {rest[0].recipe.pot_by:g} weeks before potting, and state that day "
            "as in hand"
        )
    at = show_temperature(store_at(late[0][0]), season.unit)
    text = f"{'; '.join(words)}. Until then keep them dry and airy at {at}, and look for soft ones before potting."
    return text[:1].upper() + text[1:]


def _sooner(season: Season, plan: LotPlan, by: date, loads: Sequence[PlaceLoad]) -> date | None:
    """The last working day up to `by` on which it may be potted and put into its cooler; None: too much cold, or full.

    The cold that more days in the cooler give is taken in full, so that it never comes to more than is reckoned with.
    """
    if plan.cooler_in is None:
        return season.calendar.on_or_before(by)
    day = season.calendar.on_or_before(by)
    into = season.calendar.after(day)
    cooler = plan.place_on(plan.cooler_in)
    came = season.in_hand(plan.lot)
    if (
        came is None
        or day < came
        or plan.cold_weeks + (plan.cooler_in - into).days / 7 > plan.recipe.cold_max
    ):
        return None
    return day if _has_room(loads, cooler, Span(into, plan.cooler_in), pot_area(plan)) else None


def _has_room(loads: Sequence[PlaceLoad], place: str | None, span: Span, area: float) -> bool:
    for load in loads:
        if load.place == place and load.capacity is not None:
            first = (span.start - load.start).days
            there = load.pots[max(0, first) : max(0, first + span.days)]
            return max(there, default=0.0) + area <= load.capacity + FULL
    return True
