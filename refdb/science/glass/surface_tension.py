"""Surface tension of molten glass."""

from __future__ import annotations

import math

#: What stands for a glass of unknown composition, N/m: low, typical, high (computed from compositions of enamels at
#: 800 °C by Kucuk, Clare and Jones, Glass Technol. 40 (1999) 149; some for gold lie up to 0.04 above).
TYPICAL_N_PER_M = (0.24, 0.27, 0.30)
#: How well a difference of two computed figures is known, N/m: nine tenths of the pairs measured within one paper lie
#: as close (open SciGlass data, enamel-like glasses, 948 pairs; half of them within 0.009).
CONTRAST_N_PER_M = 0.030
#: A glass with lead is measured so much lower than it is computed, N/m, give or take (29 such glasses; 0 to 0.053).
LEAD_LOWER_N_PER_M, LEAD_SPREAD_N_PER_M = 0.018, 0.026


def contrast_n_per_m(
    over: float, under: float, over_leaded: bool = False, under_leaded: bool = False, *, own: float = 0.0
) -> tuple[float, float, float]:
    """Return by how much the coat above has the higher surface tension, N/m: value, low and high.

    Parameters
    ----------
    over, under : float
        Computed surface tensions, N/m.
    over_leaded, under_leaded : bool
        Whether each holds lead, of which the published coefficients make too little.
    own : float
        What the compositions themselves leave open, N/m either way.
    """
    value = over - under - LEAD_LOWER_N_PER_M * (over_leaded - under_leaded)
    unlike = LEAD_SPREAD_N_PER_M if over_leaded != under_leaded else 0.0
    width = math.hypot(CONTRAST_N_PER_M, unlike, own)
    return value, value - width, value + width
