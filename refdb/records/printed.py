"""Stored figures as people see them: units in words, ranges, and digits sensible at the bench."""

from __future__ import annotations

from refdb.quantities.printed import fahrenheit, format_number
from refdb.records import Hazard, Property, PropertyValue
from refdb.words import ended, lower_first, tenths, upper_first

#: Canonical unit and shown unit (as pint writes them) -> what to multiply by.
SCALES = {
    ("Pa", "GPa"): 1e-9,
    ("Pa", "MPa"): 1e-6,
    ("m", "mm"): 1e3,
    ("m", "um"): 1e6,
    ("kg/m**2", "mg/cm**2"): 100.0,
    ("N/m", "mN/m"): 1e3,
}
_WORDS = {
    "degC": "°C",
    "um": "µm",
    "kg/m**3": "kg/m³",
    "mg/cm**2": "mg/cm²",
    "kg/m**2": "kg/m²",
    "g/cm**3": "g/cm³",
    "g/cm**2": "g/cm²",
    "ml/cm**2": "ml/cm²",
    "cm**2": "cm²",
    "percent": "%",
    "delta_degC": "K",
    "1": "",
}


def unit_words(unit: str) -> str:
    """A unit as pint writes it, in words; empty for a pure number."""
    return _WORDS.get(unit, unit)


def unit_of(prop: Property, units: str = "metric") -> str:
    """The unit in which a property is shown, in words; empty for a pure number."""
    if units == "studio" and prop.shown_unit == "degC":
        return "°F"
    unit = prop.shown_unit if (prop.unit, prop.shown_unit) in SCALES or prop.unit == prop.shown_unit else prop.unit
    return unit_words(unit)


def number_of(value: float, prop: Property, units: str = "metric") -> str:
    """A stored value of a property in its shown unit, without the unit."""
    value *= SCALES.get((prop.unit, prop.shown_unit), 1.0)
    if prop.shown_unit == "degC":
        return f"{fahrenheit(value) if units == 'studio' else value:.0f}"
    if prop.shown_unit == "kg/m**3":
        return f"{value:,.0f}"
    if prop.shown_unit == "mm":
        return f"{value:.2f}"
    text = format_number(value, 4 if prop.shown_unit in ("1", "ppm/K") else 3, plain=True)
    return text.rstrip("0").rstrip(".") if "." in text and "e" not in text else text


def range_of(row: PropertyValue, prop: Property, units: str = "metric") -> str:
    """Low to high of a row, or nothing where it is a single figure."""
    if row.low is None and row.high is None:
        return ""
    band = row.band
    low, high = number_of(band.low, prop, units), number_of(band.high, prop, units)
    return "" if low == high else f"{low} to {high}"


def short_range(row: PropertyValue, prop: Property, units: str = "metric") -> str:
    """Low to high where there is a band, else the value."""
    return range_of(row, prop, units).replace(" to ", "-") or number_of(row.band.value, prop, units)


def degrees(temp_c: float, units: str = "metric") -> str:
    """A temperature with its unit, plain."""
    return f"{fahrenheit(temp_c):.0f} °F" if units == "studio" else f"{temp_c:.0f} °C"


def span_of(low_c: float | None, high_c: float | None, units: str = "metric") -> str:
    """A span of temperature such as "20 to 400 °C"; empty where none is given."""
    if low_c is None or high_c is None:
        return ""
    low = degrees(low_c, units).partition(" ")[0]
    return f"{low} to {degrees(high_c, units)}"


def sure(share: float) -> str:
    """A share of the draws, in tenths."""
    return f"{tenths(share)} of 10"


def holding(share: float | None, none: str = "-") -> str:
    """In how many of ten draws it holds, as every list tells it; `none` where a figure is missing."""
    return none if share is None else sure(share)


def hazard_named(hazard: Hazard) -> str:
    """A hazard in a row with others, after the work that it belongs to: pickling bare metal: burns and acid mist."""
    return f"{lower_first(hazard.step)}: {lower_first(hazard.hazard)}"


def caution_text(hazard: Hazard, step: bool = True) -> str:
    """A hazard and its caution in sentences; `step` heads them with the work they belong to."""
    head = f"{hazard.step}: {hazard.hazard}" if step else hazard.hazard
    return f"{ended(upper_first(head))} {ended(hazard.caution)}"
