"""Quantities as people type them, turned into SI floats (°C and minutes excepted), and printed again.

What is typed at the bench is read with plain arithmetic; pint is imported only for a unit not in the tables.
"""

from __future__ import annotations

import dataclasses
import math
import re

from refdb.errors import BadInput
from refdb.quantities.lengths import Thickness, area_m2, length_m, thickness
from refdb.quantities.printed import (
    ascii_fallback,
    format_band,
    format_duration,
    format_expansion,
    format_length_mm,
    format_number,
    format_ppm,
    format_quantity,
    format_temperature,
    format_temperature_difference,
)
from refdb.quantities.typed import (
    DURATIONS_MIN,
    FRACTIONS,
    MASSES_KG,
    NUMBER,
    TEMPERATURE_SCALES,
    Asked,
    Band,
    factors,
    joined,
    read,
    read_one,
    shown,
    tidied,
    times,
)

__all__ = [
    "Band",
    "Thickness",
    "area_m2",
    "ascii_fallback",
    "duration_min",
    "expansion_per_k",
    "format_band",
    "format_duration",
    "format_expansion",
    "format_length_mm",
    "format_number",
    "format_ppm",
    "format_quantity",
    "format_temperature",
    "format_temperature_difference",
    "fraction",
    "fraction_band",
    "length_m",
    "mass_kg",
    "span_c",
    "temperature_band_c",
    "temperature_c",
    "temperature_difference_band_k",
    "temperature_difference_k",
    "thickness",
]

ZERO_KELVIN_C = -273.15
HOTTEST_C = 6000.0  # a guard against slips of the hand, far above any kiln or torch
EXPANSION_FLOOR_PER_K, EXPANSION_CEILING_PER_K = 0.1e-6, 30e-6

_INVERSE = re.compile(
    r"[ *]*(?:(?<![A-Za-z])|(?<=ppm))(°C|°F|degC|degF|K|C|F|m) ?\^? ?-1(?![0-9.])", re.IGNORECASE | re.ASCII
)
_TIME = re.compile(rf" ?({NUMBER}) ?([A-Za-z]+)\.?")


def _scale(unit: str, asked: Asked) -> str:
    """C, F or K, whichever the typed unit names."""
    scale = TEMPERATURE_SCALES.get(unit.lower().replace(" ", ""))
    if scale is None:
        problem = "does not say which degrees" if unit in ("", "°") else f"has an unknown unit, {shown(unit)}"
        asked.refuse(problem, f"add C, F or K, for example {asked.example}")
    return scale


def _celsius(number: float, unit: str, asked: Asked) -> float:
    scale = _scale(unit, asked)
    temp_c = {"C": number, "F": (number - 32.0) / 1.8, "K": number + ZERO_KELVIN_C}[scale]
    if temp_c < ZERO_KELVIN_C - 1e-9:
        asked.refuse("is below absolute zero")
    if temp_c > HOTTEST_C:
        asked.refuse("is hotter than 6000 C", f"check the number; write for example {asked.example}")
    return temp_c


def temperature_c(text: object, *, where: str = "temperature") -> float:
    """A temperature in °C: "815 C", "1500F", "1500 °F", "1088 K".

    Raises
    ------
    BadInput
        When it cannot be read, has no unit, or is below absolute zero or above 6000 °C.
    """
    asked = Asked(text, where, "815 C or 1500 F")
    reading = read_one(tidied(asked), asked)
    return _celsius(reading.first, reading.unit, asked)


def temperature_band_c(text: object, *, where: str = "temperature") -> Band:
    """A temperature or a range of it in °C: "510 C", "500-540C", "932 to 1004 °F"; a range has its middle as value.

    Raises
    ------
    BadInput
        As for `temperature_c`, or when a range does not rise.
    """
    try:
        return Band.exact(temperature_c(text, where=where))
    except BadInput as single:
        try:
            low, high = span_c(text, where=where)
        except BadInput as span:
            if "rise" in span.what:
                raise BadInput(
                    "the range runs from high to low", where, "put the lower temperature first, such as 780-815C"
                ) from None
            raise single from None
        return Band((low + high) / 2, low, high)


