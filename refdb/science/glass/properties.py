"""Properties of a glass estimated from its composition, each with a band enclosing 90 % of measurements.

A property outside the limits of its model is None, and a warning says why. A measured value is always better
than an estimate: the expansion of a copper enamel is known from its composition to about ±1.6 ppm/K only.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from refdb.errors import BadInput
from refdb.science.glass import unlike_the_fit, viscosity
from refdb.science.glass.appen import FACTORS, expansion_appen_ppm_per_k
from refdb.science.glass.coefficients import APPEN_RECALIBRATION, BANDS, COEFFICIENTS, HIGHEST_MOL_PCT
from refdb.science.glass.components import MOLAR_MASS_G_PER_MOL
from refdb.science.glass.composition import (
    TOTAL_HIGH,
    TOTAL_LOW,
    component_name,
    mole_percent,
    normalise,
    weight_percent,
)
from refdb.science.glass.estimated import (
    GLOSS_LOG10_PA_S,
    SET_ABOVE_TG_K,
    SET_SPREAD_K,
    GlassEstimate,
    GlassEstimates,
    hardness_class,
)
from refdb.science.glass.features import (
    DOMAIN_WT_PCT,
    GLOSS_HIGHEST_C,
    MAJOR,
    MINOR,
    OTHERS_HIGHEST_MOL_PCT,
    TERMS,
    feature_columns,
    molar_mass_of_glass,
    oxide_moles,
)
from refdb.science.inference.regression import half_width

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_LEVELS = viscosity.ISOKOM_LOG10_PA_S
_ISOKOM_LABELS = ("viscosity at 10^1.5 Pa s", "softening point", "viscosity at 10^12 Pa s")
_SHOWN = {
    "expansion": "expansion",
    "tg": "transformation temperature and set point",
    "youngs_modulus": "Young's modulus",
    "molar_volume": "density",
}


def _with_band(key: str, values: Array) -> tuple[Array, Array, Array]:
    half = half_width(np.array(BANDS[key]), values)
    return values, values - half, values + half


def _weights_of_parts(moles: Array, parts: Sequence[str]) -> dict[str, Array]:
    masses = moles * np.array([MOLAR_MASS_G_PER_MOL[p] for p in parts])
    masses = 100.0 * masses / masses.sum(axis=1, keepdims=True)
    found = {p: masses[:, at] for at, p in enumerate(parts)}
    zero = np.zeros(len(moles))
    found["R2O"] = np.asarray(sum((found.get(p, zero) for p in ("Li2O", "Na2O", "K2O")), zero))
    return found


def _inside(model: str, moles: Array, parts: Sequence[str], weights: Mapping[str, Array]) -> Mask:
    """Return which glasses keep every limit of a model."""
    zero = np.zeros(len(moles))
    inside = np.ones(len(moles), dtype=bool)
    for name, (low, high) in DOMAIN_WT_PCT.items():
        amount = weights.get(name, zero)
        inside &= (amount >= low - 1e-9) & (amount <= high + 1e-9)
    others = zero
    for at, name in enumerate(parts):
        if name in HIGHEST_MOL_PCT[model]:
            inside &= moles[:, at] <= HIGHEST_MOL_PCT[model][name] + 1e-9
        elif name not in MAJOR:
            others = others + moles[:, at]
    return inside & (others <= OTHERS_HIGHEST_MOL_PCT + 1e-9)


def _predicted(model: str, moles: Array, parts: Sequence[str]) -> Array:
    features = feature_columns(moles, parts, TERMS[model])
    return np.asarray(features @ np.array([COEFFICIENTS[model][t] for t in TERMS[model]]), np.float64)


def _work(weights: Array, names: Sequence[str]) -> GlassEstimates:
    """Estimate everything for checked weight per cent in standard spelling."""
    moles, parts = oxide_moles(weights, names)
    amounts = _weights_of_parts(moles, parts)
    inside = {model: _inside(model, moles, parts, amounts) for model in TERMS}

    factors = np.array([FACTORS.get(p, 0.0) if p not in MAJOR else 0.0 for p in parts]) / 1000.0
    expansion = np.where(inside["expansion"], _predicted("expansion", moles, parts) + moles @ factors, np.nan)
    raw = expansion_appen_ppm_per_k(weights, names)
    middle, low, high = _with_band("tg", np.where(inside["tg"], _predicted("tg", moles, parts), np.nan))
    tg = (middle, *unlike_the_fit.widened_tg(amounts, low, high))
    set_point = tg[0] + SET_ABOVE_TG_K
    modulus = np.where(inside["youngs_modulus"], _predicted("youngs_modulus", moles, parts), np.nan)
    volume = np.where(inside["molar_volume"], _predicted("molar_volume", moles, parts), np.nan)
    density = 1000.0 * molar_mass_of_glass(moles, parts) / volume

    temps = viscosity.isokoms_c(moles, parts)
    a, b, t0, _ = viscosity.vft_constants(temps)
    gloss = t0 + b / (GLOSS_LOG10_PA_S - a)
    gloss = np.where(gloss <= GLOSS_HIGHEST_C, gloss, np.nan)
    found = {
        "expansion": expansion,
        "youngs_modulus": modulus,
        "density": density,
        "gloss": gloss,
        "littleton": temps[:, 1],
    }
    values = {key: _with_band(key, value) for key, value in found.items()}
    low_pa, high_pa = 1e9 * values["youngs_modulus"][1], 1e9 * values["youngs_modulus"][2]
    below, above = np.hypot(tg[0] - tg[1], SET_SPREAD_K), np.hypot(tg[2] - tg[0], SET_SPREAD_K)
    return GlassEstimates(
        *values["expansion"],
        raw,
        raw * APPEN_RECALIBRATION[0] + APPEN_RECALIBRATION[1],
        *tg,
        set_point,
        set_point - below,
        set_point + above,
        *values["littleton"],
        1e9 * modulus,
        low_pa,
        high_pa,
        *values["density"],
        *values["gloss"],
        temps,
    )


def estimate_many(amounts: Array, names: Sequence[str], basis: str = "wt") -> GlassEstimates:
    """Estimate the properties of many glasses at once.

    Parameters
    ----------
    amounts : array, shape (n, k)
        Per cent of each component; each row adds up to 98-102 and is scaled to 100.
    names : sequence of str
        The k components.
    basis : str
        "wt" or "mol".

    Returns
    -------
    GlassEstimates
        Arrays with NaN where a model's limits are broken.

    Raises
    ------
    BadInput
        Shape, name or basis wrong, or a row with a negative or missing amount or a total outside 98-102.
    """
    if basis not in ("wt", "mol"):
        raise BadInput(f"the basis '{basis}' is unknown", "compositions", "use 'wt' or 'mol'")
    known = [component_name(name) for name in names]
    if len(set(known)) != len(known):
        raise BadInput("a component stands twice", "compositions", "give each component once")
    try:
        table = np.asarray(amounts, dtype=np.float64)
    except (TypeError, ValueError):
        raise BadInput("the amounts are not numbers", "compositions", "give an array of per cents") from None
    if table.ndim != 2 or table.shape[1] != len(known) or not known:
        raise BadInput(
            f"the amounts have shape {table.shape}", "compositions", f"give one row a glass and {len(known)} columns"
        )
    total = table.sum(axis=1)
    good = (np.isfinite(table) & (table >= 0)).all(axis=1) & (total >= TOTAL_LOW) & (total <= TOTAL_HIGH)
    if not good.all():
        row = int(np.argmin(good))
        raise BadInput(
            f"row {row} is not a composition (total {total[row]:.4g})",
            "compositions",
            "amounts are zero or more and add up to 98-102",
        )
    if basis == "mol":
        table = table * np.array([MOLAR_MASS_G_PER_MOL[n] for n in known])
    return _work(100.0 * table / table.sum(axis=1, keepdims=True), known)


def estimate(composition: Mapping[str, float], basis: str = "wt") -> GlassEstimate:
    """Estimate the properties of a glass from its composition.

    Parameters
    ----------
    composition : mapping of str to float
        Component to per cent; `composition.parse_composition` reads one from text.
    basis : str
        "wt" for weight per cent, "mol" for mole per cent.

    Returns
    -------
    GlassEstimate
        Each property with its 90 % band, or None with a warning.

    Raises
    ------
    BadInput
        Only for malformed input, as `composition.normalise` says.

    Notes
    -----
    Expansion, transformation temperature, modulus and density by regression on SciGlass (`coefficients`;
    accuracy in data_sources/validation); Appen (1974) beside it; viscosity by Fluegel (2007).

    Examples
    --------
    >>> import refdb
    >>> found = refdb.estimate({"SiO2": 48, "Na2O": 13.6, "K2O": 10.4, "B2O3": 8, "Al2O3": 7, "CaO": 5, "BaO": 8})
    >>> found.expansion_low < found.expansion_ppm_per_k < found.expansion_high
    True
    >>> round(found.expansion_ppm_per_k)
    12
    """
    total = normalise(composition, basis).total
    weights = weight_percent(composition, basis)
    names = tuple(weights)
    table = np.array([[weights[n] for n in names]])
    found = _work(table, names)
    moles, parts = oxide_moles(table, names)
    one: dict[str, Any] = {f.name: _float(getattr(found, f.name)[0]) for f in fields(found) if f.name != "isokoms_c"}
    temps = found.isokoms_c[0]
    isokoms = {level: _float(temp) for level, temp in zip(_LEVELS, temps, strict=True)}
    vft = viscosity.vft_through(float(temps[0]), float(temps[1]), float(temps[2]))
    gloss_c = vft.temp_c(GLOSS_LOG10_PA_S) if vft else None
    broken, warnings = _complaints(dict(zip(parts, moles[0], strict=True)), moles, parts)
    if abs(total - 100.0) > 0.05:
        warnings.insert(0, f"The amounts add up to {total:.4g}; they were scaled to 100.")
    warnings += _unlike(one, moles, parts) + _remarks(one, isokoms, vft, gloss_c)
    return GlassEstimate(
        **one,
        isokoms_c=isokoms,
        vft=vft,
        hardness=hardness_class(gloss_c),
        limits_broken=tuple(broken),
        warnings=tuple(warnings),
        weight_percent=weights,
        mole_percent=mole_percent(composition, basis),
        total=total,
    )


def _float(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _complaints(amounts: Mapping[str, float], moles: Array, parts: Sequence[str]) -> tuple[list[str], list[str]]:
    """Return the limits one glass breaks and a sentence for each property that goes unanswered."""
    weights = {k: float(v[0]) for k, v in _weights_of_parts(moles, parts).items()}
    shared = []
    for name, (low, high) in DOMAIN_WT_PCT.items():
        amount = weights.get(name, 0.0)
        label = "Li2O + Na2O + K2O" if name == "R2O" else name
        if amount < low - 1e-9:
            shared.append(f"{label} {amount:.1f} wt%, below {low:g}")
        elif amount > high + 1e-9:
            shared.append(f"{label} {amount:.1f} wt%, above {high:g}")
    others = {k: v for k, v in amounts.items() if k not in (*MAJOR, *MINOR) and v > 0}
    if sum(others.values()) > OTHERS_HIGHEST_MOL_PCT + 1e-9:
        shared.append(
            f"{' and '.join(sorted(others))} {sum(others.values()):.1f} mol% without a term, "
            f"above {OTHERS_HIGHEST_MOL_PCT:g}"
        )
    broken: list[str] = []
    warnings: list[str] = []
    for model, label in _SHOWN.items():
        own = [
            f"{k} {v:.1f} mol%, above {HIGHEST_MOL_PCT[model][k]:g}"
            for k, v in amounts.items()
            if k in HIGHEST_MOL_PCT[model] and v > HIGHEST_MOL_PCT[model][k] + 1e-9
        ]
        if shared or own:
            reasons = "; ".join((*shared, *own))
            broken += [f"{label}: {why}" for why in (*shared, *own)]
            warnings.append(f"No {label}: the composition is outside the model ({reasons}).")
    for level, label in zip(_LEVELS, _ISOKOM_LABELS, strict=True):
        why_not = viscosity.broken_isokom_limits(amounts, level)
        if why_not:
            broken += [f"{label}: {why}" for why in why_not]
            warnings.append(f"No {label}: the composition is outside the model ({'; '.join(why_not)}).")
    passed = sorted(k for k in others if FACTORS.get(k) is None)
    if passed and not shared:
        warnings.append(f"{' and '.join(passed)}: passed over, since too little is known of the effect.")
    return broken, warnings


def _unlike(one: Mapping[str, Any], moles: Array, parts: Sequence[str]) -> list[str]:
    of_oxides = {k: float(v[0]) for k, v in _weights_of_parts(moles, parts).items()}
    return unlike_the_fit.remarks(of_oxides, one["tg_c"] is not None, one["expansion_ppm_per_k"] is not None)


def _remarks(
    one: Mapping[str, Any], isokoms: Mapping[float, float | None], vft: viscosity.Vft | None, gloss_c: float | None
) -> list[str]:
    remarks = []
    if vft is None:
        remarks.append(
            "No viscosity curve, gloss temperature or hardness: the isokoms of 10^6.6 and "
            "10^12 Pa s are both needed, in their natural order."
        )
    elif vft.isokoms_used == 2:
        remarks.append(
            "The viscosity curve runs through two isokoms and an assumed limit; above the "
            "softening point it is only a guide."
        )
    elif isokoms[1.5] is not None:
        remarks.append("The isokom of 10^1.5 Pa s rests on a table with eight reconstructed signs.")
    if gloss_c is not None and one["gloss_c"] is None:
        remarks.append(f"No gloss temperature: it would lie above {GLOSS_HIGHEST_C:g} °C.")
    elif hardness_class(one["gloss_low"]) != hardness_class(one["gloss_high"]):
        remarks.append(
            f"The hardness class is not certain: it may be {hardness_class(one['gloss_low'])} to "
            f"{hardness_class(one['gloss_high'])}."
        )
    if one["expansion_appen_raw"] is None:
        remarks.append("No value by Appen's factors: they need 45-80 mol% SiO2 and a factor for each component.")
    return remarks
