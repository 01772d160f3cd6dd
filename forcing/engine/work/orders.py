"""What to order, how much of it in whole packs, and the last working day to order it.

The expected loss is added once. A lot planted in displays must leave as many pots as they hold: where its own pots
already hold the reserve for that, no more is added; a lot that is in no display leaves the pots stated. Labels: one
for each pot, since pots part company on the benches, and one for each lot's crate or bench. Mix is ordered loose,
with what it loses when pressed and watered in; a display container is filled whole, as stated or measured, but for the
root balls set into it by its opening. Companions raised from seed or plugs take pots and mix as lots do.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

from forcing.dates import WEEK
from forcing.engine.companions import CompanionPlan
from forcing.engine.show.pots import TRAY_LITRES, Sowing, allow_for, cloth_over, planted_pots, pots_to_start
from forcing.errors import Finding
from forcing.model import BloomClass, Delivery, Display, LotPlan, Plan, Season, Supply
from forcing.science.containers import HEADSPACE_SMALL, box, mix_to_order, pot_litres
from forcing.text import fold
from forcing.units import show_mix

Kind = Literal["bulbs", "pots", "trays", "labels", "mix", "companions", "cloth"]
LeadBasis = Literal["stated", "season", "practice"]

# Weeks from order to delivery where neither item nor supplier states any: common practice, no source; from memory. The
# seed or plugs of companions have the season's own order weeks.
LEAD_WEEKS: Mapping[Kind, float] = MappingProxyType({
    "pots": 6.0, "trays": 6.0, "labels": 3.0, "mix": 3.0, "cloth": 4.0,
})  # fmt: skip
# All bulbs are ordered so long before the first are wanted: in spring or summer for potting in autumn, while there is a
# choice. Common practice, no source; from memory.
BULB_WEEKS = 16


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One thing to order. `quantity` is `packs` whole packs, which cover `need`."""

    kind: Kind
    item: str
    unit: str  # bulbs, pots, trays, labels, litres, seeds, plugs, plants, m²
    used: float  # before losses and settling
    need: float  # with losses and settling, whole where it is counted
    pack: float | None  # of `unit` in one; None: sold singly
    packs: int
    quantity: float
    needed: date  # the first day it is used
    lead_weeks: float
    lead_basis: LeadBasis
    order_by: date  # a working day
    lots: tuple[str, ...] = ()  # lots or companions it is for
    pots: int = 0  # pots of those lots, before losses
    crop: str = ""
    bloom_class: BloomClass | None = None
    cultivar: str | None = None
    per_pot: tuple[float, ...] = ()  # bulbs in each pot, every number that occurs
    width: float | None = None  # cm, of pots
    supplier: str | None = None  # None: not stated
    size: str | None = None  # grade
    substitute: str | None = None
    price: float | None = None  # of one pack, in the house's money; None: not known
    received: float | None = None  # of `unit`; None: nothing has come
    rest_coming: bool = True  # whether what is lacking still comes

    @property
    def cost(self) -> float | None:
        """What it comes to; None where its price is not known."""
        return None if self.price is None else self.price * self.packs


def order_lines(plan: Plan, companions: Sequence[CompanionPlan] = ()) -> tuple[OrderLine, ...]:
    """Everything to order for a plan: bulbs, pots, trays, labels, mix, companions, cloth, each kind in season order.

    Lots that are not planned are left out, and displays whose litres or cloth are not known. Seed or plugs are
    listed for the `companions` given. Order days never clash with days off. Raises ValueError for a loss that is
    not from 0 to below 1.
    """
    if not 0.0 <= plan.season.loss < 1.0:
        raise ValueError(f"the loss must be from 0 to below 1: {plan.season.loss!r}")
    listed = {lot.name: i for i, lot in enumerate(plan.season.lots)}
    lots = sorted(plan.lots, key=lambda p: listed.get(p.lot.name, len(listed)))
    order = _Order(plan.season, tuple(lots))
    lines = (
        *order.bulbs(), *order.pots(companions), *order.trays(companions), *order.labels(companions),
        *order.mix(companions), *order.companions(companions), *order.cloth(companions),
    )  # fmt: skip
    came = [row for row in plan.season.deliveries if row.date <= plan.on]
    return tuple(_with_received(line, came, lines) for line in lines) if came else lines


