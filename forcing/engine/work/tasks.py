"""The work a plan asks for: every task with its day, lot, place, pots, hours, what to look for, cautions."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import replace
from datetime import date, timedelta
from types import MappingProxyType

from forcing.dates import DAY, Span, monday
from forcing.engine.companions import CompanionPlan
from forcing.engine.context import Context
from forcing.engine.log import companion_history
from forcing.engine.replan import FORGOTTEN
from forcing.engine.work.orders import bulb_order_day, companion_order_day, first_potting
from forcing.engine.work.rules import (
    BACK_FROM_HOLD,
    NO_COLD,
    RULES,
    LotDays,
    Moment,
    Stand,
    TaskRule,
    moments,
)
from forcing.errors import Finding, Several
from forcing.model import (
    COMPANION_EVENTS,
    Event,
    LogEntry,
    Lot,
    LotPlan,
    Recipe,
    RoomSetting,
    Season,
    Task,
    TaskState,
)
from forcing.recipes.book import shipped_look_for
from forcing.text import listed, some
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
        "mould": (
            "Rot and mould: dust and spores of mouldy bulbs inflame the airways. Do not shake or smell them; mask and "
            "gloves, damp them down, bag them where they lie, bin the bag closed and not on the compost."
        ),
        "ethylene": (
            "Ventilation: ethylene from fruit, faded flowers, rot, engines and badly burning heaters kills buds, and "
            "fumes and stale air harm people. Run the vents or open the door before work; no engines inside."
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

NOTHING_LOGGED: Mapping[str, Set[Event]] = MappingProxyType({})

NOT_KEPT = Several(
    "the log of {count} lots lacks what was expected by now: {names}",
    "Log what was done: until then it is taken to have gone as planned.",
)

# An event of the log proves the ones before it too.
_LIFE: tuple[Event, ...] = (
    "potted", "cooler in", "rooted", "brought in", "shoots", "bud", "colour", "bloom", "set out", "faded",
)  # fmt: skip


def make_task(
    context: Context,
    task: str,
    name: str,
    turn: int | str,
    day: date,
    *,
    pots: float = 0.0,
    lot: str | None = None,
    place: str | None = None,
    to: str | None = None,
    kind: str | None = None,
    look_for: str | None = None,
    cautions: tuple[str, ...] | None = None,
    count: float | None = None,
    hours: float | None = None,
    logged: Mapping[str, Set[Event]] = NOTHING_LOGGED,
) -> Task:
    """A task with its key, hours and state as seen on the day of `context`.

    Rule, minutes and key are those of `kind` (None: the task's own). `count`: what the minutes for each pot count,
    where that is not `pots`. `hours`, `cautions` and `look_for` stand in for those of the minutes and the rule.
    `logged`: what is logged of each lot. Raises KeyError where the minutes have no such kind.
    """
    kind = kind or task
    rule = RULES.get(kind, TaskRule())
    if hours is None:
        row = context.minutes[kind]
        hours = round((row.each_time + row.per_pot * (pots if count is None else count)) / 60, 3)
    return Task(
        f"{kind}/{name}/{turn}", day, lot, task, pots, hours, place, to,
        rule.look_for if look_for is None else look_for,
        rule.cautions if cautions is None else cautions,
        _state(context.on, rule, day, logged, lot, turn == 1),
    )  # fmt: skip


def _state(
    on: date, rule: TaskRule, day: date, logged: Mapping[str, Set[Event]], lot: str | None, first: bool
) -> TaskState:
    if lot is not None and rule.proof in logged.get(lot, ()):
        return "done"
    if day >= on:
        return "due" if day == on else "planned"
    # A house that logs nothing has nothing overdue; nor can the log tell the second time from the first.
    return "overdue" if logged and rule.expected and first else "not logged"


def events_logged(log: Iterable[LogEntry], on: date) -> Mapping[str, Set[Event]]:
    """The events each lot has had by day `on`, with those that must have come before them."""
    out: dict[str, set[Event]] = {}
    for entry in log:
        if entry.date <= on:
            earlier = _LIFE[: _LIFE.index(entry.event)] if entry.event in _LIFE else ()
            out.setdefault(entry.lot, set()).update((entry.event, *earlier))
    return out


def all_tasks(
    season: Season, plans: Sequence[LotPlan], rooms: Sequence[RoomSetting], context: Context
) -> tuple[Task, ...]:
    """Every task of the lots and rooms in order of day, place and lot, with its state as seen on the day."""
    logged, first = events_logged(season.log, context.on), first_potting(plans)
    made = [
        task
        for plan in plans
        for task in _believed(season, list(_lot_tasks(season, plan, first, context, logged)), context.on)
    ]
    return in_order((*_turned_together(plans, made, context.on), *_step_downs(season, rooms, plans, context)))


TURN = "turn and space"


def _turned_together(plans: Sequence[LotPlan], tasks: Sequence[Task], on: date) -> Iterator[Task]:
    """The turns of a bench in a week on one day, that on which most pots are due, so that it is walked once.

    A lot that is not there on that day keeps its own; none is turned twice in a walk, as closed days would have it.
    """
    turned: set[tuple[str, date]] = set()
    steps = {plan.lot.name: plan.steps for plan in plans}
    due: dict[tuple[str | None, date], dict[date, float]] = {}
    for task in tasks:
        if task.task == TURN:
            pots = due.setdefault((task.place, monday(task.date)), {})
            pots[task.date] = pots.get(task.date, 0.0) + task.pots
    for task in tasks:
        if task.task != TURN or task.state == "closed" or task.lot is None:
            yield task
            continue
        pots = due[task.place, monday(task.date)]
        day = min(pots, key=lambda each: (-pots[each], each))
        there = any(s.step == "bench" and s.place == task.place and day in s.span for s in steps[task.lot])
        day = day if there else task.date
        if (task.lot, day) not in turned:
            turned.add((task.lot, day))
            yield replace(task, date=day, state=_state(on, RULES[TURN], day, NOTHING_LOGGED, None, False))


def _believed(season: Season, tasks: Sequence[Task], on: date) -> Iterator[Task]:
    """The tasks of a lot: closed after the show; where its log was not kept, nothing behind it is overdue.

    One thing overdue may be undone. Of several that follow one another, or one of long ago, it is the log that is not
    kept.
    """
    over = on >= season.span.end
    behind = [task for task in tasks if task.state == "overdue" and task.date < on]
    gap = len(behind) > 1 or any(task.date < on - FORGOTTEN for task in behind)
    for task in tasks:
        if over and task.state != "done":
            yield replace(task, state="closed")
        else:
            yield replace(task, state="not logged") if gap and task in behind else task


def lapsed(task: Task) -> bool:
    """Whether the log should show by now that it was done, and does not, nor anything after it."""
    expected = RULES.get(task.task, TaskRule()).expected and task.key.endswith("/1")
    return task.state == "not logged" and expected


def log_gaps(season: Season, tasks: Iterable[Task], on: date) -> Iterator[Finding]:
    """A note for each lot whose log was not kept, and one that the show is over and what was open is closed."""
    last: dict[str, date] = {}
    for entry in season.log:
        if entry.date <= on:
            last[entry.lot] = max(entry.date, last.get(entry.lot, entry.date))
    if not last:
        return  # a house that logs nothing
    rows = {lot.name: lot.row for lot in season.lots}
    behind: dict[str, list[Task]] = {}
    closed = 0
    for task in tasks:
        closed += task.state == "closed"
        if lapsed(task) and task.lot in rows:
            behind.setdefault(task.lot, []).append(task)
    for lot, missed in behind.items():
        since = f"nothing is logged since {last[lot]}" if lot in last else "nothing is logged"
        done = listed([f"{task.task} {task.date}" for task in missed], 4)
        yield Finding(
            "log-not-kept", "note", "lots", rows[lot], "lot", f"{lot}: {since}; expected by now: {done}",
            "Log what was done: until then it is taken to have gone as planned.", lot=lot, number=len(missed),
            days=(missed[0].date, missed[-1].date), several=NOT_KEPT,
        )  # fmt: skip
    if closed:
        yield Finding(
            "show-over", "note", "season", None, "closes",
            f"the show has closed: {some(closed, 'task that is', 'tasks that are')} not logged as done "
            f"{'is' if closed == 1 else 'are'} closed", "Log what was done all the same: the review learns from it.",
            number=closed, days=(on,),
        )  # fmt: skip


def in_order(tasks: Iterable[Task]) -> tuple[Task, ...]:
    """Tasks in order of day, place and lot."""
    return tuple(sorted(tasks, key=lambda t: (t.date, t.place or "", t.lot or "", t.key)))


# ---------------------------------------------------------------- one lot


def _lot_tasks(
    season: Season, plan: LotPlan, first: date | None, context: Context, logged: Mapping[str, Set[Event]]
) -> Iterator[Task]:
    calendar, name = season.calendar, plan.lot.name
    work = moments(
        _days(season, plan),
        lambda day: calendar.on_or_before(date.fromordinal(day)).toordinal(),
        lambda day: calendar.on_or_after(date.fromordinal(day)).toordinal(),
    )
    order = Moment("order", 1, bulb_order_day(season, plan, first).toordinal(), None)
    for task, turn, day, place, to in (order, *work):
        pots = plan.pots_on(date.fromordinal(day))
        if not pots:
            continue  # all of them sold by then
        if task == "dispatch":  # what is sold before is not the whole of it
            logged = {**logged, name: frozenset(logged.get(name, ())) - {"sold"}}
        made = make_task(
            context, task, name, turn, date.fromordinal(day), pots=float(pots), lot=name, place=place, to=to,
            hours=_hours(context, plan.lot, task, pots),
            look_for=BACK_FROM_HOLD if task == "bring in" and turn > 1 else _words(task, plan.recipe),
            cautions=None if plan.recipe.needs_cold else _out_of_the_cold(task), logged=logged,
        )  # fmt: skip
        due = dict(plan.was_due).get(RULES[task].proof or "looked")
        put_off = due is not None and turn == 1 and made.state in ("planned", "due")
        yield replace(made, state="overdue", was_due=due) if put_off else made


def _hours(context: Context, lot: Lot, task: str, pots: int) -> float | None:
    """The hours of a task on a lot in boxes; None: as of any lot."""
    row = context.minutes.get(task)
    return (
        None if not lot.box_cm or row is None else round((row.each_time + row.for_each(lot) * pots) / 60, 3)
    )


def _words(task: str, recipe: Recipe) -> str | None:
    """What to look for in a task on a lot; None: what the rule of the task says."""
    words = shipped_look_for().get((recipe.crop, task))
    return NO_COLD if words is None and task == "bring in" and not recipe.needs_cold else words


def _out_of_the_cold(task: str) -> tuple[str, ...]:
    """The cautions of a task on a lot that sees no cold room."""
    return tuple(key for key in RULES[task].cautions if key not in ("cold room", "ethylene"))


def _days(season: Season, plan: LotPlan) -> LotDays:
    """The days of a plan, as numbers of the calendar."""
    number = date.toordinal
    shown = plan.install is not None and plan.lot.display is not None
    return LotDays(
        number(plan.potting),
        None if plan.cooler_in is None else number(plan.cooler_in),
        None if plan.rooted is None else number(plan.rooted),
        number(plan.bring_in),
        [number(plan.stages[stage]) for stage in ("shoots", "bud", "colour")],
        number(plan.bloom),
        None if plan.install is None else number(plan.install),
        season.display(plan.lot.display or "").site if shown else None,
        [Stand(s.step, s.place, number(s.span.start), number(s.span.end)) for s in plan.steps],
        None if plan.leaves is None else number(plan.leaves),
    )


# ---------------------------------------------------------------- rooms


def _step_downs(
    season: Season, rooms: Sequence[RoomSetting], plans: Sequence[LotPlan], context: Context
) -> Iterator[Task]:
    """Setting a room to another temperature while lots stand in it."""
    for place in season.places:
        settings = sorted((r for r in rooms if r.place == place.name), key=lambda r: r.span.start)
        turn = 0
        for before, after in itertools.pairwise(settings):
            eve = after.span.start - DAY
            there = [p for p in plans if p.place_on(eve) == place.name]
            pots = sum(p.pots_on(eve) for p in there)
            if pots == 0 or (before.day, before.night) == (after.day, after.night):
                continue
            turn += 1
            cooler, reason = place.kind == "cooler", f" ({after.reason})" if after.reason else ""
            yield make_task(
                context, "step down" if cooler and after.mean < before.mean else "set temperature", place.name, turn,
                season.calendar.on_or_after(after.span.start), kind="step down", pots=float(pots), count=0,
                place=place.name, cautions=None if cooler else (),
                look_for=f"set {_setting_words(season, after)}{reason}; read it again next day",
            )  # fmt: skip


def _setting_words(season: Season, setting: RoomSetting) -> str:
    if setting.day == setting.night:
        return show_temperature(setting.day, season.unit)
    day, night = (show_temperature(t, season.unit) for t in (setting.day, setting.night))
    return f"{day} by day, {night} by night"


# ---------------------------------------------------------------- companions


def companion_tasks(season: Season, plans: Sequence[CompanionPlan], context: Context) -> tuple[Task, ...]:
    """The work on the companions in order of day and name.

    What the log shows, and what must have come before it, is done; but nothing of what was lost altogether.
    """
    logged: dict[str, set[Event]] = {}
    for companion in season.companions:
        days = companion_history(season, companion, context.on).days
        last = max((COMPANION_EVENTS.index(event) for event in days), default=-1)
        # Of bulbs potting shows that they were ordered, of these any event of theirs.
        logged[companion.name] = {*COMPANION_EVENTS[: last + 1], *(("potted",) if days else ())}
    tasks = [
        make_task(
            context, task, plan.companion.name, turn, day, pots=pots, lot=plan.companion.name,
            place=place, to=to, look_for=look_for, logged=logged,
        )
        for plan in plans
        for task, turn, day, pots, place, to, look_for in _companion_moments(season, plan)
    ]  # fmt: skip
    return tuple(sorted(tasks, key=lambda t: (t.date, t.lot or "", t.key)))


_Moment = tuple[str, int, date, float, str | None, str | None, str]


def _companion_moments(season: Season, plan: CompanionPlan) -> Iterator[_Moment]:
    """(task, turn, day, pots, place, to, look for) of a companion, from ordering to the end of its show."""
    pots, day = float(plan.companion.pots), companion_order_day(season, plan)
    yield "order", 1, day, pots, None, None, f"{plan.start}s, labels, to be here by {plan.begins}"
    yield from _raised(season, plan)
    if plan.transplant is not None:
        trays = _trays_at(plan)
        came = None if trays == plan.place else trays
        yield "transplant", 1, plan.transplant, pots, came, plan.place, _care(plan, "transplant")
        fed = Span(plan.transplant, plan.harden)  # while it is hardened it is kept lean
        for turn, day in enumerate(_weekly(season, plan.recipe.feed, fed), start=1):
            yield "feed", turn, day, pots, plan.place, None, _care(plan, "feed")
    if plan.pinch is not None:
        yield "pinch", 1, plan.pinch, pots, plan.place, None, _care(plan, "pinch")
    harden_to = None if plan.harden_at == plan.place else plan.harden_at
    # Shade, wind and the limit of 45 °F at the start: California Master Gardener Handbook (UC ANR).
    cold = show_temperature(7.0, season.unit, 0)
    look_for = f"shade first, sun after a week; out of wind; less water; not below {cold} in the first days"
    yield "harden off", 1, plan.harden, pots, plan.place, harden_to, look_for
    look_for = "bushy and in bud or flower; hardened two weeks; evenly over the containers"
    shows = [step for step in plan.steps if step.step == "show"]
    for turn, step in enumerate(shows, start=1):
        yield "set out", turn, step.span.start, step.pots, plan.harden_at, step.place, look_for
    if not shows:
        yield "set out", 1, plan.set_out, pots, plan.harden_at, None, look_for
    # Where somebody goes round, it is done on the way.
    walked = [step for step in shows if step.place and not season.goes_round(step.place)]
    days = [(day, step) for step in walked for day in _weekly(season, plan.recipe.deadhead, step.span)]
    for turn, (day, step) in enumerate(days, start=1):
        yield "deadhead", turn, day, step.pots, step.place, None, _care(plan, "deadhead")


def _raised(season: Season, plan: CompanionPlan) -> Iterator[_Moment]:
    """The work on its trays."""
    if plan.sow is None or plan.sowing is None or plan.transplant is None:
        return
    pots, recipe, sowing = float(plan.companion.pots), plan.recipe, plan.sowing
    place = _trays_at(plan)
    trays = f"{some(sowing.trays, 'tray')} of {recipe.cells_per_tray:g} cells"
    how = f"{sowing.each} to a cell, {trays}"
    if sowing.prick_out:
        how = f"{some(sowing.seeds, 'seed')} in {some(sowing.open_trays, 'open tray')}"
    how += f"; germinates at {show_temperature(recipe.germinate_at, season.unit)}"
    yield "sow", 1, plan.sow, pots, place, None, f"{how}; {_care(plan, 'sow')}"
    up = season.calendar.on_or_after(plan.sow + timedelta(days=math.ceil(recipe.comes_up)))
    if up < (sowing.prick_out or plan.transplant):
        yield "germination check", 1, up, pots, place, None, _care(plan, "germination check")
    if sowing.prick_out:
        words = f"{trays}, one to a cell; {_care(plan, 'prick out')}"
        yield "prick out", 1, sowing.prick_out, pots, place, None, words


def _trays_at(plan: CompanionPlan) -> str | None:
    """Where its trays stand; None: apart from the places of the season, or it has none."""
    return next((step.place for step in plan.steps if step.step == "sow"), None)


def _care(plan: CompanionPlan, task: str) -> str:
    """What to look for in a task on its kind, or else on any."""
    return shipped_look_for().get((plan.recipe.crop, task), RULES[task].look_for)


def _weekly(season: Season, days: float, span: Span) -> list[date]:
    """Work that comes round every so many days of a span; 0: never.

    It is done on the first working day of the week after, so that all of a house that is due is done in one walk.
    """
    start, end, every = span.start.toordinal(), span.end.toordinal(), math.ceil(days)
    weeks = {monday(date.fromordinal(due + 6)) for due in range(start + every, end, every)} if every else ()
    return sorted(day for day in {season.calendar.on_or_after(week) for week in weeks} if day < span.end)
