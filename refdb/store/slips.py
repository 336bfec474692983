"""Slips of spelling: one letter lost, doubled, swapped with its neighbour, or wrong. Digits are never slips."""

from __future__ import annotations

from collections.abc import Iterable

#: Shorter words have too many neighbours.
SHORTEST = 4


def apart_by_one(a: str, b: str, digits: bool = False) -> bool:
    """Whether one slip makes one text of the other (Damerau's four; equal texts are not apart).

    `digits` lets a digit be a slip as well, for what is only offered.
    """
    more = len(a) - len(b)
    if not -2 < more < 2 or a == b or not (a[:1] == b[:1] or a[1:2] == b[1:2] or a[-1:] == b[-1:]):
        return False
    at, least = 0, min(len(a), len(b))
    while at < least and a[at] == b[at]:
        at += 1
    if more == 0:
        rest = a[at + 1 :] == b[at + 1 :]
        if rest:
            return digits or not (a[at].isdigit() or b[at].isdigit())
        pair = a[at : at + 2]
        return pair == b[at : at + 2][::-1] and a[at + 2 :] == b[at + 2 :] and (digits or pair.isalpha())
    longer, shorter = (a, b) if more > 0 else (b, a)
    return longer[at + 1 :] == shorter[at:] and (digits or not longer[at].isdigit())


def near_words(word: str, known: Iterable[str]) -> list[str]:
    """Known words one slip away, those of the same first letter first; none for a short word or a number."""
    if len(word) < SHORTEST or not word.isalpha():
        return []
    found = [k for k in known if len(k) >= SHORTEST - 1 and apart_by_one(word, k)]
    return sorted(found, key=lambda k: (k[0] != word[0], k))
