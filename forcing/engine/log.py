"""What really happened to each lot, read from the log, with lots in parts, and the days on which it was looked at.

A stage that is seen on a day was reached after the look before it.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import combinations, zip_longest
from types import MappingProxyType
from typing import NamedTuple

from forcing.dates import DAY, WEEKDAYS, Span
from forcing.errors import Finding
from forcing.model import (
    COMPANION_EVENTS,
    COMPANION_ONLY,
    STAGE_EVENTS,
    AgreedLot,
    Companion,
    Event,
    LogEntry,
    Lot,
    PlaceKind,
    Season,
    StepName,
)
from forcing.text import listed

# The only order in which a lot can live. Events that are not in it (moved, held, lost) have rules of their own.
ORDER: tuple[Event, ...] = (
    "potted", "cooler in", "rooted", "brought in", "shoots", "bud", "colour", "bloom", "faded",
)  # fmt: skip
LEAVES: tuple[Event, ...] = ("lost", "sold")  # from that day on these pots are not there
# Where pots can stand in each phase of their life, and so be moved to within it.
KINDS: Mapping[StepName, tuple[PlaceKind, ...]] = MappingProxyType({
    "cool": ("cooler", "frame", "site"), "bench": ("bench", "frame"), "hold": ("cooler", "frame", "site"),
    "harden": ("site", "frame", "bench"),
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Stay:
    """From `start` on (until the next stay) a lot stands in `place`, in the phase `step`."""

    step: StepName
    place: str
    start: date


@dataclass(frozen=True, slots=True)
class Pin:
    """What was agreed of one lot: dates and choices that stay unless something real moves them."""

    lot: AgreedLot
    on: date  # the day it is seen from
    moves: tuple[Stay, ...] = ()  # of steering that was agreed to, in order of day


@dataclass(frozen=True, slots=True)
class History:
    """The logged life of one lot, and what was agreed of it; what is not logged is None or empty."""

    potted: date | None = None
    coolers: tuple[Stay, ...] = ()  # where it stood in the cold, from when
    rooted: date | None = None
    brought_in: date | None = None
    moves: tuple[Stay, ...] = ()  # from bring in on: bench, hold, set out
    stages: Mapping[str, date] = field(default_factory=dict)
    faded: date | None = None
    lost: int = 0
    sold: int = 0
    gone: tuple[
        tuple[date, int], ...
    ] = ()  # pots lost and sold, day by day: they are not there from that day on
    ended: date | None = (
        None  # the day on which the last of them were sold; None: some are left, or the last were lost
    )
    last: date | None = None
    as_of: date | None = None  # the day it is seen from: what is not logged by then is still to do
    agreed: Pin | None = None
    looks: tuple[date, ...] = ()  # days on which it was looked at since bring in, in order
    missed: Mapping[str, float] = field(default_factory=dict)  # chance that a stage is never written down

    @property
    def blank(self) -> History:
        """The same lot as it was agreed, with nothing logged."""
        return History(agreed=self.agreed)

    @property
    def fixed(self) -> bool:
        """Whether its life is not to be chosen any more: by its log, or by what was agreed."""
        return self.started or self.agreed is not None

    @property
    def cooler_in(self) -> date | None:
        return self.coolers[0].start if self.coolers else None

    @property
    def stands(self) -> Stay | None:
        """Where it stands by the log; None: it is not logged to have gone anywhere."""
        return next(reversed(self.moves or self.coolers), None)

    @property
    def first_sign(self) -> date | None:
        """The first logged day on which it must have been on the bench already; None: nothing says so."""
        return min([*self.stages.values(), *([self.faded] if self.faded else [])], default=None)

    @property
    def started(self) -> bool:
        return self.last is not None


NOTHING = History()


def histories(season: Season, on: date) -> tuple[dict[str, History], tuple[Finding, ...]]:
    """The history of every lot with log entries up to `on`, and the entries that cannot be true."""
    lots = {lot.name: lot for lot in season.lots}
    places = {place.name: place.kind for place in season.places}
    by_lot: dict[str, list[LogEntry]] = defaultdict(list)
    for entry in season.log:
        if entry.lot in lots and entry.date <= on and entry.event not in COMPANION_ONLY:
            by_lot[entry.lot].append(entry)
    out: dict[str, History] = {}
    findings: list[Finding] = list(_after_today(season.log, on))
    for name, entries in by_lot.items():
        history, kept = NOTHING, list[LogEntry]()
        # A day's entries in the order of life, whatever the order of the rows.
        for stated in sorted(entries, key=lambda e: (e.date, rank(e.event), e.row or 0)):
            # A place that is not there is told where the season is checked; the entry itself still counts.
            entry = stated if stated.place in places else replace(stated, place=None)
            fault = _fault(lots[name], history, kept, entry, places)
            if fault is not None:
                findings.append(fault)
            else:
                kept.append(entry)
                history = _after(season, lots[name], history, entry)
        findings.extend(_not_brought_in(lots[name], history, entries))
        out[name] = replace(history, as_of=on)
    return out, tuple(findings)


def rank(event: Event) -> float:
    """Where an event comes among those of one lot and day: in the order of life."""
    after: dict[Event, float] = {
        "moved": 3.5,
        "held": 6.5,
        "set out": 6.6,
        "looked": 98.0,
        "sold": 98.5,
        "lost": 99.0,
    }
    return after[event] if event in after else ORDER.index(event)


# ---------------------------------------------------------------- one entry more


def _after(season: Season, lot: Lot, history: History, entry: LogEntry) -> History:
    if entry.event == "looked":
        return history  # nothing new was seen: that alone says nothing of where it is
    history = replace(history, last=entry.date)
    match entry.event:
        case "potted":
            return replace(history, potted=entry.date)
        case "cooler in":
            place = entry.place or _usual(season, lot.cooler, "cooler")
            return replace(history, coolers=(*history.coolers, Stay("cool", place, entry.date)))
        case "rooted":
            return replace(history, rooted=entry.date)
        case "brought in":
            move = Stay("bench", entry.place or _usual(season, lot.bench, "bench"), entry.date)
            moves = (*history.moves, move)
            return replace(history, brought_in=history.brought_in or entry.date, moves=moves)
        case "moved":
            return _moved_on(history, entry.place or "", entry.date)
        case "held":
            return _moved(history, "hold", entry.place or _usual(season, lot.cooler, "cooler"), entry.date)
        case "set out":
            out = entry.place or (season.display(lot.display).site if lot.display else None)
            there = out is not None and any(place.name == out for place in season.places)
            return _moved(history, "harden", out, entry.date) if out and there else history
        case "faded":
            return replace(history, faded=entry.date)
        case "lost" | "sold":
            return _fewer(lot, history, entry)
        case _:
            return replace(history, stages={**history.stages, entry.event: entry.date})


def _fewer(lot: Lot, history: History, entry: LogEntry) -> History:
    """Without the pots that were lost or sold on a day; all that are left where no number is stated."""
    left = lot.pots - history.lost - history.sold
    pots = left if entry.pots is None else entry.pots
    gone = (*history.gone, (entry.date, pots)) if pots else history.gone
    if entry.event == "lost":
        return replace(history, lost=history.lost + pots, gone=gone)
    return replace(history, sold=history.sold + pots, gone=gone, ended=entry.date if pots == left else None)


def _moved(history: History, step: StepName, place: str, day: date) -> History:
    return replace(
        history, moves=(*history.moves, Stay(step, place, day)), brought_in=history.brought_in or day
    )


def _moved_on(history: History, place: str, day: date) -> History:
    """In another place, in the phase of its life that it was in."""
    was = history.stands
    if was is None or was.step == "cool":
        return replace(history, coolers=(*history.coolers, Stay("cool", place, day)))
    return _moved(history, was.step, place, day)


def _usual(season: Season, own: str | None, kind: PlaceKind) -> str:
    """The place that the lot names, where it is there, else the first of its kind; '' where the season has none."""
    names = [p.name for p in season.places]
    return own if own in names else next((p.name for p in season.places if p.kind == kind), "")


# ---------------------------------------------------------------- what cannot be


def _fault(
    lot: Lot, history: History, before: Sequence[LogEntry], entry: LogEntry, kinds: Mapping[str, PlaceKind]
) -> Finding | None:
    """What is wrong with an entry after those `before` it, of which `history` tells."""
    problem = (
        _twice(history, entry)
        or _out_of_order(history, entry)
        or _moved_nowhere(history, entry, kinds)
        or _no_such_room(lot, entry, kinds)
        or _too_many_lost(lot, history, entry)
    )
    if problem is None:
        return None
    other = next((e for e in before if (e.event, e.date) == problem.against), None)
    message = f"{lot.name}: {problem.message}"
    if other is not None and other.row is not None:
        message += f" (row {other.row}" + (
            ")" if other.found_in == entry.found_in else f" of {other.found_in})"
        )
    return Finding(
        "log-contradiction", "error", entry.found_in, entry.row, problem.column, message,
        problem.hint, problem.value, lot=lot.name,
    )  # fmt: skip


class LogContradiction(NamedTuple):
    """What is wrong with an entry of the log, in the words of a finding."""

    column: str
    message: str
    hint: str
    value: str
    against: tuple[Event, date] | None = None  # the entry before that it contradicts; None: no one entry


def _after_today(entries: Sequence[LogEntry], on: date) -> Iterator[Finding]:
    late = [e for e in entries if e.date > on]
    if late:
        yield Finding(
            "log-after-today", "note", late[0].found_in, late[0].row, "date",
            f"{len(late)} log {'entry is' if len(late) == 1 else 'entries are'} after {on} and left out",
            "Nothing to do if you look back on purpose; otherwise mend the dates.", str(late[0].date),
        )  # fmt: skip


def _twice(history: History, entry: LogEntry) -> LogContradiction | None:
    seen = {
        "potted": history.potted,
        "rooted": history.rooted,
        "faded": history.faded,
        **{stage: history.stages.get(stage) for stage in STAGE_EVENTS},
    }.get(entry.event)
    if entry.event == "brought in" and history.moves and history.moves[-1].step == "bench":
        seen = history.moves[-1].start
        if entry.place is not None and entry.place != history.moves[-1].place:
            return None  # from one bench to another
    if entry.event == "cooler in" and history.coolers and entry.place in (None, history.coolers[-1].place):
        seen = history.coolers[-1].start
    if seen is None:
        return None
    return LogContradiction(
        "event",
        f"{entry.event} is logged twice, first on {seen}",
        "Delete the one that is wrong; pots that were potted later are a lot of their own."
        if entry.event == "potted"
        else "Delete the one that is wrong.",
        str(entry.date),
        (entry.event, seen),
    )


def _out_of_order(history: History, entry: LogEntry) -> LogContradiction | None:
    """An event of the order of life after one that can only come later."""
    had: dict[Event, date | None] = {
        "potted": history.potted,
        "cooler in": history.cooler_in,
        "rooted": history.rooted,
        "brought in": history.brought_in,
        "faded": history.faded,
        **{stage: history.stages.get(stage) for stage in STAGE_EVENTS},
    }
    if entry.event in ORDER and not (entry.event == "brought in" and history.moves):
        for later in ORDER[ORDER.index(entry.event) + 1 :]:
            before = had.get(later)
            if entry.event == "cooler in" and later == "rooted" and history.coolers:
                continue  # from one cooler to another, once rooted
            if before is not None and before <= entry.date:
                return LogContradiction(
                    "event",
                    f"{entry.event} on {entry.date} comes after {later} on {before}",
                    "Mend the date or the event of one of them.",
                    entry.event,
                    (later, before),
                )
    if (
        entry.event in (*STAGE_EVENTS, "held", "set out", "faded")
        and history.potted is None
        and not history.started
    ):
        return LogContradiction(
            "event", f"{entry.event} is logged, but nothing before it", "Log potted, cooler in and brought in too.",
            entry.event,
        )  # fmt: skip
    return None


def _moved_nowhere(
    history: History, entry: LogEntry, kinds: Mapping[str, PlaceKind]
) -> LogContradiction | None:
    """A move that says not where to, or to what the lot cannot be moved without an event of its own."""
    if entry.event != "moved":
        return None
    was = history.stands
    if was is None:
        return LogContradiction(
            "event", "moved is logged, but not where it was", "Log cooler in or brought in too.", entry.event
        )
    if entry.place is None:
        return LogContradiction("place", "moved is logged, but not where to", "Write the place.", entry.event)
    if entry.place == was.place:
        return LogContradiction(
            "place", f"moved to where it has stood since {was.start}", "Delete the row, or correct the place.",
            entry.place,
        )  # fmt: skip
    if kinds[entry.place] not in KINDS[was.step]:
        return LogContradiction(
            "event", f"moved from {was.place} to {entry.place}, a {kinds[entry.place]}",
            "Moved is within the cold, between benches or outdoors; else write cooler in, brought in, held or set out.",
            entry.event,
        )  # fmt: skip
    return None


def _no_such_room(lot: Lot, entry: LogEntry, kinds: Mapping[str, PlaceKind]) -> LogContradiction | None:
    """Into a cooler or onto a bench that neither the entry nor its lot names, in a season that has none."""
    kind = {"cooler in": "cooler", "held": "cooler", "brought in": "bench"}.get(entry.event)
    own = lot.bench if kind == "bench" else lot.cooler
    if kind is None or entry.place or own in kinds or kind in kinds.values():
        return None
    return LogContradiction(
        "event",
        f"{entry.event} is logged, but the season has no {kind}",
        f"Add the {kind} to places.",
        entry.event,
    )


def _not_brought_in(lot: Lot, history: History, entries: Sequence[LogEntry]) -> Iterator[Finding]:
    if history.brought_in is None and history.first_sign is not None:
        entry = next(e for e in entries if e.date == history.first_sign)
        yield Finding(
            "log-not-brought-in", "warning", entry.found_in, entry.row, "event",
            f"{lot.name}: {entry.event} is logged, but not that it was brought in; it is taken to have been on the "
            "bench from the planned day, or from the last working day before",
            "Log brought in with its date: its heat is counted from that day.", entry.event, lot=lot.name,
        )  # fmt: skip


def _too_many_lost(lot: Lot, history: History, entry: LogEntry) -> LogContradiction | None:
    gone = history.lost + history.sold + (entry.pots or 0)
    if entry.event not in LEAVES or gone <= lot.pots:
        return None
    said = "lost or sold" if history.sold or entry.event == "sold" else "lost"
    return LogContradiction(
        "pots",
        f"{gone} pots are {said} in all, more than the {lot.pots} there were",
        f"Mend the number of pots {entry.event} here or in an earlier row.",
        str(entry.pots),
    )


def pots_left(lot: Lot, history: History) -> Lot:
    """The lot with the pots that are left of it."""
    gone = history.lost + history.sold
    return replace(lot, pots=max(0, lot.pots - gone)) if gone else lot


# ---------------------------------------------------------------- companions


@dataclass(frozen=True, slots=True)
class CompanionHistory:
    """What the log says of a companion: the first day of each event, and pots received and lost."""

    days: Mapping[Event, date] = field(default_factory=dict)
    received: int | None = None
    lost: int = 0
    failed: date | None = None  # the day on which all that there was of it was lost

    def left(self, companion: Companion) -> int:
        """Pots that there are, or will be: what came replaces what was planned."""
        return (companion.pots if self.received is None else self.received) - self.lost


def companion_history(season: Season, companion: Companion, on: date | None) -> CompanionHistory:
    """What is logged of a companion by a day, None: nothing. What was lost altogether is as if never begun."""
    mine = [
        e for e in season.log
        if on is not None and e.lot == companion.name and e.date <= on and e.event in COMPANION_EVENTS
    ]  # fmt: skip
    history = CompanionHistory()
    for entry in sorted(mine, key=lambda e: (e.date, COMPANION_EVENTS.index(e.event), e.row or 0)):
        if entry.event == "lost":
            left = history.left(companion)
            lost = left if entry.pots is None else min(entry.pots, left)
            history = replace(history, lost=history.lost + lost)
            if history.left(companion) <= 0:
                history = CompanionHistory(failed=entry.date)
            continue
        came = entry.pots if entry.event == "received" and entry.pots else history.received
        days = history.days if entry.event in history.days else {**history.days, entry.event: entry.date}
        history = replace(history, days=days, received=came)
    return history


# ---------------------------------------------------------------- when the lots were looked at


# Chance of so many looks a week where nobody states them. Days since the last look before the first open flower of
# 215 cherries in the open data of a national phenology network (individual records, days since the prior "no"):
# 10/25/50/75/90 % = 2/3/6/8/15, so that half of the people look once a week. What is left for "every working day"
# is practice.
LOOKS_A_WEEK: Mapping[int, float] = {1: 0.5, 2: 0.2, 3: 0.1, 4: 0.05}
STRAY = 0.05  # chance that a stage is seen on another day than those; practice, no source
# Before its first sign a lot whose bring in is not logged was not on a bench so long. Practice, no source.
UNKNOWN = 60 * DAY
SEEN = (*STAGE_EVENTS, "faded", "looked")  # events that somebody went to look for


def with_looks(
    season: Season, histories: Mapping[str, History], on: date
) -> tuple[dict[str, History], tuple[Finding, ...]]:
    """The histories with the days up to `on` on which each lot was looked at, and a note where these were inferred.

    Looks are the weekdays that the season states, or else those on which stages were logged; and every day with a
    row of the log about the lot, about its bench, or about what was seen on its bench.
    """
    log = [entry for entry in season.log if entry.date <= on]
    weekdays = inferred_looks(season, log) if season.looks is None else season.looks
    if not weekdays:  # nobody says that anybody looks: that nothing is seen says nothing
        return dict(histories), ()
    by_place = _days_by_place(log, histories)
    by_lot: dict[str, set[date]] = defaultdict(set)
    for entry in log:
        by_lot[entry.lot].add(entry.date)
    # Whether today's round is done already, nothing tells but a row of today.
    end = on + DAY if any(entry.date == on for entry in log) else on
    begun = [h.brought_in or h.first_sign or end for h in histories.values()]
    rounds = Span(min([end, *begun]) - UNKNOWN, end)
    days = [d for d in rounds if d.weekday() in weekdays and d not in season.calendar.holidays]
    missed = _missed(histories.values())
    out = {
        name: replace(history, looks=tuple(_looks(history, days, by_lot[name], by_place)), missed=missed)
        for name, history in histories.items()
    }
    return out, (_note(weekdays),) if season.looks is None else ()


def _missed(histories: Iterable[History]) -> dict[str, float]:
    """Chance that a stage before bloom is never written down: of the lots past it, the share without it.

    One lot more is counted as without it: of a stage that this house never logs, silence says nothing.
    """
    passed, logged = Counter[str](), Counter[str]()
    for history in histories:
        later = False
        for stage in reversed(STAGE_EVENTS):
            later = later or stage in history.stages
            passed[stage] += later
            logged[stage] += stage in history.stages
    return {stage: 1.0 - logged[stage] / (passed[stage] + 1) for stage in STAGE_EVENTS[:-1]}


def _looks(
    history: History, days: Sequence[date], of_lot: set[date], by_place: Mapping[str, set[date]]
) -> list[date]:
    sign = history.first_sign
    if history.brought_in is None and sign is None:
        return []
    # Where it is not logged when it was brought in, the looks before the first sign still count.
    first = history.brought_in or (sign or date.max) - UNKNOWN
    found = {*days, *of_lot}
    for stay, after in zip_longest(history.moves, history.moves[1:]):
        end = date.max if after is None else after.start
        found |= {day for day in by_place.get(stay.place, ()) if stay.start <= day < end}
    return sorted(day for day in found if day > first)


def _days_by_place(log: Sequence[LogEntry], histories: Mapping[str, History]) -> dict[str, set[date]]:
    """Days with a row about a place, or about what was seen of a lot that stood there."""
    found: dict[str, set[date]] = defaultdict(set)
    for entry in log:
        place = entry.place
        if place is None and entry.event in SEEN and entry.lot in histories:
            moves = [m.place for m in histories[entry.lot].moves if m.start <= entry.date]
            place = moves[-1] if moves else None
        if place is not None:
            found[place].add(entry.date)
    return found


def inferred_looks(season: Season, log: Sequence[LogEntry]) -> frozenset[int]:
    """The weekdays on which people look, from the days with a stage in the log; empty: none is logged.

    Of all sets of working weekdays the likeliest: a set of k is as likely beforehand as k looks a week are, and gives
    each day with a stage 1 chance in k, days off it a stray one.
    """
    days = {entry.date for entry in log if entry.event in SEEN}
    counts = [sum(day.weekday() == w for day in days) for w in range(7)]
    if not days:
        return frozenset()
    working = sorted(season.calendar.weekdays | {w for w in range(7) if counts[w] > STRAY * len(days)})
    every = 1.0 - sum(LOOKS_A_WEEK.values())

    def weight(chosen: Collection[int]) -> float:
        k, inside = len(chosen), sum(counts[w] for w in chosen)
        likely = every if k == len(working) else LOOKS_A_WEEK.get(k, 0.0)
        if not likely:
            return -math.inf
        stray = math.log(STRAY / max(1, 7 - k)) * (len(days) - inside)
        return math.log(likely / math.comb(len(working), k)) + stray - inside * math.log(k)

    sets = (c for k in range(1, len(working) + 1) for c in combinations(working, k))
    return max(map(frozenset, sets), key=weight)


def _note(weekdays: frozenset[int]) -> Finding:
    words = "every day" if len(weekdays) == 7 else listed([WEEKDAYS[w] for w in sorted(weekdays)])
    return Finding(
        "looks-inferred", "note", "season", None, "looks",
        "on which days the lots are looked at is not stated; it is taken to be those on which stages were logged",
        "State the item looks, such as Mon, Thu, or log looked where a lot showed nothing new: bloom is then foretold "
        "more closely.", words,
    )  # fmt: skip
