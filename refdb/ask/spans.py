"""What a sentence names: its glasses, metals and leaf, with the thickness said of a metal, and what is left of it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from refdb.ask.said import HOT, LONG, is_said
from refdb.errors import Ambiguous, NotFound
from refdb.frozen import dataclass
from refdb.records.named import Meaning, Named
from refdb.store.search_words import IDLE, tokens
from refdb.words import folded

if TYPE_CHECKING:
    from collections.abc import Sequence

    from refdb.store.reference import Reference

_LONGEST, _MOST_WORDS = 5, 40
#: Words that are names and, in a sentence, hardly ever meant as such.
_NO_NAMES = frozenset(
    ("enamel", "glass", "powder", "frit", "metal", "sheet", "leaf", "foil", "clay", "base", "bowl", "solder")
)
#: Small words as they are folded.
FOLDED = frozenset(("doe", "goe"))
#: Numbers as words, with which a thickness may be said.
_NUMBERS = frozenset(("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"))
#: A leaf lies over or under something; a metal is what a glass is on.
_OVER = re.compile(r"\b(over|above|under|beneath|on top of|top|cover|covering|covers)\b")


@dataclass(frozen=True)
class Span:
    """Words of a sentence that name a thing: from where to where, and what they mean of each kind."""

    start: int
    end: int
    words: str
    kinds: frozenset[str]


@dataclass(frozen=True)
class Sentence:
    """A sentence taken apart: its words folded, the things named in it, and the thickness said of a metal."""

    words: tuple[str, ...]
    spans: tuple[Span, ...]
    thickness: str = ""

    @property
    def rest(self) -> str:
        """The sentence without what is named in it."""
        named = {at for span in self.spans for at in range(span.start, span.end)}
        return " ".join(word for at, word in enumerate(self.words) if at not in named)

    def of_kind(self, kind: str) -> list[Span]:
        """The things that may be of a kind, in their order."""
        return [span for span in self.spans if kind in span.kinds]

    def before(self, span: Span, most: int = 3) -> str:
        """The words just before a thing."""
        return " ".join(self.words[max(0, span.start - most) : span.start])


def taken_apart(ref: Reference, text: str) -> Sentence:
    """What a sentence names, the longest names first."""
    thickness, plain = _thickness(text)
    words = folded(plain).split()[:_MOST_WORDS]
    known = _known(ref, words)
    spans: list[Span] = []
    taken: set[int] = set()
    for size in range(_LONGEST, 0, -1):
        for start in range(len(words) - size + 1):
            here = range(start, start + size)
            name = " ".join(words[start : start + size])
            if name in known and not taken & set(here):
                spans.append(Span(start, start + size, name, frozenset(known[name])))
                taken |= set(here)
    return Sentence(tuple(words), tuple(sorted(spans, key=lambda s: s.start)), thickness)


def _known(ref: Reference, words: Sequence[str]) -> dict[str, set[str]]:
    """Which runs of these words are names, and of what kinds."""
    runs = {" ".join(words[a : a + n]) for n in range(1, _LONGEST + 1) for a in range(len(words) - n + 1)} - _NO_NAMES
    # A name that says "over" hides the two things that a sentence names with it.
    # "or" is gold in French, and a small word in every sentence.
    # "of copper" would hide the clay of "hazards of copper clay".
    runs = {
        run
        for run in runs
        if " over " not in run and not run.startswith("of ") and any(w not in IDLE for w in run.split())
    }
    marks = ", ".join("?" for _ in runs)
    found: dict[str, set[str]] = {}
    for row in ref.rows(f"SELECT DISTINCT folded, kind FROM aliases WHERE folded IN ({marks})", *sorted(runs)):
        found.setdefault(row["folded"], set()).add(row["kind"])
    for row in ref.rows("SELECT kind, key, label FROM materials"):
        for name in (folded(row["label"]), folded(row["key"])):
            if name in runs:
                found.setdefault(name, set()).add(row["kind"])
    return found


def _thickness(text: str) -> tuple[str, str]:
    """The thickness said in a sentence, and the sentence without it."""
    words = text.split()[:_MOST_WORDS]
    if not any(c.isdigit() for c in text) and not _NUMBERS & set(words):
        return "", " ".join(words)
    from refdb.quantities.spoken import parted

    for at in range(len(words)):
        said, rest = parted(" ".join(words[at:]))
        if said:
            return said, " ".join([*words[:at], rest])
    return "", " ".join(words)


def meant(ref: Reference, span: Span, kind: str) -> Named | None:
    """What a thing means as one of a kind: of several meanings the first, with the others told."""
    try:
        return ref.named(span.words, kind)
    except Ambiguous as error:
        choices = [Meaning(kind, key, label) for key, label in error.choices if _there(ref, key, kind)]
        return Named(span.words, choices[0], "name", tuple(choices[1:4])) if choices else None
    except NotFound:
        return None


def _there(ref: Reference, key: str, kind: str) -> bool:
    return bool(ref.rows("SELECT 1 FROM materials WHERE key = ? AND kind = ?", key, kind))


def is_over_leaf(sentence: Sentence, span: Span) -> bool:
    """Whether a thing that may be a leaf is one: it is called so, or something goes over it."""
    return (
        "metal" not in span.kinds
        or bool(re.search(r"\b(leaf|foil|paillon)\b", span.words))
        or (bool(_OVER.search(sentence.before(span))))
    )


def is_of_materials(sentence: Sentence) -> bool:
    """Whether a sentence tells nothing beside materials and what is asked of them, which other answers are for."""
    rest = HOT.gone(LONG.gone(sentence.rest))
    words = [w for w in tokens(rest) if w not in IDLE and w not in FOLDED]
    return bool(sentence.spans) and all(is_said(w) for w in words)
