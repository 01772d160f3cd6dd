"""The words of a task that every sheet shares: its name, its way from place to place, whose pots they are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from forcing.model import BloomClass, Plan, Task
from forcing.text import one_line

ARROW = "→"


@dataclass(frozen=True, slots=True)
class Whose:
    """What a task's lot (or companion) is: class, cultivar and crop (None: not stated), whether in boxes."""

    bloom_class: BloomClass | None = None
    cultivar: str | None = None
    crop: str | None = None
    in_boxes: bool = False


def owners(plan: Plan) -> Mapping[str, Whose]:
    """Name of every lot and companion of the plan -> what it is."""
    season = plan.season
    found = {c.name: Whose(None, None, c.crop) for c in season.companions}
    for lot in (*season.lots, *(u.lot for u in plan.unplanned)):
        found[lot.name] = Whose(lot.bloom_class, lot.cultivar, lot.crop, bool(lot.box_cm))
    for planned in plan.lots:
        lot = planned.lot
        kind = lot.bloom_class or planned.recipe.bloom_class
        found[lot.name] = Whose(kind, lot.cultivar, lot.crop, bool(lot.box_cm))
    return found


def title(task: Task) -> str:
    """The task with a capital: 'Bring in'."""
    name = one_line(task.task)
    return name[:1].upper() + name[1:]


def route(task: Task) -> str:
    """'Cold room North → Bench 1'; one place alone; '→ Bench 1' where the pots come from no named place."""
    place, to = (one_line(p) if p else "" for p in (task.place, task.to))
    if to and to != place:
        return f"{place} {ARROW} {to}".strip()
    return place


def way_on(task: Task) -> str:
    """'→ Bench 1', for a task that is listed under the place it starts from (or, without one, it goes to)."""
    return f"{ARROW} {one_line(task.to)}" if task.place and task.to and task.to != task.place else ""
