"""What search hits are called."""

from __future__ import annotations

#: The name of each kind of hit: a kind of material, or a table.
KIND_WORDS = {
    "metal": "base metal",
    "glass": "glass",
    "leaf": "leaf",
    "practice_rules": "practice",
    "practice_topics": "subject of practice",
    "hazards": "caution",
    "sources": "source",
    "fit_rules": "rule of fit",
    "colour_reactions": "colour reaction",
    "symptoms": "fault",
    "faults": "cause of a fault",
    "synonyms": "words alike",
    "observed_firings": "firing seen",
    "contacts": "metals touching",
    "solders": "solder",
    "known_pairs": "pair the trade knows",
    "firing_phases": "clay schedule",
    "exposure_limits": "exposure limit",
    "reference_glasses": "published glass",
    "aliases": "other names",
}


def kind_words(kind: str) -> str:
    """What records of a kind are called."""
    return KIND_WORDS.get(kind, kind.replace("_", " "))
