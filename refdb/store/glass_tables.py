"""Tables of published glasses, and of what is computed: estimates and answers."""

from __future__ import annotations

from refdb.records import BASES
from refdb.store.table import BAND_CHECK, KEY, MATERIAL, NOTE, SEEN, SOURCE, SPAN_CHECK, Table, number, text

GLASS_GROUPS = Table(
    "glass_groups",
    (
        text("glass_group", "group", required=True, description="stands in the place of a material in a shared figure"),
        text("glass", required=True, refers="materials.key"),
    ),
    ("glass_group", "glass"),
    "Which glasses share a figure: one row of property_values.csv stands for all of a group.",
)

REFERENCE_GLASSES = Table(
    "reference_glasses",
    (
        KEY,
        MATERIAL,
        text("label", required=True),
        text("for_metal", "made for", description="the metal it was published for; empty where none is stated"),
        text("published_as", "published as", required=True),
        SOURCE,
        text("locator", "where in it", required=True),
        NOTE,
    ),
    ("key",),
    "Published glasses of a class, each with its composition and what was measured on it.",
)

COMPOSITIONS = Table(
    "compositions",
    (
        text("glass", required=True, refers="reference_glasses.key"),
        text("component", required=True, description="an oxide, fluoride or halogen as recorded"),
        number("wt_pct", "weight per cent", "wt%", required=True, low=0, high=100),
        number("low", "low", "wt%", low=0, high=100),
        number("high", "high", "wt%", low=0, high=100),
    ),
    ("glass", "component"),
    "What the published glasses are made of, as recorded, mostly as batched.",
    ("(low IS NULL OR low <= wt_pct) AND (high IS NULL OR wt_pct <= high)",),
)

REFERENCE_VALUES = Table(
    "reference_values",
    (
        text("glass", required=True, refers="reference_glasses.key"),
        text("property", required=True, refers="properties.key"),
        number("value", required=True, description="in the unit of its property"),
        number("low"),
        number("high"),
        number(
            "temp_low_c",
            "from",
            "°C",
            low=-273.15,
            high=2500,
            description="empty for an expansion whose span was not recorded",
        ),
        number("temp_high_c", "to", "°C", low=-273.15, high=2500),
        text("basis", required=True, choices=BASES),
        text("seen", "how seen", required=True, choices=SEEN),
    ),
    ("glass", "property"),
    "What was measured on the published glasses.",
    (SPAN_CHECK, BAND_CHECK),
)

ESTIMATES = Table(
    "estimates",
    (
        text("glass", required=True, refers="reference_glasses.key"),
        text("property", required=True, refers="properties.key"),
        number("value", required=True, description="in the unit of its property; an expansion over 20 to 400 °C"),
        number("low", required=True),
        number("high", required=True),
        text("words", description="the hardness class that goes with a gloss setting"),
    ),
    ("glass", "property"),
    "The same properties computed from the compositions, with bands that hold nine in ten.",
    (BAND_CHECK,),
)

ANSWERS = Table(
    "answers",
    (
        text("glass", required=True, refers="materials.key"),
        text("metal", required=True, refers="materials.key"),
        text("build", required=True),
        text("numbers", required=True, description="JSON: shares, measures and stages with their 5-95 % bands"),
    ),
    ("glass", "metal", "build"),
    "Precomputed numbers of every glass on every metal at standard build-ups.",
)

BUILDS = Table(
    "builds",
    (
        text("glass", required=True, refers="materials.key"),
        text("metal", required=True, refers="materials.key"),
        number(
            "first_ratio",
            description="first coat over metal that nine draws in ten stand, its like on the other face next",
        ),
        number("first_even", description="the same for five draws in ten"),
        number("bare_ratio", description="coat over metal that nine draws in ten stand, the other face bare for good"),
        number("bare_even", description="the same for five draws in ten"),
        text("refused_by", description="the rule that refuses even on the thickest metal, where one does"),
    ),
    ("glass", "metal"),
    "Precomputed thickest coat over its metal that holds, of every glass on every metal.",
)
