"""Whether a coat beneath comes up through the coat above it while that one is fired."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.science.firing.doses import (
    GRAIN_FACTOR,
    LONGEST_MINUTES,
    SLOPE_FACTOR,
    THICKNESS_FACTOR,
    Ranged,
    SampledHeatUp,
    band_around,
    by_band,
    by_factor,
    capillary_time_at,
    capillary_time_m,
    checked_thickness,
    sampled_heat_up,
    stage_capillary_times_m,
    tension_drawn,
    time_reaching_s,
)
from refdb.science.firing.fluidity import FiringCurve, refusal
from refdb.science.firing.heating import LONGEST_S, USUAL_KILN, Blank, Kiln
from refdb.science.firing.levelling import GLOSS_SLOPE
from refdb.science.firing.sintering import USUAL_GRAINS

Array = NDArray[np.float64]


@dataclass(frozen=True)
class PullThrough:
    """What a firing does to a coat beneath another.

    Attributes
    ----------
    under, over : str
        The glasses.
    index : Ranged or None
        Fraction of its own capillary time to gloss that the under coat gets in this firing. Its order is physics;
        what it means for the eye is set by what the trade has seen. None when it cannot be said.
    reason : str
        Why nothing can be said; empty otherwise.
    """

    under: str
    over: str
    index: Ranged | None
    reason: str = ""


@lru_cache(maxsize=512)
def pull_through(
    under: FiringCurve | None,
    over: FiringCurve | None,
    kiln_c: float,
    blank: Blank,
    under_thickness_m: float,
    over_thickness_m: float,
    *,
    minutes: float | None = None,
    total_glass_m: float | None = None,
    kiln: Kiln = USUAL_KILN,
    names: tuple[str, str] = ("under coat", "over coat"),
    one_glass: bool = False,
) -> PullThrough:
    """Return how far an under coat is on its way through the coat above it.

    Parameters
    ----------
    under, over : FiringCurve or None
        Curves of the glass beneath and of the glass above.
    kiln_c : float
        Kiln setting, °C.
    blank : Blank
        The metal.
    under_thickness_m, over_thickness_m : float
        Fired thicknesses.
    minutes : float, optional
        Time in the kiln; by default until the over coat shines.
    total_glass_m : float, optional
        Glass on both faces, for the heat-up; by default twice the two coats.
    kiln : Kiln
    names : tuple of str
        Names of the two glasses.
    one_glass : bool
        Whether both are the same glass, so that they are as hard as each other however hard that is. Two glasses of
        which the same is known are not.

    Raises
    ------
    BadInput
        For a thickness, time or setting that cannot be.
    """
    thickness = checked_thickness(under_thickness_m), checked_thickness(over_thickness_m)
    if minutes is not None and not 0.0 < minutes <= LONGEST_MINUTES:
        raise BadInput(
            f"a firing lasts more than 0 and at most {LONGEST_MINUTES:g} minutes here",
            "minutes",
            "give the time in the kiln",
        )
    reason = refusal(under, kiln_c, names[0]) or refusal(over, kiln_c, names[1])
    if reason or under is None or over is None:
        return PullThrough(*names, None, reason)
    total = glass_of_two(*thickness) if total_glass_m is None else total_glass_m
    heat = sampled_heat_up(float(kiln_c), blank, total, kiln)
    index = _index(heat, (under, over), thickness, minutes, one_glass)
    if index is None:
        reason = f"at {kiln_c:.0f} °C the {names[1]} does not shine within {LONGEST_MINUTES:g} minutes"
    return PullThrough(*names, index, reason)


def _index(
    heat: SampledHeatUp,
    curves: tuple[FiringCurve, FiringCurve],
    thickness_m: tuple[float, float],
    minutes: float | None,
    one_glass: bool,
) -> Ranged | None:
    """The index of an under and an over coat; None when the firing ends with gloss and gloss never comes.

    ∫γ/η dt of the under coat in this firing, over what its own thickness needs for gloss. Sampled over kiln, thickness,
    grains and both curves, whose errors are taken as independent unless they are one glass.
    """
    (under, over), tension = curves, tension_drawn()
    moved_over = by_band("curve", 0.0, over.low_k, over.high_k)
    moved_under = moved_over if one_glass else by_band("curve beneath", 0.0, under.low_k, under.high_k)
    volume = by_factor("grains", USUAL_GRAINS.volume_m3, GRAIN_FACTOR)
    slope = by_factor("slope", GLOSS_SLOPE, SLOPE_FACTOR)
    to_gloss_under, to_gloss_over = (
        stage_capillary_times_m(by_factor("thickness", h, THICKNESS_FACTOR), volume, slope)[2] for h in thickness_m
    )
    if minutes is None:
        of_over = capillary_time_m(heat.time_s, heat.piece_c, over, tension, moved_over)
        ends = time_reaching_s(heat.time_s, of_over, to_gloss_over)
        if not np.isfinite(ends[0]):
            return None
        ends = np.minimum(ends, LONGEST_S)
    else:
        ends = np.full(tension.size, minutes * 60.0)
    of_under = capillary_time_m(heat.time_s, heat.piece_c, under, tension, moved_under)
    return band_around(capillary_time_at(heat.time_s, of_under, ends) / to_gloss_under)


def glass_of_two(under_m: float, over_m: float) -> float:
    """Glass on both faces [m] where only two coats of one are known: the other carries as much."""
    return 2.0 * (under_m + over_m)
