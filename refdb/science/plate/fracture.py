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
    bottom, top = np.asarray(bottom_pa, dtype=float), np.asarray(top_pa, dtype=float)
    h, modulus = np.asarray(thickness_m, dtype=float), np.asarray(modulus_pa, dtype=float)
    edges = np.concatenate((np.zeros((len(h), 1)), np.cumsum(h, axis=1)), axis=1)
    edges = edges - edges[:, -1:] / 2
    low, high = edges[:, :-1], edges[:, 1:]
    mean, half = (bottom + top) / 2, (top - bottom) / 2
    own = h / modulus * (mean**2 + half**2 / 3)
    force = mean * h
    moment = force * (low + high) / 2 + half * h**2 / 6
    of_each = modulus * h, modulus * (high**2 - low**2) / 2, modulus * (high**3 - low**3) / 3
    a, b, d = (x.sum(axis=1, keepdims=True) - x for x in of_each)
    det = a * d - b * b
    rest = (d * force**2 - 2 * b * force * moment + a * moment**2) / np.where(det > 0, det, np.inf)
    return np.where(h > 0, own + rest, 0.0)
