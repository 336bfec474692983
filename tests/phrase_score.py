"""What came of the phrases of `phrases.csv`, each asked where a person would ask it.

`must_find` holds keys of records; | is or, + is and; topic:NAME is any rule of that topic of practice; nothing is a
phrase of another trade, for which nothing may be claimed. A row of `written_by` reader was written by someone who had
not seen the search; one of maker by who made it, before it was run.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from refdb.ask.cautions import cautions_about
from refdb.ask.question import answered
from refdb.errors import Ambiguous, NotFound
from refdb.store.fault_search import meant
from refdb.store.practice_search import practice_of
from refdb.store.reference import Reference
from refdb.store.search import search
from refdb.store.search_words import EVERYWHERE

PHRASES = Path(__file__).resolve().parent / "phrases.csv"
HIT, WRONG, MISSED = "hit", "wrong", "missed"
#: A record counts as found among so many of the first, a symptom or choice among so many.
_FIRST, _FIRST_FAULTS = 5, 4


@dataclass(frozen=True)
class Came:
    """What came of a phrase: hit, wrong (something else was claimed to be it) or missed, and the keys found."""

    outcome: str
    keys: tuple[str, ...]


def phrases() -> list[dict[str, str]]:
    """All phrases."""
    with PHRASES.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


class Scorer:
    """Asks phrases of an open store."""

    def __init__(self, ref: Reference) -> None:
        self.ref = ref

    @cached_property
    def topics(self) -> dict[str, set[str]]:
        """The keys of the rules of each topic."""
        found: dict[str, set[str]] = {}
        for row in self.ref.rows("SELECT key, topic FROM practice_rules"):
            found.setdefault(str(row["topic"]), set()).add(str(row["key"]))
        return found

    @cached_property
    def symptom_of(self) -> dict[str, str]:
        """The symptom of each cause."""
        return {f.key: f.symptom for f in self.ref.faults()}

    @cached_property
    def known(self) -> set[str]:
        """Every key there is."""
        tables = ("materials", "symptoms", "faults", "practice_rules", "hazards", "solders", "fit_rules")
        tables += ("exposure_limits", "colour_reactions")
        keys = {str(r["key"]) for t in tables for r in self.ref.rows(f"SELECT key FROM {t}")}
        return keys | {f"{r['metal_a']} {r['metal_b']}" for r in self.ref.rows("SELECT metal_a, metal_b FROM contacts")}

    def wanted(self, must_find: str) -> list[set[str]]:
        """What must be found: of each set at least one."""
        return [
            {
                key
                for word in part.split("|")
                for key in (self.topics[word.strip()[6:]] if word.strip().startswith("topic:") else {word.strip()})
            }
            for part in must_find.split(" + ")
        ]

    def came(self, row: dict[str, str]) -> Came:
        """What came of one phrase."""
        keys, claimed = getattr(self, f"_{row['asked_in']}")(row["phrase"])
        found = {*keys}
        if row["must_find"] == "nothing":
            return Came(WRONG if claimed else HIT, tuple(keys))
        wanted = [{self.symptom_of.get(k, k) for k in part} | part for part in self.wanted(row["must_find"])]
        if all(part & found for part in wanted):
            return Came(HIT, tuple(keys))
        return Came(WRONG if claimed else MISSED, tuple(keys))

    def _named(self, text: str, kind: str) -> tuple[list[str], bool]:
        try:
            named = self.ref.named(text, kind)
        except Ambiguous as error:
            return [key for key, _ in error.choices], False
        except NotFound:
            return [], False
        return [named.key, *(m.key for m in named.also)], True

    def _metal(self, text: str) -> tuple[list[str], bool]:
        return self._named(text, "metal")

    def _glass(self, text: str) -> tuple[list[str], bool]:
        return self._named(text, "glass")

    def _leaf(self, text: str) -> tuple[list[str], bool]:
        return self._named(text, "leaf")

    def _pair(self, text: str, first: str) -> tuple[list[str], bool]:
        a, b = (part.strip() for part in text.split("|"))
        (keys, sure), (others, also_sure) = self._named(a, first), self._named(b, "metal")
        return [*keys, *others], sure and also_sure

    def _suits(self, text: str) -> tuple[list[str], bool]:
        return self._pair(text, "glass")

    def _clears(self, text: str) -> tuple[list[str], bool]:
        return self._pair(text, "leaf")

    def _fault(self, text: str) -> tuple[list[str], bool]:
        found = meant(self.ref, text)
        return [s.key for s in found.symptoms[:_FIRST_FAULTS]], bool(found.symptoms) and not found.said

    def _practice(self, text: str) -> tuple[list[str], bool]:
        found = practice_of(self.ref, text)
        return [str(r["key"]) for r in found.rows[:_FIRST]], bool(found.rows) and not found.said

    def _cautions(self, text: str) -> tuple[list[str], bool]:
        try:
            found = cautions_about(self.ref, text)
        except NotFound:
            return [], False
        return [h.key for h in found.hazards[:_FIRST]], not found.said

    def _find(self, text: str) -> tuple[list[str], bool]:
        answer, found = answered(self.ref, text), search(self.ref, text, most=_FIRST, idle=EVERYWHERE)
        keys = [*(answer.keys if answer else ()), *(h.key for h in found.hits[:_FIRST])]
        return keys, answer is not None or (found.whole and not found.lone)
