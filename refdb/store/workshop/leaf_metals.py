"""What a leaf of one's own is made of, and which class of leaf it is like."""

from __future__ import annotations

import re
from collections.abc import Mapping

from refdb.errors import BadInput
from refdb.store.workshop.composition import WORD_OF, pairs_of
from refdb.words import shortened

#: Elements of a leaf that spoil it in the fire.
_SPOIL_LEAF = ("Zn", "Sn", "Al", "Pb", "Cd")
SPOILT_LEAF = "burns, melts or fumes in the fire and spoils the glass"


def leaf_symbols(text: str, where: str = "metal") -> str:
    """The chemical symbols of a leaf, joined by blanks, the most first.

    Raises
    ------
    BadInput
        A word is no element, or one stands twice.
    """
    if re.search(r"\d", text):
        raise BadInput(f"'{shortened(text, 30)}' holds figures", where, 'give symbols alone, the most first: "Au Ag"')
    try:
        found = [symbol for symbol, _ in pairs_of(text, where)]
    except BadInput as bad:
        raise BadInput(bad.what, where, 'give chemical symbols, the most first: "Au Ag"') from None
    if not found or len(set(found)) < len(found):
        raise BadInput(
            f"'{shortened(text, 30)}' does not name each metal once",
            where,
            'give chemical symbols, the most first: "Au Ag"',
        )
    return " ".join(found)


def checked_leaf(symbols: str, like: str | None, classes: Mapping[str, str], where: str = "metal") -> None:
    """BadInput for the metals of a leaf that are not those of the class that it is said to be like.

    `classes` holds the symbols of each class of leaf by its key.
    """
    if like is None or like not in classes or leaf_is_like(symbols, classes[like]):
        return
    better = leaf_class(symbols, classes)
    named = ", ".join(WORD_OF.get(s, s) for s in symbols.split())
    raise BadInput(
        f"{like} is not of such a metal: {named}",
        where,
        f"say what it is like with --like {better}"
        if better
        else "no class of the reference is such a leaf: leave out what it is like",
    )


def leaf_is_like(symbols: str, of_class: str) -> bool:
    """Whether a class of leaf may stand in for a leaf: the same main metal, and no metal that the class has not."""
    mine, theirs = symbols.split(), of_class.split()
    return not theirs or (mine[:1] == theirs[:1] and set(mine) <= set(theirs))


def leaf_class(symbols: str, classes: Mapping[str, str]) -> str:
    """Key of the first class of leaf of just these metals, else of one that may stand in; "" for none."""
    same = [k for k, s in sorted(classes.items()) if s.split() == symbols.split()]
    near = [k for k, s in sorted(classes.items()) if s and leaf_is_like(symbols, s)]
    return next(iter(same or near), "")


def spoils_leaf(symbols: str) -> str:
    """Names of the metals in a leaf that burn, melt or fume in the kiln, joined by "and"; "" where it has none."""
    return " and ".join(WORD_OF[s] for s in symbols.split() if s in _SPOIL_LEAF)
