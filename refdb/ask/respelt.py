"""A sentence with its slips of the pen put right, where it is plain which word was meant."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from refdb.ask.said import is_said
from refdb.store.search_words import EVERYWHERE, IDLE, plain
from refdb.store.slips import near_words
from refdb.store.spelling import likely_slip, meant_word

if TYPE_CHECKING:
    from refdb.store.reference import Reference

_WORD = re.compile(r"[^\W\d_]+")
#: Short words as they are heard, which no search of nearness tells.
_HEARD = tuple(
    (re.compile(rf"\b{heard}\b"), meant)
    for heard, meant in (
        ("w[ao]ts?", "what"), ("meny", "many"), ("led (?=enamel|glass|free|paint)", "lead "), ("kilm", "kiln"),
        ("strait", "straight"), ("(?<=stainless )steal", "steel"),
        (r"(?:don.?t|do not) know (?:what|which) (?:kind of )?(?:glass|enamel)", "unknown glass"),
        (r"(?:what|which) (?:kind of )?(?:glass|enamel) (?:is (?:this|it)|this is|it is)", "unknown glass"),
    )
)  # fmt: skip
#: Shorter words have too many neighbours.
_SHORTEST = 4


def respelt(ref: Reference, text: str) -> tuple[str, dict[str, str]]:
    """The text in which every word that nothing knows is the one it is plainly a slip of, and how each was read."""
    put_right: dict[str, str] = {}

    for heard, meant in _HEARD:
        text = heard.sub(meant, text)

    def right(found: re.Match[str]) -> str:
        word = found.group()
        if len(word) < _SHORTEST or word in IDLE or word in EVERYWHERE or _known(ref, word) or is_said(word):
            return word
        near = next((n for n in near_words(word, EVERYWHERE) if likely_slip(word, n)), "") or meant_word(ref, word)
        if not near or near in IDLE:
            return word
        put_right[word] = near
        return near

    return _WORD.sub(right, plain(text)), put_right


def _known(ref: Reference, word: str) -> bool:
    """Whether a word, or another form of it, stands in the store."""
    return bool(ref.rows("SELECT 1 FROM search WHERE search MATCH ? LIMIT 1", f'"{word}"'))
