"""Cases of wires in glass, drawn over every metal of the store, and what finite elements (ccx) find of them.

`wires_solved.csv` and `wires_on_bases_solved.csv` hold them. `python tests/wire_cases.py` draws and solves them anew,
which takes an hour; the seeds were first used when the model of `refdb.science.plate.wire` was done, so that no case
had a part in its making, but for the first eight on bases: how metal that flows gives way was found with them.
"""

from __future__ import annotations

import tempfile
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
from finite_elements import Solid
from finite_elements_wire import AtWire, wire
from solved_cases import DRAWN, drawn, read, write

from refdb.records import Metal
from refdb.store.opening import open_reference
from refdb.store.reference import Reference

SOLVED = Path(__file__).with_name("wires_solved.csv")
SEED, CASES = 20261128, 64
SOLVED_ON_BASES = Path(__file__).with_name("wires_on_bases_solved.csv")
SEED_ON_BASES, CASES_ON_BASES = 20261130, 8
SEED_HELD_OUT, CASES_HELD_OUT = 20261201, 12
#: From the middle of one wire to the middle of the next on a base that gives [m].
APART_M = 6e-3
#: A base is stretched at most so far beyond its yield as the glass shrinks.
_MOST_PLASTIC = 1e-3


@dataclass(frozen=True)
class Case:
    """A wire in glass on a base: SI units, and what was solved: mean stress across, beside and along it [Pa]."""

    metal: str
    base: str
    thick_m: float
    high_m: float
    young_pa: float
    poisson: float
    flow_pa: float
    hardening_pa: float
    flow_ratio: float
    metal_per_k: float
    base_per_k: float
    glass_young_pa: float
    glass_poisson: float
    glass_per_k: float
    set_c: float
    film_pa: float
    across_pa: float = float("nan")
    beside_pa: float = float("nan")
    along_pa: float = float("nan")

    @property
    def largest_pa(self) -> float:
        """The largest stress of the case [Pa]."""
        return max(abs(self.across_pa), abs(self.along_pa), abs(self.film_pa))

    def solids(self) -> tuple[Solid, Solid]:
        """Wire and glass as the solver takes them."""
        yields = (self.flow_pa, self.hardening_pa, self.flow_ratio)
        wire_metal = Solid(self.thick_m, self.young_pa, self.poisson, self.metal_per_k, yields)
        return wire_metal, Solid(self.high_m, self.glass_young_pa, self.glass_poisson, self.glass_per_k)


@dataclass(frozen=True)
class CaseOnBase(Case):
    """The same on a base that gives: its metal, what it bears, and the glass beneath the wire and on the other face.

    The plate contracts by `base_per_k`, its metal alone by `own_per_k`; `flows` is the plastic share of its stretch.
    """

    base_m: float = 0.0
    bed_m: float = 0.0
    counter_m: float = 0.0
    base_young_pa: float = 0.0
    base_poisson: float = 0.0
    base_flow_pa: float = 0.0
    base_hardening_pa: float = 0.0
    base_flow_ratio: float = 0.0
    own_per_k: float = 0.0
    flows: float = 0.0

    def solid_base(self) -> Solid:
        """The base as the solver takes it."""
        yields = (self.base_flow_pa, self.base_hardening_pa, self.base_flow_ratio)
        return Solid(self.base_m, self.base_young_pa, self.base_poisson, self.own_per_k, yields)


