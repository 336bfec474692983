"""Strength under lasting load, and what a leaving coat sets free."""

import numpy as np
import pytest

from refdb.science.plate import Layer, cool
from refdb.science.plate.fracture import ANNEALED_STRENGTH_PA, PERMANENT_FACTOR, duration_factor, release_rates


@pytest.mark.parametrize(
    ("hours", "factor", "digit"),
    [(3 / 3600, 1.0, 1e-12), (30 / 3600, 0.89, 0.005), (0.5, 0.69, 0.005), (24 * 365 * 50, 0.29, 0.005)],
)
def test_duration_factor_is_that_of_the_standard(hours, factor, digit):
    """EN 16612, table of load durations: 1 for a gust, 0.89 at 30 s, 0.69 at 30 min, 0.29 for good (to 0.01)."""
    assert duration_factor(hours) == pytest.approx(factor, abs=digit)


def test_duration_factor_falls_and_stops():
    assert duration_factor(1) > duration_factor(168) > duration_factor(1e5) >= PERMANENT_FACTOR
    assert pytest.approx(13.05e6) == ANNEALED_STRENGTH_PA * PERMANENT_FACTOR
    with pytest.raises(ValueError, match="longer"):
        duration_factor(0)


def plate_energy(layers):
    """Elastic energy per area of a cooled elastic plate, integrated by its face stresses."""
    total = 0.0
    for layer, stress in zip(layers, cool(layers).layers, strict=True):
        mean, half = (stress.bottom_pa + stress.top_pa) / 2, (stress.top_pa - stress.bottom_pa) / 2
        total += layer.thickness_m * (mean**2 + half**2 / 3) * (1 - layer.poisson_ratio) / layer.youngs_modulus_pa
    return total


@pytest.mark.parametrize("gone", [0, 2])
def test_release_is_the_difference_of_two_whole_plates(gone):
    """The energy of the plate with the coat less that of the plate without it, each cooled on its own."""

    def layer(name, mm, youngs, per_k, set_c=None):
        return Layer(name, mm * 1e-3, youngs, 0.25, lambda t: per_k * (t - 20), set_c)

    layers = [
        layer("back", 0.2, 68e9, 11e-6, 500.0),
        layer("metal", 0.8, 117e9, 17e-6),
        layer("front", 0.35, 60e9, 12e-6, 500.0),
    ]
    plate = cool(layers)
    bottom = np.array([[x.bottom_pa for x in plate.layers]])
    top = np.array([[x.top_pa for x in plate.layers]])
    thickness = np.array([[x.thickness_m for x in layers]])
    modulus = np.array([[x.youngs_modulus_pa / 0.75 for x in layers]])
    rest = [x for k, x in enumerate(layers) if k != gone]
    assert release_rates(bottom, top, thickness, modulus)[0, gone] == pytest.approx(
        plate_energy(layers) - plate_energy(rest), rel=1e-9
    )


def test_release_of_a_thin_film_is_the_textbook_value():
    """Hutchinson and Suo 1992: a thin film on a thick base sets free s² h (1-nu)/E; within 1 % at 1:1000."""
    thickness = np.array([[10e-3, 10e-6]])
    modulus = np.array([[150e9, 90e9]])
    stress = np.array([[0.0, -100e6]])
    assert release_rates(stress, stress, thickness, modulus)[0, 1] == pytest.approx(1e16 * 10e-6 / 90e9, rel=0.01)
