"""The public names of the science: where they are found, what they take, and that a package alone stays light."""

from __future__ import annotations

import inspect
import subprocess
import sys
from importlib import import_module

import pytest

import refdb.science
from refdb.science.glass import GlassEstimate, estimate
from refdb.science.inference import expansion_from_bow

SODA_LIME = {"SiO2": 72.0, "Na2O": 14.0, "CaO": 10.0, "MgO": 4.0}


@pytest.mark.parametrize("package", ["glass", "inference", "firing", "plate"])
def test_a_package_alone_imports_no_numpy(package):
    program = f"import sys, refdb.science.{package}; print('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout == (
        "False\n"
    )


@pytest.mark.parametrize(
    "package", ["refdb.science", "refdb.science.glass", "refdb.science.inference", "refdb.science.plate"]
)
def test_what_a_package_exports_is_there_and_listed(package):
    module = import_module(package)
    assert module.__all__
    assert set(module.__all__) <= set(dir(module))
    assert all(getattr(module, name) is not None for name in module.__all__)
    with pytest.raises(AttributeError, match="nothing_of_the_kind"):
        _ = module.nothing_of_the_kind


def test_estimate_is_a_function_whatever_was_imported_before():
    import_module("refdb.science.glass.estimated")
    import_module("refdb.science.glass.properties")
    assert inspect.isfunction(refdb.science.glass.estimate)
    found = estimate(SODA_LIME)
    assert isinstance(found, GlassEstimate)
    assert found.expansion_low < found.expansion_ppm_per_k < found.expansion_high
    assert found.log10_viscosity_pa_s(found.littleton_c) == pytest.approx(6.6, abs=1e-9)
    # Window glass of this kind: Tg 545-575 °C, 72 GPa, 2.5 g/cm³, 9 ppm/K (textbooks agree, from memory).
    assert 530 < found.tg_c < 590
    assert found.youngs_modulus_pa == pytest.approx(72e9, rel=0.05)
    assert found.density_kg_m3 == pytest.approx(2500, rel=0.02)
    assert found.expansion_ppm_per_k == pytest.approx(9.0, abs=0.6)
    assert isinstance(found.warnings, tuple)


def test_mole_and_weight_per_cent_are_one_glass():
    by_weight = estimate(SODA_LIME)
    by_moles = estimate(by_weight.mole_percent, basis="mol")
    assert by_moles.expansion_ppm_per_k == pytest.approx(by_weight.expansion_ppm_per_k, rel=1e-9)
    assert by_moles.weight_percent == pytest.approx(SODA_LIME)


def test_the_strip_takes_what_is_measured_and_how_well():
    """The signature is public: two lengths, two layers, and four errors with these defaults."""
    parameters = inspect.signature(expansion_from_bow).parameters.values()
    assert [p.name for p in parameters if p.kind is p.POSITIONAL_OR_KEYWORD] == [
        "bow_m",
        "length_m",
        "metal_layer",
        "glass_layer",
    ]
    assert {p.name: p.default for p in parameters if p.kind is p.KEYWORD_ONLY} == {
        "bow_error_m": 1e-4,
        "length_error_m": 1e-3,
        "set_error_k": 30.0,
        "flow_error": 0.2,
    }
