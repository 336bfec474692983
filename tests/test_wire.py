"""A wire standing in glass, against limits that are known exactly and against finite elements."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import finite_elements_wire
import numpy as np
import pytest
from finite_elements import Solid
from finite_elements_wire import wire
from hypothesis import given, settings
from hypothesis import strategies as st
from wire_cases import APART_M, CASES_ON_BASES, Case, CaseOnBase, solve, solved, solved_on_bases

from refdb.errors import BadInput
from refdb.science.plate.layers import HardeningYield, Plates
from refdb.science.plate.wire import MISSES_ACROSS, MISSES_BESIDE, Base, WireStress, wire_stress
from refdb.science.plate.wire_around import Stratum

SET_C = 520.0
COPPER, SILVER, GOLD = (115e9, 0.34, 18.4e-6), (80e9, 0.37, 21.0e-6), (78e9, 0.42, 15.3e-6)
STEEL = (205e9, 0.29, 14.1e-6)
YIELDS = {
    COPPER: (42e6, 2000e6, 0.7),
    SILVER: (30e6, 1500e6, 0.6),
    GOLD: (25e6, 1200e6, 0.7),
    STEEL: (200e6, 1500e6, 0.6),
}


def plates(metal: Solid, glass: Solid, n: int = 1) -> Plates:
    """n wires alike; the metal's thickness is the wire's, the glass's its height."""

    def column(a: float, b: float) -> np.ndarray:
        return np.tile([[a, b]], (n, 1))

    return Plates(
        ("wire", "glass"),
        column(metal.thickness_m, glass.thickness_m),
        column(metal.youngs_pa, glass.youngs_pa),
        column(metal.poisson, glass.poisson),
        (lambda t: metal.expansion_per_k * (t - 20.0), lambda t: glass.expansion_per_k * (t - 20.0)),
        column(np.nan, SET_C),
        (HardeningYield(*metal.yields) if metal.yields else None, None),
    )


def film(glass: Solid, base_per_k: float) -> float:
    """Stress of glass that its base holds to its own contraction [Pa]."""
    modulus = glass.youngs_pa / (1 - glass.poisson)
    return -modulus * (base_per_k - glass.expansion_per_k) * (SET_C - 20.0)


def found(metal: Solid, glass: Solid, base_per_k: float, spacing_m: float | None = None) -> WireStress:
    return wire_stress(plates(metal, glass), np.array([film(glass, base_per_k)]), spacing_m=spacing_m)


def solids(kind: tuple, wide_mm: float, high_mm: float, grows: float = 15e-6, yields: bool = True):
    young, poisson, expansion = kind
    metal = Solid(wide_mm * 1e-3, young, poisson, expansion, YIELDS[kind] if yields else None)
    return metal, Solid(high_mm * 1e-3, 70e9, 0.22, grows)


@pytest.mark.parametrize(
    ("kind", "base", "wide", "high", "yields"),
    [
        (SILVER, COPPER, 0.2, 0.8, True),
        (SILVER, SILVER, 0.1, 0.6, True),
        (COPPER, COPPER, 0.3, 1.0, True),
        (COPPER, SILVER, 0.25, 0.8, True),
        (STEEL, COPPER, 0.2, 0.8, True),
        (COPPER, STEEL, 0.3, 1.0, True),
        (SILVER, COPPER, 0.2, 0.8, False),
        (STEEL, COPPER, 0.3, 1.0, False),
    ],
)
def test_slender_wires_against_finite_elements(
    kind: tuple, base: tuple, wide: float, high: float, yields: bool, tmp_path: Path
) -> None:
    # Debian's calculix-ccx: within 5 % of the largest stress of the case.
    # The glass is one that the base squeezes by some 90 MPa, as enamelled plates do.
    metal, glass = solids(kind, wide, high, base[2] - 2e-6, yields)
    mine = found(metal, glass, base[2], 6e-3)
    solved = wire(metal, glass, base[2], 6e-3, SET_C, tmp_path)
    near = 0.05 * max(abs(solved.across), abs(solved.along), abs(film(glass, base[2])))
    assert mine.across_pa[0] == pytest.approx(solved.across, abs=near)
    assert mine.along_pa[0] == pytest.approx(solved.along, abs=near)
    assert mine.beside_pa[0] == pytest.approx(solved.beside, abs=near)


def told(case: Case) -> WireStress:
    """What the model tells of a solved case."""
    metal, glass = case.solids()
    batch = replace(plates(metal, glass), set_c=np.array([[np.nan, case.set_c]]))
    return wire_stress(batch, np.array([case.film_pa]))


