"""Lots that are split: the two parts as lots of their own, each potted and moved together.

A lot may be split where its row says so. Its parts are named after it, with a and b; what is planted, ordered and
wanted of the lot is shared by them. Once the log names the parts, the lot stays split as it is logged.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from forcing.errors import Finding
from forcing.model import LogEntry, Lot, Season

COUNTED = ("potted", "cooler in", "brought in")  # events whose pots say how large a part is


def divided(season: Season, pots: Mapping[str, tuple[int, int]]) -> Season:
    """The season with its lots of these names in two parts of so many pots."""
    lots: list[Lot] = []
    for lot in season.lots:
        if lot.name not in pots:
            lots.append(lot)
            continue
        for name, count in zip(lot.part_names, pots[lot.name], strict=True):
            lots.append(replace(lot, name=name, pots=count, split=False, part_of=lot.name))
    return replace(season, lots=tuple(lots))


def as_logged(season: Season, on: date) -> tuple[Season, tuple[Finding, ...]]:
    """The season with the lots in parts that the log names in parts by day `on`, and what the log leaves open."""
    log = list(season.log)
    sizes: dict[str, tuple[int, int]] = {}
    findings: list[Finding] = []
    for lot in season.lots:
        mine = [e for e in log if lot.split and e.lot in lot.part_names and e.date <= on]
        if not mine:
            continue
        sizes[lot.name], said = _sizes(lot, mine)
        findings.extend(said)
        of_both = [e for e in log if e.lot == lot.name]
        findings.extend(_lost_of_both(lot, of_both))
        log = [e for e in log if e.lot != lot.name]
        log += [replace(e, lot=name) for e in of_both if e.event != "lost" for name in lot.part_names]
    if not sizes:
        return season, ()
    return replace(divided(season, sizes), log=tuple(log)), tuple(findings)


def _sizes(lot: Lot, mine: Sequence[LogEntry]) -> tuple[tuple[int, int], list[Finding]]:
    """Pots of the two parts by the log; what it does not say of one part is what is left of the lot."""
    first, second = (
        next(
            (e.pots for e in sorted(mine, key=_when) if e.lot == name and e.event in COUNTED and e.pots), None
        )
        for name in lot.part_names
    )
    if first is not None and second is not None:
        return (first, second), []
    if first is not None:
        return (first, max(0, lot.pots - first)), []
    if second is not None:
        return (max(0, lot.pots - second), second), []
    half = lot.pots // 2
    return (lot.pots - half, half), [
        Finding(
            "part-pots-unknown", "warning", "log", mine[0].row, "pots",
            f"{lot.name} is logged in parts, but no row says how many pots are in {lot.part_names[0]}: half of them "
            "are reckoned with",
            f"Write the pots of {lot.part_names[0]} into its row of {mine[0].event}.",
        )
    ]  # fmt: skip


def _when(entry: LogEntry) -> tuple[date, int]:
    return entry.date, entry.row or 0


def _lost_of_both(lot: Lot, entries: Sequence[LogEntry]) -> Iterator[Finding]:
    for entry in entries:
        if entry.event == "lost":
            yield Finding(
                "part-lost-unnamed", "error", "log", entry.row, "lot",
                f"{lot.name} is logged in parts, so it is not known of which these pots were lost; the row is left out",
                f"Write {lot.part_names[0]} or {lot.part_names[1]} instead.", entry.lot,
            )  # fmt: skip


def split_findings(season: Season) -> Iterator[Finding]:
    """Each lot that the plan has split, with where its parts go told by the plan itself."""
    whole: dict[str, list[Lot]] = {}
    for lot in season.lots:
        if lot.part_of is not None:
            whole.setdefault(lot.part_of, []).append(lot)
    for name, parts in whole.items():
        sizes = " and ".join(f"{part.name} ({part.pots} pots)" for part in parts)
        yield Finding(
            "lot-split", "note", "lots", parts[0].row, "split",
            f"{name} is grown in two parts, {sizes}",
            "Label and log the parts by these names, with their pots where they are potted.", name,
        )  # fmt: skip
