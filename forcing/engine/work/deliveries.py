"""What came short of what was ordered: the pots that cannot be filled, and the days on which a display lacks them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from forcing.engine.companions import CompanionPlan
from forcing.engine.show.cover import Cover
from forcing.engine.work.orders import OrderLine, names_of, order_lines
from forcing.errors import Finding
from forcing.model import LotPlan, Plan
from forcing.text import fold, listed, some


def delivery_findings(
    plan: Plan, covers: Sequence[Cover], companions: Sequence[CompanionPlan]
) -> Iterator[Finding]:
    """Bulbs that came short for good: the pots that cannot be filled, and the days on which displays lack them.

    Spares go first. A display lacks its share of the pots, and is thin on a day on which it would be below the wanted
    share without them and is not with them.
    """
    plans = {planned.lot.name: planned for planned in plan.lots}
    lines = order_lines(plan, companions)
    known = {name for line in lines for name in names_of(line, lines)}
    for row in plan.season.deliveries:
        if fold(row.item) not in known:
            yield Finding(
                "delivery-unknown", "warning", "deliveries", row.row, "item", "nothing of that name is ordered",
                f"Write a lot, a cultivar, or one of: {listed([line.item for line in lines], 6)}.", row.item,
            )  # fmt: skip
    for line in lines:
        if line.kind != "bulbs" or line.received is None or line.rest_coming or line.received >= line.used:
            continue
        filled = int(line.received / max(line.per_pot) + 1e-9)
        short = line.pots - filled
        thin = [words for cover in covers if (words := _thinner(plan, cover, line, filled, plans))]
        substitute = f"take {line.substitute} in its place, " if line.substitute else ""
        yield Finding(
            "delivery-short", "warning", "deliveries", None, "quantity",
            f"{line.item}: {line.received:g} of {line.need:g} bulbs came and the rest will not: {short} of "
            f"{line.pots} pots of {listed(line.lots, 4)} cannot be filled{'; ' if thin else ''}{'; '.join(thin)}",
            f"Pot {filled} and state so in lots; {substitute}buy others of that class and colour, or plant fewer in "
            "each container.", f"{line.received:g}", lot=line.lots[0], number=short,
        )  # fmt: skip


def _thinner(
    plan: Plan, cover: Cover, line: OrderLine, filled: int, plans: Mapping[str, LotPlan]
) -> str | None:
    """How many days of a display are thin for the want of those pots; None: none."""
    containers = {display.name: display.containers for display in plan.season.displays}
    names = {plans[name].lot.stated_name: plans[name] for name in line.lots}
    planted: dict[str, int] = {}
    for row in plan.season.plantings:
        if row.item in names and row.display in containers:
            planted[row.display] = planted.get(row.display, 0) + row.per_container * containers[row.display]
    lacking = (
        max(0, sum(planted.values()) - filled) * planted.get(cover.display, 0) / max(1, sum(planted.values()))
    )
    days = 0
    for day, share, standing in zip(cover.span, cover.share, cover.standing, strict=True):
        there = any(p.bloom <= day and (p.fade is None or day < p.fade) for p in names.values())
        if there and share is not None and share >= cover.wanted - 1e-9:
            days += share * standing - lacking < cover.wanted * standing - 1e-9
    return f"{cover.display} falls below its wanted cover on {some(days, 'day')}" if days else None
