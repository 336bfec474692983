"""Lengths and thicknesses as people type them: units, fractions of an inch, gauges and playing cards."""

from __future__ import annotations

import re

from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.quantities.printed import format_length_mm
from refdb.quantities.typed import (
    AREAS_M2,
    LENGTHS_M,
    Band,
    Reading,
    TypedText,
    factors,
    joined,
    read,
    read_one,
    shown,
    tidied,
    times,
)

LONGEST_M = 100.0  # a guard against slips of the hand
THINNEST_M, THICKEST_M = 1e-6, 0.05  # likewise, for a coat or a sheet
SWG_IN = (
    0.324,
    0.300,
    0.276,
    0.252,
    0.232,
    0.212,
    0.192,
    0.176,
    0.160,
    0.144,
    0.128,
    0.116,
    0.104,
    0.092,
    0.080,
    0.072,
    0.064,
    0.056,
    0.048,
    0.040,
    0.036,
    0.032,
    0.028,
    0.024,
    0.022,
    0.020,
    0.018,
    0.0164,
    0.0148,
    0.0136,
    0.0124,
    0.0116,
    0.0108,
    0.0100,
    0.0092,
    0.0084,
    0.0076,
    0.0068,
    0.0060,
    0.0052,
    0.0048,
    0.0044,
    0.0040,
    0.0036,
    0.0032,
    0.0028,
    0.0024,
    0.0020,
    0.0016,
    0.0012,
    0.0010,
)  # imperial standard wire gauge, 0 to 50, as BS 3737:1964 (withdrawn) is commonly tabulated

_VULGAR = re.compile(r'(?:([0-9]{1,3})[ -])?([0-9]{1,4}) ?/ ?([0-9]{1,4}) ?([A-Za-z"][A-Za-z.]{0,15})')
_GAUGE = re.compile(r"([0-9]{1,2}) ?(?:(swg)|awg|ga(?:u?ge)?|b ?& ?s(?: ga(?:u?ge)?)?)\.?", re.IGNORECASE | re.ASCII)
_GAUGE_WORD = re.compile(r"(?:^|[^a-z])(?:ga|gage|gauge|awg|swg|b ?& ?s)\b", re.IGNORECASE | re.ASCII)
_CARD = re.compile(r"-?(?:playing )?cards?", re.IGNORECASE | re.ASCII)


@dataclass(frozen=True)
class Thickness:
    """A thickness in metres, the text it was read from, and a note on how that was taken (may be empty)."""

    band: Band
    said: str
    note: str


# One playing card: charts print 0.25 mm, micrometers read 0.28 to 0.30 mm (common practice).
CARD_M = Band(0.28e-3, 0.25e-3, 0.30e-3)


def _gauge(clean: str, typed: TypedText) -> tuple[float, str] | None:
    """The thickness in metres and the name of a gauge, or None when no gauge was typed.

    Brown & Sharpe by ASTM B258: 0.127 mm x 92 ** ((36 - n) / 39), for 0 to 40.
    """
    if not _GAUGE_WORD.search(re.sub("[0-9]", " ", clean)):
        return None
    found = _GAUGE.fullmatch(clean)
    number = int(found[1]) if found else -1
    if found and found[2] and number < len(SWG_IN):
        return SWG_IN[number] * 0.0254, "imperial standard wire gauge"
    if found and not found[2] and number <= 40:
        return 0.127e-3 * 92.0 ** ((36 - number) / 39), "Brown & Sharpe (ASTM B258)"
    todo = "write 20 ga (Brown & Sharpe, 0 to 40), 20 swg (imperial, 0 to 50) or a length in mm"
    typed.refuse("is not one gauge known here", todo)


def _vulgar(clean: str, typed: TypedText) -> float | None:
    """A length such as 1/32 in or 1 1/2 in, in metres, or None when it is not written so."""
    found = _VULGAR.fullmatch(clean)
    if not found or found[4].lower() not in LENGTHS_M:
        return None
    if int(found[3]) == 0:
        typed.refuse("divides by zero", "write for example 1/32 in or 0.8 mm")
    return (int(found[1] or 0) + int(found[2]) / int(found[3])) * LENGTHS_M[found[4].lower()]


def area_m2(text: object, *, where: str = "area") -> float:
    """An area in m²: "7.2 cm2", "7.2 cm²", "720 mm^2".

    Raises
    ------
    BadInput
        When it cannot be read, is in another unit, or is not more than zero.
    """
    typed = TypedText(text, where, "7.2 cm2 or 720 mm2")
    reading = read_one(tidied(typed), typed)
    if not reading.unit:
        typed.refuse("has no unit")
    size = AREAS_M2.get(reading.unit.replace("^", ""))
    if size is None:
        typed.refuse(f"has a unit that does not fit here, {shown(reading.unit)}")
    if reading.first <= 0.0:
        typed.refuse("is not more than zero")
    return times(reading.first, size)


