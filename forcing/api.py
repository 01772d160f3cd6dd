"""The Python face: a season loaded, planned, looked at, steered and looked back on. Every command calls it.

Tables are pandas DataFrames with their dates as datetime64. Nothing is printed; what takes long is told to the
`progress` callback that was given to `load`.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from functools import cached_property
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, TypeVar

import pandas as pd

from forcing.dates import WEEK, YEARS, Span, monday, parse_date
from forcing.engine.agreed import Choice, agreement_of
from forcing.engine.context import Context, Progress, unwatched
from forcing.engine.faults import without_culprits
from forcing.engine.outlook import Outlook, outlooks
from forcing.engine.parts import log_findings
from forcing.engine.plan import PlanResult, work_out
from forcing.engine.review import Review, last_day, review_season
from forcing.engine.why import LotWeek, Reasons, lot_weeks, reasons
from forcing.errors import Finding, ForcingError, NothingToPlan, OutputError, SeasonUnreadable, sort_findings
from forcing.files import check_writable, one_set
from forcing.model import AgreedMove, Agreement, LotPlan, Minutes, Place, Season, Setpoint
from forcing.recipes.book import RecipeBook, minutes_in_force, split_overrides
from forcing.reports import agreed, frames
from forcing.reports.matters import Matters, matters
from forcing.reports.style import chance_words
from forcing.season.agreed import record_folder, write_whole
from forcing.season.checks import check_season
from forcing.season.checks.days import seen_from_afar
from forcing.season.read import Partial, read_season
from forcing.season.schema import near
from forcing.text import listed
from forcing.units import f_to_c_difference

if TYPE_CHECKING:
    from forcing.engine.steering.advice import Steering
    from forcing.reports.why import WhyPage

READ_BESIDE = ("readings", "log", "agreed")  # folders inside a season folder that are read with it
Source = str | os.PathLike[str] | Mapping[str, pd.DataFrame]
Folder = str | os.PathLike[str]
Day = date | str  # a pandas Timestamp is a date
_Stated = TypeVar("_Stated", Place, Setpoint)
_Made = TypeVar("_Made")


def load(source: Source, *, progress: Progress = unwatched) -> LoadedSeason:
    """Read and check a season: a workbook, a folder of .csv files, or a mapping of table names to DataFrames.

    progress: called with a few words at each stage, also of what is done with the season later.
    Raises SeasonUnreadable with all that is wrong, TypeError where `source` is none of the three.
    """
    if isinstance(source, Mapping):
        name = ""
    elif isinstance(source, str | os.PathLike):
        progress(f"reading {source}")
        source = Path(source)
        name = source.resolve().name
    else:
        raise TypeError(
            "a season is a path, or a mapping of table names to DataFrames; "
            f"this is of type {type(source).__name__}"
        )
    try:
        season, findings = read_season(source)
    except SeasonUnreadable as error:
        raise SeasonUnreadable([*error.findings, *_further_faults(error)], error.partial) from None
    bulbs, _ = split_overrides(season.overrides)
    folder = str(source) if isinstance(source, Path) and source.is_dir() else ""
    records = record_folder(source) if isinstance(source, Path) else None
    minutes, book = minutes_in_force(season.minutes), RecipeBook.from_overrides(bulbs)
    return LoadedSeason(season, book, minutes, findings, name, progress, folder, records)


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


@dataclass(frozen=True)
class LoadedSeason:
    """A season as stated, read and checked, with the recipes and staff minutes in force."""

    stated: Season
    book: RecipeBook
    minutes: Mapping[str, Minutes]
    read_findings: tuple[Finding, ...]  # of reading alone
    name: str = ""  # of its file or folder; empty: it came as DataFrames
    progress: Progress = unwatched
    folder: str = ""  # of its .csv files; empty: it did not come as one
    records: Path | None = None  # where what is agreed is written; None: it came as DataFrames

    @cached_property
    def all_findings(self) -> tuple[Finding, ...]:
        """What is wrong or risky in what it states, worst first."""
        return sort_findings([*self.read_findings, *check_season(self.stated, self.book)])

    @property
    def findings(self) -> pd.DataFrame:
        """What is wrong or risky in what the season states; planning it may find more (`plan(...).findings`)."""
        return frames.findings(self.all_findings)

    def checked(self, *, on: Day) -> tuple[Finding, ...]:
        """All that the tables show as seen on day `on`, worst first; what only planning can tell is not in it.

        Raises NothingToPlan where there is no lot.
        """
        day = day_of(on)
        return sort_findings([*self._plannable(day), *log_findings(self.stated, day)])

    def plan(self, *, on: Day) -> PlannedSeason:
        """The season worked out as seen on day `on`: what was read after that day is left out.

        on: a date, text like "2026-09-01", or a pandas Timestamp. Raises NothingToPlan where there is no lot.
        """
        return self._worked(day_of(on))

    def _worked(self, day: date, choices: Mapping[str, Choice] | None = None) -> PlannedSeason:
        findings = self._plannable(day)
        return PlannedSeason(self, work_out(self.stated, self.book, self._context(day), findings, choices))

    def outlook(self, *, on: Day) -> SeasonOutlook:
        """When every lot is now expected to bloom, as seen on day `on`. Raises as `plan`."""
        return self.plan(on=on).outlook()

    def steer(self, *, on: Day, actions: int | None = None) -> SeasonSteering:
        """What to set the benches to, and what to move or hold, so that bloom comes back. Raises as `plan`.

        actions: so many at most; None: the few that earn their work.
        """
        return self.plan(on=on).steer(actions)

    def agree(self, *, on: Day, steering: bool = False, actions: int | None = None) -> SeasonAgreement:
        """Record the plan as it is handed out on day `on`: from then on its dates and places are kept.

        steering: agree to the steering advice of that day too, `actions`: to its option of so many. Where forcing fails
        on a row, all but that row is agreed, as in `spared`. Raises as `plan`, and OutputError where the record cannot
        be written.
        """
        day = day_of(on)

        def handed_out(season: LoadedSeason, records: Path | None) -> SeasonAgreement:
            planned = replace(season, records=records).plan(on=day)
            return planned.agree(planned.steer(actions) if steering else None)

        return self._spared(handed_out, self.records)

    def why(self, lot: str, *, on: Day) -> LotReasons:
        """How the dates of one lot came about, as seen on day `on`. Raises KeyError for a lot that is not planned."""
        return self.plan(on=on).why(lot)

    def review(self, *, on: Day | None = None) -> SeasonReview:
        """What was planned beside what happened, and next year's figures. Raises as `plan`.

        on: look back on what was logged until this day; None: all that is logged.
        """
        day = last_day(self.stated) if on is None else day_of(on)
        findings = self._plannable(day)
        return SeasonReview(self, review_season(self.stated, self.book, self._context(day), findings))

    def with_bench(self, place: str, *, by: float) -> LoadedSeason:
        """The season with the stated temperatures of one place, dated setpoints too, changed by so many degrees.

        by: a difference in the season's own unit: 2 is 2 °C, or 2 °F in a season in °F. What was measured stays.
        Raises KeyError where there is no such place, ValueError where it states no temperatures.
        """
        difference = self._difference(by)
        season = self.stated
        if place not in (names := [p.name for p in season.places]):
            raise KeyError(_unknown(f"the season has no place {place}", place, names))
        warmer = replace(
            season,
            places=tuple(
                replace(_shifted(p, difference), shifted=p.shifted + difference) if p.name == place else p
                for p in season.places
            ),
            setpoints=tuple(_shifted(s, difference) if s.place == place else s for s in season.setpoints),
        )
        if warmer.setpoints == season.setpoints and season.place(place).day is None and difference:
            raise ValueError(f"{place} states no temperatures that could be changed")
        return replace(self, stated=warmer)

    def spared(self, work: Callable[[LoadedSeason, Path], _Made], folder: Folder) -> _Made:
        """What `work` makes of the season and writes into `folder`; where forcing fails on a row, of all but that row.

        The row, a lot, companion, display or place, is then among the findings. What no row is to blame for is raised.
        Raises OutputError, before anything is worked out, where nothing can be written into the folder.
        """
        folder = Path(folder)
        self._not_its_own(folder)
        check_writable(folder)
        return self._spared(work, folder)

    def _spared(self, work: Callable[[LoadedSeason, Any], _Made], folder: Path | None) -> _Made:
        try:
            return work(self, folder)
        except ForcingError:
            raise
        except Exception as error:
            self.progress("looking for what cannot be worked out")
            quiet = replace(self, progress=unwatched)
            with TemporaryDirectory() as tried:
                rest, faults, _ = without_culprits(
                    self.stated, lambda part: work(replace(quiet, stated=part), Path(tried)), error
                )
        return work(replace(self, stated=rest, read_findings=(*self.read_findings, *faults)), folder)

    def write_set(
        self, folder: Folder, write: Callable[[Path], Iterable[Path]], safe_csv: bool
    ) -> tuple[Path, ...]:
        """What `write` puts into the folder it is given, moved into `folder` when all of it is whole; final paths."""
        folder = Path(folder)
        self._not_its_own(folder)
        with one_set(folder) as new, frames.formulas_kept_from_running(safe_csv):
            return tuple(folder / path.relative_to(new) for path in write(new))

    def _not_its_own(self, folder: Path) -> None:
        """Raise OutputError where `folder` is the season's own, whose files would be read as its tables."""
        own = Path(self.folder).resolve() if self.folder else None
        if own and folder.resolve() in (own, *(own / name for name in READ_BESIDE)):
            raise OutputError(
                f"cannot write in {folder}: it is the season itself, which is never written into. "
                "Name another folder for the sheets."
            )

    def _difference(self, by: float) -> float:
        """A difference of the season's unit in °C."""
        if isinstance(by, bool) or not isinstance(by, int | float):
            raise TypeError(f"by is a number of degrees, like 2 or -1.5; this is of type {type(by).__name__}")
        if not math.isfinite(by):
            raise ValueError(f"by is a number of degrees, like 2 or -1.5, and not {by}")
        return f_to_c_difference(by) if self.stated.unit == "F" else float(by)

    def _context(self, on: date) -> Context:
        return Context(on, self.minutes, self.progress)

    def _plannable(self, on: date) -> tuple[Finding, ...]:
        """The findings so far. Raises NothingToPlan where they say that there is no lot."""
        if any(f.code == "no-lots" and f.severity == "error" for f in self.all_findings):
            raise NothingToPlan(self.all_findings)
        return sort_findings([*self.all_findings, *seen_from_afar(self.stated, on)])


