"""What people type into a field whose unit stands beside it, made into what can be read."""

from __future__ import annotations

import re

_BARE = re.compile(r"[+-]?\d+(?:\.\d+)?(?:\s*(?:-|to|–|±)\s*\d+(?:\.\d+)?)?")
#: A number without its nought, the end of a sentence, and a fraction in one sign.
_POINT, _STOP = re.compile(r"(?<![\d.])\.(?=\d)"), re.compile(r"(?<=[\w²³])\.$")
_FRACTIONS = {"½": 0.5, "¼": 0.25, "¾": 0.75, "⅓": 1 / 3, "⅔": 2 / 3, "⅛": 0.125, "⅜": 0.375}
_FRACTION = re.compile(rf"([0-9]*)\s*([{''.join(_FRACTIONS)}])")
_COMMA = re.compile(r"(?<=\d),(?=\d{1,2}(?!\d))")
#: A gauge as it is written on a packet; nobody means grams by a thickness.
_GAUGE = re.compile(r"(\d{1,2})\s*(?:g|ga\.?|gauge)", re.IGNORECASE)
#: From here on a kiln setting may be in °C or °F.
_EITHER_FROM = 1000.0
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_COUNTS = {"one": 1, "a": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8}


def completed(text: str, unit: str = "") -> str:
    """What was typed, with a point for a decimal comma and what a field of this unit lets one leave out.

    Parameters
    ----------
    text : str
        As typed; what cannot be completed comes back as it is.
    unit : str
        That a bare number is in; empty where there is none. Of a length in mm also "18g" is taken for a gauge and
        "three cards" for a number of them, of minutes "three" for 3. A bare temperature from 1000 on stays bare, since
        it is as likely to be in °F.
    """
    found = _COMMA.sub(".", text.strip())
    found = f"-{found[1:]}" if found.startswith("\N{MINUS SIGN}") else found
    if unit:
        found = _FRACTION.sub(lambda m: f"{float(m[1] or 0) + _FRACTIONS[m[2]]:.4g}", found)
        found = _STOP.sub("", _POINT.sub("0.", found))
    if unit and _BARE.fullmatch(found):
        if unit == "C" and _NUMBER.fullmatch(found) and float(found) >= _EITHER_FROM:
            return found
        return f"{found} {unit}"
    if unit == "mm":
        gauge = _GAUGE.fullmatch(found)
        if gauge:
            return f"{gauge[1]} ga"
        first, _, rest = found.partition(" ")
        if first.lower() in _COUNTS and rest.lower() in ("card", "cards", "mm", "millimetre", "millimetres"):
            return f"{_COUNTS[first.lower()]} {rest.lower()}"
    first, _, rest = found.partition(" ")
    if unit == "min" and first.lower() in _COUNTS and rest.lower() in ("", "min", "minute", "minutes"):
        return f"{_COUNTS[first.lower()]} min"
    return found
