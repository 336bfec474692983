"""An answer held against its question: what of it is left unanswered, and whether it answers anything of it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from refdb.ask.said import ASIDE, FILLERS, WORN, WRONG, is_said
from refdb.ask.spans import meant, taken_apart
from refdb.frozen import replace
from refdb.store.search_words import EVERYWHERE, OF_HARM, tokens

if TYPE_CHECKING:
    from refdb.ask.answers import Answered
    from refdb.store.reference import Reference

#: Kinds of answer that repeat the words of the question in how they understood it.
_REPEATED = ("practice", "cautions", "fault")
#: What one thing is said to be more of than another; an answer of rules has to hold just that word.
_AGAINST = re.compile(r"\b(\w{3,}er) than\b")


def measured(ref: Reference, low: str, found: Answered) -> Answered | None:
    """The answer with the words of a sentence that it says nothing of; None where it holds nothing that was asked."""
    from refdb.ask.figures import without_asking
    from refdb.store.unmet import unmet

    low = ASIDE.gone(low)
    if found.kind not in _REPEATED:
        low = without_asking(low)
    idle = (
        EVERYWHERE
        | FILLERS
        | WORN
        | OF_HARM
        | {w for w in tokens(low) if is_said(w) and not (found.kind == "practice" and WRONG.search(w))}
    )
    told = found.lines if found.kind in _REPEATED else (found.understood, *found.lines)
    left = unmet(ref, low, found.keys, told, idle)
    against = _AGAINST.search(low)
    weighed = (against.group(1),) if against is not None and against.group(1) not in " ".join(told) else ()
    of_one_told = {w for w in left.beside if _is_of_family_told(ref, w, told)}
    beside = tuple(dict.fromkeys((*(w for w in left.beside if w not in of_one_told), *weighed)))
    if not (left.unknown or beside):
        return found
    if not (left.met or of_one_told or found.more.get("use")):
        return None
    return replace(found, unknown=left.unknown, beside=beside)


def _is_of_family_told(ref: Reference, word: str, told: tuple[str, ...]) -> bool:
    """Whether a word names a metal of whose family lines tell: what holds for silver is told of sterling too."""
    named = next(iter(taken_apart(ref, word).of_kind("metal")), None)
    metal = meant(ref, named, "metal") if named is not None else None
    return metal is not None and bool(re.search(rf"\b{re.escape(ref.metal(metal.key).family)}\b", " ".join(told)))
