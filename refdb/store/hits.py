"""What search hits are called, and their lines as people read them."""

from __future__ import annotations

import re

#: The name of each kind of hit: a kind of material, or a table.
KIND_WORDS = {
    "metal": "base metal",
    "glass": "glass",
    "leaf": "leaf",
    "practice_rules": "practice",
    "hazards": "caution",
    "sources": "source",
    "fit_rules": "rule of fit",
    "colour_reactions": "colour reaction",
    "faults": "fault",
    "observed_firings": "firing seen",
    "contacts": "metals touching",
    "solders": "solder",
    "known_pairs": "pair the trade knows",
    "firing_phases": "clay schedule",
    "exposure_limits": "exposure limit",
    "reference_glasses": "published glass",
    "aliases": "other names",
}
_MARK = re.compile(r"(!?)\b(key|family|optical|role|made_for|lead|cadmium|holds|undercoat):(?=\S)")
_KEPT = ("made_for", "lead", "cadmium", "holds", "undercoat")


def plain_line(line: str) -> str:
    """A line of the store on one line, without the marks by which a rule picks its materials, such as "key:a|b"."""

    def words(mark: re.Match[str]) -> str:
        kept = mark[2].replace("_", " ") + " " if mark[2] in _KEPT else ""
        return ("not " if mark[1] else "") + kept

    return ", ".join(_MARK.sub(words, "; ".join(line.splitlines())).split("|"))
