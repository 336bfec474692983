"""A sentence that asks two things, taken apart so that each can be answered."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from refdb.ask.said import FILLERS, HOT, LONG, OUTRIGHT, THICK, WHAT_IS, WRONG, is_said
from refdb.store.search_words import IDLE, tokens

if TYPE_CHECKING:
    from refdb.ask.spans import Sentence

_AND = re.compile(
    r"^(?P<one>.+?)[,;.?]? (?:and|but) (?:also |then )?"
    r"(?P<two>(?:how|what|which|why|when|where|can|could|is|are|do|does|should|must|will|may)\b.*)$"
)
#: What stands for a thing that was named before.
_FOR_IT = re.compile(r"\b(it|them|they|those|these)\b")


def in_two(low: str, sentence: Sentence) -> tuple[str, str] | None:
    """The two questions of a sentence, each with what it is about; None where it asks one thing.

    What the second leaves out, or calls "it", is what the first names; so is what the first leaves out.
    """
    found = _AND.match(low)
    if found is None:
        return None
    one, two = found["one"], found["two"]
    if not (OUTRIGHT.search(one) and (WRONG.search(one) or len(one.split()) > 1)):
        return None
    about = [" and ".join(s.words for s in sentence.spans if s.words in part) or _about(part) for part in (one, two)]
    about[0] = about[0] or " ".join(w for w in tokens(one) if w not in IDLE and WHAT_IS.search(one))
    if about[0] and _FOR_IT.search(two):
        return one, _FOR_IT.sub(about[0], two, count=1)
    if about[0] and not about[1]:
        return one, f"{two.rstrip('?')} {about[0]}"
    return (f"{one} {about[1]}" if about[1] and not about[0] else one), two


def _about(text: str) -> str:
    """The words of a question that tell what it is about."""
    for said in (HOT, LONG, THICK):
        text = said.gone(text)
    return " ".join(w for w in tokens(text) if w not in IDLE and w not in FILLERS and not is_said(w))
