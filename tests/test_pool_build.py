"""A store built with a pool: its figures, reproducible, and never half done."""

from __future__ import annotations

import json

import numpy as np
import pytest
from conftest import SOURCES
from test_pool import file_of, spoiled
from test_pool_coverage import CLASS, simulate

from refdb.curate.dump import verify
from refdb.judge.own.pooling import class_learnt
from refdb.store.reference import Reference


@pytest.fixture(scope="module")
def rows(store):
    with Reference(store) as ref:
        builds = simulate.DESIGNS["mixed"]
        return simulate.studios(ref, CLASS, simulate.Truth(mean=12.6), 25, 16, builds, np.random.default_rng(2))


def test_a_pool_is_carried_into_the_store(refdb, tmp_path, rows, store):
    path = file_of(tmp_path / "rows.csv", rows)
    targets = [tmp_path / "first.db", tmp_path / "second.db"]
    for target in targets:
        ran = refdb("build", "--from", str(SOURCES), "--to", str(target), "--pool", path, "--json")
        assert ran.status == 0, ran.err
        assert json.loads(ran.out)["pooled"] == [CLASS]
    assert targets[0].read_bytes() == targets[1].read_bytes()
    assert verify(targets[0]) == []
    with Reference(store) as ref:
        learnt = class_learnt(ref, ref.glass(CLASS), rows)
        before = ref.glass(CLASS)
        others = {g.key: g.value("expansion") for g in ref.materials("glass") if g.key != CLASS}
        answers = len(ref.answers("standard"))
    with Reference(targets[0]) as ref:
        glass = ref.glass(CLASS)
        figure = glass.value("expansion")
        assert (figure.basis, figure.source, figure.taken_from) == ("pooled", "pooled-tiles", "")
        assert figure.value == pytest.approx(learnt.pooled.jar[0] * 1e6, abs=0.006)
        assert figure.locator == "25 studios, 400 tiles"
        assert len(glass.values) == len(before.values) + 1
        assert ref.source("pooled-tiles").kind == "dataset"
        assert {g.key: g.value("expansion") for g in ref.materials("glass") if g.key != CLASS} == others
        metals = len(ref.materials("metal"))
        assert len(ref.answers("standard")) == answers - metals
    asked = json.loads(refdb("suits", CLASS, "copper-sheet", "--json", on=targets[0]).out)
    assert asked["evidence"]["grade"] == "pooled"


def test_a_bad_row_or_nothing_taught_builds_nothing(refdb, tmp_path, rows, store):
    target = tmp_path / "never.db"
    bad = spoiled(tmp_path / "bad.csv", glass="no-such-glass")
    ran = refdb("build", "--from", str(SOURCES), "--to", str(target), "--pool", bad)
    assert ran.status == 2
    assert "line 3" in ran.err
    few = file_of(tmp_path / "few.csv", rows[:1])
    ran = refdb("build", "--from", str(SOURCES), "--to", str(target), "--pool", few)
    assert ran.status == 2
    assert "narrow no class" in ran.err
    assert not target.exists()
