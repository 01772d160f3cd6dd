"""After the show: containers cleared, what is worth saving saved, rooms and pots cleaned, and a look back.

The rule. A display is cleared on the first working day after it has closed; rooms are cleaned once the show is over and
their last pot has left; the review comes a week after the show. What is kept follows the crop: bulbs that come again
outdoors are planted out with their leaves on; those that seldom flower again go to the compost, and what looks ill
never does.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import timedelta
from types import MappingProxyType

from forcing.dates import DAY, WEEK
from forcing.engine.context import Context
from forcing.engine.show.standing import Standing
from forcing.engine.work.tasks import make_task
from forcing.model import LotPlan, PlaceLoad, Season, Task

_COMPOST = "compost: forced bulbs of these seldom flower well again"
_OUT = "plant out with the leaves on, feed once, let the leaves die down"
# What becomes of a crop once it has been forced: common practice, no source; from memory.
KEPT: Mapping[str, str] = MappingProxyType({
    "narcissus": _OUT, "miniature narcissus": _OUT, "crocus": _OUT, "muscari": _OUT, "scilla": _OUT,
    "iris reticulata": _OUT, "lily": _OUT, "amaryllis": "grow on in the pot: leaves on, feed, dry rest in autumn",
})  # fmt: skip


def after_tasks(
    season: Season, plans: Sequence[LotPlan], found: Sequence[Standing], loads: Sequence[PlaceLoad], context: Context
) -> tuple[Task, ...]:  # fmt: skip
    """The work after a show: none where the season has no display. KeyError without the minutes of its tasks."""
    if not found:
        return ()
    crops = {plan.lot.name: plan.lot.crop for plan in plans}
    cleared = [task for stand in found for task in _cleared(season, stand, crops, context)]
    day = season.calendar.on_or_after(season.span.end + WEEK)
    review = make_task(
        context, "look back", "season", 1, day,
        look_for="log the last blooms and fades and the hours; run the review; keep its figures for the next season; "
        "note what visitors liked; order while it is fresh",
    )  # fmt: skip
    return (*cleared, *_cleaned(season, loads, context), review)


def _cleared(season: Season, stand: Standing, crops: Mapping[str, str], context: Context) -> Iterator[Task]:
    """The day on which what still stands in a display goes."""
    left = [piece for piece in stand.pieces if piece.end is None]
    if not left or not stand.display.span.days:
        return
    ways: dict[str, list[str]] = {}
    for piece in left:
        ways.setdefault(KEPT.get(crops.get(piece.lot, ""), _COMPOST), []).append(piece.lot)
    words = "; ".join(f"{', '.join(dict.fromkeys(lots))}: {way}" for way, lots in ways.items())
    yield make_task(
        context, "clear", stand.display.name, 1, season.calendar.on_or_after(stand.display.span.end),
        pots=float(sum(piece.pots for piece in left)), place=stand.display.site,
        look_for=f"{stand.display.name}: {words}; anything mouldy or odd into a bag and the bin; tip or top up the mix",
    )  # fmt: skip


def _cleaned(season: Season, loads: Sequence[PlaceLoad], context: Context) -> Iterator[Task]:
    """Coolers, benches and frames, once they are empty for good and nobody is busy with the show."""
    for load in loads:
        place = season.place(load.place)
        days = [i for i, pots in enumerate(load.pots) if pots > 0]
        if place.kind == "site" or not days:
            continue
        empty = load.start + timedelta(days=days[-1]) + DAY
        yield make_task(
            context, "clean", place.name, 1, season.calendar.on_or_after(max(empty, season.span.end)), place=place.name,
            look_for="empty it; sweep up damp, wash down, then a disinfectant as its label says; rinse, dry, air; wash "
            "pots, trays and labels first, thermometers apart; note what wants mending",
        )  # fmt: skip
