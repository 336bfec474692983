"""Cases drawn over every metal of the store and solved by finite elements, and the files that hold them."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

import numpy as np

from refdb.records import Metal
from refdb.store.reference import Reference

#: What a metal must have to be drawn, in the order of a `Solid`.
DRAWN = ("youngs_modulus", "poisson_ratio", "flow_stress", "hardening", "flow_ratio_500c")


def drawn(seed: int, count: int, ref: Reference, one: Callable[[np.random.Generator, list[Metal]], Any]) -> list[Any]:
    """So many cases of a seed, each made by `one` from the metals of which all that a case draws is known."""
    rng = np.random.default_rng(seed)
    every = (m for m in ref.materials("metal") if isinstance(m, Metal))
    known = [m for m in every if all(m.band(k) for k in (*DRAWN, "expansion"))]
    return [one(rng, known) for _ in range(count)]


def read(path: Path, case: type[Any], names: Iterable[str]) -> list[Any]:
    """The cases of a file; columns of these names are text, all others numbers."""
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return [case(**{k: v if k in names else float(v) for k, v in row.items()}) for row in rows]


def write(path: Path, cases: list[Any]) -> None:
    """Put solved cases into a file."""
    with path.open("w", newline="", encoding="utf-8") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow([f.name for f in fields(cases[0])])
        for case in cases:
            out.writerow([v if isinstance(v, str) else f"{v:.9g}" for v in asdict(case).values()])
