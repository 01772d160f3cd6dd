"""The commands. Each reads its words, makes one call, shows the answer; heavy imports wait until then.

Exit code 0: done. 1: done, but error findings leave lots unplanned. 2: could not read or understand, and
nothing was written. 130: stopped with Ctrl-C, the old files as they were.
"""

from __future__ import annotations

import atexit
import gc
import io
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

import click

from forcing import __version__, terminal
from forcing.dates import YEARS, iso_week, monday, parse_date
from forcing.errors import Finding, ForcingError, NothingToPlan, SeasonUnreadable

if TYPE_CHECKING:
    from forcing.api import LoadedSeason, PlannedSeason, SeasonOutlook, SeasonReview, SeasonSteering
    from forcing.model import Paper
    from forcing.units import Measures

INTERRUPTED, PIPE_CLOSED = 130, 141  # 128 and the number of the signal, as shells count
_Command = TypeVar("_Command", bound=Callable[..., Any])
_Made = TypeVar("_Made")


def _day(ctx: click.Context, param: click.Parameter, value: str | None) -> date | None:
    """A calendar date written YYYY-MM-DD."""
    if value is None:
        return None
    try:
        day = parse_date(value)
    except ValueError:
        raise click.BadParameter(
            f"{value} is not a date: write it as year-month-day, like 2026-11-02"
        ) from None
    if not YEARS[0] <= day.year <= YEARS[1]:
        raise click.BadParameter(f"the year {day.year} cannot be right: no season is of it")
    return day


SEASON = click.argument("season", type=click.Path(path_type=Path))
SEEN_FROM = "The day from which the season is seen: what is done, due and overdue."


def _on(otherwise: str, help: str = SEEN_FROM) -> Callable[[_Command], _Command]:
    """The option --on; `otherwise` says in words what holds where it is not given."""
    return click.option("--on", callback=_day, metavar="YYYY-MM-DD", show_default=otherwise, help=help)


ON = _on("today")
OUT = click.option(
    "-o", "--out", type=click.Path(path_type=Path, file_okay=False), default=Path("out"), show_default=True,
    metavar="DIR", help="Folder for the sheets; it is made where there is none.",
)  # fmt: skip

ACTIONS = click.option(
    "--actions", type=click.IntRange(0), metavar="N", default=None, show_default="the few that earn their work",
    help="Steer by so many actions at most.",
)  # fmt: skip

PAPER = click.option(
    "--paper", type=click.Choice(["A4", "Letter"], case_sensitive=False), metavar="A4|Letter", default="A4",
    show_default=True, help="Paper of the printed sheets.",
)  # fmt: skip
MEASURES = click.option(
    "--measures", type=click.Choice(["metric", "US"], case_sensitive=False), metavar="metric|US", default="metric",
    show_default=True, help="Measures of pots, mix and cloth.",
)  # fmt: skip
SAFE = click.option(
    "--safe-csv", is_flag=True,
    help="Put an apostrophe before CSV cells that a spreadsheet program would run as formulas.",
)  # fmt: skip


JSON = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON document instead, with dates in ISO 8601."
)


def _unit(default: str | None, otherwise: str = "") -> Callable[[_Command], _Command]:
    """The option --unit; `otherwise` says in words what holds where it is not given."""
    return click.option(
        "--unit", type=click.Choice(["C", "F"], case_sensitive=False), metavar="C|F", default=default,
        show_default=otherwise or True, help="Unit of the temperatures.",
    )  # fmt: skip


class _InOrder(click.Group):
    """Lists the commands in the order in which a season needs them; prints what a terminal has no letter for as ?."""

    def main(self, *words: Any, **named: Any) -> Any:
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):
                stream.reconfigure(errors="replace")
        with _no_collecting():
            return super().main(*words, **named)

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.commands)


@contextmanager
def _no_collecting() -> Iterator[None]:
    """Never look for cycles of garbage: a tenth of a run goes into it, and what it would free is little."""
    gc.disable()
    atexit.register(gc.freeze)  # nor at the end, when all is freed anyway
    try:
        yield
    finally:
        gc.enable()


@click.group(
    cls=_InOrder,
    context_settings={"help_option_names": ["-h", "--help"]},
    epilog="SEASON is a workbook (.xlsx) or a folder of .csv files; it is never written into. "
    "First steps: forcing demo, then forcing start my-season.xlsx. Exit code 0: done; 1: done, but "
    "error findings leave lots or rows out; 2: not understood, and nothing was written.",
)
@click.version_option(__version__, prog_name="forcing")
def main() -> None:
    """Plan a forced-bulb show back from its opening day, and hand out the work."""


