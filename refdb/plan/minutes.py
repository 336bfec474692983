"""How long a firing takes, and how surely that can be told."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from refdb.judge.walk import Coat
from refdb.plan.allowances import Allowances
from refdb.plan.lines import OWN, Minutes
from refdb.plan.words import small
from refdb.quantities_text import Band
from refdb.records import Glass, Metal

if TYPE_CHECKING:
    from refdb.science.maturing import ObservedFiring

#: Where minutes rest on the class of a glass and the physics of a coat that levels.
COMPUTED = "computed-here"
#: A fire is followed so long and no longer [min].
LONGEST_MIN = 15.0


def minutes_of_firing(own: float | None, kiln_c: float, new: Sequence[Coat], metal: Metal, metal_m: float,
                      glass_m: float, allowed: Allowances,
                      seen: Mapping[str, ObservedFiring] | None = None) -> Minutes:
    """Minutes of one firing: as the person gave them, else to gloss of the slowest new coat, else what is usual.

    Parameters
    ----------
    own : float or None
        Minutes given in the file.
    kiln_c : float
        Kiln setting.
    new : sequence of Coat
        Coats that have not been through a fire; drawing does not count.
    metal : Metal
        The base metal.
    metal_m : float
        Its thickness [m].
    glass_m : float
        All glass on both faces [m].
    allowed : Allowances
        For the usual time of a fire.
    seen : mapping of str to ObservedFiring, optional
        Firings of these glasses that were watched; they narrow the range.
    """
    seen = seen or {}
    coats = [c for c in new if not c.line]
    slowest: tuple[Coat, Band, bool] | None = None
    refused: list[str] = []
    for coat in coats:
        told = gloss_minutes(coat.glass, kiln_c, coat.thickness_m.value, metal, metal_m, glass_m,
                             seen.get(coat.glass.key))
        if isinstance(told, str):
            refused.append(told)
        elif slowest is None or told[0].value > slowest[1].value:
            slowest = (coat, *told)
    note = ""
    if slowest is not None:
        coat, band, is_open = slowest
        if coat.glass.key in seen:
            note = f"; {small(coat.glass.label)} shines after {_words(band, is_open)}, by the firing you saw"
            if own is None:
                return Minutes(band, _words(band, is_open), COMPUTED, is_open,
                               f"to gloss of {small(coat.glass.label)}, by the firing you saw; the shine decides")
        elif own is None:
            return Minutes(band, _words(band, is_open), COMPUTED, is_open,
                           f"to gloss of {_hardness(coat.glass)} known by its class only; the shine decides")
        else:
            note = f"; {_hardness(coat.glass)} of its class shines after {_words(band, is_open)}"
    elif refused:
        note = f"; {refused[0]}"
    if own is not None:
        return Minutes(Band.exact(own), f"{own:g} min", OWN, False, f"as the file says{note}")
    usual = allowed["fire-short-hot"]
    return Minutes(usual.band, _words(usual.band, False), usual.source, False, f"as is usual{note}; the signs decide")


def gloss_minutes(glass: Glass, kiln_c: float, coat_m: float, metal: Metal, metal_m: float, glass_m: float,
                  seen: ObservedFiring | None = None) -> tuple[Band, bool] | str:
    """Minutes to gloss with their full range and whether that is open above, or why they cannot be told.

    The curve is that of the class (see `science.firing_curve.class_curve`), so the range is wide, unless a firing
    that was seen pins it.
    """
    from refdb.science.heating import HEAT_OF_FAMILY, blank_of
    from refdb.science.maturing import calibrated, class_curve, maturing_minutes

    low, high, set_point = (glass.band(k) for k in ("fuse_low", "fuse_high", "set_point"))
    density = metal.band("density")
    if low is None or high is None:
        return f"the kiln range of {glass.label.lower()} is not known"
    if density is None or metal.family not in HEAT_OF_FAMILY:
        return f"how {metal.label.lower()} takes up heat is not known"
    curve = class_curve((low.value + high.value) / 2, low.value, high.value, set_point.value if set_point else None)
    if seen is not None:
        curve = calibrated(curve, seen)
    blank = blank_of(metal.family, metal_m, density.value, back_glass=True)
    stages = maturing_minutes(curve, kiln_c, blank, coat_m, total_glass_m=glass_m)
    if stages.gloss is None:
        return stages.reason
    shortest, usual, longest = stages.gloss.low, stages.gloss.value, stages.gloss.high
    if not math.isfinite(shortest):
        return f"{_hardness(glass)} does not shine within {LONGEST_MIN:g} min at {kiln_c:.0f} °C: too cold for it"
    is_open = not math.isfinite(longest)
    top = longest if math.isfinite(longest) else LONGEST_MIN
    return Band(usual if math.isfinite(usual) else top, shortest, top), is_open


def _hardness(glass: Glass) -> str:
    return f"a {glass.hardness} glass" if glass.hardness != "unknown" else "a glass of unknown hardness"


def _words(band: Band, is_open: bool) -> str:
    low, high = _half(band.low), _half(band.high)
    if is_open:
        return f"{low} min or longer"
    return f"{low} min" if low == high else f"{low} to {high} min"


def _half(minutes: float) -> str:
    """Minutes to the nearest half: nobody at a kiln counts closer."""
    whole = max(1, round(minutes * 2))
    return f"{whole // 2 or ''}{'½' if whole % 2 else ''}"
