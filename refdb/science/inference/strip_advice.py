"""Which strip would tell a glass's expansion best: thicknesses within sensible bounds, compared by expected width."""

from __future__ import annotations

import numpy as np

from refdb.frozen import dataclass, replace
from refdb.science.inference.strip_table import (
    METAL_EXPANSION,
    ROUGH_STEP_K,
    SET,
    STIFF_GLASS,
    STIFF_METAL,
    THICK_GLASS,
    THICK_METAL,
    YIELD,
    Strip,
    bend,
)
from refdb.science.normal import NORMAL_END
from refdb.science.plate.fracture import ANNEALED_STRENGTH_PA, duration_factor
from refdb.science.plate.layers import Array

#: Sheet that can be had and handled, and coats that can be laid evenly [m] (common practice).
METAL_M = (0.25e-3, 0.3e-3, 0.4e-3, 0.5e-3, 0.65e-3, 0.8e-3)
GLASS_M = (0.15e-3, 0.2e-3, 0.3e-3, 0.4e-3, 0.5e-3)
#: A coat thicker than its metal bends the metal out of all measure and comes off.
MOST_GLASS_OF_METAL = 1.0
#: Less narrowing than this is not worth another strip.
_WORTH_IT = 0.8
_STEP_PER_K = 0.2e-6


@dataclass(frozen=True)
class Advice:
    """A strip that would tell more: its thicknesses [m], and the expected widths (5-95 %) of both [1/K]."""

    metal_m: float
    glass_m: float
    width_per_k: float
    own_width_per_k: float


def advise(strip: Strip, per_k: float) -> Advice | None:
    """Return the thicknesses that would identify this glass best at the same length and errors.

    Parameters
    ----------
    strip : Strip
        The strip that was measured.
    per_k : float
        The expansion found [1/K].

    Returns
    -------
    Advice or None
        None when no strip within bounds narrows the interval by a fifth. Strips whose coat would bear a higher
        tensile stress than glass bears for a day are left out.
    """
    own = strip.metal.thickness_m, strip.glass.thickness_m
    sizes = [own, *((m, g) for m in METAL_M for g in GLASS_M if g <= MOST_GLASS_OF_METAL * m)]
    widths, tension = _expected(strip, sizes, per_k)
    holds = tension <= ANNEALED_STRENGTH_PA * duration_factor(24.0)
    # Where none holds, or the strip's own sizes are the best, this is those, and nothing is narrower than itself.
    best = int(np.where(holds, widths, np.inf).argmin())
    if not widths[best] < _WORTH_IT * widths[0]:
        return None
    return Advice(*sizes[best], float(widths[best]), float(widths[0]))


def _expected(strip: Strip, sizes: list[tuple[float, float]], per_k: float) -> tuple[Array, Array]:
    """Expected width of the interval and worst tension in the coat for each pair of thicknesses."""
    errors = strip.errors
    inputs = [
        name
        for name, size in (
            (SET, errors.set_k),
            (YIELD, errors.flow if strip.metal.flow_stress else 0.0),
            (THICK_GLASS, errors.glass_thickness),
            (THICK_METAL, errors.metal_thickness),
            (METAL_EXPANSION, errors.metal_expansion),
            (STIFF_GLASS, errors.stiff_glass),
            (STIFF_METAL, errors.stiff_metal),
        )
        if size > 0
    ]
    # One trial as it is, one for the slope, and one for each input by its standard deviation.
    trials = 2 + len(inputs)
    drawn = {name: np.zeros(trials) for name in inputs}
    for k, name in enumerate(inputs):
        drawn[name][2 + k] = 1.0
    expansions = np.full(trials, per_k)
    expansions[1] = per_k + _STEP_PER_K
    # Thicknesses as factors of the strip's own, so that one batch holds all of them.
    table = _Sized(strip, sizes, trials)
    bent = bend(
        table.strip,
        np.tile(expansions, len(sizes)),
        {name: np.tile(z, len(sizes)) for name, z in drawn.items()} | table.factors(drawn),
        ROUGH_STEP_K,
    )
    curvature = bent.curvature_per_m.reshape(len(sizes), trials)
    slope = (curvature[:, 1] - curvature[:, 0]) / _STEP_PER_K
    variance = strip.curvature_error_per_m**2 + ((curvature[:, 2:] - curvature[:, :1]) ** 2).sum(axis=1)
    widths = 2 * NORMAL_END * np.sqrt(variance) / np.maximum(np.abs(slope), 1e-12)
    tensions = np.maximum(bent.bottom_pa[:, 1], bent.top_pa[:, 1]).reshape(len(sizes), trials)[:, 0]
    return widths, tensions


class _Sized:
    """A strip in several sizes at once, so that one batch cools them all.

    The error of a thickness is log-normal: `bend` multiplies the thickness by exp(error · number drawn). With that
    error set to one, the number drawn is the logarithm of the thickness wanted over the strip's own.
    """

    def __init__(self, strip: Strip, sizes: list[tuple[float, float]], trials: int) -> None:
        self.errors = strip.errors
        self.strip = replace(strip, errors=replace(strip.errors, metal_thickness=1.0, glass_thickness=1.0))
        own = strip.metal.thickness_m, strip.glass.thickness_m
        logs = np.log(np.array(sizes) / np.array(own))
        self.metal, self.glass = np.repeat(logs[:, 0], trials), np.repeat(logs[:, 1], trials)
        self.count = len(sizes)

    def factors(self, drawn: dict[str, Array]) -> dict[str, Array]:
        """Return the numbers drawn for both thicknesses: logarithm of the size, plus the thickness's own error."""

        def of(name: str, error: float) -> Array:
            return np.tile(drawn[name], self.count) * error if name in drawn else np.zeros(len(self.metal))

        return {
            THICK_METAL: self.metal + of(THICK_METAL, self.errors.metal_thickness),
            THICK_GLASS: self.glass + of(THICK_GLASS, self.errors.glass_thickness),
        }
