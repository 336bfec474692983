"""The layered plate against published closed forms, a laminate package, hand calculation, and its own symmetries."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from laminate_plate import Sheet, cooled

from refdb.errors import BadInput
from refdb.science.plate import ByPlate, HardeningYield, Layer, Plates, cool, cool_many, dome_restraint_n_m


def linear(per_k):
    return lambda temp_c: per_k * (np.asarray(temp_c) - 20.0)


def elastic(name, mm, youngs, nu, per_k, set_c=None):
    return Layer(name, mm * 1e-3, youngs, nu, linear(per_k), set_c)


def metal(mm, stress_0=42e6, hardening=2e9, ratio=0.7, per_k=17.8e-6):
    return Layer("metal", mm * 1e-3, 117e9, 0.34, linear(per_k), None, HardeningYield(stress_0, hardening, ratio))


def glass(mm, per_k=12.5e-6, set_c=510.0, name="glass"):
    return Layer(name, mm * 1e-3, 68e9, 0.22, linear(per_k), set_c)


def timoshenko(t1, t2, e1, e2, strain):
    """Curvature of two layers: Timoshenko, J. Opt. Soc. Am. 11 (1925) 233, equation 4."""
    m, n, h = t1 / t2, e1 / e2, t1 + t2
    return 6 * strain * (1 + m) ** 2 / (h * (3 * (1 + m) ** 2 + (1 + m * n) * (m * m + 1 / (m * n))))


def hsueh(layers, rise_k):
    """Curvature and stresses of many layers: Hsueh, Thin Solid Films 418 (2002) 182; layers are (t, M, a)."""
    edges = np.concatenate([[0.0], np.cumsum([t for t, _, _ in layers])])
    stiff = sum(m * t for t, m, _ in layers)
    even = sum(m * t * a * rise_k for t, m, a in layers) / stiff
    axis = sum(m * t * (edges[k] + edges[k + 1]) for k, (t, m, _) in enumerate(layers)) / (2 * stiff)
    top = sum(m * t * (even - a * rise_k) * (edges[k] + edges[k + 1]) for k, (t, m, a) in enumerate(layers))
    low = sum(
        m * t * (6 * edges[k] ** 2 + 6 * edges[k] * t + 2 * t * t - 3 * axis * (edges[k] + edges[k + 1]))
        for k, (t, m, _) in enumerate(layers)
    )
    bend = 3 * top / low  # minus our curvature
    faces = [
        [m * (even - bend * (z - axis) - a * rise_k) for z in (edges[k], edges[k + 1])]
        for k, (_, m, a) in enumerate(layers)
    ]
    return -bend, faces


@given(
    st.floats(0.05, 2),
    st.floats(0.05, 2),
    st.floats(20, 220),
    st.floats(20, 220),
    st.floats(3, 25),
    st.floats(3, 25),
    st.floats(0.0, 0.45),
    st.floats(0.0, 0.45),
)
@settings(deadline=None)
def test_two_elastic_layers_bend_as_timoshenko_1925(t1, t2, e1, e2, a1, a2, nu1, nu2):
    """Timoshenko 1925, with E/(1-nu) in place of E: to 1e-6 of the curvature."""
    plate = cool([elastic("1", t1, e1 * 1e9, nu1, a1 * 1e-6), elastic("2", t2, e2 * 1e9, nu2, a2 * 1e-6, 470.0)])
    # The layer above bends towards the one that shrinks more: below it, top convex.
    wanted = timoshenko(t1 * 1e-3, t2 * 1e-3, e1 / (1 - nu1), e2 / (1 - nu2), (a1 - a2) * 1e-6 * 450)
    assert plate.curvature_per_m == pytest.approx(wanted, rel=1e-6, abs=1e-9)


def test_timoshenko_printed_strip_of_equal_halves():
    """Timoshenko 1925: equal thickness and stiffness bend by 3/2 of the strain difference over the height."""
    plate = cool([elastic("1", 0.5, 100e9, 0.0, 20e-6), elastic("2", 0.5, 100e9, 0.0, 10e-6, 120.0)])
    assert plate.curvature_per_m == pytest.approx(1.5 * 10e-6 * 100 / 1e-3, rel=1e-9)


@given(st.lists(st.tuples(st.floats(0.05, 1), st.floats(20, 220), st.floats(3, 25)), min_size=2, max_size=6))
@settings(deadline=None)
def test_many_elastic_layers_are_stressed_as_hsueh_2002(rows):
    """Hsueh 2002: curvature and the stress at every face, to 1e-6 of the largest stress."""
    layers = [elastic(str(k), t, e * 1e9, 0.25, a * 1e-6, 470.0) for k, (t, e, a) in enumerate(rows)]
    plate = cool(layers)
    bend, faces = hsueh([(t * 1e-3, e * 1e9 / 0.75, a * 1e-6) for t, e, a in rows], -450.0)
    size = max(abs(x) for pair in faces for x in pair) + 1e3
    assert plate.curvature_per_m == pytest.approx(bend, rel=1e-6, abs=1e-9)
    for layer, (low, high) in zip(plate.layers, faces, strict=True):
        assert layer.bottom_pa == pytest.approx(low, abs=1e-6 * size)
        assert layer.top_pa == pytest.approx(high, abs=1e-6 * size)


#: Thickness [mm], Young's modulus [GPa], Poisson's ratio and expansion [ppm/K] of each sheet, bottom to top.
STACKS = {
    "copper under glass": [(0.8, 117, 0.34, 17.0), (0.3, 65, 0.22, 10.0)],
    "glass on both faces": [(0.15, 68, 0.22, 12.5), (0.65, 117, 0.34, 17.8), (0.3, 68, 0.22, 12.5)],
    "stretched glass on steel": [(1.0, 205, 0.29, 13.5), (0.2, 70, 0.22, 16.5)],
    "two unlike coats on silver": [(0.9, 83, 0.37, 20.5), (0.2, 66, 0.23, 14.0), (0.12, 60, 0.25, 12.0)],
    "four sheets": [(0.1, 70, 0.2, 9.0), (0.5, 117, 0.34, 17.8), (0.25, 66, 0.24, 13.0), (0.2, 58, 0.21, 11.0)],
}


@pytest.mark.parametrize("name", STACKS)
def test_a_laminate_package_agrees(name):
    """3pc-lamfail 1.0.8 (classical laminate theory): curvature to 1e-6 of itself, stresses to 1e-6 of the largest."""
    rows = [(mm * 1e-3, gpa * 1e9, nu, ppm * 1e-6) for mm, gpa, nu, ppm in STACKS[name]]
    outside = cooled([Sheet(*row) for row in rows], -450.0)
    ours = cool([Layer(str(k), t, e, nu, linear(a), 470.0) for k, (t, e, nu, a) in enumerate(rows)])
    size = max(abs(x) for x in (*outside.bottom_pa, *outside.top_pa))
    assert size > 1e6
    assert ours.curvature_per_m == pytest.approx(outside.curvature_per_m, rel=1e-6)
    assert [x.bottom_pa for x in ours.layers] == pytest.approx(list(outside.bottom_pa), abs=1e-6 * size)
    assert [x.top_pa for x in ours.layers] == pytest.approx(list(outside.top_pa), abs=1e-6 * size)


def test_a_plate_does_not_care_which_plates_cool_beside_it():
    """Plates that close at once and plates that take many moves, in a batch that is cut and in small ones."""
    rng = np.random.default_rng(7)
    n = 1200
    stress, front = rng.uniform(15e6, 400e6, n), rng.uniform(0.1, 0.5, n)
    ones = np.ones(n)
    batch = Plates(
        ("metal", "front"),
        np.stack([0.65 * ones, front], 1) * 1e-3,
        np.stack([117e9 * ones, 68e9 * ones], 1),
        np.stack([0.34 * ones, 0.22 * ones], 1),
        (linear(17.8e-6), linear(12.5e-6)),
        np.stack([np.nan * ones, 510 * ones], 1),
        (HardeningYield(stress, 2e9, 0.7), None),
    )
    together = cool_many(batch)
    assert (together.plastic_strain[:, 0] > 1e-3).any()
    assert (together.plastic_strain[:, 0] == 0).any()
    for part in (slice(0, 40), slice(600, 640)):
        alone = cool_many(batch.rows(part))
        assert alone.top_pa == pytest.approx(together.top_pa[part], rel=1e-9, abs=1.0)
        assert alone.curvature_per_m == pytest.approx(together.curvature_per_m[part], rel=1e-9)


def test_a_yielded_balanced_plate_is_in_force_balance_by_hand():
    """By hand: with both faces alike the metal carries its flow stress evenly, and 2 t_g s_g + t_m s_m = 0."""
    plate = cool([glass(0.3), metal(0.65, ratio=1.0), glass(0.3)])
    below, middle, above = plate.layers
    flow = 42e6 + 2e9 * middle.plastic_strain
    assert middle.plastic_strain > 1e-3
    assert middle.mean_pa == pytest.approx(flow, rel=1e-9)
    assert above.mean_pa == pytest.approx(-flow * 0.65 / 0.6, rel=1e-9)
    assert below.top_pa == pytest.approx(above.bottom_pa, rel=1e-9)
    # Compatibility by hand: glass and metal share one strain.
    glass_strain = above.mean_pa * (1 - 0.22) / 68e9 - 12.5e-6 * 490
    metal_strain = flow * (1 - 0.34) / 117e9 + middle.plastic_strain / 2 - 17.8e-6 * 490
    assert glass_strain == pytest.approx(metal_strain, rel=1e-9)


def test_soft_copper_turns_compression_into_tension():
    """A purely elastic plate hides the failure: 0.30 mm on one face of 0.65 mm copper."""
    hard = cool([elastic("copper", 0.65, 117e9, 0.34, 17.8e-6), glass(0.3)])
    soft = cool([metal(0.65), glass(0.3)])
    assert hard.layers[1].top_pa < -20e6
    assert soft.layers[1].top_pa > 5e6


plates = st.tuples(
    st.one_of(st.just(0.0), st.floats(0.05, 0.5)),
    st.floats(0.4, 1.5),
    st.floats(0.05, 0.5),
    st.floats(7, 17),
    st.floats(7, 17),
    st.floats(420, 580),
    st.floats(420, 580),
    st.floats(15, 250),
    st.floats(400, 4000),
    st.floats(0.4, 1.0),
)


def stack(p):
    back, thick, front, a, b, set_a, set_b, stress, hardening, ratio = p
    return [
        glass(back, a * 1e-6, set_a, "back"),
        metal(thick, stress * 1e6, hardening * 1e6, ratio),
        glass(front, b * 1e-6, set_b, "front"),
    ]


@given(plates)
@settings(max_examples=60, deadline=None)
def test_force_and_moment_vanish(p):
    """Equilibrium of every random plate, from the stresses it reports."""
    plate = cool(stack(p))
    size = sum(
        max(abs(x.bottom_pa), abs(x.top_pa)) * y.thickness_m for x, y in zip(plate.layers, stack(p), strict=True)
    )
    assert abs(plate.residual_force) <= 1e-6 * (size + 1)
    assert abs(plate.residual_moment) <= 1e-6 * (size + 1) * 3e-3
    force = sum(x.mean_pa * y.thickness_m for x, y in zip(plate.layers, stack(p), strict=True))
    assert abs(force) <= 1e-6 * (size + 1)


@given(plates)
@settings(max_examples=40, deadline=None)
def test_turning_the_plate_over_mirrors_the_answer(p):
    """Swapping top and bottom changes the sign of the curvature and swaps the faces."""
    one, other = cool(stack(p)), cool(stack(p)[::-1])
    size = max(abs(one.curvature_per_m), 1e-3)
    assert one.curvature_per_m == pytest.approx(-other.curvature_per_m, abs=2e-4 * size)
    for layer, mirror in zip(one.layers, other.layers[::-1], strict=True):
        assert layer.bottom_pa == pytest.approx(mirror.top_pa, abs=5e4)
        assert layer.top_pa == pytest.approx(mirror.bottom_pa, abs=5e4)


@given(plates)
@settings(max_examples=40, deadline=None)
def test_far_finer_steps_move_no_glass_by_more_than_half_a_per_cent(p):
    """Convergence with the temperature step, against the largest stress of the plate; metal's faces within 2 %."""
    coarse, fine = cool(stack(p)), cool(stack(p), step_k=2.5)
    size = max(max(abs(x.bottom_pa), abs(x.top_pa)) for x in fine.layers) + 1e6
    for a, b in zip(coarse.layers, fine.layers, strict=True):
        most = (0.02 if a.name == "metal" else 0.005) * size
        assert abs(a.bottom_pa - b.bottom_pa) <= most
        assert abs(a.top_pa - b.top_pa) <= most


