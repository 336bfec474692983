"""One firing, followed for a typical piece and for a sample of what is not known exactly: capillary times."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Iterable
from functools import lru_cache
from threading import Lock
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from refdb.errors import BadInput
from refdb.science.firing.fluidity import FiringCurve
from refdb.science.firing.heating import LONGEST_S, Blank, Charge, Kiln, heat_ups
from refdb.science.firing.levelling import GLOSS_SLOPE, gloss_capillary_time_m
from refdb.science.firing.load import LOAD_FACTOR
from refdb.science.firing.sintering import (
    CLOSED_DENSITY,
    SUGARY_DENSITY,
    USUAL_GRAINS,
    Grains,
    sintering_capillary_time_m,
)
from refdb.science.glass.surface_tension import TYPICAL_N_PER_M
from refdb.science.sampling import band_of, evenly_spread, from_band, from_factor

Array = NDArray[np.float64]

SAMPLES = 64
LONGEST_MINUTES = LONGEST_S / 60.0
#: Bands of what a firing does not tell (estimates; nine tenths of what is believed): error of the kiln's own
#: thermometer, K; fall at the door and recovery, as factors; thickness as fired and grain volume, as factors; the
#: slope that people call gloss, as a factor.
KILN_ERROR_K = 11.0
DOOR_FACTOR, RECOVERY_FACTOR = 1.67, 2.0
THICKNESS_FACTOR, GRAIN_FACTOR, SLOPE_FACTOR = 1.25, 1.6, 1.25
_INPUTS = ("kiln", "door", "recovery", "tension", "thickness", "grains", "slope", "curve", "curve beneath", "load")


class Ranged(NamedTuple):
    """A figure with the ends of its 90 % band; infinite where it lies beyond what was followed."""

    value: float
    low: float
    high: float


@lru_cache(maxsize=1)
def drawn() -> dict[str, Array]:
    """Return the fractions drawn for each input, the same every time; shape (samples,) each."""
    return evenly_spread(_INPUTS, SAMPLES)


def by_factor(name: str, value: float, factor: float) -> Array:
    """Return a value, then its draws from value/factor to value·factor, even in the logarithm; (1 + samples,)."""
    return np.concatenate([[value], from_factor(drawn()[name], value, factor)])


def by_band(name: str, value: float, low: float, high: float) -> Array:
    """Return a value, then its draws over a band; (1 + samples,)."""
    return np.concatenate([[value], from_band(drawn()[name], value, low, high)])


class SampledHeatUp(NamedTuple):
    """Times, s, shape (t,), and temperatures of the piece, °C, shape (t, 1 + samples)."""

    time_s: Array
    piece_c: Array


class Entry(NamedTuple):
    """A piece going into a kiln: setting, °C, metal, glass on both faces, m, and the kiln."""

    kiln_c: float
    blank: Blank
    glass_m: float
    kiln: Kiln


#: The heat-ups last asked for, a quarter of a megabyte each, oldest first; only touched under the lock.
_CACHED: OrderedDict[Entry, SampledHeatUp] = OrderedDict()
_MOST_CACHED = 96
_CACHE_LOCK = Lock()


def sampled_heat_up(kiln_c: float, blank: Blank, glass_m: float, kiln: Kiln) -> SampledHeatUp:
    """Return the piece over time: column 0 as given, the others with the kiln's reading, fall and recovery drawn."""
    entry = Entry(kiln_c, blank, glass_m, kiln)
    return prepare_heat_ups([entry])[entry]


def prepare_heat_ups(entries: Iterable[Entry]) -> dict[Entry, SampledHeatUp]:
    """Follow many pieces at once, so that `sampled_heat_up` need not one by one.

    Returns
    -------
    dict of Entry to SampledHeatUp
        Of the last entries asked for, as many as are cached.
    """
    wanted = list(dict.fromkeys(entries))[-_MOST_CACHED:]
    with _CACHE_LOCK:
        found = {e: _CACHED[e] for e in wanted if e in _CACHED}
    missing = [e for e in wanted if e not in found]
    followed = heat_ups([_charge(e) for e in missing])
    found |= {e: SampledHeatUp(h.time_s, h.piece_c) for e, h in zip(missing, followed, strict=True)}
    with _CACHE_LOCK:
        for entry in wanted:
            _CACHED[entry] = found[entry]
            _CACHED.move_to_end(entry)
        while len(_CACHED) > _MOST_CACHED:
            _CACHED.popitem(last=False)
    return found


def forget_heat_ups() -> None:
    """Empty the cache of heat-ups."""
    with _CACHE_LOCK:
        _CACHED.clear()


