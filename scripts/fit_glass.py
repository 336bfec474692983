"""Fit the linear models of glass properties on `data_sources/sciglass/enamel_like.csv`.

    python scripts/fit_glass.py            writes refdb/science/glass/coefficients.py
    python scripts/fit_glass.py --check    exits 1 when that file is stale

Every error quoted comes from tenfold cross-validation grouped by paper: a glass is predicted only by
coefficients fitted without its paper and without any glass of the same composition from another paper.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from refdb.science.glass import viscosity  # noqa: E402
from refdb.science.glass.appen import FACTORS, expansion_appen_ppm_per_k  # noqa: E402
from refdb.science.glass.features import (  # noqa: E402
    GLOSS_HIGHEST_C,
    MAJOR,
    MINOR,
    TERMS,
    feature_columns,
    molar_mass_of_glass,
    oxide_moles,
)
from refdb.science.inference.regression import band_table, folds_by_group, half_width, huber_coefficients  # noqa: E402

Array = NDArray[np.float64]
SOURCE = ROOT / "data_sources" / "sciglass" / "enamel_like.csv"
TARGET = ROOT / "refdb" / "science" / "glass" / "coefficients.py"
FOLDS = 10
COLOURANT_MOL_PCT = 2.0
#: Slices by size of prediction for the error bands; fewer where there is less data.
BINS = {"expansion": 8, "tg": 6, "littleton": 4, "density": 6, "youngs_modulus": 6, "gloss": 2}
UNIT = {"expansion": "ppm/K", "tg": "°C", "littleton": "°C", "density": "kg/m³", "youngs_modulus": "GPa", "gloss": "°C"}


@dataclass(frozen=True)
class Data:
    """The measured glasses: weight and mole per cent, paper, fold, and values (NaN where not measured)."""

    weights: Array
    names: tuple[str, ...]
    moles: Array
    parts: tuple[str, ...]
    papers: tuple[str, ...]
    fold: NDArray[np.int_]
    twin: NDArray[np.int_]
    measured: dict[str, Array]

    def wt(self, name: str) -> Array:
        """Return the weight per cent of one component."""
        return self.weights[:, self.names.index(name)]

    @property
    def enamel(self) -> NDArray[np.bool_]:
        """Which glasses lie where enamels do: 33-68 SiO2, 8-32 alkalis (weight per cent)."""
        alkalis = self.wt("Li2O") + self.wt("Na2O") + self.wt("K2O")
        return (self.wt("SiO2") <= 68.0) & (alkalis >= 8.0)


@dataclass(frozen=True)
class Result:
    """Predictions made without the glass concerned, with the band made without its fold; NaN elsewhere."""

    predicted: Array
    measured: Array
    low: Array
    high: Array
    band: Array


def load(path: Path = SOURCE) -> Data:
    """Read the measured glasses."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    names = (*MAJOR, *MINOR)
    weights = np.array([[float(r[n] or 0) for n in names] for r in rows])
    moles, parts = oxide_moles(weights, names)
    papers = tuple(r["kod"] for r in rows)
    columns = {
        "expansion": ("expansion_1e-7_per_k", 0.1),
        "tg": ("tg_c", 1.0),
        "littleton": ("littleton_c", 1.0),
        "density": ("density_kg_m3", 1.0),
        "youngs_modulus": ("youngs_modulus_gpa", 1.0),
        "temp_log3": ("temp_log3_c", 1.0),
    }
    measured = {
        key: np.array([float(r[c]) * scale if r[c] else np.nan for r in rows]) for key, (c, scale) in columns.items()
    }
    _, twin = np.unique(np.round(weights, 1), axis=0, return_inverse=True)
    return Data(weights, names, moles, parts, papers, folds_by_group(papers, FOLDS), twin.ravel(), measured)


def design(data: Data, model: str) -> tuple[Array, Array, Array]:
    """Return features, what is to be fitted, and what is known beforehand and added afterwards."""
    features = feature_columns(data.moles, data.parts, TERMS[model])
    if model == "molar_volume":
        volume = 1000.0 * molar_mass_of_glass(data.moles, data.parts) / data.measured["density"]
        return features, volume, np.zeros(len(volume))
    known = np.zeros(len(features))
    if model == "expansion":
        factors = np.array([FACTORS[n] for n in MINOR]) / 1000.0
        known = feature_columns(data.moles, data.parts, MINOR) @ factors
    return features, data.measured[model], known


def out_of_fold(data: Data, features: Array, measured: Array, known: Array) -> Array:
    """Return predictions, each from coefficients that never saw the paper nor the composition."""
    have = np.isfinite(measured)
    predicted = np.full(len(measured), np.nan)
    for fold in range(FOLDS):
        test = have & (data.fold == fold)
        train = have & (data.fold != fold) & ~np.isin(data.twin, data.twin[test])
        found = huber_coefficients(features[train], measured[train] - known[train])
        predicted[test] = features[test] @ found + known[test]
    return predicted


def banded(data: Data, key: str, predicted: Array, measured: Array) -> Result:
    """Put bands on predictions, for each fold from the errors of the other folds."""
    low, high = np.full(len(predicted), np.nan), np.full(len(predicted), np.nan)
    have = np.isfinite(predicted) & np.isfinite(measured)
    error = measured - predicted
    for fold in range(FOLDS):
        test, other = have & (data.fold == fold), have & (data.fold != fold)
        half = half_width(band_table(predicted[other], error[other], BINS[key]), predicted[test])
        low[test], high[test] = predicted[test] - half, predicted[test] + half
    return Result(
        np.where(have, predicted, np.nan),
        np.where(have, measured, np.nan),
        low,
        high,
        band_table(predicted[have], error[have], BINS[key]),
    )


