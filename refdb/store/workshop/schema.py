"""The person's own store: its kinds of rows with their columns, and the steps from version to version.

Nothing here touches a database. `OWN` describes the columns as people meet them, in CSV files, help and the data
package; those of materials are declared in `attributes`.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from refdb.quantities.firings import RESULTS
from refdb.store.schema import ColumnSpec
from refdb.store.workshop.attributes import attributes_of
from refdb.store.workshop.columns import (
    BASES,
    MOST_NAME,
    MOST_TEXT,
    MOST_TILES,
    OWN_BASES,
    TILES,
    number_column,
    text_column,
)
from refdb.store.workshop.keys import NAMED, PREFIX
from refdb.store.workshop.migrations import BESIDE, PUBLISHED

__all__ = [
    "APPLICATION_ID",
    "FIRING",
    "GLASS",
    "KILN",
    "LEAF",
    "METAL",
    "MIGRATIONS",
    "MOST_NAME",
    "MOST_TEXT",
    "MOST_TILES",
    "NAMED",
    "NUMBERED",
    "OWN",
    "OWN_BASES",
    "PREFIX",
    "SHOWED",
    "STOCK",
    "STRIP",
    "TILE",
    "TILE_OUTCOMES",
    "VERSION",
    "Own",
]

#: Stands in the header of every workshop (PRAGMA application_id): the letters "refw".
APPLICATION_ID = 0x72656677

TILE_OUTCOMES = (
    "sound",
    "crazed",
    "chipped",
    "cracked",
    "cloudy",
    "pulled through",
    "burnt",
    "crawled",
    "bubbled",
    "under fired",
)
SHOWED = ("in the kiln", "on cooling", "within a day", "within a month", "later")


class Own(NamedTuple):
    """One kind of own record.

    Attributes
    ----------
    kind, table : str
        The word for it, and the name of its table and CSV file.
    columns : tuple of ColumnSpec
        Its columns, without the key of a named one.
    description : str
        One sentence for help and data package.
    named : bool
        Whether its rows have names, of which their keys are made.
    added : mapping
        Names of the columns that came with a later version of the workshop, by version.
    """

    kind: str
    table: str
    columns: tuple[ColumnSpec, ...]
    description: str
    named: bool = True
    added: Mapping[int, tuple[str, ...]] = MappingProxyType({})

    @property
    def file(self) -> str:
        """The CSV file of the kind in an export."""
        return f"{self.table}.csv"

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns in a CSV file."""
        return tuple(c.name for c in self.columns)


def _material(kind: str, table: str, description: str) -> Own:
    """A kind of material: its columns are those of its attributes."""
    attributes = attributes_of(kind)
    added: dict[int, tuple[str, ...]] = {}
    for one in attributes:
        added[one.since] = (*added.get(one.since, ()), *(c.name for c in one.columns))
    return Own(kind, table, tuple(c for one in attributes for c in one.columns), description, added=added)


GLASS = _material("glass", "glasses", "Jars of glass: what their sheets, or tests, say of them.")
METAL = _material("metal", "metals", "Base metals and metal clays.")
LEAF = _material("leaf", "leaf", "Leaf and foil.")

TILE = Own(
    "tile",
    "tiles",
    (
        ColumnSpec("number", "INTEGER", "number", low=1, high=1e9),
        text_column("glass", required=True, description="key of a glass"),
        text_column("metal", required=True, description="key of a metal"),
        number_column("metal_mm", "metal thickness", "mm", 0.005, 50),
        number_column("front_mm", "glass on the front", "mm", 0, 50),
        number_column("back_mm", "glass on the back", "mm", 0, 50),
        number_column("kiln_c", "kiln setting", "°C", 100, 1600),
        number_column("minutes", "time in the kiln", "min", 0.05, 1440),
        text_column(
            "outcome", required=True, description=f"one or more of {', '.join(TILE_OUTCOMES)}, joined by semicolons"
        ),
        text_column("showed", "when it showed", SHOWED),
        text_column("date", required=True, description="ISO date of the firing"),
        text_column("note"),
    ),
    "Fired tests: a glass on a metal, and what came of it.",
    named=False,
)

