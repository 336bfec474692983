"""The store's tables, each column once: build, checks, headers, the datapackage and help all read this.

Nothing here touches a database or a screen. `TABLES` lists what is stored; `FILES` lists the CSV files of
`data_sources/` and the tables each one fills.
"""

from __future__ import annotations

from refdb.frozen import dataclass, field
from refdb.store.firing_tables import CONTACTS, FIRING_PHASES, OBSERVED_FIRINGS, SOLDERS
from refdb.store.glass_tables import (
    ANSWERS,
    BUILDS,
    COMPOSITIONS,
    ESTIMATES,
    GLASS_GROUPS,
    REFERENCE_GLASSES,
    REFERENCE_VALUES,
)
from refdb.store.material_tables import (
    ELEMENTS,
    EXPANSION_POINTS,
    GLASS_DETAILS,
    LEAF_DETAILS,
    MATERIALS,
    METAL_DETAILS,
    PROPERTIES,
    PROPERTY_BOUNDS,
    PROPERTY_VALUES,
    SOURCE_SUBJECTS,
    SOURCES,
)
from refdb.store.name_tables import ALIASES
from refdb.store.rule_tables import (
    COLOUR_REACTIONS,
    EXPOSURE_LIMITS,
    FAULTS,
    FIT_RULES,
    HAZARDS,
    KNOWN_PAIRS,
    PRACTICE_RULES,
    PRACTICE_TOPICS,
    SYMPTOMS,
    SYNONYMS,
)
from refdb.store.table import CONTENT, HELD, KINDS, OUTCOMES, SEEN, SOURCE_KINDS, ColumnSpec, Table, text
from refdb.store.version import APPLICATION_ID, SCHEMA_VERSION

__all__ = [
    "APPLICATION_ID",
    "CONTENT",
    "FILES",
    "HELD",
    "KINDS",
    "OUTCOMES",
    "SCHEMA_VERSION",
    "SEEN",
    "SOURCE_KINDS",
    "TABLE",
    "TABLES",
    "ColumnSpec",
    "File",
    "Table",
]

#: In this order they are made and filled.
TABLES: tuple[Table, ...] = (
    SOURCES,
    SOURCE_SUBJECTS,
    PROPERTIES,
    PROPERTY_BOUNDS,
    ELEMENTS,
    MATERIALS,
    METAL_DETAILS,
    GLASS_DETAILS,
    LEAF_DETAILS,
    ALIASES,
    GLASS_GROUPS,
    PROPERTY_VALUES,
    EXPANSION_POINTS,
    FIT_RULES,
    COLOUR_REACTIONS,
    SYMPTOMS,
    FAULTS,
    SYNONYMS,
    OBSERVED_FIRINGS,
    CONTACTS,
    SOLDERS,
    FIRING_PHASES,
    PRACTICE_TOPICS,
    PRACTICE_RULES,
    KNOWN_PAIRS,
    HAZARDS,
    EXPOSURE_LIMITS,
    REFERENCE_GLASSES,
    COMPOSITIONS,
    REFERENCE_VALUES,
    ESTIMATES,
    ANSWERS,
    BUILDS,
)
TABLE = {table.name: table for table in TABLES}


@dataclass(frozen=True)
class File:
    """One CSV file of `data_sources/`.

    `fills` maps each table it fills to the columns taken from the file; `fixed` gives columns of the table
    that the file does not have. Columns of `extra` are in the file only and are worked on by the build.
    """

    name: str
    columns: tuple[ColumnSpec, ...]
    fills: dict[str, tuple[str, ...]]
    fixed: dict[str, dict[str, str]] = field(default_factory=dict)
    description: str = ""


def _plain(table: str, folder: str = "") -> File:
    found = TABLE[table]
    return File(
        f"{folder}{table}.csv",
        found.columns,
        {table: tuple(c.name for c in found.columns)},
        description=found.description,
    )


def _material_file(name: str, kind: str, details: str) -> File:
    own = tuple(c for c in TABLE[details].columns if c.name != "material")
    shared = tuple(c for c in TABLE["materials"].columns if c.name != "kind")
    return File(
        f"{name}.csv",
        shared + own,
        {"materials": tuple(c.name for c in shared), details: tuple(c.name for c in own)},
        {"materials": {"kind": kind}},
        TABLE[details].description,
    )


_IN_FILE = tuple(c for c in ALIASES.columns if c.name != "folded")
_FILE_ALIASES = File(
    "aliases.csv", _IN_FILE, {"aliases": tuple(c.name for c in _IN_FILE)}, description=ALIASES.description
)

_VALUES = TABLE["property_values"]
_FILE_VALUES = File(
    "property_values.csv",
    tuple(
        text("unit", "unit", required=True, description="unit of value, low and high in this file")
        if c.name == "unit_as_printed"
        else c
        for c in _VALUES.columns
        if c.name != "shared_by"
    ),
    {"property_values": tuple(c.name for c in _VALUES.columns)},
    description="value, low and high stand in `unit` as the source prints them; the build converts them. "
    "A material may be a group of glasses.",
)

FILES: tuple[File, ...] = (
    _plain("sources"),
    _plain("source_subjects"),
    _plain("properties"),
    _plain("property_bounds"),
    _plain("elements"),
    _material_file("metals", "metal", "metal_details"),
    _material_file("glasses", "glass", "glass_details"),
    _material_file("leaf", "leaf", "leaf_details"),
    _FILE_ALIASES,
    _plain("glass_groups"),
    _FILE_VALUES,
    _plain("expansion_points"),
    _plain("fit_rules"),
    _plain("colour_reactions"),
    _plain("symptoms"),
    _plain("faults"),
    _plain("synonyms"),
    _plain("observed_firings"),
    _plain("contacts"),
    _plain("solders"),
    _plain("firing_phases"),
    _plain("practice_topics"),
    _plain("practice_rules"),
    _plain("known_pairs"),
    _plain("hazards"),
    _plain("exposure_limits"),
    _plain("answers"),
    _plain("builds"),
    *(_plain(name, "sciglass/") for name in ("reference_glasses", "compositions", "reference_values", "estimates")),
)
