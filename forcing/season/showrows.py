"""Rows about the show and what it needs: containers and their litres, jobs, former minima, supplies."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, cast, get_args

from forcing.crops.companion_book import COMPANION_PARAMETERS, split_overrides
from forcing.crops.names import fold
from forcing.errors import Finding
from forcing.model import PARAMETERS, Job, Minimum, Override, Season, Shape, Supply
from forcing.science.containers import (
    HEADSPACE_LARGE,
    HEADSPACE_SMALL,
    Container,
    barrel,
    bowl,
    box,
    cylinder,
    frustum,
    tapered_box,
)
from forcing.season.columns import did_you_mean, plain, same_name
from forcing.season.rows import Row

SHALLOW = 20.0  # cm: containers less deep are small ones for the room left below the rim; practice
_SIZED = "pots 15 cm"  # how pots of one width are written
SUPPLIES = ("bulbs", "pots", "labels", "mix", "cloth", "seed")  # beside crops, cultivars and 'pots 15 cm'
_ALL = ("length cm", "width cm", "depth cm", "base length cm", "base width cm")
# The measures that a shape needs, in the order in which its function takes them.
_SHAPES: Mapping[Shape, tuple[Callable[..., Container], tuple[str, ...]]] = {
    "box": (box, ("length cm", "width cm", "depth cm")),
    "tapered box": (tapered_box, ("length cm", "width cm", "base length cm", "base width cm", "depth cm")),
    "cylinder": (cylinder, ("length cm", "depth cm")),
    "frustum": (frustum, ("length cm", "base length cm", "depth cm")),
    "bowl": (bowl, ("length cm", "depth cm")),
    "barrel": (barrel, ("length cm", "width cm", "base length cm", "depth cm")),
}
assert set(_SHAPES) == set(get_args(Shape))


def container_fields(row: Row, findings: list[Finding]) -> dict[str, Any]:
    """What a row of displays says of one container: litres (stated, else from its measures), cloth, measures."""
    shape = cast("Shape | None", row.text("shape"))
    measures = {name: row.number_of(name) for name in _ALL}
    litres = row.number_of("litres")
    if litres is None:
        litres = _litres(row, shape, measures, findings)
    fields = {name.replace(" ", "_"): value for name, value in measures.items()}
    return {"litres": litres, "cover_m2": row.number_of("cover m2"), "shape": shape, **fields}


def _litres(
    row: Row, shape: Shape | None, measures: Mapping[str, float | None], findings: list[Finding]
) -> float | None:
    """Litres up to the room for water below the rim; None, and a finding, where the measures do not say it."""
    if shape is None:
        given = next((name for name, value in measures.items() if value is not None), None)
        if given:
            findings.append(
                row.finding("shape-missing", given, "a measure of a container whose shape is not stated",
                            f"Write the shape: {', '.join(_SHAPES)}; or the litres.", "warning")
            )  # fmt: skip
        return None
    make, needed = _SHAPES[shape]
    missing = [name for name in needed if measures[name] is None]
    if missing:
        findings.append(
            row.finding("measure-missing", missing[0], f"the litres of a {shape} cannot be reckoned without "
                        f"its {' and '.join(missing)}", "Measure inside, or write the litres.", "warning")
        )  # fmt: skip
        return None
    depth = cast(float, measures["depth cm"])
    headspace = min(HEADSPACE_SMALL if depth < SHALLOW else HEADSPACE_LARGE, depth)
    if shape == "bowl" and depth > cast(float, measures["length cm"]) / 2:
        hint = "Correct the measures, write another shape, or write the litres."
        findings.append(
            row.finding("bowl-deep", "depth cm", "a bowl is no deeper than half its rim is wide", hint, "warning")
        )  # fmt: skip
        return None
    return make(*(measures[name] for name in needed)).litres(headspace)


def pots_missing(rows: Mapping[str, Sequence[Row]]) -> Iterator[Finding]:
    """Lots and companions without pots that no display asks for, so that nothing says how many there are."""
    planted = {same_name(row.text("lot or companion") or "") for row in rows.get("plantings", ())}
    for table, key in (("lots", "lot"), ("companions", "companion")):
        for row in rows.get(table, ()):
            if (
                "pots" not in row.cells
                and "pots" not in row.bad
                and same_name(row.text(key) or "") not in planted
            ):
                hint = "It must be filled, or the plantings table must say how many stand in each container."
                yield row.finding("cell-empty", "pots", "the cell is empty", f"Number of pots. {hint}")


def job_of(row: Row) -> Job:
    """One row of jobs."""
    days = row.count("days before")
    assert days is not None
    return Job(
        str(row.text("job")), str(row.text("step")), days, row.count("duration days") or 1,
        row.number_of("hours") or 0.0, row.text("caution") or "", row.number,
    )  # fmt: skip


def supply_of(row: Row) -> Supply:
    """One row of supplies."""
    note = row.text("note") or ""
    return Supply(str(row.text("item")), row.number_of("pack"), row.number_of("lead weeks"), note, row.number)


def days_twice(rows: Sequence[tuple[Row, Minimum]]) -> Iterator[Finding]:
    """Former minima of one place and day that stand in two rows."""
    seen: dict[tuple[str, object], Row] = {}
    for row, minimum in rows:
        first = seen.setdefault((minimum.place, minimum.date), row)
        if first is not row:
            yield row.finding("minimum-twice", "date", f"the day of {minimum.place} is in row {first.number} too",
                              "Keep one of the two.")  # fmt: skip


def figures_fit(overrides: Sequence[Override]) -> Iterator[Finding]:
    """Rows of crops whose parameter belongs to bulbs though the crop is a companion, or the other way round."""
    bulbs, companions = split_overrides(overrides)
    for rows, known, kind in ((bulbs, PARAMETERS, "bulb"), (companions, COMPANION_PARAMETERS, "companion")):
        for row in rows:
            if row.parameter not in known:
                yield Finding(
                    "parameter-unknown", "error", "crops", row.row, "parameter",
                    f"{row.crop} is planned as a {kind}, which has no such figure",
                    did_you_mean(row.parameter, known, f"Figures of a {kind} are: {', '.join(known)}."),
                    row.parameter,
                )  # fmt: skip


def supplies_are_of_something(season: Season, crops: Iterable[str]) -> Iterator[Finding]:
    """Rows of supplies that name nothing this season could order."""
    known = {fold(name): name for name in (*SUPPLIES, *crops, *(c.name for c in season.companions))}
    if season.cover_cloth:
        known[fold(season.cover_cloth)] = season.cover_cloth
    for crop in (*(lot.crop for lot in season.lots), *(c.crop for c in season.companions)):
        known.setdefault(fold(crop), crop)
    for lot in season.lots:
        if lot.cultivar:
            known.setdefault(fold(lot.cultivar), lot.cultivar)
    for supply in season.supplies:
        words = plain(supply.item).split()
        sized = len(words) == 3 and words[0] == "pots" and words[2] == "cm" and _is_number(words[1])
        if fold(supply.item) not in known and not sized:
            otherwise = f"Write a crop, a cultivar, or one of: {', '.join(SUPPLIES)}, {_SIZED}."
            yield Finding("supply-unknown", "warning", "supplies", supply.row, "item",
                          "nothing of that name is ordered this season",
                          did_you_mean(supply.item, (*known.values(), _SIZED), otherwise), supply.item)  # fmt: skip


def _is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdigit()
