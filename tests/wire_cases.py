"""Cases of wires in glass, drawn over every metal of the store, and what finite elements (ccx) find of them.

`wires_solved.csv` holds them. `python tests/wire_cases.py` draws and solves them anew, which takes half an hour; the
seed was first used when the model of `refdb.science.plate.wire` was done, so that no case had a part in its making.
"""

from __future__ import annotations

import tempfile
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np
from finite_elements import Solid
from finite_elements_wire import AtWire, wire
from solved_cases import DRAWN, drawn, read, write

from refdb.records import Metal
from refdb.store.reference import open_reference

SOLVED = Path(__file__).with_name("wires_solved.csv")
SEED, CASES = 20261128, 64


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
    apart = max(6e-3, 2 * case.thick_m + 8 * case.high_m)
    return wire(*case.solids(), case.base_per_k, apart, case.set_c, folder)


def solved() -> list[Case]:
    """The cases of the file."""
    return read(SOLVED, Case, ("metal", "base"))


if __name__ == "__main__":
    with open_reference() as opened:
        made = drawn(SEED, CASES, opened, _one)
    done = []
    for one in made:
        with tempfile.TemporaryDirectory() as name:
            found = solve(one, Path(name))
        done.append(
            Case(**asdict(one) | {"across_pa": found.across, "beside_pa": found.beside, "along_pa": found.along})
        )
    write(SOLVED, done)
