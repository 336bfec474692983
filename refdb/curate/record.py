"""Rows of the store's tables, between the CSV files and the store."""

from __future__ import annotations

from dataclasses import dataclass

from refdb.curate.cells import Value


@dataclass(frozen=True, slots=True)
class Record:
    """One row of a table of the store, and the place in the sources it came from."""

    file: str
    line: int
    values: dict[str, Value]


Records = dict[str, list[Record]]
