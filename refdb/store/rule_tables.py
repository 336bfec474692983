"""Tables of rules, colour reactions, faults, practice, builds that the trade knows, and hazards."""

from __future__ import annotations

from refdb.records import BASES
from refdb.store.table import KEY, NOTE, OUTCOMES, SEEN, SOURCE, ColumnSpec, Table, number, text

FIT_RULES = Table(
    "fit_rules",
    (
        KEY,
        text("rule", required=True, description="short name of the rule, as a heading"),
        text("glass", required=True, description="which glasses: see `judge.selectors`"),
        text("metal", required=True, description="which metals: see `judge.selectors`"),
        text("outcome", required=True, choices=OUTCOMES),
        text("found", required=True),
        text("limit_text", "limit", required=True),
        text("why", "why it matters", required=True),
        text("remedy", "what would change it", required=True),
        SOURCE,
    ),
    ("key",),
    "Facts of surface and use that no stress can tell: zinc, chromium, undercoats, line work.",
)

COLOUR_REACTIONS = Table(
    "colour_reactions",
    (
        KEY,
        text("glass", required=True, description="which glasses: see `judge.selectors`"),
        text(
            "ground",
            required=True,
            description="what the glass lies on or meets, as a kind and words joined by |: metal with families, "
            "alloy with keys of metals, leaf or wire with chemical symbols, glass with a selector; or "
            "handled with families, leaf or any, for what only the handling or the fire brings about",
        ),
        text("outcome", required=True, choices=OUTCOMES),
        text("change", "what happens", required=True),
        text("why", required=True),
        text("remedy", "what would change it"),
        text("basis", required=True, choices=BASES),
        SOURCE,
    ),
    ("key",),
    "What colours do on metals, over leaf and against wires.",
)

#: What a fault is seen in, in the order in which they are listed.
PARTS = ("cracks and loss", "surface", "colour", "leaf and foil", "cells, wires and lines", "metal and clay")

#: When a fault is seen, and what lies beneath it.
STAGES = ("before the fire", "in the fire", "as it cools", "later")
GROUNDS = ("copper", "silver", "gold", "steel", "metal clay", "leaf", "glass", "nothing")

SYMPTOMS = Table(
    "symptoms",
    (
        KEY,
        text("label", required=True),
        text("part", required=True, choices=PARTS, description="what it is seen in"),
        text("when_seen", "when it is seen", required=True),
        text("stages", required=True, description="when it is seen, one or more of `STAGES`, separated by semicolons"),
        text(
            "beneath",
            description="what lies beneath, one or more of `GROUNDS`, separated by semicolons; empty for anything",
        ),
        text(
            "how_to_tell", "how to tell", required=True, description="what sets it apart from others of the same words"
        ),
        text(
            "words",
            "also called",
            required=True,
            description="what people call it, separated by semicolons; words may stand at several symptoms",
        ),
        text("basis", required=True, choices=BASES),
        SOURCE,
    ),
    ("key",),
    "What is seen when something went wrong, by the words people have for it.",
    unique=(("label",),),
)

SYNONYMS = Table(
    "synonyms",
    (
        KEY,
        text("words", required=True, description="words for one thing, separated by semicolons"),
        text(
            "apart", "not meant", description="words of the same stem that mean something else, separated by semicolons"
        ),
        text("basis", required=True, choices=BASES),
        SOURCE,
    ),
    ("key",),
    "Words that people use for the same thing; a search for one finds the others.",
)

FAULTS = Table(
    "faults",
    (
        KEY,
        text("symptom", required=True, refers="symptoms.key"),
        text("cause", required=True),
        text("how_to_tell", "how to tell", required=True),
        text("remedy", required=True),
        text("prevention", required=True),
        ColumnSpec(
            "rank",
            "INTEGER",
            "rank",
            required=True,
            low=1,
            high=9,
            description="1 is the likeliest cause; the order and how to tell are our judgement",
        ),
        text(
            "rules",
            "rules of a verdict",
            description="rules that would foresee it, separated by semicolons; or: not in a piece file",
        ),
        text("basis", required=True, choices=BASES),
        SOURCE,
    ),
    ("key",),
    "What goes wrong: one likely cause of one symptom a row.",
    unique=(("symptom", "rank"),),
)

PRACTICE_RULES = Table(
    "practice_rules",
    (
        KEY,
        text("topic", required=True),
        ColumnSpec("place", "INTEGER", "place", low=1, high=99, description="where it stands within its subject"),
        text("statement", required=True),
        text("reason", "why"),
        text("quantity"),
        number("low"),
        number("high"),
        text("unit"),
        text("applies_to", "applies to"),
        text("faults", "what comes of it otherwise", description="keys of symptoms, separated by semicolons"),
        text("asked", "asked for by", description="words in which people ask for it, separated by semicolons"),
        text("basis", required=True, choices=BASES),
        SOURCE,
        NOTE,
    ),
    ("key",),
    "How it is done: drying, cleaning, laying, firing, stoning, after-care.",
)

