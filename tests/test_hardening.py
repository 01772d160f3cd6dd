"""Lots that go straight from a heated bench into frosty nights, and what hardening them off in a frame would cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import pytest

from forcing.dates import Span
from forcing.errors import Finding, merged
from forcing.model import Companion, Display, LastFrost, Lot, Normal, Override, Place, Planting, Season
from tests.builders import house_figures, worked
from tests.season_text import PLACES
from tests.season_text import season as read

DAY = timedelta(days=1)
OPENS = date(2027, 3, 20)
ON = date(2026, 11, 2)
FIGURES = {
    "base": 4.0,
    "cap": 25.0,
    "reference": 16.0,
    "bench_days": 20.0,
    "bench_days_min": 1.0,
    "days_saved": 0.0,
}


def figures(crop: str, frost: float) -> tuple[Override, ...]:
    """20 days at 16 °C with a base of 4 °C: 240 °C·d, whatever the cold."""
    return house_figures(crop, frost=frost, **FIGURES)


def yard(lots: Sequence[Lot] = (), frame: float | None = 100, **other) -> Season:
    """Tulips (-2 °C hardened) from a bench at 16 °C into a yard of cold nights; a frame of 5 to 11 °C beside it."""
    given = {
        "title": "test",
        "span": Span(OPENS, OPENS + 30 * DAY),
        "confidence": 0.5,
        "places": (
            Place("Cold", "cooler", day=5, night=5, pots=500),
            Place("Bench", "bench", day=16, night=16, pots=500),
            Place("Frame", "frame", pots=frame),
            Place("Yard site", "site"),
        ),
        "displays": (Display("Yard", 4, "Yard site", Span(OPENS, OPENS + 30 * DAY)),),
        "normals": usual("Yard site", 2.0) + usual("Frame", 5.0),
        "lots": tuple(lots) or (tulip("A"),),
        "overrides": figures("tulip", -2.0) + figures("crocus", 0.0),
    }
    return Season(**(given | other))


def usual(place: str, low: float) -> tuple[Normal, ...]:
    """Each month's mean low, and a high 6 °C above it."""
    return tuple(Normal(place, month, low, low + 6.0) for month in range(1, 13))


def tulip(name: str, **other) -> Lot:
    given = {
        "crop": "tulip",
        "pots": 40,
        "display": "Yard",
        "cooler": "Cold",
        "bench": "Bench",
        "cold_weeks": 15.0,
    }
    return Lot(name, **(given | {"target": OPENS, "install": OPENS, "row": 2} | other))


def told(season: Season, on: date = ON) -> list[Finding]:
    return [f for f in worked(season, on).plan.findings if f.code in ("not-hardened", "set-out-tender")]


def test_what_hardening_costs_by_hand() -> None:
    # On the bench 240 °C·d take 20 days of 16 - 4 = 12. With 14 days at 8 - 4 = 4 in the frame, 56 °C·d, 184 are left
    # for the bench: 15.3 days of 12, so 16: brought in 30 days before 20 March, on 18 February, and not on the 28th.
    (found,) = told(yard())
    assert (found.lot, found.row, found.column, found.severity) == ("A", 2, "harden at", "note")
    assert found.number == 10 and found.days == (OPENS,)
    assert "A goes straight from Bench to Yard site on 2027-03-20" in found.message
    assert "Frame has room for its 40 pots from 2027-03-06" in found.hint and "harden days 14" in found.hint
    assert "brought in 10 days sooner, on 2027-02-18, has 16 bench-days instead of 20" in found.hint
    assert "gathers 56 instead of 168 °C·d in the 14 days before" in found.hint
    # In °F: the same sums, times 1.8: 100.8 and 302.4.
    (found,) = told(yard(unit="F"))
    assert "gathers 101 instead of 302 °F·d" in found.hint


