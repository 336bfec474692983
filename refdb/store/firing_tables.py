"""Tables of what happens in the kiln: watched firings, where metals melt at a contact, solders, schedules of clays."""

from __future__ import annotations

from refdb.records import BASES
from refdb.store.table import KEY, MATERIAL, NOTE, SEEN, SOURCE, ColumnSpec, Table, number, text

OBSERVED_FIRINGS = Table(
    "observed_firings",
    (
        KEY,
        MATERIAL,
        number("kiln_c", "kiln setting", "°C", required=True, low=50, high=1600),
        number("minutes", "time in the kiln", "min", required=True, low=0.05, high=60),
        text("metal", required=True, refers="materials.key"),
        number("metal_mm", "metal thickness", "mm", low=0.01, high=20, description="empty where it was not said"),
        text("result", required=True, choices=("sugary", "orange peel", "gloss", "oxide cleared")),
        text("basis", required=True, choices=BASES),
        SOURCE,
        NOTE,
    ),
    ("key",),
    "How long a glass was seen, or is said, to take in the kiln.",
)

CONTACTS = Table(
    "contacts",
    (
        text("metal_a", required=True, description="chemical symbol or alloy words"),
        text("metal_b", required=True),
        number("first_melts_c", "first melts", "°C", low=0, high=2500),
        number("low", "low", "°C"),
        number("high", "high", "°C"),
        text(
            "reaction",
            required=True,
            choices=("eutectic", "peritectic", "minimum", "isomorphous", "immiscible", "ternary"),
        ),
        text("composition"),
        text("basis", required=True, choices=BASES),
        text("seen", "how seen", required=True, choices=SEEN),
        SOURCE,
        NOTE,
    ),
    ("metal_a", "metal_b", "source"),
    "Where two metals touching in the kiln first melt.",
)

SOLDERS = Table(
    "solders",
    (
        KEY,
        text("label", required=True),
        text("family", required=True),
        text("composition", required=True),
        number("solidus_c", "solidus", "°C", low=0, high=2500),
        number("liquidus_c", "liquidus", "°C", low=0, high=2500),
        text("hazard"),
        text("basis", required=True, choices=BASES),
        text("seen", "how seen", required=True, choices=SEEN),
        SOURCE,
        NOTE,
    ),
    ("key",),
    "Solders and brazes by class, with where they begin and end melting.",
    ("solidus_c IS NULL OR liquidus_c IS NULL OR solidus_c <= liquidus_c",),
)

FIRING_PHASES = Table(
    "firing_phases",
    (
        KEY,
        text("clay_family", "clay family", required=True),
        text("schedule", required=True, description="name of the alternative this phase belongs to"),
        ColumnSpec("phase", "INTEGER", "phase", required=True, low=1, high=9),
        text("title", required=True),
        text("atmosphere", required=True),
        text("ramp", required=True),
        number("temp_low_c", "from", "°C", required=True, low=0, high=2000),
        number("temp_high_c", "to", "°C", required=True, low=0, high=2000),
        number("hold_low_min", "hold, least", "min", required=True, low=0, high=1440),
        number("hold_high_min", "hold, most", "min", required=True, low=0, high=1440),
        text("cover"),
        number("carbon_mm", "carbon around", "mm", low=0, high=200),
        number("spacing_mm", "between pieces", "mm", low=0, high=200),
        text("enamel", "fit to enamel", required=True),
        text("basis", required=True, choices=BASES),
        SOURCE,
        NOTE,
    ),
    ("key",),
    "Kiln schedules for metal clays; rival ones stand side by side, the maker's leaflet governs.",
    ("temp_low_c <= temp_high_c", "hold_low_min <= hold_high_min"),
)
