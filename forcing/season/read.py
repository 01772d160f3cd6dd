"""A season as the grower keeps it -> the Season and the findings, or SeasonUnreadable with all of them."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from forcing.engine.climate import horizon
from forcing.errors import Finding, SeasonUnreadable, Severity, sort_findings
from forcing.model import Lot, Season
from forcing.season.build import build_season, spelled_out, spellings
from forcing.season.cells import RawSeason, RawSheet
from forcing.season.log_folder import LogFolder, merged_log, merged_readings, read_log_folder
from forcing.season.rows import Row, is_blank, read_items, read_rows
from forcing.season.schema import PEOPLE_SHEETS, TABLE_NAMES, near, table
from forcing.season.sheets import read_folder, read_workbook
from forcing.text import fold, fold_word

if TYPE_CHECKING:
    import pandas as pd


def read_frames(frames: Mapping[str, pd.DataFrame]) -> RawSeason:
    """Every frame as the sheet it would be, its columns in row 1; a named index is a column of its own.

    Raises TypeError for what is no DataFrame.
    """
    return RawSeason(tuple(_sheet_of_frame(str(name), frame) for name, frame in frames.items()))


def _sheet_of_frame(name: str, frame: pd.DataFrame) -> RawSheet:
    import pandas as pd

    if not isinstance(frame, pd.DataFrame):
        raise TypeError(f"the table {name} must be a pandas.DataFrame, not {type(frame).__name__}")
    indexes = [
        frame.index.get_level_values(i) for i, level in enumerate(frame.index.names) if level is not None
    ]
    header = [*(str(index.name) for index in indexes), *map(str, frame.columns)]
    columns = [*indexes, *(frame.iloc[:, i] for i in range(frame.shape[1]))]
    cells = [[_cell_of_frame(raw) for raw in column.astype(object)] for column in columns]
    return RawSheet(name, (tuple(header), *zip(*cells, strict=True)))


def _cell_of_frame(raw: Any) -> object:
    """A value as a workbook would give it: what is missing is an empty cell, numpy's numbers are plain ones."""
    import pandas as pd

    if pd.api.types.is_scalar(raw) and pd.isna(raw):
        return None
    if isinstance(raw, pd.Timestamp):
        return raw.tz_localize(None).to_pydatetime(warn=False)
    return raw if isinstance(raw, datetime | timedelta) or not hasattr(raw, "item") else raw.item()


# Tables whose rows are named in other tables, and the column of the name.
_NAMING = {
    "places": "place", "setpoints": "place", "displays": "display", "lots": "lot", "companions": "companion",
    "crops": "crop", "plantings": "display", "normals": "place",
}  # fmt: skip


def read_season(source: Path | str | Mapping[str, pd.DataFrame]) -> tuple[Season, tuple[Finding, ...]]:
    """The season of a workbook (.xlsx), a folder of .csv files or frames by table name, and its warnings.

    The readings of loggers (folder readings) and what further files log (folder log), beside a workbook or inside a
    folder, are in it. In findings about a frame row 2 is
    its first row, as if it were a sheet.

    Raises SeasonUnreadable, carrying every finding, where the files cannot be opened or any cell cannot
    be understood; TypeError where a table is no DataFrame.
    """
    if isinstance(source, Mapping):
        return season_of(read_frames(source), "season")
    path = Path(source)
    if path.is_dir():
        season, findings = season_of(read_folder(path), str(path.name or path), path)
    else:
        season, findings = season_of(read_workbook(path), path.name, path.parent)
    from forcing.season.agreed import read_records, record_folder

    records = read_records(record_folder(path))
    return replace(season, agreed=records.agreements), sort_findings([*findings, *records.findings])


def season_of(raw: RawSeason, name: str, beside: Path | None = None) -> tuple[Season, tuple[Finding, ...]]:
    """The season of raw sheets; `name` is the file's, for findings about the whole of it.

    beside: the folder with the folders of logger exports (readings) and of further log files (log); None: there are
    none.

    Raises SeasonUnreadable as `read_season` does.
    """
    sheets, unread, findings = _by_table(raw)
    if not sheets:
        if not any(f.severity == "error" for f in findings):
            hint = f"Start from a starter season; its tables are: {', '.join(TABLE_NAMES)}."
            findings.append(
                Finding("file-no-tables", "error", name, None, None, "it holds no table of a season", hint)
            )
        raise SeasonUnreadable(findings)
    items = read_items(sheets.get("season"))
    findings += items.findings
    rows: dict[str, Sequence[Row]] = {}
    for table_name, sheet in sheets.items():
        if table_name != "season":
            typed, found = read_rows(sheet, table(table_name), items.how)
            rows[table_name] = typed or []
            unread |= {table_name} if typed is None else set()
            findings += found
    further = LogFolder() if beside is None else read_log_folder(beside / "log", items.how)
    for table_name, more in further.rows.items():
        rows[table_name] = [*rows.get(table_name, ()), *more]
    explained = unread | {f.table for f in findings if f.severity == "error"}
    left_out = [] if "lots" in explained else _no_lots(rows)
    findings += [] if "places" in explained else _no_places(sheets, rows)
    meant, found = spelled_out(rows)
    findings += found
    built = build_season(items, meant)
    # What is wrong in the log folder keeps nobody from planning: its rows are left out.
    findings += [f for f in dict.fromkeys(built.findings) if f.table not in further.tables]
    left_out += [
        *further.findings,
        *(f for f in built.findings if f.table in further.tables),
        *built.left_out,
    ]
    season = built.season
    if further.tables:
        merged = merged_log(season.log), merged_readings(season.readings)
        season = replace(season, log=merged[0], readings=merged[1])
    if beside is not None:
        season, found = _with_loggers(season, built.dated, meant, beside / "readings")
        findings += found
    if not built.dated or any(f.severity == "error" for f in findings):
        partial = Partial(season, built.dated, _names_left_out(meant, unread))
        raise SeasonUnreadable([*findings, *left_out], partial)
    return season, sort_findings([*findings, *left_out])