def day_of(on: object) -> date:
    """The calendar date meant by a date, a Timestamp or text like 2026-09-01. Raises TypeError, ValueError."""
    if isinstance(on, str):
        try:
            day = parse_date(on)
        except ValueError:
            raise ValueError(
                f"on: {on!r} is not a date; write it as year-month-day, like 2026-11-02"
            ) from None
    elif on is pd.NaT:
        raise ValueError("on: the date is missing (NaT)")
    elif isinstance(on, date):
        day = on.date() if isinstance(on, datetime) else on
    else:
        raise TypeError(
            f"on is a date, text like 2026-11-02, or a pandas Timestamp; this is of type {type(on).__name__}"
        )
    if not YEARS[0] <= day.year <= YEARS[1]:
        raise ValueError(f"on: the year {day.year} cannot be right; no season is of it")
    return day


def _unknown(said: str, name: str, names: Sequence[str]) -> str:
    match = near(name, names)
    return f"{said}: did you mean {match}?" if match else f"{said}: there are {listed(names, 12) or 'none'}"


def _shifted(row: _Stated, difference: float) -> _Stated:
    """A row with its day and night warmer by `difference` [°C], where it states them."""
    if row.day is None or row.night is None:
        return row
    return replace(row, day=row.day + difference, night=row.night + difference)