def temp_at_c(temps: Array, log10_pa_s: float) -> Array:
    """Return the temperature of a viscosity from the curve through isokoms."""
    a, b, t0, _ = viscosity.vft_constants(temps)
    return t0 + b / (log10_pa_s - a)


def evaluate(data: Data) -> dict[str, Result]:
    """Return the cross-validated result of every property."""
    results: dict[str, Result] = {}
    for model in ("expansion", "tg", "youngs_modulus"):
        features, measured, known = design(data, model)
        results[model] = banded(data, model, out_of_fold(data, features, measured, known), measured)
    features, volume, known = design(data, "molar_volume")
    mass = molar_mass_of_glass(data.moles, data.parts)
    density = 1000.0 * mass / out_of_fold(data, features, volume, known)
    results["density"] = banded(data, "density", density, data.measured["density"])
    temps = viscosity.isokoms_c(data.moles, data.parts)
    results["littleton"] = banded(data, "littleton", temps[:, 1], data.measured["littleton"])
    working = temp_at_c(temps, 3.0)
    working = np.where(working <= GLOSS_HIGHEST_C, working, np.nan)
    results["gloss"] = banded(data, "gloss", working, data.measured["temp_log3"])
    return results


def appen_recalibrated(data: Data) -> Result:
    """Return Appen's published factors with two fitted numbers, a slope and a constant."""
    raw = expansion_appen_ppm_per_k(data.weights, data.names)
    measured = np.where(np.isfinite(raw), data.measured["expansion"], np.nan)
    features = np.stack([np.nan_to_num(raw), np.ones(len(raw))], axis=1)
    return banded(data, "expansion", out_of_fold(data, features, measured, np.zeros(len(raw))), measured)


def recalibration(data: Data) -> Array:
    """Return slope and constant (ppm/K) that bring Appen's factors to the measured expansions."""
    raw = expansion_appen_ppm_per_k(data.weights, data.names)
    have = np.isfinite(raw) & np.isfinite(data.measured["expansion"])
    features = np.stack([raw[have], np.ones(have.sum())], axis=1)
    return huber_coefficients(features, data.measured["expansion"][have])


def limits(data: Data, model: str) -> dict[str, float]:
    """Return the highest mole per cent of each oxide: what 99 % of the glasses holding it stay under.

    Two per cent of the rarer ones is let through in any case: colourants, which hardly move a property.
    """
    measured = data.measured["density" if model == "molar_volume" else model]
    have = np.isfinite(measured)
    highest = {}
    for name in (*MAJOR[1:], *MINOR):
        amounts = data.moles[have, data.parts.index(name)]
        some = amounts[amounts > 0]
        most = round(float(np.quantile(some, 0.99)), 1) if len(some) >= 10 else 0.0
        highest[name] = max(most, COLOURANT_MOL_PCT) if name in MINOR else most
    return highest


def text(data: Data) -> str:
    """Return the module that holds the fit."""
    lines = [
        '"""Coefficients, limits and error bands of the models of glass properties. Written by scripts/fit_glass.py.',
        "",
        "Source: computed from SciGlass (EPAM Systems 2019, Open Database License) by Huber regression",
        "on the glasses of data_sources/sciglass/enamel_like.csv. Bands enclose 90 % of measurements in",
        "tenfold cross-validation grouped by paper.",
        '"""',
        "",
        "from __future__ import annotations",
        "",
        "#: Property to term to factor for each mole per cent; ppm/K, °C, GPa, cm³/mol.",
        "COEFFICIENTS: dict[str, dict[str, float]] = {",
    ]
    for model, terms in TERMS.items():
        features, measured, known = design(data, model)
        have = np.isfinite(measured)
        found = huber_coefficients(features[have], measured[have] - known[have])
        printed = {t: float(f"{v:.5g}") for t, v in zip(terms, found, strict=True)}
        lines += [f'    "{model}": {{', *_wrapped(printed), "    },"]
    lines += [
        "}",
        "",
        "#: Property to oxide to the highest mole per cent answered.",
        "HIGHEST_MOL_PCT: dict[str, dict[str, float]] = {",
    ]
    for model in TERMS:
        lines += [f'    "{model}": {{', *_wrapped(limits(data, model)), "    },"]
    slope, constant = recalibration(data)
    lines += [
        "}",
        "",
        "#: Slope and constant (ppm/K) that bring Appen's factors to the same measurements.",
        f"APPEN_RECALIBRATION: tuple[float, float] = ({slope:.4f}, {constant:.4f})",
        "",
        "#: Property to rows of (prediction, half-width of the band).",
        "BANDS: dict[str, tuple[tuple[float, float], ...]] = {",
    ]
    for key, result in evaluate(data).items():
        lines += [
            f'    "{key}": (  # {UNIT[key]}',
            *(f"        ({p:.5g}, {half:.4g})," for p, half in result.band),
            "    ),",
        ]
    return "\n".join([*lines, "}", ""])


def _wrapped(pairs: dict[str, float]) -> list[str]:
    lines, line = [], " " * 7
    for key, value in pairs.items():
        piece = f' "{key}": {value!r},'
        if len(line) + len(piece) > 110:
            lines.append(line)
            line = " " * 7
        line += piece
    return [*lines, line]


def main() -> None:
    """Write the module, or check it."""
    wanted = text(load())
    if "--check" in sys.argv[1:]:
        if not TARGET.exists() or TARGET.read_text(encoding="utf-8") != wanted:
            raise SystemExit(f"{TARGET.relative_to(ROOT)} is stale; run python scripts/fit_glass.py")
    else:
        TARGET.write_text(wanted, encoding="utf-8")


if __name__ == "__main__":
    main()
