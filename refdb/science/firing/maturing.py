"""When a coat of powdered glass matures in a kiln: minutes to sugary, orange peel and gloss, and the reverse.

Heat-up and sintering are quick and well known; levelling sets the time. From composition alone minutes are good to
a factor of about two; one firing that was seen pins a glass to about 30 %. Oxide that dissolves from bare copper,
bubbles, binder, crystals and burnt colour are not in it: over bare copper allow about a minute after gloss.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from refdb.errors import BadInput
from refdb.science.firing.doses import (
    GRAIN_FACTOR,
    LONGEST_MINUTES,
    SLOPE_FACTOR,
    THICKNESS_FACTOR,
    Coat,
    Entry,
    Ranged,
    band_around,
    by_band,
    by_factor,
    checked_thickness,
    dose_at,
    dose_over_time,
    prepare_heat_ups,
    sampled_heat_up,
    stage_doses_m,
    tension_drawn,
    time_of_dose_s,
)
from refdb.science.firing.fluidity import OBSERVED, FiringCurve, class_curve, curve_of_estimate
from refdb.science.firing.heating import USUAL_KILN, Blank, Kiln, blank_of, heat_up
from refdb.science.firing.levelling import GLOSS_SLOPE
from refdb.science.firing.pull_through import PullThrough, pull_through, pull_through_stack, refusal
from refdb.science.firing.sintering import USUAL_GRAINS, Grains
from refdb.science.glass.estimated import hardness_class
from refdb.science.glass.surface_tension import TYPICAL_N_PER_M

__all__ = [
    "Blank", "Coat", "FiringCurve", "Kiln", "ObservedFiring", "PullThrough", "Ranged", "Setting", "Stages",
    "blank_of", "calibrated", "class_curve", "curve_of_estimate", "hardness_class", "heat_up", "kiln_setting_c",
    "maturing_minutes", "prepare_calibration", "pull_through", "pull_through_stack",
]  # fmt: skip

Array = NDArray[np.float64]

#: A glass pinned by one firing that was seen: nine tenths within this factor in the same kiln (computed: kiln,
#: thickness and reading of the moment of gloss, and fragility, which costs 10 % over 30 K).
OBSERVED_FACTOR = 1.3
FRAGILITY_PER_K = 0.1 / 30.0
#: The same for everything but the curve itself, in any kiln (computed, 500 draws).
OTHER_FACTOR = 1.5
#: Settings looked through for the reverse question, °C.
_COLDEST_C, _HOTTEST_C, _STEP_C = 450.0, 1200.0, 5.0
#: A curve is moved so far at most to meet a firing, tried at so many places in so many rounds.
_MOST_MOVED_K, _MOVES, _ROUNDS = 400.0, 33, 3


@dataclass(frozen=True)
class Stages:
    """Minutes in the kiln at which a coat stops being sugary, closes to an orange peel, and shines.

    Each is None when nothing can be told (see `reason`), and infinite when it is not reached in 15 minutes.
    """

    sugary: Ranged | None
    orange_peel: Ranged | None
    gloss: Ranged | None
    reason: str = ""


@dataclass(frozen=True)
class Setting:
    """Kiln setting, °C, with its band; None when no setting matures the glass in the time (see `reason`)."""

    setting_c: Ranged | None
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
) -> Stages:
    """Return when a coat is sugary, orange-peel and glossy at a kiln setting.

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
        All glass on both faces, for the heat; by default two such coats.
    molten_beneath_m : float
        Glass of the same kind beneath it that flows too, m.
    kiln : Kiln
        The kiln.
    grains : Grains
        The powder; finer grains mature sooner.

    Returns
    -------
    Stages
        Each with its 90 % band: sampled over kiln, thickness, grains and curve; of a glass pinned by a firing that
        was seen, a factor of 1.3, more at settings far from it.

    Notes
    -----
    Sugary to a relative density of 0.75 and orange peel from 0.95 (`sintering`), gloss from a slope of 1.1°
    (`levelling`), over the temperature of `heating.heat_up`.

    Raises
    ------
    BadInput
        For a setting or a thickness that cannot be.
    """
    checked_thickness(glass_thickness_m)
    reason = refusal(curve, kiln_c, "glass")
    if reason or curve is None:
        return Stages(None, None, None, reason)
    total = 2.0 * glass_thickness_m if total_glass_m is None else total_glass_m
    heat = sampled_heat_up(float(kiln_c), blank, total, kiln)
    thickness = by_factor("thickness", glass_thickness_m, THICKNESS_FACTOR)
    # only the new coat is rough, but all that is molten levels
    rough = grains.volume_m3 * glass_thickness_m / (glass_thickness_m + molten_beneath_m)
    volume, slope = by_factor("grains", rough, GRAIN_FACTOR), by_factor("slope", GLOSS_SLOPE, SLOPE_FACTOR)
    doses = stage_doses_m(thickness + molten_beneath_m, volume, slope, grains)
    moved = np.zeros(thickness.size) if curve.basis == OBSERVED else by_band("curve", 0.0, curve.low_k, curve.high_k)
    dose = dose_over_time(heat.time_s, heat.piece_c, curve, tension_drawn(), moved)
    minutes = [time_of_dose_s(heat.time_s, dose, wanted) / 60.0 for wanted in doses]
    told = [_pinned(float(m[0]), curve, kiln_c) if curve.basis == OBSERVED else band_around(m) for m in minutes]
    late = (
        ""
        if math.isfinite(told[2].value)
        else (f"no gloss within {LONGEST_MINUTES:g} minutes at {kiln_c:.0f} °C: too cold for this glass")
    )
    return Stages(told[0], told[1], told[2], late)


def _pinned(minutes: float, curve: FiringCurve, kiln_c: float) -> Ranged:
    away = 0.0 if curve.seen_c is None else FRAGILITY_PER_K * (kiln_c - curve.seen_c)
    factor = math.exp(math.hypot(math.log(OBSERVED_FACTOR), away))
    return Ranged(minutes, minutes / factor, minutes * factor)


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
        Of the basis "observed firing"; its band is what a factor of 1.3 in the minutes is worth.

    Raises
    ------
    BadInput
        When gloss was not what was seen, or no glass could do so.
    """
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
    start = curve or class_curve(observed.kiln_c, observed.kiln_c - 1.0, observed.kiln_c + 1.0)
    thickness = checked_thickness(observed.glass_thickness_m)
    heat = sampled_heat_up(*_entry(observed, kiln))

    wanted = float(stage_doses_m(thickness)[2])

    def move_for(minutes: float) -> float | None:
        moves = np.linspace(-_MOST_MOVED_K, _MOST_MOVED_K, _MOVES)
        for _ in range(_ROUNDS):
            dose = dose_at(
                heat.time_s,
                dose_over_time(heat.time_s, heat.piece_c[:, :1], start, TYPICAL_N_PER_M[1], moves),
                np.full(_MOVES, minutes * 60.0),
            )
            # The stiffer the glass, the less of its dose it has by then.
            at = int((dose >= wanted).sum())
            if not 0 < at < _MOVES:
                return None
            (soft, hard), (more, less) = moves[at - 1 : at + 1].tolist(), np.log(dose[at - 1 : at + 1]).tolist()
            moves = np.linspace(soft, hard, _MOVES)
        return float(soft + (hard - soft) * (more - math.log(wanted)) / (more - less))

    move = move_for(observed.minutes)
    if move is None:
        raise BadInput(
            f"no glass shines after {observed.minutes:g} minutes at {observed.kiln_c:g} °C on this metal",
            "observed firing",
            "check the minutes, the setting and the thickness of the metal",
        )
    softer, harder = (
        move_for(observed.minutes / OBSERVED_FACTOR),
        move_for(min(observed.minutes * OBSERVED_FACTOR, LONGEST_MINUTES)),
    )
    pinned = start.moved(move)
    return replace(
        pinned,
        low_k=(softer if softer is not None else move - 40.0) - move,
        high_k=(harder if harder is not None else move + 40.0) - move,
        basis=OBSERVED,
        seen_c=observed.kiln_c,
    )


