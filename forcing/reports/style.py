"""One hand for every sheet: colours, hatches, letters, fonts and the words for dates.

The colours are from Okabe & Ito, "Color Universal Design" (2008), chosen there to be told apart with the
common forms of colour blindness. Colour is never the only signal: each class also has a letter and a
hatch, each step its own lightness, so that a sheet printed in grey says the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from forcing.model import BloomClass, StepName
from forcing.units import TemperatureUnit, show_temperature
from forcing.xlsx import INK as INK
from forcing.xlsx import PAPER as PAPER
from forcing.xlsx import RULE as RULE

if TYPE_CHECKING:
    from forcing.engine.show.cover import Cover

QUIET = "#505050"  # 7:1 and more on white and on TINT, which WCAG 2.2 asks of what is easy to read (1.4.6)
TINT = "#f2f2f2"
ALERT = "#9e1c00"  # vermilion, dark enough for the same


@dataclass(frozen=True, slots=True)
class Mark:
    """How a class or a step is drawn: fill colour, hatch (as on a canvas), and a letter or name."""

    fill: str
    hatch: str
    letter: str


# The purple of the late class is lighter than the palette's, so that its letter keeps 7:1.
CLASS_MARKS: dict[BloomClass | None, Mark] = {
    "early": Mark("#f0e442", "", "E"),
    "mid": Mark("#e69f00", "//", "M"),
    "late": Mark("#da94b9", "xxx", "L"),
    None: Mark("#d9d9d9", "..", "-"),
}

# Light to dark in the order of the steps' warmth, so that grey still tells neighbours apart. The bench's green is
# lighter than the palette's: black words on it can be read in grey too.
STEP_MARKS: dict[StepName, Mark] = {
    "pot": Mark("#8c6d46", "", "pot"),
    "root": Mark("#0072b2", "", "root"),
    "cool": Mark("#a6d4f2", "", "cool"),
    "bench": Mark("#33b18f", "", "bench"),
    "hold": Mark("#d0d0f0", "--", "hold"),
    "harden": Mark("#c9e8b8", "", "harden"),
    "show": Mark("#e69f00", "", "show"),
}


@lru_cache(maxsize=1)
def font_files() -> dict[str, Path]:
    """DejaVu Sans as files, from matplotlib's own data: 'regular', 'bold', 'oblique'."""
    import matplotlib

    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    return {
        "regular": folder / "DejaVuSans.ttf",
        "bold": folder / "DejaVuSans-Bold.ttf",
        "oblique": folder / "DejaVuSans-Oblique.ttf",
    }


_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def short_date(day: date) -> str:
    """Like 'Mon 2 Nov': the month as a word, so that no reader can swap day and month."""
    return f"{_DAYS[day.weekday()]} {day.day} {_MONTHS[day.month - 1]}"


def long_date(day: date) -> str:
    """Like 'Mon 2 Nov 2026'."""
    return f"{short_date(day)} {day.year}"


def day_month(day: date) -> str:
    """Like '2 Nov'."""
    return short_date(day).split(maxsplit=1)[1]


def lateness_words(days: int) -> str:
    """Days from target in words."""
    if days == 0:
        return "on the day"
    return f"{days} d late" if days > 0 else f"{-days} d early"


def chance_words(cover: Cover, on: date) -> str:
    """How sure a display is of its wanted cover: on opening day (or today), on closing day, and where least.

    Empty: nothing stands there, or it has closed.
    """
    ahead = {day: c or 0.0 for day, c in zip(cover.span, cover.chance, strict=True) if day >= on}
    if not ahead or not any(cover.standing):
        return ""
    first, last, least = min(ahead), max(ahead), min(ahead, key=lambda day: ahead[day])
    if first == last:
        return f"{cover.display}: last day {ahead[last]:.0%}"
    opening = "opening day" if first == cover.span.start else "today"
    words = f"{cover.display}: {opening} {ahead[first]:.0%}, closing day {ahead[last]:.0%}"
    if ahead[least] < min(ahead[first], ahead[last]) - 0.005:
        words += f"; least on {short_date(least)}, {ahead[least]:.0%}"
    return words


def setting_words(day: float, night: float, unit: TemperatureUnit, between: str = " / ") -> str:
    """A set temperature [°C] in the unit: '5 °C', or by day and by night: '17 / 13 °C'."""
    by_day, by_night = (show_temperature(t, unit) for t in (day, night))
    return by_day if by_day == by_night else f"{by_day.split()[0]}{between}{by_night}"
