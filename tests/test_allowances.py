"""The allowances of planning are rows of practice of the store, each with its figure and source."""

from __future__ import annotations

import shutil
import sqlite3

import pytest

from refdb.errors import StoreUnusable
from refdb.plan.allowances import SCALES, Allowances
from refdb.store.reference import Reference


def test_every_allowance_has_a_band_and_a_source(store):
    with Reference(store) as ref:
        allowed = Allowances(ref)
        known = {s.key for s in ref.sources()}
        for key in SCALES:
            found = allowed[key]
            assert 0 < found.band.low <= found.band.value <= found.band.high
            assert found.source in known
            assert found.statement


@pytest.mark.parametrize(
    ("key", "low", "high"),
    [
        ("sift-loss", 0.1, 0.3),
        ("wash-loss", 0.05, 0.20),
        ("foil-overlap", 0.05, 0.10),
        ("carbon-depth", 0.025, 0.025),
        ("carbon-spacing", 0.006, 0.013),
        ("carbon-loss", 0.05, 0.15),
    ],
)
def test_units_are_those_of_planning(store, key, low, high):
    """Figures as the trade gives them (common practice, or recalled): losses and gaps, in shares and metres."""
    with Reference(store) as ref:
        band = Allowances(ref)[key].band
        assert (band.low, band.high) == pytest.approx((low, high))
        assert Allowances(ref).leaf_area_m2()[0] == pytest.approx(0.08**2)


def test_a_store_without_the_row_says_so(store, tmp_path):
    path = tmp_path / "short.db"
    shutil.copyfile(store, path)
    database = sqlite3.connect(path)
    with database:
        database.execute("DELETE FROM practice_rules WHERE key = 'sift-loss'")
        database.execute("UPDATE practice_rules SET low = NULL, high = NULL WHERE key = 'wash-loss'")
    database.close()
    with Reference(path) as ref:
        for key in ("sift-loss", "wash-loss"):
            with pytest.raises(StoreUnusable, match=key):
                Allowances(ref)[key]