def kiln_setting_c(
    curve: FiringCurve | None,
    minutes: float,
    blank: Blank,
    glass_thickness_m: float = 0.12e-3,
    *,
    total_glass_m: float | None = None,
    kiln: Kiln = USUAL_KILN,
) -> Setting:
    """Return the kiln setting at which a coat shines after a given time: `maturing_minutes` the other way round.

    Parameters
    ----------
    curve : FiringCurve or None
        Viscosity of the glass with its band.
    minutes : float
        Time in the kiln, above 0 and at most 15.
    blank, glass_thickness_m, total_glass_m, kiln
        As for `maturing_minutes`.

    Returns
    -------
    Setting
        Its band joins that of the curve and what all else (kiln, thickness, grains) is worth in kelvins.

    Raises
    ------
    BadInput
        For a time or a thickness that cannot be.
    """
    checked_thickness(glass_thickness_m)
    if not 0.0 < minutes <= LONGEST_MINUTES:
        raise BadInput(
            f"the time must be above 0 and at most {LONGEST_MINUTES:g} minutes", "minutes", "give the time in the kiln"
        )
    if curve is None:
        return Setting(None, refusal(None, 0.0, "glass"))
    total = 2.0 * glass_thickness_m if total_glass_m is None else total_glass_m
    settings = np.arange(_COLDEST_C, _HOTTEST_C + 1.0, _STEP_C)
    heat = heat_up(settings, blank, total, kiln)
    dose = dose_over_time(heat.time_s, heat.piece_c, curve, TYPICAL_N_PER_M[1])
    took = time_of_dose_s(heat.time_s, dose, stage_doses_m(glass_thickness_m)[2]) / 60.0
    early = np.flatnonzero(took <= minutes)
    if early.size == 0 or early[0] == 0 or not math.isfinite(took[early[0] - 1]):
        return Setting(None, f"no setting from {_COLDEST_C:g} to {_HOTTEST_C:g} °C brings gloss in {minutes:g} minutes")
    at = int(early[0])
    logs = np.log(took[at - 1 : at + 1])
    slope = float(logs[0] - logs[1]) / _STEP_C
    found = float(settings[at - 1]) + float(logs[0] - math.log(minutes)) / slope
    if curve.beyond(found):
        return Setting(None, curve.beyond(found))
    other = 0.0 if curve.basis == OBSERVED else math.log(OTHER_FACTOR) / slope
    return Setting(Ranged(found, found - math.hypot(curve.low_k, other), found + math.hypot(curve.high_k, other)))
