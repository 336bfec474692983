"""The store's tables, each column once: build, checks, headers, the datapackage and help all read this.

Nothing here touches a database or a screen. `TABLES` lists what is stored; `FILES` lists the CSV files of
`data_sources/` and the tables each one fills.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from refdb.records import BASES

SCHEMA_VERSION = 1
#: Stands in the header of every store (PRAGMA application_id): the letters "refd".
APPLICATION_ID = 0x72656664

SOURCE_KINDS = ("standard", "handbook", "paper", "dataset", "library", "common practice", "from memory", "computed")
SEEN = ("read", "read in a copy", "from memory", "computed")
KINDS = ("metal", "glass", "leaf")
OUTCOMES = ("suits", "suits with care", "does not suit")
CONTENT = ("free", "contains", "unknown")
#: What a glass may hold besides lead and cadmium that hurts.
HELD = ("antimony", "arsenic", "chromium", "cobalt", "manganese", "nickel", "selenium")


class Column(NamedTuple):
    """One column: its name in the store, SQLite type, label for people, unit, and what may stand in it."""

    name: str
    type: str = "TEXT"
    label: str = ""
    unit: str = ""
    required: bool = False
    choices: tuple[str, ...] = ()
    refers: str = ""
    low: float | None = None
    high: float | None = None
    description: str = ""


class Table(NamedTuple):
    """One table: its columns, primary key, further CHECKs (SQL) and uniqueness, and a sentence on what it is."""

    name: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    description: str
    checks: tuple[str, ...] = ()
    unique: tuple[tuple[str, ...], ...] = ()

    def column(self, name: str) -> Column:
        """Return the column of this name; raises KeyError when there is none."""
        for column in self.columns:
            if column.name == name:
                return column
        raise KeyError(name)


def _text(name: str, label: str = "", **more: object) -> Column:
    return Column(name, "TEXT", label or name.replace("_", " "), **more)  # type: ignore[arg-type]


def _number(name: str, label: str = "", unit: str = "", **more: object) -> Column:
    return Column(name, "REAL", label or name.replace("_", " "), unit, **more)  # type: ignore[arg-type]


_KEY = _text("key", required=True, description="lower case words joined by hyphens")
_SOURCE = _text("source", required=True, refers="sources.key")
_MATERIAL = _text("material", required=True, refers="materials.key")
_NOTE = _text("note")

_SPAN_CHECK = "(temp_low_c IS NULL) = (temp_high_c IS NULL) AND (temp_low_c IS NULL OR temp_low_c < temp_high_c)"
_BAND_CHECK = "(low IS NULL OR value IS NULL OR low <= value) AND (high IS NULL OR value IS NULL OR value <= high)"

TABLES: tuple[Table, ...] = (
    Table(
        "sources",
        (
            _KEY,
            _text("kind", required=True, choices=SOURCE_KINDS),
            _text("authors"),
            Column("year", "INTEGER", "year", low=1500, high=2100),
            _text("title", required=True),
            _text("container", "published in"),
            _text("locator", "where in it"),
            _text("doi", "DOI"),
            _text("licence"),
            _text("retrieved", description="ISO date on which it was read"),
            _NOTE,
        ),
        ("key",),
        "Where every number and sentence comes from.",
    ),
    Table(
        "properties",
        (
            _KEY,
            _text("label", required=True),
            _text("unit", required=True, description="canonical unit of the stored value, as pint writes it"),
            _text("shown_unit", "shown in", required=True, description="unit in which people see it"),
            _text("description", required=True),
        ),
        ("key",),
        "The measured or estimated quantities a material can have.",
    ),
    Table(
        "materials",
        (
            _KEY,
            _text("kind", required=True, choices=KINDS),
            _text("label", required=True),
            _text("family", required=True),
            _text("summary", required=True),
        ),
        ("key",),
        "Every base metal, glass class and leaf metal.",
    ),
    Table(
        "metal_details",
        (
            _MATERIAL,
            _text("form", required=True, choices=("sheet", "clay", "cast")),
            _text("alloy", "composition", required=True),
            _text("clay_family", "clay family"),
            _text(
                "bare_surface",
                "bare surface",
                required=True,
                description="what the kiln does to it: none, cuprous oxide, zinc oxide, chromia, …",
            ),
            _text("preparation"),
            _SOURCE,
        ),
        ("material",),
        "What is not a number about a base metal or metal clay.",
    ),
    Table(
        "glass_details",
        (
            _MATERIAL,
            _text("optical", required=True, choices=("transparent", "opaque", "opalescent")),
            _text("hardness", required=True, choices=("soft", "medium", "hard", "very hard", "unknown")),
            _text("lead", required=True, choices=CONTENT),
            _text("cadmium", required=True, choices=CONTENT),
            _text(
                "role",
                required=True,
                choices=(
                    "base coat",
                    "overlay",
                    "finishing coat",
                    "counter enamel",
                    "line work",
                    "ground coat",
                    "cover coat",
                    "not an enamel",
                ),
            ),
            _text(
                "made_for",
                "made for",
                description="families of metal, separated by semicolons; empty when it is made for none",
            ),
            _text("colourant"),
            _text("undercoat", description="what must lie under it, in words; empty when nothing need"),
            _text("wash", "wash before laying", required=True, choices=("yes", "no", "optional")),
            _text("hazard", "hazardous content"),
            _text(
                "holds", "holds or may hold", description="which of these, separated by semicolons: " + ", ".join(HELD)
            ),
            _SOURCE,
        ),
        ("material",),
        "What is not a number about a class of glass.",
    ),
    Table(
        "leaf_details",
        (
            _MATERIAL,
            _text("metal", required=True, description="chemical symbols, most first"),
            _text("fineness", description="parts in a thousand, as sold"),
            _text("form", required=True, choices=("leaf", "foil", "sheet")),
            _text("suited", "fit to fire", required=True, choices=OUTCOMES),
            _text("why", required=True),
            _text("handling"),
            _SOURCE,
        ),
        ("material",),
        "What is not a number about a leaf or foil.",
    ),
    Table(
        "property_values",
        (
            _MATERIAL,
            _text("property", required=True, refers="properties.key"),
            _number("value"),
            _number("low"),
            _number("high"),
            _text("as_printed", "as printed", required=True),
            _text("unit_as_printed", "unit as printed", required=True),
            _number("temp_low_c", "from", "°C", low=-273.15, high=2500),
            _number("temp_high_c", "to", "°C", low=-273.15, high=2500),
            _text("basis", required=True, choices=BASES),
            _text("seen", "how seen", required=True, choices=SEEN),
            _SOURCE,
            _text("locator", "where in it"),
            Column("preferred", "INTEGER", "preferred", required=True, low=0, high=1),
            _NOTE,
        ),
        ("material", "property", "source"),
        "One row per material, property and source, so rival figures stand side by side; one is preferred.",
        (
            _SPAN_CHECK,
            _BAND_CHECK,
            "value IS NOT NULL OR (low IS NOT NULL AND high IS NOT NULL)",
            "property != 'expansion' OR temp_high_c IS NOT NULL",
            "low IS NULL OR high IS NULL OR low <= high",
        ),
    ),
    Table(
        "expansion_points",
        (
            _MATERIAL,
            _number("temp_c", "temperature", "°C", required=True, low=-273.15, high=2500),
            _number("strain_ppm", "free strain from 20 °C", "ppm", required=True, low=-1e5, high=1e5),
            _text("seen", "how seen", required=True, choices=SEEN),
            _SOURCE,
        ),
        ("material", "temp_c"),
        "Free thermal expansion of metals from 20 °C, point by point.",
    ),
    Table(
        "fit_rules",
        (
            _KEY,
            _text("rule", required=True, description="short name of the rule, as a heading"),
            _text("glass", required=True, description="which glasses: see `judge.selectors`"),
            _text("metal", required=True, description="which metals: see `judge.selectors`"),
            _text("outcome", required=True, choices=OUTCOMES),
            _text("found", required=True),
            _text("limit_text", "limit", required=True),
            _text("why", "why it matters", required=True),
            _text("remedy", "what would change it", required=True),
            _SOURCE,
        ),
        ("key",),
        "Facts of surface and use that no stress can tell: zinc, chromium, undercoats, line work.",
    ),
    Table(
        "colour_reactions",
        (
            _KEY,
            _text("glass", required=True, description="which glasses: see `judge.selectors`"),
            _text(
                "ground",
                required=True,
                description="what the glass lies on or meets, as a kind and words joined by |: metal with families, "
                "alloy with keys of metals, leaf or wire with chemical symbols, glass with a selector; or "
                "handled with families, leaf or any, for what only the handling or the fire brings about",
            ),
            _text("outcome", required=True, choices=OUTCOMES),
            _text("change", "what happens", required=True),
            _text("why", required=True),
            _text("remedy", "what would change it"),
            _text("basis", required=True, choices=BASES),
            _SOURCE,
        ),
        ("key",),
        "What colours do on metals, over leaf and against wires.",
    ),
    Table(
        "faults",
        (
            _KEY,
            _text("symptom", required=True),
            _text("when_seen", "when it is seen", required=True),
            _text("cause", required=True),
            _text("how_to_tell", "how to tell", required=True),
            _text("remedy", required=True),
            _text("prevention", required=True),
            Column(
                "rank",
                "INTEGER",
                "rank",
                required=True,
                low=1,
                high=9,
                description="1 is the likeliest cause; the order and how to tell are our judgement",
            ),
            _text(
                "rules",
                "rules of a verdict",
                description="rules that would foresee it, separated by semicolons; or: not in a piece file",
            ),
            _text("basis", required=True, choices=BASES),
            _SOURCE,
        ),
        ("key",),
        "What goes wrong: one likely cause of one symptom a row.",
        unique=(("symptom", "rank"),),
    ),
    Table(
        "observed_firings",
        (
            _KEY,
            _MATERIAL,
            _number("kiln_c", "kiln setting", "°C", required=True, low=50, high=1600),
            _number("minutes", "time in the kiln", "min", required=True, low=0.05, high=60),
            _text("metal", required=True, refers="materials.key"),
            _number("metal_mm", "metal thickness", "mm", low=0.01, high=20, description="empty where it was not said"),
            _text("result", required=True, choices=("sugary", "orange peel", "gloss", "oxide cleared")),
            _text("basis", required=True, choices=BASES),
            _SOURCE,
            _NOTE,
        ),
        ("key",),
        "How long a glass was seen, or is said, to take in the kiln.",
    ),
    Table(
        "contacts",
        (
            _text("metal_a", required=True, description="chemical symbol or alloy words"),
            _text("metal_b", required=True),
            _number("first_melts_c", "first melts", "°C", low=0, high=2500),
            _number("low", "low", "°C"),
            _number("high", "high", "°C"),
            _text(
                "reaction",
                required=True,
                choices=("eutectic", "peritectic", "minimum", "isomorphous", "immiscible", "ternary"),
            ),
            _text("composition"),
            _text("basis", required=True, choices=BASES),
            _text("seen", "how seen", required=True, choices=SEEN),
            _SOURCE,
            _NOTE,
        ),
        ("metal_a", "metal_b", "source"),
        "Where two metals touching in the kiln first melt.",
    ),
    Table(
        "solders",
        (
            _KEY,
            _text("label", required=True),
            _text("family", required=True),
            _text("composition", required=True),
            _number("solidus_c", "solidus", "°C", low=0, high=2500),
            _number("liquidus_c", "liquidus", "°C", low=0, high=2500),
            _text("hazard"),
            _text("basis", required=True, choices=BASES),
            _text("seen", "how seen", required=True, choices=SEEN),
            _SOURCE,
            _NOTE,
        ),
        ("key",),
        "Solders and brazes by class, with where they begin and end melting.",
        ("solidus_c IS NULL OR liquidus_c IS NULL OR solidus_c <= liquidus_c",),
    ),
    Table(
        "firing_phases",
        (
            _KEY,
            _text("clay_family", "clay family", required=True),
            _text("schedule", required=True, description="name of the alternative this phase belongs to"),
            Column("phase", "INTEGER", "phase", required=True, low=1, high=9),
            _text("title", required=True),
            _text("atmosphere", required=True),
            _text("ramp", required=True),
            _number("temp_low_c", "from", "°C", required=True, low=0, high=2000),
            _number("temp_high_c", "to", "°C", required=True, low=0, high=2000),
            _number("hold_low_min", "hold, least", "min", required=True, low=0, high=1440),
            _number("hold_high_min", "hold, most", "min", required=True, low=0, high=1440),
            _text("cover"),
            _number("carbon_mm", "carbon around", "mm", low=0, high=200),
            _number("spacing_mm", "between pieces", "mm", low=0, high=200),
            _text("enamel", "fit to enamel", required=True),
            _text("basis", required=True, choices=BASES),
            _SOURCE,
            _NOTE,
        ),
        ("key",),
        "Kiln schedules for metal clays; rival ones stand side by side, the maker's leaflet governs.",
        ("temp_low_c <= temp_high_c", "hold_low_min <= hold_high_min"),
    ),
    Table(
        "practice_rules",
        (
            _KEY,
            _text("topic", required=True),
            _text("statement", required=True),
            _text("reason", "why"),
            _text("quantity"),
            _number("low"),
            _number("high"),
            _text("unit"),
            _text("applies_to", "applies to"),
            _text("basis", required=True, choices=BASES),
            _SOURCE,
            _NOTE,
        ),
        ("key",),
        "How it is done: drying, cleaning, laying, firing, stoning, after-care.",
    ),
    Table(
        "hazards",
        (
            _KEY,
            _text("step", required=True),
            _text("hazard", required=True),
            _text("caution", required=True),
            _text("trigger", required=True, description="what it holds for: see `judge.cautions`"),
            Column(
                "weight",
                "INTEGER",
                "weight",
                required=True,
                low=1,
                high=9,
                description="1 stands first among the cautions of a verdict",
            ),
            _text("basis", required=True, choices=BASES),
            _SOURCE,
            _NOTE,
        ),
        ("key",),
        "What can hurt someone, and the usual caution.",
    ),
    Table(
        "exposure_limits",
        (
            _KEY,
            _text("agent", required=True),
            _text("place", "where it holds", required=True),
            _text("limit_text", "limit", required=True),
            _number("value"),
            _text("unit"),
            _text("instrument", "law or standard", required=True),
            _text("seen", "how seen", required=True, choices=SEEN),
            _SOURCE,
            _NOTE,
        ),
        ("key",),
        "Legal and recommended limits, as pointers to the texts that govern.",
    ),
    Table(
        "reference_glasses",
        (
            _KEY,
            _MATERIAL,
            _text("label", required=True),
            _text("for_metal", "made for", description="the metal it was published for; empty where none is stated"),
            _text("published_as", "published as", required=True),
            _SOURCE,
            _text("locator", "where in it", required=True),
            _NOTE,
        ),
        ("key",),
        "Published glasses of a class, each with its composition and what was measured on it.",
    ),
    Table(
        "compositions",
        (
            _text("glass", required=True, refers="reference_glasses.key"),
            _text("component", required=True, description="an oxide, fluoride or halogen as recorded"),
            _number("wt_pct", "weight per cent", "wt%", required=True, low=0, high=100),
            _number("low", "low", "wt%", low=0, high=100),
            _number("high", "high", "wt%", low=0, high=100),
        ),
        ("glass", "component"),
        "What the published glasses are made of, as recorded, mostly as batched.",
        ("(low IS NULL OR low <= wt_pct) AND (high IS NULL OR wt_pct <= high)",),
    ),
    Table(
        "reference_values",
        (
            _text("glass", required=True, refers="reference_glasses.key"),
            _text("property", required=True, refers="properties.key"),
            _number("value", required=True, description="in the unit of its property"),
            _number("low"),
            _number("high"),
            _number(
                "temp_low_c",
                "from",
                "°C",
                low=-273.15,
                high=2500,
                description="empty for an expansion whose span was not recorded",
            ),
            _number("temp_high_c", "to", "°C", low=-273.15, high=2500),
            _text("basis", required=True, choices=BASES),
            _text("seen", "how seen", required=True, choices=SEEN),
        ),
        ("glass", "property"),
        "What was measured on the published glasses.",
        (_SPAN_CHECK, _BAND_CHECK),
    ),
    Table(
        "estimates",
        (
            _text("glass", required=True, refers="reference_glasses.key"),
            _text("property", required=True, refers="properties.key"),
            _number("value", required=True, description="in the unit of its property; an expansion over 20 to 400 °C"),
            _number("low", required=True),
            _number("high", required=True),
            _text("words", description="the hardness class that goes with a gloss setting"),
        ),
        ("glass", "property"),
        "The same properties computed from the compositions, with bands that hold nine in ten.",
        (_BAND_CHECK,),
    ),
    Table(
        "answers",
        (
            _text("glass", required=True, refers="materials.key"),
            _text("metal", required=True, refers="materials.key"),
            _text("build", required=True),
            _text("numbers", required=True, description="JSON: shares, measures and stages with their 5-95 % bands"),
        ),
        ("glass", "metal", "build"),
        "Precomputed numbers of every glass on every metal at standard build-ups.",
    ),
)

TABLE = {table.name: table for table in TABLES}


@dataclass(frozen=True)
class File:
    """One CSV file of `data_sources/`.

    `fills` maps each table it fills to the columns taken from the file; `fixed` gives columns of the table
    that the file does not have. Columns of `extra` are in the file only and are worked on by the build.
    """

    name: str
    columns: tuple[Column, ...]
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


_VALUES = TABLE["property_values"]
_FILE_VALUES = File(
    "property_values.csv",
    tuple(
        _text("unit", "unit", required=True, description="unit of value, low and high in this file")
        if c.name == "unit_as_printed"
        else c
        for c in _VALUES.columns
    ),
    {"property_values": tuple(c.name for c in _VALUES.columns)},
    description="value, low and high stand in `unit` as the source prints them; the build converts them.",
)

FILES: tuple[File, ...] = (
    _plain("sources"),
    _plain("properties"),
    _material_file("metals", "metal", "metal_details"),
    _material_file("glasses", "glass", "glass_details"),
    _material_file("leaf", "leaf", "leaf_details"),
    _FILE_VALUES,
    _plain("expansion_points"),
    _plain("fit_rules"),
    _plain("colour_reactions"),
    _plain("faults"),
    _plain("observed_firings"),
    _plain("contacts"),
    _plain("solders"),
    _plain("firing_phases"),
    _plain("practice_rules"),
    _plain("hazards"),
    _plain("exposure_limits"),
    _plain("answers"),
    *(_plain(name, "sciglass/") for name in ("reference_glasses", "compositions", "reference_values", "estimates")),
)
