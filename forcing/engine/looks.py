"""When the lots were looked at: a stage that is seen on a day was reached after the look before it."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from itertools import combinations, zip_longest

from forcing.dates import DAY, WEEKDAYS, Span
from forcing.engine.log import History
from forcing.errors import Finding
from forcing.model import STAGE_EVENTS, LogEntry, Season
from forcing.text import listed

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
    weekdays = inferred(season, log) if season.looks is None else season.looks
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


# ---------------------------------------------------------------- where nothing is stated


def inferred(season: Season, log: Sequence[LogEntry]) -> frozenset[int]:
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
