"""Days that cannot be meant: outside the show, stated twice, of another year."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from forcing.dates import DAY, Span
from forcing.errors import Finding
from forcing.model import Lot, Season
from forcing.recipes.book import RecipeBook
from forcing.season.rows import and_more
from forcing.text import some

# Beyond these a person is asked; common practice, no source; from memory.
EARLY = timedelta(days=21)  # a target before the opening
LATE_INSTALL = timedelta(days=14)  # set out after the target
EARLY_INSTALL = timedelta(days=60)  # set out before the target
UNPOTTED = timedelta(days=200)  # set out so long before the target it is set out before it is potted
LONG_SHOW = 200  # days
BEFORE, AFTER = timedelta(days=450), timedelta(days=120)  # of the show: what belongs to its season

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def show_is_possible(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """The show is not absurdly long, and the bulbs come before it opens."""
    if season.span.days > LONG_SHOW:
        yield Finding(
            "show-long", "warning", "season", None, "closes", f"the show is open for {season.span.days} days",
            "Check the years of opens and closes.", str(season.span.end - DAY),
        )  # fmt: skip
    hand = season.bulbs_in_hand
    if hand is not None and hand >= season.span.start:
        yield Finding(
            "bulbs-late", "error", "season", None, "bulbs in hand",
            f"not before the show opens on {season.span.start}", "Check the years of both.", str(hand),
        )  # fmt: skip
    for lot in season.lots:
        last = lot.target or season.span.start
        if lot.in_hand is not None and lot.in_hand >= last:
            yield Finding(
                "bulbs-late", "error", "lots", lot.row, "in hand", f"not before the bulbs are to bloom on {last}",
                "Check the years of both.", str(lot.in_hand), lot=lot.name,
            )  # fmt: skip


def displays_are_within_the_show(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """A display is open while the show is."""
    show = season.span
    for display in season.displays:
        for column, day in (("opens", display.span.start), ("closes", display.span.end - DAY)):
            if day not in show:
                yield Finding(
                    "display-outside", "warning", "displays", display.row, column,
                    f"outside the show, {show.start} to {show.end - DAY}",
                    "Correct it, unless the display has days of its own.", str(day), days=(day,),
                )  # fmt: skip


def _window(season: Season, lot: Lot) -> Span:
    """The days on which a lot is to be seen."""
    for display in season.displays:
        if display.name == lot.display:
            return display.span
    return season.span


def targets_are_within_the_show(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """A lot blooms for its display, or for the show."""
    for lot in season.lots:
        window = _window(season, lot)
        if lot.target is None or window.start - EARLY <= lot.target < window.end:
            continue
        when = "after" if lot.target >= window.end else "long before"
        yield Finding(
            "target-outside", "warning", "lots", lot.row, "target bloom",
            f"{when} the days on show, {window.start} to {window.end - DAY}",
            "Check the date, and the year.", str(lot.target), days=(lot.target,),
        )  # fmt: skip


def installs_are_possible(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """A lot is set out at a display, once it is potted, near its target and before the show is over."""
    for lot in season.lots:
        if lot.install is None:
            continue
        window = _window(season, lot)
        if lot.display is None:
            yield _install(lot, "install-nowhere", "warning", "the lot has no display to be set out at",
                           "Name its display, or leave install empty.")  # fmt: skip
        in_hand = season.in_hand(lot)
        if in_hand is not None and lot.install <= in_hand:
            message = f"not after the bulbs are in hand on {in_hand}"
            yield _install(lot, "install-early", "error", message, "Check the date, and the year.")
        elif lot.install >= window.end:
            message = f"after the last day on show, {window.end - DAY}"
            yield _install(lot, "install-late", "error", message, "Check the date, and the year.")
        elif lot.target is not None and lot.install > lot.target + LATE_INSTALL:
            message = f"{(lot.install - lot.target).days} days after its target, {lot.target}"
            yield _install(lot, "install-late", "warning", message, "It may have faded: set it out earlier.")
        elif lot.install < (due := lot.target or window.start) - EARLY_INSTALL:
            before = f"its target, {due}" if lot.target else f"the opening, {due}"
            severity = "warning" if lot.install >= due - UNPOTTED else "error"
            message = f"{(due - lot.install).days} days before {before}"
            yield _install(lot, "install-early", severity, message, "Check the date, and the year.")


def _install(lot: Lot, code: str, severity: str, message: str, hint: str) -> Finding:
    return Finding(
        code, "error" if severity == "error" else "warning", "lots", lot.row, "install", message, hint,
        str(lot.install), days=() if lot.install is None else (lot.install,),
    )  # fmt: skip


def lots_leave_after_their_target(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """A lot leaves the house once it is as it was wanted, not before."""
    for lot in season.lots:
        target = lot.target or _window(season, lot).start
        if lot.leaves is not None and lot.leaves < target:
            yield Finding(
                "leaves-early", "warning", "lots", lot.row, "leaves",
                f"{lot.name} leaves {some((target - lot.leaves).days, 'day')} before its target, {target}",
                "Correct one of the days, or state a target stage and when that is wanted.", str(lot.leaves),
                lot=lot.name, days=(lot.leaves,),
            )  # fmt: skip


def hardening_is_whole(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Hardening off has both a place and a number of days."""
    for lot in season.lots:
        if lot.harden_at is not None and not lot.harden_days:
            yield Finding(
                "harden-days", "warning", "lots", lot.row, "harden days",
                f"a place to harden off but no days: it is not hardened off at {lot.harden_at}",
                "Write the number of days, or empty the place.",
            )  # fmt: skip
        if lot.harden_days and lot.harden_at is None:
            yield Finding(
                "harden-place", "warning", "lots", lot.row, "harden at",
                f"{lot.harden_days} days of hardening off but no place: they are not planned",
                "Name the place, or empty the days.",
            )  # fmt: skip