@dataclass(frozen=True)
class PlannedSeason:
    """A season worked out as seen on one day: its tables, its sheets, and what follows from it."""

    season: LoadedSeason
    result: PlanResult

    @property
    def on(self) -> date:
        """The day it is seen from."""
        return self.result.plan.on

    @cached_property
    def lots(self) -> pd.DataFrame:
        """One row a planned lot, by its name: its dates (datetime64), pots, cold-weeks and heat."""
        return frames.lots(self.result.plan)

    @cached_property
    def steps(self) -> pd.DataFrame:
        """Where every lot is from when to when, half-open: the table of plan.csv."""
        return frames.steps(self.result.plan)

    @cached_property
    def tasks(self) -> pd.DataFrame:
        """The work: the table of tasks.csv."""
        return frames.tasks(self.result.plan)

    @cached_property
    def loads(self) -> pd.DataFrame:
        """How full each place is on each day: date, place, pots, capacity (15 cm-pot equivalents)."""
        return frames.loads(self.result.plan)

    @cached_property
    def rooms(self) -> pd.DataFrame:
        """What each place is set to from when to when, and why."""
        return frames.rooms(self.result.plan)

    @cached_property
    def findings(self) -> pd.DataFrame:
        """All that is wrong or risky, in what is stated and in what came of it: the table of findings.csv."""
        return frames.findings(self.result.plan.findings)

    @cached_property
    def before(self) -> PlannedSeason:
        """The same season as seen a week before, with the same choices: no second allocation is made."""
        quiet, day = replace(self.season, progress=unwatched), self.on - WEEK
        return quiet._worked(day, self.result.choices)

    def outlook(self) -> SeasonOutlook:
        """When every lot is now expected to bloom, and what that was a week ago."""
        return self._outlook

    @cached_property
    def _outlook(self) -> SeasonOutlook:
        return SeasonOutlook(self, outlooks(self.result.simulations, self.on, self.result.expected))

    @cached_property
    def _steered(self) -> dict[int | None, SeasonSteering]:
        """The steering of each number of actions that was asked for: the search is made once."""
        return {}

    def steer(self, actions: int | None = None) -> SeasonSteering:
        """What to set, move and hold so that bloom comes back to its targets; with `actions`, by so many at most."""
        from forcing.engine.steering.steer import steer

        if actions not in self._steered:
            advice = steer(self.result, self.on, actions, progress=self.season.progress)
            self._steered[actions] = SeasonSteering(self, advice)
        return self._steered[actions]

    @cached_property
    def changes(self) -> pd.DataFrame:
        """What is not as it was agreed, and why: the table of changes.csv; no rows where nothing was agreed."""
        return agreed.changes(self.result.changes, self.result.plan.season)

    @property
    def change_lines(self) -> tuple[str, ...]:
        """The same in words, a line for each lot or place; without what the log tells, which is done."""
        changed = [change for change in self.result.changes if change.why != "logged"]
        return tuple(agreed.change_lines(changed, self.result.plan.season))

    @cached_property
    def matters(self) -> Matters:
        """The few things that matter on its day, the dates ahead, and all findings, those of one cause as one."""
        return matters(self.result.plan, self.result.beside.nights)

    @property
    def chances(self) -> tuple[str, ...]:
        """For each display how sure it is of its wanted cover, the least sure first: 'Court: opening day 94 % ...'."""
        covers = sorted(self.result.beside.show.covers, key=lambda cover: cover.least_from(self.on))
        lines = (chance_words(cover, self.on) for cover in covers)
        return tuple(line for line in lines if line)

    def agree(self, steering: SeasonSteering | None = None) -> SeasonAgreement:
        """Record this plan as it is handed out, and the steering that is agreed to with it.

        Nothing is written where the newest agreement says the same, or the season came as DataFrames. Raises
        OutputError where the record cannot be written.
        """
        plan, records, before = self.result.plan, self.season.records, self.result.agreement
        made = agreement_of(plan, self.result.simulations, stated=self.season.stated.setpoints)
        if steering is not None:
            made = self._with_steering(steering.advice)
        if before is not None and agreed.unchanged(made, before):
            return SeasonAgreement(self.season, before, self, None)
        folder = None
        if records is not None:
            folder = write_whole(
                records, plan.on, lambda new: agreed.write_record(made, plan.season.unit, new)
            )
        season = replace(self.season.stated, agreed=(*self.season.stated.agreed, made))
        return SeasonAgreement(replace(self.season, stated=season), made, self, folder)

    def _with_steering(self, advice: Steering) -> Agreement:
        """What is handed out with this plan and an advice: the lots as they then go on, bloom included."""
        plan, stated = self.result.plan, self.season.stated
        coolers = {place.name for place in plan.season.places if place.kind == "cooler"}
        moves = [
            AgreedMove(m.lot, "hold" if m.to in coolers else "bench", m.to, m.on)
            for m in (*advice.moves, *advice.holds)
        ]
        settings = [replace(s, basis="steered") for s in advice.settings]
        left = [lot for lot, _ in advice.left_out]
        first = agreement_of(plan, self.result.simulations, settings, moves, left, stated.setpoints)
        season = replace(
            self.season, stated=replace(stated, agreed=(*stated.agreed, first)), progress=unwatched
        )
        then = season._worked(plan.on, self.result.choices).result
        return agreement_of(then.plan, then.simulations, stated=stated.setpoints)

    def why(self, lot: str) -> LotReasons:
        """How the dates of one lot came about. Raises KeyError where there is no such lot or it is not planned."""
        plan = self.result.plan
        for planned in plan.lots:
            if planned.lot.name == lot:
                return LotReasons(self, planned)
        for left_out in plan.unplanned:
            if left_out.lot.name == lot:
                raise KeyError(f"{lot} is not planned: {left_out.reason}")
        raise KeyError(_unknown(f"the season has no lot {lot}", lot, [p.lot.name for p in plan.lots]))

    def write(self, folder: Folder, *, safe_csv: bool = False) -> tuple[Path, ...]:
        """Write the plan and all its sheets into `folder`, as one set, and give their paths.

        safe_csv: cells that a spreadsheet program would run as formulas begin with an apostrophe.
        Raises OutputError, leaving old files as they were.
        """
        return self.season.write_set(folder, self._write, safe_csv)

    def _write(self, folder: Path) -> Iterator[Path]:
        from forcing.engine.show.planting import planting_days
        from forcing.reports.board import write_board
        from forcing.reports.calendar import write_calendar
        from forcing.reports.cover import write_cover
        from forcing.reports.gantt import write_gantt
        from forcing.reports.labels import write_labels
        from forcing.reports.planting import write_planting
        from forcing.reports.room_plan import write_room_plan
        from forcing.reports.workbook import write_workbook

        plan, beside = self.result.plan, self.result.beside
        created, progress = _stamp(self.on), self.season.progress
        progress("writing plan.csv, tasks.csv, findings.csv, lots.csv")
        yield from frames.write_tables(plan, folder)
        leeways = self.result.leeways()
        yield frames.write_csv(frames.lot_dates(plan, leeways), folder / "lots.csv")
        yield agreed.written(self.result.changes, plan.season, folder)
        progress("writing season-plan.xlsx")
        workbook = folder / "season-plan.xlsx"
        yield write_workbook(
            plan, workbook, created=created, beside=beside, source=self.season.name, leeways=leeways
        )
        progress("drawing gantt.pdf, gantt.png, gantt.svg")
        yield from write_gantt(plan, folder, created=created)
        progress("writing the week sheet and tasks.ics")
        yield self._write_week(folder, None)
        yield write_calendar(plan, folder / "tasks.ics", created=created)
        if plan.season.displays:
            progress("drawing the bloom cover of the displays")
            yield from write_cover(plan, beside.show.covers, folder, created=created)
            progress("laying out planting day")
            days = tuple(
                planting_days(plan, beside.show.standings, beside.companions, self.season._context(self.on))
            )
            yield from write_planting(plan, days, folder, created=created)
        progress("writing room-plan.pdf and labels.pdf")
        yield write_room_plan(plan, folder, created=created, companions=beside.companions)
        yield write_labels(plan, folder, created=created, companions=beside.companions)
        progress("writing board.html")
        yield write_board(
            plan, self.outlook().outlooks, folder / "board.html", created=created, nights=beside.nights,
            chances=self.chances,
        )  # fmt: skip

    def write_week(self, folder: Folder, *, safe_csv: bool = False) -> tuple[Path, ...]:
        """Write all that a Monday needs, from one working-out and as one set; the task sheet is the first path.

        The task sheet of this ISO week, the outlook, the steering options, the board, a workbook to enter what was
        done, and what has changed since the plan was agreed. Raises OutputError, leaving old files as they were.
        """
        return self.season.write_set(folder, self._write_monday, safe_csv)

    def _write_monday(self, folder: Path) -> Iterator[Path]:
        from forcing.reports.board import write_board
        from forcing.reports.entry import write_entry

        plan, created, progress = self.result.plan, _stamp(self.on), self.season.progress
        progress("writing the week sheet")
        yield self._write_week(folder, None if self.result.agreement else self.before)
        yield agreed.written(self.result.changes, plan.season, folder)
        progress("writing the outlook")
        seen = self.outlook()
        yield from seen.write_files(folder, picture=False)
        progress("looking for what brings bloom back")
        yield from self.steer().write_files(folder, picture=False)
        progress("writing board.html")
        yield write_board(
            plan, seen.outlooks, folder / "board.html", created=created, nights=self.result.beside.nights,
            chances=self.chances,
        )  # fmt: skip
        yield write_entry(plan, folder, created=created)

    def _write_week(self, folder: Path, before: PlannedSeason | None) -> Path:
        from forcing.reports.week import write_week

        start = monday(self.on)
        # Only lots with a log have an outlook that a closer look could change.
        growing = {s.lot.name for s in self.result.simulations if s.history.started}
        earlier = before.result.plan if before is not None else None
        return write_week(
            self.result.plan, Span(start, start + WEEK), folder, created=_stamp(self.on),
            outlooks=[o for o in self.outlook().outlooks if o.lot in growing],
            before=earlier if earlier and earlier.season.log else None, changes=self.change_lines,
            nights=self.result.beside.nights,
        )  # fmt: skip


