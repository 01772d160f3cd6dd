"""What there is to say of the days of a lot: too late to plan, late, held too long, set out on a day off.

What is advised can still be done on the day that the plan is seen from.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from forcing.errors import Finding, Several
from forcing.model import LotPlan, Season, Unplanned
from forcing.text import some

SLIP = 60  # days late that are a slip of the pen rather than a slow lot; practice, no source


def unplanned_finding(season: Season, unplanned: Unplanned, on: date) -> Finding:
    """A lot without dates, and what would give it some; one finding where one cause keeps several lots unplanned."""
    lot, target = unplanned.lot, unplanned.lot.target or season.span.start
    reason = unplanned.reason.replace("{", "{{").replace("}", "}}")
    if unplanned.earliest is None:
        message, hint = f"{lot.name} is not planned: {unplanned.reason}", "Mend that and plan again."
        several = Several(f"{{count}} lots are not planned: {reason}: {{names}}", "Mend that and plan again.")
        return _of_lot("lot-unplanned", unplanned, target, message, hint, several)
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
    if late >= SLIP:
        severity = "error"
        do = "Check the year and month of {its} target and of {its} log: nothing done to a lot makes up so many days."
    elif plan.ready <= on:
        severity, expected = "note", f"{{0}} in {lot.target_stage}"
        do = "Nothing brings those days back; the review learns from them."
    elif plan.bring_in <= on:
        do = "Warm {bench} within {its} limits (forcing steer says how far), or let another lot stand in until then."
    else:
        do = "Bring {it} in sooner where {its} cold allows, choose a warmer bench, or let another lot stand in."
    one, many = expected.format(f"{lot.name} is"), expected.format("{count} lots are")
    when = "since" if plan.ready <= on else "on"
    return Finding(
        "lot-late", severity, "lots", lot.row, "target bloom",  # type: ignore[arg-type]
        f"{one} {when} {plan.ready}, {some(late, 'day')} late", do.format(its="its", it="it", bench="its bench"),
        str(plan.target), lot=lot.name, number=late, days=(plan.ready,),
        several=Several(
            f"{many} {{least}} to {{most}} days late: {{names}}",
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
