"""A winter in a loop: a nature in plain loops, the people who look at it, and policies that act on what they know.

Nature knows nothing of the engine: a lot has gathered mean temperature less base for each day on a bench, and is in
bloom on the first day by whose start that is its own need. Its need is the handbook's times an effect of the season,
of its kind and of its own; benches run beside their dials, and are never cooler than outdoors allows. People look on
stated days, write down what they see, read the thermometers, and carry what they are told to.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import pairwise

import pandas as pd

import forcing
from forcing.api import LoadedSeason, PlannedSeason, SeasonSteering
from forcing.dates import WEEKDAYS
from forcing.model import Agreement, LogEntry, Reading, Setpoint, Step

DAY = timedelta(days=1)
BASE, NEED = (
    2.0,
    {"tulip": 300.0, "narcissus": 240.0, "hyacinth": 270.0},
)  # °C and °C·d: (17 - 2) · 20, 16, 18 days
STAGES = {
    "shoots": (0.27, 0.3, 0.33),
    "bud": (0.56, 0.6, 0.64),
    "colour": (0.82, 0.85, 0.88),
}  # shares of the need
KINDS = ("early", "mid", "late")
SPREADS = {"season": 0.06, "kind": 0.035, "cultivar": 0.05, "own": 0.06}
SPREAD = 0.105  # of all four together: the root of the sum of their squares
LOW, HIGH, LIFT = 8.0, 22.0, 2.0  # °C: what lots stand on the bench, and how far a house stays above outdoors
NORMALS = {1: (-2, 4), 2: (-1, 6), 3: (2, 10), 4: (5, 14), 5: (9, 18)}
BENCHES = {  # day, night, lowest, highest, zone
    "South": (19, 15, 10, 23, ""), "Middle": (18, 14, 9, 22, "mid"), "Long": (18, 14, 9, 22, "mid"),
    "North": (16, 12, 7, 20, ""), "East": (17, 13, 8, 21, ""), "West": (18, 14, 8, 22, ""),
}  # fmt: skip
OPENS, WANTED = (
    date(2027, 3, 10),
    0.6,
)  # of a show of two displays, and the share of their pots that is to be in bloom
LIFE = 10 * (15.0 - BASE)  # °C·d from bloom to fade: ten days at 15 °C
SOWN, FIRST, LAST = date(2026, 9, 7), date(2027, 2, 1), date(2027, 5, 3)


@dataclass(slots=True)
class Lot:
    """One lot as it really is."""

    name: str
    crop: str
    kind: str
    cultivar: str
    pots: int
    target: date
    bench: str
    need: float = 0.0
    heat: float = 0.0
    place: str = ""  # empty: not brought in yet
    stages: dict[str, float] = field(default_factory=dict)  # heat at which each is reached
    seen: list[str] = field(default_factory=list)
    bloom: date | None = None
    display: str = ""  # empty: it is in no show
    aged: float = 0.0  # °C·d since bloom


@dataclass(slots=True)
class Winter:
    """A truth that can be lived through: the same seed gives the same lots, weather and rooms, whatever is done."""

    seed: int
    lots: list[Lot]
    offset: dict[str, float]  # °C that a bench runs beside its dial
    outdoors: dict[date, tuple[float, float]]
    missed: float  # share of the stages before bloom that are not written down
    looks: tuple[int, ...]  # weekdays


def drawn(
    seed: int, *, count: int = 30, looks: tuple[int, ...] = (0, 3), missed: float = 0.2, even: bool = False,
    show: bool = False,
) -> Winter:  # fmt: skip
    """A winter of `count` lots; `even`: everything is as the handbook and the dials say.

    show: the early lots are all wanted on the day on which a show of two displays opens.
    """
    dice = random.Random(seed)
    names = list(BENCHES)[: max(2, min(6, count // 5))]
    season = dice.gauss(0, SPREADS["season"])
    kinds = {(crop, kind): dice.gauss(0, SPREADS["kind"]) for crop in NEED for kind in KINDS}
    cultivars = {f"{c} {k} {n}": dice.gauss(0, SPREADS["cultivar"]) for c, k in kinds for n in (1, 2, 3)}
    lots = []
    for i in range(count):
        crop, kind = dice.choice(list(NEED)), dice.choice(KINDS)
        weeks = {"early": 0, "mid": 2, "late": 4}[kind]
        target = date(2027, 3, 1) + timedelta(days=7 * weeks + dice.randrange(10))
        cultivar = f"{crop} {kind} {dice.randint(1, 3)}"
        effect = season + kinds[crop, kind] + cultivars[cultivar] + dice.gauss(0, SPREADS["own"])
        need = NEED[crop] * math.exp(0 if even else effect)
        lot = Lot(f"L{i:02d}", crop, kind, cultivar, dice.randint(12, 60), target, dice.choice(names), need)
        for stage, (low, share, high) in STAGES.items():  # 80 of 100 lie between low and high
            own = 1.0 if even else (high / low) ** dice.gauss(0, 1 / 2.5631)
            lot.stages[stage] = share * own * need
        if show and kind == "early":
            lot = replace(lot, target=OPENS, display="AB"[i % 2])
        lots.append(replace(lot, stages={**lot.stages, "bloom": need}))
    offset = {name: 0.0 if even else dice.gauss(0, 0.7) for name in BENCHES}
    weather, error = {}, 0.0
    for n in range((LAST - FIRST).days):
        day, error = FIRST + n * DAY, 0.7 * error + dice.gauss(0, 2.1)
        low, high = NORMALS[day.month]
        weather[day] = (low, high) if even else (low + error, high + error)
    return Winter(seed, lots, offset, weather, 0.0 if even else missed, looks)


def stated(winter: Winter) -> LoadedSeason:
    """What the people state: targets, benches, the handbook's needs."""
    used = {lot.bench for lot in winter.lots}
    places = [{"place": "Cold", "kind": "cooler", "day": 5, "night": 5}]
    places += [
        {"place": name, "kind": "bench", "pots": 600, "day": d, "night": n, "lowest": lo, "highest": hi, "zone": zone}
        for name, (d, n, lo, hi, zone) in BENCHES.items() if name in used
    ]  # fmt: skip
    places.append({"place": "Court", "kind": "site"})
    figures = {
        "base": BASE, "cap": 30, "reference": 17, "bench_days_min": 5, "days_saved": 0, "spread": SPREAD,
        "bench_low": LOW, "bench_high": HIGH, "hold": 3, "hold_max": 10, "display_reference": 15, "display_days": 10,
        "display_base": BASE, "display_longest": 60,
    }  # fmt: skip
    crops = [
        {"crop": crop, "class": kind, "parameter": name, "typical": value}
        for crop, need in NEED.items() for kind in KINDS for name, value in {**figures, "bench_days": need / 15}.items()
    ]  # fmt: skip
    crops += [
        {"crop": crop, "class": kind, "parameter": stage, "low": low, "typical": share, "high": high}
        for crop in NEED for kind in KINDS for stage, (low, share, high) in STAGES.items()
    ]  # fmt: skip
    lots = [
        {"lot": t.name, "crop": t.crop, "class": t.kind, "cultivar": t.cultivar, "pots": t.pots, "pot cm": 15,
         "target bloom": str(t.target), "cooler": "Cold", "bench": t.bench, "cold weeks": 15,
         "display": t.display or None} for t in winter.lots
    ]  # fmt: skip
    shown = sorted({lot.display for lot in winter.lots} - {""})
    normals = [{"place": "Court", "month": m, "low": a, "high": b} for m, (a, b) in NORMALS.items()]
    looks = ", ".join(WEEKDAYS[day] for day in winter.looks)
    items = {
        "looks": looks,
        "working days": "every day",
        "opens": str(OPENS) if shown else "2027-03-01",
        "closes": "2027-05-01",
        "outdoor lift": LIFT,
    }
    season = [{"item": item, "value": value} for item, value in items.items()]
    tables = {"season": season, "places": places, "crops": crops, "lots": lots, "normals": normals}
    if shown:
        tables["displays"] = [{"display": name, "containers": 10, "site": "Court"} for name in shown]
    return forcing.load({name: pd.DataFrame(rows) for name, rows in tables.items()})


