"""Whether a coat beneath comes up through the coat above it while that one is fired."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from refdb.errors import BadInput
from refdb.science.firing.doses import (
    GRAIN_FACTOR,
    LONGEST_MINUTES,
    SLOPE_FACTOR,
    THICKNESS_FACTOR,
    Coat,
    Ranged,
    band_around,
    by_band,
    by_factor,
    checked_thickness,
    dose_at,
    dose_over_time,
    sampled_heat_up,
    stage_doses_m,
    tension_drawn,
    time_of_dose_s,
    together,
)
from refdb.science.firing.fluidity import FiringCurve
from refdb.science.firing.heating import LONGEST_S, USUAL_KILN, Blank, Kiln
from refdb.science.firing.levelling import GLOSS_SLOPE, bare_share, share_from_below, wicked_share
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
        Share of its own gloss dose that the under coat gets in this firing. Its order is physics; what it means
        for the eye is set by what the trade has seen. None when it cannot be told.
    fluidity_ratio : Ranged or None
        How many times as fluid the under coat is, over the firing.
    share_from_below, wicked, bare : float
        Share of the levelling flow that comes from below, share of the powder wetted from below before it closes,
        share of the face left bare by sifting; for the typical piece.
    reason : str
        Why nothing can be told; empty otherwise.
    """

    under: str
    over: str
    index: Ranged | None
    fluidity_ratio: Ranged | None = None
    share_from_below: float = 0.0
    wicked: float = 0.0
    bare: float = 0.0
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
) -> PullThrough:
    """Return how far an under coat is on its way through the coat above it.

    Parameters
    ----------
    under, over : FiringCurve or None
        Curves of the glass beneath and of the glass above; equal curves are the same glass.
    kiln_c : float
        Kiln setting, °C.
    blank : Blank
        The metal.
    under_thickness_m, over_thickness_m : float
        Fired thicknesses.
    minutes : float, optional
        Time in the kiln; by default until the over coat shines.
    total_glass_m : float, optional
        Glass on both faces, for the heat; by default twice the two coats.
    kiln : Kiln
        The kiln.
    names : tuple of str
        Names of the two glasses.

    Returns
    -------
    PullThrough

    Notes
    -----
    D = ∫γ dt/η of the under coat in this firing, over the dose that its own thickness needs for gloss (see
    `levelling.gloss_dose_m`). Sampled over kiln, thickness, grains and both curves, whose errors are taken as
    independent unless they are one glass.

    Raises
    ------
    BadInput
        For a thickness, time or setting that cannot be.
    """
    a, b = checked_thickness(under_thickness_m), checked_thickness(over_thickness_m)
    if minutes is not None and not 0.0 < minutes <= LONGEST_MINUTES:
        raise BadInput(
            f"a firing lasts more than 0 and at most {LONGEST_MINUTES:g} minutes here",
            "minutes",
            "give the time in the kiln",
        )
    reason = next(
        (why for curve, name in zip((under, over), names, strict=True) if (why := refusal(curve, kiln_c, name))), ""
    )
    if reason or under is None or over is None:
        return PullThrough(*names, None, reason=reason)
    heat = sampled_heat_up(float(kiln_c), blank, glass_of_two(a, b) if total_glass_m is None else total_glass_m, kiln)
    tension = tension_drawn()
    moved_over = by_band("curve", 0.0, over.low_k, over.high_k)
    moved_under = moved_over if under == over else by_band("curve beneath", 0.0, under.low_k, under.high_k)
    volume = by_factor("grains", USUAL_GRAINS.volume_m3, GRAIN_FACTOR)
    slope = by_factor("slope", GLOSS_SLOPE, SLOPE_FACTOR)
    _, closed_m, over_gloss_m = stage_doses_m(by_factor("thickness", b, THICKNESS_FACTOR), volume, slope)
    _, _, under_gloss_m = stage_doses_m(by_factor("thickness", a, THICKNESS_FACTOR), volume, slope)
    over_dose = dose_over_time(heat.time_s, heat.piece_c, over, tension, moved_over)
    under_dose = dose_over_time(heat.time_s, heat.piece_c, under, tension, moved_under)
    if minutes is None:
        ends = time_of_dose_s(heat.time_s, over_dose, over_gloss_m)
        if not np.isfinite(ends[0]):
            return PullThrough(
                *names,
                None,
                reason=f"at {kiln_c:.0f} °C the {names[1]} does not shine within {LONGEST_MINUTES:g} minutes",
            )
        ends = np.minimum(ends, LONGEST_S)
    else:
        ends = np.full(tension.size, minutes * 60.0)
    got, above = dose_at(heat.time_s, under_dose, ends), dose_at(heat.time_s, over_dose, ends)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(above > 0.0, got / above, np.where(got > 0.0, np.inf, 1.0))
    closes = time_of_dose_s(heat.time_s, over_dose, closed_m)
    by_then = dose_at(heat.time_s, under_dose, np.minimum(closes, ends))[0]
    fluidity = band_around(ratio)
    return PullThrough(
        *names,
        band_around(got / under_gloss_m),
        fluidity,
        float(share_from_below(a, b, fluidity.value)) if np.isfinite(fluidity.value) else 1.0,
        float(wicked_share(by_then, b)),
        bare_share(b),
    )


def glass_of_two(under_m: float, over_m: float) -> float:
    """Glass on both faces [m] where only two coats of one are known: the other carries as much."""
    return 2.0 * (under_m + over_m)


def refusal(curve: FiringCurve | None, kiln_c: float, name: str) -> str:
    """Why a glass cannot be followed at a kiln setting; empty when it can."""
    if curve is None:
        return f"no viscosity curve of the {name}: nothing pins it, or its composition is outside the model"
    return curve.beyond(kiln_c)


def pull_through_stack(
    coats: Sequence[Coat],
    kiln_c: float,
    blank: Blank,
    *,
    minutes: float | None = None,
    total_glass_m: float | None = None,
    kiln: Kiln = USUAL_KILN,
) -> list[PullThrough]:
    """Return, for the uppermost coat of a stack, how far each coat beneath is on its way through it.

    Parameters
    ----------
    coats : sequence of Coat
        From the metal upwards; the last is the one being fired. Identical neighbours count as one coat, so a
        second coat of the same glass is no coat beneath itself.
    kiln_c, blank, minutes, total_glass_m, kiln
        As for `pull_through`.

    Returns
    -------
    list of PullThrough
        Nearest coat first; empty when there is only one glass.
    """
    if not coats:
        return []
    newest, beneath = coats[-1], together(coats)[:-1]
    return [
        pull_through(
            under.curve,
            newest.curve,
            kiln_c,
            blank,
            under.thickness_m,
            newest.thickness_m,
            minutes=minutes,
            total_glass_m=total_glass_m,
            kiln=kiln,
            names=(under.glass, newest.glass),
        )
        for under in reversed(beneath)
    ]
