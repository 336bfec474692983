"""Printing of quantities for the bench: sensible digits, true minus and no-break spaces, or plain signs."""

from __future__ import annotations

import math
import re
import unicodedata
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from refdb.quantities import Band

MINUS = "\u2212"
NO_BREAK_SPACE = "\u00a0"
Units = Literal["metric", "studio"]

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
    return f"{figures}{' ' if plain else NO_BREAK_SPACE}{unit}" if unit else figures


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


def format_quantity(value: float, unit: str, digits: int = 3, *, plain: bool = False) -> str:
    """A number as `format_number` prints it, followed by its unit."""
    figures = format_number(value, digits, plain=plain)
    return _spaced(figures, unit if math.isfinite(value) else "", plain)


def format_band(band: Band, unit: str = "", *, scale: float = 1.0, digits: int = 3, plain: bool = False) -> str:
    """A value with its low and high, such as "2,440 ppm (2,100 to 2,800)"; an exact one without them.

    Parameters
    ----------
    band : Band
        Value, low and high in any unit; `scale` turns them into `unit` first.
    unit : str
        Printed after the value.
    scale : float
        What each number is multiplied by before printing.
    digits : int
        Significant digits of the largest of the three; all three get the same number of decimals.
    plain : bool
        ASCII hyphen-minus and a normal space.
    """
    numbers = [band.value * scale, *sorted((band.low * scale, band.high * scale))]
    largest = max(abs(number) for number in numbers)
    exponent = _exponent(largest, digits) if math.isfinite(largest) else 99
    if -5 < exponent < 15:
        value, low, high = (_rounded(number, digits - 1 - exponent, plain) for number in numbers)
    else:
        value, low, high = (format_number(number, digits, plain=plain) for number in numbers)
    printed = _spaced(value, unit, plain)
    return printed if low == high else f"{printed} ({low} to {high})"


def format_length_mm(length_m: float, *, plain: bool = False) -> str:
    """A length given in metres, printed in mm: 0.65 mm, 30 mm, 0.065 mm; below 0.01 mm in µm, as for leaf."""
    size = abs(length_m) * 1e3
    if not math.isfinite(size):
        return "unknown"
    if size == 0.0:
        return _spaced("0", "mm", plain)
    if size < 0.00995:
        return format_quantity(length_m * 1e6, "µm", 2, plain=plain)
    decimals = 3 if size < 0.0995 else 2 if size < 9.995 else 1
    figures = _rounded(length_m * 1e3, decimals, plain)
    if size >= 9.995:
        figures = figures.removesuffix(".0")
    return _spaced(figures, "mm", plain)


def format_temperature(temp_c: float, *, units: Units = "metric", plain: bool = False) -> str:
    """A temperature given in °C, printed to the degree: "815 °C", or "1500 °F" for studio units."""
    if not math.isfinite(temp_c):
        return "unknown"
    degrees, unit = (temp_c * 1.8 + 32.0, "°F") if units == "studio" else (temp_c, "°C")
    return _spaced(_rounded(degrees, 0, plain, thousands=False), unit, plain)


def format_temperature_difference(difference_k: float, *, units: Units = "metric", plain: bool = False) -> str:
    """A difference of temperature given in K, printed to the degree: "30 K", or "54 °F" for studio units."""
    if not math.isfinite(difference_k):
        return "unknown"
    degrees, unit = (difference_k * 1.8, "°F") if units == "studio" else (difference_k, "K")
    return _spaced(_rounded(degrees, 0, plain, thousands=False), unit, plain)


def format_ppm(ppm: float, *, digits: int = 3, plain: bool = False) -> str:
    """A strain given in ppm, printed as "2,440 ppm"."""
    return format_quantity(ppm, "ppm", digits, plain=plain)


def format_expansion(expansion_per_k: float, *, digits: int = 3, plain: bool = False) -> str:
    """An expansion given in 1/K, printed as "12.5 ppm/K"."""
    return format_quantity(expansion_per_k * 1e6, "ppm/K", digits, plain=plain)


def format_duration(minutes: float, *, plain: bool = False) -> str:
    """A duration given in minutes: "40 s", "2.5 min", "3 min", "1 h 30 min"."""
    if not math.isfinite(minutes):
        return "unknown"
    seconds = round(minutes * 60.0)
    if abs(seconds) < 60:
        return _spaced(_rounded(seconds, 0, plain), "s", plain)
    if abs(seconds) < 90 * 60:
        one_decimal = _rounded(minutes, 1 if abs(minutes) < 9.95 else 0, plain).removesuffix(".0")
        return _spaced(one_decimal, "min", plain)
    whole = round(abs(minutes))
    sign = "" if minutes > 0 else ("-" if plain else MINUS)
    hours = sign + _spaced(f"{whole // 60:,}", "h", plain)
    return hours if whole % 60 == 0 else f"{hours} {_spaced(str(whole % 60), 'min', plain)}"


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
