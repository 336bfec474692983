"""Which words of a question the records that answer it do not hold, and which of them stand nowhere."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from refdb.frozen import dataclass
from refdb.store.search import Looker
from refdb.store.search_words import EVERYWHERE, plain_all, root, unaccented

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

    from refdb.store.reference import Reference

#: A word that stands in more records than this tells little of what a question is about.
_COMMON = 60
_SHORT = 3
_WORD = re.compile(r"[^\W_]+")


@dataclass(frozen=True)
class Unmet:
    """The words of a question that some records leave unanswered, as they were typed.

    `unknown` stand nowhere in the store, `beside` in other records alone; `met` is how many others they hold.
    """

    unknown: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    met: int = 0


def unmet(ref: Reference, text: str, keys: Iterable[str], told: Sequence[str], idle: frozenset[str]) -> Unmet:
    """What a text asks that is neither in the records of these keys nor in the lines that are told of them.

    Parameters
    ----------
    text : str
        The question.
    keys : iterable of str
        The keys of records.
    told : sequence of str
        Lines that are told.
    idle : frozenset of str
        Words that ask nothing here.
    """
    looker = Looker(ref, text, idle=idle)
    every = looker.every
    if all(w in looker.idle for w in every):
        return Unmet()
    terms, read_as, nowhere = looker.terms()
    rows = _rows_of(ref, keys)
    said = {form for line in told for w in _WORD.findall(unaccented(plain_all(line))) for form in (w, _stem(w))}
    unknown, beside, met = [*nowhere], [], 0
    for term in terms:
        if term.start or term.word in read_as:
            unknown.append(term.word)
        elif not rows.isdisjoint(term.rows) or _is_said(term.word, said):
            met += 1
        elif len(term.rows) <= _COMMON and not term.word.isdigit() and all(w in every for w in term.word.split()):
            beside.append(term.word)
    place = {w: at for at, w in reversed([*enumerate(every)])}
    first = [sorted(some, key=lambda w: place.get(w.split()[0], 0)) for some in (unknown, beside)]
    return Unmet(tuple(first[0]), tuple(first[1]), met)


def _is_said(words: str, said: Collection[str]) -> bool:
    """Whether lines tell of these words: of all, or of the last, which the others only tell apart: of fine silver.

    Glass tells nothing of stained glass.
    """
    each = words.split()
    return all(_stem(w) in said for w in (each if each[-1] in EVERYWHERE else each[-1:]))


def _stem(word: str) -> str:
    """A word without its ending; the word where hardly anything is left of it, since of care that is a car."""
    stem = root(word)
    return stem if len(stem) > _SHORT else word


def _rows_of(ref: Reference, keys: Iterable[str]) -> set[int]:
    """Where the records of these keys stand in the index."""
    wanted = {key: " ".join(_WORD.findall(key)) for key in keys}
    match = " OR ".join(f'key : "{phrase}"' for phrase in wanted.values() if phrase)
    if not match:
        return set()
    found = ref.rows("SELECT rowid, key FROM search WHERE search MATCH ? AND kind <> 'synonyms'", match)
    return {int(r["rowid"]) for r in found if r["key"] in wanted}