@main.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False), default=Path("forcing-demo"))
@_unit("C")
@PAPER
@MEASURES
def demo(folder: Path, unit: str, paper: Paper, measures: Measures) -> None:
    """Write an example season and do everything with it.

    It is seen in its autumn, in its winter and after its show.

    FOLDER is forcing-demo unless you name one.
    """
    with _failing_in_words():
        from forcing.season.starter import DEMO_AFTER, DEMO_AUTUMN, DEMO_LOT, DEMO_WINTER, write_demo

        workbook = write_demo(folder, "F" if unit.upper() == "F" else "C", _progress, paper, measures)

        def steered(winter: PlannedSeason, out: Path) -> tuple[SeasonSteering, list[Path]]:
            steering = winter.steer()
            return steering, [
                *winter.write_week(out), *winter.outlook().write(out), *steering.write(out),
                *winter.why(DEMO_LOT).write(out),
            ]  # fmt: skip

        def looked_back(season: LoadedSeason, out: Path) -> Sequence[Path]:
            return season.review(on=DEMO_AFTER).write(out)

        made, paths = _worked(workbook, DEMO_AUTUMN, folder / "sheets", lambda made, out: made.write(out))
        terminal.say_plan(made, [workbook, *paths])
        done = made.agree()
        where = f": {done.folder}" if done.folder else f" as on {done.agreement.on}"
        click.echo(f"\nAgreed, so that its dates and places stay{where}")
        click.echo(f"\nThe same season seen on {DEMO_WINTER}, with its log and readings until then:")
        winter, (steering, written) = _worked(workbook, DEMO_WINTER, folder / "winter", steered)
        for line in terminal.change_lines(winter):
            terminal.say(line)
        terminal.say(f"\n{steering.words}")
        terminal.say_matters(winter, list(dict.fromkeys(written)))
        after = winter.agree(steering).season.spared(looked_back, folder / "after")
        click.echo(f"\nAgreed, followed, and looked back on when the show is over, on {DEMO_AFTER}:")
        for line in terminal.file_lines(after):
            terminal.say(line)
        click.echo(
            f"\nOpen {workbook} to see what a season looks like, then try: forcing start my-season.xlsx"
        )
        sys.exit(_code(made.result.plan.findings))


@main.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), required=False)
@_unit("C")
@PAPER
@MEASURES
@click.option("--columns", is_flag=True, help="Print every table and column instead, as Markdown.")
def start(file: Path | None, unit: str, paper: str, measures: str, columns: bool) -> None:
    """Write a starter season workbook for you to fill in.

    FILE is its name and ends in .xlsx; a file that is there already is left alone.
    """
    with _failing_in_words():
        if columns:
            from forcing.season.schema import tables_markdown

            click.echo(tables_markdown(), nl=False)
            return
        if file is None:
            _stop("give the new workbook a name that ends in .xlsx, such as my-season.xlsx")
        if file.suffix.lower() != ".xlsx":
            _stop(f"{file}: the starter is a workbook; give it a name that ends in .xlsx")
        if file.exists():
            _stop(f"{file} is there already and is yours: choose another name, or move it away first")
        from forcing.season.starter import write_starter

        write_starter(
            file, unit="F" if unit.upper() == "F" else "C", paper=paper,
            measures="US" if measures.upper() == "US" else "metric",
        )  # fmt: skip
        click.echo(f"{file} written. Fill it in, then: forcing check {file}")


@main.command()
@SEASON
@ON
@JSON
def check(season: Path, on: date | None, as_json: bool) -> None:
    """Say all that is wrong or risky in a season's tables, at once.

    Each finding names table, row and column, what is found there and what to do. Nothing is planned: what only
    planning can tell, such as a room that is too small, is said by forcing plan.
    """
    with _failing_in_words():
        from forcing.api import load

        on = on or date.today()
        findings = load(season).checked(on=on)
        if as_json:
            terminal.say_json(on=on, findings=terminal.findings_data(findings))
        else:
            terminal.say_findings(findings, on)
        if findings and not as_json:
            leave = " Errors leave lots or rows out of the plan." if _code(findings) else ""
            terminal.say(f"\n{terminal.counted(f.severity for f in findings)}.{leave}")
        sys.exit(_code(findings))


@main.command()
@SEASON
@OUT
@SAFE
@ON
@JSON
def plan(season: Path, out: Path, safe_csv: bool, on: date | None, as_json: bool) -> None:
    """Work a season out: the plan and all its sheets."""
    with _failing_in_words():
        made, paths = _worked(season, on, out, lambda made, out: made.write(out, safe_csv=safe_csv))
        if as_json:
            terminal.say_json(**terminal.plan_data(made, paths))
        else:
            terminal.say_plan(made, paths)
        sys.exit(_code(made.result.plan.findings))


