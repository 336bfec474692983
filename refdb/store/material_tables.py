"""Tables of sources and properties, and of base metals, glasses and leaf with their figures."""

from __future__ import annotations

from refdb.records import BASES
from refdb.store.table import (
    BAND_CHECK,
    CONTENT,
    HELD,
    KEY,
    KINDS,
    MATERIAL,
    NOTE,
    OUTCOMES,
    SEEN,
    SOURCE,
    SOURCE_KINDS,
    SPAN_CHECK,
    ColumnSpec,
    Table,
    number,
    text,
)

SOURCES = Table(
    "sources",
    (
        KEY,
        text("name", required=True, description="short name for people, of this source alone"),
        text("kind", required=True, choices=SOURCE_KINDS),
        text("authors"),
        ColumnSpec("year", "INTEGER", "year", low=1500, high=2100),
        text("title", required=True),
        text("container", "published in"),
        text("locator", "where in it"),
        text("doi", "DOI"),
        text("licence"),
        text("retrieved", description="ISO date on which it was read"),
        NOTE,
    ),
    ("key",),
    "Where every number and sentence comes from.",
)

SOURCE_SUBJECTS = Table(
    "source_subjects",
    (
        SOURCE,
        text(
            "subject",
            required=True,
            description="a property and a kind of material, as in `density of metal`; or a file, as in `hazards`",
        ),
        text("seen", "how seen at best", choices=SEEN, description="empty where the rows of a file do not say"),
    ),
    ("source", "subject"),
    "What a source is cited for, and how well it was seen: a row that cites it for anything else is a slip.",
)

PROPERTIES = Table(
    "properties",
    (
        KEY,
        text("label", required=True),
        text("unit", required=True, description="canonical unit of the stored value, as pint writes it"),
        text("shown_unit", "shown in", required=True, description="unit in which people see it"),
        text("description", required=True),
    ),
    ("key",),
    "The measured or estimated quantities a material can have.",
)

PROPERTY_BOUNDS = Table(
    "property_bounds",
    (
        text("property", required=True, refers="properties.key"),
        text("kind", required=True, choices=KINDS, description="a kind of material that has this property"),
        text("unit", required=True, description="unit of the four numbers in the CSV file; the build converts them"),
        number("least", required=True, description="no such material has less"),
        number("most", required=True, description="no such material has more"),
        number("widest", required=True, low=0, description="from the low to the high end of a band, at most"),
        number("apart", required=True, low=0, description="between the bands of two sources, at most"),
        text("needed", required=True, choices=("each", "clay", "no"), description="which of this kind must have it"),
        text("none_found", "looked for, not found", description="keys of those for which no figure was found"),
        text("reason", required=True),
        SOURCE,
    ),
    ("property", "kind"),
    "Between what bounds a property of a kind of material can lie; what passes them is a slip.",
    ("least < most",),
)

ELEMENTS = Table(
    "elements",
    (
        text("symbol", required=True, description="chemical symbol"),
        text("name", required=True),
        number("density_kg_m3", "density", "kg/m³", required=True, low=500, high=23_000),
        number("melts_c", "melts", "°C", required=True, low=0, high=3600),
        text("basis", required=True, choices=BASES),
        text("seen", "how seen", required=True, choices=SEEN),
        SOURCE,
    ),
    ("symbol",),
    "Chemical elements that alloys here are made of, to check alloys against.",
)

MATERIALS = Table(
    "materials",
    (
        KEY,
        text("kind", required=True, choices=KINDS),
        text("label", required=True),
        text("family", required=True),
        text("summary", required=True),
    ),
    ("key",),
    "Every base metal, glass class and leaf metal.",
)

METAL_DETAILS = Table(
    "metal_details",
    (
        MATERIAL,
        text("form", required=True, choices=("sheet", "clay", "cast")),
        text("alloy", "composition", required=True),
        text("clay_family", "clay family"),
        text(
            "bare_surface",
            "bare surface",
            required=True,
            description="what the kiln does to it: none, cuprous oxide, zinc oxide, chromia, …",
        ),
        text("preparation"),
        SOURCE,
    ),
    ("material",),
    "What is not a number about a base metal or metal clay.",
)

GLASS_DETAILS = Table(
    "glass_details",
    (
        MATERIAL,
        text("optical", required=True, choices=("transparent", "opaque", "opalescent")),
        text("hardness", required=True, choices=("soft", "medium", "hard", "very hard", "unknown")),
        text("lead", required=True, choices=CONTENT),
        text("cadmium", required=True, choices=CONTENT),
        text(
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
        text(
            "made_for",
            "made for",
            description="families of metal, separated by semicolons; empty when it is made for none",
        ),
        text("colourant"),
        text("undercoat", description="what must lie under it, in words; empty when nothing need"),
        text("wash", "wash before laying", required=True, choices=("yes", "no", "optional")),
        text("hazard", "hazardous content"),
        text("holds", "holds or may hold", description="which of these, separated by semicolons: " + ", ".join(HELD)),
        SOURCE,
    ),
    ("material",),
    "What is not a number about a class of glass.",
)

LEAF_DETAILS = Table(
    "leaf_details",
    (
        MATERIAL,
        text("metal", required=True, description="chemical symbols, most first"),
        text("fineness", description="parts in a thousand, as sold"),
        text("form", required=True, choices=("leaf", "foil", "sheet")),
        text("suited", "fit to fire", required=True, choices=OUTCOMES),
        text("why", required=True),
        text("handling"),
        SOURCE,
    ),
    ("material",),
    "What is not a number about a leaf or foil.",
)

PROPERTY_VALUES = Table(
    "property_values",
    (
        MATERIAL,
        text("property", required=True, refers="properties.key"),
        number("value"),
        number("low"),
        number("high"),
        text("as_printed", "as printed", required=True),
        text("unit_as_printed", "unit as printed", required=True),
        number("temp_low_c", "from", "°C", low=-273.15, high=2500),
        number("temp_high_c", "to", "°C", low=-273.15, high=2500),
        text("basis", required=True, choices=BASES),
        text("seen", "how seen", required=True, choices=SEEN),
        SOURCE,
        text("locator", "where in it"),
        ColumnSpec("preferred", "INTEGER", "preferred", required=True, low=0, high=1),
        NOTE,
        text("shared_by", "shared by", description="the group of glasses that share this figure; empty when its own"),
    ),
    ("material", "property", "source"),
    "One row per material, property and source, so rival figures stand side by side; one is preferred.",
    (
        SPAN_CHECK,
        BAND_CHECK,
        "value IS NOT NULL OR (low IS NOT NULL AND high IS NOT NULL)",
        "property != 'expansion' OR temp_high_c IS NOT NULL",
        "low IS NULL OR high IS NULL OR low <= high",
    ),
)

EXPANSION_POINTS = Table(
    "expansion_points",
    (
        MATERIAL,
        number("temp_c", "temperature", "°C", required=True, low=-273.15, high=2500),
        number("strain_ppm", "free strain from 20 °C", "ppm", required=True, low=-1e5, high=1e5),
        text("seen", "how seen", required=True, choices=SEEN),
        SOURCE,
    ),
    ("material", "temp_c"),
    "Free thermal expansion of metals from 20 °C, point by point.",
)