@dataclass(slots=True)
class House:
    """The people of a winter: what they have set, what they have still to carry, what they have written down."""

    winter: Winter
    season: LoadedSeason
    agreement: Agreement
    actions: dict[date, int] = field(default_factory=dict)  # by Monday
    planned: dict[str, tuple[Step, ...]] = field(default_factory=dict)
    open: set[str] = field(default_factory=set)  # lots in bloom on opening day

    def setting(self, place: str, day: date) -> tuple[float, float]:
        for setting in self.agreement.settings:
            if setting.basis == "steered" and setting.place == place and day in setting.span:
                return setting.day, setting.night
        points = [p for p in self.season.stated.setpoints if p.place == place and p.start <= day]
        if points:
            last = max(points, key=lambda p: p.start)
            return last.day, last.night
        return float(BENCHES[place][0]), float(BENCHES[place][1])

    def log(self, day: date, lot: str, event: str, place: str | None = None) -> None:
        entry = LogEntry(day, lot, event, place)  # type: ignore[arg-type]
        season = self.season.stated
        self.season = replace(self.season, stated=replace(season, log=(*season.log, entry)))


Policy = Callable[[House, date], None]


def lived(winter: Winter, policy: Policy) -> House:
    """The winter as it goes under a policy, which acts on Monday mornings."""
    winter = replace(winter, lots=[replace(lot, seen=[]) for lot in winter.lots])
    first = stated(winter).agree(on=SOWN)
    house = House(winter, first.season, first.agreement)
    shown = {lot.name for lot in winter.lots if lot.display}
    house.planned = {lot.name: lot.steps for lot in first.agreement.lots if lot.name in shown}
    for lot in first.agreement.lots:
        house.log(lot.potting, lot.name, "potted")
        house.log(lot.cooler_in or lot.potting, lot.name, "cooler in", "Cold")
    dice = random.Random(winter.seed + 1000)
    day = FIRST
    while (any(lot.bloom is None for lot in winter.lots) or (shown and day <= OPENS)) and day < LAST:
        morning(house, dice, day)
        if day.weekday() == 0:
            policy(house, day)
        carry(house, dice, day)
        wait_in_the_cold(house, day)
        if day == OPENS:
            house.open = {t.name for t in winter.lots if t.bloom and t.bloom <= day and t.aged < LIFE}
        pass_day(house, day)
        day += DAY
    return house


