"""Estimates of glass properties from composition, against measurements they were not fitted on."""

from __future__ import annotations

import csv
import dataclasses
import importlib.util
import math
import sys
import time
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refdb.errors import BadInput
from refdb.science.glass.appen import expansion_appen_ppm_per_k
from refdb.science.glass.composition import COMPONENTS
from refdb.science.glass.estimated import HARDNESS_CLASSES, hardness_class
from refdb.science.glass.features import MAJOR, MINOR
from refdb.science.glass.properties import GlassEstimate, estimate, estimate_many
from refdb.science.inference.regression import band_table, folds_by_group, half_width, huber_coefficients

ROOT = Path(__file__).resolve().parents[1]
COPPER_ENAMEL = {"SiO2": 48.0, "Na2O": 13.6, "K2O": 10.4, "B2O3": 8.0, "Al2O3": 7.0, "CaO": 5.0, "BaO": 8.0}
WINDOW_GLASS = {"SiO2": 72.5, "Na2O": 13.7, "CaO": 9.0, "MgO": 4.0, "Al2O3": 0.8}
BANDED = (
    "expansion_ppm_per_k",
    "tg_c",
    "set_point_c",
    "littleton_c",
    "youngs_modulus_pa",
    "density_kg_m3",
    "gloss_c",
    "poisson_ratio",
)