def test_a_layer_without_thickness_changes_nothing():
    """Not even where its set point lies above all others, on metal that does not harden."""
    soft = metal(0.2, hardening=0.0)
    with_it = cool([glass(0.0, set_c=560.0), soft, glass(0.2, set_c=515.0), glass(0.1, set_c=490.0)])
    without = cool([soft, glass(0.2, set_c=515.0), glass(0.1, set_c=490.0)])
    assert with_it.curvature_per_m == pytest.approx(without.curvature_per_m, rel=1e-9)
    for one, other in zip(with_it.layers[1:], without.layers, strict=True):
        assert (one.bottom_pa, one.top_pa) == pytest.approx((other.bottom_pa, other.top_pa), rel=1e-9)


@given(st.floats(0.1, 1), st.floats(0.3, 1), st.floats(5e-6, 25e-6))
@settings(deadline=None)
def test_no_mismatch_no_stress(front, thick, per_k):
    """Zero mismatch gives zero stress and no bow."""
    plate = cool([metal(thick, per_k=per_k), glass(front, per_k)])
    assert abs(plate.curvature_per_m) < 1e-9
    assert all(abs(x.top_pa) < 1 and abs(x.bottom_pa) < 1 for x in plate.layers)


def test_many_plates_at_once_equal_one_at_a_time():
    """`cool_many` with its own numbers in every plate, cut into parts, against `cool`."""
    rng = np.random.default_rng(3)
    n = 4500
    back, thick, front = rng.uniform(0, 0.4, n), rng.uniform(0.4, 1, n), rng.uniform(0.1, 0.4, n)
    a, set_c, stress = rng.uniform(10, 15, n), rng.uniform(450, 550, n), rng.uniform(20e6, 80e6, n)
    ones = np.ones(n)
    free = ByPlate(lambda t, k: k * (t - 20), (a * 1e-6,))
    many = cool_many(
        Plates(
            ("back", "metal", "front"),
            np.stack([back, thick, front], 1) * 1e-3,
            np.stack([68e9 * ones, 117e9 * ones, 68e9 * ones], 1),
            np.stack([0.22 * ones, 0.34 * ones, 0.22 * ones], 1),
            (free, linear(17.8e-6), free),
            np.stack([set_c, np.nan * ones, set_c], 1),
            (None, HardeningYield(stress, 2e9, 0.7), None),
        )
    )
    for k in (0, 700, 4096, n - 1):
        one = cool(
            [glass(back[k], a[k] * 1e-6, set_c[k]), metal(thick[k], stress[k]), glass(front[k], a[k] * 1e-6, set_c[k])]
        )
        assert many.top_pa[k, 2] == pytest.approx(one.layers[2].top_pa, abs=5e4)
        assert many.curvature_per_m[k] == pytest.approx(one.curvature_per_m, abs=1e-3)


