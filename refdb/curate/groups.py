"""Figures that stand for several glasses at once: a row whose material is a group is taken once for each glass of it.

So a figure that many classes share has one home, and it can be counted once (`shared_by` keeps the group).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from refdb.curate.read import Problems, Row
from refdb.frozen import replace

GROUPS, VALUES = "glass_groups.csv", "property_values.csv"
SHARED_BY = "shared_by"


def groups_of(rows: Mapping[str, Iterable[Row]]) -> dict[str, list[str]]:
    """The glasses of each group, by its name."""
    found: dict[str, list[str]] = {}
    for row in rows[GROUPS]:
        found.setdefault(row.cells["glass_group"], []).append(row.cells["glass"])
    return found


def spread(row: Row, groups: Mapping[str, list[str]]) -> Iterator[tuple[Row, str | None]]:
    """The row itself, or one for each glass of the group that it names, with the group."""
    name = row.cells.get("material", "")
    if row.file != VALUES or name not in groups:
        yield row, None
        return
    for glass in groups[name]:
        yield replace(row, cells=row.cells | {"material": glass}), name


def check_groups(rows: Mapping[str, Iterable[Row]], materials: set[str], problems: Problems) -> None:
    """Note a group that is called like a material, or that no figure stands for."""
    used = {row.cells["material"] for row in rows[VALUES]}
    told: set[str] = set()
    for row in rows[GROUPS]:
        name = row.cells["glass_group"]
        if name in told:
            continue
        told.add(name)
        if name in materials:
            problems.add(row, "glass_group", f"'{name[:60]}' is the key of a material", "give the group another name")
        elif name not in used:
            problems.add(row, "glass_group", f"no figure stands for '{name[:60]}'", f"add one to {VALUES}, or drop it")
