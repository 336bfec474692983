"""The rim of a dome in closed form: its width and how its hoop stretches."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.errors import BadInput
from refdb.science.plate.dome import RIM_NARROW, RIM_WIDE, dome_rim, rim_hoop_pa, rim_hoop_strain

RADII, SHARES, WALLS = (st.floats(*ends) for ends in ((2e-3, 0.2), (0.0, 1.0), (1e-5, 5e-3)))


def decay(poisson, share):
    """Where a share of what a free edge gives back is left, over √(R·h): the root of e^(-ξ)(cos ξ + sin ξ)."""
    at = np.linspace(0, 2, 200_001)
    left = np.exp(-at) * (np.cos(at) + np.sin(at))
    return at[np.argmin(np.abs(left - share))] / (3 * (1 - poisson**2)) ** 0.25


def test_the_elastic_rim_of_shell_theory_lies_within():
    assert decay(0.3, 0.75) == pytest.approx(0.48, abs=0.005)
    assert decay(0.3, 0.5) == pytest.approx(0.79, abs=0.005)
    for poisson in (0.2, 0.3, 0.42):
        assert RIM_NARROW < decay(poisson, 0.75) < decay(poisson, 0.5) < RIM_WIDE


def test_a_dome_of_known_size():
    """Radius 15 mm, rise 3 mm: a ball of 39 mm; a wall of 0.5 mm."""
    scale = math.sqrt(39e-3 * 0.5e-3)
    assert dome_rim(15e-3, 3e-3, 0.5e-3) == pytest.approx((0.4 * scale, 1.25 * scale))


def test_half_a_ball_has_its_own_radius():
    assert dome_rim(20e-3, 20e-3, 0.1e-3) == pytest.approx((0.4 * 2e-3**0.5 * 1e-3**0.5, 1.25 * 2e-3**0.5 * 1e-3**0.5))


@given(RADII, SHARES, WALLS)
def test_a_rim_is_never_wider_than_the_way_to_the_pole(radius, share, wall):
    narrow, wide = dome_rim(radius, share * radius, wall)
    assert 0 < narrow <= wide <= radius * math.pi / 2 * (1 + 1e-12)
    if share > 1e-6:
        opening = 2 * math.atan(share)
        assert wide <= radius / math.sin(opening) * opening * (1 + 1e-9)


@given(RADII, SHARES, SHARES, WALLS, WALLS)
def test_a_higher_dome_has_a_narrower_rim_and_a_thicker_wall_a_wider(radius, one, other, thin, thick):
    low, high = sorted((one, other))
    # As long as the dome is wide enough for its rim.
    lower, higher = (dome_rim(radius, x * radius, thin) for x in (low, high))
    if lower[1] < radius:
        assert higher[1] <= lower[1] * (1 + 1e-12)
    assert dome_rim(radius, low * radius, min(thin, thick)) <= dome_rim(radius, low * radius, max(thin, thick))


@given(RADII, SHARES, WALLS, st.floats(0.1, 10))
def test_only_ratios_matter(radius, share, wall, times):
    small, large = (
        dome_rim(radius, share * radius, wall),
        dome_rim(times * radius, share * radius * times, wall * times),
    )
    assert large == pytest.approx(tuple(times * x for x in small), rel=1e-9)


@given(RADII, WALLS)
def test_a_flat_piece_is_rim_all_over(radius, wall):
    assert dome_rim(radius, 0.0, wall) == (radius, radius)
    assert dome_rim(radius, 1e-9 * radius, wall) == pytest.approx((radius, radius))


@pytest.mark.parametrize(
    "wrong", [(0.0, 1e-3, 1e-3), (-1.0, 0.0, 1e-3), (math.nan, 0.0, 1e-3), (math.inf, 1e-3, 1e-3), (1e-2, -1e-3, 1e-3),
              (1e-2, 1.1e-2, 1e-3), (1e-2, math.nan, 1e-3), (1e-2, 1e-3, 0.0), (1e-2, 1e-3, math.inf)]
)  # fmt: skip
def test_what_is_no_dome_is_refused(wrong):
    with pytest.raises(BadInput):
        dome_rim(*wrong)


def edge_moved(poisson, wall, ball, curvature):
    """Outward move of a strip of shell whose own curvature would change, by finite differences, from the edge inwards;
    and the way between two of its points.

    The strip is long; D·w'''' + (E·h/R²)·w = 0, no shear and no moment at the free edge: D(w'' + (1+ν)κ) = 0, E = 1.
    """
    stiff = wall**3 / (12 * (1 - poisson**2))
    count, length = 3000, 12 * math.sqrt(ball * wall)
    step = length / count
    matrix, load = np.zeros((5, count)), np.zeros(count)  # bands of the fourth difference, by energy
    full = np.zeros((3, 3))
    full += np.outer([1, -2, 1], [1, -2, 1]) * stiff / step**3
    for k in range(1, count - 1):
        for a in range(3):
            for b in range(a, 3):
                matrix[b - a, k - 1 + a] += full[a, b]
            load[k - 1 + a] -= stiff * (1 + poisson) * curvature * (1, -2, 1)[a] / step
    matrix[0] += wall / ball**2 * step
    matrix[0, 0] -= wall / ball**2 * step / 2
    return banded(matrix, load), step


def banded(matrix, load):
    """Solve a symmetric positive matrix given by its diagonal and two bands below, by Cholesky's way without roots."""
    d, one, two, x = matrix[0].copy(), matrix[1].copy(), matrix[2].copy(), load.copy()
    n = len(d)
    for k in range(n):
        for j, band in ((k + 1, one[k]), (k + 2, two[k])):
            if j < n:
                d[j] -= band * band / d[k]
                x[j] -= band / d[k] * x[k]
        if k + 2 < n:
            one[k + 1] -= one[k] * two[k] / d[k]
    for k in reversed(range(n)):
        ahead = (one[k] * x[k + 1] if k + 1 < n else 0) + (two[k] * x[k + 2] if k + 2 < n else 0)
        x[k] = (x[k] - ahead) / d[k]
    return x


@pytest.mark.parametrize(("poisson", "ball"), [(0.3, 40e-3), (0.2, 100e-3)])
def test_the_hoop_of_the_rim_is_the_move_of_a_free_edge(poisson, ball):
    """A long strip of shell by finite differences; to 1 %. The move over the ball's radius, whatever that is."""
    moved, _ = edge_moved(poisson, 0.5e-3, ball, 5.0)
    assert rim_hoop_strain(5.0, 0.5e-3, poisson) == pytest.approx(moved[0] / ball, rel=0.01)


@pytest.mark.parametrize(("wall", "rise"), [(0.5e-3, 3e-3), (1.0e-3, 2e-3)])
def test_one_wall_thickness_in_the_hoop_has_faded_as_a_shell_has_it(wall, rise):
    """The same strip by finite differences, its stretch around; to 1 % of the hoop at the edge."""
    radius = 15e-3
    ball = (radius**2 + rise**2) / (2 * rise)
    moved, step = edge_moved(0.3, wall, ball, -5.0)
    outside = 70e9 * float(np.interp(wall, np.arange(len(moved)) * step, moved)) / ball
    ours = rim_hoop_pa(0.0, 0.0, -5.0, wall, 70e9, radius, rise, 0.7)
    assert ours > 0
    assert ours == pytest.approx(outside, abs=0.01 * 70e9 * moved[0] / ball)


def test_the_hoop_comes_on_top_of_what_is_held_and_freed():
    """A dome lower than its wall has a part of it only; without curvature the freed bending alone is followed."""
    args = (1e-3, 70e9, 15e-3)
    assert rim_hoop_pa(-9e6, -9e6, 0.0, *args, 2e-3, 0.7) == pytest.approx(-9e6)
    freed = rim_hoop_pa(-90e6, 10e6, 0.0, *args, 2e-3, 0.7)
    assert -90e6 + 0.6 * 100e6 < freed < -90e6 + 0.7 * 100e6
    # Much lower than its wall the ball has no end, so that nothing fades.
    whole = 70e9 * rim_hoop_strain(-5.0, 1e-3)
    for share in (0.01, 0.002):
        assert rim_hoop_pa(0.0, 0.0, -5.0, *args, share * 1e-3, 0.7) == pytest.approx(share * whole, rel=0.1)


@given(st.floats(-20, 20), WALLS)
def test_the_faces_of_a_dome_differ_in_the_sign_of_their_hoop(curvature, wall):
    assert rim_hoop_strain(-curvature, wall) == -rim_hoop_strain(curvature, wall)
    assert rim_hoop_strain(curvature, wall) * curvature <= 0
