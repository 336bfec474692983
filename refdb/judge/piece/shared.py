"""What verdicts have in common: the rows of the store that every one of them reads, looked up when first wanted."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache, cached_property
from typing import TYPE_CHECKING

from refdb.judge.cautions import cautions_for
from refdb.judge.piece.observed_firing import Firings
from refdb.judge.piece.steps import Piece
from refdb.judge.remembered import Remembered
from refdb.judge.rules import Rule, of_fit_row, of_reaction
from refdb.judge.selectors import holding
from refdb.judge.verdict import Caution
from refdb.records import Contact, FitRule, Glass, Hazard, KilnOffset, Metal, Reaction, Solder, Source

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: Pairs of glass and metal of which is remembered what rows hold for them.
_MOST_PAIRS = 256


class Rows:
    """Rows of the store that are of no one piece, and which of them hold for a glass on a metal."""

    def __init__(self, ref: Reference) -> None:
        self._ref = ref
        self._held = Remembered[list[FitRule]](_MOST_PAIRS)
        self._cautions = Remembered[tuple[Caution, ...]](_MOST_PAIRS)

    @classmethod
    def of(cls, ref: Reference) -> Rows:
        """Those of a store; the same again where it remembers what it has read."""
        if ref.remembered is None:
            return cls(ref)
        found = ref.remembered.setdefault("rows", cls(ref))
        assert isinstance(found, cls)
        return found

    @cached_property
    def fit_rules(self) -> list[FitRule]:
        """Rows of surface and use."""
        return self._ref.fit_rules()

    @cached_property
    def contacts(self) -> list[Contact]:
        """Where metals that touch first melt."""
        return self._ref.contacts()

    @cached_property
    def solders(self) -> dict[str, Solder]:
        """Solders by key."""
        return self._ref.solders()

    @cached_property
    def reactions(self) -> list[Reaction]:
        """What colours do on their grounds."""
        return self._ref.colour_reactions()

    @cached_property
    def hazards(self) -> list[Hazard]:
        """What can hurt someone."""
        return self._ref.hazards()

    @cached_property
    def sources(self) -> dict[str, Source]:
        """Every source by key."""
        return {s.key: s for s in self._ref.sources()}

    @cached_property
    def rules(self) -> dict[str, Rule]:
        """The rules that rows of the store make, by key."""
        rules = [*map(of_fit_row, self.fit_rules), *map(of_reaction, self.reactions)]
        return {rule.key: rule for rule in rules}

    def citations(self, keys: Iterable[str]) -> dict[str, str]:
        """Those of these sources that are known, in one line each."""
        own = {"own-figure": "A figure given with the question."}
        return {k: own.get(k) or self.sources[k].citation for k in dict.fromkeys(keys) if k in own or k in self.sources}

    def holding(self, glass: Glass, metal: Metal) -> list[FitRule]:
        """The rows of surface and use that hold for a glass on a metal."""
        return self._held.of((glass, metal), lambda: holding(self.fit_rules, glass, metal))

    def cautions(self, glass: Glass | None, metal: Metal) -> tuple[Caution, ...]:
        """The cautions of a glass on a metal, or of a metal alone."""
        return self._cautions.of((glass, metal), lambda: cautions_for(self.hazards, glass, metal))


class Shared:
    """What pieces judged together have in common.

    `kiln` is what is written down of the kiln that they are fired in; None for heats, and for a kiln of nobody's.
    """

    def __init__(self, ref: Reference, own_kiln: KilnOffset | None = None) -> None:
        self.kiln, self.rows = own_kiln, Rows.of(ref)
        self.metal, self.glass, self.leaf = cache(ref.metal), cache(ref.glass), cache(ref.leaf)
        self.firings = Firings(ref)

    def look_up(self, pieces: Sequence[Piece]) -> None:
        """Look up everything that pieces name."""
        for metal in {p.base.metal for p in pieces} | {s.metal for p in pieces for s in p.steps if s.metal}:
            self.metal(metal)
        for leaf in {s.leaf for p in pieces for s in p.steps if s.leaf}:
            self.leaf(leaf)
        for glass in {s.glass for p in pieces for s in p.steps if s.glass}:
            self.firings.look_up(self.glass(glass))
        # Each of these is looked up by being wanted.
        rows = self.rows
        _ = rows.contacts, rows.solders, rows.hazards, rows.sources, rows.rules
