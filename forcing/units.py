"""°C and °F, metric and US measures. Inside the package everything is °C and metric; the others live at the edges only.

A temperature and a difference of temperatures convert differently, so each has its own pair of
functions. Definitions: NIST Special Publication 811 (2008), appendix B.8.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import Literal

TemperatureUnit = Literal["C", "F"]
Measures = Literal["metric", "US"]
INCH, SQUARE_FOOT = 2.54, 0.09290304  # cm, m²
QUART, CUBIC_FOOT = 0.946352946, 28.316846592  # litres; the quart is the US liquid one
# cm: pots are sold by a round width, and the pot of 6 in is that of 15 cm, of 4 in that of 10 cm; common practice
POT_INCH = 2.5
NEARLY_WHOLE = 0.25  # °F: what is shown to people is rounded to the whole degree when it is that near


def c_to_f(celsius: float) -> float:
    """Temperature [°C] -> [°F]."""
    return celsius * 9.0 / 5.0 + 32.0


def f_to_c(fahrenheit: float) -> float:
    """Temperature [°F] -> [°C]."""
    return (fahrenheit - 32.0) * 5.0 / 9.0


def c_to_f_difference(celsius: float) -> float:
    """Difference of temperatures [°C] -> [°F]; also °C·d -> °F·d."""
    return celsius * 9.0 / 5.0


def in_degrees(celsius: float, unit: TemperatureUnit) -> float:
    """A difference of temperatures [°C], or heat [°C·d], in `unit`."""
    return c_to_f_difference(celsius) if unit == "F" else celsius


def f_to_c_difference(fahrenheit: float) -> float:
    """Difference of temperatures [°F] -> [°C]; also °F·d -> °C·d."""
    return fahrenheit * 5.0 / 9.0


def to_celsius(value: float, unit: TemperatureUnit) -> float:
    """Temperature in `unit` -> [°C]."""
    return f_to_c(value) if unit == "F" else value


def from_celsius(celsius: float, unit: TemperatureUnit) -> float:
    """Temperature [°C] -> in `unit`."""
    return c_to_f(celsius) if unit == "F" else celsius


def show_temperature(celsius: float, unit: TemperatureUnit, digits: int = 1) -> str:
    """A temperature for people, with its unit: at most `digits` decimals, no trailing zeros."""
    shown = from_celsius(celsius, unit)
    if unit == "F" and abs(shown - round(shown)) <= NEARLY_WHOLE:
        shown = round(shown)  # 9 °C is 48.2 °F, but nobody sets a dial to that
    return f"{_plain(shown, digits)} °{unit}"


def show_difference(celsius: float, unit: TemperatureUnit, digits: int = 1) -> str:
    """A difference of temperatures [°C] for people, in their unit: at most `digits` decimals, no trailing zeros."""
    return f"{_plain(c_to_f_difference(celsius) if unit == 'F' else celsius, digits)} °{unit}"


def show_offset(celsius: float, unit: TemperatureUnit) -> str:
    """'1.5 °C warmer', '2 °F colder': how far a temperature is off [°C] another, in their unit."""
    return f"{show_difference(abs(celsius), unit)} {'warmer' if celsius > 0 else 'colder'}"


def show_pot(cm: float, measures: Measures) -> str:
    """The width of a pot [cm] for people, with its unit; in inches to the quarter, as pots are sold."""
    return f"{round(cm / POT_INCH * 4) / 4:g} in" if measures == "US" else f"{cm:g} cm"


def show_length(cm: float, measures: Measures) -> str:
    """A length [cm] for people, with its unit; inches to the half from 1 on, below it to the quarter."""
    if measures == "metric":
        return f"{cm:g} cm"
    parts = 2 if cm >= INCH else 4
    return f"{round(cm / INCH * parts) / parts:g} in"


def show_area(m2: float, measures: Measures, digits: int = 1) -> str:
    """An area [m²] for people, with its unit; square feet are whole."""
    return f"{m2 / SQUARE_FOOT:,.0f} sq ft" if measures == "US" else f"{m2:.{digits}f} m²"


def show_box(sides: Sequence[float], measures: Measures) -> str:
    """The length and width [cm] of a box for people, with their unit."""
    return told(f"{sides[0]:g} × {sides[1]:g} cm", "C", measures)


def show_mix(litres: float, measures: Measures) -> str:
    """A volume of potting mix [litres] for people: US quarts, from a cubic foot on cubic feet."""
    if measures == "metric":
        return f"{_plain(litres, 1)} L"
    feet = litres / CUBIC_FOOT
    return f"{_plain(feet, 1)} cu ft" if feet >= 1 else f"{_plain(litres / QUART, 1)} qt"


_PROSE = re.compile(
    r"(?P<values>-?\d+(?:\.\d+)?(?:(?: to | and | or | down to |, | - |-| × )-?\d+(?:\.\d+)?)*)"
    r" (?P<unit>°C|cm|kg|g/m²)(?!\w|·)(?: \((?P<said>[\d. to]+ °F)\))?"
)
POUND, OUNCE_PER_SQUARE_YARD = 0.45359237, 33.90575  # kg, g/m²


def told(text: str, unit: TemperatureUnit, measures: Measures) -> str:
    """Fixed prose with its temperatures (not differences), lengths, weights and cloths in the units of a season.

    To the whole degree and pound, and the half inch. A sum worked out in °C·d is left as it was worked out.
    """
    if "°C·d" in text:
        return text

    def turned(match: re.Match[str]) -> str:
        values, metric = match["values"], match["unit"]
        if metric == "°C":
            if unit == "C":
                return match[0]
            return match["said"] or f"{_each(values, lambda v: f'{c_to_f(v):.0f}')} °F"
        if measures == "metric":
            return match[0]
        if metric == "cm":
            return f"{_each(values, lambda v: f'{round(v / INCH * 2) / 2:g}')} in"
        if metric == "kg":
            return f"{_each(values, lambda v: f'{v / POUND:.0f}')} lb"
        return f"{_each(values, lambda v: f'{v / OUNCE_PER_SQUARE_YARD:.2g}')} oz/sq yd"

    return _PROSE.sub(turned, text)


def _each(values: str, shown: Callable[[float], str]) -> str:
    return re.sub(r"(?<!\d)-?\d+(?:\.\d+)?", lambda number: shown(float(number[0])), values)


def order_unit(unit: str, measures: Measures) -> tuple[str, float]:
    """The unit in which something is ordered, and how many metric ones it is: mix by the cubic foot, cloth by sq ft."""
    us = {"litres": ("cu ft", CUBIC_FOOT), "m²": ("sq ft", SQUARE_FOOT)}
    return us.get(unit, (unit, 1.0)) if measures == "US" else (unit, 1.0)


def _plain(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
