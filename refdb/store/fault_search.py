"""Faults by a person's words: FTS5 of SQLite stems and ranks them, one table says which words mean the same sight."""

from __future__ import annotations

import re
import sqlite3
from difflib import SequenceMatcher
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from refdb.records import Fault
    from refdb.store.reference import Reference

_LONGEST, _MOST_NEAR = 200, 3
#: Words that name no symptom, as people put them round one.
_IDLE = frozenset(
    ("a", "after", "again", "all", "an", "and", "are", "at", "came", "come", "did", "do", "does", "enamel", "glass",
     "got", "had", "has", "have", "how", "in", "is", "it", "its", "me", "my", "not", "of", "off", "on", "or", "piece",
     "so", "still", "that", "the", "there", "this", "to", "up", "was", "went", "were", "what", "when", "why", "with",
     ))  # fmt: skip
#: Words people use for the same sight; they are looked for where the word itself finds nothing.
_ALIKE = (
    "spot speck dot mark",
    "crack craze hairline split fissure fracture break broke broken",
    "chip spall flake shell lift pop detach fell fall",
    "bow warp bend bent curl buckle",
    "cloud cloudy milky haze hazy dull fog foggy mist misty matt",
    "pit pinhole hole crater void",
    "yellow lemon amber",
    "brown dark black burn",
    "leaf foil",
    "blister bubble foam",
    "bead crawl",
    "bump bumpy peel rough uneven",
    "vanish disappear dissolve melt sink",
    "scratch scrape rub",
    "stick stuck glue",
    "tear torn split",
    "film bloom scum",
)
_EITHER = re.compile(r"[,;/?!.]| or | and ")


def words_of(text: str) -> list[str]:
    """The words of a question, in small letters and without idle ones."""
    return [word for word in re.findall(r"[^\W_]+", text.lower()) if word not in _IDLE]


def matching(ref: Reference, text: str) -> list[Fault]:
    """The causes meant, for each thing named between commas, "or" and "and".

    Of each thing those whose symptom holds every word, else with words for the same sight, else those that hold them
    anywhere. Symptoms come in order of BM25, which favours short ones, and the causes of one likeliest first. Words
    may be the beginnings of longer ones.
    """
    faults = {fault.key: fault for fault in ref.faults()}
    keys: dict[str, None] = {}
    for one in _EITHER.split(f" {text[:_LONGEST].lower()} "):
        keys |= dict.fromkeys(_keys(ref, words_of(one)))
    return [faults[key] for key in keys]


def _keys(ref: Reference, words: Sequence[str]) -> list[str]:
    if not words:
        return []
    for columns in ("{title}", "{title body}"):
        for terms in ([_any_of([word]) for word in words], [_any_of([word, *_alike(word)]) for word in words]):
            found = ref.rows(
                "WITH hits AS MATERIALIZED (SELECT key, bm25(search, 0.0, 0.0, 1.0, 0.0) AS score FROM search "
                "WHERE search MATCH ? AND kind = 'faults') "
                "SELECT key FROM hits JOIN faults USING (key) "
                "ORDER BY min(score) OVER (PARTITION BY symptom), symptom, rank",
                f"{columns} : ({' AND '.join(terms)})",
            )
            if found:
                return [row["key"] for row in found]
    return []


def _any_of(words: Iterable[str]) -> str:
    """The term of FTS5 that any of these words, or of those they begin, satisfies."""
    return "(" + " OR ".join(f'"{word}"*' for word in words) + ")"


@lru_cache(maxsize=256)
def _alike(word: str) -> tuple[str, ...]:
    """The words for the same sight as one with this stem."""
    thesaurus = sqlite3.connect(":memory:")
    try:
        thesaurus.execute("CREATE VIRTUAL TABLE alike USING fts5(words, tokenize = 'porter unicode61')")
        thesaurus.executemany("INSERT INTO alike VALUES (?)", [(group,) for group in _ALIKE])
        groups = thesaurus.execute("SELECT words FROM alike WHERE alike MATCH ?", (f'"{word}"',)).fetchall()
    finally:
        thesaurus.close()
    return tuple(" ".join(group for (group,) in groups).split())


def nearest_symptoms(faults: Iterable[Fault], text: str) -> list[str]:
    """The symptoms whose words are spelt most like the words of a question."""
    asked = words_of(text[:_LONGEST])

    def likeness(symptom: str) -> float:
        words = words_of(symptom)
        return sum(max((SequenceMatcher(None, s, w).ratio() for w in words), default=0.0) for s in asked)

    symptoms = list(dict.fromkeys(f.symptom for f in faults))
    return sorted(symptoms, key=lambda s: (-likeness(s), s))[:_MOST_NEAR]
