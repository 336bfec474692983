"""Fitting of linear models to data with wrong records in it, and honest error bands for them."""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import blake2b
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def huber_coefficients(features: Array, measured: Array, rounds: int = 40, tuning: float = 1.345) -> Array:
    """Return the coefficients of a linear model by Huber's robust regression.

    Parameters
    ----------
    features : array, shape (n, k)
        Full column rank; no constant is added.
    measured : array, shape (n,)
    rounds : int
        Rounds of reweighting at most; it stops early when nothing moves.
    tuning : float
        Residuals above this many robust standard deviations lose weight; 1.345 keeps 95 % efficiency.

    Returns
    -------
    array, shape (k,)

    Notes
    -----
    Huber (1964), Annals of Mathematical Statistics 35, 73-101, by iteratively reweighted least squares with
    the scale taken from the median absolute deviation. The normal equations are solved, which is exact enough
    for the few dozen well-scaled terms used here.
    """
    weights: Array = np.ones(len(measured))
    found: Array = np.zeros(features.shape[1])
    for _ in range(rounds):
        before = found
        weighted = (features * weights[:, None]).T
        found = np.asarray(np.linalg.solve(weighted @ features, weighted @ measured), np.float64)
        residual = measured - features @ found
        scale = 1.4826 * np.median(np.abs(residual - np.median(residual)))
        weights = np.minimum(1.0, tuning * scale / np.maximum(np.abs(residual), 1e-12))
        if np.allclose(before, found, rtol=1e-9, atol=1e-12):
            break
    return found


def folds_by_group(groups: Sequence[str], folds: int = 10) -> NDArray[np.int_]:
    """Return a fold number for each row, the same for all rows of one group and from one run to the next.

    Parameters
    ----------
    groups : sequence of str
        Name of the group (the paper) each row belongs to.
    folds : int
        How many folds.

    Returns
    -------
    array of int, shape (n,)
    """
    digests = (blake2b(group.encode(), digest_size=8).digest() for group in groups)
    return np.array([int.from_bytes(digest, "big") % folds for digest in digests], dtype=np.int_)


def band_table(predicted: Array, error: Array, bins: int, fraction: float = 0.9) -> Array:
    """Return the half-width that encloses a fraction of measurements, by size of the prediction.

    Parameters
    ----------
    predicted, error : array, shape (n,)
        Predictions made without the glass concerned, and measured minus predicted.
    bins : int
        Number of equal-count slices; the topmost is halved, since errors grow fastest there.
    fraction : float
        Fraction of measurements to be enclosed.

    Returns
    -------
    array, shape (bins + 1, 2)
        Median prediction of the slice and half-width; to be interpolated with `half_width`.
    """
    cuts = np.append(np.arange(bins) / bins, [1.0 - 0.5 / bins, 1.0])
    rows = []
    for low, high in pairwise(np.quantile(predicted, cuts)):
        inside = (predicted >= low) & (predicted <= high)
        rows.append((np.median(predicted[inside]), np.quantile(np.abs(error[inside]), fraction)))
    return np.array(rows)


def half_width(table: Array, predicted: Array) -> Array:
    """Return the half-width of a band, interpolated between slices and held level beyond them."""
    return np.interp(predicted, table[:, 0], table[:, 1])
