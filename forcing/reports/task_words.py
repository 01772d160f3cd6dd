"""Tasks on sheets: their names, their ways from place to place, whose pots they are, and which are one job."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import fsum

from forcing.model import BloomClass, Plan, Task
from forcing.text import natural, one_line, some

ARROW = "→"


@dataclass(frozen=True, slots=True)
class Whose:
    """What a task's lot (or companion) is: class, cultivar and crop (None: not stated), whether in boxes."""

    bloom_class: BloomClass | None = None
    cultivar: str | None = None
    crop: str | None = None
    in_boxes: bool = False

    def counted(self, pots: float) -> str:
        """'24 pots', '1 box'."""
        return some(pots, "box", "boxes") if self.in_boxes else some(pots, "pot")


def owners(plan: Plan) -> Mapping[str, Whose]:
    """Name of every lot and companion of the plan -> what it is."""
    season = plan.season
    found = {c.name: Whose(None, None, c.crop) for c in season.companions}
    for lot in (*season.lots, *(u.lot for u in plan.unplanned)):
        found[lot.name] = Whose(lot.bloom_class, lot.cultivar, lot.crop, bool(lot.box_cm))
    for planned in plan.lots:
        lot = planned.lot
        found[lot.name] = Whose(planned.bloom_class, lot.cultivar, lot.crop, bool(lot.box_cm))
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


# ---------------------------------------------------------------- one job

CHECKS = ("check shoots", "check bud", "check colour")  # looks at a stage: no pots are handled
ROUNDS = ("turn and space", "deadhead", "feed")  # work that is done lot after lot in one round of a place
WALK = "walk"  # several looks of one place, as they stand on paper
TICK = "☐"
_SPREAD = "; spread the bloom"  # of setting out at large; a swap says which places a lot takes
_LOGGED = "log the stage"
_Round = tuple[date, str | None, str]  # day, place, work


def joined(
    tasks: Iterable[Task], rounds: dict[str, tuple[str, ...]], *, on_paper: bool, all_walked: bool = False
) -> list[Task]:
    """The tasks, those that are one round of a place on a day as one; `rounds` gets what each of these is about.

    on_paper: the looks of a place are one walk, and what comes in at a swap is set out and swapped in one row; on a
    screen each lot keeps its own, to be logged by itself. all_walked: a look alone at its place is a walk too.
    """
    tasks = _with_swaps(list(tasks)) if on_paper else list(tasks)
    groups: dict[_Round, list[Task]] = {}
    for task in tasks:
        if (of := _round_of(task, on_paper)) is not None:
            groups.setdefault(of, []).append(task)
    ones: dict[str, Task] = {}  # key of the first of a round -> the round
    gone: set[str] = set()
    for (_, _, kind), alike in groups.items():
        if len(alike) > 1 or (all_walked and kind == WALK):
            one, about = _walk(alike) if kind == WALK else _turning(alike)
            rounds[one.key] = about
            ones[alike[0].key] = one
            gone.update(task.key for task in alike[1:])
    return [ones.get(task.key, task) for task in tasks if task.key not in gone]


def _round_of(task: Task, on_paper: bool) -> _Round | None:
    """The round that a task is part of; None: none."""
    if task.task in ROUNDS and _told_with_others(task):
        return task.date, task.place or task.to, task.task
    return (task.date, task.place or task.to, WALK) if on_paper and is_look(task) else None


def is_look(task: Task) -> bool:
    """Whether it is a look at a lot's stage that is part of a walk."""
    return task.task in CHECKS and _told_with_others(task)


def _told_with_others(task: Task) -> bool:
    """Whether it may be one with others: what is late or done is told by itself."""
    return task.state in ("planned", "due") and task.lot is not None


def _one(alike: Sequence[Task], task: str, look_for: str) -> Task:
    first = alike[0]
    return replace(
        first, task=task, lot=None, pots=fsum(t.pots for t in alike), hours=fsum(t.hours for t in alike),
        key=f"{first.key}+", look_for=look_for, cautions=tuple(dict.fromkeys(c for t in alike for c in t.cautions)),
    )  # fmt: skip


def _names(tasks: Iterable[Task]) -> list[str]:
    return sorted((one_line(task.lot or "") for task in tasks), key=natural)


def _turning(alike: Sequence[Task]) -> tuple[Task, tuple[str, ...]]:
    """One round of turning: what most lots ask for, then what others do, each with their names."""
    asked: dict[str, list[Task]] = {}
    for task in alike:
        asked.setdefault(task.look_for, []).append(task)
    usual, *others = sorted(asked, key=lambda words: -len(asked[words]))
    said = [usual, *(f"{', '.join(_names(asked[words]))}: {words}" for words in others)]
    return _one(alike, alike[0].task, ". ".join(said)), tuple(_names(alike))


def _walk(alike: Sequence[Task]) -> tuple[Task, tuple[str, ...]]:
    """One walk along a place: each stage with a box to tick for each lot, then what each stage looks like."""
    about, said = list[str](), dict[str, None]()
    for stage, mine in by_stage(alike):
        about.append(f"{stage}: {' '.join(f'{TICK} {name}' for name in _names(mine))}")
        said |= dict.fromkeys(_without_log(task.look_for) for task in mine if task.look_for)
    return replace(_one(alike, WALK, "; ".join([*said, _LOGGED])), pots=0.0), ("; ".join(about),)


def by_stage(looks: Iterable[Task]) -> list[tuple[str, list[Task]]]:
    """'shoots', 'bud', 'colour', as far as they are looked for, each with its looks, lots counting up."""
    lots = sorted(looks, key=lambda task: natural(one_line(task.lot or "")))
    found = [(stage.removeprefix("check "), [t for t in lots if t.task == stage]) for stage in CHECKS]
    return [(stage, mine) for stage, mine in found if mine]


def stages_look(looks: Iterable[Task], whose: Mapping[str, Whose]) -> list[tuple[str, str]]:
    """Each stage that is looked for with what it looks like: by crop where that differs."""
    found = []
    for stage, mine in by_stage(looks):
        kinds: dict[str, dict[str, None]] = {}
        for task in mine:
            crop = whose.get(task.lot or "", Whose()).crop or one_line(task.lot or "")
            kinds.setdefault(_without_log(task.look_for), {})[crop] = None
        said = [f"{', '.join(crops)}: {words}" if len(kinds) > 1 else words for words, crops in kinds.items()]
        found.append((stage, "; ".join(filter(None, said))))
    return found


def _without_log(words: str) -> str:
    """What to look for, without the reminder to log: a walk says that once."""
    return words.replace(f": {_LOGGED}", "").replace(f"; {_LOGGED}", "")


def _with_swaps(tasks: list[Task]) -> list[Task]:
    """The tasks, each lot that takes the places of others told once: it is set out, and what it is swapped for."""
    swaps = {(t.lot, t.date): t for t in tasks if t.task == "swap" and t.state != "done"}
    out = {
        (t.lot, t.date): t for t in tasks if t.task == "set out" and t.state != "done" and (t.lot, t.date) in swaps
    }  # fmt: skip
    both = []
    for task in tasks:
        at = (task.lot, task.date)
        if at not in out or task not in (out[at], swaps[at]):
            both.append(task)
        elif task is out[at]:
            swap, ready = swaps[at], task.look_for.partition(_SPREAD)[0]
            both.append(replace(
                task, task="set out and swap", hours=task.hours + swap.hours,
                look_for=f"{ready}. {swap.look_for}".strip(". "),
                cautions=tuple(dict.fromkeys((*task.cautions, *swap.cautions))),
            ))  # fmt: skip
    return both
