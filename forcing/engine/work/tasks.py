"""The work a plan asks for: every task with its day, lot, place, pots, hours, what to look for, cautions."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from types import MappingProxyType

from forcing.dates import DAY, WEEK, iso_week
from forcing.engine.companions import CompanionPlan
from forcing.engine.work.orders import bulb_order_day
from forcing.errors import Finding
from forcing.model import Event, LogEntry, LotPlan, Minutes, RoomSetting, Season, Step, Task, TaskState
from forcing.recipes.book import companion_minutes
from forcing.units import show_temperature

CAUTIONS: Mapping[str, str] = MappingProxyType(
    {
        "bulbs": (
            "Bulbs and sap: tulip, hyacinth and narcissus can inflame the skin and dust can irritate the airways. "
            "Nitrile gloves, long sleeves, no dry sweeping; wash hands and clothes. All parts are poisonous "
            "to eat: keep away from food, children and pets."
        ),
        "lifting": (
            "Lifting: use the trolley, two people for heavy crates, load close to the body, no twisting. "
            "23 kg is an upper limit in ideal conditions only; follow the house's rules."
        ),
        "cold room": (
            "Cold room: warm clothes, tell someone, never alone behind a closed door; check that the door opens "
            "from inside and that the vents work. No fruit in the room: it harms the buds."
        ),
        "wet floor": "Wet floors: clear hoses, mop spills, shoes with grip; keep electrics dry.",
        "cement": (
            "Cement: wet cement is caustic and burns late, without pain at first; dust harms lungs and eyes. "
            "Waterproof gloves, long sleeves, eye protection, dust mask when mixing dry; wash splashes off at once, "
            "do not wait for pain; take soaked clothes off; see a doctor for burns or anything in the eye."
        ),
        "ladder": "Ladders: stand them on firm ground, keep three points of contact, never the top steps.",
        "chemicals": (
            "Growth regulators, dips and sprays: only as the label and local law allow, by licensed staff "
            "with the protective kit the label names; keep to the re-entry time."
        ),
    }
)


TASKS = (
    "order", "pot", "into cooler", "root check", "step down", "bring in", "check shoots", "check bud",
    "check colour", "turn and space", "hold", "harden off", "set out",
)  # fmt: skip

# What proves a task done: its own event or any that can only come after it.
_EVENTS: tuple[Event, ...] = (
    "potted", "cooler in", "rooted", "brought in", "shoots", "bud", "colour", "bloom", "set out", "faded",
)  # fmt: skip
PROOF: Mapping[str, Event] = {
    "order": "potted",
    "pot": "potted",
    "into cooler": "cooler in",
    "root check": "rooted",
    "bring in": "brought in",
    "check shoots": "shoots",
    "check bud": "bud",
    "check colour": "colour",
    "hold": "held",
    "set out": "set out",
}
UNLOGGED = ("order", "step down", "turn and space", "harden off")  # no event of the log records these

LOOK_FOR: Mapping[str, str] = {
    "order": "cultivar, bulb size, count with spares, delivery date",
    "pot": "firm clean bulbs; discard soft or mouldy ones; noses level with the mix; label; water in",
    "into cooler": "labels readable; pots moist; room dark and vented; note the thermometer",
    "root check": "white roots at the drain holes in several pots of the lot; pots moist",
    "bring in": "shoots standing; roots at the holes; first days dim and on the cool side",
    "check shoots": "leaves well up and green on the typical pot: log the stage",
    "check bud": "flower bud clear of the leaves on the typical pot: log the stage",
    "check colour": "first colour on the buds of the typical pot: log the stage",
    "turn and space": "turn the pots; leaves not touching the next pot; check water",
    "hold": "whole bud coloured, still closed; dry leaves before they go into the cold",
    "harden off": "shelter from wind and sun at first; less water",
    "set out": "stems firm; no hard frost forecast; spread the bloom evenly over the containers",
}
CAUTIONS_OF: Mapping[str, tuple[str, ...]] = {
    "pot": ("bulbs", "lifting"),
    "into cooler": ("lifting", "cold room"),
    "root check": ("cold room",),
    "step down": ("cold room",),
    "bring in": ("lifting", "cold room", "wet floor"),
    "turn and space": ("wet floor",),
    "hold": ("lifting", "cold room"),
    "harden off": ("lifting",),
    "set out": ("lifting", "wet floor"),
}


def all_tasks(
    season: Season,
    plans: Sequence[LotPlan],
    rooms: Sequence[RoomSetting],
    minutes: Mapping[str, Minutes],
    on: date,
) -> tuple[Task, ...]:
    """Every task of the season in order of day, place and lot, with its state as seen on day `on`."""
    made = [task for plan in plans for task in _lot_tasks(season, plan, minutes)]
    made.extend(_step_downs(season, rooms, plans, minutes))
    log = [entry for entry in season.log if entry.date <= on]
    logged = _logged(log)
    seen = [_with_state(task, logged, on, bool(log)) for task in made]
    return in_order(seen)


def in_order(tasks: Iterable[Task]) -> tuple[Task, ...]:
    """Tasks in order of day, place and lot."""
    return tuple(sorted(tasks, key=lambda t: (t.date, t.place or "", t.lot or "", t.key)))


def week_hours_findings(season: Season, tasks: Sequence[Task]) -> Iterator[Finding]:
    """Weeks whose tasks need more staff hours than the season has."""
    if season.hours_per_week is None:
        return
    hours: dict[str, float] = {}
    for task in tasks:
        week = iso_week(task.date)
        hours[week] = hours.get(week, 0.0) + task.hours
    for week, total in sorted(hours.items()):
        if total > season.hours_per_week + 1e-6:
            yield Finding(
                "hours-short", "warning", "season", None, "hours per week",
                f"{week} needs {total:.1f} staff hours, {total - season.hours_per_week:.1f} more than there are",
                "Pot part of it in an earlier week, ask for help that week, or check the minutes table.",
                f"{season.hours_per_week:g}",
            )  # fmt: skip


# ---------------------------------------------------------------- one lot


def _lot_tasks(season: Season, plan: LotPlan, minutes: Mapping[str, Minutes]) -> Iterator[Task]:
    for task, turn, day, place, to in _moments(season, plan):
        look_for = LOOK_FOR.get(task, "")
        if task == "bring in" and turn > 1:
            look_for = "back from the cold hold: buds still closed, leaves dry"
        yield Task(
            key=f"{task}/{plan.lot.name}/{turn}",
            date=day,
            lot=plan.lot.name,
            task=task,
            pots=float(plan.lot.pots),
            hours=_hours(minutes, task, plan.lot.pots),
            place=place,
            to=to,
            look_for=look_for,
            cautions=CAUTIONS_OF.get(task, ()),
        )


def _moments(season: Season, plan: LotPlan) -> Iterator[tuple[str, int, date, str | None, str | None]]:
    """(task, turn, day, place, to) of a lot, from ordering to setting out."""
    calendar = season.calendar
    yield "order", 1, bulb_order_day(season, plan), None, None
    yield "pot", 1, plan.potting, None, None
    cooler = next((s.place for s in plan.steps if s.step in ("root", "cool")), None)
    # A lot that had faded by then was never on a bench.
    first = next((s.place for s in plan.steps if s.span.start == plan.bring_in), None)
    if plan.cooler_in is not None:
        yield "into cooler", 1, plan.cooler_in, None, cooler
    if (
        plan.rooted is not None
        and plan.cooler_in is not None
        and plan.cooler_in < plan.rooted < plan.bring_in
    ):
        yield "root check", 1, min(calendar.on_or_after(plan.rooted), plan.bring_in), cooler, None
    set_out_at_once = plan.install is not None and plan.install <= plan.bring_in
    if not set_out_at_once:
        yield "bring in", 1, plan.bring_in, cooler, first
    for stage in ("shoots", "bud", "colour"):
        day = calendar.on_or_after(plan.stages[stage])
        if plan.bring_in < day < plan.bloom:
            yield f"check {stage}", 1, day, _place_on(plan, day), None
    yield from _bench_turns(season, plan)
    yield from _moves(season, plan, cooler)


def _bench_turns(season: Season, plan: LotPlan) -> Iterator[tuple[str, int, date, str | None, str | None]]:
    """Turning and spacing each week that the lot stands on a bench before bloom."""
    turn = 0
    for step in plan.steps:
        if step.step != "bench":
            continue
        day = step.span.start + WEEK
        while day < step.span.end:
            worked = season.calendar.on_or_after(day)
            if worked < step.span.end:
                turn += 1
                yield "turn and space", turn, worked, step.place, None
            day += WEEK


def _moves(
    season: Season, plan: LotPlan, cooler: str | None
) -> Iterator[tuple[str, int, date, str | None, str | None]]:
    """Holding, bringing back, hardening off and setting out."""
    calendar, before, brought = season.calendar, None, 1
    site_steps = _site_step(season, plan)
    for step in plan.steps:
        if step.step == "hold":
            yield "hold", 1, step.span.start, before.place if before else None, cooler
        elif step.step == "bench" and before is not None and before.step == "hold":
            brought += 1
            yield "bring in", brought, calendar.on_or_after(step.span.start), cooler, step.place
        elif step.step == "harden" and step.place != site_steps and before is not None:
            yield "harden off", 1, step.span.start, before.place, step.place
        if (
            site_steps is not None
            and step.place == site_steps
            and before is not None
            and before.place != site_steps
        ):
            yield "set out", 1, calendar.on_or_before(step.span.start), before.place, site_steps
        before = step


def _site_step(season: Season, plan: LotPlan) -> str | None:
    """The place where the lot is on show, when it is set out at all."""
    if plan.install is None or plan.lot.display is None:
        return None
    return season.display(plan.lot.display).site


def _place_on(plan: LotPlan, day: date) -> str | None:
    step: Step | None = next((s for s in plan.steps if day in s.span), None)
    return step.place if step else None


# ---------------------------------------------------------------- rooms


def _step_downs(
    season: Season, rooms: Sequence[RoomSetting], plans: Sequence[LotPlan], minutes: Mapping[str, Minutes]
) -> Iterator[Task]:
    """Setting a room to another temperature while lots stand in it."""
    for place in season.places:
        settings = sorted((r for r in rooms if r.place == place.name), key=lambda r: r.span.start)
        turn = 0
        for before, after in itertools.pairwise(settings):
            pots = sum(p.lot.pots for p in plans if _place_on(p, after.span.start - DAY) == place.name)
            if pots == 0 or (before.day, before.night) == (after.day, after.night):
                continue
            turn += 1
            down = after.mean < before.mean
            task = "step down" if place.kind == "cooler" and down else "set temperature"
            reason = f" ({after.reason})" if after.reason else ""
            yield Task(
                key=f"step down/{place.name}/{turn}",
                date=season.calendar.on_or_after(after.span.start),
                lot=None,
                task=task,
                pots=float(pots),
                hours=_hours(minutes, "step down", 0),
                place=place.name,
                look_for=f"set {_setting_words(season, after)}{reason}; read it again next day",
                cautions=CAUTIONS_OF["step down"] if place.kind == "cooler" else (),
            )


def _setting_words(season: Season, setting: RoomSetting) -> str:
    if setting.day == setting.night:
        return show_temperature(setting.day, season.unit)
    day, night = (show_temperature(t, season.unit) for t in (setting.day, setting.night))
    return f"{day} by day, {night} by night"


# ---------------------------------------------------------------- hours and states


def _hours(minutes: Mapping[str, Minutes], task: str, pots: float) -> float:
    row = minutes[task]
    return round((row.each_time + row.per_pot * pots) / 60, 3)


def _logged(log: Sequence[LogEntry]) -> dict[str, set[Event]]:
    """The events each lot has had, with those that must have come before them."""
    out: dict[str, set[Event]] = {}
    for entry in log:
        events = out.setdefault(entry.lot, set())
        events.add(entry.event)
        if entry.event in _EVENTS:
            events.update(_EVENTS[: _EVENTS.index(entry.event)])
    return out


def _with_state(task: Task, logged: Mapping[str, set[Event]], on: date, keeps_log: bool) -> Task:
    state: TaskState = "planned"
    proof = PROOF.get(task.task)
    if task.lot is not None and proof is not None and proof in logged.get(task.lot, set()):
        state = "done"
    elif task.date == on:
        state = "due"
    elif task.date < on:
        tracked = keeps_log and proof is not None and task.task not in UNLOGGED and task.key.endswith("/1")
        state = "overdue" if tracked else "not logged"
    if state == "planned":
        return task
    return Task(
        task.key, task.date, task.lot, task.task, task.pots, task.hours, task.place, task.to,
        task.look_for, task.cautions, state,
    )  # fmt: skip


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
        for task, turn, day, pots, place, to, look_for in _companion_moments(season, plan):
            row = times[task]
            hours = round((row.each_time + row.per_pot * pots) / 60, 3)
            key, name = f"{task}/{plan.companion.name}/{turn}", plan.companion.name
            state: TaskState = "planned" if day > on else "due" if day == on else "not logged"
            tasks.append(
                Task(key, day, name, task, pots, hours, place, to, look_for, _CAUTIONS.get(task, ()), state)
            )
    return tuple(sorted(tasks, key=lambda t: (t.date, t.lot or "", t.key)))


_Moment = tuple[str, int, date, float, str | None, str | None, str]


def _companion_moments(season: Season, plan: CompanionPlan) -> Iterator[_Moment]:
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