def morning(house: House, dice: random.Random, day: date) -> None:
    """Who is in bloom; and on days of looking what is seen and written down."""
    for lot in house.winter.lots:
        if lot.place and lot.bloom is None and lot.heat >= lot.need - 1e-6:
            lot.bloom = day
    if day.weekday() in house.winter.looks:
        look(house, dice, day, set(BENCHES))


def look(house: House, dice: random.Random, day: date, benches: set[str]) -> None:
    """All lots on some benches are looked at, and a new stage is mostly written down."""
    for lot in house.winter.lots:
        reached = [stage for stage, heat in lot.stages.items() if lot.heat >= heat - 1e-6]
        if lot.place in benches and reached and reached[-1] not in lot.seen:
            lot.seen.append(reached[-1])
            if reached[-1] == "bloom" or dice.random() >= house.winter.missed:
                house.log(day, lot.name, reached[-1])


def carry(house: House, dice: random.Random, day: date) -> None:
    """What was agreed for the day is carried; who comes to a bench looks at what stands there."""
    agreed = {lot.name: lot for lot in house.agreement.lots}
    visited = set()
    for lot in house.winter.lots:
        moves = [
            m for m in house.agreement.moves if m.lot == lot.name and m.start == day and lot.bloom is None
        ]
        if not lot.place and agreed[lot.name].bring_in <= day:
            lot.place = moves[-1].place if moves else agreed[lot.name].bench
            house.log(day, lot.name, "brought in", lot.place)
            visited.add(lot.place)
        elif lot.place and moves and moves[-1].place != lot.place:
            event = "held" if moves[-1].step == "hold" else "brought in" if lot.place == "Cold" else "moved"
            visited |= {lot.place, moves[-1].place}
            lot.place = moves[-1].place
            house.log(day, lot.name, event, lot.place)
    look(house, dice, day, visited & set(BENCHES))


