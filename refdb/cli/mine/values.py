"""What stands behind the options of own materials: keys of the reference, and the class that was meant."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from refdb.cli.common import opened, say_taken, store_path, typed
from refdb.errors import Ambiguous, BadInput, NotFound
from refdb.plan.own.materials import NONE, clear_alike
from refdb.plan.own.materials import known_keys as keys_of_reference


def known_keys() -> dict[str, Collection[str]]:
    """Keys of the reference by kind, as `plan.own.materials.known_keys` tells them."""
    with opened(making=True) as ref:
        return keys_of_reference(ref)


def class_named(kind: str, texts: dict[str, str]) -> dict[str, str]:
    """What was typed, with the key of the class that was named with --like; never one of the person's own."""
    text = texts.get("like", "")
    if not text.strip() or text.strip().lower() == NONE:
        return texts
    from refdb.judge.naming import Taking
    from refdb.store.reference import Reference

    with Reference(store_path()) as ref:
        names = Taking(ref)
        try:
            key = names.key(typed(text), kind, "--like")
        except Ambiguous as error:
            raise BadInput(error.what, "--like", error.todo) from None
        except NotFound as error:
            raise NotFound(error.what, "--like", error.todo, error.near) from None
    say_taken(names)
    return texts | {"like": key}


def class_alike(kind: str, texts: Mapping[str, str], known: Collection[str]) -> str:
    """Key of the class that follows from what was typed of a material; "" where one was typed, or none follows.

    A jar of clear by its hardness and lead, a metal by its composition, leaf by its metals. BadInput for a
    composition that cannot be read.
    """
    if texts.get("like"):
        return ""
    if kind != "glass":
        return _metal_alike(kind, texts, known) if isinstance(known, Mapping) else ""
    return clear_alike(texts, known)


def _metal_alike(kind: str, texts: Mapping[str, str], known: Mapping[str, Any]) -> str:
    from refdb.store.workshop.alloy import class_of
    from refdb.store.workshop.composition import content_of
    from refdb.store.workshop.leaf_metals import leaf_class, leaf_symbols

    text = texts.get("alloy" if kind == "metal" else "metal", NONE)
    if text.strip().lower() == NONE:
        return ""
    if kind == "leaf":
        return leaf_class(leaf_symbols(typed(text), "--metal"), known)
    return class_of(content_of(typed(text), "--alloy"), known, texts.get("form", "sheet").strip().lower())