def _one_on_base(rng: np.random.Generator, known: list[Metal]) -> CaseOnBase:
    case = _one(rng, known)
    base = next(m for m in known if m.key == case.base)
    young, poisson, flow, hardening, ratio = (
        float(rng.uniform(b.low, b.high)) for b in map(base.band, DRAWN) if b is not None
    )
    base_m, bed_m, counter_m = (float(rng.uniform(*ends)) * 1e-3 for ends in ((0.5, 1.6), (0.08, 0.3), (0.2, 0.5)))
    counter_m *= float(rng.integers(4) > 0)
    while case.high_m > 1e-3 or case.thick_m > 0.4e-3:
        case = replace(_one(rng, known), base=base.key, base_per_k=case.base_per_k)
    # The glass stretches the metal by what balances its own pressure.
    of_glass = (case.high_m + bed_m + counter_m) / base_m
    film = -min(-case.film_pa, (flow + 2 * hardening * _MOST_PLASTIC) / of_glass)
    stress = -film * of_glass
    elastic, plastic = stress * (1 - poisson) / young, max(stress - flow, 0.0) / (2 * hardening)
    cooled = case.set_c - 20
    glass_per_k = case.base_per_k + film / (case.glass_young_pa / (1 - case.glass_poisson)) / cooled
    given = asdict(case) | {"film_pa": film, "glass_per_k": glass_per_k}
    return CaseOnBase(
        **given, base_m=base_m, bed_m=bed_m, counter_m=counter_m, base_young_pa=young, base_poisson=poisson,
        base_flow_pa=flow, base_hardening_pa=hardening, base_flow_ratio=ratio,
        own_per_k=case.base_per_k + (elastic + plastic) / cooled, flows=plastic / (plastic + abs(elastic)),
    )  # fmt: skip


def _one(rng: np.random.Generator, known: list[Metal]) -> Case:
    metal, base = (known[rng.integers(len(known))] for _ in range(2))
    set_c = float(rng.uniform(470, 560))
    bands = [metal.band(k) for k in DRAWN]
    young, poisson, *yields = (float(rng.uniform(b.low, b.high)) for b in bands if b is not None)

    def per_k(one: Metal) -> float:
        hot = min(set_c, one.curve.high_c)
        return float(one.strain(hot) / (hot - 20))

    def size(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    high, thick = size(0.25, 1.5), size(0.06, 0.8)
    while thick > high:
        thick = size(0.06, 0.8)
    glass_young, glass_poisson = float(rng.uniform(60e9, 80e9)), float(rng.uniform(0.19, 0.25))
    film = -float(rng.uniform(-10e6, 170e6))
    glass = per_k(base) + film / (glass_young / (1 - glass_poisson)) / (set_c - 20)
    sizes, of_glass = (thick * 1e-3, high * 1e-3), (glass_young, glass_poisson, glass, set_c, film)
    return Case(metal.key, base.key, *sizes, young, poisson, *yields, per_k(metal), per_k(base), *of_glass)


def solve(case: Case, folder: Path) -> AtWire:
    """What finite elements find of a case, with wires too far apart to feel each other."""
    if isinstance(case, CaseOnBase):
        below = case.solid_base(), case.bed_m, case.counter_m
        return wire(*case.solids(), case.base_per_k, APART_M, case.set_c, folder, *below)
    apart = max(6e-3, 2 * case.thick_m + 8 * case.high_m)
    return wire(*case.solids(), case.base_per_k, apart, case.set_c, folder)


def solved() -> list[Case]:
    """The cases of the file."""
    return read(SOLVED, Case, ("metal", "base"))


def on_bases(ref: Reference) -> list[CaseOnBase]:
    """Wires on bases that give, not solved yet: those the model was made with, and those held out."""
    seeds = (SEED_ON_BASES, CASES_ON_BASES), (SEED_HELD_OUT, CASES_HELD_OUT)
    return [case for seed, count in seeds for case in drawn(seed, count, ref, _one_on_base)]


def solved_on_bases() -> list[CaseOnBase]:
    """The cases of the file of wires on bases that give."""
    return read(SOLVED_ON_BASES, CaseOnBase, ("metal", "base"))


def with_answer(case: Case) -> Case:
    """A case with what finite elements find of it."""
    with tempfile.TemporaryDirectory() as name:
        found = solve(case, Path(name))
    return replace(case, across_pa=found.across, beside_pa=found.beside, along_pa=found.along)


if __name__ == "__main__":
    with open_reference() as opened:
        made, given = drawn(SEED, CASES, opened, _one), on_bases(opened)
    write(SOLVED, [with_answer(one) for one in made])
    write(SOLVED_ON_BASES, [with_answer(one) for one in given])
