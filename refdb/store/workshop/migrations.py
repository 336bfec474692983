"""The published steps from version to version of the workshop's tables: a history, so none is ever changed.

A column that is declared with a later version (`attributes`, `Own.added`) makes its own step; see `schema`.
"""

from __future__ import annotations

_SPAN = (
    "CHECK ((expansion_ppm_per_k IS NULL) = (expansion_from_c IS NULL) AND "
    "(expansion_from_c IS NULL) = (expansion_to_c IS NULL) AND "
    "(expansion_from_c IS NULL OR expansion_from_c < expansion_to_c))"
)

#: Each step leads from the version before it.
PUBLISHED: tuple[tuple[str, ...], ...] = (
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

#: Statements of later versions beside the columns that are declared for them, by version.
BESIDE: dict[int, tuple[str, ...]] = {
    5: (
        # The key that a record got with a new name, so that renaming can be undone; and checksums.
        "ALTER TABLE past ADD COLUMN became TEXT",
        "ALTER TABLE past ADD COLUMN crc INTEGER",
        "CREATE INDEX past_became ON past (kind, became) WHERE became IS NOT NULL",
        "CREATE TABLE sums (kind TEXT NOT NULL, key ANY NOT NULL, crc INTEGER NOT NULL, PRIMARY KEY (kind, key)"
        ") STRICT, WITHOUT ROWID",
    )
}