def _charge(entry: Entry) -> Charge:
    kiln = entry.kiln
    return Charge(
        by_band("kiln", entry.kiln_c, entry.kiln_c - KILN_ERROR_K, entry.kiln_c + KILN_ERROR_K),
        entry.blank,
        entry.glass_m,
        kiln,
        by_factor("door", kiln.door_drop_k, DOOR_FACTOR) if kiln.door_drop_k else None,
        by_factor("recovery", kiln.recovery_s, RECOVERY_FACTOR),
        by_factor("load", 1.0, LOAD_FACTOR) if kiln.load is not None else None,
    )


def tension_drawn() -> Array:
    """Return the surface tension, N/m: typical, then drawn; (1 + samples,)."""
    low, typical, high = TYPICAL_N_PER_M
    return by_band("tension", typical, low, high)


def capillary_time_m(
    time_s: Array, piece_c: Array, curve: FiringCurve, tension_n_per_m: ArrayLike, moved_k: ArrayLike = 0.0
) -> Array:
    """Return the capillary time ∫γ/η dt, m, of a glass by each time; shape of `piece_c`.

    Parameters
    ----------
    time_s : array (t,)
    piece_c : array (t,) or (t, n)
    curve : FiringCurve
    tension_n_per_m, moved_k : float or array (n,)
        Surface tension, and how far the curve is moved.
    """
    flow = np.asarray(tension_n_per_m) * curve.fluidity_per_pa_s(piece_c, moved_k)
    steps = np.diff(time_s).reshape(-1, *(1,) * (flow.ndim - 1))
    whole = np.zeros_like(flow)
    np.cumsum((flow[1:] + flow[:-1]) / 2.0 * steps, axis=0, out=whole[1:])
    return whole


def time_reaching_s(time_s: Array, capillary_m: Array, wanted_m: ArrayLike) -> Array:
    """Return when each column of capillary times, (t, ...), reaches what is wanted, s; infinite when it does not."""
    wanted = np.broadcast_to(np.asarray(wanted_m, dtype=float), capillary_m.shape[1:])
    flat, goals = capillary_m.reshape(capillary_m.shape[0], -1), wanted.reshape(-1)
    # They only grow, so the first at the goal or above ends the stretch in which it is reached.
    last, each = len(time_s) - 1, np.arange(goals.size)
    after = np.minimum((flat < goals).sum(axis=0), last)
    before = np.maximum(after - 1, 0)
    low, high = flat[before, each], flat[after, each]
    part = np.where(high > low, (goals - low) / np.where(high > low, high - low, 1.0), 0.0)
    found = time_s[before] + np.clip(part, 0.0, 1.0) * (time_s[after] - time_s[before])
    return np.asarray(np.where(flat[-1] >= goals, found, math.inf).reshape(wanted.shape))


def capillary_time_at(time_s: Array, capillary_m: Array, when_s: Array) -> Array:
    """Return the capillary time, m, of each column at its own time; (n,) from (t, n)."""
    after = np.clip(np.searchsorted(time_s, when_s), 1, len(time_s) - 1)
    each = np.arange(len(when_s))
    part = np.clip((when_s - time_s[after - 1]) / (time_s[after] - time_s[after - 1]), 0.0, 1.0)
    low, high = capillary_m[after - 1, each], capillary_m[after, each]
    return np.asarray(low + part * (high - low))


def band_around(sample: Array) -> Ranged:
    """Return the first entry as the value, with the 5 and 95 % ends of the others, (n,), which may be infinite."""
    value = float(sample[0])
    _, low, high = band_of(sample[1:])
    return Ranged(value, min(low, value), max(high, value))


def checked_thickness(thickness_m: float) -> float:
    """Return the thickness, m, when a coat can be so thick; BadInput otherwise."""
    if not 5e-6 <= thickness_m <= 5e-3:
        raise BadInput("a coat is between 0.005 and 5 mm thick", "glass thickness", "give it in metres as fired")
    return thickness_m


def stage_capillary_times_m(
    thickness_m: ArrayLike,
    volume_m3: ArrayLike = USUAL_GRAINS.volume_m3,
    slope: ArrayLike = GLOSS_SLOPE,
    grains: Grains = USUAL_GRAINS,
) -> tuple[float, float, Array]:
    """Return the capillary times, m, at which a coat stops being sugary, closes to an orange peel, and shines."""
    sugary, closed = (sintering_capillary_time_m(density, grains) for density in (SUGARY_DENSITY, CLOSED_DENSITY))
    return sugary, closed, np.maximum(gloss_capillary_time_m(thickness_m, volume_m3, slope), closed)
