"""What steering answers: settings, moves and holds, and what they bring lot by lot."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from forcing.dates import Span
from forcing.engine.steering.setup import Expected
from forcing.errors import Finding
from forcing.model import RoomSetting


@dataclass(frozen=True, slots=True)
class Move:
    """Pots of a lot to be carried from one place to another on a day."""

    lot: str
    pots: int
    place: str  # from
    to: str
    on: date


@dataclass(frozen=True, slots=True)
class Outcome:
    """What is expected of one lot without and with the steering."""

    lot: str
    pots: int
    target: date
    before: Expected
    after: Expected
    soonest: date  # bloom at the hottest it may have from now on, wherever it may stand
    latest: date  # bloom at the coolest, held as long as it may be

    @property
    def off_before(self) -> int:
        """Days from target to the likely bloom; negative when early."""
        return (self.before.likely - self.target).days

    @property
    def off_after(self) -> int:
        return (self.after.likely - self.target).days


@dataclass(frozen=True, slots=True)
class Curve:
    """Days off target of a bench's pots, on average, against one mean [°C] kept from first to last day."""

    bench: str
    lots: tuple[str, ...]
    means: tuple[float, ...]
    days_off: tuple[float, ...]
    now: tuple[float, float]  # mean it is set to, and the days off if that stays
    chosen: tuple[float, float]  # the same for what is advised; a mean over the days where it changes


@dataclass(frozen=True, slots=True)
class Steering:
    """The advice. `gap`, `status` and `seconds` tell how the search went and are no part of it."""

    on: date
    span: Span | None  # days that are steered; None: no lot is on a bench
    settings: tuple[RoomSetting, ...] = ()
    moves: tuple[Move, ...] = ()
    holds: tuple[Move, ...] = ()  # into a cooler, and out of it again
    lots: tuple[Outcome, ...] = ()
    curves: tuple[Curve, ...] = ()
    words: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    gap: float = (
        0.0  # days off per pot that another answer could still save, before work not worth it was left out
    )
    status: str = ""
    seconds: float = 0.0

    @property
    def changes_anything(self) -> bool:
        return bool(self.settings or self.moves or self.holds)