@main.command()
@SEASON
@ON
@click.option("--steering", is_flag=True, help="Agree to the steering advice of the day too.")
@ACTIONS
def agree(season: Path, on: date | None, steering: bool, actions: int | None) -> None:
    """Record the plan as it is handed out.

    From then on its dates and places are kept; what later has to change is listed with its cause. The record is a
    folder of CSV files beside the season, which itself is not written into.
    """
    with _failing_in_words():
        from forcing.api import load

        done = load(season, progress=_progress).agree(
            on=on or date.today(), steering=steering, actions=actions
        )
        made, count = (
            done.planned,
            "1 lot" if len(done.agreement.lots) == 1 else f"{len(done.agreement.lots)} lots",
        )
        words = f"Agreed for {count}: {done.folder}. These dates and places now stay."
        if done.folder is None:
            since = terminal.in_days(str(done.agreement.on), made.on)
            words = f"Nothing new: what was agreed on {since} stands, for {count}."
        changes = terminal.change_lines(made) if made.result.agreement is not None else ()
        terminal.say_errors_and_matters(made, words, (), changes)
        sys.exit(_code(made.result.plan.findings))


@main.command()
@SEASON
@OUT
@SAFE
@ON
@JSON
def week(season: Path, out: Path, safe_csv: bool, on: date | None, as_json: bool) -> None:
    """Write all that a Monday needs.

    The task sheet of the week of --on, the outlook, the steering options, the board and a workbook to enter what was
    done, from one working-out.
    """
    with _failing_in_words():
        from forcing.reports.style import short_date

        made, paths = _worked(season, on, out, lambda made, out: made.write_week(out, safe_csv=safe_csv))
        if as_json:
            terminal.say_json(
                **terminal.plan_data(made, paths), week=iso_week(made.on), sheet=str(paths[0]),
                steering=made.steer().words.splitlines(),
            )  # fmt: skip
        else:
            terminal.say_chances(made)
            week = f"the work of the week of {short_date(monday(made.on))}"
            terminal.say_errors_and_matters(made, f"{paths[0]}: {week}", paths[1:])
        sys.exit(_code(made.result.plan.findings))


@main.command()
@SEASON
@OUT
@SAFE
@ON
@JSON
def outlook(season: Path, out: Path, safe_csv: bool, on: date | None, as_json: bool) -> None:
    """Say when each lot is now expected to bloom.

    Early, likely and late, from the log and the readings so far.
    """
    with _failing_in_words():

        def look(made: PlannedSeason, out: Path) -> tuple[SeasonOutlook, Sequence[Path]]:
            seen = made.outlook()
            return seen, seen.write(out, safe_csv=safe_csv)

        made, (seen, paths) = _worked(season, on, out, look)
        if as_json:
            terminal.say_json(**terminal.plan_data(made, paths), outlook=terminal.outlook_data(seen))
        else:
            terminal.say_outlook(made, seen, paths)
        sys.exit(_code(made.result.plan.findings))


@main.command()
@SEASON
@OUT
@SAFE
@ON
@ACTIONS
def steer(season: Path, out: Path, safe_csv: bool, on: date | None, actions: int | None) -> None:
    """Say what to set, move or hold to bloom on target.

    Bench temperatures, moves between benches and cold holds, with what they change.
    """
    with _failing_in_words():

        def advise(made: PlannedSeason, out: Path) -> tuple[SeasonSteering, Sequence[Path]]:
            steering = made.steer(actions)
            return steering, steering.write(out, safe_csv=safe_csv)

        made, (steering, paths) = _worked(season, on, out, advise)
        found = made.result.plan.findings
        if steering.advice.findings:
            terminal.say_findings(steering.advice.findings, made.on, where=False)
        terminal.say_errors_and_matters(made, f"\n{terminal.in_days(steering.words, made.on)}", paths)
        sys.exit(_code([*found, *steering.advice.findings]))


@main.command()
@SEASON
@click.argument("lot")
@OUT
@ON
def why(season: Path, lot: str, out: Path, on: date | None) -> None:
    """Say how the dates of one LOT came about.

    Its weeks of cold and heat, how they made its need, what moved it, its slack, what if; and every figure with its
    source. On the terminal, and as one page.
    """
    with _failing_in_words():

        def explain(made: PlannedSeason, out: Path) -> tuple[str, Sequence[Path]]:
            try:
                reasons = made.why(lot)
            except KeyError as error:
                _stop(str(error.args[0]))
            return reasons.words, reasons.write(out)

        made, (words, paths) = _worked(season, on, out, explain)
        terminal.say(words)
        terminal.say_matters(made, paths)