def pass_day(house: House, day: date) -> None:
    """A day's warmth, and the thermometers read."""
    readings = []
    for name in dict.fromkeys(lot.bench for lot in house.winter.lots):
        high, low = house.setting(name, day)
        out_low, out_high = house.winter.outdoors[day]
        high = max(high + house.winter.offset[name], out_high + LIFT)
        low = max(low + house.winter.offset[name], out_low + LIFT)
        readings.append(Reading(name, day, low, high))
        gather(house, name, max(0.0, (low + high) / 2 - BASE))
    gather(house, "Cold", 5.0 - BASE)
    gather(house, "Court", max(0.0, sum(house.winter.outdoors[day]) / 2 - BASE))
    season = house.season.stated
    house.season = replace(house.season, stated=replace(season, readings=(*season.readings, *readings)))


def gather(house: House, place: str, heat: float) -> None:
    """A day's heat [°C·d] for what stands in a place: toward bloom, then toward fading."""
    for lot in house.winter.lots:
        if lot.place == place and lot.bloom is None:
            lot.heat += heat
        elif lot.place == place:
            lot.aged += heat


def wait_in_the_cold(house: House, day: date) -> None:
    """What is planned to wait in the cold is brought there on the day it shows colour, and back on the planned day."""
    for lot in house.winter.lots:
        holds = [s for s in house.planned.get(lot.name, ()) if s.step == "hold"]
        if not holds or not lot.place or lot.bloom is not None:
            continue
        back = holds[0].span.end
        if lot.place == lot.bench and day < back and lot.heat >= lot.stages["colour"] - 1e-6:
            house.log(day, lot.name, "colour")
            house.log(day, lot.name, "held", "Cold")
            lot.seen.append("colour")
            lot.place = "Cold"
        elif lot.place == "Cold" and day >= back:
            house.log(day, lot.name, "brought in", lot.bench)
            lot.place = lot.bench


def in_colour(house: House) -> list[bool]:
    """For each display: whether the wanted share of its pots is in bloom on opening day."""
    shows = []
    for name in sorted({lot.display for lot in house.winter.lots} - {""}):
        mine = [lot for lot in house.winter.lots if lot.display == name]
        out = [lot for lot in mine if lot.name in house.open]
        shows.append(sum(lot.pots for lot in out) >= WANTED * sum(lot.pots for lot in mine))
    return shows


def pot_days(house: House) -> int:
    """Pots × days off target, as it turned out."""
    return sum(lot.pots * abs(((lot.bloom or LAST) - lot.target).days) for lot in house.winter.lots)


# ---------------------------------------------------------------- policies


def as_planned(house: House, day: date) -> None:
    """Nobody does anything."""