def temperature_difference_k(text: object, *, where: str = "temperature difference") -> float:
    """A difference of temperature in K, which may be negative: "30 K", "-10 C", "54 F" (30 K).

    Raises
    ------
    BadInput
        When it cannot be read, has no unit, or is beyond 6000 K.
    """
    asked = Asked(text, where, "30 K, 30 C or 54 F")
    reading = read_one(tidied(asked), asked)
    difference = reading.first / (1.8 if _scale(reading.unit, asked) == "F" else 1.0)
    if abs(difference) > HOTTEST_C:
        asked.refuse("is beyond 6000 K", f"check the number; write for example {asked.example}")
    return difference


def temperature_difference_band_k(text: object, *, where: str = "temperature difference") -> Band:
    """A difference of temperature in K or a range of it: "10 K", "5-11 K", "-11 to -5 C", "18 +- 9 F".

    Raises
    ------
    BadInput
        As for `temperature_difference_k`, or when a range does not rise.
    """
    asked = Asked(text, where, "10 K or 5-11 K")
    band = joined(read(tidied(asked), asked), lambda unit: 1 / 1.8 if _scale(unit, asked) == "F" else 1.0, asked)
    if max(-band.low, band.high) > HOTTEST_C:
        asked.refuse("is beyond 6000 K", f"check the number; write for example {asked.example}")
    return band


def span_c(text: object, *, where: str = "temperature span") -> tuple[float, float]:
    """A span of temperature as (low, high) in °C: "20-400 °C", "20 to 400 C", "68-752F".

    Raises
    ------
    BadInput
        When it cannot be read, has no unit, or does not rise.
    """
    asked = Asked(text, where, "20-400 C or 68-752 F")
    reading = read(tidied(asked), asked)
    if reading.join != "-":
        asked.refuse("is not a span from one temperature to another")
    low = _celsius(reading.first, reading.first_unit or reading.unit, asked)
    high = _celsius(reading.second, reading.unit, asked)
    if low >= high:
        asked.refuse("does not rise", f"put the lower temperature first, for example {asked.example}")
    return low, high


def _per_kelvin(unit: str, asked: Asked) -> float:
    """The number that turns a typed unit of expansion into 1/K."""
    key = unit.lower().replace(" ", "")
    for start, size in (("ppm/", 1e-6), ("um/(m", 1e-6), ("um/m", 1e-6), ("1/", 1.0), ("/", 1.0)):
        if key.startswith(start):
            scale = TEMPERATURE_SCALES.get(key[len(start) :].strip("*/()"))
            if scale:
                return size * (1.8 if scale == "F" else 1.0)
    if not unit:
        todo = f"add one, for example {asked.example} (a label's 125 mostly means 125e-7/K)"
        asked.refuse("has no unit", todo)
    return factors({}, "1/K", asked)(unit)


