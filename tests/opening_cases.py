"""Cases of glass in openings, drawn over every metal of the store, and what finite elements (ccx) find of them.

`openings_solved.csv` holds them, `openings_solved_again.csv` a second batch, drawn when the model was done.
`python tests/opening_cases.py` draws and solves both anew, in some minutes.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from finite_elements import Solid
from finite_elements_opening import opening
from solved_cases import DRAWN, drawn, read, write

from refdb.records import Metal
from refdb.store.opening import open_reference

#: Files of the batches: the seed of each, its cases, and how thick their glass may be, in thicknesses of the frame.
BATCHES = {"openings_solved.csv": (77, 60, 1.0), "openings_solved_again.csv": (20261129, 24, 1.3)}


@dataclass(frozen=True)
class Case:
    """Glass in a frame: SI units, and what was solved: mean stress in the plane of the inner half of the glass [Pa]."""

    metal: str
    deep_m: float
    glass_m: float
    radius_m: float
    frame_m: float
    young_pa: float
    poisson: float
    flow_pa: float
    hardening_pa: float
    flow_ratio: float
    metal_per_k: float
    glass_young_pa: float
    glass_poisson: float
    glass_per_k: float
    set_c: float
    solved_pa: float = float("nan")

    def solids(self) -> tuple[Solid, Solid]:
        """Frame and glass as the solver takes them."""
        yields = (self.flow_pa, self.hardening_pa, self.flow_ratio)
        frame = Solid(self.deep_m, self.young_pa, self.poisson, self.metal_per_k, yields)
        return frame, Solid(self.glass_m, self.glass_young_pa, self.glass_poisson, self.glass_per_k)


def _one(rng: np.random.Generator, known: list[Metal], thickest: float) -> Case:
    metal = known[rng.integers(len(known))]
    young, poisson, *yields = (float(rng.uniform(b.low, b.high)) for b in map(metal.band, DRAWN) if b is not None)
    set_c = float(rng.uniform(470, 560))
    hot = min(set_c, metal.curve.high_c)
    per_k = float(metal.strain(hot) / (hot - 20))
    deep = float(rng.uniform(0.5e-3, 1.5e-3))
    glass = deep * float(rng.choice([1.0, rng.uniform(0.5, thickest)]))
    radius, frame = (float(np.exp(rng.uniform(np.log(a), np.log(8e-3)))) for a in (1e-3, 0.4e-3))
    of_glass = (float(rng.uniform(60e9, 80e9)), float(rng.uniform(0.19, 0.25)), per_k - float(rng.uniform(-2e-6, 9e-6)))
    return Case(metal.key, deep, glass, radius, frame, young, poisson, *yields, per_k, *of_glass, set_c)


def solve(case: Case, folder: Path) -> float:
    """What finite elements find of a case."""
    return opening(*case.solids(), case.radius_m, case.frame_m, case.set_c, folder)


def solved(batch: str = "openings_solved.csv") -> list[Case]:
    """The cases of a file."""
    return read(Path(__file__).with_name(batch), Case, ("metal",))


def solve_batch(batch: str) -> None:
    """Draw a batch, solve it and write its file."""
    seed, count, thickest = BATCHES[batch]
    with open_reference() as opened:
        made = drawn(seed, count, opened, partial(_one, thickest=thickest))
    with tempfile.TemporaryDirectory() as name:
        cases = [replace(one, solved_pa=solve(one, Path(name) / str(k))) for k, one in enumerate(made)]
    write(Path(__file__).with_name(batch), cases)


if __name__ == "__main__":
    for one in sys.argv[1:] or BATCHES:
        solve_batch(one)
