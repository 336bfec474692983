"""Firings that the person watched and gives with a question: "GLASS: 815C 3min copper 0.75mm"."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from refdb.errors import BadInput
from refdb.judge.naming import Taking
from refdb.quantities.firings import FiringText, firing_of_text
from refdb.records import ObservedFiring

if TYPE_CHECKING:
    from refdb.records import Glass, Metal
    from refdb.store.reference import Reference

#: Source of what was typed with a question.
TYPED = "own-figure"
_WHERE = "--observed"
_BEFORE_FIGURES = re.compile(r"(.*):\s*(-?\d.*)", re.DOTALL)
_FORM = '"clear-hard-lead-free: 815C 3min copper 0.75mm"'


def observed_firings(texts: Iterable[str], ref: Reference, names: Taking | None = None) -> tuple[ObservedFiring, ...]:
    """Read firings, of each glass one that ended in the same result.

    Parameters
    ----------
    texts : iterable of str
        Each the key of a glass, a colon, the kiln setting, the minutes until it just shone, the metal and its
        thickness; `oxide cleared` where it is the copper that came clean.
    ref : Reference
        The store.
    names : Taking, optional
        Looks up glass and metal, and remembers how their names were taken.

    Raises
    ------
    BadInput, NotFound
    """
    names = names or Taking(ref)
    found: dict[tuple[str, str], ObservedFiring] = {}
    for text in texts:
        # A key of the person's own holds a colon itself, so that before the first figure counts.
        match = _BEFORE_FIGURES.fullmatch(text)
        head, colon, rest = (match[1], ":", match[2]) if match else text.partition(":")
        if not colon:
            raise BadInput(f"'{text[:60]}' names no glass", _WHERE, f"write it as {_FORM}")
        firing = observed_firing(ref, names.glass(head, f"{_WHERE} glass"), rest, names)
        if (firing.material, firing.result) in found:
            raise BadInput(f"{firing.material} is given twice", _WHERE, "give one firing a glass")
        found[firing.material, firing.result] = firing
    return tuple(found.values())


def observed_firing(ref: Reference, glass: Glass, text: str, names: Taking, form: str = _FORM) -> ObservedFiring:
    """Read a firing of a glass, which need not be in the store; `form` is how it ought to be written, for faults.

    Raises
    ------
    BadInput, NotFound
        It cannot be read, its metal is not known, or no glass shines so.
    """
    return firing_seen(ref, glass, firing_of_text(text, _WHERE, form), names, _WHERE)


def firing_seen(ref: Reference, glass: Glass, said: FiringText, names: Taking, where: str) -> ObservedFiring:
    """A firing of a glass that is read; `where` names its place in messages.

    Raises
    ------
    BadInput, NotFound
        Its metal is not known, or no glass shines so.
    """
    from refdb.judge.own.kiln import offset_of
    from refdb.judge.piece.observed_firing import pin_or_refuse
    from refdb.science.firing.heating import HEAT_OF_FAMILY

    metal = _metal(said.metal, names)
    if metal.band("density") is None or metal.family not in HEAT_OF_FAMILY:
        raise BadInput(f"how {metal.small} takes up heat is not known", where, "give a firing on copper")
    firing = ObservedFiring(
        f"typed-{glass.key}",
        glass.key,
        said.kiln_c,
        said.minutes,
        metal.key,
        said.metal_m * 1e3,
        said.result,
        "measured",
        TYPED,
    )
    try:
        pin_or_refuse(firing, glass, metal, offset_of(ref.kiln_offset()))
    except BadInput as bad:
        raise BadInput(bad.what, where, bad.todo) from None
    return firing


def _metal(word: str, names: Taking) -> Metal:
    """A metal by its name; its thickness is given elsewhere."""
    return names.metal(word, f"{_WHERE} metal", f"write it as {_FORM}")
