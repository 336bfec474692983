"""A figure against what its source prints: `as_printed` holds value, low and high, in the unit of the row."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from refdb.curate.convert import conversion
from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, number
from refdb.errors import BadSource

#: A number, and half a unit of its last digit.
Printed = tuple[float, float]

#: No quantity in any unit is as large [1]; what is may pass what a float holds when it is converted.
BEYOND = 1e100
#: A band of nine tenths may reach this far beyond a printed range of eight tenths or of few glasses, on each side.
BEYOND_PRINTED = 1 / 3

_NUMBER = re.compile(r"(?<![A-Za-z\d.])(\d+(?:\.(\d+))?)(?:e(-?\d+))?")
#: Units as people print them, and as pint writes them.
_UNITS = {
    "g/cm3": "g/cm**3",
    "g/cm³": "g/cm**3",
    "kg/m³": "kg/m**3",
    "GPa": "GPa",
    "MPa": "MPa",
    "in": "inch",
    "mm": "mm",
    "µm": "um",
    "°F": "degF",
    "°C": "degC",
    "mN/m": "mN/m",
}
_NAMED = re.compile(rf"\d ?({'|'.join(map(re.escape, _UNITS))})(?![\w/])")


@lru_cache(maxsize=4096)
def numbers_in(text: str) -> tuple[Printed, ...]:
    """The numbers of a text below `BEYOND`, each with half a unit of its last digit."""
    found = []
    for match in _NUMBER.finditer(text):
        power = float(f"1e{match[3] or 0}")
        number = float(match[1]) * power
        if number < BEYOND:
            found.append((number, 0.5 * power * 10.0 ** -len(match[2] or "")))
    return tuple(found)


def holds(printed: Iterable[Printed], value: float) -> bool:
    """Whether one of the numbers is this one, as far as it is printed."""
    return any(abs(value - at) <= half * 1.0001 + 1e-12 * abs(at) for at, half in printed)


@lru_cache(maxsize=4096)
def printed_in(text: str, unit: str, canonical: str) -> tuple[Printed, ...]:
    """The numbers of a printed text in the stored unit, each with half a unit of its last digit.

    A unit named in the text is the text's own; otherwise it is that of the row. `2 ± 1` gives 1 and 3 as well,
    `2 × 3` gives 6.
    """
    named = None if "per °F" in text else _NAMED.search(text)
    own = _UNITS[named[1]] if named else unit
    try:
        convert = conversion(own, canonical)
    except BadSource:
        convert = conversion(unit, canonical)
    found = list(numbers_in(text))
    if factor := re.match(r"1e-(\d)/|ppm/", unit):
        power = 10.0 ** int(factor[1] or 6)
        found = [(v * power, half * power) if v < 1e-3 else (v, half) for v, half in found]
    if len(found) == 2:
        (a, half), (b, _) = found
        found += [(a - b, half), (a + b, half)] if "±" in text else [(a * b, 0.5)] if "×" in text else []
    zero = convert(0.0)
    return tuple((convert(v), max(abs(convert(half) - zero), 1e-9 * abs(convert(v)))) for v, half in found)


def _check_printed(records: Records, problems: Problems) -> None:
    """Value, low and high of each figure stand in its printed text, or lie between the ends of what it prints."""
    units = {str(r.values["key"]): str(r.values["unit"]) for r in records["properties"]}
    for record in records["property_values"]:
        name, unit, text = (record.values[c] for c in ("property", "unit_as_printed", "as_printed"))
        if name in units and unit and text and not problems.at(record):
            _check_one(record, str(text), str(unit), units[str(name)], problems)


def _check_one(record: Record, text: str, unit: str, canonical: str, problems: Problems) -> None:
    printed = printed_in(text, unit, canonical)
    known = (*printed, *printed_in(str(record.values["note"] or ""), unit, canonical))
    ends = sorted(value for value, _ in printed or known)
    for column in ("value", "low", "high"):
        value = number(record, column)
        if value is None or holds(known, value):
            continue
        if column == "value" and len(ends) > 1 and ends[0] <= value <= ends[-1]:
            continue  # within a printed range
        if column != "value" and len(printed) > 1 and 0 <= _beyond(column, value, ends) <= BEYOND_PRINTED:
            continue
        if column == "value" or len(printed) != 1:  # a band around a single printed number is our own
            problems.add(
                record,
                column,
                f"{value:g} {canonical} is not what is printed ('{text[:40]}')",
                "copy it anew, or say in as_printed or in the note what it is made of",
            )


def _beyond(column: str, value: float, ends: list[float]) -> float:
    """How far a band reaches beyond the printed range, as a share of that range."""
    return (ends[0] - value if column == "low" else value - ends[-1]) / ((ends[-1] - ends[0]) or 1.0)


CHECKS: tuple[Check, ...] = ((_check_printed, ("property_values", "properties")),)
