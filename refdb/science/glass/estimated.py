"""What an estimate of a glass from its composition holds."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from refdb.frozen import dataclass
from refdb.science.glass.viscosity import Vft

Array = NDArray[np.float64]

#: Poisson's ratio: median and spread of 1,183 enamel-like glasses measured in SciGlass (computed). The
#: composition formula tried against them does worse than this constant.
POISSON_RATIO, POISSON_SPREAD = 0.22, 0.02
#: A coat cooling in air sets above the transformation temperature of slow cooling by this much, kelvins
#: (computed: strain point, dilatometric softening and transformation temperature of the same glasses).
SET_ABOVE_TG_K, SET_SPREAD_K = 20.0, 30.0
#: log10 of the viscosity, Pa s, at which a thin coat glosses in two and a half minutes (computed: sintering
#: and levelling of an average coat); the kiln setting for it names the hardness class.
GLOSS_LOG10_PA_S = 3.2
#: Upper kiln settings of the hardness classes, °C (common practice, fitted to how the trade parts glasses).
HARDNESS_CLASSES: tuple[tuple[str, float], ...] = (("soft", 760.0), ("medium", 800.0), ("hard", 845.0))
HARDEST = "very hard"
METHOD = "regression on SciGlass, linear in mole per cent"


@dataclass(frozen=True)
class GlassEstimates:
    """Estimates for many glasses: arrays of shape (n,), NaN where a model's limits are broken.

    Expansions are means over 20-400 °C in ppm/K. `_low` and `_high` enclose 90 % of measurements. `isokoms_c`
    has shape (n, 3), for 10^1.5, 10^6.6 and 10^12 Pa s.
    """

    expansion_ppm_per_k: Array
    expansion_low: Array
    expansion_high: Array
    expansion_appen_raw: Array
    expansion_appen_recalibrated: Array
    tg_c: Array
    tg_low: Array
    tg_high: Array
    set_point_c: Array
    set_point_low: Array
    set_point_high: Array
    littleton_c: Array
    littleton_low: Array
    littleton_high: Array
    youngs_modulus_pa: Array
    youngs_modulus_low: Array
    youngs_modulus_high: Array
    density_kg_m3: Array
    density_low: Array
    density_high: Array
    gloss_c: Array
    gloss_low: Array
    gloss_high: Array
    isokoms_c: Array


@dataclass(frozen=True)
class GlassEstimate:
    """Estimates for one glass; None where a model's limits are broken, with the reason among the warnings.

    Attributes
    ----------
    expansion_ppm_per_k, expansion_low, expansion_high : float or None
        Mean linear expansion between 20 and 400 °C, ppm/K, and its 90 % band.
    expansion_appen_raw, expansion_appen_recalibrated : float or None
        Appen's published factors, for comparison, as they stand and brought to the same measurements.
    expansion_method : str
        How the first was got.
    tg_c, set_point_c, littleton_c, gloss_c : float or None
        Transformation temperature; where a cooling coat turns elastic; Littleton softening point
        (10^6.6 Pa s); kiln setting for gloss in 2.5 minutes (10^3.2 Pa s). °C, each with `_low` and `_high`.
    youngs_modulus_pa, density_kg_m3 : float or None
        With `_low` and `_high`.
    poisson_ratio, poisson_low, poisson_high : float
        A constant: no formula does better.
    isokoms_c : dict of float to (float or None)
        log10 of viscosity in Pa s to temperature in °C.
    vft : Vft or None
        The curve through the isokoms.
    hardness : str or None
        soft, medium, hard or very hard, by `gloss_c`.
    limits_broken : tuple of str
        Each limit broken, with the model it belongs to.
    warnings : tuple of str
        Sentences for a person.
    weight_percent, mole_percent : dict of str to float
        The composition scaled to 100.
    total : float
        What it added up to as given.
    """

    expansion_ppm_per_k: float | None
    expansion_low: float | None
    expansion_high: float | None
    expansion_appen_raw: float | None
    expansion_appen_recalibrated: float | None
    tg_c: float | None
    tg_low: float | None
    tg_high: float | None
    set_point_c: float | None
    set_point_low: float | None
    set_point_high: float | None
    littleton_c: float | None
    littleton_low: float | None
    littleton_high: float | None
    youngs_modulus_pa: float | None
    youngs_modulus_low: float | None
    youngs_modulus_high: float | None
    density_kg_m3: float | None
    density_low: float | None
    density_high: float | None
    gloss_c: float | None
    gloss_low: float | None
    gloss_high: float | None
    isokoms_c: dict[float, float | None]
    vft: Vft | None
    hardness: str | None
    limits_broken: tuple[str, ...]
    warnings: tuple[str, ...]
    weight_percent: dict[str, float]
    mole_percent: dict[str, float]
    total: float
    expansion_method: str = METHOD
    poisson_ratio: float = POISSON_RATIO
    poisson_low: float = POISSON_RATIO - POISSON_SPREAD
    poisson_high: float = POISSON_RATIO + POISSON_SPREAD

    @property
    def hardness_words(self) -> str:
        """The hardness class and how far it may lie off, as in "hard (medium to very hard)"; empty when unknown."""
        if self.hardness is None or self.gloss_c is None:
            return self.hardness or ""
        low, high = hardness_class(self.gloss_low), hardness_class(self.gloss_high)
        return self.hardness if low == high else f"{self.hardness} ({low} to {high})"

    def log10_viscosity_pa_s(self, temp_c: float) -> float | None:
        """Return log10 of the viscosity in Pa s, or None outside the limits or 10^1 to 10^12.5 Pa s."""
        return self.vft.log10_viscosity_pa_s(temp_c) if self.vft else None


def hardness_class(gloss_c: float | None) -> str | None:
    """Return soft, medium, hard or very hard for the kiln setting, °C, that gives gloss in 2.5 minutes."""
    if gloss_c is None:
        return None
    return next((word for word, below in HARDNESS_CLASSES if gloss_c < below), HARDEST)
