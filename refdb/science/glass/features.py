"""The terms of the linear models of glass properties: what is worked out of a composition beforehand.

The models are linear in mole per cent of oxides, with a few terms whose form is common in glass science.
Their coefficients are fitted on SciGlass (`coefficients`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from refdb.science.glass.components import MOLAR_MASS_G_PER_MOL, oxide_equivalents

Array = NDArray[np.float64]

#: Oxides with a fitted factor in every model; F is fluorine as an element.
MAJOR = ("SiO2", "B2O3", "Al2O3", "Li2O", "Na2O", "K2O", "MgO", "CaO", "SrO", "BaO", "ZnO", "PbO", "TiO2", "ZrO2", "F")
#: Oxides too rare in the data for a fitted factor except in the molar volume.
MINOR = ("SnO2", "Sb2O3", "As2O3", "P2O5", "Fe2O3", "MnO", "CoO", "NiO", "CuO")
#: Boric oxide in fourfold coordination, taken as a quarter of Appen's ratio psi, 0 to 1.
FOUR_COORDINATED = "B2O3*psi/4"
ALKALIS_SQUARED = "R2O^2/100"
#: Mixed-alkali terms: the transformation falls when two alkalis share a glass.
SODA_WITH_POTASH = "Na2O*K2O/(Na2O+K2O)"
LITHIA_WITH_OTHERS = "Li2O*(Na2O+K2O)/R2O"

#: The terms of each model. Unit of the prediction: ppm/K, °C, GPa, cm³/mol.
TERMS: dict[str, tuple[str, ...]] = {
    "expansion": MAJOR,
    "tg": (*MAJOR, FOUR_COORDINATED, ALKALIS_SQUARED, SODA_WITH_POTASH, LITHIA_WITH_OTHERS),
    "youngs_modulus": (*MAJOR, FOUR_COORDINATED),
    "molar_volume": (*MAJOR, *MINOR, FOUR_COORDINATED),
}

#: Weight per cent between which the models were fitted; R2O is lithia, soda and potash together.
DOMAIN_WT_PCT: dict[str, tuple[float, float]] = {
    "SiO2": (33.0, 75.0),
    "R2O": (5.0, 32.0),
    "PbO": (0.0, 50.0),
    "B2O3": (0.0, 24.0),
    "Al2O3": (0.0, 15.0),
}
#: Components that no model has a term for, together; the glasses fitted held no more.
OTHERS_HIGHEST_MOL_PCT = 1.0
#: Above this no temperature of gloss is given: no enamelling kiln goes there, and the error was not measured.
GLOSS_HIGHEST_C = 1000.0


def oxide_moles(weights: Array, names: Sequence[str]) -> tuple[Array, tuple[str, ...]]:
    """Return mole per cent of plain oxides and halogens.

    Parameters
    ----------
    weights : array, shape (n, k)
        Weight per cent.
    names : sequence of str
        The k components, in standard spelling.

    Returns
    -------
    moles : array, shape (n, p)
        Mole per cent, rows summing to 100.
    parts : tuple of str
        The p oxides and halogens.
    """
    parts: list[str] = []
    entries: list[tuple[int, int, float]] = []
    for row, name in enumerate(names):
        for part, count in oxide_equivalents(name).items():
            if part not in parts:
                parts.append(part)
            entries.append((row, parts.index(part), count / MOLAR_MASS_G_PER_MOL[name]))
    matrix = np.zeros((len(names), len(parts)))
    for row, column, value in entries:
        matrix[row, column] += value
    moles = weights @ matrix
    return 100.0 * moles / moles.sum(axis=1, keepdims=True), tuple(parts)


def feature_columns(moles: Array, parts: Sequence[str], terms: Sequence[str]) -> Array:
    """Return the columns of a model.

    Parameters
    ----------
    moles : array, shape (n, p)
        Mole per cent of `parts`.
    parts, terms : sequence of str
        Oxides, and the terms wanted, as in `TERMS`.

    Returns
    -------
    array, shape (n, len(terms))
    """
    zero = np.zeros(len(moles))
    x = {part: moles[:, at] for at, part in enumerate(parts)}

    def of(*wanted: str) -> Array:
        return np.asarray(sum((x.get(name, zero) for name in wanted), zero))

    def made(term: str) -> Array:
        others, alkalis = of("Na2O", "K2O"), of("Li2O", "Na2O", "K2O")
        if term == FOUR_COORDINATED:
            modifiers = (
                of("Na2O", "K2O", "BaO")
                + 0.7 * of("CaO", "SrO", "CdO", "PbO")
                + 0.3 * of("Li2O", "MgO", "ZnO")
                - of("Al2O3")
            )
            return np.clip(modifiers, 0.0, 4.0 * of("B2O3")) / 4.0
        if term == ALKALIS_SQUARED:
            return alkalis**2 / 100.0
        if term == SODA_WITH_POTASH:
            return of("Na2O") * of("K2O") / np.maximum(others, 1e-12)
        if term == LITHIA_WITH_OTHERS:
            return of("Li2O") * others / np.maximum(alkalis, 1e-12)
        return of(term)

    return np.stack([made(term) for term in terms], axis=1)


def molar_mass_of_glass(moles: Array, parts: Sequence[str]) -> Array:
    """Return g for a mole of oxides, halogens replacing oxygen counted; shape (n,)."""
    masses = np.array([MOLAR_MASS_G_PER_MOL[p] for p in parts])
    halogens = sum((moles[:, at] for at, p in enumerate(parts) if p in ("F", "Cl")), np.zeros(len(moles)))
    return np.asarray((moles @ masses - halogens / 2.0 * 15.999) / 100.0)
