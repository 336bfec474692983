"""A firing that the person watched, as they write it: "GLASS: 815C 3min copper 0.75mm"."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from refdb.errors import BadInput, NotFound

if TYPE_CHECKING:
    from refdb.records import Metal
    from refdb.science.maturing import ObservedFiring
    from refdb.store.reference import Reference

_WHERE = "--observed"
_FORM = 'write it as "clear-hard-lead-free: 815C 3min copper 0.75mm"'
_FIGURE = re.compile(r"(?<![\w.-])-?\d[\d.,/-]*\s*(?:°\s*[CFK]|[A-Za-zµ]+)(?![\w-])")


def observed_firings(texts: Iterable[str], ref: Reference) -> dict[str, ObservedFiring]:
    """Read firings that ended in gloss, one a glass.

    Parameters
    ----------
    texts : iterable of str
        Each the key of a glass, a colon, the kiln setting, the minutes until it just shone, the metal and its
        thickness.
    ref : Reference
        The store, for glass and metal.

    Returns
    -------
    dict of str to ObservedFiring
        By the key of the glass.

    Raises
    ------
    BadInput, NotFound
    """
    found: dict[str, ObservedFiring] = {}
    for text in texts:
        head, colon, rest = text.partition(":")
        if not colon:
            raise BadInput(f"'{text[:60]}' names no glass", _WHERE, _FORM)
        glass = ref.glass(head.strip()).key
        if glass in found:
            raise BadInput(f"{glass} is given twice", _WHERE, "give one firing a glass")
        found[glass] = _firing(rest, ref)
    return found


def _firing(text: str, ref: Reference) -> ObservedFiring:
    from refdb.quantities import duration_min, length_m, temperature_c
    from refdb.science.heating import HEAT_OF_FAMILY, blank_of
    from refdb.science.maturing import ObservedFiring

    figures = _FIGURE.findall(text)
    metal_words = _FIGURE.sub(" ", text).split()
    if len(figures) != 3 or len(metal_words) != 1:
        raise BadInput(f"'{text.strip()[:60]}' is not a setting, a time, a metal and its thickness", _WHERE, _FORM)
    kiln_c = temperature_c(figures[0], where=_WHERE)
    minutes = duration_min(figures[1], where=_WHERE)
    metal_m = length_m(figures[2], where=_WHERE)
    metal = _metal(metal_words[0], ref)
    density = metal.band("density")
    if density is None or metal.family not in HEAT_OF_FAMILY:
        raise BadInput(f"how {metal.label.lower()} takes up heat is not known", _WHERE, "give a firing on copper")
    if not 1e-4 <= metal_m <= 1e-2:
        raise BadInput(f"{metal_m * 1e3:g} mm of metal", _WHERE, "give 0.1 to 10 mm")
    if not 50.0 <= kiln_c <= 1600.0:
        raise BadInput(f"{kiln_c:.0f} °C is no kiln setting", _WHERE, _FORM)
    return ObservedFiring(kiln_c, minutes, blank_of(metal.family, metal_m, density.value, back_glass=True))


def _metal(word: str, ref: Reference) -> Metal:
    """A metal by its key, or the sheet of the metal of this name."""
    try:
        return ref.metal(word)
    except NotFound:
        try:
            return ref.metal(f"{word}-sheet")
        except NotFound:
            pass
        raise