def expansion_per_k(text: object, *, cubical: bool = False, where: str = "expansion") -> Band:
    """A coefficient of thermal expansion in 1/K: "12.5 ppm/K", "125e-7/K", "12-13 ppm/K", "6.9e-6/°F".

    Parameters
    ----------
    text : str
        What was typed; one number, a range, or a number with a tolerance.
    cubical : bool
        Whether it is the expansion of volume, which is three times the linear one: it is divided by three.
    where : str
        The option or key it was typed for, for the message.

    Raises
    ------
    BadInput
        When it cannot be read, has no unit, or its linear value is outside 0.1 to 30 ppm/K.
    """
    asked = Asked(text, where, "12.5 ppm/K or 125e-7/K")
    clean = _INVERSE.sub(r"/\1", re.sub(r"\bper\b", "/", tidied(asked), flags=re.IGNORECASE))
    reading = read(clean, asked)
    if reading.join and not reading.first_has_power and not reading.first_unit:
        # "120-130e-7/K" and "(120 ± 5) x 10^-7/K": the power is meant for both numbers.
        first = times(reading.first, reading.second_power)
        reading = dataclasses.replace(reading, first=first)
    band = joined(reading, lambda unit: _per_kelvin(unit, asked), asked)
    band = band.scaled(1 / 3) if cubical else band
    if band.high > EXPANSION_CEILING_PER_K * (1 + 1e-9):
        todo = "it may be cubical (add --cubical to divide it by 3); a label's 125 mostly means 125e-7/K"
        todo = "check the power of ten" if cubical else todo
        asked.refuse("is above 30 ppm/K as a linear expansion", todo)
    if band.low < EXPANSION_FLOOR_PER_K * (1 - 1e-9):
        asked.refuse("is below 0.1 ppm/K", f"check the power of ten; write for example {asked.example}")
    return band


def fraction_band(text: object, *, where: str = "fraction") -> Band:
    """A fraction from 0 to 1 with its band: "12 %", "10-15 %", "12 ± 2 %".

    Raises
    ------
    BadInput
        When it cannot be read, has no percent sign, or is outside 0 to 100 %.
    """
    asked = Asked(text, where, "12 % or 10-15 %")
    reading = read(tidied(asked), asked)
    band = joined(reading, factors(FRACTIONS, "dimensionless", asked), asked)
    if band.low < 0.0 or band.high > 1.0:
        asked.refuse("is not between 0 and 100 %")
    return band


def fraction(text: object, *, where: str = "fraction") -> float:
    """A fraction from 0 to 1, such as "12 %"; errors as for `fraction_band`, and a range is refused."""
    asked = Asked(text, where, "12 %")
    read_one(tidied(asked), asked)
    return fraction_band(text, where=where).value


def mass_kg(text: object, *, where: str = "mass") -> float:
    """A mass in kg: "12 g", "1 oz" (avoirdupois), "1 ozt" (troy), "5 dwt", "2 ct", "0.5 lb".

    Raises
    ------
    BadInput
        When it cannot be read, has no unit, or is not more than zero.
    """
    asked = Asked(text, where, "12 g, 1 oz or 1 ozt (troy)")
    reading = read_one(tidied(asked), asked)
    value = times(reading.first, factors(MASSES_KG, "kg", asked)(reading.unit))
    if not 0.0 < value < math.inf:
        asked.refuse("is not a mass above zero")
    return value


def duration_min(text: object, *, where: str = "duration", zero_ok: bool = False) -> float:
    """A duration in minutes: "3 min", "90 s", "3h", "1 h 30 min".

    Raises
    ------
    BadInput
        When it cannot be read, has no unit, is negative, or is zero without `zero_ok`.
    """
    asked = Asked(text, where, "3 min, 90 s or 1 h 30 min")
    clean = tidied(asked)
    if re.search("[0-9]:[0-9]", clean):
        asked.refuse("could mean minutes and seconds or hours and minutes")
    parts: list[tuple[float, float]] = []
    at = 0
    while (found := _TIME.match(clean, at)) and found[2].lower() in DURATIONS_MIN:
        parts.append((float(found[1]), DURATIONS_MIN[found[2].lower()]))
        at = found.end()
    if len(parts) < 2 or at < len(clean):
        reading = read_one(clean, asked)
        value = times(reading.first, factors(DURATIONS_MIN, "min", asked)(reading.unit))
    else:
        units = [unit for _, unit in parts]
        if units != sorted(set(units), reverse=True) or any(number < 0.0 for number, _ in parts):
            asked.refuse("is not hours, then minutes, then seconds")
        value = sum(times(number, unit) for number, unit in parts)
    if not math.isfinite(value) or value < 0.0 or (value == 0.0 and not zero_ok):
        asked.refuse("is not a duration above zero")
    return value