def days_are_stated_once(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """One setpoint for a place and day, one normal for a month, one reading that a day agrees on."""
    points = ((f"{s.place} on {s.start}", ("setpoints", s.row), (s.day, s.night)) for s in season.setpoints)
    yield from _twice("from", points, True)
    normals = (
        (f"{n.place} in {_MONTHS[n.month - 1]}", ("normals", n.row), (n.low, n.high)) for n in season.normals
    )
    yield from _twice("month", normals, True)
    readings = (
        (f"{r.place} on {r.date}, {r.kind}", (r.found_in, r.row), (r.low, r.high, r.mean))
        for r in season.readings
        if r.kind == "measured"  # a forecast is made anew each day: the last one counts
    )
    yield from _twice("date", readings, False)


_Stated = tuple[str, tuple[str, int | None], tuple[float | None, ...]]  # what, table and row, values


def _twice(column: str, rows: Iterable[_Stated], always: bool) -> Iterator[Finding]:
    """Rows for the same thing; unless `always`, only those that disagree."""
    seen: dict[str, _Stated] = {}
    for what, (table, row), values in rows:
        _, (first_table, first_row), first = seen.setdefault(what, (what, (table, row), values))
        if (first_table, first_row) != (table, row) and (always or first != values):
            where = f"in row {first_row}" + ("" if first_table == table else f" of {first_table}")
            yield Finding(
                "day-twice", "error", table, row, column,
                f"stated before {where}" + ("" if first == values else ", with other values"),
                "Keep one of the two rows.", what,
            )  # fmt: skip


def normals_are_whole(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Where a site has normals, it has them for the months in which pots may stand there."""
    months: dict[str, set[int]] = {}
    rows: dict[str, int | None] = {}
    for normal in season.normals:
        months.setdefault(normal.place, set()).add(normal.month)
        rows.setdefault(normal.place, normal.row)
    wanted = {day.month for day in Span(season.span.start - timedelta(days=60), season.span.end)}
    for place, given in months.items():
        if missing := sorted(wanted - given):
            names = ", ".join(_MONTHS[month - 1] for month in missing)
            yield Finding(
                "normals-missing", "warning", "normals", rows[place], "month",
                f"there are no normals for {names}", "Add a row for each of them.", place,
            )  # fmt: skip


def seen_from_afar(season: Season, on: date) -> Iterator[Finding]:
    """That the day a season is seen from is far from its show: all of it still to come, or long over."""
    if season.span.start - BEFORE * 2 <= on < season.span.end + AFTER:
        return
    when = "long after the show has closed" if on >= season.span.end else "years before the show opens"
    yield Finding(
        "seen-from-afar", "warning", "season", None, "closes",
        f"the season is seen from {on}, {when}: {season.span.start} to {season.span.end - DAY}",
        "Give the day with --on, or state the show of this year.", str(season.span.end - DAY),
    )  # fmt: skip


def days_are_of_this_season(season: Season, book: RecipeBook) -> Iterator[Finding]:
    """Setpoints and companions are of this season: one finding a table, at its first row that is not."""
    dated: dict[tuple[str, str], list[tuple[date, int | None]]] = {
        ("setpoints", "from"): [(setpoint.start, setpoint.row) for setpoint in season.setpoints],
        ("companions", "ready"): [(c.ready, c.row) for c in season.companions if c.ready is not None],
    }
    first, last = season.span.start - BEFORE, season.span.end + AFTER
    for (table, column), days in dated.items():
        astray = [(day, row) for day, row in days if not first <= day < last]
        if astray:
            yield Finding(
                "day-astray", "warning", table, astray[0][1], column,
                f"far from the show, which opens on {season.span.start}{and_more(len(astray) - 1)}", "Check the year.",
                str(astray[0][0]),
            )  # fmt: skip
