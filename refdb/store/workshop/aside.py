"""A workshop that is set aside where it is damaged, so that look-ups of the reference still answer."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from refdb.errors import BadInput, StoreUnusable
from refdb.store.workshop.file import Row, Workshop
from refdb.store.workshop.schema import OWN

_TYPES = {"REAL": float, "INTEGER": int, "TEXT": str}
REPAIR = "refdb mine repair saves what can be read"


def is_intact(kind: str, row: Mapping[str, Any]) -> bool:
    """Whether what stands in a row is of the type and among the words of its columns; damage leaves other things."""
    for column in OWN[kind].columns:
        value = row.get(column.name)
        if value is None:
            if column.required:
                return False
            continue
        if not isinstance(value, _TYPES[column.type]) or (column.choices and value not in column.choices):
            return False
        if isinstance(value, float) and not math.isfinite(value):
            return False
        if column.name.endswith(("date", "tiles", "outcome")) and not _reads(column.name, str(value)):
            return False
    return not OWN[kind].named or isinstance(row.get("key"), str)


def _reads(name: str, value: str) -> bool:
    from refdb.store.workshop.cells import iso_date, numbers_of, outcomes

    read: Callable[[str], object] = iso_date
    if not name.endswith("date"):
        read = outcomes if name == "outcome" else numbers_of
    try:
        read(value)
    except BadInput:
        return False
    return True


def spoilt(kind: str, row: Mapping[str, Any], path: Path) -> StoreUnusable:
    """A row that cannot be read as it stands."""
    from refdb.store.workshop.checksums import called

    key = row.get("number", row.get("key"))
    return StoreUnusable(f"{called(kind, key)} cannot be read as it stands", str(path), REPAIR)


class Aside(Workshop):
    """An open workshop that tells of its first fault and then holds nothing.

    Parameters
    ----------
    path : Path
        The file.
    tell : callable
        Gets the fault.
    """

    def __init__(self, path: Path, tell: Callable[[StoreUnusable], None]) -> None:
        self._tell, self._told = tell, False
        super().__init__(path)

    def rows(self, sql: str, *values: Any) -> list[Row]:
        """All rows of a query; none where the file is damaged."""
        if self._told:
            return []
        try:
            return super().rows(sql, *values)
        except StoreUnusable as fault:
            self._told = True
            self._tell(fault)
            return []

    def each(self, kind: str) -> Iterator[Row]:
        """Rows of a kind, one after another; only those before the fault where the file is damaged."""
        if self._told:
            return
        try:
            yield from super().each(kind)
        except StoreUnusable as fault:
            self._told = True
            self._tell(fault)

    def count(self, kind: str) -> int:
        """How many rows there are of a kind; 0 where the file is damaged."""
        found = self.rows(f"SELECT count(*) AS n FROM {OWN[kind].table}")
        return int(found[0]["n"]) if found else 0
