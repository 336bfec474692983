"""An answer held against its question: what of it is left unanswered, and whether it answers anything of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from refdb.ask.said import FILLERS, is_said
from refdb.frozen import replace
from refdb.store.search_words import EVERYWHERE, tokens

if TYPE_CHECKING:
    from refdb.ask.answers import Answered
    from refdb.store.reference import Reference

#: Kinds of answer that repeat the words of the question in how they understood it.
_REPEATED = ("practice", "cautions", "fault")


def measured(ref: Reference, low: str, found: Answered) -> Answered | None:
    """The answer with the words of a sentence that it says nothing of; None where it holds nothing that was asked."""
    from refdb.store.unmet import unmet

    idle = EVERYWHERE | FILLERS | {w for w in tokens(low) if is_said(w)}
    told = found.lines if found.kind in _REPEATED else (found.understood, *found.lines)
    left = unmet(ref, low, found.keys, told, idle)
    if not (left.unknown or left.beside):
        return found
    if not (left.met or found.more.get("use")):
        return None
    return replace(found, unknown=left.unknown, beside=left.beside)
