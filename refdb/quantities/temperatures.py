"""Temperatures, differences of temperature and spans, as people type them."""

from __future__ import annotations

from refdb.errors import BadInput
from refdb.quantities.band import Band, shown
from refdb.quantities.typed import TEMPERATURE_SCALES, TypedText, joined, read, read_one, tidied

ZERO_KELVIN_C = -273.15
HOTTEST_C = 6000.0  # a guard against slips of the hand, far above any kiln or torch


def _scale(unit: str, typed: TypedText) -> str:
    """C, F or K, whichever the typed unit names."""
    scale = TEMPERATURE_SCALES.get(unit.lower().replace(" ", ""))
    if scale is None:
        problem = "does not say which degrees" if unit in ("", "°") else f"has an unknown unit, {shown(unit)}"
        typed.refuse(problem, f"add C, F or K, for example {typed.example}")
    return scale


def _celsius(number: float, unit: str, typed: TypedText) -> float:
    scale = _scale(unit, typed)
    temp_c = {"C": number, "F": (number - 32.0) / 1.8, "K": number + ZERO_KELVIN_C}[scale]
    if temp_c < ZERO_KELVIN_C - 1e-9:
        typed.refuse("is below absolute zero")
    if temp_c > HOTTEST_C:
        typed.refuse("is hotter than 6000 C", f"check the number; write for example {typed.example}")
    return temp_c


def temperature_c(text: object, *, where: str = "temperature") -> float:
    """A temperature in °C: "815 C", "1500F", "1500 °F", "1088 K".

    Raises
    ------
    BadInput
        When it cannot be read, has no unit, or is below absolute zero or above 6000 °C.
    """
    typed = TypedText(text, where, "815 C or 1500 F")
    reading = read_one(tidied(typed), typed)
    return _celsius(reading.first, reading.unit, typed)


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
    typed = TypedText(text, where, "30 K, 30 C or 54 F")
    reading = read_one(tidied(typed), typed)
    difference = reading.first / (1.8 if _scale(reading.unit, typed) == "F" else 1.0)
    if abs(difference) > HOTTEST_C:
        typed.refuse("is beyond 6000 K", f"check the number; write for example {typed.example}")
    return difference


def temperature_difference_band_k(text: object, *, where: str = "temperature difference") -> Band:
    """A difference of temperature in K or a range of it: "10 K", "5-11 K", "-11 to -5 C", "18 +- 9 F".

    Raises
    ------
    BadInput
        As for `temperature_difference_k`, or when a range does not rise.
    """
    typed = TypedText(text, where, "10 K or 5-11 K")
    band = joined(read(tidied(typed), typed), lambda unit: 1 / 1.8 if _scale(unit, typed) == "F" else 1.0, typed)
    if max(-band.low, band.high) > HOTTEST_C:
        typed.refuse("is beyond 6000 K", f"check the number; write for example {typed.example}")
    return band


def span_c(text: object, *, where: str = "temperature span") -> tuple[float, float]:
    """A span of temperature as (low, high) in °C: "20-400 °C", "20 to 400 C", "68-752F".

    Raises
    ------
    BadInput
        When it cannot be read, has no unit, or does not rise.
    """
    typed = TypedText(text, where, "20-400 C or 68-752 F")
    reading = read(tidied(typed), typed)
    if reading.join != "-":
        typed.refuse("is not a span from one temperature to another")
    low = _celsius(reading.first, reading.first_unit or reading.unit, typed)
    high = _celsius(reading.second, reading.unit, typed)
    if low >= high:
        typed.refuse("does not rise", f"put the lower temperature first, for example {typed.example}")
    return low, high
