"""Which glasses and metals a rule of surface and use holds for.

A selector is tokens joined by "; " that must all match: `field:word|word`, a leading "!" for "not", or `any`.
Fields of a metal: key, family, form, bare_surface. Fields of a glass: key, family, role, optical, hardness, lead,
cadmium, holds and made_for (one of the words in its list), undercoat (yes or no: whether it names one).
"""

from __future__ import annotations

from functools import cache

from refdb.errors import BadInput
from refdb.records import FitRule, Glass, Metal

METAL_FIELDS = ("key", "family", "form", "bare_surface")
#: Fields that hold several words, or others than are written in them.
_SEVERAL = frozenset(("key", "holds", "made_for", "undercoat"))
GLASS_FIELDS = ("key", "family", "role", "optical", "hardness", "lead", "cadmium", "holds", "made_for", "undercoat")


def words_of(material: Glass | Metal, name: str) -> set[str]:
    """The words a field holds: one for most, several for `holds` and `made_for`."""
    if name in ("holds", "made_for") and isinstance(material, Glass):
        return {w.strip() for w in getattr(material, name).split(";")}
    if name == "key":
        # What holds for a class holds for a jar that is like it.
        return {material.key, material.like} if material.like else {material.key}
    if name == "undercoat" and isinstance(material, Glass):
        return {"yes" if material.undercoat else "no"}
    return {str(getattr(material, name))}


@cache
def tokens_of(selector: str, fields: tuple[str, ...]) -> tuple[tuple[bool, str, frozenset[str]], ...]:
    """Each token as (inverse, field, words), `any` left out; raises BadInput for one that cannot be read."""
    read = []
    for token in (t.strip() for t in selector.split(";")):
        if token == "any":
            continue
        name, colon, words = token.lstrip("!").partition(":")
        if not colon or name not in fields or not words:
            raise BadInput(f"the selector '{token}' cannot be read", todo=f"use field:word with {', '.join(fields)}")
        read.append((token.startswith("!"), name, frozenset(w.strip() for w in words.split("|"))))
    return tuple(read)


def matches(selector: str, material: Glass | Metal) -> bool:
    """Whether a selector picks this record; raises BadInput for a selector that cannot be read."""
    fields = GLASS_FIELDS if isinstance(material, Glass) else METAL_FIELDS
    for inverse, name, words in tokens_of(selector, fields):
        # Most fields hold one word, and most rows are looked through for every verdict.
        one = name not in _SEVERAL and str(getattr(material, name)) in words
        if (one or (name in _SEVERAL and not words.isdisjoint(words_of(material, name)))) == inverse:
            return False
    return True


def holding(rules: list[FitRule], glass: Glass, metal: Metal) -> list[FitRule]:
    """The rules that hold for this glass on this metal."""
    return [r for r in rules if matches(r.glass, glass) and matches(r.metal, metal)]
