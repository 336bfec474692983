"""A reference store whose records are read once: the file cannot change while the view is open."""

from __future__ import annotations

from functools import cached_property
from pathlib import Path
from typing import Any

from refdb.records import FitRule, Hazard, Material, Property, Source
from refdb.store.reference import Reference


class Kept(Reference):
    """A `Reference` that remembers what it has read; look-ups by key cost no query after the first."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self._fit_rules: list[FitRule] | None = None
        self._hazards: list[Hazard] | None = None
        self._sources: list[Source] | None = None
        self._properties: list[Property] | None = None

    @cached_property
    def _every(self) -> dict[str, Material]:
        return {record.key: record for record in super().materials()}

    def material(self, key: str, kind: str | None = None) -> Material:
        """The record of this key, of one kind or of any."""
        found = self._every.get(key.strip().lower())
        if found is not None and kind in (None, getattr(found, "kind", "")):
            return found
        return super().material(key, kind)

    def materials(self, kind: str | None = None) -> list[Material]:
        """All records, of one kind or of all, in order of family and key."""
        return [record for record in self._every.values() if kind in (None, getattr(record, "kind", ""))]

    def fit_rules(self) -> list[FitRule]:
        """All rules of surface and use."""
        if self._fit_rules is None:
            self._fit_rules = super().fit_rules()
        return self._fit_rules

    def hazards(self) -> list[Hazard]:
        """All hazards, weightiest first."""
        if self._hazards is None:
            self._hazards = super().hazards()
        return self._hazards

    def sources(self) -> list[Source]:
        """All sources in order of key."""
        if self._sources is None:
            self._sources = super().sources()
        return self._sources

    def properties(self) -> list[Property]:
        """All properties in the order of the list."""
        if self._properties is None:
            self._properties = super().properties()
        return self._properties

    @cached_property
    def tables(self) -> frozenset[str]:
        """Names of the tables and views in the file."""
        return frozenset(row["name"] for row in self.rows("SELECT name FROM sqlite_master"))

    def count(self, table: str) -> int:
        """Rows of a table; zero where there is no such table."""
        if table not in self.tables:
            return 0
        counted: Any = self.rows(f'SELECT count(*) AS rows FROM "{table}"')[0]["rows"]
        return int(counted)
