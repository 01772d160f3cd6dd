"""What was agreed and what has changed since: the tables of a record, changes.csv, and the same in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import pandas as pd

from forcing.engine.agreed import Change
from forcing.engine.review import EVENTS
from forcing.files import write_text
from forcing.model import Agreement, Season
from forcing.reports.frames import frame_of, write_csv
from forcing.text import number, some
from forcing.units import TemperatureUnit, from_celsius, show_temperature

CHANGE_COLUMNS = ("what", "lot or place", "was", "now", "why")


def lots(agreement: Agreement) -> pd.DataFrame:
    """Each lot as it was handed out: the table lots.csv of a record."""
    columns = ("lot", "pots", "target", "cooler", "bench", "cold weeks", *EVENTS, "confidence")
    rows = [
        (
            x.name,
            x.pots,
            x.target,
            x.cooler or "",
            x.bench,
            x.cold_weeks,
            *(x.days.get(event) for event in EVENTS),
            x.confidence,
        )
        for x in agreement.lots
    ]
    return frame_of(
        columns, rows, day=("target", *EVENTS), whole=("pots",), number=("cold weeks", "confidence")
    )


def steps(agreement: Agreement) -> pd.DataFrame:
    """Where each lot is from when to when: the table plan.csv of a record."""
    rows = [
        (step.lot, step.step, step.place or "", step.span.start, step.span.end, step.basis)
        for lot in agreement.lots
        for step in lot.steps
    ]
    return frame_of(("lot", "step", "place", "start", "end", "basis"), rows, day=("start", "end"))


def settings(agreement: Agreement, unit: TemperatureUnit) -> pd.DataFrame:
    """What each place is set to [in `unit`] from when to when: the table settings.csv of a record."""
    columns = ("place", "from", "to", "day", "night", "basis", "reason")
    rows = [
        (
            s.place,
            s.span.start,
            s.span.end,
            from_celsius(s.day, unit),
            from_celsius(s.night, unit),
            s.basis,
            s.reason,
        )
        for s in agreement.settings
    ]
    return frame_of(columns, rows, day=("from", "to"), number=("day", "night"))


def moves(agreement: Agreement) -> pd.DataFrame:
    """Steering that was agreed to: the table moves.csv of a record."""
    rows = [(m.lot, m.step, m.place, m.start) for m in agreement.moves]
    return frame_of(("lot", "step", "place", "on"), rows, day=("on",))


def write_record(agreement: Agreement, unit: TemperatureUnit, folder: Path) -> None:
    """Write the files of a record into an empty folder. Raises OutputError."""
    tables = {
        "lots": lots(agreement), "plan": steps(agreement), "settings": settings(agreement, unit),
        "moves": moves(agreement),
    }  # fmt: skip
    for name, table in tables.items():
        write_csv(table, folder / f"{name}.csv")
    counts = "".join(f"{name},{len(table)}\r\n" for name, table in tables.items())
    write_text(folder / "agreement.csv", f"item,value\r\nunit,{unit}\r\n{counts}")


# ---------------------------------------------------------------- changes


def changes(found: Sequence[Change], season: Season) -> pd.DataFrame:
    """Against the agreed plan: the table of changes.csv. `was` and `now` are days, places or counts, as text."""
    rows = [
        (c.what, c.subject, _plain(c.was, season), _plain(c.now, season), why_words(c, season)) for c in found
    ]
    return frame_of(CHANGE_COLUMNS, rows)


def _plain(value: object, season: Season) -> str:
    if isinstance(value, tuple):
        return (
            "; ".join(f"{day} {show_temperature(mean, season.unit)}" for day, mean in value)
            or "one temperature"
        )
    return "" if value is None else str(value)


def change_lines(found: Sequence[Change], season: Season) -> Iterator[str]:
    """One line for each lot or place with changes, in words."""
    subjects = dict.fromkeys(change.subject for change in found)
    for subject in subjects:
        mine = [c for c in found if c.subject == subject]
        parts = []
        for change in mine:
            if change.what == "plan":
                parts.append({"new": "is planned now", "gone": "is no longer in the season"}.get(
                    change.why, "cannot be planned any more"
                ))  # fmt: skip
            else:
                parts.append(f"{change.what} {_shown(change.now, season)}, was {_shown(change.was, season)}")
        reasons = dict.fromkeys(why_words(c, season) for c in mine)
        yield f"{subject}: {'; '.join(parts)} ({'; '.join(reasons)})"


def _shown(value: object, season: Season) -> str:
    if isinstance(value, date):
        return f"{value:%a} {value.day} {value:%b}"
    if isinstance(value, int | float):
        return number(value)
    return _plain(value, season) or "none"


def why_words(change: Change, season: Season) -> str:
    """Why something is not as it was agreed."""
    match change.why:
        case "new":
            return "it was not there when the plan was agreed"
        case "gone":
            return "it is not in the table lots any more"
        case "logged":
            return "so it is by the log"
        case "stated":
            return "so the season states it now"
        case "target":
            return "its target has changed"
        case "room" if change.crowd is not None:
            crowd = change.crowd
            return (
                f"{crowd.place} would hold {number(crowd.pots)} pots on {_shown(crowd.day, season)}, and has room for "
                f"{number(crowd.capacity)}"
            )
        case "refused":
            return change.detail
        case "rooted":
            return (
                f"{change.detail} is rooted only later" if change.detail else "its lots are rooted only later"
            )
        case _:
            return _failing_words(change)


def _failing_words(change: Change) -> str:
    fault = change.failing
    if fault is None:
        return "nobody works on the agreed day"
    match fault.kind:
        case "late":
            return f"on the agreed days it would bloom {some(fault.number, 'day')} late"
        case "early":
            return f"on the agreed days it would bloom {some(fault.number, 'day')} sooner than was agreed"
        case "cold":
            return f"on the agreed days it would lack {fault.number:.1f} weeks of cold to flower"
        case "roots":
            return "on the agreed day it would not be rooted"
        case _:
            return "a temperature on the agreed days is not known any more"


def written(found: Sequence[Change], season: Season, folder: Path) -> Path:
    """Write changes.csv into `folder` and give its path. Raises OutputError."""
    return write_csv(changes(found, season), folder / "changes.csv")


def unchanged(one: Agreement, other: Agreement) -> bool:
    """Whether two agreements say the same but for the day they were made."""
    return replace(one, on=other.on) == other
