"""Stress of glass from temperatures within it: a steady cooling, and a chill."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from finite_elements_cooling import ramp
from hypothesis import given
from hypothesis import strategies as st
from layered_chill import Conductor, quench_stress_pa

from refdb.errors import BadInput
from refdb.judge import limits
from refdb.judge.limits import STRENGTH_MPA
from refdb.science.plate.cooling import (
    CHILLS,
    Body,
    chill_share,
    chill_stress_pa,
    cooling_minutes,
    ramp_stress_pa,
    share_that_breaks,
    slowest_needed_k_per_s,
)

GLASS = Body(70e9, 0.22, 12e-6, 1.1, 2.2e6)


def series(biot: float, terms: int = 400) -> float:
    """Greatest surface stress of a plate chilled by convection, by the series of a slab (Carslaw and Jaeger 1959)."""
    roots = []
    for n in range(terms):
        low, high = n * math.pi, n * math.pi + math.pi / 2 - 1e-12
        for _ in range(100):
            middle = (low + high) / 2
            low, high = (middle, high) if middle * math.tan(middle) < biot else (low, middle)
        roots.append(low)
    z = np.array(roots)
    c = 4 * np.sin(z) / (2 * z + np.sin(2 * z))
    fourier = np.geomspace(1e-5, 5, 3000)[:, None]
    fade = c * np.exp(-(z**2) * fourier)
    return float((fade * (np.sin(z) / z - np.cos(z))).sum(axis=1).max())


def stepped(biot: float, cells: int = 400) -> float:
    """The same by finite differences, fully implicit, of a slab of unit half thickness and diffusivity."""
    width = 1.0 / cells
    matrix = np.zeros((cells, cells))
    for k in range(cells):
        for j in (k - 1, k + 1):
            if 0 <= j < cells:
                matrix[k, j] += 1 / width**2
                matrix[k, k] -= 1 / width**2
    outside = 1 / (1 / biot + width / 2)
    matrix[0, 0] -= outside / width
    temp, step, most = np.ones(cells), 2e-4, 0.0
    inverse = np.linalg.inv(np.eye(cells) - step * matrix)
    for _ in range(4000):
        temp = inverse @ temp
        surface = temp[0] - outside * temp[0] * width / 2
        most = max(most, temp.mean() - surface)
    return most


@pytest.mark.parametrize("biot", [0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0])
def test_chill_against_the_series_of_a_slab(biot: float) -> None:
    # Carslaw and Jaeger, Conduction of Heat in Solids (1959), the series of a slab cooled by convection: within 8 %.
    assert chill_share(biot) == pytest.approx(series(biot), rel=0.08)


@pytest.mark.parametrize("biot", [0.1, 1.0, 5.0])
def test_series_and_chill_against_finite_differences(biot: float) -> None:
    assert series(biot) == pytest.approx(stepped(biot), rel=0.01)
    assert chill_share(biot) == pytest.approx(stepped(biot), rel=0.08)


@pytest.mark.parametrize("convection", [20.0, 500.0, 5000.0])
def test_chill_of_solid_glass_against_layered_conduction(convection: float) -> None:
    same = Conductor(1.1, 2.2e6, 70e9, 0.22, 12e-6)
    layered = quench_stress_pa(100.0, convection, same, same, 0.5e-3, 1.0e-3)
    assert chill_stress_pa(GLASS, 100.0, convection, 1e-3) == pytest.approx(layered, rel=0.08)


def test_steady_cooling_against_finite_differences() -> None:
    """A slab whose surface falls at a steady rate settles to the parabola: stepped in time by numpy, within 1 %."""
    rate, thick, cells = 0.5, 3e-3, 200
    width = thick / cells
    flow = GLASS.diffusivity_m2_per_s / width**2
    matrix = np.zeros((cells, cells))
    for k in range(cells):
        for j in (k - 1, k + 1):
            if 0 <= j < cells:
                matrix[k, j] += flow
                matrix[k, k] -= flow
    matrix[0, 0] -= 2 * flow
    inverse = np.linalg.inv(np.eye(cells) - 0.5 * matrix)
    temp = np.zeros(cells)
    for step in range(400):
        surface = -rate * 0.5 * (step + 1)
        push = np.zeros(cells)
        push[0] = 0.5 * 2 * flow * surface
        temp = inverse @ (temp + push)
    tension = GLASS.pa_per_k * (temp.mean() - surface)
    assert ramp_stress_pa(GLASS, rate, thick) == pytest.approx(tension, rel=0.01)


@pytest.mark.parametrize(("rate", "half_mm"), [(0.5, 3.0), (0.05, 6.0)])
def test_steady_cooling_against_finite_elements(rate: float, half_mm: float, tmp_path: Path) -> None:
    """Debian's calculix-ccx, heat and stress in one solution: the surface is stretched, the middle squeezed by half."""
    surface, middle = ramp(GLASS, rate, half_mm * 1e-3, tmp_path)
    mine = ramp_stress_pa(GLASS, rate, half_mm * 1e-3)
    assert mine == pytest.approx(surface, rel=0.01)
    # What the same parabola leaves for good when it is frozen in, the other way round: see `ramp_stress_pa`.
    assert -mine / 2 == pytest.approx(middle, rel=0.01)


