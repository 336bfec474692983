"""Beneath `refdb.quantities`: how typed text is taken apart into numbers and units."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Literal, NoReturn

from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.quantities.band import Band as Band
from refdb.quantities.band import shown as shown

LONGEST = 200  # characters looked at; longer text is refused before any pattern sees it

NUMBER = r"[+-]?(?:[0-9]+(?:\.(?!\.)[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
# A power of ten needs a caret or a sign, so that "x 107" is never read as ten to the seventh.
TENS = r"(?:\s*[x*X]\s*10(?:\s?(?:\^|\*\*)\s?\(?([+-]?[0-9]{1,2})\)?|([+-][0-9]{1,2})))?"
_FIRST = re.compile(f"({NUMBER}){TENS}")
_SECOND = re.compile(rf"\s*([^0-9±]*?)\s*(±|[tT][oO]\b|\.\.\.?|-)\s*({NUMBER}){TENS}\s*(.*)")
_IN_BRACKETS = re.compile(r"\(([^()]*)\)(\s*)(.*)")
_POWER_RAISED = re.compile("[⁺⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+")
_TO_LEVEL = str.maketrans("⁺⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "+-0123456789")
_ALIKE = str.maketrans(
    {
        **dict.fromkeys("−–—‐‑‒", "-"),
        **dict.fromkeys("×✕", "x"),
        **dict.fromkeys("·⋅∙", "*"),
        **dict.fromkeys("µμ", "u"),
        **dict.fromkeys("º˚", "°"),
        **dict.fromkeys("″”“", '"'),
        "℃": "°C",
        "℉": "°F",
        "\u212a": "K",
        "％": "%",
        "‰": " permille",
    }
)

LENGTHS_M = {
    "m": 1.0,
    "metre": 1.0,
    "metres": 1.0,
    "meter": 1.0,
    "meters": 1.0,
    "cm": 1e-2,
    "centimetre": 1e-2,
    "centimetres": 1e-2,
    "centimeter": 1e-2,
    "centimeters": 1e-2,
    "mm": 1e-3,
    "millimetre": 1e-3,
    "millimetres": 1e-3,
    "millimeter": 1e-3,
    "millimeters": 1e-3,
    "um": 1e-6,
    "micron": 1e-6,
    "microns": 1e-6,
    "micrometre": 1e-6,
    "micrometres": 1e-6,
    "micrometer": 1e-6,
    "micrometers": 1e-6,
    "nm": 1e-9,
    "nanometre": 1e-9,
    "nanometer": 1e-9,
    "in": 0.0254,
    "in.": 0.0254,
    "inch": 0.0254,
    "inches": 0.0254,
    '"': 0.0254,
    "thou": 2.54e-5,
    "thous": 2.54e-5,
    "thousandth": 2.54e-5,
    "thousandths": 2.54e-5,
}
AREAS_M2 = {"mm2": 1e-6, "cm2": 1e-4}
MASSES_KG = {
    "kg": 1.0,
    "kilo": 1.0,
    "kilos": 1.0,
    "kilogram": 1.0,
    "kilograms": 1.0,
    "g": 1e-3,
    "gram": 1e-3,
    "grams": 1e-3,
    "gramme": 1e-3,
    "grammes": 1e-3,
    "mg": 1e-6,
    "milligram": 1e-6,
    "milligrams": 1e-6,
    "lb": 0.45359237,
    "lbs": 0.45359237,
    "pound": 0.45359237,
    "pounds": 0.45359237,
    "oz": 0.028349523125,
    "ounce": 0.028349523125,
    "ounces": 0.028349523125,
    "ozt": 0.0311034768,
    "troy oz": 0.0311034768,
    "oz troy": 0.0311034768,
    "troy ounce": 0.0311034768,
    "troy ounces": 0.0311034768,
    "dwt": 0.00155517384,
    "pennyweight": 0.00155517384,
    "pennyweights": 0.00155517384,
    "ct": 2e-4,
    "carat": 2e-4,
    "carats": 2e-4,
    "grain": 6.479891e-5,
    "grains": 6.479891e-5,
}
DURATIONS_MIN = {
    "h": 60.0,
    "hr": 60.0,
    "hrs": 60.0,
    "hour": 60.0,
    "hours": 60.0,
    "m": 1.0,
    "min": 1.0,
    "mins": 1.0,
    "minute": 1.0,
    "minutes": 1.0,
    "s": 1 / 60,
    "sec": 1 / 60,
    "secs": 1 / 60,
    "second": 1 / 60,
    "seconds": 1 / 60,
    "d": 1440.0,
    "day": 1440.0,
    "days": 1440.0,
}
FRACTIONS = {"%": 1e-2, "percent": 1e-2, "per cent": 1e-2, "pct": 1e-2, "permille": 1e-3, "ppm": 1e-6}
#: Units that people type now and then, by what they are turned into; pint converts these and is asked for no other,
#: as it also knows units of print, of light and of information that stand for a slip of the hand.
_NOW_AND_THEN = {
    "m": frozenset(
        ("ft", "foot", "feet", "yd", "yard", "yards", "dm", "decimetre", "decimetres", "decimeter", "decimeters", "km")
    ),
    "kg": frozenset(("t", "tonne", "tonnes", "ug", "microgram", "micrograms")),
    "min": frozenset(("week", "weeks", "ms", "millisecond", "milliseconds")),
    "1/K": frozenset(
        (
            "m",
            "cm",
            "mm",
            "um",
            "nm",
            "in",
            "inch",
            "inches",
            "uin",
            "ft",
            "ppm",
            "strain",
            "microstrain",
            "ustrain",
            "K",
            "kelvin",
            "C",
            "F",
            "degC",
            "degF",
            "delta_degC",
            "delta_degF",
            "degR",
        )
    ),
}
_WORD = re.compile(r"[^\W\d]+")
_SCALE_NAMES = {
    "C": (
        "c",
        "°c",
        "degc",
        "deg.c",
        "degreec",
        "degreesc",
        "celsius",
        "degcelsius",
        "degreecelsius",
        "degreescelsius",
        "°celsius",
        "centigrade",
        "degreescentigrade",
        "delta_degc",
    ),
    "F": (
        "f",
        "°f",
        "degf",
        "deg.f",
        "degreef",
        "degreesf",
        "fahrenheit",
        "degfahrenheit",
        "degreefahrenheit",
        "degreesfahrenheit",
        "°fahrenheit",
        "delta_degf",
    ),
    "K": ("k", "kelvin", "kelvins"),
}
TEMPERATURE_SCALES = {name: scale for scale, names in _SCALE_NAMES.items() for name in names}


@dataclass(frozen=True)
class Reading:
    """What was typed, taken apart: one number, or two joined by a dash ("-") or a plus-minus ("±")."""

    first: float
    first_has_power: bool
    first_unit: str
    join: Literal["", "-", "±"] = ""
    second: float = 0.0
    second_power: float = 1.0
    unit: str = ""


@dataclass(frozen=True)
class TypedText:
    """What was typed, where, and an example of what may be typed there instead."""

    text: object
    where: str
    example: str

    def refuse(self, problem: str, todo: str = "") -> NoReturn:
        """Raise the `BadInput` that says what was typed, what is wrong, and what to write instead."""
        todo = todo or f"write for example {self.example}"
        raise BadInput(f"{shown(self.text)} {problem}", self.where, todo)


def tidied(typed: TypedText) -> str:
    """The typed text with look-alike signs made one and spaces collapsed; case is kept.

    Raises
    ------
    BadInput
        When it is no text, is empty, is longer than 200 characters, or has a comma.
    """
    text = typed.text
    if not isinstance(text, str):
        typed.refuse("is not text with a unit", f"write it in quotes with its unit, such as {typed.example}")
    if len(text) > LONGEST:
        typed.refuse(f"is too long ({len(text)} characters)")
    clean = _POWER_RAISED.sub(lambda found: "^" + found.group().translate(_TO_LEVEL), text)
    clean = " ".join(clean.translate(_ALIKE).replace("+/-", "±").replace("+-", "±").split())
    if not clean:
        typed.refuse("is empty")
    if "," in clean:
        typed.refuse(
            "has a comma", f"use a point for decimals and nothing between thousands, for example {typed.example}"
        )
    return clean


def times(number: float, factor: float) -> float:
    """The product, by division where the factor is one over a whole number, so that 0.8 mm is 0.0008 m."""
    inverse = round(1.0 / factor) if 1e-18 < factor < 1.0 else 1
    return number / inverse if inverse > 1 and inverse * factor == 1.0 else number * factor


def _power(*powers: str | None) -> float:
    """Ten to whichever power was matched, or 1."""
    return next((float(f"1e{power}") for power in powers if power), 1.0)


def read(clean: str, typed: TypedText) -> Reading:
    """Take tidied text apart into its numbers and its unit.

    Raises
    ------
    BadInput
        When it does not start with a number, or a number is too large to hold.
    """
    bracketed = _IN_BRACKETS.fullmatch(clean)
    if bracketed:
        clean = "".join(bracketed.groups())
    found = _FIRST.match(clean)
    if not found:
        typed.refuse("does not start with a number")
    power = _power(found[2], found[3])
    first, rest = times(float(found[1]), power), clean[found.end() :]
    has_power = power != 1.0 or "e" in found[1].lower()
    pair = _SECOND.fullmatch(rest)
    second, second_power = 0.0, 1.0
    if pair:
        exponent = re.search("[eE](.*)", pair[3])
        second_power = _power(pair[4], pair[5])
        second = times(float(pair[3]), second_power)
        second_power *= _power(exponent[1] if exponent else None)
    if not all(math.isfinite(number) for number in (first, second, second_power)):
        typed.refuse("is too large a number")
    if not pair:
        return Reading(first, has_power, "", unit=rest.strip())
    join: Literal["-", "±"] = "±" if pair[2] == "±" else "-"
    return Reading(first, has_power, pair[1], join, second, second_power, pair[6].strip())


def read_one(clean: str, typed: TypedText) -> Reading:
    """As `read`, refusing more than one number."""
    reading = read(clean, typed)
    if reading.join:
        typed.refuse("is more than one number", f"give one, for example {typed.example}")
    return reading


Factor = Callable[[str], float]


def _typed_now_and_then(unit: str, target: str) -> bool:
    """Whether a unit is one of `_NOW_AND_THEN`; one of expansion is made of several."""
    words = _WORD.findall(unit)
    whole = target == "1/K" or words == [unit]
    return whole and bool(words) and _NOW_AND_THEN.get(target, frozenset()).issuperset(words)


def factors(table: dict[str, float], target: str, typed: TypedText) -> Factor:
    """A function from a typed unit to the number that turns it into `target`, falling back on pint."""

    def factor(unit: str) -> float:
        if not unit:
            typed.refuse("has no unit", f"add one, for example {typed.example}")
        key = unit.lower()
        known = table.get(key, table.get(key.replace(" ", "")))
        if known is not None:
            return known
        if target == "m" and key in ("mil", "mils"):
            typed.refuse("could mean thousandths of an inch or millimetres", "write thou or mm")
        if target == "m" and key in ("card", "cards"):
            typed.refuse("is counted in cards, which are for a thickness only", "write for example 0.8 mm")
        if target == "kg" and key in ("gr", "grs"):
            typed.refuse("could mean grams or grains", "write g or grain")
        if not _typed_now_and_then(unit, target):
            typed.refuse(f"has a unit that does not fit here, {shown(unit)}")
        from refdb.quantities import any_unit

        try:
            return any_unit.factor(unit, target, typed.where)
        except BadInput:
            typed.refuse(f"has a unit that does not fit here, {shown(unit)}")

    return factor


def joined(reading: Reading, factor: Factor, typed: TypedText) -> Band:
    """The band of one number, of two with a dash between (value midway), or of one plus or minus another."""
    second_unit = reading.unit
    first_unit = reading.first_unit or second_unit
    if not reading.join:
        band = (times(reading.first, factor(second_unit)),) * 3
    elif reading.join == "-":
        low, high = times(reading.first, factor(first_unit)), times(reading.second, factor(second_unit))
        if low > high:
            typed.refuse("runs from high to low", f"put the smaller first, for example {typed.example}")
        band = (low + (high - low) / 2, low, high)
    else:
        value = times(reading.first, factor(first_unit))
        if second_unit == "%" and first_unit != "%":
            spread = abs(value) * reading.second / 100.0
        else:
            spread = times(reading.second, factor(second_unit))
        if spread < 0.0:
            typed.refuse("has a negative tolerance")
        band = (value, value - spread, value + spread)
    if not all(math.isfinite(number) for number in band):
        typed.refuse("is too large a number")
    return Band(*band)
