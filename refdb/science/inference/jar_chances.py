"""The chance of what tiles of one jar showed, with what they share averaged out within the jar."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from refdb.science.inference.tiles import Chances, FiredTile, fit_chances
from refdb.science.plate.layers import Array

#: Chances in single precision.
Single = npt.NDArray[np.float32]


def log_chances(
    tile: FiredTile, shifts_pa: Array, chances: Chances | None = None, kinds: Sequence[str] = ()
) -> dict[str, Single]:
    """Return the logarithm of the chance of each outcome of a build: (draws, shifts, n) each, in single precision.

    Parameters
    ----------
    tile : FiredTile
        What the plate foretells, (draws, n), and its strength (draws,).
    shifts_pa : array (s,)
        How much more tension a studio's tiles bear than the model says.
    kinds : sequence of str
        Outcomes that are wanted; all where empty.
    """
    strength = np.broadcast_to(np.asarray(tile.strength_pa, dtype=float), (len(np.atleast_2d(tile.tension_pa)),))
    parts: dict[str, list[Single]] = {}
    for shift in shifts_pa:
        found = fit_chances(FiredTile("", tile.tension_pa, tile.gap_ppm, strength + shift), chances)
        for kind in kinds or found:
            parts.setdefault(kind, []).append(np.log(found[kind]).astype(np.float32))
    return {kind: np.stack(each, axis=1) for kind, each in parts.items()}


def jar_log_likelihood(seen: Sequence[tuple[Single, int]]) -> Single:
    """Return the logarithm of the chance of all tiles of one jar, (shifts, n): multiplied within each shared draw,
    then averaged over the draws.

    Parameters
    ----------
    seen : sequence of (array (draws, shifts, n), int)
        Logarithm of the chance of an outcome of a build, as `log_chances` gives it, and how often it was seen: tiles
        alike in build and outcome are folded into one.
    """
    whole = seen[0][0] * np.float32(seen[0][1])
    for logs, count in seen[1:]:
        whole += logs * np.float32(count)
    most = whole.max(axis=0)
    whole -= most
    np.exp(whole, out=whole)
    return np.asarray(np.log(whole.mean(axis=0)) + most, dtype=np.float32)
