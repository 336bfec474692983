"""The person's own store: its tables, what may stand in each column, and the steps from version to version.

Nothing here touches a database. `MIGRATIONS` is a history: a step that was published is never changed, a new one is
added. `OWN` describes the columns as people meet them, in CSV files, help and the data package.
"""

from __future__ import annotations

from typing import NamedTuple

from refdb.quantities.firings import RESULTS
from refdb.store.schema import CONTENT, TABLE, Column

#: Stands in the header of every workshop (PRAGMA application_id): the letters "refw".
APPLICATION_ID = 0x72656677

#: What a figure of one's own rests on, and the word that the verdicts use for it.
OWN_BASES = {"maker's sheet": "published", "own test": "measured", "guess": "from memory"}
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
#: Longest name, longest note or other text, and longest list of tiles.
MOST_NAME, MOST_TEXT, MOST_TILES = 80, 500, 10_000
#: Keys of own records begin so, so that neither store can hide a record of the other.
PREFIX = "my:"


class Own(NamedTuple):
    """One kind of own record: its word, table and columns; `key` numbers its rows where they have no name."""

    kind: str
    table: str
    columns: tuple[Column, ...]
    description: str
    named: bool = True

    @property
    def file(self) -> str:
        """The CSV file of the kind in an export."""
        return f"{self.table}.csv"

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns in a CSV file."""
        return tuple(c.name for c in self.columns)


def _text(
    name: str, label: str = "", choices: tuple[str, ...] = (), description: str = "", required: bool = False
) -> Column:
    return Column(name, "TEXT", label or name.replace("_", " "), "", required, choices, "", None, None, description)


def _number(
    name: str, label: str, unit: str, low: float, high: float, description: str = "", required: bool = False
) -> Column:
    return Column(name, "REAL", label, unit, required, (), "", low, high, description)


_BASES = tuple(OWN_BASES)
_NAME = _text(
    "name", description="the key is my: and the name in small letters, its words joined by hyphens", required=True
)
_LIKE = _text("like", "like", description="key of the class of the reference that stands in for what is not known")
_END = (
    _text("basis", "basis", _BASES, "of every figure that does not say its own", True),
    _text("date", "date", description="ISO date of every figure that does not say its own", required=True),
    _text("note"),
)


def _rests(name: str) -> tuple[Column, Column]:
    return (
        _text(f"{name}_basis", f"basis of the {name.replace('_', ' ')}", _BASES),
        _text(f"{name}_date", f"date of the {name.replace('_', ' ')}"),
    )


_EXPANSION = (
    _number("expansion_ppm_per_k", "thermal expansion", "ppm/K", 0.1, 30, "linear; needs its span"),
    _number("expansion_low_ppm_per_k", "low", "ppm/K", 0.1, 30),
    _number("expansion_high_ppm_per_k", "high", "ppm/K", 0.1, 30),
    _number("expansion_from_c", "from", "°C", -273.15, 2500, "span of the expansion"),
    _number("expansion_to_c", "to", "°C", -273.15, 2500, "span of the expansion"),
    _text("expansion_as_given", "as given", description="as it was typed or printed"),
    *_rests("expansion"),
)
_TILES = "numbers of the own tiles that the figure was learnt from, joined by semicolons"


def _figure(name: str, label: str, unit: str, suffix: str, low: float, high: float) -> tuple[Column, ...]:
    return (
        _number(f"{name}_{suffix}", label, unit, low, high),
        _number(f"{name}_low_{suffix}", "low", unit, low, high),
        _number(f"{name}_high_{suffix}", "high", unit, low, high),
        *_rests(name),
    )


_GLASS = TABLE["glass_details"].column
_METAL = TABLE["metal_details"].column

GLASS = Own(
    "glass",
    "glasses",
    (
        _NAME,
        _LIKE,
        _text("optical", "optical", _GLASS("optical").choices),
        _text("hardness", "hardness", _GLASS("hardness").choices),
        _text("lead", "lead", CONTENT),
        _text("cadmium", "cadmium", CONTENT),
        _text("colourant"),
        *_EXPANSION,
        _text("expansion_tiles", "learnt from tiles", description=_TILES),
        _number("fuse_low_c", "fuses from", "°C", 300, 1400),
        _number("fuse_high_c", "fuses to", "°C", 300, 1400),
        *_rests("fuse"),
        *_figure("set_point", "set point", "°C", "c", 100, 1200),
        *_END,
    ),
    "Jars of glass: what their sheets, or tests, say of them.",
)

METAL = Own(
    "metal",
    "metals",
    (
        _NAME,
        _LIKE,
        _text("form", "form", _METAL("form").choices),
        _text("alloy", "composition", description="elements with their per cents: Cu 95, Zn 5"),
        *_EXPANSION,
        *_figure("solidus", "begins to melt", "°C", "c", 100, 2500),
        *_figure("shrinkage", "shrinkage", "percent", "percent", 0, 60),
        *_END,
    ),
    "Base metals and metal clays.",
)

LEAF = Own(
    "leaf",
    "leaf",
    (
        _NAME,
        _LIKE,
        _text("metal", "metal", description="chemical symbols, most first"),
        _text("fineness", "fineness", description="parts in a thousand, as sold"),
        _text("form", "form", TABLE["leaf_details"].column("form").choices),
        *_figure("leaf_thickness", "leaf thickness", "µm", "um", 0.05, 500),
        *_END,
    ),
    "Leaf and foil.",
)

TILE = Own(
    "tile",
    "tiles",
    (
        Column("number", "INTEGER", "number", low=1, high=1e9),
        _text("glass", required=True, description="key of a glass"),
        _text("metal", required=True, description="key of a metal"),
        _number("metal_mm", "metal thickness", "mm", 0.005, 50),
        _number("front_mm", "glass on the front", "mm", 0, 50),
        _number("back_mm", "glass on the back", "mm", 0, 50),
        _number("kiln_c", "kiln setting", "°C", 100, 1600),
        _number("minutes", "time in the kiln", "min", 0.05, 1440),
        _text("outcome", required=True, description=f"one or more of {', '.join(TILE_OUTCOMES)}, joined by semicolons"),
        _text("showed", "when it showed", SHOWED),
        _text("date", required=True, description="ISO date of the firing"),
        _text("note"),
    ),
    "Fired tests: a glass on a metal, and what came of it.",
    named=False,
)

STRIP = Own(
    "strip",
    "strips",
    (
        Column("number", "INTEGER", "number", low=1, high=1e9),
        _text("glass", required=True, description="key of the glass"),
        _text("metal", required=True, description="key of the metal"),
        _number("metal_mm", "metal thickness", "mm", 0.005, 50, required=True),
        _number("metal_low_mm", "low", "mm", 0.005, 50),
        _number("metal_high_mm", "high", "mm", 0.005, 50),
        _number("glass_mm", "glass thickness", "mm", 0.005, 50, required=True),
        _number("glass_low_mm", "low", "mm", 0.005, 50),
        _number("glass_high_mm", "high", "mm", 0.005, 50),
        _number("length_mm", "length", "mm", 1, 2000, required=True),
        _number("width_mm", "width", "mm", 0.5, 500),
        _number("bow_mm", "bow", "mm", -1000, 1000, "above zero with the glass on the outer side", required=True),
        _number("bow_before_mm", "bow before firing", "mm", -1000, 1000),
        _number("bow_error_mm", "error of the bow", "mm", 0.001, 100, "a standard deviation; 0.1 mm where it is empty"),
        _number("set_point_c", "set point", "°C", 100, 1200),
        _number("expansion_ppm_per_k", "thermal expansion found", "ppm/K", -50, 80, "20 to 400 °C"),
        _number("expansion_low_ppm_per_k", "low", "ppm/K", -50, 80),
        _number("expansion_high_ppm_per_k", "high", "ppm/K", -50, 80),
        _text("date", required=True),
        _text("note"),
    ),
    "Bent strips: what was measured, and the expansion it gave.",
    named=False,
)

STOCK = Own(
    "stock",
    "stock",
    (
        _text("key", required=True, description="key of a glass, metal or leaf"),
        _number("grams", "left", "g", 0, 1e6, required=True),
        _text("date", required=True),
        _text("note"),
    ),
    "What is left of it.",
    named=False,
)

FIRING = Own(
    "firing",
    "firings",
    (
        Column("number", "INTEGER", "number", low=1, high=1e9),
        _text("glass", required=True, description="key of a jar of your own"),
        _number("kiln_c", "kiln setting", "°C", 50, 1600, required=True),
        _number("minutes", "time in the kiln", "min", 0.05, 60, "until it was seen", required=True),
        _text("metal", required=True, description="key of a metal"),
        _number("metal_mm", "metal thickness", "mm", 0.1, 10),
        _text("result", "what was seen", RESULTS, required=True),
        _text("date", required=True),
        _text("note"),
    ),
    "Firings that were watched: when a jar's glass shone, on which metal.",
    named=False,
)

KILN = Own(
    "kiln",
    "kilns",
    (
        _text("key", choices=("kiln",), required=True),
        _number("offset_k", "hotter than it shows", "K", -300, 300, "below zero where it is cooler", required=True),
        _number("offset_low_k", "low", "K", -300, 300),
        _number("offset_high_k", "high", "K", -300, 300),
        _text("tiles", "learnt from tiles", description=_TILES),
        _text("basis", "basis", _BASES, required=True),
        _text("date", required=True),
        _text("note"),
    ),
    "The kiln: how much hotter it is than it shows.",
    named=False,
)

OWN: dict[str, Own] = {own.kind: own for own in (GLASS, METAL, LEAF, TILE, STRIP, STOCK, FIRING, KILN)}
NAMED = ("glass", "metal", "leaf")
#: Kinds whose rows have numbers.
NUMBERED = tuple(own.kind for own in OWN.values() if "number" in own.names)

_SPAN = (
    "CHECK ((expansion_ppm_per_k IS NULL) = (expansion_from_c IS NULL) AND "
    "(expansion_from_c IS NULL) = (expansion_to_c IS NULL) AND "
    "(expansion_from_c IS NULL OR expansion_from_c < expansion_to_c))"
)

#: Each step leads from the version before it; the number of steps is the version of this refdb.
MIGRATIONS: tuple[tuple[str, ...], ...] = (
    (
        "CREATE TABLE glasses (key TEXT PRIMARY KEY, name TEXT NOT NULL, like TEXT, optical TEXT, hardness TEXT, "
        "lead TEXT, cadmium TEXT, colourant TEXT, expansion_ppm_per_k REAL, expansion_low_ppm_per_k REAL, "
        "expansion_high_ppm_per_k REAL, expansion_from_c REAL, expansion_to_c REAL, expansion_as_given TEXT, "
        "expansion_basis TEXT, expansion_date TEXT, fuse_low_c REAL, fuse_high_c REAL, fuse_basis TEXT, "
        "fuse_date TEXT, set_point_c REAL, set_point_low_c REAL, set_point_high_c REAL, set_point_basis TEXT, "
        f"set_point_date TEXT, basis TEXT NOT NULL, date TEXT NOT NULL, note TEXT, {_SPAN}) STRICT, WITHOUT ROWID",
        "CREATE TABLE metals (key TEXT PRIMARY KEY, name TEXT NOT NULL, like TEXT, form TEXT, alloy TEXT, "
        "expansion_ppm_per_k REAL, expansion_low_ppm_per_k REAL, expansion_high_ppm_per_k REAL, "
        "expansion_from_c REAL, expansion_to_c REAL, expansion_as_given TEXT, expansion_basis TEXT, "
        "expansion_date TEXT, solidus_c REAL, solidus_low_c REAL, solidus_high_c REAL, solidus_basis TEXT, "
        "solidus_date TEXT, shrinkage_percent REAL, shrinkage_low_percent REAL, shrinkage_high_percent REAL, "
        "shrinkage_basis TEXT, shrinkage_date TEXT, basis TEXT NOT NULL, date TEXT NOT NULL, note TEXT, "
        f"{_SPAN}) STRICT, WITHOUT ROWID",
        "CREATE TABLE leaf (key TEXT PRIMARY KEY, name TEXT NOT NULL, like TEXT, metal TEXT, fineness TEXT, "
        "form TEXT, leaf_thickness_um REAL, leaf_thickness_low_um REAL, leaf_thickness_high_um REAL, "
        "leaf_thickness_basis TEXT, leaf_thickness_date TEXT, basis TEXT NOT NULL, date TEXT NOT NULL, note TEXT"
        ") STRICT, WITHOUT ROWID",
        "CREATE TABLE tiles (number INTEGER PRIMARY KEY, glass TEXT NOT NULL, metal TEXT NOT NULL, metal_mm REAL, "
        "front_mm REAL, back_mm REAL, kiln_c REAL, minutes REAL, outcome TEXT NOT NULL, date TEXT NOT NULL, "
        "note TEXT) STRICT",
        "CREATE INDEX tiles_of ON tiles (glass, metal)",
        "CREATE TABLE past (number INTEGER PRIMARY KEY, kind TEXT NOT NULL, key TEXT NOT NULL, row TEXT NOT NULL, "
        "why TEXT NOT NULL CHECK (why IN ('removed', 'edited')), at TEXT NOT NULL) STRICT",
        "CREATE INDEX past_of ON past (kind, key)",
    ),
    (
        "ALTER TABLE tiles ADD COLUMN showed TEXT",
        # Narrow copies that a search for words runs through.
        "CREATE INDEX glasses_words ON glasses (name, colourant, note)",
        "CREATE INDEX metals_words ON metals (name, alloy, note)",
        "CREATE INDEX leaf_words ON leaf (name, metal, note)",
        "CREATE TABLE strips (number INTEGER PRIMARY KEY, glass TEXT NOT NULL, metal TEXT NOT NULL, "
        "metal_mm REAL NOT NULL, glass_mm REAL NOT NULL, length_mm REAL NOT NULL, width_mm REAL, "
        "bow_mm REAL NOT NULL, bow_before_mm REAL, set_point_c REAL, expansion_ppm_per_k REAL, "
        "expansion_low_ppm_per_k REAL, expansion_high_ppm_per_k REAL, date TEXT NOT NULL, note TEXT) STRICT",
        "CREATE INDEX strips_of ON strips (glass)",
        "CREATE TABLE stock (key TEXT PRIMARY KEY, grams REAL NOT NULL, date TEXT NOT NULL, note TEXT"
        ") STRICT, WITHOUT ROWID",
    ),
    (
        "ALTER TABLE glasses ADD COLUMN expansion_tiles TEXT",
        *(
            f"ALTER TABLE strips ADD COLUMN {name} REAL"
            for name in ("metal_low_mm", "metal_high_mm", "glass_low_mm", "glass_high_mm", "bow_error_mm")
        ),
        "CREATE TABLE firings (number INTEGER PRIMARY KEY, glass TEXT NOT NULL, kiln_c REAL NOT NULL, "
        "minutes REAL NOT NULL, metal TEXT NOT NULL, metal_mm REAL, result TEXT NOT NULL, date TEXT NOT NULL, "
        "note TEXT) STRICT",
        "CREATE INDEX firings_of ON firings (glass)",
        "CREATE TABLE kilns (key TEXT PRIMARY KEY, offset_k REAL NOT NULL, offset_low_k REAL, offset_high_k REAL, "
        "tiles TEXT, basis TEXT NOT NULL, date TEXT NOT NULL, note TEXT) STRICT, WITHOUT ROWID",
    ),
)
VERSION = len(MIGRATIONS)
