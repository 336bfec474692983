"""What shared strips say of their jars: the plate's curvature once for all strips of like proportions.

The plate has no length scale, so that curvature times the metal's thickness depends on glass over metal alone. It is
worked out at a row of such ratios, in the draws that tiles of the jar share, and taken as straight between two of them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from refdb.errors import RefdbError
from refdb.judge.own.foretold import LATTICE, Foretold
from refdb.judge.own.strip_test import BOW_ERROR_M, COAT_ERROR_M, METAL_ERROR_M, Measured, strip_of
from refdb.quantities.band import Band
from refdb.records import Glass, Metal
from refdb.records.pooled import SharedRow
from refdb.science.inference.jar_chances import Single
from refdb.science.inference.strip_table import checked
from refdb.science.plate import Array

#: Ratios of glass to metal stand so far apart, by their logarithm. Halfway between, a straight line is 0.1 % off.
_STEP = 0.1
_BASE_M = 0.8e-3
#: A bow that misses what any glass shows by so many standard deviations is left out.
_WORST_MISS = 4.0
#: However badly a strip fits, it says no more against an expansion than this.
_LEAST_LOG = math.log(1e-12)


class StripTables:
    """Strips of one class, on some metals.

    Parameters
    ----------
    glass : Glass
    metals : mapping
        By key, those that have all figures.
    grid : array (n,)
        Effective expansions [1/K].
    """

    def __init__(self, glass: Glass, metals: Mapping[str, Metal], grid: Array) -> None:
        self._glass, self._metals, self._grid = glass, metals, grid
        self._tables: dict[tuple[str, int], Array] = {}

    def log_likelihood(self, row: SharedRow) -> Single | None:
        """Logarithm of the chance of a strip's bow in each shared draw, (draws, n); None where no glass gives it.

        Bow and length have their errors, and so have both thicknesses, by how the curvature moves with each.
        """
        metal_m, coat_m, length_m, bow_m, before_m, error_m = _readings(row)
        measured = Measured(Band.exact(metal_m), Band.exact(coat_m), length_m, bow_m, before_m, bow_error_m=error_m)
        try:
            strip = checked(strip_of(self._glass, self._metals[row.metal], measured, self._glass)[0])
        except RefdbError:
            return None
        place = math.log(coat_m / metal_m) / _STEP
        first = math.floor(place)
        lower, upper = self._table(row.metal, first), self._table(row.metal, first + 1)
        scaled = lower + (place - first) * (upper - lower)
        by_ratio = (upper - lower) / _STEP
        foretold = scaled / metal_m
        errors = (
            strip.curvature_error_per_m,
            by_ratio / metal_m * (COAT_ERROR_M / coat_m),
            (by_ratio + scaled) / metal_m * (METAL_ERROR_M / metal_m),
            # An error finer than the grid would fall between its points.
            np.gradient(foretold, axis=1),
        )
        variance = sum(np.square(e) for e in errors) + 1e-24
        miss = np.square(foretold - strip.curvature_per_m) / variance
        if miss.min() > _WORST_MISS**2:
            return None
        logs = -0.5 * (miss + np.log(variance))
        return np.asarray(np.maximum(logs, logs.max() + _LEAST_LOG), dtype=np.float32)

    def _table(self, metal: str, step: int) -> Array:
        """Curvature times the metal's thickness at a ratio, (draws, n)."""
        if (metal, step) not in self._tables:
            # A Foretold remembers what it told; that is kept here instead.
            plates = Foretold(self._glass, list(self._metals.values()), self._grid, LATTICE, even=True)
            curvature = plates.curvature(metal, _BASE_M, math.exp(step * _STEP) * _BASE_M)
            self._tables[metal, step] = curvature * _BASE_M
        return self._tables[metal, step]


def _readings(row: SharedRow) -> tuple[float, float, float, float, float, float]:
    """Metal, coat, length, bow, bow before, and the error of a bow [m]."""
    needed = row.metal_mm, row.front_mm, row.length_mm, row.bow_mm
    metal, coat, length, bow = (x * 1e-3 for x in needed if x is not None)
    before = (row.bow_before_mm or 0.0) * 1e-3
    return metal, coat, length, bow, before, BOW_ERROR_M if row.bow_error_mm is None else row.bow_error_mm * 1e-3