def full_containers(plan: Plan, companions: Sequence[CompanionPlan]) -> Iterator[Finding]:
    """Displays whose containers hold no more than the root balls that are to be set into them."""
    order = _Order(plan.season, plan.lots)
    for display in plan.season.displays:
        taken, unit = order.taken(display, companions), plan.season.measures
        if display.litres and taken > display.litres + 1e-9:
            yield Finding(
                "container-full", "warning", "displays", display.row, "quarts" if unit == "US" else "litres",
                f"the root balls that are set out into a container of {display.name} by its opening take "
                f"{show_mix(taken, unit)}, and it holds {show_mix(display.litres, unit)}",
                "Plant fewer pots in each, from smaller pots, or let some be taken from their pots late; or mend the "
                "measures.", place=display.site, number=taken - display.litres,
            )  # fmt: skip


def names_of(line: OrderLine, lines: Sequence[OrderLine]) -> set[str]:
    """What a delivery may call the item of a line, folded; a crop or kind only where no other line is of it."""
    names = {fold(line.item)}
    if line.kind in ("bulbs", "companions"):
        names |= {fold(name) for name in (*line.lots, line.cultivar or line.item)}
    same = [other for other in lines if other.kind == line.kind]
    if line.crop and sum(other.crop == line.crop for other in same) == 1:
        names.add(fold(line.crop))
    return names | {line.kind} if len(same) == 1 else names


def _with_received(line: OrderLine, came: Sequence[Delivery], lines: Sequence[OrderLine]) -> OrderLine:
    names = names_of(line, lines)
    mine = sorted((row for row in came if fold(row.item) in names), key=lambda row: row.date)
    if not mine:
        return line
    return replace(line, received=sum(row.quantity for row in mine), rest_coming=mine[-1].rest == "coming")


def packs_of(need: float, pack: float | None) -> tuple[int, float]:
    """(packs, quantity) of whole packs that cover `need`; singly where `pack` is None. Raises ValueError."""
    if pack is not None and not (pack > 0 and math.isfinite(pack)):
        raise ValueError(f"a pack must be above 0: {pack!r}")
    size = 1.0 if pack is None else pack
    packs = math.ceil(need / size - 1e-9)
    return packs, packs * size


def bulb_order_day(season: Season, planned: LotPlan, first: date | None = None) -> date:
    """The last working day to order the bulbs of a lot.

    Where a lead time is stated, so long before potting and before the bulbs are wanted in hand. Else with all other
    bulbs the season's bulb order weeks (BULB_WEEKS) before they are in hand, or before `first`, the first potting of
    all; and no later than its order weeks before its own potting.
    """
    lot, in_hand = planned.lot, season.in_hand(planned.lot)
    lead = supply_of(season, (lot.cultivar, lot.crop, "bulbs")).lead_weeks
    if lead is None:
        weeks = BULB_WEEKS if season.bulb_order_weeks is None else season.bulb_order_weeks
        wanted = min(planned.potting, in_hand or first or planned.potting)
        day = min(wanted - WEEK * weeks, planned.potting - WEEK * season.order_weeks)
    else:
        day = planned.potting if in_hand is None else min(planned.potting, in_hand)
        day -= timedelta(days=math.ceil(lead * 7 - 1e-9))
    return season.calendar.on_or_before(day)


def companion_order_day(season: Season, plan: CompanionPlan) -> date:
    """The last working day to order the seed, plugs or plants of a companion: one day on all papers."""
    if plan.order is not None:
        return plan.order
    lead = supply_of(season, companion_names(plan)).lead_weeks
    weeks = season.order_weeks if lead is None else lead
    return season.calendar.on_or_before(plan.begins - timedelta(days=math.ceil(weeks * 7 - 1e-9)))


def companion_names(plan: CompanionPlan) -> tuple[str, ...]:
    """What supplies may call what a companion is raised from, the most exact first."""
    return plan.companion.name, plan.companion.crop, plan.start


def first_potting(lots: Sequence[LotPlan]) -> date | None:
    """The first potting of all; None where there are no lots."""
    return min((planned.potting for planned in lots), default=None)