def length_m(text: object, *, where: str = "length", zero_ok: bool = False, signed: bool = False) -> float:
    """A length in metres: "0.8 mm", '0.03"', "30 thou", "300 µm", "1/32 in", "20 ga", "20 swg".

    Parameters
    ----------
    text : str
        What was typed. A bare number is refused.
    where : str
        The option or key it was typed for, for the message.
    zero_ok : bool
        Whether 0 with a unit is allowed.
    signed : bool
        Whether zero and negative lengths are allowed, as for a bow.

    Raises
    ------
    BadInput
        When it cannot be read, is longer than 100 m, or is zero or negative where that makes no sense.
    """
    typed = TypedText(text, where, "0.8 mm, 0.03 in, 30 thou or 300 um")
    clean = tidied(typed)
    gauge = _gauge(clean, typed)
    value = gauge[0] if gauge else _vulgar(clean, typed)
    if value is None:
        reading = read_one(clean, typed)
        value = times(reading.first, factors(LENGTHS_M, "m", typed)(reading.unit))
    if abs(value) > LONGEST_M:
        typed.refuse("is longer than 100 m", f"check the unit; write for example {typed.example}")
    if not signed and (value < 0.0 or (value == 0.0 and not zero_ok)):
        typed.refuse("is not more than zero")
    return value


def thickness(
    text: object, *, where: str = "thickness", shrinkage: Band | None = None, zero_ok: bool = False
) -> Thickness:
    """A thickness with its band, from a length, a range, a length with a tolerance, a gauge or playing cards.

    Parameters
    ----------
    text : str
        "0.8 mm", "0.6-0.7 mm", "0.65 ± 0.05 mm", "20 ga", "3 cards".
    where : str
        The option or key it was typed for, for the message.
    shrinkage : Band, optional
        Fraction of its thickness that a clay loses in firing. Cards are counted before firing, so it is taken
        off them; a thickness in another unit is taken as fired. Without it cards mean the thickness itself.
    zero_ok : bool
        Whether "0", "0 mm", "none" and "bare" are allowed, as for a face without glass.

    Raises
    ------
    BadInput
        When it cannot be read, or is thinner than 1 µm or thicker than 50 mm.
    """
    typed = TypedText(text, where, "0.8 mm, 0.6-0.7 mm, 0.03 in, 20 ga or 3 cards")
    if zero_ok and not isinstance(text, bool | str) and text == 0:
        return Thickness(Band.exact(0.0), "0", "")
    clean = tidied(typed)
    said = " ".join("".join(c if c.isprintable() else "?" for c in str(text)).split())
    if zero_ok and clean.lower() in ("0", "none", "bare"):
        return Thickness(Band.exact(0.0), said, "")
    note = "" if shrinkage is None else "taken as the thickness after firing"
    gauge, vulgar = _gauge(clean, typed), _vulgar(clean, typed)
    if gauge:
        band = Band.exact(gauge[0])
        note = f"{clean} taken as {gauge[1]}, {format_length_mm(gauge[0], plain=True)}"
        note += "; steel sheet has gauges of its own" if "Brown" in gauge[1] else ""
    elif vulgar is not None:
        band = Band.exact(vulgar)
    else:
        reading = read(clean, typed)
        if _CARD.fullmatch(reading.unit) or _CARD.fullmatch(reading.first_unit):
            band, note = _cards(reading, shrinkage, typed)
        else:
            band = joined(reading, factors(LENGTHS_M, "m", typed), typed)
    if not (zero_ok and band.is_exact and band.value == 0.0):
        if band.low < THINNEST_M * (1 - 1e-9):
            typed.refuse("is thinner than 1 um", f"check the unit; write for example {typed.example}")
        if band.high > THICKEST_M * (1 + 1e-9):
            typed.refuse("is thicker than 50 mm", f"check the unit; write for example {typed.example}")
    return Thickness(band, said, note)


def _cards(reading: Reading, shrinkage: Band | None, typed: TypedText) -> tuple[Band, str]:
    """The band of a thickness counted in cards, and the note that says what was taken."""
    others = {reading.first_unit, reading.unit} - {"", "%" if reading.join == "±" else ""}
    if not all(_CARD.fullmatch(unit) for unit in others):
        typed.refuse("mixes cards with another unit", "write for example 3 cards or 2-3 cards")
    count = joined(reading, lambda unit: 1.0, TypedText(typed.text, typed.where, "3 cards or 2-3 cards"))
    if count.low <= 0.0:
        typed.refuse("is not more than zero", "write for example 3 cards")
    wet = Band(count.value * CARD_M.value, count.low * CARD_M.low, count.high * CARD_M.high)
    span = f"{wet.low * 1e3:.2f} to {wet.high * 1e3:.2f} mm"
    if shrinkage is None:
        return wet, f"one card taken as 0.25 to 0.30 mm, so {span}"
    if shrinkage.low < 0.0 or shrinkage.high >= 1.0:
        raise BadInput(
            f"a shrinkage of {shrinkage.low:g} to {shrinkage.high:g} is impossible",
            typed.where,
            "give it as fractions from 0 to below 1",
        )
    kept = Band(1 - shrinkage.value, 1 - shrinkage.high, 1 - shrinkage.low)
    fired = Band(wet.value * kept.value, wet.low * kept.low, wet.high * kept.high)
    after = f"{fired.value * 1e3:.2f} mm ({fired.low * 1e3:.2f} to {fired.high * 1e3:.2f})"
    return fired, f"one card taken as 0.25 to 0.30 mm, so {span} before firing and about {after} after"
