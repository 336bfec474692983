"""What the rules of a piece look up in the store."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from refdb.frozen import dataclass, field
from refdb.judge.piece.states import Walk
from refdb.judge.reason import Reason
from refdb.records import Contact, FitRule, Metal, Reaction, Solder


@dataclass(frozen=True)
class Known:
    """The metal, rules of surface, contacts, solders and colour reactions of the store, and metals that steps name."""

    metal: Metal
    fit_rules: list[FitRule]
    contacts: list[Contact]
    solders: dict[str, Solder]
    reactions: list[Reaction]
    metals: Mapping[str, Metal] = field(default_factory=dict)


#: A rule of a piece that needs no sample: what it finds, in the order of the steps.
FixedRule = Callable[[Walk, Known], Iterator[Reason]]
