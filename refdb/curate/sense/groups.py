"""Records as the checks need them: by material and property, with what a figure's band is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable

from refdb.curate.read import Problems
from refdb.curate.record import Record, Records

#: A check, and the tables that it reads.
Check = tuple[Callable[[Records, Problems], None], tuple[str, ...]]


def kinds(records: Records) -> dict[str, str]:
    """Kind of each material, by key."""
    return {str(r.values["key"]): str(r.values["kind"]) for r in records["materials"]}


def keyed(records: Records, table: str, column: str = "key") -> dict[str, Record]:
    """The records of a table by one column."""
    return {str(r.values[column]): r for r in records[table]}


def by_property(records: Records) -> dict[tuple[str, str], list[Record]]:
    """The figures of each material and property."""
    groups: dict[tuple[str, str], list[Record]] = defaultdict(list)
    for record in records["property_values"]:
        groups[str(record.values["material"]), str(record.values["property"])].append(record)
    return groups


def preferred(records: Records) -> dict[tuple[str, str], Record]:
    """The preferred figure of each material and property."""
    return {
        (str(r.values["material"]), str(r.values["property"])): r
        for r in records["property_values"]
        if r.values["preferred"] == 1
    }


def number(record: Record, column: str) -> float | None:
    """The number in a column, None where there is none."""
    value = record.values.get(column)
    return float(value) if isinstance(value, (int, float)) else None


def span(record: Record) -> tuple[float, float] | None:
    """The least and the most of value, low and high; None where none is a number."""
    found = [x for x in (number(record, c) for c in ("value", "low", "high")) if x is not None]
    return (min(found), max(found)) if found else None


def middle(record: Record) -> float | None:
    """The value, or the middle of the band where only that was printed."""
    value, band = number(record, "value"), span(record)
    return value if value is not None else None if band is None else (band[0] + band[1]) / 2


def words(text: object) -> list[str]:
    """The parts of a cell that are separated by semicolons."""
    return [word.strip() for word in str(text or "").split(";") if word.strip()]
