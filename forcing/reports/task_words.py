"""The words of a task that every sheet shares: its name, its way from place to place, whose pots they are."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from forcing.model import BloomClass, Plan, Task
from forcing.reports.style import count

ARROW = "→"

# What a cell of a workbook may hold but no sheet can print: control characters and lone surrogates.
_UNPRINTABLE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]+")
_LONGEST = 300  # characters of one name or note: beyond that a row would outgrow its page


@dataclass(frozen=True, slots=True)
class Whose:
    """What a task's lot (or companion) is: class, cultivar and crop; None where it was not stated."""

    bloom_class: BloomClass | None = None
    cultivar: str | None = None
    crop: str | None = None


def plain(text: str, longest: int = _LONGEST) -> str:
    """User text on one line, without control characters; only beyond `longest` characters is it shortened."""
    line = " ".join(_UNPRINTABLE.sub(" ", text).split())
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def owners(plan: Plan) -> Mapping[str, Whose]:
    """Name of every lot and companion of the plan -> what it is."""
    season = plan.season
    found = {c.name: Whose(None, None, c.crop) for c in season.companions}
    for lot in (*season.lots, *(u.lot for u in plan.unplanned)):
        found[lot.name] = Whose(lot.bloom_class, lot.cultivar, lot.crop)
    for planned in plan.lots:
        lot = planned.lot
        found[lot.name] = Whose(lot.bloom_class or planned.recipe.bloom_class, lot.cultivar, lot.crop)
    return found


def title(task: Task) -> str:
    """The task with a capital: 'Bring in'."""
    name = plain(task.task)
    return name[:1].upper() + name[1:]


def route(task: Task) -> str:
    """'Cold room North → Bench 1'; one place alone; '→ Bench 1' where the pots come from no named place."""
    place, to = (plain(p) if p else "" for p in (task.place, task.to))
    if to and to != place:
        return f"{place} {ARROW} {to}".strip()
    return place


def way_on(task: Task) -> str:
    """'→ Bench 1', for a task that is listed under the place it starts from (or, without one, it goes to)."""
    return f"{ARROW} {plain(task.to)}" if task.place and task.to and task.to != task.place else ""


def some(number: float, one: str, many: str = "") -> str:
    """'1 pot', '24 pots': a count with its noun."""
    return f"{count(number)} {one if number == 1 else many or one + 's'}"


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """Sort key by which T2 comes before T10."""
    parts = re.findall(r"[0-9]+|[^0-9]+", text)
    return tuple((0, int(p), "") if p.isascii() and p.isdigit() else (1, 0, p.casefold()) for p in parts)