def rule_of_thumb(house: House, day: date) -> None:
    """2 °C warmer on a bench whose lots are on average 2 days late or more, cooler likewise; else as it was planned."""
    table = house.season.outlook(on=day).table.set_index("lot")
    for name in dict.fromkeys(lot.bench for lot in house.winter.lots):
        late = [float(table.loc[t.name, "days late"]) for t in house.winter.lots
                if t.place == name and t.bloom is None and t.name in table.index]  # fmt: skip
        mean = sum(late) / len(late) if late else 0.0
        by = 2 if mean >= 2 else -2 if mean <= -2 else 0
        warm, cool, lowest, highest, _ = BENCHES[name]
        by = max(min(by, highest - warm), lowest - cool)
        if house.setting(name, day) != (warm + by, cool + by):
            set_bench(house, name, day, warm + by, cool + by)
            count(house, day, 1)


def recommended(house: House, day: date) -> None:
    """What the tool recommends, agreed to."""
    planned = house.season.plan(on=day)
    advice = planned.steer()
    check_limits(house, advice, day)
    agree(house, planned, advice, day)


def agree(house: House, planned: PlannedSeason, advice: SeasonSteering, day: date) -> None:
    """The plan and the recommended option are what all go by."""
    made = planned.agree(advice)
    house.season, house.agreement = made.season, made.agreement
    house.planned = {lot.name: lot.steps for lot in made.agreement.lots if lot.name in house.planned}
    option = advice.advice.recommended
    count(house, day, option.actions if option else 0)


def set_bench(house: House, name: str, day: date, warm: float, cool: float) -> None:
    season = house.season.stated
    points = [p for p in season.setpoints if not (p.place == name and p.start == day)]
    stated = replace(season, setpoints=(*points, Setpoint(name, day, warm, cool)))
    house.season = replace(house.season, stated=stated)


def count(house: House, day: date, actions: int) -> None:
    house.actions[day] = house.actions.get(day, 0) + actions


# ---------------------------------------------------------------- limits


def check_limits(house: House, advice: SeasonSteering, day: date) -> None:
    """No setting outside a limit of bench, zone, step or change; no bench cooler than outdoors usually allows."""
    steering = advice.advice
    settings = steering.settings
    for setting in settings:
        _, _, lowest, highest, zone = BENCHES[setting.place]
        assert lowest - 1e-6 <= setting.night <= setting.day <= highest + 1e-6, setting
        assert setting.day <= HIGH + 1e-6 and setting.night >= LOW - 1e-6, setting
        now_warm, now_cool = house.setting(setting.place, setting.span.start)
        by = setting.day - now_warm
        assert abs(by - round(by)) < 1e-6 and abs(setting.night - now_cool - by) < 1e-6, setting
        if by < 0:
            months = {
                (setting.span.start + i * DAY).month
                for i in range((setting.span.end - setting.span.start).days)
            }
            assert setting.day >= min(NORMALS[m][1] for m in months) - 4 + LIFT - 1e-6, setting
        for other in (n for n, b in BENCHES.items() if zone and b[4] == zone and n != setting.place):
            if any(lot.bench == other for lot in house.winter.lots):
                assert any(
                    s.place == other and s.span == setting.span and s.day == setting.day for s in settings
                )
    for name in BENCHES:
        changes = sorted(s.span.start for s in settings if s.place == name)
        assert all((b - a).days >= 4 for a, b in pairwise(changes))
        level = house.setting(name, day)[0]
        for when in changes:
            then = next(s.day for s in settings if s.place == name and s.span.start == when)
            before = next((s.day for s in settings if s.place == name and s.span.end == when), None)
            level = house.setting(name, when - DAY)[0] if before is None else before
            assert abs(then - level) <= 3 + 1e-6, (name, when)
    for move in (*steering.moves, *steering.holds):
        assert sum(m.lot == move.lot for m in steering.moves) <= 1


def weekly(houses: Sequence[House]) -> tuple[float, int]:
    """Actions a week on average, over the weeks that had lots on benches, and the most in any."""
    weeks = [n for house in houses for n in (house.actions.get(FIRST + 7 * DAY * k, 0) for k in range(12))]
    return sum(weeks) / max(1, len(weeks)), max(weeks, default=0)