def test_every_solved_wire_is_within_five_percent() -> None:
    """Debian's calculix-ccx: 64 wires of every metal of the store, drawn when the model was done (wire_cases.py)."""
    cases = solved()
    off = np.array(
        [
            np.array((mine.across_pa[0], mine.beside_pa[0], mine.along_pa[0])) - (c.across_pa, c.beside_pa, c.along_pa)
            for c, mine in ((c, told(c)) for c in cases)
        ]
    )
    shares = off / np.array([[c.largest_pa] for c in cases])
    assert len(cases) == 64
    assert np.abs(shares).max() <= 0.05
    # The verdict draws from the error that is seen here, told from the model to the truth, and from not much more.
    for seen, (low, high) in zip(-shares.T[:2], (MISSES_ACROSS, MISSES_BESIDE), strict=True):
        assert low <= seen.min() <= low + 0.015
        assert high - 0.015 <= seen.max() <= high
    # The cases differ: from wire that presses to wire that pulls, and from wire that yields to wire that does not.
    across = np.array([c.across_pa for c in cases])
    assert across.min() < -100e6 < 30e6 < across.max()


@pytest.mark.slow
@pytest.mark.parametrize("number", [9, 33, 58])
def test_solved_wires_are_what_the_solver_finds(number: int, tmp_path: Path) -> None:
    case = solved()[number]
    again = solve(case, tmp_path)
    assert tuple(again)[:3] == pytest.approx((case.across_pa, case.beside_pa, case.along_pa), rel=1e-4, abs=1e3)


@pytest.mark.slow
def test_finer_elements_find_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    case = solved()[5]
    for name, count in (("_IN_WIRE", 12), ("_IN_GLASS", 36), ("_UP", 30)):
        monkeypatch.setattr(finite_elements_wire, name, count)
    finer = solve(case, tmp_path)
    near = 0.01 * case.largest_pa
    assert tuple(finer)[:3] == pytest.approx((case.across_pa, case.beside_pa, case.along_pa), abs=near)


@pytest.mark.parametrize("steps", [4, 12])
def test_more_steps_find_the_same(steps: int) -> None:
    """The yield of the wire falls with heat, so that its way counts; little of it is lost in the steps."""
    metal, glass = solids(SILVER, 0.2, 0.8, COPPER[2] - 2e-6)
    given = np.array([film(glass, COPPER[2])])
    few, more = wire_stress(plates(metal, glass), given), wire_stress(plates(metal, glass), given, steps=steps)
    near = 0.01 * np.abs(given[0])
    assert few.across_pa[0] == pytest.approx(more.across_pa[0], abs=near)
    assert few.along_pa[0] == pytest.approx(more.along_pa[0], abs=near)


def told_on_base(case: CaseOnBase, **changed: float) -> WireStress:
    """What the model tells of a wire on a base that gives, with some of its base changed."""
    metal, glass = case.solids()
    batch = replace(plates(metal, glass), set_c=np.array([[np.nan, case.set_c]]))
    case = replace(case, **changed)
    of_glass = case.glass_young_pa, case.glass_poisson
    strata = [
        Stratum(case.bed_m, *of_glass),
        Stratum(case.base_m, case.base_young_pa, case.base_poisson, case.base_hardening_pa),
        *([Stratum(case.counter_m, *of_glass)] if case.counter_m else []),
    ]
    base = Base(tuple(strata), np.array([case.flows]))
    return wire_stress(batch, np.array([case.film_pa]), base, spacing_m=APART_M)


def near_on_base(case: CaseOnBase, folder: Path) -> None:
    """The model lies within 5 % of the largest stress of a case, and within what verdicts draw."""
    mine, found = told_on_base(case), solve(case, folder)
    largest = max(abs(found.across), abs(found.along), abs(case.film_pa))
    off = np.array((found.across - mine.across_pa[0], found.beside - mine.beside_pa[0])) / largest
    assert np.abs(off).max() <= 0.05
    assert (off >= [MISSES_ACROSS[0], MISSES_BESIDE[0]]).all()
    assert (off <= [MISSES_ACROSS[1], MISSES_BESIDE[1]]).all()


def practice(kind: tuple, wide: float, high: float, base: float, bed: float, counter: float) -> CaseOnBase:
    """A wire on copper [mm], of metals that never yield, so that it is solved in one step."""
    never = dict.fromkeys(("flow_pa", "base_flow_pa"), 1e12) | dict.fromkeys(("hardening_pa", "base_hardening_pa"), 0.0)
    young, poisson, grows = kind
    film_pa, per_k = -60e6, COPPER[2] - 0.4e-6
    glass_per_k = per_k + film_pa * (1 - 0.22) / 70e9 / (SET_C - 20)
    return CaseOnBase(
        "", "", wide * 1e-3, high * 1e-3, young, poisson, metal_per_k=grows, base_per_k=per_k, glass_young_pa=70e9,
        glass_poisson=0.22, glass_per_k=glass_per_k, set_c=SET_C, film_pa=film_pa, base_m=base * 1e-3, bed_m=bed * 1e-3,
        counter_m=counter * 1e-3, base_young_pa=COPPER[0], base_poisson=COPPER[1], own_per_k=COPPER[2],
        flow_ratio=1.0, base_flow_ratio=1.0, **never,
    )  # fmt: skip