#: Under these heads the subjects of practice are listed, in this order.
GROUPS = (
    "metal and metal clay",
    "powder and laying",
    "ways of working",
    "the fire",
    "after the last fire",
    "bench and people",
    "figures and words",
)
PRACTICE_TOPICS = Table(
    "practice_topics",
    (
        KEY,
        text("topic", required=True, description="the subject, as practice_rules.csv names it"),
        text("part", required=True, choices=GROUPS, description="under which head it is listed"),
        text("lead", required=True, description="what it is, in a sentence"),
        text("words", required=True, description="what people call it, separated by semicolons"),
        text("pictures", description="drawings that its page shows, separated by semicolons"),
        text("rules", "rules of a verdict", description="rules of the judge whose remedy stands here, by semicolons"),
        text("basis", required=True, choices=BASES),
        SOURCE,
    ),
    ("key",),
    "A subject of practice: what it is, and by which words it is asked for.",
    unique=(("topic",),),
)

#: How glass fails that does not hold; `spoils colour` is glass that holds and is still not laid so.
FAILURES = ("cracks", "chips off", "metal melts", "does not flow", "burns", "does not bond", "gas", "spoils colour")

KNOWN_PAIRS = Table(
    "known_pairs",
    (
        KEY,
        text("glass", required=True, refers="materials.key"),
        text("metal", required=True, refers="materials.key"),
        number(
            "metal_mm", "metal thickness", "mm", low=0.02, high=20, description="empty where the usual one is meant"
        ),
        number(
            "front_mm", "glass of the front", "mm", low=0, high=20, description="empty where the usual one is meant"
        ),
        number("back_mm", "glass of the back", "mm", low=0, high=20, description="0 for a bare back"),
        number("first_mm", "first coat at most", "mm", low=0.01, high=20),
        text("shape", choices=("flat", "domed"), description="empty where it is flat"),
        number("rise_mm", "rise of a dome", "mm", low=0.01, high=100),
        text("order_of_faces", choices=("front-first", "back-first", "together")),
        number("kiln_c", "kiln setting", "°C", low=100, high=1400),
        text(
            "holds", required=True, choices=("yes", "no"), description="whether the trade does it, or knows it to fail"
        ),
        text("failure", choices=FAILURES, description="how it fails, as the trade tells it"),
        text("words", "what the trade says", required=True),
        text(
            "used_for",
            "used for",
            description="rules whose limits were set with this pair in view, separated by semicolons: it is no witness "
            "for them",
        ),
        text("basis", required=True, choices=BASES),
        SOURCE,
        text("note", description="the row of another file that it rests on, as file and key, or a remark"),
    ),
    ("key",),
    "Builds the trade does daily and builds it knows to fail; verdicts are held against them.",
    (
        "(holds = 'no') = (failure IS NOT NULL)",
        "rise_mm IS NULL OR coalesce(shape, 'flat') = 'domed'",
        "coalesce(front_mm, 1) > 0 OR coalesce(back_mm, 1) > 0",
    ),
)

HAZARDS = Table(
    "hazards",
    (
        KEY,
        text("step", required=True),
        text("hazard", required=True),
        text("caution", required=True),
        text("trigger", required=True, description="what it holds for: see `judge.cautions`"),
        ColumnSpec(
            "weight",
            "INTEGER",
            "weight",
            required=True,
            low=1,
            high=9,
            description="1 stands first among the cautions of a verdict",
        ),
        text("agents", description="agents of exposure_limits whose limits bear on it, separated by semicolons"),
        text("asked", "asked for by", description="words in which people ask for it, separated by semicolons"),
        text("basis", required=True, choices=BASES),
        SOURCE,
        NOTE,
    ),
    ("key",),
    "What can hurt someone, and the usual caution.",
)

EXPOSURE_LIMITS = Table(
    "exposure_limits",
    (
        KEY,
        text("agent", required=True),
        text("place", "where it holds", required=True),
        text("limit_text", "limit", required=True),
        number("value"),
        text("unit"),
        text("instrument", "law or standard", required=True),
        text("edition", required=True, description="when it was made, or from when it holds"),
        text("seen", "how seen", required=True, choices=SEEN),
        SOURCE,
        NOTE,
    ),
    ("key",),
    "Legal and recommended limits, as pointers to the texts that govern.",
)