def test_a_general_flow_stress_is_followed():
    """A curved hardening law given as a plain function: the metal ends on its own flow curve."""

    def flow(temp_c, strain):
        return 30e6 + 200e6 * np.sqrt(np.asarray(strain) + 1e-6) + 0 * np.asarray(temp_c)

    layers = [glass(0.3), Layer("metal", 0.65e-3, 117e9, 0.34, linear(17.8e-6), None, flow), glass(0.3)]
    middle = cool(layers).layers[1]
    assert middle.mean_pa == pytest.approx(flow(20.0, middle.plastic_strain), rel=1e-4)


def test_each_layer_sets_at_its_own_point():
    """A glass that sets lower is stressed only from there: the elastic limit by hand for equal expansions."""
    early = cool([elastic("m", 10.0, 117e9, 0.34, 17e-6), elastic("g", 0.01, 68e9, 0.22, 10e-6, 500.0)])
    late = cool(
        [
            elastic("m", 10.0, 117e9, 0.34, 17e-6),
            elastic("g", 0.01, 68e9, 0.22, 10e-6, 500.0),
            elastic("late", 0.01, 68e9, 0.22, 10e-6, 400.0),
        ]
    )
    assert early.layers[1].mean_pa == pytest.approx(-68e9 / 0.78 * 7e-6 * 480, rel=0.01)
    assert late.layers[2].mean_pa / late.layers[1].mean_pa == pytest.approx(380 / 480, rel=0.002)


