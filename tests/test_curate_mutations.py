"""Random slips in the curated rows: what share of each kind the build refuses, at least.

A short and seeded run of scripts/mutate_data.py; the long one has thousands. The floors lie below what the long run
finds, so that a row more or less moves none of them, and a check that stopped working does.
"""

from __future__ import annotations

import sys
from collections import Counter

import pytest
from conftest import ROOT

sys.path.insert(0, str(ROOT / "scripts"))

import mutate_data

COUNT, SEED = 300, 20
#: Share refused of 15 slips of each kind, at least. Words exchanged for other words cannot all be known.
FLOORS = {
    "texts exchanged": 0.3,
    "text copied": 0.3,
    "row dropped": 0.35,
    "digits exchanged": 0.45,
    "choice changed": 0.6,
    "unit changed": 0.6,
    "number doubled": 0.65,
    "halved with its band": 0.65,
    "columns exchanged": 0.65,
    "number tenfold": 0.7,
    "°F for °C": 0.7,
    "key changed": 0.7,
    "doubled with its band": 0.75,
    "row doubled": 0.75,
    "number and 300": 0.8,
    "seen raised": 0.8,
    "source changed": 0.8,
    "number a tenth": 0.8,
    "sign flipped": 0.9,
    "low and high exchanged": 0.9,
}


@pytest.fixture(scope="module")
def counted() -> tuple[Counter[str], Counter[str]]:
    tried, refused, _ = mutate_data.run(COUNT, SEED)
    total: Counter[str] = Counter()
    held: Counter[str] = Counter()
    for (kind, _), number in tried.items():
        total[kind] += number
    for (kind, _), number in refused.items():
        held[kind] += number
    return total, held


@pytest.mark.parametrize("kind", sorted(FLOORS))
def test_slips_of_each_kind_are_refused(counted: tuple[Counter[str], Counter[str]], kind: str) -> None:
    total, held = counted
    assert total[kind] == COUNT // len(FLOORS)
    assert held[kind] >= FLOORS[kind] * total[kind]


def test_four_slips_in_five_are_refused(counted: tuple[Counter[str], Counter[str]]) -> None:
    total, held = counted
    assert set(total) == set(FLOORS)
    assert sum(held.values()) >= 0.8 * sum(total.values())


def test_the_same_seed_makes_the_same_slips() -> None:
    rows, _ = mutate_data.read(mutate_data.FOLDER)
    first, second = ([m.told for m in mutate_data.mutations(rows, 3, 40)] for _ in range(2))
    assert first == second
    assert len(set(first)) > 30