@dataclass(frozen=True)
class SeasonOutlook:
    """The bloom now expected of every lot, and what it was a week before."""

    planned: PlannedSeason
    outlooks: tuple[Outlook, ...]

    @cached_property
    def before(self) -> tuple[Outlook, ...]:
        """What was expected a week before."""
        then = self.planned.before
        return outlooks(then.result.simulations, then.on, then.result.expected)

    @cached_property
    def table(self) -> pd.DataFrame:
        """Early, likely and late bloom of each lot against its target: the table of outlook.csv."""
        return frames.outlook(self.outlooks)

    @property
    def words(self) -> str:
        """The same as lines of text, the most pressing lot first."""
        return self.text()

    def text(self, most: int | None = None) -> str:
        """The same with a table of at most so many lots."""
        from forcing.reports.outlook import MOST_ROWS, outlook_text

        return outlook_text(self.outlooks, self.before, MOST_ROWS if most is None else most)

    def write(self, folder: Folder, *, safe_csv: bool = False) -> tuple[Path, ...]:
        """Write outlook.csv, outlook.pdf and outlook.png into `folder`. Raises OutputError."""
        return self.planned.season.write_set(folder, self.write_files, safe_csv)

    def write_files(self, folder: Path, *, picture: bool = True) -> tuple[Path, ...]:
        """The files of `write` in a folder that is there, as part of a set; `picture`: with outlook.png."""
        from forcing.reports.outlook import write_outlook

        plan = self.planned.result.plan
        return write_outlook(
            plan, self.outlooks, self.before, folder, created=_stamp(plan.on), picture=picture
        )


