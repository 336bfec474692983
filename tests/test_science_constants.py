"""Small figures of the science, each against a law or a table that was not made here."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from layered_chill import Conductor, quench_stress_pa

from refdb.errors import BadInput
from refdb.science.expansion import glass_strain
from refdb.science.firing.fluidity import FiringCurve, class_curve
from refdb.science.firing.heating import HEAT_OF_FAMILY, Blank, Kiln, blank_of, heat_up
from refdb.science.firing.maturing import ObservedFiring, calibrated
from refdb.science.firing.pull_through import pull_through
from refdb.science.firing.sintering import reduced_time
from refdb.science.glass import estimate
from refdb.science.glass.viscosity import Vft, vft_through
from refdb.science.inference.strip import Strip, read_strips
from refdb.science.inference.strip_advice import _expected
from refdb.science.inference.strip_table import LEAST_PER_K, bow_of_curvature
from refdb.science.inference.tiles import FiredTile, expansion_from_tiles, update
from refdb.science.plate import HardeningYield, Layer, cool
from refdb.science.plate.fracture import release_rates

#: Slope of the molar heat capacity with temperature, J/(mol K²), and molar mass, kg: Kelley's equations (US Bureau of
#: Mines Bulletins 476 and 584; from memory, in 10^-3 cal/(mol K²) as printed).
KELLEY = {
    "copper": (1.50, 0.06355), "gold": (1.24, 0.19697), "palladium": (1.38, 0.10642), "titanium": (2.40, 0.04787),
    "aluminium": (2.96, 0.02698),
}  # fmt: skip


@pytest.mark.parametrize("family", KELLEY)
def test_heat_capacity_rises_as_in_kelleys_equations(family):
    """Within 8 %, which the first figures of both allow."""
    slope, molar_mass_kg = KELLEY[family]
    assert HEAT_OF_FAMILY[family][1] == pytest.approx(slope * 4.184e-3 / molar_mass_kg, rel=0.08)


def test_fluidity_is_that_of_the_curve_and_none_in_a_solid_glass():
    """log10 of the viscosity is a + b/(T - T0) by hand: 4 and 12.5 flow, 14.5 and 20 do not in any firing."""
    curve = FiringCurve(Vft(0.0, 3000.0, 300.0))
    temps = 300.0 + 3000.0 / np.array([4.0, 12.5, 14.5, 20.0])
    assert curve.fluidity_per_pa_s(temps) == pytest.approx([1e-4, 10.0**-12.5, 0.0, 0.0], rel=1e-9, abs=0.0)
    assert curve.fluidity_per_pa_s(1050.0 + 40.0, moved_k=40.0) == pytest.approx(1e-4)


def test_a_curve_of_two_isokoms_meets_both():
    """Vogel's law solved by hand with a = -2.8: 10^6.6 at 560 °C and 10^12 at 440 °C meet in T0 = 1248/5.4 °C."""
    curve = vft_through(math.nan, 560.0, 440.0)
    assert curve is not None
    assert curve.isokoms_used == 2
    assert curve.t0_c == pytest.approx(1248.0 / 5.4)
    assert curve.log10_viscosity_pa_s(560.0) == pytest.approx(6.6)
    assert curve.log10_viscosity_pa_s(440.0) == pytest.approx(12.0)


COPPER = blank_of("copper", 0.8e-3, 8960.0)


@pytest.mark.parametrize(
    "given",
    [
        {"mass_kg_per_m2": 0.0},
        {"mass_kg_per_m2": 5e3},
        {"heat_capacity_j_per_kg_k": 0.0},
        {"heat_capacity_j_per_kg_k": 4e4},
        {"back_emissivity": 0.0},
        {"back_emissivity": 1.05},
        {"back_emissivity": -0.2},
    ],
)
def test_a_blank_that_cannot_be_is_refused(given):
    """No metal weighs nothing or five tonnes a square metre; nothing radiates more than a black body."""
    with pytest.raises(BadInput):
        Blank(**({"mass_kg_per_m2": 7.0, "heat_capacity_j_per_kg_k": 400.0} | given))
    assert Blank(7.0, 400.0, 0.0, 1.0).back_emissivity == 1.0


def test_at_the_end_a_piece_is_as_hot_as_its_kiln_and_was_never_hotter():
    """The second law, for a light and a heavy piece: within 0.1 K after a quarter of an hour."""
    for mm in (0.1, 4.0):
        found = heat_up(815.0, blank_of("silver", mm * 1e-3, 10490.0), 0.2e-3, Kiln(0.0))
        assert found.piece_c[-1] == pytest.approx(815.0, abs=0.1 if mm < 1 else 1.5)
        assert (found.piece_c <= 815.0 + 1e-6).all()
        assert (np.diff(found.time_s) > 0).all()
        assert np.diff(found.time_s).max() <= 5.0 + 1e-9


SEEN = ObservedFiring(815.0, 2.5, COPPER)


