"""Glasses that the fitted models meet less well than their bands say: lead, lead with iron, and titania that comes out.

Found by holding the estimates against the open SciGlass data; ends of bands are moved here, and a sentence says why.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Lead oxide, wt%, between which half the transformation temperatures are measured 20 K or more below the estimate
#: (212 glasses), and by how much the low end is moved, K.
LEAD_WT_PCT, LEAD_LOWER_K = (15.0, 35.0), 20.0
#: Lead oxide and iron oxide together, wt% from: of ten such glasses three were measured 70 to 240 K above the estimate,
#: since iron has no term of its own there. By how much the high end is moved, K.
IRON_WITH_LEAD_WT_PCT, IRON_HIGHER_K = (15.0, 1.0), 150.0
#: Titania, wt% from, in a glass with so much boric oxide: it comes out as crystals when fired (common practice: that is
#: what makes a white cover coat white), and glasses of 8 to 12 wt% are measured 0.3 to 1.4 ppm/K above the estimate.
TITANIA_WT_PCT, WITH_BORIC_WT_PCT = 8.0, 5.0


def _of(weights: Mapping[str, Array], name: str) -> Array:
    return np.asarray(weights.get(name, 0.0), dtype=float)


def has_iron_with_lead(weights: Mapping[str, Array]) -> Array:
    """Whether glasses hold both lead and iron; `weights` maps oxide to wt%, (n,)."""
    return np.asarray(
        (_of(weights, "PbO") >= IRON_WITH_LEAD_WT_PCT[0]) & (_of(weights, "Fe2O3") >= IRON_WITH_LEAD_WT_PCT[1])
    )


def widened_tg(weights: Mapping[str, Array], low_c: Array, high_c: Array) -> tuple[Array, Array]:
    """Return the ends of the band of the transformation temperature, °C, (n,) each, moved where lead asks for it."""
    lead = _of(weights, "PbO")
    lower = np.where((lead >= LEAD_WT_PCT[0]) & (lead < LEAD_WT_PCT[1]), LEAD_LOWER_K, 0.0)
    return low_c - lower, high_c + np.where(has_iron_with_lead(weights), IRON_HIGHER_K, 0.0)


def remarks(weights: Mapping[str, float], has_tg: bool, has_expansion: bool) -> list[str]:
    """Return a sentence for each way in which a glass of these wt% is unlike the fit, of what is answered at all."""
    lead, titania, boric = (weights.get(k, 0.0) for k in ("PbO", "TiO2", "B2O3"))
    found = []
    if has_tg and bool(has_iron_with_lead({k: np.array(v) for k, v in weights.items()})):
        found.append(
            "Iron in a lead glass: few were measured, and some transform and set 70 to 240 K above this estimate. Take "
            "a measured figure."
        )
    elif has_tg and LEAD_WT_PCT[0] <= lead < LEAD_WT_PCT[1]:
        found.append("Lead glasses of this kind mostly transform and set some 20 K below this estimate.")
    if has_expansion and titania >= TITANIA_WT_PCT and boric >= WITH_BORIC_WT_PCT:
        found.append(
            f"Titania {titania:.0f} wt% comes out as crystals when it is fired; these and the glass that is left "
            "expand more than this estimate, which is of one clear glass, by some 0.3 to 1.4 ppm/K."
        )
    return found