def test_what_was_told_is_what_comes_of_it() -> None:
    proposed = yard([tulip("A", harden_at="Frame", harden_days=14)])
    assert not told(proposed)
    (plan,) = worked(proposed, ON).plan.lots
    stood = {
        step.place: step.span for step in plan.steps if step.place and step.span.start >= date(2027, 3, 1)
    }
    assert plan.bring_in == date(2027, 2, 18) and plan.bloom <= OPENS
    assert (
        min(s.span.start for s in plan.steps if s.place == "Frame") == date(2027, 3, 6)
        and "Yard site" in stood
    )


def test_no_days_stated_is_a_decision() -> None:
    assert not told(yard([tulip("A", harden_days=0)]))
    text = PLACES + "[lots]\nlot | crop | pots | harden days\nT1 | tulip | 20 | {}\n"
    assert [read(text.format(days)).lots[0].harden_days for days in ("", "0", "9")] == [None, 0, 9]


def test_room_in_the_frame_is_counted_with_all_that_stands_there() -> None:
    # 15 cm pots. The first 40 fill 50 places but for ten: the second lot finds no room.
    one, two = told(yard([tulip("A"), tulip("B")], frame=50))
    assert "Frame has room for its 40 pots" in one.hint and one.number == 10
    assert "No frame has room for it then" in two.hint and two.number is None
    # Violas of 10 cm are hardened off there from 6 March on, each 0.444 of a place: 40 of 50 leave too little.
    violas = {"companions": (Companion("Violas", "viola", 90, OPENS, "Bench"),),
              "plantings": (Planting("Yard", "A", 10), Planting("Yard", "Violas", 20))}  # fmt: skip
    (found,) = told(yard(frame=50, **violas))
    assert "No frame has room for it then" in found.hint
    (found,) = told(yard(frame=100, **violas))
    assert "Frame has room" in found.hint
    # A bench that is too small for ten days more: no room either. Two lots follow each other on it.
    places = tuple(replace(p, pots=40) if p.name == "Bench" else p for p in yard().places)
    early = tulip("E", target=OPENS - 22 * DAY, install=OPENS - 22 * DAY, display=None)
    (found,) = told(yard([early, tulip("A")], places=places))
    assert "No frame has room for it then" in found.hint


def test_a_shorter_time_is_proposed_where_the_season_is_late() -> None:
    # Seen from 10 March, 14 days before would lie in the past, 10 days begin that day. Brought in, it cannot bloom
    # sooner: it stands on the bench since 28 February, 10 days · 12 = 120, and ten days of 4 in the frame are too few.
    (found,) = told(yard(), date(2027, 3, 10))
    assert "No frame has room for it then, or it would be late" in found.hint


@pytest.mark.parametrize(
    ("low", "frame", "offered"),
    # Mats keep 3 °C: what is not hardened stands a frame of -3 °C, no colder one.
    [(2.0, -3.0, True), (2.0, -3.1, False)],
)
def test_no_frame_that_freezes_is_proposed(low: float, frame: float, offered: bool) -> None:
    (found,) = told(yard(normals=usual("Yard site", low) + usual("Frame", frame)))
    assert ("Frame has room" in found.hint) is offered


def test_mild_nights_and_nights_after_the_last_frost_need_none() -> None:
    # Single nights scatter by 4 °C about a mean low: 4 °C may freeze, 4.1 °C does not.
    for low, count in ((4.0, 1), (4.1, 0)):
        assert len(told(yard(normals=usual("Yard site", low) + usual("Frame", 5.0)))) == count
    for last, count in ((OPENS - DAY, 0), (OPENS, 1)):
        assert len(told(yard(last_frost=LastFrost(last)))) == count
    assert not told(yard(), OPENS)  # it is out


def test_what_stands_no_frost_even_hardened_is_told_so() -> None:
    (found,) = told(yard([tulip("C", crop="crocus")]))
    assert found.code == "set-out-tender" and "stands 0 °C even when hardened" in found.message


def test_several_lots_are_one_message_on_paper() -> None:
    found = told(yard([tulip("A"), tulip("B", row=3)], frame=None))
    (one,) = merged(found)
    assert one.message.startswith("A and B go straight from a heated bench to the open") and one.lots == (
        "A",
        "B",
    )
    assert "brought in up to 10 days sooner" in one.hint