@pytest.mark.parametrize("minutes", [0.0, -1.0, 16.0, math.nan])
def test_a_firing_of_no_time_or_of_hours_pins_nothing(minutes):
    with pytest.raises(BadInput):
        calibrated(None, ObservedFiring(815.0, minutes, COPPER))


def test_the_band_of_a_glass_that_was_seen_lies_about_its_curve():
    """A softer glass shines sooner, so the low end lies below the curve; 30 % in time is worth some 10 K."""
    curve = calibrated(None, SEEN)
    assert -30.0 < curve.low_k < -3.0
    assert 3.0 < curve.high_k < 30.0


@pytest.mark.parametrize("minutes", [0.0, 16.0])
def test_pull_through_of_no_time_or_of_hours_is_refused(minutes):
    curve = class_curve(800.0, 780.0, 820.0)
    with pytest.raises(BadInput):
        pull_through(curve, curve, 815.0, COPPER, 0.1e-3, 0.1e-3, minutes=minutes)


@pytest.mark.parametrize(
    ("outside", "inside"),
    [
        ((310.0, 300.0, 330.0), (310.0, 301.0, 330.0)),
        ((800.0, 801.0, 820.0), (800.0, 800.0, 820.0)),
        ((800.0, 780.0, 799.0), (800.0, 780.0, 800.0)),
        ((1400.0, 1380.0, 1500.0), (1400.0, 1380.0, 1499.0)),
    ],
)
def test_a_class_whose_settings_are_not_in_order_is_refused(outside, inside):
    with pytest.raises(BadInput, match="within its range"):
        class_curve(*outside)
    assert class_curve(*inside).gloss_c == pytest.approx(inside[0])


@pytest.mark.parametrize(("density", "laid"), [(1.05, 0.55), (1.0, 0.55), (0.5, 0.55), (0.9, 0.0)])
def test_a_bed_of_grains_neither_loosens_nor_grows_denser_than_glass(density, laid):
    with pytest.raises(BadInput):
        reduced_time(density, laid)


def plate(nu):
    return [
        Layer("metal", 0.8e-3, 117e9, 0.34, lambda t: 17e-6 * (t - 20)),
        Layer("glass", 0.3e-3, 68e9, nu, lambda t: 12e-6 * (t - 20), 500.0),
    ]


@pytest.mark.parametrize("nu", [0.5, 0.55, -1.0, math.nan])
def test_poissons_ratio_lies_where_an_isotropic_body_is_stable(nu):
    """Landau and Lifshitz, Theory of Elasticity, section 5: above -1 and below one half."""
    with pytest.raises(BadInput):
        cool(plate(nu))
    assert abs(cool(plate(0.49)).residual_force) < 1.0


def strip(**more):
    metal = Layer("copper", 0.5e-3, 117e9, 0.34, lambda t: 17.8e-6 * (np.asarray(t) - 20.0), None,
                  HardeningYield(42e6, 2e9, 0.7))  # fmt: skip
    glass = Layer("glass", 0.25e-3, 68e9, 0.22, lambda t: 12.5e-6 * (np.asarray(t) - 20.0), 510.0)
    return Strip(**({"bow_m": 3e-3, "length_m": 0.1, "metal": metal, "glass": glass} | more))


def warned(width_m):
    return {w for w in read_strips([strip(width_m=width_m)]).warnings if "narrow" in w}


def test_a_strip_is_a_plate_only_when_five_thicknesses_wide():
    """Of 0.75 mm together: 3.6 mm (4.8 thicknesses) is a beam, 4 mm (5.3) is a plate."""
    assert any("narrower than" in w for w in warned(3.6e-3))
    assert not any("narrower than" in w for w in warned(4.0e-3))


@pytest.mark.parametrize("more", [{"width_m": 0.0}, {"width_m": -0.01}, {"width_m": math.inf}, {"bow_m": 0.06}])
def test_a_strip_that_cannot_be_is_refused(more):
    """Nothing of no width, and no bow of 60 mm on 100 mm: a half circle stands off by half of its width."""
    with pytest.raises(BadInput):
        read_strips([strip(**more)])


GRID = np.linspace(10e-6, 14e-6, 5)


def test_without_a_tile_nothing_is_told_and_the_prior_stays():
    found = update(GRID, [1, 2, 4, 2, 1], [])
    assert found.told == 0
    assert found.posterior == pytest.approx(np.array([1, 2, 4, 2, 1]) / 10)
    assert update(GRID, np.ones(5), [np.zeros(5), np.arange(5.0)]).told == 1


@pytest.mark.parametrize(("tension", "gap"), [(4, 5), (5, 4), (4, 4)])
def test_a_tile_has_both_figures_at_every_expansion(tension, gap):
    tile = FiredTile("sound", np.zeros(tension), np.zeros(gap), 70e6)
    with pytest.raises(BadInput):
        expansion_from_tiles(GRID, np.ones(5), [tile])


