"""From a season file to answers and sheets: read -> check -> plan -> sheets. What each command calls."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from pathlib import Path

from forcing.dates import WEEK, Span, monday
from forcing.engine.context import Context, Progress, unwatched
from forcing.engine.outlook import Outlook, outlooks
from forcing.engine.plan import PlanResult, work_out
from forcing.engine.review import Review, last_day, review_season
from forcing.engine.steering.advice import Steering
from forcing.errors import Finding, SeasonUnreadable, sort_findings
from forcing.model import Minutes, Season
from forcing.recipes.book import RecipeBook, shipped_minutes, split_overrides
from forcing.season.checks import check_season
from forcing.season.read import Partial, read_season


@dataclass(frozen=True, slots=True)
class Loaded:
    """A season read and checked, with the recipes and staff minutes in force."""

    season: Season
    book: RecipeBook
    minutes: Mapping[str, Minutes]
    findings: tuple[Finding, ...]


def load(path: Path) -> Loaded:
    """Read and check a season: a workbook or a folder. Raises SeasonUnreadable with all that is wrong."""
    try:
        season, findings = read_season(path)
    except SeasonUnreadable as error:
        raise SeasonUnreadable([*error.findings, *_further_faults(error)], error.partial) from None
    bulbs, _ = split_overrides(season.overrides)
    book = RecipeBook.from_overrides(bulbs)
    minutes = {row.task: row for row in (*shipped_minutes(), *season.minutes)}
    return Loaded(season, book, minutes, sort_findings([*findings, *check_season(season, book)]))


def plan(path: Path, on: date, progress: Progress = unwatched) -> PlanResult:
    """A season worked out as seen on day `on`: what was read after that day is left out. Raises SeasonUnreadable."""
    progress(f"reading {path}")
    return _work_out(load(path), on, progress)


def _work_out(loaded: Loaded, on: date, progress: Progress = unwatched) -> PlanResult:
    return work_out(loaded.season, loaded.book, Context(on, loaded.minutes, progress), loaded.findings)


def _further_faults(error: SeasonUnreadable) -> Iterator[Finding]:
    """What the checks find in the rows that were understood, but for names whose own rows were left out."""
    partial = error.partial
    if not isinstance(partial, Partial):
        return
    bulbs, _ = split_overrides(partial.season.overrides)
    told = {(f.table, f.row, f.column) for f in error.findings}
    defined_in = {
        "place-unknown": ("places",), "display-unknown": ("displays",), "lot-unknown": ("lots",),
        "item-unknown": ("lots", "companions"), "crop-unknown": ("crops",), "bench-no-temperature": ("setpoints",),
        "planting-missing": ("plantings",), "normals-missing": ("normals",),
    }  # fmt: skip
    for finding in check_season(partial.season, RecipeBook.from_overrides(bulbs), dated=partial.dated):
        tables = defined_in.get(finding.code, ())
        known = any(partial.lacks(table, finding.value or "") for table in tables)
        if not known and (finding.table, finding.row, finding.column) not in told:
            yield finding


def check(path: Path, on: date) -> tuple[Finding, ...]:
    """Every finding of a season: of reading it, of what it states, and of planning it. Raises SeasonUnreadable."""
    return plan(path, on).plan.findings


@dataclass(frozen=True, slots=True)
class Seen:
    """A season worked out with the outlook of its lots, today and a week ago."""

    worked: PlanResult
    outlooks: tuple[Outlook, ...]
    before: tuple[Outlook, ...]


def outlook(path: Path, on: date, progress: Progress = unwatched) -> Seen:
    """When every lot is now expected to bloom, and what that was a week ago. Raises SeasonUnreadable."""
    progress(f"reading {path}")
    loaded = load(path)
    now, then = _work_out(loaded, on, progress), _work_out(loaded, on - WEEK)
    return Seen(now, outlooks(now.simulations, on), outlooks(then.simulations, on - WEEK))


def steer(path: Path, on: date, progress: Progress = unwatched) -> tuple[PlanResult, Steering]:
    """What to set the benches to and what to move or hold, so that bloom comes back to its targets.

    Raises SeasonUnreadable.
    """
    from forcing.engine.steering.steer import steer as engine_steer

    worked = plan(path, on, progress)
    return worked, engine_steer(worked, on, progress=progress)


def review(path: Path, on: date | None, progress: Progress = unwatched) -> Review:
    """What was planned beside what happened, and next year's figures. Raises SeasonUnreadable.

    `on` None: all that is logged counts.
    """
    progress(f"reading {path}")
    loaded = load(path)
    day = last_day(loaded.season) if on is None else on
    return review_season(loaded.season, loaded.book, Context(day, loaded.minutes, progress), loaded.findings)


def write_plan(
    worked: PlanResult, folder: Path, progress: Progress = unwatched, source: str = ""
) -> tuple[Path, ...]:
    """Write the plan and all its sheets into `folder`. Raises OutputError, leaving old files as they were.

    `source`: the name of the season's file or folder, told on the workbook's front page.
    """
    from forcing.reports.board import write_board
    from forcing.reports.calendar import write_calendar
    from forcing.reports.cover import write_cover
    from forcing.reports.frames import write_tables
    from forcing.reports.gantt import write_gantt
    from forcing.reports.labels import write_labels
    from forcing.reports.room_plan import write_room_plan
    from forcing.reports.workbook import write_workbook

    plan, created = worked.plan, stamp(worked.plan.on)
    progress("writing plan.csv, tasks.csv, findings.csv")
    paths = list(write_tables(plan, folder))
    progress("writing season-plan.xlsx")
    paths.append(
        write_workbook(
            plan, folder / "season-plan.xlsx", created=created, beside=worked.beside, source=source
        )
    )
    progress("drawing gantt.pdf, gantt.png, gantt.svg")
    paths.extend(write_gantt(plan, folder, created=created))
    progress("writing the week sheet and tasks.ics")
    paths.append(write_week(worked, None, folder))
    paths.append(write_calendar(plan, folder / "tasks.ics", created=created))
    if plan.season.displays:
        progress("drawing the bloom cover of the displays")
        covers = worked.beside.show.covers
        paths.extend(write_cover(plan, covers, folder, created=created))
    progress("writing room-plan.pdf and labels.pdf")
    paths.append(write_room_plan(plan, folder, created=created, companions=worked.beside.companions))
    paths.append(write_labels(plan, folder, created=created, companions=worked.beside.companions))
    progress("writing board.html")
    seen = outlooks(worked.simulations, plan.on)
    paths.append(write_board(plan, seen, folder / "board.html", created=created))
    return tuple(paths)


def week(path: Path, on: date, progress: Progress = unwatched) -> tuple[PlanResult, PlanResult]:
    """A season worked out as seen on day `on`, and as it was a week before. Raises SeasonUnreadable."""
    progress(f"reading {path}")
    loaded = load(path)
    return _work_out(loaded, on, progress), _work_out(loaded, on - WEEK)


def write_week(worked: PlanResult, before: PlanResult | None, folder: Path) -> Path:
    """Write the task sheet of the ISO week in which the season was looked at. Raises OutputError.

    With the season as it was a week `before`, the sheet says what has changed since; None: it does not.
    """
    from forcing.reports.week import write_week as write

    plan, start = worked.plan, monday(worked.plan.on)
    # Only lots with a log have an outlook that a closer look could change.
    growing = [t for t in worked.simulations if t.history.started]
    seen = outlooks(growing, plan.on)
    earlier = before.plan if before is not None and before.plan.season.log else None
    return write(
        plan, Span(start, start + WEEK), folder, created=stamp(plan.on), outlooks=seen, before=earlier
    )


def write_outlook(seen: Seen, folder: Path) -> tuple[Path, ...]:
    """Write outlook.csv, outlook.pdf and outlook.png into `folder`. Raises OutputError."""
    from forcing.reports.outlook import write_outlook as write

    plan = seen.worked.plan
    return write(plan, seen.outlooks, seen.before, folder, created=stamp(plan.on))


def write_steer(worked: PlanResult, steering: Steering, folder: Path) -> tuple[Path, ...]:
    """Write steer.csv, moves.csv, steer.pdf and steer.png into `folder`. Raises OutputError."""
    from forcing.reports.steer import write_steer as write

    return write(steering, worked.plan, folder, created=stamp(worked.plan.on))


def write_review(review: Review, folder: Path) -> tuple[Path, ...]:
    """Write review.csv, next-crops.csv and review.xlsx into `folder`. Raises OutputError."""
    from forcing.reports.review import write_review as write

    return write(review, folder, created=stamp(review.on))


def stamp(on: date) -> datetime:
    """The creation time written into files: midnight UTC of `on`, so that the same input gives the same file."""
    return datetime.combine(on, time(), UTC)
