"""Appen's additive factors for the thermal expansion of silicate glass, as published.

Source: A. A. Appen, Khimiya stekla (Chemistry of Glass), Khimiya, Leningrad, 1970, second edition 1974. The
factors and rules stand here from memory. Those of the major oxides agree with a regression on SciGlass made
independently (`coefficients`); those of CoO, NiO, CuO, MnO, SnO2, Sb2O3, As2O3, P2O5, La2O3, CeO2 and the
fluorides could not be checked.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from refdb.science.glass.components import MOLAR_MASS_G_PER_MOL, oxide_equivalents

Array = NDArray[np.float64]

#: 1e-7/K for a whole mole fraction, mean of 20-400 °C.
FACTORS: dict[str, float] = {
    "Al2O3": -30.0,
    "Li2O": 270.0,
    "Na2O": 395.0,
    "Rb2O": 510.0,
    "Cs2O": 515.0,
    "BeO": 45.0,
    "MgO": 60.0,
    "CaO": 130.0,
    "SrO": 160.0,
    "BaO": 200.0,
    "ZnO": 50.0,
    "CdO": 115.0,
    "ZrO2": -60.0,
    "SnO2": -45.0,
    "Sb2O3": 75.0,
    "As2O3": 75.0,
    "P2O5": 140.0,
    "MnO": 105.0,
    "MnO2": 105.0,
    "CoO": 50.0,
    "NiO": 50.0,
    "CuO": 30.0,
    "Cu2O": 30.0,
    "FeO": 55.0,
    "Fe2O3": 55.0,
    "La2O3": 60.0,
    "CeO2": -5.0,
    "CaF2": 180.0,
    "Na2SiF6": 340.0,
    "Na3AlF6": 480.0,
}
#: Oxides whose factor is a rule, worked out in `expansion_appen_ppm_per_k`.
BY_RULE = ("SiO2", "B2O3", "TiO2", "K2O", "PbO")
#: Silica, in mole per cent, between which the factors hold (from memory).
SILICA_MOL_PCT = (45.0, 80.0)
#: Components without a factor are passed over up to this many mole per cent together; chosen here.
WITHOUT_FACTOR_HIGHEST_MOL_PCT = 2.0


def expansion_appen_ppm_per_k(weights: Array, names: Sequence[str]) -> Array:
    """Return the mean linear expansion between 20 and 400 °C by Appen's factors.

    Parameters
    ----------
    weights : array, shape (n, k)
        Weight per cent.
    names : sequence of str
        The k components, in standard spelling.

    Returns
    -------
    array, shape (n,)
        In ppm/K; NaN where silica lies outside 45-80 mol% or more than 2 mol% has no factor.

    Notes
    -----
    Fluorides without a factor of their own count as their oxides; fluorine given as an element is passed
    over. About ±4-5 % inside its range by its author (from memory); for the error found here see
    `data_sources/validation`.
    """
    columns: list[str] = []
    matrix = np.zeros((len(names), len(names) * 3 + 1))
    for row, name in enumerate(names):
        own = name in FACTORS or name in BY_RULE
        for part, count in ({name: 1.0} if own else oxide_equivalents(name)).items():
            if part not in columns:
                columns.append(part)
            matrix[row, columns.index(part)] += count / MOLAR_MASS_G_PER_MOL[name]
    moles = weights @ matrix[:, : len(columns)]
    known = np.array([c in FACTORS or c in BY_RULE for c in columns])
    ignored = np.array([c in ("F", "Cl", "S") for c in columns])
    with np.errstate(invalid="ignore", divide="ignore"):
        strange = 100.0 * moles[:, ~known & ~ignored].sum(axis=1) / moles[:, ~ignored].sum(axis=1)
        moles = 100.0 * moles[:, known] / moles[:, known].sum(axis=1, keepdims=True)
    x = {c: moles[:, i] for i, c in enumerate(c for c, k in zip(columns, known, strict=True) if k)}
    zero = np.zeros(len(weights))

    def of(*wanted: str) -> Array:
        return np.asarray(sum((x.get(name, zero) for name in wanted), zero))

    silica, boric, alkalis = of("SiO2"), of("B2O3"), of("Li2O", "Na2O", "K2O")
    total = silica * np.where(silica > 67.0, 38.0 - (silica - 67.0), 38.0)
    modifiers = (
        of("Na2O", "K2O", "BaO") + 0.7 * of("CaO", "SrO", "CdO", "PbO") + 0.3 * of("Li2O", "MgO", "ZnO") - of("Al2O3")
    )
    psi = np.clip(modifiers / np.maximum(boric, 1e-12), 0.0, 4.0)
    total = total - 12.5 * psi * boric
    total = total + of("TiO2") * np.clip(30.0 - 1.5 * (silica - 50.0), -15.0, 30.0)
    total = total + of("K2O") * np.where(of("Na2O") >= 1.0, 465.0, 425.0)
    total = total + of("PbO") * np.where(alkalis < 3.0, 130.0, np.clip(115.0 + 5.0 * alkalis, 130.0, 190.0))
    for name, factor in FACTORS.items():
        if name in x:
            total = total + factor * x[name]
    valid = (silica >= SILICA_MOL_PCT[0]) & (silica <= SILICA_MOL_PCT[1]) & (strange <= WITHOUT_FACTOR_HIGHEST_MOL_PCT)
    return np.where(valid, total / 1000.0, np.nan)