def test_a_dome_bends_less_and_its_restraint_has_the_closed_form():
    """Energy method: a dome of rise f in a wall of one material is (1 - nu) f²/(2 h²) as stiff again."""
    youngs, nu, wall, rise = 100e9, 0.3, 1e-3, 2e-3
    own = youngs * wall**3 / (12 * (1 - nu))
    assert dome_restraint_n_m(youngs * wall, rise) / own == pytest.approx((1 - nu) * rise**2 / (2 * wall**2), rel=1e-12)
    ones = np.ones(2)
    plates_ = Plates(
        ("m", "g"),
        np.array([[0.8e-3, 0.3e-3]] * 2),
        np.array([[117e9, 68e9]] * 2),
        np.array([[0.34, 0.22]] * 2),
        (linear(17e-6), linear(12e-6)),
        np.stack([np.nan * ones, 500 * ones], 1),
        (None, None),
        np.array([0.0, 20.0]),
    )
    flat, domed = cool_many(plates_).curvature_per_m
    assert 0 < domed < flat


def membrane_energy(youngs, nu, wall, rise, radius, rings=600):
    """Membrane energy per area of a shallow spherical cap with a free edge that is bent evenly by 1/m.

    Marguerre's strains, r' + z0'w' along and u/r across, with z0 = -rise·(r/a)² and w = r²/2; the radial displacement
    by linear finite elements.
    """
    r = np.linspace(0.0, radius, rings + 1)
    step = radius / rings
    middle = (r[1:] + r[:-1]) / 2
    along = -2 * rise / radius**2 * middle * middle
    # Strain of each ring is rows @ u + (along, 0); its energy is half of weight · strain · stiffness · strain.
    rows = np.zeros((rings, 2, rings + 1))
    k = np.arange(rings)
    rows[k, 0, k], rows[k, 0, k + 1] = -1 / step, 1 / step
    rows[k, 1, k] = rows[k, 1, k + 1] = 0.5 / middle
    stiff = youngs * wall / (1 - nu**2) * np.array([[1, nu], [nu, 1]])
    given_ = np.stack([along, np.zeros(rings)], axis=1)
    weight = 2 * np.pi * middle * step
    matrix = np.einsum("k,kia,ij,kjb->ab", weight, rows, stiff, rows, optimize=True)
    load = np.einsum("k,kia,ij,kj->a", weight, rows, stiff, given_, optimize=True)
    u = np.zeros(rings + 1)
    u[1:] = np.linalg.solve(matrix[1:, 1:], -load[1:])
    strain = rows @ u + given_
    return float(np.einsum("k,ki,ij,kj->", weight, strain, stiff, strain)) / 2 / (np.pi * radius**2)