@main.command()
@SEASON
@OUT
@SAFE
@_on("all that is logged", "Look back on what was logged until this day.")
def review(season: Path, out: Path, safe_csv: bool, on: date | None) -> None:
    """Compare plan and log; next year's figures.

    What was planned beside what happened, lot by lot, and the house's own figures for the crops table.
    """
    with _failing_in_words():
        from forcing.api import load

        def look_back(season: LoadedSeason, out: Path) -> tuple[SeasonReview, Sequence[Path]]:
            looked = season.review(on=on)
            return looked, looked.write(out, safe_csv=safe_csv)

        looked, paths = load(season, progress=_progress).spared(look_back, out)
        left_out = [finding for finding in looked.season.read_findings if finding.severity == "error"]
        _say_errors(left_out, looked.looked_back.on)
        terminal.say(looked.words)
        for line in terminal.file_lines(paths):
            terminal.say(line)
        sys.exit(_code(left_out))


@main.command()
@click.argument("crop", required=False)
@click.option(
    "--season", type=click.Path(path_type=Path), metavar="SEASON", default=None,
    help="With the figures of this season's own crops table over the shipped ones.",
)  # fmt: skip
@_unit(None, "the season's, else C")
def crops(crop: str | None, season: Path | None, unit: str | None) -> None:
    """Show the recipes in force, with their sources.

    All crops in short, or one CROP in full. A row of your crops table that names no class gives way to a shipped
    row of the class: with --season it is shown where.
    """
    with _failing_in_words():
        from forcing.recipes.book import CompanionBook, RecipeBook
        from forcing.recipes.listing import crops_text

        book, companions, shown = RecipeBook.from_overrides(), CompanionBook.from_overrides(), "C"
        if season is not None:
            from forcing.api import load

            loaded = load(season)
            book, shown = loaded.book, loaded.stated.unit
            companions = CompanionBook.from_overrides(loaded.stated.overrides)
        click.echo(crops_text(book, companions, crop, "F" if (unit or shown).upper() == "F" else "C"))


# ---------------------------------------------------------------- shared words


@contextmanager
def _failing_in_words() -> Iterator[None]:
    """Turns errors into words and exit code 2; a traceback never reaches a user who has not asked for it."""
    try:
        yield
    except SeasonUnreadable as error:
        _say_fatal(error.findings)
        _stop("Mend these first, then run it again. Nothing was written.")
    except NothingToPlan as error:
        _say_fatal(error.findings)
        click.echo("There is nothing to plan, and nothing was written.", err=True)
        sys.exit(1)
    except ForcingError as error:
        _stop(str(error))
    except KeyboardInterrupt:
        click.echo("Stopped: what was there before is as it was.", err=True)
        sys.exit(INTERRUPTED)
    except BrokenPipeError:  # whoever reads along has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(PIPE_CLOSED)
    except Exception as error:
        if os.environ.get("FORCING_TRACEBACK"):
            raise
        _stop(
            f"This is a fault of forcing itself, not of your season: {type(error).__name__}: {error}. Please report it "
            "with the command and the season; with FORCING_TRACEBACK=1 set, it also says where."
        )


def _say_fatal(findings: Sequence[Finding]) -> None:
    """Why nothing can be done, in the form that was asked for."""
    if click.get_current_context().params.get("as_json"):
        terminal.say_json(findings=terminal.findings_data(findings))
    else:
        terminal.say_findings(findings, None)


def _worked(
    season: Path, on: date | None, out: Path, work: Callable[[PlannedSeason, Path], _Made]
) -> tuple[PlannedSeason, _Made]:
    """The season worked out as seen on day `on`, and what `work` makes of it and writes into `out`.

    on: None is today; the clock is asked here, in `check` and in `agree` only.
    """
    from forcing.api import load

    def plan_first(season: LoadedSeason, folder: Path) -> tuple[PlannedSeason, _Made]:
        made = season.plan(on=on or date.today())
        return made, work(made, folder)

    return load(season, progress=_progress).spared(plan_first, out)


def _stop(text: str) -> NoReturn:
    click.echo(text, err=True)
    sys.exit(2)


def _progress(text: str) -> None:
    click.echo(f"  {text} ...", err=True)


def _code(findings: Sequence[Finding]) -> int:
    return 1 if any(f.severity == "error" for f in findings) else 0


def _say_errors(findings: Sequence[Finding], on: date) -> None:
    """Errors in full, the rest as a count; `forcing plan` says them all."""
    errors = [finding for finding in findings if finding.severity == "error"]
    if errors:
        terminal.say_findings(errors, on)
    others = terminal.counted(finding.severity for finding in findings if finding.severity != "error")
    if others:
        terminal.say(f"{others}: see forcing plan.")
