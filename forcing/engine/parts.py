"""Lots in parts: as the plan grows them, and as the log has them where only some of the pots go somewhere."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from string import ascii_lowercase
from types import MappingProxyType

from forcing.engine.log import LEAVES, histories, rank
from forcing.engine.show.pots import with_pots
from forcing.errors import Finding
from forcing.model import COMPANION_ONLY, STAGE_EVENTS, Event, LogEntry, Lot, PlaceKind, Season
from forcing.text import listed

COUNTED = ("potted", "cooler in", "brought in")  # events whose pots say how large a part is
GOES: tuple[Event, ...] = (
    "cooler in",
    "brought in",
    "moved",
    "held",
    "set out",
)  # a part of a lot may go alone
# In which phases of its life (0 potted, 1 in the cold, 2 brought in, 3 set out) an event can come to a part.
_PHASES: Mapping[Event, tuple[int, ...]] = MappingProxyType({
    "cooler in": (0, 1), "rooted": (0, 1), "brought in": (0, 1), "held": (2,), "set out": (2,), "faded": (2, 3),
    **dict.fromkeys(STAGE_EVENTS, (2, 3)),
})  # fmt: skip
_MOVED_IN: Mapping[PlaceKind, tuple[int, ...]] = MappingProxyType(
    {"cooler": (1,), "bench": (2,), "site": (3,)}
)


def lot_of(name: str, lots: Collection[str]) -> str | None:
    """The lot of `lots` that a name of the log means, itself or one of its parts (X a, X b, ...); None: no lot."""
    if name in lots:
        return name
    whole, _, letter = name.rpartition(" ")
    return whole if whole in lots and letter in ascii_lowercase and len(letter) == 1 else None


def divided(season: Season, pots: Mapping[str, Sequence[int]]) -> Season:
    """The season with its lots of these names in parts of so many pots, in the order of their letters."""
    return _in_parts(season, {
        name: [(f"{name} {letter}", count) for letter, count in zip(ascii_lowercase, counts, strict=False)]
        for name, counts in pots.items()
    })  # fmt: skip


def _in_parts(season: Season, parts: Mapping[str, Sequence[tuple[str, int]]]) -> Season:
    """The season with its lots of these names in parts, each of a name and so many pots."""
    lots: list[Lot] = []
    for lot in season.lots:
        for name, count in parts.get(lot.name, ()):
            lots.append(replace(lot, name=name, pots=count, split=False, part_of=lot.name))
        lots += () if lot.name in parts else (lot,)
    return replace(season, lots=tuple(lots))


@dataclass(frozen=True, slots=True)
class ShortPotting:
    """More pots of a lot are wanted than were potted."""

    wanted: int
    potted: int
    entry: LogEntry  # of the potting


def short_of(season: Season, on: date) -> dict[str, ShortPotting]:
    """The lots of which the log says, by day `on`, that fewer pots were potted than the season states."""
    wanted = {lot.name: lot.pots for lot in season.lots}
    found: dict[str, ShortPotting] = {}
    for entry in sorted(season.log, key=_when):
        if entry.event == "potted" and entry.date <= on and entry.pots and entry.lot not in found:
            if entry.pots < wanted.get(entry.lot, 0):
                found[entry.lot] = ShortPotting(wanted[entry.lot], entry.pots, entry)
            wanted.pop(entry.lot, None)  # a second row is a contradiction
    return found


def as_logged(season: Season, on: date) -> tuple[Season, tuple[Finding, ...]]:
    """The season with the pots that were potted, and in parts the lots that the log names or moves in parts by `on`.

    Where fewer pots of a lot go somewhere than there are, they and the rest are lots of their own from then on, named
    in the order in which they go. Also what the log leaves open.
    """
    short = short_of(season, on)
    lots = tuple(
        replace(lot, pots=short[lot.name].potted) if lot.name in short else lot for lot in season.lots
    )
    season = replace(season, lots=lots)
    names, kinds = {lot.name for lot in lots}, {place.name: place.kind for place in season.places}
    of_lot: dict[str, list[LogEntry]] = defaultdict(list)
    for entry in season.log:
        happens = entry.date <= on and entry.event not in COMPANION_ONLY
        if happens and (name := lot_of(entry.lot, names)) is not None:
            of_lot[name].append(entry)
    findings: list[Finding] = []
    parts: dict[str, list[LoggedPart]] = {}
    for lot in lots:
        mine = sorted(of_lot[lot.name], key=lambda e: (e.date, rank(e.event), e.row or 0))
        if any(e.lot != lot.name or (e.event in GOES and e.pots) for e in mine):
            made = _parts(lot, mine, kinds, _free_names(lot, names), findings)
            if len(made) > 1:
                parts[lot.name] = made
    if not parts:
        return season, tuple(findings)
    log = [e for e in season.log if lot_of(e.lot, names) not in parts]
    log += [e for made in parts.values() for part in made for e in part.entries()]
    sizes = {name: [(part.name, part.pots) for part in made] for name, made in parts.items()}
    return replace(_in_parts(season, sizes), log=tuple(log)), tuple(findings)


def log_findings(season: Season, on: date) -> tuple[Finding, ...]:
    """What the log leaves open by day `on`, and its entries that cannot be true."""
    season, of_parts = as_logged(with_pots(season), on)
    return (*of_parts, *histories(season, on)[1])


@dataclass(slots=True)
class LoggedPart:
    """Pots of a lot that go together, and what is logged of them so far. `pots`: as many as there were at first."""

    name: str
    pots: int
    log: list[LogEntry]

    @property
    def left(self) -> int:
        return self.pots - sum(e.pots or 0 for e in self.log if e.event in LEAVES)

    @property
    def phase(self) -> int:
        """0 potted, 1 in the cold, 2 brought in, 3 set out."""
        phases = {"cooler in": 1, "brought in": 2, "held": 2, "set out": 3}
        return max((phases.get(e.event, 0) for e in self.log), default=0)

    def awaits(self, event: Event, kind: PlaceKind | None) -> bool:
        """Whether an event that names the lot is likely of this part; `kind`: of the place that it names."""
        if event == "moved":
            return kind is None or self.phase in _MOVED_IN.get(kind, (1, 2, 3))
        seen = event != "held" and any(e.event == event for e in self.log)
        return self.left > 0 and self.phase in _PHASES.get(event, (0, 1, 2, 3)) and not seen

    def entries(self) -> Iterator[LogEntry]:
        """Its log as that of a lot of its own."""
        for e in self.log:
            pots = self.pots if e.event == "potted" else e.pots if e.event in LEAVES else None
            yield replace(e, lot=self.name, pots=pots)


def _free_names(lot: Lot, names: Collection[str]) -> list[str]:
    """Names for the parts of a lot that no lot has."""
    return [name for letter in ascii_lowercase if (name := f"{lot.name} {letter}") not in names]


def _parts(
    lot: Lot, entries: Sequence[LogEntry], kinds: Mapping[str, PlaceKind], free: list[str], findings: list[Finding]
) -> list[LoggedPart]:  # fmt: skip
    """The lot as the log has it, entry by entry: whole, or in parts. `free`: names for parts."""
    parts = [LoggedPart(lot.name, lot.pots, [])]
    moved_apart = next(
        (i for i, e in enumerate(entries) if e.event in GOES and (e.pots or lot.pots) < lot.pots), None
    )
    named = [e for e in entries[:moved_apart] if e.lot != lot.name]
    if moved_apart is not None and entries[moved_apart].lot != lot.name:
        named.append(entries[moved_apart])
    if named:
        sizes, said = _sizes(lot, [e for e in entries if e.lot != lot.name])
        findings += said
        parts = [LoggedPart(name, pots, []) for name, pots in zip(lot.part_names, sizes, strict=True)]
        free = [name for name in free if name not in lot.part_names]
    for entry in entries:
        theirs = [part for part in parts if part.name == entry.lot]
        if entry.lot == lot.name:
            theirs = [
                part for part in parts if part.awaits(entry.event, kinds.get(entry.place or ""))
            ] or parts
        if not theirs or (entry.event == "lost" and len(theirs) > 1):
            findings.append(_of_which_part(lot, parts, entry))
        elif entry.pots and entry.event in (*GOES, "sold"):
            _some_go(parts, theirs, entry, free)
        else:
            for part in theirs:
                part.log.append(entry)
    return sorted(parts, key=lambda part: part.name)


def _some_go(parts: list[LoggedPart], theirs: Sequence[LoggedPart], entry: LogEntry, free: list[str]) -> None:
    """So many pots go somewhere, or are sold: of the first parts, that which only some leave divided in two."""
    more, sold = entry.pots or 0, entry.event == "sold"
    for number, part in enumerate(sorted(theirs, key=lambda p: -p.phase) if sold else theirs, start=1):
        left = part.left
        if sold:
            left = more if number == len(theirs) else min(more, left)
            part.log += [replace(entry, pots=left)] if left else []
        elif more < left and len(free) > 1:
            if len(parts) == 1:
                part.name = free.pop(0)
            rest = LoggedPart(free.pop(0), part.pots - more, list(part.log))
            part.pots, part.log = more, [*(e for e in part.log if e.event not in LEAVES), entry]
            parts.insert(parts.index(part) + 1, rest)
        else:
            part.log.append(entry)
        more -= left
        if more <= 0:
            return


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
            "part-pots-unknown", "warning", mine[0].found_in, mine[0].row, "pots",
            f"{lot.name} is logged in parts, but no row says how many pots are in {lot.part_names[0]}: half of them "
            "are reckoned with",
            f"Write the pots of {lot.part_names[0]} into its row of {mine[0].event}.", lot=lot.name,
        )
    ]  # fmt: skip


def _when(entry: LogEntry) -> tuple[date, int]:
    return entry.date, entry.row or 0


def _of_which_part(lot: Lot, parts: Sequence[LoggedPart], entry: LogEntry) -> Finding:
    names = [part.name for part in parts]
    if entry.lot != lot.name:
        return Finding(
            "part-unknown", "error", entry.found_in, entry.row, "lot",
            f"{lot.name} has no such part by its log: the row is left out", f"Write {listed(names)}, or {lot.name}.",
            entry.lot, lot=lot.name,
        )  # fmt: skip
    return Finding(
        "part-lost-unnamed", "error", entry.found_in, entry.row, "lot",
        f"{lot.name} is logged in parts, so it is not known of which these pots were lost; the row is left out",
        f"Write {' or '.join(names)} instead.", entry.lot, lot=lot.name,
    )  # fmt: skip


def split_findings(season: Season) -> Iterator[Finding]:
    """Each lot that the plan has split, with where its parts go told by the plan itself."""
    whole: dict[str, list[Lot]] = {}
    for lot in season.lots:
        if lot.part_of is not None:
            whole.setdefault(lot.part_of, []).append(lot)
    for name, parts in whole.items():
        sizes = listed([f"{part.name} ({part.pots} pots)" for part in parts], len(parts))
        yield Finding(
            "lot-split", "note", "lots", parts[0].row, "split",
            f"{name} is grown in {'two' if len(parts) == 2 else len(parts)} parts, {sizes}",
            "Label and log the parts by these names, with their pots where they are potted.", name,
        )  # fmt: skip
