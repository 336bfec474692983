"""What search hits are called, and how what they hold is shown."""

from __future__ import annotations

import re
from collections.abc import Iterable

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


_KEY = re.compile(r"[a-z0-9]+(-[a-z0-9]+)+")


def in_a_row(lines: Iterable[str]) -> str:
    """Lines of a body in one, without those that are keys alone."""
    kept = [line for line in lines if not _KEY.fullmatch(line.strip())]
    return "; ".join(kept).replace(".; ", ". ")