@dataclass(frozen=True, slots=True)
class Partial:
    """The season without the rows that were not understood: never to be planned, only to be checked further."""

    season: Season
    dated: bool  # False: opens or closes is not known, and the days of the show are stand-ins
    left_out: Mapping[str, frozenset[str] | None]  # table -> names of the rows it lacks; None: not known

    def lacks(self, table: str, name: str) -> bool:
        """Whether a row of that name may be among those left out of a table."""
        names = self.left_out.get(table, frozenset())
        return names is None or fold(name) in names


def _names_left_out(
    rows: Mapping[str, Sequence[Row]], unread: Collection[str]
) -> dict[str, frozenset[str] | None]:
    """Table -> names of the rows that were not understood, None where these are not known."""
    names: dict[str, frozenset[str] | None] = dict.fromkeys(unread)
    for name, column in _NAMING.items():
        texts = [row.text(column) for row in rows.get(name, ()) if row.bad]
        if name == "lots":
            texts += [part for text in texts if text for part in Lot(text, "", 0).part_names]
        if name not in unread:
            names[name] = None if None in texts else frozenset(fold(text) for text in texts if text)
    return names


def _with_loggers(
    season: Season, dated: bool, rows: Mapping[str, Sequence[Row]], folder: Path
) -> tuple[Season, list[Finding]]:
    """The season with what its loggers say; without its days, still all that is wrong with their files."""
    if not folder.is_dir() and not rows.get("loggers"):
        return season, []
    from forcing.season.logger_days import join_readings
    from forcing.season.loggers import read_loggers

    places = spellings(rows, "places", "place")
    logged = read_loggers(folder, rows.get("loggers", ()), places, horizon(season) if dated else None)
    if not dated:
        return season, list(logged.findings)
    readings, findings = join_readings(season.readings, logged, season.unit)
    return replace(season, readings=readings), findings


def _by_table(raw: RawSeason) -> tuple[dict[str, RawSheet], set[str], list[Finding]]:
    """Sheets by the table they hold, and the tables left unread; a second sheet of a table is not read."""
    known = {fold_word(name): name for name in TABLE_NAMES}
    found: dict[str, RawSheet] = {}
    unread = {known[fold_word(name)] for name in raw.unread if fold_word(name) in known}
    findings = list(raw.findings)
    for sheet in raw.sheets:
        name = known.get(fold_word(sheet.name))
        if name is None:
            findings += _unknown_sheet(sheet)
        elif name in found:
            unread.add(name)
            message = f"a second sheet for this table, beside {found[name].name}"
            hint = "Keep one of them."
            findings.append(Finding("table-twice", "error", name, None, None, message, hint, sheet.name))
        else:
            found[name] = sheet
    return found, unread, findings


def _unknown_sheet(sheet: RawSheet) -> list[Finding]:
    if fold_word(sheet.name) in PEOPLE_SHEETS or all(is_blank(raw) for row in sheet.rows for raw in row):
        return []
    match = near(sheet.name, TABLE_NAMES)
    hint = f"Did you mean {match}? Rename it." if match else "Nothing, if it is for people."
    severity = "warning" if match else "note"
    return [Finding("table-unknown", severity, sheet.name, None, None, "an unknown table, not read", hint)]  # type: ignore[arg-type]


def _no_lots(rows: Mapping[str, Sequence[Row]]) -> list[Finding]:
    """That there is nothing to force; not where companions are grown, which are planned without it."""
    if rows.get("lots"):
        return []
    severity: Severity = "warning" if rows.get("companions") else "error"
    hint = f"{table('lots').help} Without it there is nothing to force."
    return [Finding("no-lots", severity, "lots", None, None, "the season has no lots", hint)]


def _no_places(sheets: Mapping[str, RawSheet], rows: Mapping[str, Sequence[Row]]) -> list[Finding]:
    if rows.get("places"):
        return []
    message = "the table has no rows" if "places" in sheets else "the table is missing"
    hint = f"{table('places').help} Without it there is nothing to plan."
    return [Finding("table-empty", "warning", "places", None, None, message, hint)]
