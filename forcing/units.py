"""°C and °F. Inside the package everything is °C; °F lives at the edges only.

A temperature and a difference of temperatures convert differently, so each has its own pair of
functions. Definitions: NIST Special Publication 811 (2008), appendix B.8.
"""

from __future__ import annotations

from typing import Literal

TemperatureUnit = Literal["C", "F"]
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


def _plain(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