STRIP = Own(
    "strip",
    "strips",
    (
        ColumnSpec("number", "INTEGER", "number", low=1, high=1e9),
        text_column("glass", required=True, description="key of the glass"),
        text_column("metal", required=True, description="key of the metal"),
        number_column("metal_mm", "metal thickness", "mm", 0.005, 50, required=True),
        number_column("metal_low_mm", "low", "mm", 0.005, 50),
        number_column("metal_high_mm", "high", "mm", 0.005, 50),
        number_column("glass_mm", "glass thickness", "mm", 0.005, 50, required=True),
        number_column("glass_low_mm", "low", "mm", 0.005, 50),
        number_column("glass_high_mm", "high", "mm", 0.005, 50),
        number_column("length_mm", "length", "mm", 1, 2000, required=True),
        number_column("width_mm", "width", "mm", 0.5, 500),
        number_column("bow_mm", "bow", "mm", -1000, 1000, "above zero with the glass on the outer side", required=True),
        number_column("bow_before_mm", "bow before firing", "mm", -1000, 1000),
        number_column(
            "bow_error_mm", "error of the bow", "mm", 0.001, 100, "a standard deviation; 0.1 mm where it is empty"
        ),
        number_column("set_point_c", "set point", "°C", 100, 1200),
        number_column("expansion_ppm_per_k", "thermal expansion found", "ppm/K", -50, 80, "20 to 400 °C"),
        number_column("expansion_low_ppm_per_k", "low", "ppm/K", -50, 80),
        number_column("expansion_high_ppm_per_k", "high", "ppm/K", -50, 80),
        text_column("date", required=True),
        text_column("note"),
    ),
    "Bent strips: what was measured, and the expansion it gave.",
    named=False,
)

STOCK = Own(
    "stock",
    "stock",
    (
        text_column("key", required=True, description="key of a glass, metal or leaf"),
        number_column("grams", "left", "g", 0, 1e6, required=True),
        text_column("date", required=True),
        text_column("note"),
    ),
    "What is left of it.",
    named=False,
)

FIRING = Own(
    "firing",
    "firings",
    (
        ColumnSpec("number", "INTEGER", "number", low=1, high=1e9),
        text_column("glass", required=True, description="key of a jar of your own"),
        number_column("kiln_c", "kiln setting", "°C", 50, 1600, required=True),
        number_column("minutes", "time in the kiln", "min", 0.05, 60, "until it was seen", required=True),
        text_column("metal", required=True, description="key of a metal"),
        number_column("metal_mm", "metal thickness", "mm", 0.1, 10),
        text_column("result", "what was seen", RESULTS, required=True),
        text_column("date", required=True),
        text_column("note"),
    ),
    "Firings that were watched: when a jar's glass shone, on which metal.",
    named=False,
)

KILN = Own(
    "kiln",
    "kilns",
    (
        text_column("key", choices=("kiln",), required=True),
        number_column(
            "offset_k", "hotter than it shows", "K", -300, 300, "below zero where it is cooler", required=True
        ),
        number_column("offset_low_k", "low", "K", -300, 300),
        number_column("offset_high_k", "high", "K", -300, 300),
        text_column("tiles", "learnt from tiles", description=TILES),
        text_column("basis", "basis", BASES, required=True),
        text_column("date", required=True),
        text_column("note"),
    ),
    "The kiln: how much hotter it is than it shows.",
    named=False,
)

OWN: dict[str, Own] = {own.kind: own for own in (GLASS, METAL, LEAF, TILE, STRIP, STOCK, FIRING, KILN)}
#: Kinds whose rows have numbers.
NUMBERED = tuple(own.kind for own in OWN.values() if "number" in own.names)


def _later_steps() -> tuple[tuple[str, ...], ...]:
    """The steps after the published ones: each adds the columns that are declared for its version."""
    last = max(*BESIDE, *(version for own in OWN.values() for version in own.added))
    return tuple(
        BESIDE.get(version, ())
        + tuple(
            f"ALTER TABLE {own.table} ADD COLUMN {column.name} {column.type}"
            for own in OWN.values()
            for column in own.columns
            if column.name in own.added.get(version, ())
        )
        for version in range(len(PUBLISHED) + 1, last + 1)
    )


#: Each step leads from the version before it; the number of steps is the version of this refdb.
MIGRATIONS: tuple[tuple[str, ...], ...] = (*PUBLISHED, *_later_steps())
VERSION = len(MIGRATIONS)