def supply_of(season: Season, names: Sequence[str | None]) -> Supply:
    """How a thing is sold: of each column the first of `names` that states it, the lead time else the supplier's."""
    rows: dict[str, Supply] = {fold(row.item): row for row in season.supplies}
    found = [rows[fold(name)] for name in names if name and fold(name) in rows]

    def first(column: str) -> Any:
        stated = (getattr(row, column) for row in found)
        return next((value for value in stated if value is not None), None)

    supplier, lead = first("supplier"), first("lead_weeks")
    if lead is None and supplier is not None:
        of_him = [row.lead_weeks for row in season.supplies if fold(row.supplier or "") == fold(supplier)]
        lead = max((weeks for weeks in of_him if weeks is not None), default=None)
    return Supply("", first("pack"), lead, "", supplier, first("price"), first("size"), first("substitute"))


# ---------------------------------------------------------------- inside


class _Potted(NamedTuple):
    """What goes into pots of one width, and when."""

    name: str
    pots: int
    day: date


class _Order:
    """The lots of a plan with what their displays ask of them."""

    def __init__(self, season: Season, lots: tuple[LotPlan, ...]) -> None:
        self.season, self.lots = season, lots
        self.stated = {planned.lot.name: planned.lot.stated_name for planned in lots}
        self.planted = planted_pots(season)

    def started(self, lots: Sequence[tuple[str, int, float]]) -> float:
        """What to start with of (name, pots, each) so that enough is left: pots where each is 1, or bulbs."""
        together: dict[tuple[str, float], int] = {}  # the parts of a split lot are one again
        for name, pots, each in lots:
            key = (self.stated.get(name, name), each)
            together[key] = together.get(key, 0) + pots
        loose = sum(pots * each for (name, each), pots in together.items() if not self.planted.get(name))
        kept = 0.0
        for (name, each), pots in together.items():
            if wanted := self.planted.get(name):
                kept += math.ceil(max(pots, allow_for(wanted, self.season.loss)) * each - 1e-9)
        return kept + allow_for(loose, self.season.loss)

    def line(
        self, kind: Kind, item: str, unit: str, used: float, need: float, needed: date,
        names: Sequence[str | None], lots: Sequence[str] = (), order_by: date | None = None, **other: object,
    ) -> OrderLine:  # fmt: skip
        """A line with its packs and its day. `names`: what supplies may call it, the most exact first."""
        sold = supply_of(self.season, names)
        (lead, basis) = self.lead(kind) if sold.lead_weeks is None else (sold.lead_weeks, "stated")
        if order_by is None:
            days = math.ceil(lead * 7 - 1e-9)
            order_by = self.season.calendar.on_or_before(needed - timedelta(days=days))
        packs, quantity = packs_of(need, sold.pack)
        return OrderLine(
            kind, item, unit, used, need, sold.pack, packs, quantity, needed, lead, basis, order_by, tuple(lots),
            supplier=sold.supplier, size=sold.size, substitute=sold.substitute, price=sold.price,
            **other,  # type: ignore[arg-type]
        )  # fmt: skip

    def lead(self, kind: Kind) -> tuple[float, LeadBasis]:
        """Weeks before use that a kind of thing is ordered where none are stated."""
        if kind == "bulbs":
            weeks = self.season.bulb_order_weeks
            return (BULB_WEEKS, "practice") if weeks is None else (weeks, "season")
        usual = LEAD_WEEKS.get(kind)
        return (self.season.order_weeks, "season") if usual is None else (usual, "practice")

    def bulbs(self) -> Iterator[OrderLine]:
        groups: dict[tuple[str, str, str], list[LotPlan]] = {}
        for planned in self.lots:
            key = (fold(planned.lot.crop), planned.bloom_class or "", fold(planned.lot.cultivar or ""))
            groups.setdefault(key, []).append(planned)
        first = first_potting(self.lots)
        for members in groups.values():
            lot, bloom_class = members[0].lot, members[0].bloom_class
            each = [(p.lot.name, p.lot.pots, p.bulbs_per_pot) for p in members]
            yield self.line(
                "bulbs", " ".join(filter(None, (lot.crop, bloom_class, lot.cultivar))), "bulbs",
                math.ceil(sum(pots * per_pot for _, pots, per_pot in each) - 1e-9), self.started(each),
                min(p.potting for p in members), (lot.cultivar, lot.crop, "bulbs"), [p.lot.name for p in members],
                min(bulb_order_day(self.season, p, first) for p in members), pots=sum(p.lot.pots for p in members),
                crop=lot.crop, bloom_class=bloom_class, cultivar=lot.cultivar,
                per_pot=tuple(sorted({per_pot for _, _, per_pot in each})),
            )  # fmt: skip

    def by_width(self, companions: Sequence[CompanionPlan]) -> list[tuple[float, list[_Potted]]]:
        """What is potted, by the width of its pots [cm]. What is bought as plants comes in its pots."""
        groups: dict[float, list[_Potted]] = {}
        for p in self.lots:
            if not p.lot.box_cm:
                groups.setdefault(p.pot_cm, []).append(_Potted(p.lot.name, p.lot.pots, p.potting))
        for c in companions:
            if c.transplant is not None:
                potted = _Potted(c.companion.name, c.companion.pots, c.transplant)
                groups.setdefault(c.recipe.pot, []).append(potted)
        return sorted(groups.items())

    def by_box(self) -> list[tuple[tuple[float, ...], list[_Potted]]]:
        """What is grown in boxes, by their sides [cm]."""
        groups: dict[tuple[float, ...], list[_Potted]] = {}
        for p in self.lots:
            if p.lot.box_cm:
                groups.setdefault(p.lot.box_cm, []).append(_Potted(p.lot.name, p.lot.pots, p.potting))
        return sorted(groups.items())

    def pots_of(self, members: Sequence[_Potted]) -> int:
        return round(self.started([(p.name, p.pots, 1.0) for p in members]))

    def pots(self, companions: Sequence[CompanionPlan]) -> Iterator[OrderLine]:
        for width, members in self.by_width(companions):
            used = sum(p.pots for p in members)
            yield self.line(
                "pots", f"pots {width:g} cm", "pots", used, self.pots_of(members),
                min(p.day for p in members), (f"pots {width:g} cm", "pots"),
                [p.name for p in members], pots=used, width=width,
            )  # fmt: skip
        for sides, members in self.by_box():
            used = sum(p.pots for p in members)
            yield self.line(
                "pots", f"boxes {' × '.join(f'{side:g}' for side in sides)} cm", "boxes", used, self.pots_of(members),
                min(p.day for p in members), ("boxes",), [p.name for p in members], pots=used,
            )  # fmt: skip

    def trays(self, companions: Sequence[CompanionPlan]) -> Iterator[OrderLine]:
        """Trays by their cells, and open ones; each holds one companion."""
        groups: dict[str, list[tuple[CompanionPlan, int, date]]] = {}
        for plan, sowing, day in _sown(companions):
            celled = f"trays of {plan.recipe.cells_per_tray:g} cells"
            groups.setdefault(celled, []).append((plan, sowing.trays, sowing.prick_out or day))
            if sowing.open_trays:
                groups.setdefault("open trays", []).append((plan, sowing.open_trays, day))
        for item, members in groups.items():
            need, names = (
                sum(trays for _, trays, _ in members),
                [plan.companion.name for plan, _, _ in members],
            )
            yield self.line(
                "trays", item, "trays", need, need, min(day for *_, day in members), (item, "trays"), names,
                pots=sum(plan.companion.pots for plan, _, _ in members),
            )  # fmt: skip

    def labels(self, companions: Sequence[CompanionPlan]) -> Iterator[OrderLine]:
        days = [*(p.potting for p in self.lots), *(c.begins for c in companions)]
        if not days:
            return
        names = [*(p.lot.name for p in self.lots), *(c.companion.name for c in companions)]
        pots = [*(p.lot.pots for p in self.lots), *(c.companion.pots for c in companions)]
        used = sum(pots) + len(names)
        each = [(name, number, 1.0) for name, number in zip(names, pots, strict=True)]
        need = self.started(each) + len(names)
        yield self.line(
            "labels", "labels", "labels", used, need, min(days), ("labels",), names, pots=sum(pots)
        )

    def mix(self, companions: Sequence[CompanionPlan]) -> Iterator[OrderLine]:
        sizes = [(pot_litres(width), members) for width, members in self.by_width(companions)]
        deep = [(sides, members) for sides, members in self.by_box() if len(sides) == 3]
        sizes += [(box(*sides).litres(min(HEADSPACE_SMALL, sides[2])), members) for sides, members in deep]
        if potted := [p for _, members in sizes for p in members]:
            used = sum(litres * sum(p.pots for p in members) for litres, members in sizes)
            need = sum(mix_to_order(litres, self.pots_of(members)) for litres, members in sizes)
            yield self.line(
                "mix", "mix for pots", "litres", used, need, min(p.day for p in potted), ("mix",),
                [p.name for p in potted], pots=sum(p.pots for p in potted),
            )  # fmt: skip
        if sown := _sown(companions):
            trays = sum(sowing.trays + sowing.open_trays for _, sowing, _ in sown)
            yield self.line(
                "mix", "seed mix", "litres", TRAY_LITRES * trays, mix_to_order(TRAY_LITRES, trays),
                min(day for *_, day in sown), ("seed mix",), [c.companion.name for c, *_ in sown],
                pots=sum(c.companion.pots for c, *_ in sown),
            )  # fmt: skip
        filled = [
            (d, d.litres, min(d.litres, self.taken(d, companions))) for d in self.season.displays if d.litres
        ]
        if filled:
            yield self.line(
                "mix", "mix for the containers", "litres",
                sum((litres - taken) * d.containers for d, litres, taken in filled),
                sum(mix_to_order(litres, d.containers, taken=taken) for d, litres, taken in filled),
                min(self.filled(d, companions) for d, _, _ in filled), ("mix",),
            )  # fmt: skip

    def taken(self, display: Display, companions: Sequence[CompanionPlan]) -> float:
        """Litres of one container that root balls fill, of what is set out into it by its opening.

        What comes later takes the places of these, or of mix that is there by then.
        """
        balls: dict[str, float] = {}  # litres of one root ball
        whole = 0.0  # litres of the lots that name the display and are in no planting
        for p in self.lots:
            if p.install is not None and p.install <= display.span.start and not p.lot.box_cm:
                ball = pot_litres(p.pot_cm)
                balls[p.lot.stated_name] = ball
                if p.lot.display == display.name and p.lot.stated_name not in self.planted:
                    whole += ball * p.lot.pots / max(display.containers, 1)
        balls |= {
            c.companion.name: pot_litres(c.recipe.pot) for c in companions if c.set_out <= display.span.start
        }
        mine = (p for p in self.season.plantings if p.display == display.name)
        return whole + sum(p.per_container * balls.get(p.item, 0.0) for p in mine)

    def filled(self, display: Display, companions: Sequence[CompanionPlan]) -> date:
        """The first day on which something is set out into a display, by its opening at the latest."""
        planted = {p.item for p in self.season.plantings if p.display == display.name}
        days = [
            p.install for p in self.lots
            if p.install is not None and (p.lot.display == display.name or p.lot.stated_name in planted)
        ]  # fmt: skip
        days += [c.set_out for c in companions if c.companion.name in planted]
        return min([display.span.start, *days])

    def companions(self, plans: Sequence[CompanionPlan]) -> Iterator[OrderLine]:
        for plan in plans:
            name, crop, pots = plan.companion.name, plan.companion.crop, plan.companion.pots
            start, need, used = plan.start, pots_to_start(self.season, name, pots), pots
            if (sowing := plan.sowing) is not None:
                need, used = sowing.seeds, pots * sowing.each
            yield self.line(
                "companions", f"{name} ({crop}), {start}", f"{start}s", used, need, plan.begins,
                companion_names(plan), [name], companion_order_day(self.season, plan), pots=pots, crop=crop,
            )  # fmt: skip

    def cloth(self, companions: Sequence[CompanionPlan]) -> Iterator[OrderLine]:
        over = [(display, cloth_over(self.season, display)) for display in self.season.displays]
        covered = [display for display, each in over if each]
        if not covered:
            return
        square = sum(each * display.containers for display, each in over if each)
        item = f"cloth: {self.season.cover_cloth}" if self.season.cover_cloth else "cloth"
        needed = min(self.filled(display, companions) for display in covered)
        yield self.line("cloth", item, "m²", square, square, needed, (self.season.cover_cloth, "cloth"))


def _sown(companions: Sequence[CompanionPlan]) -> list[tuple[CompanionPlan, Sowing, date]]:
    """Those raised from seed, with what is sown of them and when."""
    return [(c, c.sowing, c.sow) for c in companions if c.sowing is not None and c.sow is not None]
