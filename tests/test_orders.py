"""Orders: quantities by hand, packs at their edges, order days over days off, pots conserved from display to order."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from forcing.dates import Span, WorkCalendar
from forcing.engine.climate import build_climate
from forcing.engine.companions import CompanionPlan, plan_companions
from forcing.engine.show.pots import allow_for, cloth_over, pots_needed, sowing_of, with_pots
from forcing.engine.show.show import SeasonExtras, Show
from forcing.engine.work.orders import (
    LEAD_WEEKS,
    OrderLine,
    bulb_order_day,
    full_containers,
    order_lines,
    packs_of,
)
from forcing.errors import Finding
from forcing.model import Companion, CompanionStart, Delivery, Display, Place, Plan, Planting, Supply
from forcing.recipes.book import CompanionBook
from forcing.reports.workbook import write_workbook
from forcing.science.containers import pot_litres
from tests.builders import season
from tests.sample import sample_plan
from tests.test_show import AFTER, known, lot, stage, worked

# Lots of the sample: T001 12 pots (hyacinth), T002 19, T003 26 (tulips), 15 cm, 6 bulbs each; T001 is potted on
# Mon 9 November 2026. Its display has 24 containers.


def changed(plan: Plan, **items: Any) -> Plan:
    return replace(plan, season=replace(plan.season, **items))


def lines(plan: Plan, kind: str, *companions: CompanionPlan) -> list[OrderLine]:
    return [line for line in order_lines(plan, companions) if line.kind == kind]


def planted(plan: Plan, **per_container: int) -> Plan:
    return changed(
        plan, plantings=tuple(Planting("Terrace troughs", lot, n) for lot, n in per_container.items())
    )


# ---------------------------------------------------------------- packs


@pytest.mark.parametrize(
    ("need", "pack", "packs", "quantity"),
    [
        (0, 50, 0, 0),
        (1, 50, 1, 50),
        (50, 50, 1, 50),
        (51, 50, 2, 100),
        (100, 50, 2, 100),
        (0.1 + 0.2, 0.1, 3, 0.3),  # 0.30000000000000004 is three packs, not four
        (2005.7, 70, 29, 2030),  # 28 x 70 = 1960
        (7, None, 7, 7),
        (2005.7, None, 2006, 2006),
    ],
)
def test_whole_packs_cover_the_need(need: float, pack: float | None, packs: int, quantity: float) -> None:
    assert packs_of(need, pack) == (packs, pytest.approx(quantity))


@pytest.mark.parametrize("pack", [0, -1, float("inf"), float("nan")])
def test_a_pack_that_cannot_be(pack: float) -> None:
    with pytest.raises(ValueError, match="pack"):
        packs_of(1, pack)


@given(st.integers(0, 10**6), st.integers(1, 5000))
def test_one_pack_less_would_not_do(need: int, pack: int) -> None:
    packs, quantity = packs_of(need, pack)
    assert quantity >= need and (packs == 0 or quantity - pack < need)


# ---------------------------------------------------------------- bulbs


def test_bulbs_with_loss_in_packs() -> None:
    # T001: 12 x 6 = 72; 72 / 0.9 = 80. Packs of 80: one; of 79: two
    plan = changed(sample_plan(3), loss=0.1)
    for pack, packs in ((80, 1), (79, 2), (81, 1)):
        line = lines(changed(plan, supplies=(Supply("Hyacinth", pack),)), "bulbs")[0]
        assert (line.crop, line.used, line.need) == ("hyacinth", 72, 80)
        assert (line.pack, line.packs, line.quantity) == (pack, packs, pack * packs)
    # of T002 the cultivar has a pack of its own, the lead time is the crop's
    supplies = (
        Supply("tulip", 100, 20),
        Supply("bulbs", 7, 1),
        Supply(" grand old duchess of the  northern meadow (double)", 25),
    )
    one, two, three = lines(changed(plan, supplies=supplies), "bulbs")
    # 19 x 6 / 0.9 = 126.67 -> 127 -> 6 of 25; 26 x 6 / 0.9 = 173.3 -> 174 -> 2 of 100; 80 -> 12 of 7
    assert [(b.packs, b.pack, b.lead_weeks) for b in (one, two, three)] == [
        (12, 7, 1), (6, 25, 20), (2, 100, 20),
    ]  # fmt: skip


def test_lots_of_one_cultivar_are_one_line_whatever_their_pots_hold() -> None:
    plan = sample_plan(2)
    one, two = plan.lots
    two = replace(two, lot=replace(one.lot, name="T002", pots=3, bulbs_per_pot=9))
    (line,) = lines(replace(plan, lots=(one, two)), "bulbs")
    assert (line.lots, line.pots, line.need) == (("T001", "T002"), 15, 12 * 6 + 3 * 9)
    assert line.per_pot == (6, 9)


def test_the_loss_is_added_once() -> None:
    # 24 containers x 1 pot = 24; 24 / 0.9 = 26.67 -> 27 pots, 162 bulbs, whether 12 are stated, or 24, or 27
    plan = planted(changed(sample_plan(1), loss=0.1), T001=1)
    for stated, pots in ((12, 27), (24, 27), (27, 27), (28, 28), (40, 40)):
        lot = replace(plan.lots[0], lot=replace(plan.lots[0].lot, pots=stated))
        mine = replace(plan, lots=(lot,))
        assert lines(mine, "pots")[0].need == pots
        assert lines(mine, "bulbs")[0].need == pots * 6
        assert lines(mine, "labels")[0].need == pots + 1


def test_pots_by_width() -> None:
    plan = changed(sample_plan(3), loss=0.1, supplies=(Supply("pots 15 cm", 20, 2), Supply("pots", 100, 9)))
    wide = replace(plan.lots[2], lot=replace(plan.lots[2].lot, pot_cm=12.5))
    small, usual = lines(replace(plan, lots=(*plan.lots[:2], wide)), "pots")
    # 26 / 0.9 = 28.9 -> 29; 31 / 0.9 = 34.4 -> 35 -> 2 of 20
    assert (small.item, small.used, small.need, small.packs, small.lead_weeks) == (
        "pots 12.5 cm",
        26,
        29,
        1,
        9,
    )
    assert (usual.item, usual.used, usual.need, usual.packs, usual.lead_weeks) == ("pots 15 cm", 31, 35, 2, 2)


# ---------------------------------------------------------------- labels, mix, cloth


def test_labels_are_one_a_pot_and_one_a_lot() -> None:
    (line,) = lines(sample_plan(3), "labels")
    assert (line.need, line.unit) == (12 + 19 + 26 + 3, "labels")


def test_mix_by_hand() -> None:
    # a 15 cm pot holds 1.9 L (trade page on pot volumes); loose mix loses 17.5 %, so 12 x 1.9 x 1.175 = 26.79
    plan = sample_plan(1)
    display = replace(plan.season.displays[0], litres=32.5)
    plan = changed(plan, displays=(display,), supplies=(Supply("mix", 70),))
    pots, containers = lines(plan, "mix")
    assert (pots.used, pots.need, pots.packs) == (pytest.approx(22.8), pytest.approx(26.79), 1)
    # 24 x 32.5 = 780, less 12 root balls of 1.9 = 757.2; x 1.175 = 889.71 -> 13 bags of 70
    assert (containers.used, containers.need, containers.packs) == (
        pytest.approx(757.2),
        pytest.approx(889.71),
        13,
    )
    # wanted when the first lot is set out, a day before its target: Fri 19 March 2027
    assert containers.needed == date(2027, 3, 19) and pots.needed == date(2026, 11, 9)


def test_cloth_is_counted_for_the_displays_that_state_it() -> None:
    plan = sample_plan(1)
    (display,) = plan.season.displays
    other = Display("Bowls", 3, "Terrace", Span(date(2027, 3, 1), date(2027, 3, 20)))
    assert lines(plan, "cloth") == []
    plan = changed(plan, displays=(replace(display, cover_m2=2.5), other), cover_cloth="thick row cover")
    (line,) = lines(changed(plan, supplies=(Supply("cloth", 25),)), "cloth")
    # 24 x 2.5 = 60 m2 -> 3 of 25
    assert (line.item, line.need, line.packs, line.needed) == (
        "cloth: thick row cover", 60, 3, date(2027, 3, 19),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("measures", "each"),
    [
        # 30 cm deep, hyacinths of 25: 55, and 15 to lie on the ground. (100 + 140) x (40 + 140) cm, 200 squared.
        ({"shape": "box", "length_cm": 100, "width_cm": 40, "depth_cm": 30}, 4.32),
        ({"shape": "frustum", "length_cm": 60, "base_length_cm": 40, "depth_cm": 30}, 4.0),
        ({"shape": "box", "length_cm": 100, "width_cm": 40, "depth_cm": 30, "cover_m2": 2.5}, 2.5),
        ({"shape": "box", "length_cm": 100, "width_cm": 40}, None), ({}, None),
    ],
)  # fmt: skip
def test_cloth_comes_from_measures_where_it_is_not_stated(
    measures: dict[str, Any], each: float | None
) -> None:
    plan = sample_plan(1)
    season, lot = plan.season, plan.lots[0].lot.name
    display = replace(season.displays[0], **measures)
    season = replace(season, lots=(plan.lots[0].lot,), plantings=(Planting(display.name, lot, 2),))
    assert cloth_over(season, display) == (None if each is None else pytest.approx(each))
    taller = replace(season, plantings=(Planting(display.name, lot, 2, height_cm=45),))
    if measures.get("shape") == "frustum":  # 30 + 45 + 15 = 90: 240 squared
        assert cloth_over(taller, display) == pytest.approx(5.76)


@pytest.mark.parametrize(("litres", "pots", "told"), [(9.5, 5, False), (9.4, 5, True), (32.5, 1, False)])
def test_root_balls_that_fill_a_container_are_told(litres: float, pots: int, told: bool) -> None:
    # A 15 cm pot is 1.9 litres: five of them are 9.5.
    plan = sample_plan(1)
    (display,) = plan.season.displays
    plan = changed(
        plan, displays=(replace(display, litres=litres),),
        plantings=(Planting(display.name, plan.lots[0].lot.name, pots),),
    )  # fmt: skip
    found = list(full_containers(plan, ()))
    assert bool(found) is told
    if told:
        assert "take 9.5 L, and it holds 9.4 L" in found[0].message


# ---------------------------------------------------------------- days


@pytest.mark.parametrize(
    ("holidays", "day"),
    [
        # mix is wanted on Mon 9 November 2026; three weeks before is Mon 19 October
        ((), date(2026, 10, 19)),
        ((date(2026, 10, 19),), date(2026, 10, 16)),  # over the weekend
        ((date(2026, 10, 19), date(2026, 10, 16), date(2026, 10, 15)), date(2026, 10, 14)),
    ],
)
def test_orders_go_out_on_working_days(holidays: tuple[date, ...], day: date) -> None:
    plan = changed(sample_plan(1), calendar=WorkCalendar(frozenset(range(5)), frozenset(holidays)))
    (line,) = lines(plan, "mix")
    assert (line.lead_weeks, line.lead_basis, line.order_by) == (3, "practice", day)


def test_part_weeks_count_as_whole_days() -> None:
    # half a week is 3.5 days: four before Mon 9 November is Thu 5 November
    (line,) = lines(changed(sample_plan(1), supplies=(Supply("labels", None, 0.5),)), "labels")
    assert (line.order_by, line.lead_basis) == (date(2026, 11, 5), "stated")
    (line,) = lines(changed(sample_plan(1), supplies=(Supply("labels", None, 0),)), "labels")
    assert line.order_by == line.needed == date(2026, 11, 9)


def test_bulbs_are_ordered_by_the_stated_lead_before_they_are_wanted_in_hand() -> None:
    plan = sample_plan(1)  # in hand on Sun 20 September 2026
    plan = changed(plan, supplies=(Supply("bulbs", None, 10),))
    # ten weeks before 20 September is Sun 12 July: Fri 10 July
    (line,) = lines(plan, "bulbs")
    assert (line.order_by, line.lead_basis) == (date(2026, 7, 10), "stated")
    # bulbs there whenever wanted: ten weeks before Mon 9 November is Mon 31 August
    plan = changed(plan, bulbs_in_hand=None)
    assert bulb_order_day(plan.season, plan.lots[0]) == date(2026, 8, 31)


def test_all_bulbs_are_ordered_together_while_there_is_a_choice() -> None:
    # No lead stated. In hand on Sun 20 September 2026: 16 weeks before is Sun 31 May, so Fri 29 May, for every lot.
    plan = sample_plan(3)
    found = lines(plan, "bulbs")
    assert {(b.order_by, b.lead_weeks, b.lead_basis) for b in found} == {(date(2026, 5, 29), 16, "practice")}
    orders = [bulb_order_day(plan.season, p) for p in plan.lots]
    assert orders == [date(2026, 5, 29)] * 3
    # Ten weeks as stated: Sun 12 July, so Fri 10 July.
    stated = changed(plan, bulb_order_weeks=10)
    assert {(b.order_by, b.lead_basis) for b in lines(stated, "bulbs")} == {(date(2026, 7, 10), "season")}
    # Nothing said of when they are in hand: 16 weeks before the first potting of all, Mon 9 November: Mon 20 July.
    whenever = changed(plan, bulbs_in_hand=None)
    assert min(p.potting for p in plan.lots) == date(2026, 11, 9)
    assert {b.order_by for b in lines(whenever, "bulbs")} == {date(2026, 7, 20)}
    # Never later than the order weeks before its own potting: 20 weeks before Mon 9 November is Mon 22 June.
    early = changed(whenever, bulb_order_weeks=0, order_weeks=20)
    assert bulb_order_day(early.season, plan.lots[0], date(2026, 11, 9)) == date(2026, 6, 22)


def test_suppliers_state_lead_price_size_and_substitute() -> None:
    # T001: 72 bulbs in packs of 50: 2 packs at 11.50 are 23.00. The supplier's longest lead, 22 weeks, is stated on
    # his tulips only: 20 September less 22 weeks is Sun 19 April, so Fri 17 April. The pots have no supplier.
    supplies = (
        Supply("hyacinth", 50, None, "", "Lowfield Bulbs", 11.5, "16/17", "Blue Jug"),
        Supply("tulip", None, 22, "", "lowfield bulbs"),
    )
    plan = changed(sample_plan(1), supplies=supplies)
    (line,) = lines(plan, "bulbs")
    assert (line.supplier, line.size, line.substitute) == ("Lowfield Bulbs", "16/17", "Blue Jug")
    assert (line.packs, line.cost, line.order_by) == (2, 23.0, date(2026, 4, 17))
    assert [(p.supplier, p.cost) for p in lines(plan, "pots")] == [(None, None)]


def test_order_sheets_hold_every_line_once_and_sum_its_cost(tmp_path: Path) -> None:
    supplies = (
        Supply("bulbs", 50, None, "", "Hill Bulbs", 12.25), Supply("pots", 25, 4, "", "Clay & Co", 8.0),
        Supply("labels", None, None, "", "Clay & Co", 0.05),
    )  # fmt: skip
    plan = changed(sample_plan(6), supplies=supplies)
    path = write_workbook(plan, tmp_path / "plan.xlsx", created=datetime(2026, 11, 3, tzinfo=UTC))
    rows = [r for r in load_workbook(path)["Order sheets"].iter_rows(values_only=True) if r[0] is not None]
    made = order_lines(plan)
    items = [r for r in rows if isinstance(r[2], int | float)]
    assert sorted((r[0], r[2]) for r in items) == sorted((o.item, pytest.approx(o.quantity)) for o in made)
    heads = [r[0] for r in rows if ": order by " in str(r[0])]
    parts = 0
    for supplier in {
        o.supplier for o in made
    }:  # a part begins with an order more than two weeks after the last began
        began = date.min
        for day in sorted(o.order_by for o in made if o.supplier == supplier):
            if day - began > timedelta(days=14):
                began, parts = day, parts + 1
    assert len(heads) == parts
    totals = [r[7] for r in rows if str(r[0]).startswith("In all")]
    bulbs, pots = (sum(o.packs for o in made if o.kind == kind) for kind in ("bulbs", "pots"))
    labels = sum(o.quantity for o in made if o.kind == "labels")
    assert sum(totals) == pytest.approx(12.25 * bulbs + 8.0 * pots + 0.05 * labels)


def test_every_usual_lead_time_is_some_weeks() -> None:
    assert set(LEAD_WEEKS) == {"pots", "trays", "labels", "mix", "cloth"}
    assert all(1 <= weeks <= 12 for weeks in LEAD_WEEKS.values())


@settings(max_examples=60, deadline=None)
@given(
    st.frozensets(st.integers(0, 6), min_size=1),
    st.frozensets(st.dates(date(2026, 8, 1), date(2026, 11, 20)), max_size=30),
    st.floats(0, 30),
)
def test_no_order_is_late_or_on_a_day_off(
    weekdays: frozenset[int], holidays: frozenset[date], lead: float
) -> None:
    calendar = WorkCalendar(weekdays, holidays)
    supplies = tuple(Supply(item, None, lead) for item in ("bulbs", "pots", "labels", "mix"))
    plan = changed(sample_plan(4), calendar=calendar, supplies=supplies, bulbs_in_hand=None)
    for line in order_lines(plan):
        assert calendar.works(line.order_by)
        assert line.order_by <= line.needed - timedelta(days=lead)


# ---------------------------------------------------------------- companions


def grown(start: CompanionStart = "seed") -> tuple[Plan, CompanionPlan]:
    stated = season(
        companions=(Companion("Edging", "viola", 45, date(2027, 3, 17), "Bench", start=start),),
        places=(Place("Bench", "bench", day=15, night=15),),
        loss=0.1,
    )
    book = CompanionBook.from_overrides()
    plans, _ = plan_companions(stated, build_climate(stated), book)
    return Plan(stated, date(2026, 11, 2), (), (), (), (), (), ()), plans[0]


def test_companions_are_ordered_as_their_plan_says_or_by_the_stated_lead() -> None:
    plan, viola = grown()
    (line,) = lines(plan, "companions", viola)
    # 45 / 0.9 = 50, in cells of which 24 of 25 have a seedling: 53, of two seeds each
    assert viola.sow is not None
    day = viola.sow - timedelta(weeks=12)
    assert (line.need, line.unit, line.order_by, line.needed) == (106, "seeds", day, viola.sow)
    plan = changed(plan, supplies=(Supply("seed", 20), Supply("viola", None, 3)))
    (line,) = lines(plan, "companions", viola)
    assert (line.packs, line.quantity, line.order_by) == (6, 120, viola.sow - timedelta(weeks=3))
    (labels,) = lines(plan, "labels", viola)
    assert labels.need == 51 and labels.needed == viola.sow
    assert lines(plan, "companions") == []


@pytest.mark.parametrize(
    ("start", "trays", "pots", "seed_mix"),
    # 45 violas / 0.9 = 50 pots of 10 cm; 53 cells in one tray of 72, 3 L x 1.175
    [("seed", 1, 50, 3.525), ("plug", 0, 50, 0.0), ("plant", 0, 0, 0.0)],
)
def test_what_companions_are_potted_in(start: CompanionStart, trays: int, pots: int, seed_mix: float) -> None:
    plan, viola = grown(start)
    made = order_lines(plan, (viola,))
    assert sum(line.need for line in made if line.kind == "trays") == trays
    assert sum(line.need for line in made if line.item == "pots 10 cm") == pots
    assert sum(line.need for line in made if line.item == "seed mix") == pytest.approx(seed_mix)
    mix = [line.need for line in made if line.item == "mix for pots"]
    assert mix == ([pytest.approx(50 * pot_litres(10) * 1.175)] if pots else [])
    assert {line.unit for line in made if line.kind == "companions"} == {f"{start}s"}


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from(["seed", "plug", "plant"]), st.integers(1, 9)), min_size=1, max_size=4
    ),
    st.integers(1, 60),
    st.integers(0, 60),
    st.sampled_from([None, 20.0, 50.0]),
)
def test_companions_are_conserved_from_display_to_packs(
    rows: list[tuple[CompanionStart, int]], containers: int, percent: int, pack: float | None
) -> None:
    """Each start has its own line in its own unit, and after loss and packs at least what the displays hold is left."""
    _, viola = grown()
    display = replace(sample_plan(1).season.displays[0], containers=containers)
    plan = changed(
        grown()[0], loss=percent / 100, displays=(display,), supplies=(Supply("viola", pack),),
        plantings=tuple(Planting(display.name, f"C{i}", each) for i, (_, each) in enumerate(rows)),
    )  # fmt: skip
    plans = []
    for i, (start, each) in enumerate(rows):
        companion = replace(viola.companion, name=f"C{i}", start=start, pots=containers * each)
        sown = sowing_of(plan.season, companion, viola.recipe, Span(viola.sow, viola.transplant))
        plans.append(replace(
            viola, companion=companion, sow=viola.sow if start == "seed" else None,
            transplant=None if start == "plant" else viola.transplant, sowing=sown if start == "seed" else None,
        ))  # fmt: skip
    made = {line.lots[0]: line for line in order_lines(plan, plans) if line.kind == "companions"}
    assert len(made) == len(rows)
    left = 1 - percent / 100
    for i, (start, each) in enumerate(rows):
        line, shown = made[f"C{i}"], containers * each
        assert line.unit == f"{start}s" and line.quantity >= line.need
        # two seeds in a cell, of which 0.96 have a seedling
        plants = line.need / 2 * 0.96 if start == "seed" else line.need
        assert plants * left >= shown - 1e-6
        assert plants * left < shown + 2 and line.quantity < line.need + (pack or 1)
    potted = sum(math.ceil(containers * each / left - 1e-9) for start, each in rows if start != "plant")
    assert sum(line.need for line in order_lines(plan, plans) if line.kind == "pots") == potted


# ---------------------------------------------------------------- nothing, wrong, and conserved


def test_nothing_planned_orders_nothing() -> None:
    assert order_lines(sample_plan(0)) == ()


@pytest.mark.parametrize("loss", [-0.1, 1.0, float("nan")])
def test_a_loss_that_cannot_be(loss: float) -> None:
    with pytest.raises(ValueError, match="loss"):
        order_lines(changed(sample_plan(1), loss=loss))


def test_losses_leave_no_dust() -> None:
    assert allow_for(21, 0.3) == 30  # 21 / 0.7 is 30.000000000000004 in binary


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 400), st.integers(0, 4)), min_size=1, max_size=6),
    st.integers(1, 90),
    st.integers(0, 60),
)
def test_pots_are_conserved_from_display_to_order(
    rows: list[tuple[int, int]], containers: int, percent: int
) -> None:
    """Pots left empty are counted from the displays, loss and all, and ordered as counted: none lost, none twice."""
    plan = sample_plan(len(rows))
    plan = changed(
        plan, loss=percent / 100, displays=(replace(plan.season.displays[0], containers=containers),)
    )
    plan = planted(plan, **{p.lot.name: each for p, (_, each) in zip(plan.lots, rows, strict=True) if each})
    lots = tuple(
        replace(p.lot, pots=0 if each else max(1, stated))
        for p, (stated, each) in zip(plan.lots, rows, strict=True)
    )
    stated_season = replace(plan.season, lots=lots)
    full = with_pots(stated_season)
    planned = tuple(replace(p, lot=lot) for p, lot in zip(plan.lots, full.lots, strict=True))
    plan = replace(plan, season=full, lots=planned)
    needed = {n.item: n for n in pots_needed(stated_season)}
    counted = sum(needed[lot.name].total for lot in lots if not lot.pots)
    loose = sum(lot.pots for lot in lots)
    ordered = sum(line.need for line in lines(plan, "pots"))
    assert ordered == counted + allow_for(loose, percent / 100)
    assert sum(line.need for line in lines(plan, "labels")) == ordered + len(rows)
    shown = sum(needed[lot.name].planted for lot in lots)
    assert (ordered - 1e-6) * (1 - percent / 100) >= shown + loose - 1e-3  # enough is left
    for line in lines(plan, "bulbs"):
        assert line.need >= 6 * sum(needed[name].planted for name in line.lots)


def test_the_sheet_of_orders_holds_every_line(tmp_path: Path) -> None:
    plan, viola = grown()
    lots = sample_plan(2)
    display = replace(lots.season.displays[0], litres=32.5, cover_m2=2.5)
    supplies = (Supply("mix", 70), Supply("tulip", 100), Supply("seed", 20))
    lots = changed(lots, displays=(display,), supplies=supplies, loss=0.1, companions=plan.season.companions)
    beside = SeasonExtras((viola,), Show((), (), (), {}, (), ()), (), (), (), ())
    path = write_workbook(
        lots, tmp_path / "plan.xlsx", created=datetime(2026, 11, 3, tzinfo=UTC), beside=beside
    )
    rows = list(load_workbook(path)["Orders"].iter_rows(values_only=True))
    made = order_lines(lots, (viola,))
    assert {line.kind for line in made} == {
        "bulbs", "pots", "trays", "labels", "mix", "companions", "cloth",
    }  # fmt: skip
    for line in made:
        if line.kind == "bulbs":
            row = next(r for r in rows if r[3] == ", ".join(line.lots))
            assert row[7] == pytest.approx(line.need, abs=0.051)
            quantity, packs, day = row[8], row[9], row[11]
        else:
            row = next(r for r in rows if r[0] == line.item)
            assert row[1] == pytest.approx(line.used, abs=0.051)
            quantity, packs, day = row[2], row[4], row[6]
        # What is sold singly is rounded up to a whole one on the sheet.
        assert line.quantity - 1e-6 <= quantity < line.quantity + 1
        assert packs == ("singly" if line.pack is None else f"{line.packs} of {line.pack:g}")
        assert day.date() == line.order_by


# ---------------------------------------------------------------- deliveries


def test_what_has_come_is_counted_by_lot_and_cultivar_up_to_the_day() -> None:
    plan = sample_plan(2)
    one, two = (p.lot for p in plan.lots)
    came = (
        Delivery(date(2026, 10, 1), one.name, 50), Delivery(date(2026, 10, 20), one.cultivar or one.crop, 20),
        Delivery(date(2026, 12, 24), one.name, 999), Delivery(date(2026, 10, 1), "labels", 7),
    )  # fmt: skip
    made = order_lines(replace(changed(plan, deliveries=came), on=date(2026, 11, 3)))
    assert {(line.kind, line.received) for line in made if line.received is not None} == {
        ("bulbs", 70),
        ("labels", 7),
    }
    assert two.name in next(line.lots for line in made if line.kind == "bulbs" and line.received is None)


def test_a_shortfall_is_told_in_pots_and_days_of_cover() -> None:
    # 30 pots of six: 180 bulbs; 100 came and no more: 16 pots are filled and 14 lack. A alone stands in D from 20 to
    # 29 March, ten days, each in full bloom: 16 of 30 is 53 %, less than the wanted 60 %. 108 bulbs are 18 pots, 60 %.
    def findings(quantity: float, rest: str = "not coming", item: str = "A") -> dict[str, Finding]:
        stated = stage(
            [lot("A", 30, bulbs_per_pot=6)], [Planting("D", "A", 3)], days=10, spread=1e-9,
            deliveries=(Delivery(date(2026, 10, 1), item, quantity, rest, 2),), readings=known(),  # type: ignore[arg-type]
        )  # fmt: skip
        return {f.code: f for f in worked(stated, AFTER).plan.findings if f.code.startswith("delivery")}

    found = findings(100)["delivery-short"]
    assert found.number == 14
    assert "14 of 30 pots of A cannot be filled" in found.message
    assert "D falls below its wanted cover on 10 days" in found.message
    assert "falls below" not in findings(108)["delivery-short"].message
    assert findings(180) == findings(100, "coming") == {}
    assert findings(100, item="Elsewhere")["delivery-unknown"].row == 2