@pytest.mark.parametrize(("nu", "radius"), [(0.0, 10e-3), (0.34, 10e-3), (0.34, 25e-3)])
def test_the_restraint_of_a_dome_is_its_membrane_energy(nu, radius):
    """Finite elements of a shallow cap: the energy of an even bend, whatever its size and Poisson's ratio; to 1e-3."""
    assert dome_restraint_n_m(100e9 * 0.5e-3, 1.5e-3) == pytest.approx(
        membrane_energy(100e9, nu, 0.5e-3, 1.5e-3, radius), rel=1e-3
    )


def test_metal_softens_in_a_straight_line_to_what_is_given_at_500():
    """By its name: the flow stress at 500 °C over that at 25 °C, halfway between them at 262.5 °C, never below zero."""
    for ratio in (0.05, 0.4, 0.7, 1.0):
        flow = HardeningYield(42e6, 2e9, ratio)
        assert flow(500.0, 0.003) == pytest.approx(ratio * flow(25.0, 0.003), rel=1e-12)
        assert flow(262.5, 0.0) == pytest.approx((flow(25.0, 0.0) + flow(500.0, 0.0)) / 2, rel=1e-12)
        assert flow(25.0, 0.01) == pytest.approx(42e6 + 2e9 * 0.01, rel=1e-12)
        assert flow(900.0, 0.0) > 0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"thickness_m": float("nan")}, "finite"),
        ({"thickness_m": -1e-3}, "negative"),
        ({"youngs_modulus_pa": 0.0}, "Young"),
        ({"poisson_ratio": 0.6}, "Poisson"),
        ({"set_c": 10.0}, "room"),
        ({"set_c": None}, "set point"),
    ],
)
def test_nonsense_is_refused_in_one_line(change, words):
    given_ = {
        "name": "glass",
        "thickness_m": 0.3e-3,
        "youngs_modulus_pa": 68e9,
        "poisson_ratio": 0.22,
        "strain": linear(12e-6),
        "set_c": 500.0,
    } | change
    with pytest.raises(BadInput, match=words):
        cool([metal(0.8), Layer(**given_)])
    with pytest.raises(BadInput, match="at least one layer"):
        cool([])