def script(name: str) -> ModuleType:
    if name in sys.modules:
        return sys.modules[name]
    spec = importlib.util.spec_from_file_location(name, ROOT / "scripts" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def data():
    return script("fit_glass").load()


@pytest.fixture(scope="module")
def held_out(data):
    return script("fit_glass").evaluate(data)


def errors(result, where):
    error = (result.predicted - result.measured)[where]
    return error[np.isfinite(error)]


def test_expansion_of_glasses_held_out(data, held_out) -> None:
    """SciGlass, enamel-like, 20-400 °C: RMSE at most 0.78 ppm/K and bias at most 0.10.

    The published factors recalibrated were found to reach 0.72 with a median error of 0.27 on such glasses.
    """
    error = errors(held_out["expansion"], data.enamel)
    assert len(error) > 3000
    assert np.sqrt((error**2).mean()) <= 0.78
    assert abs(error.mean()) <= 0.10
    assert np.median(np.abs(error)) <= 0.30


@pytest.mark.parametrize(
    ("key", "least", "median"),
    [
        ("littleton", 500, 15.0),
        ("tg", 2000, 21.0),
        ("density", 3000, 30.0),
        ("youngs_modulus", 1800, 3.3),
        ("gloss", 150, 20.0),
    ],
)
def test_median_error_of_glasses_held_out(data, held_out, key: str, least: int, median: float) -> None:
    """SciGlass, enamel-like; °C, kg/m³ and GPa.

    For comparison, like compositions not removed: gradient boosting reached 14 °C and linear models 18 °C for
    the transformation temperature, Appen's molar volumes 25 kg/m³ and his moduli 3.2 GPa.
    """
    error = errors(held_out[key], data.enamel)
    assert len(error) > least
    assert np.median(np.abs(error)) <= median


@pytest.mark.parametrize("key", ["expansion", "littleton", "tg", "density", "youngs_modulus", "gloss"])
def test_bands_enclose_nine_in_ten_of_glasses_held_out(data, held_out, key: str) -> None:
    """SciGlass, enamel-like: 86-94 % inside a band made from other papers' errors."""
    result = held_out[key]
    have = data.enamel & np.isfinite(result.predicted)
    inside = (result.measured >= result.low) & (result.measured <= result.high)
    assert 0.86 <= inside[have].mean() <= 0.94


def test_bands_enclose_nine_in_ten_where_expansion_is_high(held_out) -> None:
    result = held_out["expansion"]
    high = result.predicted > 11.0
    inside = (result.measured >= result.low) & (result.measured <= result.high)
    assert high.sum() > 300
    assert 0.86 <= inside[high].mean() <= 0.94


def test_regression_beats_the_published_factors_on_the_same_glasses(data, held_out) -> None:
    appen = script("fit_glass").appen_recalibrated(data)
    ours = held_out["expansion"]
    both = np.isfinite(appen.predicted) & np.isfinite(ours.predicted)
    for where in (both & data.enamel, both & (data.wt("PbO") >= 5.0)):
        a, b = errors(ours, where), errors(appen, where)
        assert np.sqrt((a**2).mean()) < np.sqrt((b**2).mean())
        assert np.median(np.abs(a)) < np.median(np.abs(b))


def test_no_paper_and_no_composition_is_on_both_sides(data) -> None:
    fit_glass = script("fit_glass")
    seen: list[tuple[set[int], set[str]]] = []

    def spy(features, measured):
        at = features[:, 0].astype(int)
        seen.append(({int(data.twin[i]) for i in at}, {data.papers[i] for i in at}))
        return np.zeros(features.shape[1])

    kept, fit_glass.huber_coefficients = fit_glass.huber_coefficients, spy
    try:
        measured = data.measured["expansion"]
        row_numbers = np.arange(len(measured), dtype=float)[:, None]
        fit_glass.out_of_fold(data, row_numbers, measured, np.zeros(len(measured)))
    finally:
        fit_glass.huber_coefficients = kept
    assert len(seen) == fit_glass.FOLDS
    have = np.isfinite(measured)
    for fold, (twins, papers) in enumerate(seen):
        test = have & (data.fold == fold)
        assert twins.isdisjoint(set(data.twin[test].tolist()))
        assert papers.isdisjoint({p for p, here in zip(data.papers, test, strict=True) if here})


def test_coefficients_are_those_of_the_data(data, held_out) -> None:
    """Recomputed from the glasses shipped, within the five figures printed."""
    fit_glass = script("fit_glass")
    from refdb.science.glass.coefficients import BANDS, COEFFICIENTS

    for model, terms in fit_glass.TERMS.items():
        features, measured, known = fit_glass.design(data, model)
        have = np.isfinite(measured)
        found = huber_coefficients(features[have], measured[have] - known[have])
        assert [COEFFICIENTS[model][t] for t in terms] == pytest.approx(found, rel=1e-4, abs=1e-5)
    for key, result in held_out.items():
        assert np.array(BANDS[key]) == pytest.approx(result.band, rel=1e-3)


def test_validation_page_is_fresh(data, held_out) -> None:
    validate = script("validate_glass")
    for name, text in validate.files(data, held_out).items():
        assert (validate.OUT / name).read_text(encoding="utf-8") == text, name


def copper_enamels() -> list[tuple[str, str, dict[str, float], float]]:
    path = ROOT / "data_sources" / "sciglass" / "copper_enamels.csv"
    with path.open(encoding="utf-8", newline="") as file:
        return [
            (
                r["kod"],
                r["paper"],
                {n: float(r[n]) for n in (*MAJOR, *MINOR) if r[n]},
                float(r["expansion_1e-7_per_k"]) / 10,
            )
            for r in csv.DictReader(file)
        ]


def test_published_copper_enamels_lie_in_the_band(data) -> None:
    """Yatsenko et al. 1998 and Zubekhin et al. 2001, lead-free enamels for copper, twenty glasses.

    Neither paper is among those fitted. A 90 % band should hold eighteen; seventeen are asked for, since one
    composition is reported twice with figures 1.0 ppm/K apart.
    """
    glasses = copper_enamels()
    assert len(glasses) == 20
    assert {paper for paper, *_ in glasses}.isdisjoint(data.papers)
    found = [(estimate(oxides), measured) for *_, oxides, measured in glasses]
    inside = [e.expansion_low <= m <= e.expansion_high for e, m in found]
    assert sum(inside) >= 17
    assert np.median([abs(e.expansion_ppm_per_k - m) for e, m in found]) <= 0.9
    assert abs(np.mean([e.expansion_ppm_per_k - m for e, m in found])) <= 0.5


def test_two_papers_disagree_on_one_composition() -> None:
    assert [m for _, _, oxides, m in copper_enamels() if oxides["SiO2"] == 45.6] == [13.5, 14.5]


def test_window_glass() -> None:
    """Soda-lime float glass, EN 572-1: 9 ppm/K over 20-300 °C, 2500 kg/m³, 70 GPa, Poisson's ratio 0.2."""
    found = estimate(WINDOW_GLASS)
    assert found.expansion_low <= 9.0 / 0.974 <= found.expansion_high
    assert found.density_low <= 2500 <= found.density_high
    assert found.youngs_modulus_low <= 70e9 <= found.youngs_modulus_high
    assert found.poisson_low <= 0.2 <= found.poisson_high
    assert found.hardness == "very hard"


def test_appens_factors_by_hand() -> None:
    """70 SiO2, 20 Na2O, 10 CaO (mol%): 70·(38−3) + 20·395 + 10·130 = 11650, that is 11.65 ppm/K."""
    weights = np.array([[70 * 60.083, 20 * 61.979, 10 * 56.077]])
    weights = 100 * weights / weights.sum()
    assert expansion_appen_ppm_per_k(weights, ("SiO2", "Na2O", "CaO"))[0] == pytest.approx(11.65, abs=1e-4)


def test_appens_rules_by_hand() -> None:
    """60 SiO2, 15 Na2O, 5 K2O, 10 B2O3, 10 PbO (mol%): psi = (20 + 7)/10 = 2.7; PbO at 190 (20 % alkalis).

    60·38 + 15·395 + 5·465 − 12.5·2.7·10 + 10·190 = 12092.5.
    """
    moles = {"SiO2": 60, "Na2O": 15, "K2O": 5, "B2O3": 10, "PbO": 10}
    found = estimate(moles, "mol").expansion_appen_raw
    assert found == pytest.approx(12.0925, abs=1e-4)


@pytest.mark.parametrize("field", BANDED)
def test_every_band_holds_its_value(field: str) -> None:
    found = estimate(COPPER_ENAMEL)
    stem = field.removesuffix("_ppm_per_k").removesuffix("_pa").removesuffix("_kg_m3").removesuffix("_c")
    stem = stem.removesuffix("_ratio") if field == "poisson_ratio" else stem
    assert getattr(found, f"{stem}_low") < getattr(found, field) < getattr(found, f"{stem}_high")


def test_set_point_stands_above_the_transformation_temperature() -> None:
    found = estimate(COPPER_ENAMEL)
    assert found.set_point_c == pytest.approx(found.tg_c + 20.0)
    half = math.hypot(found.tg_high - found.tg_c, 30.0)
    assert found.set_point_high - found.set_point_c == pytest.approx(half)


@pytest.mark.parametrize(
    ("composition", "what"),
    [
        ({"Na2O": 100.0}, "all"),
        ({"Na2O": 50.0, "K2O": 50.0}, "all"),
        ({"B2O3": 60.0, "PbO": 40.0}, "all"),
        ({"SiO2": 100.0}, "all but viscosity"),
        ({"Au": 100.0}, "all"),
        ({"SiO2": 81.0, "B2O3": 13.0, "Na2O": 4.0, "Al2O3": 2.0}, "all but viscosity"),
    ],
)
def test_strange_glasses_pass_without_answer(composition: dict[str, float], what: str) -> None:
    found = estimate(composition)
    for field in ("expansion_ppm_per_k", "tg_c", "set_point_c", "youngs_modulus_pa", "density_kg_m3"):
        assert getattr(found, field) is None
    for word in ("expansion", "transformation", "modulus", "density"):
        assert any(w.startswith("No ") and word in w for w in found.warnings), found.warnings
    assert found.limits_broken
    if what == "all":
        assert found.vft is None
        assert found.hardness is None
        assert found.log10_viscosity_pa_s(800.0) is None
        assert set(found.isokoms_c.values()) == {None}


def test_opacified_white_has_expansion_but_no_softening_point() -> None:
    """Zirconia above the limit of the viscosity model and inside that of the regression."""
    found = estimate({"SiO2": 47.0, "Na2O": 15.0, "K2O": 8.0, "B2O3": 10.0, "CaO": 6.0, "Al2O3": 4.0, "ZrO2": 10.0})
    assert found.expansion_ppm_per_k is not None
    assert found.littleton_c is None
    assert found.log10_viscosity_pa_s(800.0) is None
    assert any(w.startswith("No softening point") and "ZrO2" in w for w in found.warnings)


def test_total_is_reported_when_scaled() -> None:
    found = estimate({k: v * 0.99 for k, v in COPPER_ENAMEL.items()})
    assert found.total == pytest.approx(99.0)
    assert any("add up to 99" in w for w in found.warnings)
    assert found.expansion_ppm_per_k == pytest.approx(estimate(COPPER_ENAMEL).expansion_ppm_per_k)
    assert not any("add up" in w for w in estimate(COPPER_ENAMEL).warnings)


def test_small_unknown_colourant_is_passed_over_and_named() -> None:
    found = estimate({**{k: v * 0.99 for k, v in COPPER_ENAMEL.items()}, "Cr2O3": 1.0})
    assert found.expansion_ppm_per_k == pytest.approx(estimate(COPPER_ENAMEL).expansion_ppm_per_k, abs=0.15)
    assert any("Cr2O3" in w and "passed over" in w for w in found.warnings)


@pytest.mark.parametrize("colourant", ["CuO", "CoO", "NiO", "MnO", "SnO2"])
def test_usual_colourants_are_answered(colourant: str) -> None:
    found = estimate({**{k: v * 0.98 for k, v in COPPER_ENAMEL.items()}, colourant: 2.0})
    for field in ("expansion_ppm_per_k", "tg_c", "youngs_modulus_pa", "density_kg_m3", "gloss_c"):
        assert getattr(found, field) is not None, field


@pytest.mark.parametrize(
    ("setting", "word"),
    [
        (700.0, "soft"),
        (759.9, "soft"),
        (760.0, "medium"),
        (799.9, "medium"),
        (800.0, "hard"),
        (845.0, "very hard"),
        (1200.0, "very hard"),
        (None, None),
    ],
)
def test_hardness_class(setting: float | None, word: str | None) -> None:
    assert hardness_class(setting) == word
    assert [limit for _, limit in HARDNESS_CLASSES] == [760.0, 800.0, 845.0]


@pytest.mark.parametrize(
    "composition",
    [{}, {"SiO2": 50.0}, {"Na": 100.0}, {"SiO2": -1.0, "Na2O": 101.0}, {"SiO2": float("nan")}, {"Xy": 100.0}, None],
)
def test_malformed_composition_is_refused(composition: dict[str, float]) -> None:
    with pytest.raises(BadInput):
        estimate(composition)


@pytest.mark.parametrize(
    ("table", "names", "said"),
    [
        ([[50.0, 50.0]], ("SiO2",), "shape"),
        ([50.0, 50.0], ("SiO2", "Na2O"), "shape"),
        ([[70.0, 30.0], [70.0, 20.0]], ("SiO2", "Na2O"), "row 1"),
        ([[130.0, -30.0]], ("SiO2", "Na2O"), "row 0"),
        ([[float("nan"), 30.0]], ("SiO2", "Na2O"), "row 0"),
        ([["a", "b"]], ("SiO2", "Na2O"), "not numbers"),
        ([[70.0, 30.0]], ("SiO2", "sio2"), "twice"),
        ([[70.0, 30.0]], ("SiO2", "Na"), "did you mean"),
        ([[]], (), "shape"),
    ],
)
def test_malformed_table_is_refused(table: list[list[float]], names: tuple[str, ...], said: str) -> None:
    with pytest.raises(BadInput) as caught:
        estimate_many(table, names)  # type: ignore[arg-type]
    assert said in caught.value.line


def test_table_of_no_glasses_gives_none() -> None:
    assert estimate_many(np.zeros((0, 2)), ("SiO2", "Na2O")).expansion_ppm_per_k.shape == (0,)


def to_hundred(found: dict[str, float]) -> dict[str, float]:
    return {k: 100.0 * v / math.fsum(found.values()) for k, v in found.items()}


compositions = st.dictionaries(st.sampled_from(COMPONENTS), st.floats(0.05, 60.0), min_size=1, max_size=8).map(
    to_hundred
)
likely = st.fixed_dictionaries(
    {
        "SiO2": st.floats(40.0, 60.0),
        "Na2O": st.floats(5.0, 15.0),
        "K2O": st.floats(2.0, 12.0),
        "CaO": st.floats(1.0, 8.0),
        "B2O3": st.floats(0.1, 10.0),
        "PbO": st.floats(0.0, 30.0),
    }
).map(to_hundred)


def same(a: GlassEstimate, b: GlassEstimate) -> None:
    for field in dataclasses.fields(a):
        one, other = getattr(a, field.name), getattr(b, field.name)
        if isinstance(one, float):
            assert other == pytest.approx(one, rel=1e-7), field.name
        elif one is None or isinstance(one, str):
            assert one == other, field.name


@settings(deadline=None)
@given(likely, st.randoms(), st.floats(0.985, 1.015))
def test_order_and_scale_change_nothing(composition: dict[str, float], random, factor: float) -> None:
    keys = list(composition)
    random.shuffle(keys)
    moved = estimate({k: composition[k] * factor for k in keys})
    same(estimate(composition), dataclasses.replace(moved, total=estimate(composition).total))


@settings(deadline=None)
@given(likely)
def test_weight_and_mole_basis_agree(composition: dict[str, float]) -> None:
    found = estimate(composition)
    same(found, dataclasses.replace(estimate(found.mole_percent, "mol"), total=found.total))


@settings(deadline=None)
@given(compositions)
def test_any_composition_is_answered_or_explained(composition: dict[str, float]) -> None:
    found = estimate(composition)
    unanswered = [f for f in BANDED if getattr(found, f) is None]
    assert not unanswered or any(w.startswith("No ") for w in found.warnings)
    for warning in found.warnings:
        assert warning.endswith(".")
        assert "nan" not in warning.lower()


@settings(deadline=None, max_examples=25)
@given(st.lists(likely, min_size=1, max_size=6))
def test_many_at_once_equal_each_alone(glasses: list[dict[str, float]]) -> None:
    names = tuple(glasses[0])
    table = np.array([[g[n] for n in names] for g in glasses])
    many = estimate_many(table, names)
    for row, glass in enumerate(glasses):
        one = estimate(glass)
        for field in dataclasses.fields(many):
            value = getattr(many, field.name)[row]
            if field.name == "isokoms_c":
                alone = [v if v is not None else math.nan for v in one.isokoms_c.values()]
                assert alone == pytest.approx(list(value), nan_ok=True)
            else:
                alone = getattr(one, field.name)
                assert math.isnan(value) if alone is None else value == pytest.approx(alone), field.name


def test_ten_thousand_glasses_in_a_moment() -> None:
    names = ("SiO2", "Na2O", "K2O", "B2O3", "CaO", "PbO")
    table = 100.0 * np.random.default_rng(1).dirichlet([50, 14, 8, 8, 5, 5], 10_000)
    start = time.perf_counter()
    found = estimate_many(table, names)
    assert time.perf_counter() - start < 1.0
    assert np.isfinite(found.expansion_ppm_per_k).mean() > 0.9


def test_huber_regression_passes_over_wrong_records() -> None:
    rng = np.random.default_rng(3)
    features = rng.normal(size=(400, 3))
    measured = features @ [2.0, -1.0, 0.5] + rng.normal(scale=0.1, size=400)
    measured[:20] += 50.0
    robust = huber_coefficients(features, measured)
    plain = np.linalg.lstsq(features, measured, rcond=None)[0]
    assert robust == pytest.approx([2.0, -1.0, 0.5], abs=0.03)
    assert np.abs(plain - [2.0, -1.0, 0.5]).max() > 0.1


def test_band_table_encloses_its_share_and_follows_the_size() -> None:
    rng = np.random.default_rng(4)
    predicted = rng.uniform(1.0, 10.0, 4000)
    error = rng.normal(size=4000) * predicted
    half = half_width(band_table(predicted, error, 6), predicted)
    assert (np.abs(error) <= half).mean() == pytest.approx(0.9, abs=0.02)
    assert (
        half_width(band_table(predicted, error, 6), np.array([2.0]))[0]
        < half_width(band_table(predicted, error, 6), np.array([9.0]))[0] / 2
    )


def test_folds_keep_groups_together_and_do_not_change() -> None:
    groups = [str(n % 57) for n in range(500)]
    fold = folds_by_group(groups)
    assert (fold == folds_by_group(groups)).all()
    for group in set(groups):
        assert len({f for f, g in zip(fold, groups, strict=True) if g == group}) == 1
    assert set(fold) == set(range(10))
