"""Heads of the columns of Datasette's tables: what they hold in words, with the unit."""

from __future__ import annotations

from collections.abc import Callable

from refdb.browse.site import Site
from refdb.records_print import unit_of
from refdb.store.schema import TABLE

_VIEWS = {"metals": "metal_details", "glasses": "glass_details", "leaf": "leaf_details"}


def head_of(site: Site) -> Callable[[str, str], str]:
    """A function from table and column to the head: "begins to melt, °C" for what the store calls solidus_c."""
    units = sorted(((p.key, p.label, unit_of(p)) for p in site.ref.properties()), key=lambda p: -len(p[0]))

    def head(table: str, column: str) -> str:
        for name in (table, "materials", _VIEWS.get(table, "")):
            known = TABLE.get(name)
            if known is None or (name != table and table not in _VIEWS):
                continue
            for found in known.columns:
                if found.name == column:
                    return f"{found.label or found.name}, {found.unit}" if found.unit else found.label or found.name
        if table in _VIEWS:
            for key, label, unit in units:
                if column == key or column.startswith(f"{key}_"):
                    return f"{label}, {unit}" if unit else label
        return column.replace("_", " ")

    return head
