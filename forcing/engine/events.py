"""What happens to lots and to the season, one message for each event: bulbs late or short, a lot lost, a warm spell.

A message says what it does to which lots and displays, and what can still be done on the day it is seen from. What
follows from an event carries its `cause`, and is told with it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from itertools import groupby

import numpy as np

from forcing.dates import DAY, Span
from forcing.engine.climate import FORECAST, MEASURED, Climate, Floats, build_climate, outdoor_lift
from forcing.engine.companions import CompanionPlan
from forcing.engine.show.cover import Cover
from forcing.engine.show.pots import PotsNeeded, planted_in, pots_needed, stand_ins
from forcing.engine.simulate import LotSimulation
from forcing.engine.work.orders import OrderLine, names_of, order_lines
from forcing.errors import Finding, Several, Severity
from forcing.model import Lot, LotPlan, Plan, Season, Unplanned
from forcing.text import fold, listed, some
from forcing.units import show_difference

SLIP = 60  # days late that are a slip of the pen rather than a slow lot; practice, no source
# A spell of so many days in a row, so many degrees above the normals [°C] on average each; the house's rule, no source.
WARM, FOR_DAYS = 4.0, 3
TOLD = 0.5  # °C that a bench is overcome by and that is worth a word
NEWS = 7  # days that a warm spell is told after its last day
LASTS = 14  # days after its target on which a display may lack a lost lot
_OF_BULBS = ("lot-unplanned", "cold-short", "cold-below-usual", "lot-late")
_OF_COLD = ("cold-short", "lot-late", "room-credits-less")


def explained(found: Sequence[Finding]) -> Iterator[Finding]:
    """The findings, with its cause at each that an event accounts for: of the same lots, and late by no more."""
    events = [f for f in found if f.code == "bulbs-behind" or (f.code == "place-off-setting" and f.lots)]
    for finding in found:
        for event in events:
            codes = _OF_BULBS if event.code == "bulbs-behind" else _OF_COLD
            mine = finding.code in codes and finding.about and set(finding.about) <= set(event.lots)
            late = finding.number if finding.code == "lot-late" else None
            if mine and (late is None or event.most is None or late <= event.most):
                finding = replace(finding, cause=event.key)
                break
        yield finding


# ---------------------------------------------------------------- the days of a lot


def unplanned_finding(season: Season, unplanned: Unplanned, on: date) -> Finding:
    """A lot without dates, and what would give it some; one finding where one cause keeps several lots unplanned."""
    lot, target = unplanned.lot, unplanned.lot.target or season.span.start
    reason = unplanned.reason.replace("{", "{{").replace("}", "}}")
    if unplanned.earliest is None:
        message, hint = f"{lot.name} is not planned: {unplanned.reason}", "Mend that and plan again."
        several = Several(f"{{count}} lots are not planned: {reason}: {{names}}", "Mend that and plan again.")
        return _of_lot("lot-unplanned", unplanned, target, message, hint, several)
    if unplanned.too_early:
        return _of_lot(
            "lot-unplanned", unplanned, target, f"{lot.name} cannot bloom by its target: {unplanned.reason}",
            f"Set the target to {unplanned.earliest} or later, or buy bulbs that were prepared or cooled for it.",
            Several(
                f"{{count}} lots cannot bloom by their targets: {reason}: {{names}}",
                "Set the targets to {days} or later, or buy bulbs that were prepared or cooled for it.",
            ),
        )  # fmt: skip
    in_hand = season.in_hand(lot)
    sooner = " have the bulbs sooner," if in_hand is not None and in_hand > on else ""
    several = Several(
        f"{{count}} lots cannot bloom by their targets, as the bulbs are in hand only on {in_hand}: {{names}}",
        f"The earliest blooms possible are {{days}}; set the targets there or later,{sooner} or buy precooled bulbs.",
    )
    return _of_lot(
        "lot-unplanned", unplanned, target, f"{lot.name} cannot bloom by its target: {unplanned.reason}",
        f"The earliest bloom possible is {unplanned.earliest}; set the target there or later,{sooner} or buy "
        "precooled bulbs.", several,
    )  # fmt: skip


def _of_lot(
    code: str, unplanned: Unplanned, target: date, message: str, hint: str, several: Several
) -> Finding:
    days = () if unplanned.earliest is None else (unplanned.earliest,)
    lot = unplanned.lot
    return Finding(
        code, "error", "lots", lot.row, "target bloom", message, hint, str(target), lot=lot.name, days=days,
        several=several,
    )  # fmt: skip


def date_findings(season: Season, plan: LotPlan, on: date) -> Iterator[Finding]:
    """What is wrong or risky in the days of one lot, as seen on day `on`."""
    lot, recipe = plan.lot, plan.recipe
    if plan.ready > plan.target:
        yield _late(plan, on)
    if lot.hold_days is not None and lot.hold_days > recipe.hold_max and plan.bloom > on:
        later = ", or start it later" if plan.potting > on else ""
        yield Finding(
            "hold-too-long", "warning", "lots", lot.row, "hold days",
            f"{lot.name} is to be held cold longer than the {recipe.hold_max:g} days that suit {recipe.crop}",
            f"Hold it for less{later}.", str(lot.hold_days), lot=lot.name,
            several=Several(
                f"{{count}} lots are to be held cold longer than the {recipe.hold_max:g} days that suit {recipe.crop}: "
                "{names}", "Hold them for less.",
            ),
        )  # fmt: skip
    yield from _set_out(season, plan, on)
    if plan.leaves is not None and plan.fade is not None and plan.fade < plan.leaves and plan.leaves >= on:
        yield Finding(
            "leaves-faded", "warning", "lots", lot.row, "leaves",
            f"{lot.name} leaves on {plan.leaves}, but has faded by {plan.fade}", "Let it leave sooner, or bloom later.",
            str(plan.leaves), lot=lot.name, days=(plan.fade,), several=Several(
                "{count} lots leave after they have faded: {names}", "Let them leave sooner, or bloom later.",
            ),
        )  # fmt: skip
    if plan.fade is None:
        hint = "Give the site its normals (table normals) or day and night temperatures."
        yield Finding(
            "fade-unknown", "note", "lots", lot.row, "display",
            f"how long {lot.name} lasts on show is not known: its place has no temperatures that far ahead", hint,
            lot=lot.name, several=Several(
                "how long {count} lots last on show is not known, as their places have no temperatures that far ahead: "
                "{names}", hint,
            ),
        )  # fmt: skip


def _late(plan: LotPlan, on: date) -> Finding:
    """A lot that is ready after its target, with what its state still allows."""
    lot, late = plan.lot, (plan.ready - plan.target).days
    stage = "bloom" if lot.target_stage == "bloom" else f"be in {lot.target_stage}"
    severity, expected = "warning", f"{{0}} now expected to {stage}"
    where = " on benches" if plan.bring_in <= on else " still in the cold" if plan.recipe.needs_cold else ""
    if late >= SLIP:
        severity = "error"
        do = "Check the year and month of {its} target and of {its} log: nothing done to a lot makes up so many days."
    elif plan.ready <= on:
        severity, expected, where = "note", f"{{0}} in {lot.target_stage}", ""
        do = "Nothing brings those days back; the review learns from them."
    elif plan.bring_in <= on:
        do = (
            "Warm {bench} within {its} limits (the steering sheet says how far), or let another lot stand in until "
            "then."
        )
    else:
        do = "Bring {it} in sooner where {its} cold allows, choose a warmer bench, or let another lot stand in."
    one, many = (
        expected.format(f"{lot.name} is"),
        expected.format(f"{{count}} lots{where} are"),
    )
    when = "since" if plan.ready <= on else "on"
    return Finding(
        "lot-late", severity, "lots", lot.row, "target bloom",  # type: ignore[arg-type]
        f"{one} {when} {plan.ready}, {some(late, 'day')} after its target",
        do.format(its="its", it="it", bench="its bench"),
        str(plan.target), lot=lot.name, number=late, days=(plan.ready,),
        several=Several(
            f"{many} {{least_to_most}} after their targets: {{names}}",
            do.format(its="their", it="them", bench="their benches"),
        ),
    )  # fmt: skip


def _set_out(season: Season, plan: LotPlan, on: date) -> Iterator[Finding]:
    """A lot that is set out before there is anything to set out, or when nobody works."""
    lot, day, calendar = plan.lot, plan.install, season.calendar
    if day is not None and day < plan.potting:
        yield Finding(
            "install-early", "error", "lots", lot.row, "install",
            f"{lot.name} is to be set out before it is potted on {plan.potting}", "Check the date, and the year.",
            str(day), lot=lot.name,
        )  # fmt: skip
    elif day is not None and day >= on and not calendar.works(day):
        before = calendar.on_or_before(day)
        when = before if before >= on else calendar.on_or_after(day)
        yield Finding(
            "install-day-off", "warning", "lots", lot.row, "install",
            f"{lot.name} is to be set out on a day when nobody works", f"Set it out on {when} or arrange for staff.",
            str(day), lot=lot.name, days=(day,), several=Several(
                "{count} lots are to be set out on {days}, when nobody works: {names}",
                "Set them out on a working day before, or arrange for staff.",
            ),
        )  # fmt: skip


# ---------------------------------------------------------------- bulbs that come late


def bulbs_findings(
    season: Season, unplanned: Iterable[Unplanned], plans: Iterable[LotPlan], on: date
) -> Iterator[Finding]:
    """For each day on which bulbs come in hand: the lots that it makes impossible, short of cold or late."""
    lots = {lot.name: lot for lot in season.lots}
    hurt: dict[date, dict[str, list[str]]] = {}
    earliest: dict[date, list[date]] = {}

    def put(name: str, how: str) -> None:
        day = season.in_hand(lots[name])
        if day is not None:
            hurt.setdefault(day, {}).setdefault(how, []).append(name)

    for left in unplanned:
        day = season.in_hand(left.lot)
        if left.earliest is not None and day is not None:
            put(left.lot.name, "cannot")
            earliest.setdefault(day, []).append(left.earliest)
    for plan in plans:
        day = season.in_hand(plan.lot)
        if day is None or plan.potting > season.calendar.on_or_after(day):
            continue
        if plan.bloom > plan.target:
            put(plan.lot.name, "late")
        elif plan.recipe.needs_cold and plan.cold_weeks < plan.recipe.cold_min - 1e-6:
            put(plan.lot.name, "short")
    for day, ways in sorted(hurt.items()):
        names = [name for these in ways.values() for name in these]
        if len(names) > 1:
            yield _bulbs_finding(day, ways, names, sorted(earliest.get(day, ())), on)


def _bulbs_finding(
    day: date, ways: Mapping[str, list[str]], names: Sequence[str], earliest: Sequence[date], on: date
) -> Finding:
    says = {
        "cannot": "cannot bloom by {their} target{s}",
        "late": "{bloom} late",
        "short": "{flower} on less cold than is usual, so shorter",
    }
    parts = []
    for how, words in says.items():
        if these := ways.get(how):
            one = len(these) == 1
            said = words.format(
                their="its" if one else "their", s="" if one else "s", bloom="blooms" if one else "bloom",
                flower="flowers" if one else "flower",
            )  # fmt: skip
            parts.append(f"{listed(these, 6)} {said}")
    do = ["ask for precooled bulbs"] + (["or for bulbs sooner"] if day > on else [])
    if earliest:
        first = "" if earliest[0] == earliest[-1] else f" (the first lot; the last on {earliest[-1]})"
        do.append(f"or set the targets of those that cannot to {earliest[0]}{first} or later")
    do.append("and fill their places from lots with pots to spare")
    return Finding(
        "bulbs-behind", "error" if "cannot" in ways else "warning", "lots", None, "in hand",
        f"the bulbs of {some(len(names), 'lot')} are in hand only on {day}: {'; '.join(parts)}",
        f"{', '.join(do)[0].upper()}{', '.join(do)[1:]}.", lots=tuple(names), days=(day,), number=len(names),
    )  # fmt: skip


# ---------------------------------------------------------------- bulbs that came short


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
    names = {plans[name].lot.stated_name: plans[name] for name in line.lots}
    planted = Counter[str]()
    for item, pots in planted_in(plan.season).items():
        planted.update(pots if item in names else {})
    lacking = max(0, planted.total() - filled) * planted[cover.display] / max(1, planted.total())
    days = 0
    for day, share, standing in zip(cover.span, cover.share, cover.standing, strict=True):
        there = any(p.bloom <= day and (p.fade is None or day < p.fade) for p in names.values())
        if there and share is not None and share >= cover.wanted - 1e-9:
            days += share * standing - lacking < cover.wanted * standing - 1e-9
    return f"{cover.display} falls below its wanted cover on {some(days, 'day')}" if days else None


# ---------------------------------------------------------------- a lot that is lost


def lost_findings(
    season: Season, unplanned: Iterable[Unplanned], lots: Sequence[tuple[LotSimulation, LotPlan]],
    covers: Sequence[Cover], on: date,
) -> Iterator[Finding]:  # fmt: skip
    """Lots of which all pots are lost, or so many that its displays miss some: what these fall to, what stands in."""
    needs = {need.item: need for need in pots_needed(season) if need.kind == "lot"}
    plans = [plan for _, plan in lots]
    for left_out in unplanned:
        if left_out.lost is not None:
            lot, need = left_out.lot, needs.get(left_out.lot.stated_name)
            gone = {} if need is None else dict(need.displays)
            what = (
                f"all pots of {lot.name} are lost by {left_out.lost}; they were for {_wanted_on(season, lot)}"
            )
            yield _lost_finding(season, lot, what, gone, plans, covers, on)
    parts: dict[str, list[tuple[LotSimulation, LotPlan]]] = {}
    for simulation, plan in lots:
        parts.setdefault(plan.lot.stated_name, []).append((simulation, plan))
    for name, mine in parts.items():
        lost, left = sum(s.history.lost for s, _ in mine), sum(plan.lot.pots for _, plan in mine)
        lot, missing = mine[0][1].lot, {} if name not in needs else _missing(needs[name], left, lost)
        if missing and _wanted_on(season, lot) + LASTS * DAY > on:
            day = max(day for _, plan in mine for day, _ in plan.gone)
            what = (
                f"{lost} of {some(lost + left, 'pot')} of {name} are lost by {day}, and {sum(missing.values())} too "
                f"few are left for {_wanted_on(season, lot)}"
            )
            yield _lost_finding(season, replace(lot, name=name), what, missing, plans, covers, on, "warning")


def _wanted_on(season: Season, lot: Lot) -> date:
    return lot.target or season.span.start


def _missing(need: PotsNeeded, left: int, lost: int) -> dict[str, int]:
    """Pots that each display misses by a loss: they are filled in their order with what is `left`."""
    missing = {}
    for display, planted in need.displays.items():
        stands = min(planted, left)
        left -= stands
        missing[display] = planted - stands
    for display in reversed(missing):  # what was too little before the loss is no part of it
        missing[display] = min(missing[display], lost)
        lost -= missing[display]
    return {display: pots for display, pots in missing.items() if pots}


def _lost_finding(
    season: Season, lot: Lot, what: str, gone: Mapping[str, int], plans: Sequence[LotPlan], covers: Sequence[Cover],
    on: date, severity: Severity = "error",
) -> Finding:  # fmt: skip
    """`gone`: pots that each display misses."""
    target = _wanted_on(season, lot)
    day = max(target, on)
    falls = [
        _falls(cover, gone[cover.display], day)
        for cover in covers
        if cover.display in gone and cover.span.end > on
    ]
    others = stand_ins(season, plans, lot, day)
    spares = (
        f"In bloom then and to spare: {listed(others)}"
        if others
        else "No lot has pots to spare in bloom then"
    )
    again = "" if target <= on else ", or buy in"
    return Finding(
        "lot-lost", severity, "lots", lot.row, "lot",
        "; ".join([what, *filter(None, falls)]),
        f"{spares}{again}; else close up the plants that are left.", lot=lot.name, days=(target,),
        number=float(sum(gone.values())) or None,
    )  # fmt: skip


def _falls(cover: Cover, gone: int, first: date) -> str:
    """What a display falls to without `gone` pots, on its worst day of those on which they would have carried it."""
    worst: tuple[float, date] | None = None
    for day, share, standing in zip(cover.span, cover.share, cover.standing, strict=True):
        if first <= day < first + LASTS * DAY and standing + gone:
            worst = min(worst or (2.0, day), ((share or 0.0) * standing / (standing + gone), day))
    if worst is None:
        return ""
    return (
        f"{cover.display} falls to {worst[0]:.0%} of its pots in bloom on {worst[1]}, where {cover.wanted:.0%} are "
        "wanted"
    )


# ---------------------------------------------------------------- a warm spell


def warm_findings(
    season: Season, climate: Climate, lots: Sequence[tuple[LotSimulation, LotPlan]], on: date
) -> Iterator[Finding]:
    """A spell far above the normals outdoors, forecast or just read: benches it overcomes, displays that age."""
    sites = {place.name for place in season.places if place.kind == "site"}
    if not any(reading.place in sites for reading in season.readings):
        return
    usual = _as_usual(season, climate, sites)
    for site in sorted(sites):
        spell = _spell(climate, usual, site, on)
        if spell is None:
            continue
        days = slice(climate.index(spell.start), climate.index(spell.end))
        above = float(np.mean((climate.mean(site) - usual.mean(site))[days]))
        benches, aged = _overcome(season, climate, days, site), _aged(usual, site, spell, lots)
        if benches or aged:
            yield _warm_finding(season, site, spell, above, benches, aged, on)


def _warm_finding(
    season: Season,
    site: str,
    spell: Span,
    above: float,
    benches: Sequence[str],
    aged: Mapping[str, int],
    on: date,
) -> Finding:
    ahead, said, do = spell.end > on, list[str](), list[str]()
    if benches:
        set_to = "what it is set to" if len(benches) == 1 else "what they are set to"
        said.append(
            f"{listed(benches)} {'cannot be kept' if ahead else 'could not be kept'} down to {set_to}"
        )
        do.append("vent early and wide, shade, and move what is close to bloom to the coolest bench or the cold"
                  if ahead else "look at the stages before you trust the dates")  # fmt: skip
    if aged:
        said.append(
            f"what stands there fades up to {some(max(aged.values()), 'day')} sooner: {listed(list(aged), 6)}"
        )
        do.append("water and shade the display, and have the next wave ready as much sooner")
    return Finding(
        "warm-spell", "warning", "readings", None, "date",
        f"{site} {'is' if ahead else 'was'} {show_difference(above, season.unit)} warmer than usual from {spell.start} "
        f"to {spell.end - DAY}: {'; '.join(said)}",
        f"{'; '.join(do)[0].upper()}{'; '.join(do)[1:]}.", place=site, lots=tuple(aged),
        days=(spell.start, spell.end - DAY), number=above,
    )  # fmt: skip


def _as_usual(season: Season, climate: Climate, sites: Collection[str]) -> Climate:
    """The climate with its sites as their normals have them; not a number where there are none."""
    plain = build_climate(replace(season, readings=tuple(r for r in season.readings if r.place not in sites)))
    low, high = (
        {site: _aligned(part[site], plain, climate) for site in sites} for part in (plain.low, plain.high)
    )
    hours = {name: parts for name, parts in climate.hours.items() if name not in sites}
    return Climate(climate.start, climate.days, climate.low | low, climate.high | high, climate.basis, hours)


def _aligned(values: Floats, plain: Climate, climate: Climate) -> Floats:
    """Values of the days of one climate on the days of another; not a number where it does not reach."""
    out, first = np.full(climate.days, np.nan), (climate.start - plain.start).days
    a, b = max(0, -first), min(climate.days, plain.days - first)
    out[a:b] = values[a + first : b + first]
    return out


def _spell(climate: Climate, usual: Climate, site: str, on: date) -> Span | None:
    """The latest run of days read or forecast that were all WARM above the normals; None: none that is news."""
    known = np.isin(climate.basis[site], (MEASURED, FORECAST))
    warm = known & (climate.mean(site) - usual.mean(site) >= WARM)
    runs = [
        (key, [i for i, _ in run]) for key, run in groupby(enumerate(warm.tolist()), key=lambda pair: pair[1])
    ]
    spells = [Span(climate.day(days[0]), climate.day(days[-1] + 1)) for is_warm, days in runs if is_warm]
    news = [spell for spell in spells if spell.days >= FOR_DAYS and spell.end + NEWS * DAY > on]
    return news[-1] if news else None


def _overcome(season: Season, climate: Climate, days: slice, site: str) -> list[str]:
    """Benches set by day below what outdoors and the lift of an aired house bring, on most of the days."""
    least = climate.high[site][days] + outdoor_lift(season)
    benches = [place.name for place in season.places if place.kind == "bench" and place.day is not None]
    over = {name: np.mean(least > climate.high[name][days] + TOLD) for name in benches}
    return [name for name, share in over.items() if share > 0.5]


def _aged(
    usual: Climate, site: str, spell: Span, lots: Sequence[tuple[LotSimulation, LotPlan]]
) -> dict[str, int]:
    """Days by which what is in bloom at a site fades sooner than in its usual weather, the most first."""
    found: dict[str, int] = {}
    for simulation, plan in lots:
        there = any(step.place == site and step.span.overlap(spell) for step in plan.steps)
        if not there or plan.fade is None or plan.fade <= spell.start or plan.bloom >= spell.end:
            continue
        paced = simulation.at_pace_of(plan)
        run = paced.run(plan.cooler_in, plan.bring_in)
        fade = None if run is None else paced.fade(run)
        later = None if run is None else replace(paced, climate=usual).fade(run)
        if fade is not None and later is not None and later > fade:
            found[plan.lot.name] = (later - fade).days
    return dict(sorted(found.items(), key=lambda item: -item[1]))