@dataclass(frozen=True)
class SeasonSteering:
    """Bench temperatures, moves and holds that bring bloom back to its targets, and what they change."""

    planned: PlannedSeason
    advice: Steering

    @cached_property
    def table(self) -> pd.DataFrame:
        """What to set each bench to, from when to when: the table of steer.csv."""
        return frames.steer(self.advice, self.planned.season.stated.unit)

    @cached_property
    def options(self) -> pd.DataFrame:
        """Ways to go on beside each other, one of them recommended: the table of options.csv."""
        return frames.options(self.advice)

    @cached_property
    def moves(self) -> pd.DataFrame:
        """What to carry where on which day, holds included: the table of moves.csv."""
        return frames.moves(self.advice)

    @cached_property
    def lots(self) -> pd.DataFrame:
        """What it changes, lot by lot: likely bloom before and after, and the soonest and latest there could be."""
        return frames.steered(self.advice)

    @property
    def words(self) -> str:
        """The advice in sentences, one a line."""
        return "\n".join(self.advice.words)

    def write(self, folder: Folder, *, safe_csv: bool = False) -> tuple[Path, ...]:
        """Write options.csv, steer.csv, moves.csv, steer.pdf and steer.png into `folder`. Raises OutputError."""
        return self.planned.season.write_set(folder, self.write_files, safe_csv)

    def write_files(self, folder: Path, *, picture: bool = True) -> tuple[Path, ...]:
        """The files of `write` in a folder that is there, as part of a set; `picture`: with steer.png."""
        from forcing.reports.steer import write_steer

        plan = self.planned.result.plan
        return write_steer(self.advice, plan, folder, created=_stamp(plan.on), picture=picture)