@pytest.mark.parametrize(
    "case",
    [
        practice(SILVER, 0.2, 0.4, 0.8, 0.15, 0.3),
        practice(STEEL, 0.3, 0.6, 0.5, 0.1, 0.0),
        practice(GOLD, 0.15, 0.8, 1.5, 0.2, 0.4),
    ],
)
def test_elastic_wire_on_a_base_that_gives_against_finite_elements(case: CaseOnBase, tmp_path: Path) -> None:
    """Debian's calculix-ccx; on a base that did not give, silver and steel would be told far off."""
    near_on_base(case, tmp_path)
    given_way, stiff = told_on_base(case).across_pa[0], told(case).across_pa[0]
    assert abs(given_way - case.film_pa) < 0.85 * abs(stiff - case.film_pa) or case.metal_per_k < case.base_per_k


def test_every_solved_wire_on_a_base_is_within_five_percent() -> None:
    """Debian's calculix-ccx: bases of every metal 0.5-1.6 mm thick, most with counter enamel (wire_cases.py).

    With the first eight it was found how metal that flows gives way; the others are held out.
    """
    cases = solved_on_bases()
    told_of = [told_on_base(c) for c in cases]
    off = np.array(
        [(c.across_pa - m.across_pa[0], c.beside_pa - m.beside_pa[0]) for c, m in zip(cases, told_of, strict=True)]
    )
    shares = off / np.array([[c.largest_pa] for c in cases])
    assert len(cases) > CASES_ON_BASES
    assert np.abs(shares).max() <= 0.025
    assert (shares >= [MISSES_ACROSS[0], MISSES_BESIDE[0]]).all()
    assert (shares <= [MISSES_ACROSS[1], MISSES_BESIDE[1]]).all()
    flowing = np.array([c.flows for c in cases]) > 0.4
    assert flowing.sum() >= 4
    assert np.abs(shares[flowing, 0]).max() <= 0.01
    # Were they as stiff as elastic metal, bases that flow would be told wrong.
    stiff = np.array([told_on_base(c, flows=0.0).across_pa[0] for c in cases])
    wrong = np.abs(stiff - [c.across_pa for c in cases]) / [c.largest_pa for c in cases]
    assert wrong[flowing].max() > 0.05


@pytest.mark.slow
@pytest.mark.parametrize("number", [2, 5, 6, 9])
def test_solved_wires_on_bases_are_what_the_solver_finds(number: int, tmp_path: Path) -> None:
    case = solved_on_bases()[number]
    again = solve(case, tmp_path)
    near = 1e-3 * case.largest_pa
    assert tuple(again)[:2] == pytest.approx((case.across_pa, case.beside_pa), abs=near)


def test_the_drawn_wires_on_bases_are_of_every_kind() -> None:
    cases = solved_on_bases()
    assert {bool(c.counter_m) for c in cases} == {True, False}
    assert len({c.base for c in cases}) >= 10
    assert len({c.metal for c in cases}) >= 8


def test_thinner_base_takes_more_of_the_pull() -> None:
    case = practice(SILVER, 0.2, 0.4, 0.8, 0.15, 0.3)
    more = [told_on_base(case, base_m=m).across_pa[0] - case.film_pa for m in (0.4e-3, 0.8e-3, 3e-3)]
    stiff = told(case).across_pa[0] - case.film_pa
    assert 0 < more[0] < more[1] < more[2] < stiff
    # A thicker bed gives more, and so does metal that flows.
    assert told_on_base(case, bed_m=0.3e-3).across_pa[0] - case.film_pa < more[1]
    soft = [told_on_base(case, flows=x, base_hardening_pa=2e9).across_pa[0] for x in (0.0, 0.3, 0.6, 0.8, 0.95, 1.0)]
    assert soft == sorted(soft, reverse=True)
    assert -np.diff(soft[:-1]).max() > 0.2e6


def test_bases_that_flow_by_unlike_shares_go_their_own_way() -> None:
    """In a batch what the shares do is a parabola through three; each alone is worked out by itself."""
    case = next(c for c in solved_on_bases() if c.base == "gilding-95-5")
    shares = np.array([0.0, 0.1, 0.3, 0.45, 0.6, 0.75, 0.9])
    metal, glass = case.solids()
    batch = replace(plates(metal, glass, len(shares)), set_c=np.tile([[np.nan, case.set_c]], (len(shares), 1)))
    own = Stratum(case.bed_m, case.glass_young_pa, case.glass_poisson)
    of_base = Stratum(case.base_m, case.base_young_pa, case.base_poisson, case.base_hardening_pa)
    films = np.full(len(shares), case.film_pa)
    together = wire_stress(batch, films, Base((own, of_base), shares), spacing_m=APART_M).across_pa
    alone = [told_on_base(case, flows=float(x), counter_m=0.0).across_pa[0] for x in shares]
    assert together == pytest.approx(alone, abs=0.004 * case.largest_pa)
    assert together.max() - together.min() > 0.05 * case.largest_pa