#: Cooling of plates on one face through their annealing range [K/min], by expansion [ppm/K] and thickness [mm], as
#: glass handbooks print it for 1/8, 1/4 and 1/2 inch. From memory, without a page in hand.
RECALLED = {33.0: (12.0, 3.0, 0.8), 50.0: (8.0, 2.0, 0.5), 90.0: (4.0, 1.0, 0.3)}


@pytest.mark.trade
def test_rates_of_cooling_against_those_of_glass_handbooks() -> None:
    """From memory: rates fall with the square of the thickness and with the expansion, as here, within a fifth, which
    is as near as one figure is printed. They are those of glass annealed to be cut and polished: a coat is allowed
    what leaves two to four times as much stress. Its counter-example: a rate that fell with the thickness alone would
    be off by four."""
    times = []
    for ppm, rates in RECALLED.items():
        body = Body(70e9, 0.22, ppm * 1e-7, 1.1, 2.2e6)
        own = [
            60 * slowest_needed_k_per_s(body, limits.COOLING_STRESS_MPA * 1e6, mm * 1e-3) for mm in (3.18, 6.35, 12.7)
        ]
        times += [mine / theirs for mine, theirs in zip(own, rates, strict=True)]
    middle = float(np.exp(np.log(times).mean()))
    assert times == pytest.approx([middle] * 9, rel=0.2)
    assert 2 < middle < 4


@pytest.mark.trade
def test_thick_glass_takes_an_hour_and_a_thin_coat_a_moment() -> None:
    """Common practice: a plate of 6 mm is brought down through its annealing range in about an hour (half to two);
    its counter-example, an enamel of 0.3 mm on each face of copper, cools in open air."""
    slab = Body(70e9, 0.22, 9e-6, 1.1, 2.2e6)
    assert 30 < cooling_minutes(slab, 540, 430, 1e6, 6e-3) < 120
    assert cooling_minutes(GLASS, 540, 430, 1e6, 0.7e-3) * 60 < 90


@given(st.floats(0.1e-3, 10e-3), st.floats(1.01, 3.0), st.floats(0.1e6, 5e6))
def test_thicker_never_cools_faster(thick: float, times: float, stress: float) -> None:
    slower, faster = (cooling_minutes(GLASS, 540, 430, stress, x) for x in (thick * times, thick))
    assert slower == pytest.approx(faster * times**2)
    assert ramp_stress_pa(GLASS, slowest_needed_k_per_s(GLASS, stress, thick), thick) == pytest.approx(stress)


@given(st.floats(1e-3, 1e3), st.floats(1.01, 10.0))
def test_harder_chill_is_never_milder(biot: float, times: float) -> None:
    assert 0 < chill_share(biot) < chill_share(biot * times) <= 1.0


def test_chills_stand_in_order_and_water_breaks_what_air_does_not() -> None:
    values = [value for value, _, _ in CHILLS.values()]
    assert values == sorted(values)
    assert all(low < value < high for value, low, high in CHILLS.values())
    strength = [x * 1e6 for x in STRENGTH_MPA]
    broken = [share_that_breaks(chill_stress_pa(GLASS, 400.0, h, 1.5e-3), *strength) for h in values]
    assert broken == sorted(broken)
    assert broken[0] < 0.01
    assert broken[-1] > 0.99


def test_strength_is_read_as_a_band_of_nine_in_ten() -> None:
    median, low, high = STRENGTH_MPA
    assert [share_that_breaks(x, median, low, high) for x in (low, median, high)] == pytest.approx(
        [0.05, 0.5, 0.95], rel=1e-3
    )
    assert share_that_breaks(-1.0, median, low, high) == 0.0


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: ramp_stress_pa(GLASS, -1.0, 1e-3),
        lambda: ramp_stress_pa(GLASS, 1.0, 0.0),
        lambda: cooling_minutes(GLASS, 400, 500, 1e6, 1e-3),
        lambda: slowest_needed_k_per_s(GLASS, 0.0, 1e-3),
        lambda: chill_share(0.0),
        lambda: chill_stress_pa(GLASS, 100.0, 10.0, -1.0),
    ],
)
def test_what_cannot_be_is_refused(wrong) -> None:
    with pytest.raises(BadInput):
        wrong()