@pytest.mark.parametrize("scale", [1e-4, 1e-2, 10.0])
def test_release_scales_with_the_size_of_the_plate(scale):
    """Similarity: the same stresses in a plate so many times thinner store so many times less energy per area."""
    thickness, modulus = np.array([[0.8e-3, 0.3e-3]]), np.array([[170e9, 87e9]])
    bottom, top = np.array([[10e6, -60e6]]), np.array([[20e6, -30e6]])
    whole = release_rates(bottom, top, thickness, modulus)
    assert release_rates(bottom, top, thickness * scale, modulus) == pytest.approx(whole * scale, rel=1e-9)


@pytest.mark.parametrize(("copper_mm", "glass_mm", "yield_pa", "warns"), [
    (0.2, 0.4, 42e6, True), (0.3, 0.5, 5e6, True), (0.5, 0.25, 42e6, False), (1.0, 0.1, 300e6, False),
])  # fmt: skip
def test_a_thin_soft_strip_under_thick_glass_tells_little(copper_mm, glass_mm, yield_pa, warns):
    """Glass twice as thick as annealed copper carries the copper along whatever it shrinks by; hard copper does not."""
    made = strip()
    metal = replace(made.metal, thickness_m=copper_mm * 1e-3, flow_stress=HardeningYield(yield_pa, 2e9, 0.7))
    glass = replace(made.glass, thickness_m=glass_mm * 1e-3)
    bow_m = bow_of_curvature(cool([metal, glass]).curvature_per_m, made.length_m)
    found = read_strips([replace(made, metal=metal, glass=glass, bow_m=bow_m)])
    assert any("yielded so far" in w for w in found.warnings) is warns


@pytest.mark.parametrize(("rare", "silent"), [(1.0, True), (1.2, False)])
def test_a_limit_of_the_glass_model_is_itself_within_it(rare, silent):
    """Up to 1 mol% of what the model has no term for is taken, 1 itself as well, though no sum of parts is exact."""
    glass = {"SiO2": 72.0 - rare, "Na2O": 14.0, "CaO": 10.0, "MgO": 3.0, "Al2O3": 1.0, "Nd2O3": rare}
    found = estimate(glass, basis="mol")
    assert (not any("without a term" in w for w in found.warnings)) is silent
    assert (found.expansion_ppm_per_k is not None) is silent


def test_a_slow_chill_stretches_in_proportion_to_the_heat_it_takes():
    """While the plate stays hot the flux, and so the difference through the glass, goes as the heat transfer."""
    glass, metal = Conductor(1.1, 2.2e6, 65e9, 0.22, 11.5e-6), Conductor(360.0, 3.5e6, 120e9, 0.34, 11.5e-6)
    one, hundred = (quench_stress_pa(100.0, h, glass, metal, 0.15e-3, 0.75e-3) for h in (5e-4, 5e-2))
    assert one > 0.0
    assert hundred == pytest.approx(100.0 * one, rel=0.01)


def test_a_bow_beyond_every_glass_by_less_than_its_error_has_no_expansion_at_its_value():
    """Half a tenth of a millimetre more than the stiffest shrinker there is: measurable, but no glass gives it."""
    made = strip()
    metal = replace(made.metal, flow_stress=None)
    least = replace(made.glass, strain=lambda t: glass_strain(t, LEAST_PER_K))
    bow_m = bow_of_curvature(cool([metal, least]).curvature_per_m, made.length_m)
    found = read_strips([replace(made, metal=metal, bow_m=bow_m + 0.5e-4)])
    assert any("every figure at its value" in w for w in found.warnings)
    assert found.value_per_k < 2e-6


def test_flow_stress_falls_on_a_line_from_25_to_500_degrees():
    """By hand: whole at 25 °C, 0.7 at 500 °C, 0.85 half way, and never below a twentieth; hardening falls with it."""
    flow = HardeningYield(40e6, 2e9, 0.7)
    assert flow(np.array([25.0, 262.5, 500.0]), 0.0) == pytest.approx([40e6, 34e6, 28e6])
    assert flow(500.0, 0.01) == pytest.approx(0.7 * 60e6)
    assert HardeningYield(40e6, 2e9, 0.3)(900.0, 0.0) == pytest.approx(2e6)
    assert HardeningYield(40e6, 2e9)(500.0, 0.0) == pytest.approx(40e6)


def test_the_width_foretold_of_a_strip_of_another_size_is_that_of_such_a_strip():
    """Asked as one of several sizes or by itself, a strip of 0.3 mm under 0.2 mm of glass is the same strip."""
    made = strip()
    widths, tensions = _expected(made, [(0.5e-3, 0.25e-3), (0.3e-3, 0.2e-3)], 12.5e-6)
    metal, glass = replace(made.metal, thickness_m=0.3e-3), replace(made.glass, thickness_m=0.2e-3)
    alone, stretched = _expected(replace(made, metal=metal, glass=glass), [(0.3e-3, 0.2e-3)], 12.5e-6)
    assert widths[1] == pytest.approx(alone[0], rel=1e-6)
    assert tensions[1] == pytest.approx(stretched[0], rel=1e-6)
    assert widths[0] != pytest.approx(widths[1], rel=0.01)
