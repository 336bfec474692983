"""Printing of numbers for the bench: sensible digits, a true minus or plain signs, and degrees Fahrenheit."""

from __future__ import annotations

import math
import re
import unicodedata

MINUS = "\u2212"
NO_BREAK_SPACE = "\u00a0"

_ASCII = str.maketrans(
    {
        **dict.fromkeys("µμ", "u"),
        **dict.fromkeys("−–—‐‑‒", "-"),
        **dict.fromkeys("×✕", "x"),
        **dict.fromkeys("·⋅∙•", "*"),
        **dict.fromkeys("“”″", '"'),
        **dict.fromkeys("‘’′", "'"),
        **dict.fromkeys("\u00a0\u2009\u202f\u2007", " "),
        "±": "+/-",
        "≤": "<=",
        "≥": ">=",
        "≈": "~",
        "…": "...",
        "→": "->",
        "α": "alpha",
        "ε": "strain",
        "η": "eta",
        "ν": "nu",
        "σ": "sigma",
        "Δ": "delta ",
        "√": "sqrt",
    }
)
_LEVEL = str.maketrans("⁺⁻⁰¹²³⁴⁵⁶⁷⁸⁹", "+-0123456789")


def _exponent(value: float, digits: int) -> int:
    """The power of ten of the first digit once `value` is rounded to `digits` significant digits."""
    return int(f"{value:.{digits - 1}e}".split("e")[1]) if value else 0


def _signed(text: str, plain: bool) -> str:
    """Printed figures with the true minus, or the plain one; a rounded-away minus sign is dropped."""
    if not any(figure in text for figure in "123456789"):
        text = text.removeprefix("-")
    return text if plain else text.replace("-", MINUS)


def _rounded(value: float, decimals: int, plain: bool, thousands: bool = True) -> str:
    """`value` at so many decimals; a negative count rounds to tens, hundreds and so on."""
    figures = f"{round(value, decimals):{',' if thousands else ''}.{max(decimals, 0)}f}"
    return _signed(figures, plain)


def _spaced(figures: str, unit: str, plain: bool) -> str:
    return f"{figures}{' ' if plain else NO_BREAK_SPACE}{unit}"


def format_number(value: float, digits: int = 3, *, plain: bool = False) -> str:
    """A number with so many significant digits and a comma between thousands.

    Parameters
    ----------
    value : float
        Any number; one that is not finite prints as "unknown", so that nothing passes for a figure.
    digits : int
        Significant digits; trailing zeros are kept, since they say how well the number is known.
    plain : bool
        ASCII hyphen-minus in place of the true minus.
    """
    if not math.isfinite(value):
        return "unknown"
    if value == 0.0:
        return "0"
    exponent = _exponent(value, digits)
    if -5 < exponent < 15:
        return _rounded(value, digits - 1 - exponent, plain)
    mantissa, power = f"{value:.{digits - 1}e}".split("e")
    return _signed(f"{mantissa}e{int(power)}", plain)


def format_length_mm(length_m: float, *, plain: bool = False) -> str:
    """A length given in metres, printed in mm: 0.65 mm, 30 mm, 0.065 mm; below 0.01 mm in µm, as for leaf."""
    size = abs(length_m) * 1e3
    if not math.isfinite(size):
        return "unknown"
    if size == 0.0:
        return _spaced("0", "mm", plain)
    if size < 0.00995:
        return _spaced(format_number(length_m * 1e6, 2, plain=plain), "µm", plain)
    decimals = 3 if size < 0.0995 else 2 if size < 9.995 else 1
    figures = _rounded(length_m * 1e3, decimals, plain)
    if size >= 9.995:
        figures = figures.removesuffix(".0")
    return _spaced(figures, "mm", plain)


def fahrenheit(temp_c: float) -> float:
    """A temperature given in °C, in °F."""
    return temp_c * 1.8 + 32.0


def ascii_fallback(text: str) -> str:
    """The same text in ASCII alone, for a terminal that cannot show °, µ, ² and the like.

    "815 °C" gives "815 degC", "30 µm" "30 um", "0.65 ± 0.05" "0.65 +/- 0.05", "10⁻⁷" "10^-7"; a sign with
    no ASCII likeness gives "?".
    """
    if text.isascii():
        return text
    text = re.sub("10([⁺⁻⁰¹²³⁴⁵⁶⁷⁸⁹]+)", lambda power: "10^" + power[1].translate(_LEVEL), text)
    text = re.sub("⁻[⁰¹²³⁴⁵⁶⁷⁸⁹]+", lambda power: "^" + power.group().translate(_LEVEL), text)
    text = re.sub(r"(?<=[0-9])[ \u00a0\u202f\u2009]*°", " deg", text).replace("°", "deg")
    text = unicodedata.normalize("NFKD", text.translate(_ASCII)).translate(_ASCII)
    text = "".join(c for c in text if not unicodedata.combining(c))
    return text.encode("ascii", "replace").decode("ascii")
