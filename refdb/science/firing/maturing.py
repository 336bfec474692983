"""When a coat of powdered glass matures in a kiln: minutes to sugary, orange peel and gloss, and the reverse.

Heat-up and sintering are quick and well known; levelling sets the time. From composition alone minutes are good to
a factor of about two; one firing that was seen pins a glass to about 30 %. Oxide that dissolves from bare copper,
bubbles, binder, crystals and burnt colour are not in it: over bare copper allow about a minute after gloss.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from refdb.errors import BadInput
from refdb.frozen import dataclass, replace
from refdb.science.firing.doses import (
    GRAIN_FACTOR,
    LONGEST_MINUTES,
    SLOPE_FACTOR,
    THICKNESS_FACTOR,
    Entry,
    Ranged,
    SampledHeatUp,
    band_around,
    by_band,
    by_factor,
    capillary_time_at,
    capillary_time_m,
    checked_thickness,
    prepare_heat_ups,
    sampled_heat_up,
    stage_capillary_times_m,
    tension_drawn,
    time_reaching_s,
)
from refdb.science.firing.fluidity import FiringCurve, class_curve, refusal
from refdb.science.firing.heating import USUAL_KILN, Blank, Kiln, blank_of
from refdb.science.firing.levelling import GLOSS_SLOPE, least_film_m, levelling_depth_m
from refdb.science.firing.pull_through import pull_through
from refdb.science.firing.sintering import USUAL_GRAINS, Grains
from refdb.science.glass.surface_tension import TYPICAL_N_PER_M

__all__ = [
    "OBSERVED_FACTOR",
    "OTHER_FACTOR",
    "ObservedFiring",
    "Stages",
    "blank_of",
    "calibrated",
    "maturing_minutes",
    "molten_beneath_m",
    "prepare_calibration",
    "pull_through",
    "thin",
]

Array = NDArray[np.float64]

#: A glass pinned by one firing that was seen: nine tenths within this factor in the same kiln (computed: kiln,
#: thickness and reading of the moment of gloss, and fragility, which costs 10 % over 30 K).
OBSERVED_FACTOR = 1.3
FRAGILITY_PER_K = 0.1 / 30.0
#: The same for everything but the curve itself, in any kiln (computed, 500 draws).
OTHER_FACTOR = 1.5
#: A curve is moved so far at most to meet a firing, tried at so many places in so many rounds.
_MOST_MOVED_K, _MOVES, _ROUNDS = 400.0, 33, 3
#: What the band of a glass pinned by a firing is at an end that no move within reach meets.
_BEYOND_REACH_K = 40.0


@dataclass(frozen=True)
class Stages:
    """Minutes in the kiln at which a coat stops being sugary, closes to an orange peel, and shines.

    Each is None when nothing can be said (see `reason`), and infinite when it is not reached in 15 minutes.
    """

    sugary: Ranged | None
    orange_peel: Ranged | None
    gloss: Ranged | None
    reason: str = ""


@dataclass(frozen=True)
class ObservedFiring:
    """A firing someone watched: gloss came after these minutes at this setting, on this metal and thickness."""

    kiln_c: float
    minutes: float
    blank: Blank
    glass_thickness_m: float = 0.12e-3
    total_glass_m: float | None = None
    result: str = "gloss"


def maturing_minutes(
    curve: FiringCurve | None,
    kiln_c: float,
    blank: Blank,
    glass_thickness_m: float = 0.12e-3,
    *,
    total_glass_m: float | None = None,
    molten_beneath_m: float = 0.0,
    kiln: Kiln = USUAL_KILN,
    grains: Grains = USUAL_GRAINS,
    known_to: float = OBSERVED_FACTOR,
) -> Stages:
    """Return when a coat is sugary, orange-peel and glossy at a kiln setting; less deep than a grain it is refused.

    Parameters
    ----------
    curve : FiringCurve or None
        Viscosity of the glass with its band; None is refused.
    kiln_c : float
        Kiln setting, °C.
    blank : Blank
        The metal: mass per area, heat capacity.
    glass_thickness_m : float
        This coat once fired, m.
    total_glass_m : float, optional
        All glass on both faces, for the heat-up; by default two such coats.
    molten_beneath_m : float
        By how much molten glass beneath it deepens the film, m; see `molten_beneath_m`.
    kiln : Kiln
    grains : Grains
        The powder; finer grains mature sooner.
    known_to : float
        The factor to which minutes to gloss of a glass pinned by a firing are known at that firing's setting.

    Raises
    ------
    BadInput
        For a setting or a thickness that cannot be.
    """
    checked_thickness(glass_thickness_m)
    reason = refusal(curve, kiln_c, "glass") or thin(glass_thickness_m + molten_beneath_m, grains)
    if reason or curve is None:
        return Stages(None, None, None, reason)
    total = 2.0 * glass_thickness_m if total_glass_m is None else total_glass_m
    heat = sampled_heat_up(float(kiln_c), blank, total, kiln)
    if curve.seen_c is not None:
        factor = _factor(curve.seen_c, kiln_c, known_to)
        # Each stage follows the heat-up: a piece that is still cool is at no stage, however soft its glass may be.
        wider = math.log(factor) / math.log(OBSERVED_FACTOR)
        curve = replace(curve, low_k=max(curve.low_k * wider, -500.0), high_k=min(curve.high_k * wider, 500.0))
    minutes = _stage_minutes(heat, curve, glass_thickness_m, molten_beneath_m, grains)
    sugary, peel, gloss = (band_around(m) for m in minutes)
    if curve.seen_c is not None:
        gloss = Ranged(gloss.value, max(gloss.value / factor, peel.low), gloss.value * factor)
    if not math.isfinite(gloss.value):
        reason = f"no gloss within {LONGEST_MINUTES:g} minutes at {kiln_c:.0f} °C: too cold for this glass"
    return Stages(sugary, peel, gloss, reason)


def _stage_minutes(
    heat: SampledHeatUp, curve: FiringCurve, thickness_m: float, beneath_m: float, grains: Grains
) -> list[Array]:
    """Minutes to each stage, (1 + samples,): over kiln, thickness, grains and, of a glass not pinned, its curve.

    Sugary to a relative density of 0.75 and orange peel from 0.95 (`sintering`), gloss from a slope of 1.1°
    (`levelling`), over the temperature of `heating.heat_up`.
    """
    thickness = by_factor("thickness", thickness_m, THICKNESS_FACTOR)
    # Only the new coat is rough, but all that is molten levels.
    rough = grains.volume_m3 * thickness_m / (thickness_m + beneath_m)
    volume, slope = by_factor("grains", rough, GRAIN_FACTOR), by_factor("slope", GLOSS_SLOPE, SLOPE_FACTOR)
    stages = stage_capillary_times_m(thickness + beneath_m, volume, slope, grains)
    moved = by_band("curve", 0.0, curve.low_k, curve.high_k)
    reached = capillary_time_m(heat.time_s, heat.piece_c, curve, tension_drawn(), moved)
    return [time_reaching_s(heat.time_s, reached, wanted) / 60.0 for wanted in stages]


def thin(film_m: float, grains: Grains = USUAL_GRAINS) -> str:
    """Why no minutes can be told of molten glass of a depth; empty when they can."""
    least = least_film_m(grains)
    if film_m >= least * (1.0 - 1e-9):
        return ""
    return (
        f"{film_m * 1e3:.2g} mm of molten glass is less than one grain of powder ({least * 1e3:.2g} mm): grains that "
        "lie apart are no film, and when they shine cannot be told"
    )


def molten_beneath_m(
    curve: FiringCurve, coat_m: float, beneath: Iterable[tuple[FiringCurve | None, float]], kiln_c: float
) -> float:
    """Return by how much molten glass beneath a coat deepens its film, m, at a kiln setting.

    Parameters
    ----------
    curve : FiringCurve
        Of the coat.
    coat_m : float
        The coat once fired, m.
    beneath : iterable of (FiringCurve or None, float)
        What lies beneath it down to metal or leaf, nearest first, with its thickness, m; None where its flow is not
        known, and it is taken for stiff.
    kiln_c : float
    """
    own = float(curve.fluidity_per_pa_s(kiln_c))
    if own <= 0.0:
        return 0.0
    layers = [(m, 0.0 if c is None else float(c.fluidity_per_pa_s(kiln_c)) / own) for c, m in beneath]
    return levelling_depth_m(coat_m, layers) - coat_m


def _factor(seen_c: float, kiln_c: float, known_to: float) -> float:
    """To what factor minutes to gloss of a glass pinned by a firing are known, less well far from that firing."""
    return math.exp(math.hypot(math.log(known_to), FRAGILITY_PER_K * (kiln_c - seen_c)))


def _entry(observed: ObservedFiring, kiln: Kiln) -> Entry:
    total = 2.0 * observed.glass_thickness_m if observed.total_glass_m is None else observed.total_glass_m
    return Entry(float(observed.kiln_c), observed.blank, total, kiln)


def prepare_calibration(firings: Iterable[ObservedFiring], kiln: Kiln = USUAL_KILN) -> None:
    """Warm the pieces of several firings up together, so that `calibrated` need not one by one."""
    prepare_heat_ups(_entry(f, kiln) for f in firings)


def calibrated(curve: FiringCurve | None, observed: ObservedFiring, kiln: Kiln = USUAL_KILN) -> FiringCurve:
    """Return the curve moved in temperature so that gloss comes when it was seen to.

    Parameters
    ----------
    curve : FiringCurve or None
        What is known of the glass; with None a typical fragility is taken, which costs 10 % over 30 K.
    observed : ObservedFiring
        The firing.
    kiln : Kiln
        The kiln it was seen in.

    Returns
    -------
    FiringCurve
        Pinned at that setting; its band is what a factor of 1.3 in the minutes is worth.

    Raises
    ------
    BadInput
        When gloss was not what was seen, or no glass could do so.
    """
    _refuse_unpinning(observed)
    start = curve or class_curve(observed.kiln_c, observed.kiln_c - 1.0, observed.kiln_c + 1.0)
    wanted_m = float(stage_capillary_times_m(checked_thickness(observed.glass_thickness_m))[2])
    heat = sampled_heat_up(*_entry(observed, kiln))
    move = _move_for_gloss(heat, start, wanted_m, observed.minutes)
    if move is None:
        raise BadInput(
            f"no glass shines after {observed.minutes:g} minutes at {observed.kiln_c:g} °C on this metal",
            "observed firing",
            "check the minutes, the setting and the thickness of the metal",
        )
    softer = _move_for_gloss(heat, start, wanted_m, observed.minutes / OBSERVED_FACTOR)
    harder = _move_for_gloss(heat, start, wanted_m, min(observed.minutes * OBSERVED_FACTOR, LONGEST_MINUTES))
    return replace(
        start.moved(move),
        low_k=-_BEYOND_REACH_K if softer is None else softer - move,
        high_k=_BEYOND_REACH_K if harder is None else harder - move,
        seen_c=observed.kiln_c,
    )


def _refuse_unpinning(observed: ObservedFiring) -> None:
    if observed.result != "gloss":
        raise BadInput(
            f"'{observed.result}' does not pin a glass", "observed firing", "give the time after which it just shone"
        )
    if not 0.0 < observed.minutes <= LONGEST_MINUTES:
        raise BadInput(
            f"the time must be above 0 and at most {LONGEST_MINUTES:g} minutes",
            "observed firing",
            "give the minutes in the kiln until it shone",
        )


def _move_for_gloss(heat: SampledHeatUp, start: FiringCurve, wanted_m: float, minutes: float) -> float | None:
    """By how many kelvins a curve must be moved to reach a capillary time in so many minutes; None out of reach."""
    moves = np.linspace(-_MOST_MOVED_K, _MOST_MOVED_K, _MOVES)
    for _ in range(_ROUNDS):
        reached = capillary_time_at(
            heat.time_s,
            capillary_time_m(heat.time_s, heat.piece_c[:, :1], start, TYPICAL_N_PER_M[1], moves),
            np.full(_MOVES, minutes * 60.0),
        )
        # The stiffer the glass, the less it has reached by then.
        at = int((reached >= wanted_m).sum())
        if not 0 < at < _MOVES:
            return None
        (soft, hard), (more, less) = moves[at - 1 : at + 1].tolist(), np.log(reached[at - 1 : at + 1]).tolist()
        moves = np.linspace(soft, hard, _MOVES)
    return float(soft + (hard - soft) * (more - math.log(wanted_m)) / (more - less))
