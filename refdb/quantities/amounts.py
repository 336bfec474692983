"""Fractions, masses, powers and durations, as people type them."""

from __future__ import annotations

import math
import re

from refdb.quantities.band import Band
from refdb.quantities.typed import (
    DURATIONS_MIN,
    FRACTIONS,
    MASSES_KG,
    NUMBER,
    TypedText,
    factors,
    joined,
    read,
    read_one,
    tidied,
    times,
)

_POWERS_W = {"w": 1.0, "watt": 1.0, "watts": 1.0, "kw": 1e3}
_TIME = re.compile(rf" ?({NUMBER}) ?([A-Za-z]+)\.?")


def fraction_band(text: object, *, where: str = "fraction") -> Band:
    """A fraction from 0 to 1 with its band: "12 %", "10-15 %", "12 ± 2 %".

    Raises
    ------
    BadInput
        When it cannot be read, has no percent sign, or is outside 0 to 100 %.
    """
    typed = TypedText(text, where, "12 % or 10-15 %")
    reading = read(tidied(typed), typed)
    band = joined(reading, factors(FRACTIONS, "dimensionless", typed), typed)
    if band.low < 0.0 or band.high > 1.0:
        typed.refuse("is not between 0 and 100 %")
    return band


def fraction(text: object, *, where: str = "fraction") -> float:
    """A fraction from 0 to 1, such as "12 %"; errors as for `fraction_band`, and a range is refused."""
    typed = TypedText(text, where, "12 %")
    read_one(tidied(typed), typed)
    return fraction_band(text, where=where).value


def mass_kg(text: object, *, where: str = "mass") -> float:
    """A mass in kg: "12 g", "1 oz" (avoirdupois), "1 ozt" (troy), "5 dwt", "2 ct", "0.5 lb".

    Raises
    ------
    BadInput
        When it cannot be read, has no unit, or is not more than zero.
    """
    typed = TypedText(text, where, "12 g, 1 oz or 1 ozt (troy)")
    return _above_zero(typed, MASSES_KG, "kg", "a mass")


def power_w(text: object, *, where: str = "power") -> float:
    """A power in W: "2 kW", "1800 W".

    Raises
    ------
    BadInput
        When it cannot be read, has no unit, or is not more than zero.
    """
    typed = TypedText(text, where, "2 kW or 1800 W")
    return _above_zero(typed, _POWERS_W, "W", "a power")


def _above_zero(typed: TypedText, units: dict[str, float], unit: str, what: str) -> float:
    """One number with a unit, in `unit`, above zero and finite."""
    reading = read_one(tidied(typed), typed)
    value = times(reading.first, factors(units, unit, typed)(reading.unit))
    if not 0.0 < value < math.inf:
        typed.refuse(f"is not {what} above zero")
    return value


def duration_min(text: object, *, where: str = "duration", zero_ok: bool = False) -> float:
    """A duration in minutes: "3 min", "90 s", "3h", "1 h 30 min".

    Raises
    ------
    BadInput
        When it cannot be read, has no unit, is negative, or is zero without `zero_ok`.
    """
    typed = TypedText(text, where, "3 min, 90 s or 1 h 30 min")
    clean = tidied(typed)
    if re.search("[0-9]:[0-9]", clean):
        typed.refuse("could mean minutes and seconds or hours and minutes")
    parts: list[tuple[float, float]] = []
    at = 0
    while (found := _TIME.match(clean, at)) and found[2].lower() in DURATIONS_MIN:
        parts.append((float(found[1]), DURATIONS_MIN[found[2].lower()]))
        at = found.end()
    if len(parts) < 2 or at < len(clean):
        reading = read_one(clean, typed)
        value = times(reading.first, factors(DURATIONS_MIN, "min", typed)(reading.unit))
    else:
        units = [unit for _, unit in parts]
        if units != sorted(set(units), reverse=True) or any(number < 0.0 for number, _ in parts):
            typed.refuse("is not hours, then minutes, then seconds")
        value = sum(times(number, unit) for number, unit in parts)
    if not math.isfinite(value) or value < 0.0 or (value == 0.0 and not zero_ok):
        typed.refuse("is not a duration above zero")
    return value
