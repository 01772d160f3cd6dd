"""tasks.ics: every task as an all-day event, written so that importing it again updates, never doubles.

RFC 5545 (Desruisseaux, "Internet Calendaring and Scheduling Core Object Specification", 2009): all-day events
by DATE values with an exclusive DTEND (3.6.1), UID for life (3.8.4.7), SEQUENCE raised when an event is
rescheduled or cancelled (3.8.7.4), TRANSP so that a task does not make anyone busy (3.8.2.7). NAME is
RFC 7986 (Daboo, 2016), 5.1. There is no METHOD: PUBLISH would ask for an ORGANIZER in each event (RFC 5546, 3.2.1).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from pathlib import Path
from uuid import UUID, uuid5

from icalendar import Calendar, Event
from icalendar.parser import Contentlines

from forcing.dates import DAY
from forcing.engine.work.tasks import CAUTIONS
from forcing.files import replacing
from forcing.model import Plan, Task
from forcing.reports.task_words import Whose, owners, route, title
from forcing.text import one_line
from forcing.units import told

PRODID = "-//forcing//task calendar 1//EN"
NAMESPACE = UUID("df971492-ff0d-4d92-b656-4ec10720c54d")  # drawn once; a change would double every event

# What is read of an earlier file: a description takes longer to read than all of this together.
_READ = ("BEGIN:", "END:", "PRODID", "UID", "DTSTART", "SEQUENCE", "STATUS", "SUMMARY")
_Properties = Mapping[str, str | int | date | tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Earlier:
    """What the file that is about to be replaced says of one event."""

    day: date
    sequence: int
    cancelled: bool
    summary: str


def write_calendar(plan: Plan, path: Path, *, created: datetime) -> Path:
    """Write the tasks of the plan as an iCalendar file and return its path.

    An earlier file at `path` is read first: an event whose day changed gets SEQUENCE + 1, and an event of
    today or later whose task has gone stays as STATUS:CANCELLED with SEQUENCE + 1, so that importing takes it
    out. Past events whose task has gone are left out, and so is any file that is not ours or cannot be read.
    `created` without a zone is taken as UTC. Raises OutputError where the file cannot be written.
    """
    stamp = created.replace(tzinfo=UTC) if created.tzinfo is None else created.astimezone(UTC)
    stamp = stamp.replace(microsecond=0)
    earlier = read_earlier(path)
    whose = owners(plan)
    events: dict[str, tuple[date, str, _Properties]] = {}  # UID -> day, summary, event
    named = {task.key: summary(task, whose) for task in plan.tasks}
    cautions = _cautions(plan, named)
    for task in plan.tasks:
        uid, words = task_uid(plan, task), named[task.key]
        said = _description(task, cautions.get(task.key, ""))
        events[uid] = (task.date, words, _event(task, uid, words, said, earlier.get(uid), stamp))
    for uid, old in earlier.items():
        if uid not in events and old.day >= plan.on:
            events[uid] = (old.day, old.summary, _cancelled(uid, old, stamp))
    in_order = (events[uid][2] for uid in sorted(events, key=lambda u: (*events[u][:2], u)))
    about = {
        "version": "2.0", "prodid": PRODID, "calscale": "GREGORIAN", "name": one_line(plan.season.title)
    }  # fmt: skip
    inside = (line for event in in_order for line in _component("VEVENT", event))
    lines = _component("VCALENDAR", about, inside)
    with replacing(path) as temporary:
        temporary.write_bytes(b"".join(line + b"\r\n" for line in lines))
    return path


def task_uid(plan: Plan, task: Task) -> str:
    """UID of a task's event: a name-based UUID (RFC 9562, version 5) of the show's year and the task's key.

    The year keeps next season's lots, often named alike, from moving this season's events.
    """
    return str(uuid5(NAMESPACE, f"{plan.season.span.start.year}/{task.key}"))


def read_earlier(path: Path) -> Mapping[str, Earlier]:
    """UID -> what an earlier tasks.ics says; empty where there is none, or it is not ours or broken."""
    try:
        lines = Contentlines.from_ical(path.read_bytes())  # type: ignore[no-untyped-call]
        calendar = Calendar.from_ical("\r\n".join(line for line in lines if line.startswith(_READ)))
    except (OSError, ValueError, KeyError, IndexError, TypeError, AttributeError):
        return {}
    if not isinstance(calendar, Calendar) or str(calendar.get("prodid", "")) != PRODID:
        return {}
    found: dict[str, Earlier] = {}
    for event in calendar.walk("VEVENT"):
        try:
            day = event.decoded("dtstart")
            old = Earlier(
                day=day,
                sequence=int(event.get("sequence", 0)),
                cancelled=str(event.get("status", "")) == "CANCELLED",
                summary=str(event.get("summary", "")),
            )
            uid = str(UUID(str(event["uid"])))
        except (KeyError, ValueError, TypeError, AttributeError):
            continue
        if type(day) is date and old.sequence >= 0:  # a datetime is a date too, but no event of ours
            found[uid] = old
    return found


def summary(task: Task, whose: Mapping[str, Whose]) -> str:
    """Like 'Bring in T003 Ivory (24 pots)'; for work on a place 'Step down Cold room North'."""
    if task.lot is None:
        return f"{title(task)} {route(task)}".strip()
    owner = whose.get(task.lot, Whose())
    words = [title(task), one_line(task.lot), one_line(owner.cultivar or owner.crop or "")]
    if task.pots > 0:
        words.append(f"({owner.counted(task.pots)})")
    return " ".join(word for word in words if word)


def _event(task: Task, uid: str, words: str, about: str, old: Earlier | None, stamp: datetime) -> _Properties:
    moved = old is not None and (old.day != task.date or old.cancelled)
    sequence = 0 if old is None else old.sequence + int(moved)
    said = {"description": about, "location": route(task)}
    return {
        **_when(uid, task.date, sequence, words, stamp),
        "categories": (one_line(task.task),),
        **{name: text for name, text in said.items() if text},
        "status": "CONFIRMED",
        "transp": "TRANSPARENT",
    }


def _cancelled(uid: str, old: Earlier, stamp: datetime) -> _Properties:
    sequence = old.sequence if old.cancelled else old.sequence + 1
    bare = _when(uid, old.day, sequence, old.summary, stamp)
    return {**bare, "status": "CANCELLED", "transp": "TRANSPARENT"}


def _when(uid: str, day: date, sequence: int, words: str, stamp: datetime) -> _Properties:
    return {
        "summary": words, "dtstart": day, "dtend": day + DAY, "dtstamp": stamp, "uid": uid, "sequence": sequence
    }  # fmt: skip


def _component(name: str, properties: _Properties, inside: Iterable[bytes] = ()) -> list[bytes]:
    """The lines of a component with what it holds."""
    lines = (_line(key, value) for key, value in properties.items())
    return [f"BEGIN:{name}".encode(), *lines, *inside, f"END:{name}".encode()]


@lru_cache(maxsize=4096)
def _line(name: str, value: str | int | date | tuple[str, ...]) -> bytes:
    """One property as RFC 5545 writes it, folded; kept, since most events say much the same."""
    event = Event()
    event.add(name, list(value) if isinstance(value, tuple) else value)
    line: bytes = event.content_line(name.upper(), event[name]).to_ical()
    return line


def _description(task: Task, cautions: str) -> str:
    look_for = f"Look for: {one_line(task.look_for)}" if task.look_for.strip() else ""
    return "\n\n".join(filter(None, (look_for, cautions)))


def _cautions(plan: Plan, named: Mapping[str, str]) -> dict[str, str]:
    """Key of each task with cautions -> what its event says of them: those of a day in full with its first, and named.

    `named`: the summary of each task, by which a calendar lists the day.
    """
    days: dict[date, list[Task]] = {}
    for task in plan.tasks:
        if task.cautions:
            days.setdefault(task.date, []).append(task)
    found = {}
    for tasks in days.values():
        first = min(tasks, key=lambda task: (named[task.key], task.key))
        for task in tasks:
            names = ", ".join(map(one_line, dict.fromkeys(task.cautions)))
            found[task.key] = (
                f"Cautions: {names}; in full with the first task of the day, {named[first.key]}."
            )
        used = {key for task in tasks for key in task.cautions}
        texts = [CAUTIONS[key] for key in CAUTIONS if key in used]
        texts += map(one_line, sorted(used - CAUTIONS.keys()))
        head = "Cautions of the day. Labels, local codes and the house's rules come first."
        said = (told(text, plan.season.unit, plan.season.measures) for text in texts)
        found[first.key] = "\n\n".join([head, *said])
    return found
