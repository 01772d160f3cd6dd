"""The work on the companions: order, sow, transplant, pinch, harden off, set out, each on a working day."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from forcing.crops.companion_book import companion_minutes
from forcing.engine.companions import CompanionPlan
from forcing.model import Minutes, Season, Task, TaskState
from forcing.units import show_temperature

_CAUTIONS: Mapping[str, tuple[str, ...]] = {
    "transplant": ("lifting", "wet floor"),
    "harden off": ("lifting",),
    "set out": ("lifting", "wet floor"),
}


def companion_tasks(
    season: Season, plans: Sequence[CompanionPlan], minutes: Mapping[str, Minutes], on: date
) -> tuple[Task, ...]:
    """The work on the companions in order of day and name, with its state as seen on day `on`.

    `minutes` are those of all tasks; sowing, transplanting and pinching are shipped with the companions and may
    be overruled there. The log is of lots, so that work before `on` is `not logged`.
    """
    times = {row.task: row for row in companion_minutes()} | dict(minutes)
    tasks = []
    for plan in plans:
        for task, turn, day, pots, place, to, look_for in _moments(season, plan):
            row = times[task]
            hours = round((row.each_time + row.per_pot * pots) / 60, 3)
            key, name = f"{task}/{plan.companion.name}/{turn}", plan.companion.name
            state: TaskState = "planned" if day > on else "due" if day == on else "not logged"
            tasks.append(
                Task(key, day, name, task, pots, hours, place, to, look_for, _CAUTIONS.get(task, ()), state)
            )
    return tuple(sorted(tasks, key=lambda t: (t.date, t.lot or "", t.key)))


_Moment = tuple[str, int, date, float, str | None, str | None, str]


def _moments(season: Season, plan: CompanionPlan) -> Iterator[_Moment]:
    """(task, turn, day, pots, place, to, look for) of a companion, from ordering to setting out."""
    pots, unit, recipe = float(plan.companion.pots), season.unit, plan.recipe
    germinate = show_temperature(recipe.germinate_at, unit)
    yield (
        "order",
        1,
        plan.order,
        pots,
        None,
        None,
        "seed (or plugs for the transplant day), labels, delivery date",
    )
    yield "sow", 1, plan.sow, pots, None, None, f"fresh seed, clean trays, label; germinates at {germinate}"
    look_for = "roots hold the plug together; water in; label; shade for the first days"
    yield "transplant", 1, plan.transplant, pots, None, plan.place, look_for
    if plan.pinch is not None:
        yield "pinch", 1, plan.pinch, pots, plan.place, None, "tips out above a pair of leaves; clean hands"
    harden_to = None if plan.harden_at == plan.place else plan.harden_at
    # Shade, wind and the limit of 45 °F at the start: California Master Gardener Handbook (UC ANR).
    cold = show_temperature(7.0, unit, 0)
    look_for = f"shade first, sun after a week; out of wind; less water; not below {cold} in the first days"
    yield "harden off", 1, plan.harden, pots, plan.place, harden_to, look_for
    look_for = (
        "bushy and in bud or flower; hardened two weeks; no hard frost forecast; evenly over the containers"
    )
    shows = [step for step in plan.steps if step.step == "show"]
    for turn, step in enumerate(shows, start=1):
        yield "set out", turn, plan.set_out, step.pots, plan.harden_at, step.place, look_for
    if not shows:
        yield "set out", 1, plan.set_out, pots, plan.harden_at, None, look_for