@dataclass(frozen=True)
class SeasonAgreement:
    """What was agreed, and the season in which it holds."""

    season: LoadedSeason
    agreement: Agreement
    planned: PlannedSeason  # the plan that was agreed, with its changes against the agreement before
    folder: Path | None  # of the new record; None: nothing was new, or there is nowhere to write it

    @property
    def lots(self) -> pd.DataFrame:
        """Each lot as it is handed out."""
        return agreed.lots(self.agreement)


@dataclass(frozen=True)
class LotReasons:
    """Why one lot has its dates: its weeks from cooler to bloom, what moved it, its slack, what if; and its figures."""

    season: PlannedSeason
    planned: LotPlan

    @cached_property
    def weeks(self) -> tuple[LotWeek, ...]:
        """Its weeks as records."""
        return lot_weeks(self.planned, self.season.result.climate)

    @cached_property
    def table(self) -> pd.DataFrame:
        """Week by week: place, mean temperature, cold credited and heat gathered, each also so far, and the need."""
        return frames.why(self.weeks, self.planned.need, self.season.result.plan.season.unit)

    @cached_property
    def figures(self) -> pd.DataFrame:
        """Every number of the lot's recipe with its basis and source."""
        return frames.figures(self.planned.recipe, self.season.result.plan.season.unit)

    @cached_property
    def reasons(self) -> Reasons:
        """Slack, the arithmetic of its need, what it would be alone, and what if: worked out on the lot alone."""
        simulation = next(t for t in self.season.result.simulations if t.lot.name == self.planned.lot.name)
        return reasons(self.planned, simulation)

    @property
    def words(self) -> str:
        """All of it as lines of text."""
        from forcing.reports.why import why_text

        return why_text(self._page())

    def write(self, folder: Folder) -> tuple[Path, ...]:
        """Write the lot's page, why-LOT.pdf, into `folder`. Raises OutputError."""
        from forcing.reports.why import write_why

        created = _stamp(self.season.on)
        return self.season.season.write_set(
            folder, lambda new: [write_why(self._page(), new, created=created)], False
        )

    def _page(self) -> WhyPage:
        from forcing.reports.why import WhyPage

        agreement = self.season.result.agreement
        agreed_too = agreement is not None and self.planned.lot.name in {lot.name for lot in agreement.lots}
        season = self.season.result.plan.season
        mine = [c for c in self.season.result.changes if c.subject == self.planned.lot.name]
        changed = tuple(agreed.change_lines(mine, season))
        stated = {lot.name: lot.cold_weeks for lot in self.season.season.stated.lots}
        states_cold = stated.get(self.planned.lot.stated_name) is not None
        return WhyPage(season, self.planned, self.weeks, self.reasons, agreed_too, changed, states_cold)


@dataclass(frozen=True)
class SeasonReview:
    """What was planned beside what happened, and the house's own figures for next year."""

    season: LoadedSeason
    looked_back: Review

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row a lot, planned beside actual: the table of review.csv."""
        return frames.review(self.looked_back)

    @cached_property
    def crops(self) -> pd.DataFrame:
        """Next year's figures as rows of the season's table `crops`: the table of next-crops.csv."""
        return frames.crops(self.looked_back.crops, self.looked_back.season.unit)

    @property
    def words(self) -> str:
        """The same as lines of text."""
        from forcing.reports.review import review_text

        return review_text(self.looked_back)

    def write(self, folder: Folder, *, safe_csv: bool = False) -> tuple[Path, ...]:
        """Write review.csv, next-crops.csv and review.xlsx into `folder`. Raises OutputError."""
        from forcing.reports.review import write_review

        return self.season.write_set(
            folder,
            lambda new: write_review(self.looked_back, new, created=_stamp(self.looked_back.on)),
            safe_csv,
        )


def _stamp(on: date) -> datetime:
    """The creation time written into files: midnight UTC of `on`, so that the same input gives the same file."""
    return datetime.combine(on, time(), UTC)
