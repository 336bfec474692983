"""The energy release rate of a coat that leaves its plate."""

from __future__ import annotations

from typing import Any

import numpy as np

from refdb.science.plate.duration import ANNEALED_STRENGTH_PA, PERMANENT_FACTOR, duration_factor

__all__ = ["ANNEALED_STRENGTH_PA", "PERMANENT_FACTOR", "duration_factor", "release_rates"]


def release_rates(bottom_pa: Any, top_pa: Any, thickness_m: Any, modulus_pa: Any) -> Any:
    """Return the energy release rate of one elastic layer that leaves the plate while the rest relaxes elastically.

    The difference of the plate's elastic energy before and after, of a layer that was in balance with the rest
    (the approach of Hutchinson and Suo, Adv. Appl. Mech. 29 (1992) 63).

    Parameters
    ----------
    bottom_pa, top_pa : array (n, L)
        Stress at the faces of each layer [Pa]; only the leaving layer's are used.
    thickness_m : array (n, L)
        Thickness of each layer [m], bottom to top.
    modulus_pa : array (n, L)
        Biaxial modulus E/(1−ν) of each layer [Pa].

    Returns
    -------
    array (n, L)
        Energy release rate [J/m²] of each layer leaving alone, zero for a layer of no thickness.
    """
    # Layers by plates: rows of three numbers take three times as long as three rows.
    bottom, top, h, modulus = (
        np.ascontiguousarray(np.asarray(x, dtype=float).T) for x in (bottom_pa, top_pa, thickness_m, modulus_pa)
    )
    edges = np.concatenate((np.zeros((1, h.shape[1])), np.cumsum(h, axis=0)))
    edges = edges - edges[-1] / 2
    low, high = edges[:-1], edges[1:]
    mean, half = (bottom + top) / 2, (top - bottom) / 2
    own = h / modulus * (mean**2 + half**2 / 3)
    force = mean * h
    moment = force * (low + high) / 2 + half * h**2 / 6
    # A cube by multiplying, since a power takes ten times as long.
    squares = edges * edges
    cubes = squares * edges
    of_each = modulus * h, modulus * np.diff(squares, axis=0) / 2, modulus * np.diff(cubes, axis=0) / 3
    a, b, d = (x.sum(axis=0) - x for x in of_each)
    det = a * d - b * b
    rest = (d * force**2 - 2 * b * force * moment + a * moment**2) / np.where(det > 0, det, np.inf)
    return np.where(h > 0, own + rest, 0.0).T
