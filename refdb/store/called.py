"""What a record is called beside the words that were asked, and which words of a stem a word means."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from refdb.store.search_words import IDLE, root, tokens

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

_WORD = re.compile(r"[^\W_]+")


def is_called(row: Mapping[str, Any], asked: Iterable[str]) -> bool:
    """Whether a record is called just what was asked: its title, or one of its words."""
    wanted = [root(w) for word in asked for w in tokens(word)]
    names = (row["title"], *str(row["words"]).split(";"))
    return any([root(w) for w in tokens(str(name)) if w not in IDLE] == wanted for name in names)


def is_named(row: Mapping[str, Any], asked: Iterable[str]) -> bool:
    """Whether what was asked is a record's own name: its title, up to what tells of it, in one word or several."""
    wanted = root("".join(w for word in asked for w in tokens(word)))
    return root("".join(w for w in tokens(str(row["title"]).partition(":")[0]) if w not in IDLE)) == wanted


def meant_by(word: str, apart: frozenset[str]) -> Callable[[str], bool]:
    """Whether a text holds a form of this word that is none of those it does not mean."""
    stem = root(word)

    def means(text: str) -> bool:
        return any(
            (found == word or root(found) == stem) and found not in apart for found in _WORD.findall(text.lower())
        )

    return means