def test_base_as_stiff_as_can_be_is_a_base_that_does_not_give() -> None:
    metal, glass = solids(SILVER, 0.2, 0.8, COPPER[2] - 2e-6)
    given = np.array([film(glass, COPPER[2])])
    rock = Base((Stratum(2e-3, 1e15, 0.3),), np.zeros(1))
    on_rock, without = (wire_stress(plates(metal, glass), given, base, spacing_m=6e-3) for base in (rock, None))
    for one in ("across_pa", "beside_pa", "along_pa"):
        assert getattr(on_rock, one)[0] == pytest.approx(getattr(without, one)[0], rel=0.01)


def test_softness_alone_does_not_lessen_the_pull() -> None:
    """Silver that yields early is stretched further along and thins more: it pulls no less than silver that holds."""
    metal, glass = solids(SILVER, 0.2, 0.4, COPPER[2] - 1.1e-6)
    stiff = replace(metal, yields=(120e6, 2000e6, 0.6))
    soft, hard = (found(one, glass, COPPER[2]).across_pa[0] for one in (metal, stiff))
    assert soft >= hard


def test_wire_without_width_leaves_the_glass_alone() -> None:
    """A lamina in series carries across what the glass does; along it the base's own stretch, in one dimension."""
    metal, glass = solids(COPPER, 1e-4, 0.8, yields=False)
    mine = found(metal, glass, SILVER[2])
    assert mine.across_pa[0] == pytest.approx(film(glass, SILVER[2]), rel=1e-3)


def test_wire_like_the_glass_is_not_there() -> None:
    glass = Solid(0.8e-3, 70e9, 0.22, 13.5e-6)
    mine = found(Solid(0.3e-3, 70e9, 0.22, 13.5e-6), glass, 18e-6)
    # Its foot alone is held a little tighter than glass is.
    for stress in (mine.across_pa[0], mine.along_pa[0], mine.beside_pa[0]):
        assert stress == pytest.approx(film(glass, 18e-6), rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(
    kind=st.sampled_from([COPPER, SILVER, GOLD, STEEL]),
    wide=st.floats(0.05, 0.3),
    base=st.floats(13e-6, 21e-6),
    more=st.floats(0.2e-6, 3e-6),
)
def test_wire_that_shrinks_more_pulls_more(kind: tuple, wide: float, base: float, more: float) -> None:
    metal, glass = solids(kind, wide, 0.9)
    hotter = Solid(metal.thickness_m, metal.youngs_pa, metal.poisson, metal.expansion_per_k + more, metal.yields)
    less, greater = found(metal, glass, base), found(hotter, glass, base)
    assert greater.across_pa[0] > less.across_pa[0]
    assert max(less.residual_pa[0], greater.residual_pa[0]) <= 1.0


def test_each_wire_goes_its_own_way() -> None:
    metal, glass = solids(SILVER, 0.2, 0.8)
    many = plates(metal, glass, 3)
    many.thickness_m[:, 0] = 0.1e-3, 0.2e-3, 0.3e-3
    stress = np.array([-100e6, -50e6, 0.0])
    together = wire_stress(many, stress, spacing_m=3e-3)
    for k in range(3):
        one = plates(Solid(many.thickness_m[k, 0], *SILVER, metal.yields), glass)
        alone = wire_stress(one, stress[k : k + 1], spacing_m=3e-3)
        assert together.across_pa[k] == pytest.approx(alone.across_pa[0], rel=1e-6)
    # Crowded wires share the glass between them.
    assert wire_stress(many, stress, spacing_m=0.5e-3).across_pa[2] > wire_stress(many, stress).across_pa[2]


def test_what_is_no_wire_is_refused() -> None:
    metal, glass = solids(SILVER, 0.2, 0.8)
    with pytest.raises(BadInput, match="further apart"):
        found(metal, glass, 18e-6, 0.1e-3)
    with pytest.raises(BadInput, match="above zero"):
        found(Solid(0.0, *SILVER), glass, 18e-6)
    with pytest.raises(BadInput, match="thicker than high"):
        found(Solid(0.9e-3, *SILVER), glass, 18e-6)
    with pytest.raises(BadInput, match="one number for each"):
        wire_stress(plates(metal, glass), np.zeros(2))
