"""What look-ups ask of the judge: the limits that rest on a source, and the cautions about a material or a word."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from refdb.errors import NotFound
from refdb.judge.cautions import hazards_of_material
from refdb.judge.limits import DOME_SOURCE, RELEASE_SOURCE
from refdb.judge.rules import RULES

if TYPE_CHECKING:
    from refdb.records import Hazard, Material
    from refdb.store.reference import Reference


def limits_resting_on(source: str) -> list[tuple[str, str]]:
    """The key of each limit of a verdict that rests on a source, and what it says."""
    found = [(r.key, f"{r.title}: {r.limit_words}") for r in RULES.values() if r.limit and r.source == source]
    if source == RELEASE_SOURCE:
        found.append(("edge-release", "what an edge of glass on copper resists, the scale of the release rate"))
    if source == DOME_SOURCE:
        found.append(("dome", "how much of a dome's restraint acts"))
    return found


def hazards_about(ref: Reference, text: str) -> tuple[Material | None, list[Hazard]]:
    """The material of this key or name with its hazards, its own content first; else None and the hazards naming it.

    Raises NotFound, with the nearest keys, where the text is neither a material nor stands in a hazard.
    """
    hazards = ref.hazards()
    try:
        record = ref.material(text)
    except NotFound:
        word = re.compile(rf"\b{re.escape(text.strip())}\b", re.IGNORECASE)
        named = [h for h in hazards if text.strip() and word.search(f"{h.step}; {h.hazard}")]
        if not named:
            raise
        return None, named
    return record, hazards_of_material(hazards, record)
