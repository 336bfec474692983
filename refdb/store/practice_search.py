"""Rules of practice, kiln schedules and solders by a topic, by words, and by the metal they speak of."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from refdb.frozen import dataclass
from refdb.store.search import search
from refdb.store.search_words import EVERYWHERE, plain
from refdb.store.topics import named_topic, topic_meant

if TYPE_CHECKING:
    from collections.abc import Callable

    from refdb.records import Metal
    from refdb.store.reference import Reference

TABLES = ("practice_rules", "firing_phases", "solders")
#: Of rows that hold only some of the words, those stay that weigh at least this share of the best.
_NEARLY_AS_GOOD = 0.75
#: A whole subject is told where its names are at least this share of the words.
_MOST_OF_IT = 0.6


@dataclass(frozen=True)
class Practice:
    """What is said on something: rows of the three tables, the best first, how they were found, and all topics."""

    rows: list[dict[str, Any]]
    topics: tuple[str, ...]
    said: str = ""
    topic: str = ""

    @property
    def rules(self) -> list[dict[str, Any]]:
        """The rules of practice."""
        return [r for r in self.rows if "topic" in r]

    @property
    def work(self) -> set[str]:
        """The topics whose work it is: of a whole subject its own, not those from which a single rule was added."""
        return {self.topic} if self.topic else {str(r["topic"]) for r in self.rules}

    @property
    def phases(self) -> list[dict[str, Any]]:
        """The phases of kiln schedules, whole schedules in their order."""
        return sorted(
            (r for r in self.rows if "clay_family" in r), key=lambda r: (r["clay_family"], r["schedule"], r["phase"])
        )

    @property
    def solders(self) -> list[dict[str, Any]]:
        """The solders."""
        return [r for r in self.rows if "composition" in r]


def practice_of(ref: Reference, text: str, metal: Metal | None = None) -> Practice:
    """What is said on a topic or by words, and of one metal where it is given; all rules without either."""
    tables = {t: ref.rows(f"SELECT * FROM {t} ORDER BY 1") for t in TABLES}
    rules = sorted(tables["practice_rules"], key=lambda r: (str(r["topic"]), r["place"] or 99, str(r["key"])))
    topics = tuple(dict.fromkeys(str(r["topic"]) for r in rules))
    of_metal = _speaks_of(metal) if metal is not None else None
    if not text.strip():
        rows = rules
        if metal is not None and of_metal is not None:
            from refdb.store.own_schedule import own_phases

            rows = [*own_phases(ref, metal), *(r for t in TABLES[:2] for r in tables[t] if of_metal(r))]
        return Practice(rows, topics)
    if (named := named_topic(ref, text)) is not None:
        held = [r for r in rules if r["topic"] == named.topic and (of_metal is None or of_metal(r))]
        return Practice(held, topics, "", named.topic)
    found = search(ref, text, TABLES, 60, idle=EVERYWHERE)
    best = max((h.worth for h in found.hits), default=0.0)
    kept = [h for h in found.hits if h.whole or (not found.whole and h.worth >= _NEARLY_AS_GOOD * best)]
    by_key = {(t, str(r["key"])): r for t in TABLES for r in tables[t]}
    # Rules come before schedules and solders, each in the order in which they were found.
    rows = [by_key[h.kind, h.key] for h in sorted(kept, key=lambda h: TABLES.index(h.kind))]
    wanted = topic_meant(ref, text)
    if wanted is not None and wanted.share < (1.0 if found.whole else _MOST_OF_IT):
        wanted = None
    if wanted is not None:
        # The whole subject that is meant: what holds the words, then the rest of it, then what else holds them all.
        of_it = [r for r in rules if r["topic"] == wanted.topic.topic]
        best_of_it = [r for r in rows if r in of_it]
        rows = [*best_of_it, *(r for r in of_it if r not in best_of_it), *(r for r in rows if r not in of_it)]
    rows = [r for r in rows if of_metal is None or of_metal(r)]
    if wanted is None:
        return Practice(rows, topics, found.said("rule"))
    return Practice(rows, topics, "", wanted.topic.topic)


def rules_of(ref: Reference, topic: str) -> list[dict[str, Any]]:
    """The rules of one subject, by its name, in its order: those with a place first."""
    rows = ref.rows("SELECT * FROM practice_rules WHERE topic = ? ORDER BY key", topic)
    return sorted(rows, key=lambda r: r["place"] or 99)


#: The topic that is about clay alone.
_OF_CLAY = "metal clay"
#: The words by which rules speak of a family of metals, where they are not its name.
_SPOKEN = {"steel": ("steel", "iron"), "gilding metal": ("gilding",), "stainless steel": ("stainless",)}


def _speaks_of(metal: Metal) -> Callable[[dict[str, Any]], bool]:
    """Whether a row names this metal or its family."""
    words = {*_SPOKEN.get(metal.family, (metal.family,))}
    if metal.form == "clay":
        words.add("clay")
    if metal.key.startswith("sterling"):
        words.add("sterling")
    said = re.compile(rf"\b({'|'.join(re.escape(plain(w)) for w in sorted(words) if w)})")

    def speaks(row: dict[str, Any]) -> bool:
        if "clay_family" in row:
            return bool(metal.clay_family) and row["clay_family"] == metal.clay_family
        if "topic" in row and row["topic"] == _OF_CLAY and metal.form != "clay":
            return False
        return bool(said.search(plain_row(row)))

    return speaks


def plain_row(row: dict[str, Any]) -> str:
    """What a rule says and what it applies to, in small letters."""
    return " ".join(str(row[c] or "") for c in ("topic", "statement", "reason", "applies_to")).lower()
