"""The plan as plain CSV files for other programs: RFC 4180, UTF-8, ISO 8601 dates, always in the same order.

Text a person wrote is passed on as it is. Floors above these files may rely on the column words.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path

from forcing.dates import iso_week
from forcing.errors import sort_findings
from forcing.files import write_text
from forcing.model import LotPlan, Plan, Task

PLAN_COLUMNS = ("lot", "crop", "class", "cultivar", "pots", "step", "place", "start", "end", "basis")
TASK_COLUMNS = ("date", "week", "place", "lot", "task", "pots", "hours", "caution", "state")
FINDING_COLUMNS = ("code", "severity", "table", "row", "column", "message", "hint")

_Row = tuple[str, ...]


def write_tables(plan: Plan, folder: Path) -> tuple[Path, ...]:
    """Write plan.csv, tasks.csv and findings.csv into `folder`; give their paths in that order.

    Each file is whole or untouched. Raises OutputError where a file cannot be written.
    """
    files = (
        ("plan.csv", PLAN_COLUMNS, plan_rows(plan)),
        ("tasks.csv", TASK_COLUMNS, task_rows(plan)),
        ("findings.csv", FINDING_COLUMNS, finding_rows(plan)),
    )
    paths = []
    for name, columns, rows in files:
        path = folder / name
        write_text(path, csv_text(columns, rows))
        paths.append(path)
    return tuple(paths)


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A header and rows as RFC 4180 text: commas, quotes doubled, lines ended by CRLF."""
    out = io.StringIO()
    writer = csv.writer(out)  # the module's default dialect is the one RFC 4180 describes
    writer.writerow(columns)
    writer.writerows(rows)
    return out.getvalue()


def season_order(plan: Plan) -> tuple[LotPlan, ...]:
    """Planned lots in the order the grower listed them; lots the season does not list come last."""
    place_in_line = {lot.name: i for i, lot in enumerate(plan.season.lots)}
    return tuple(sorted(plan.lots, key=lambda p: place_in_line.get(p.lot.name, len(place_in_line))))


def where(task: Task) -> str:
    """Where a task is done: one place, or 'from → to' where pots move between two."""
    if task.place and task.to:
        return f"{task.place} → {task.to}"
    return task.place or task.to or ""


def plan_rows(plan: Plan) -> tuple[_Row, ...]:
    """Rows of plan.csv: lots in season order, the steps of each in time."""
    rows = []
    for planned in season_order(plan):
        lot = planned.lot
        bloom_class = lot.bloom_class or planned.recipe.bloom_class or ""
        head = (lot.name, lot.crop, bloom_class, lot.cultivar or "", str(lot.pots))
        for step in sorted(planned.steps, key=lambda s: (s.span.start, s.span.end)):
            span = (step.span.start.isoformat(), step.span.end.isoformat())
            rows.append((*head, step.step, step.place or "", *span, step.basis))
    return tuple(rows)


def task_rows(plan: Plan) -> tuple[_Row, ...]:
    """Rows of tasks.csv, by date, place, lot and task."""
    rows = []
    for task in sorted(plan.tasks, key=lambda t: (t.date, where(t), t.lot or "", t.task, t.key)):
        amounts = (_number(task.pots), _number(task.hours))
        head = (task.date.isoformat(), iso_week(task.date), where(task), task.lot or "", task.task)
        rows.append((*head, *amounts, "; ".join(task.cautions), task.state))
    return tuple(rows)


def finding_rows(plan: Plan) -> tuple[_Row, ...]:
    """Rows of findings.csv, worst first."""
    return tuple(
        (f.code, f.severity, f.table, "" if f.row is None else str(f.row), f.column or "", f.what(), f.hint)
        for f in sort_findings(plan.findings)
    )


def _number(value: float) -> str:
    """Digits without a needless '.0' and without the noise of binary fractions."""
    return f"{value:.10g}" if abs(value) < 1e10 else repr(value)
