"""A reference store and a workshop whose records are read once and kept.

The file of the reference store cannot change while the view is open. The workshop can: what was read of it is forgotten
when it has changed.
"""

from __future__ import annotations

import json
import threading
from collections import OrderedDict
from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import Any

from refdb.browse.server.watched_workshop import ABSENT, ReadOnly, State
from refdb.records import FitRule, Glass, Hazard, Material, Metal, Property, PropertyValue, Reaction, Source
from refdb.store.pool.beside import PooledShelf
from refdb.store.reference import Reference
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.keys import NAMED, PREFIX
from refdb.store.workshop.sources import own_sources

#: Sampled numbers of own records that are remembered, a few kilobytes each.
MOST_ANSWERS = 1500
_MOST_OWN = 2000


class Answers:
    """What was sampled for pairs of which one is the person's own, or a class as a pool has it, by the records
    themselves; shared by all threads."""

    def __init__(self) -> None:
        self._held: OrderedDict[tuple[Glass, Metal], str] = OrderedDict()
        self._lock = threading.Lock()

    def __len__(self) -> int:
        return len(self._held)

    def get(self, pair: tuple[Glass, Metal]) -> str | None:
        """What was sampled for a pair, or None."""
        with self._lock:
            return self._held.get(pair)

    def put(self, pair: tuple[Glass, Metal], answer: str) -> str:
        """Remember what was sampled, and give it back; the oldest makes room."""
        with self._lock:
            self._held[pair] = answer
            while len(self._held) > MOST_ANSWERS:
                self._held.popitem(last=False)
        return answer


class Kept(PooledShelf):
    """A `PooledShelf` that remembers what it has read; look-ups by key cost no query after the first.

    Parameters
    ----------
    path : Path
        The reference store.
    workshop : Path, optional
        The workshop, or None for none at all. It is read once `renew` has been told that it can be.
    answers : Answers, optional
        Where sampled numbers of own records are kept.
    """

    def __init__(self, path: Path, workshop: Path | None = None, answers: Answers | None = None) -> None:
        super().__init__(path, workshop or Path("/nonexistent"))
        self._answers = Answers() if answers is None else answers
        self._state = ABSENT
        self.remembered = {}
        self._lists: dict[str, list[Material]] = {}
        self._looked_up: dict[tuple[str, str | None], Material] = {}
        self._fit_rules: list[FitRule] | None = None
        self._hazards: list[Hazard] | None = None
        self._reactions: list[Reaction] | None = None
        self._sources: list[Source] | None = None
        self._properties: list[Property] | None = None

    # The person's own

    def renew(self, state: State, figures: Mapping[str, PropertyValue]) -> None:
        """Forget what was read of the workshop if it has changed since, and all records if a pool's figures have."""
        if state is self._state and figures is self.figures:
            return
        if figures is not self.figures:
            self.figures = figures
            self.__dict__.pop("_every", None)
            self.__dict__.pop("_of_kind", None)
            self._sources = None
        if self._shop is not None and (not state.readable or state.opened != self._state.opened):
            self._shop.close()
            self._shop = None
        self.remembered = {}
        self._lists.clear()
        self._looked_up.clear()
        self._left_out.clear()
        self._state = state

    @property
    def shop(self) -> Workshop | None:
        """The open workshop, or None where there is none to read."""
        if self._shop is None and self._state.readable:
            self._shop = ReadOnly(self.workshop_path)
        return self._shop

    def _listed(self, kind: str) -> list[Material]:
        if kind not in self._lists:
            self._lists[kind] = super()._listed(kind)
        return self._lists[kind]

    def _own(self, key: str, kind: str | None) -> Material:
        if (key, kind) not in self._looked_up:
            found = super()._own(key, kind)
            if len(self._looked_up) >= _MOST_OWN:
                self._looked_up.clear()
            self._looked_up[(key, kind)] = found
        return self._looked_up[(key, kind)]

    def owned(self, kind: str) -> list[Material]:
        """The person's own records of a kind, as far as lists hold them."""
        return [] if self.shop is None else self._listed(kind)

    def left_out_of(self, kind: str) -> int:
        """How many of the person's own records of a kind lists leave out."""
        return self._left_out.get(kind, 0)

    def answer(self, glass: str, metal: str, build: str) -> str | None:
        """The precomputed numbers of a pair; those of own records, and of classes as a pool has them, as they were
        sampled before, or are now."""
        if not (glass.startswith(PREFIX) or metal.startswith(PREFIX) or glass in self.figures):
            return super().answer(glass, metal, build)
        from refdb.judge.fit.answer import STANDARD, alike_in_colour, answer_of
        from refdb.judge.fit.question import Question

        if build != STANDARD:
            return None
        pair = (self.glass(glass), self.metal(metal))
        found = self._answers.get(pair)
        if found is None:
            question = Question(*pair)
            answer = answer_of(question, others=alike_in_colour(self, question))
            if answer is None:
                return None
            # With every digit: the command line shows what was sampled, not what is stored.
            found = self._answers.put(pair, json.dumps(answer.to_plain(exact=True)))
        return found

    def is_known(self, glass: Glass, metal: Metal) -> bool:
        """Whether the numbers of a pair are at hand; those of a class that a pool moved are not until asked for."""
        return glass.key not in self.figures or self._answers.get((glass, metal)) is not None

    # The reference

    @cached_property
    def _every(self) -> dict[str, Material]:
        return {record.key: record for record in Reference.materials(self)}

    def material(self, key: str, kind: str | None = None) -> Material:
        """The record of this key, of one kind or of any."""
        found = self._every.get(key.strip().lower())
        if found is not None and kind in (None, getattr(found, "kind", "")):
            return found
        return super().material(key, kind)

    def materials(self, kind: str | None = None) -> list[Material]:
        """All records, of one kind or of all, in order of family and key; the person's own come last."""
        own = [record for k in NAMED if kind in (None, k) for record in self.owned(k)]
        return [*(self._every.values() if kind is None else self._of_kind.get(kind, ())), *own]

    @cached_property
    def _of_kind(self) -> dict[str, list[Material]]:
        found: dict[str, list[Material]] = {}
        for record in self._every.values():
            found.setdefault(getattr(record, "kind", ""), []).append(record)
        return found

    def fit_rules(self) -> list[FitRule]:
        """All rules of surface and use."""
        if self._fit_rules is None:
            self._fit_rules = super().fit_rules()
        return self._fit_rules

    def colour_reactions(self) -> list[Reaction]:
        """All colour reactions."""
        if self._reactions is None:
            self._reactions = super().colour_reactions()
        return self._reactions

    def hazards(self) -> list[Hazard]:
        """All hazards, weightiest first."""
        if self._hazards is None:
            self._hazards = super().hazards()
        return self._hazards

    def sources(self) -> list[Source]:
        """All sources in order of key; then, where there is a workshop, those of own records."""
        if self._sources is None:
            self._sources = [*Reference.sources(self), *self.pool_sources()]
        return self._sources if self.shop is None else [*self._sources, *own_sources()]

    def properties(self) -> list[Property]:
        """All properties in the order of the list."""
        if self._properties is None:
            self._properties = super().properties()
        return self._properties

    @cached_property
    def tables(self) -> frozenset[str]:
        """Names of the tables and views in the file."""
        return frozenset(row["name"] for row in self.rows("SELECT name FROM sqlite_master"))

    def count(self, table: str) -> int:
        """Rows of a table; zero where there is no such table."""
        if table not in self.tables:
            return 0
        counted: Any = self.rows(f'SELECT count(*) AS rows FROM "{table}"')[0]["rows"]
        return int(counted)
