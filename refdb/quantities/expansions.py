"""Coefficients of thermal expansion, as people type them."""

from __future__ import annotations

import re

from refdb.frozen import replace
from refdb.quantities.band import Band
from refdb.quantities.typed import TEMPERATURE_SCALES, TypedText, factors, joined, read, tidied, times

FLOOR_PER_K, CEILING_PER_K = 0.1e-6, 30e-6

_INVERSE = re.compile(
    r"[ *]*(?:(?<![A-Za-z])|(?<=ppm))(°C|°F|degC|degF|K|C|F|m) ?\^? ?-1(?![0-9.])", re.IGNORECASE | re.ASCII
)


def _per_kelvin(unit: str, typed: TypedText) -> float:
    """The number that turns a typed unit of expansion into 1/K."""
    key = unit.lower().replace(" ", "")
    for start, size in (("ppm/", 1e-6), ("um/(m", 1e-6), ("um/m", 1e-6), ("1/", 1.0), ("/", 1.0)):
        if key.startswith(start):
            scale = TEMPERATURE_SCALES.get(key[len(start) :].strip("*/()"))
            if scale:
                return size * (1.8 if scale == "F" else 1.0)
    if not unit:
        todo = f"add one, for example {typed.example} (a label's 125 mostly means 125e-7/K)"
        typed.refuse("has no unit", todo)
    return factors({}, "1/K", typed)(unit)


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
    typed = TypedText(text, where, "12.5 ppm/K or 125e-7/K")
    clean = _INVERSE.sub(r"/\1", re.sub(r"\bper\b", "/", tidied(typed), flags=re.IGNORECASE))
    reading = read(clean, typed)
    if reading.join and not reading.first_has_power and not reading.first_unit:
        # "120-130e-7/K" and "(120 ± 5) x 10^-7/K": the power is meant for both numbers.
        first = times(reading.first, reading.second_power)
        reading = replace(reading, first=first)
    band = joined(reading, lambda unit: _per_kelvin(unit, typed), typed)
    band = band.scaled(1 / 3) if cubical else band
    if band.high > CEILING_PER_K * (1 + 1e-9):
        todo = "it may be cubical (add --cubical to divide it by 3); a label's 125 mostly means 125e-7/K"
        todo = "check the power of ten" if cubical else todo
        typed.refuse("is above 30 ppm/K as a linear expansion", todo)
    if band.low < FLOOR_PER_K * (1 - 1e-9):
        typed.refuse("is below 0.1 ppm/K", f"check the power of ten; write for example {typed.example}")
    return band
