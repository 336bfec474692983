"""Verdicts with the pool: only where it is asked for, with its own grade, and through every question."""

from __future__ import annotations

import json

import numpy as np
import pytest
from test_pool import file_of
from test_pool_coverage import CLASS, simulate

from refdb.judge.evidence import GRADES
from refdb.judge.own.pooling import class_learnt, figure_of
from refdb.judge.own.tile_update import effective_prior
from refdb.science.inference.tiles import summary
from refdb.store.pool.beside import PooledShelf
from refdb.store.reference import Reference

#: A question whose answer hangs on the expansion.
ASKED = ("suits", CLASS, "low-carbon-steel", "--metal-thickness", "1.0 mm", "--json")


@pytest.fixture(scope="module")
def rows(store):
    """Thirty studios of a class that lies low."""
    with Reference(store) as ref:
        truth = simulate.Truth(mean=12.4, spread=0.4)
        return simulate.studios(ref, CLASS, truth, 30, 16, simulate.DESIGNS["mixed"], np.random.default_rng(8))


@pytest.fixture
def added(refdb, tmp_path, rows):
    assert refdb("pool", "add", file_of(tmp_path / "rows.csv", rows)).status == 0


def asked(refdb, *words):
    ran = refdb(*words)
    assert ran.status in (0, 1, 5), ran.err
    return json.loads(ran.out)


def test_without_the_word_nothing_changes(refdb, added):
    plain = asked(refdb, *ASKED)
    assert plain["evidence"]["grade"] != "pooled"
    assert "pooled-tiles" not in plain["sources"]


def test_the_band_is_that_of_the_next_jar_and_the_grade_tells_how_many(refdb, added, store, rows):
    plain, pooled = asked(refdb, *ASKED), asked(refdb, *ASKED, "--pool")
    assert pooled["evidence"]["grade"] == "pooled"
    assert pooled["evidence"]["words"] == "pooled tiles (30 studios, 480 tiles)"
    assert "pooled-tiles" in pooled["sources"]
    wide, narrow = (x["numbers"]["glass_expansion_ppm_per_k"] for x in (plain, pooled))
    assert narrow["high"] - narrow["low"] < 0.8 * (wide["high"] - wide["low"])
    with Reference(store) as ref:
        learnt = class_learnt(ref, ref.glass(CLASS), rows)
    assert narrow["value"] == pytest.approx(learnt.pooled.jar[0] * 1e6, rel=0.02)
    tension = "tension-lasting"
    reasons = [{r["rule"]: r["found"]["value"] for r in x["reasons"] if "value" in r["found"]} for x in (plain, pooled)]
    assert reasons[1][tension] < reasons[0][tension] - 10


def test_an_effective_figure_is_not_raised_once_more(store, rows):
    """The transition's contraction is in what tiles tell: the belief from the figure is the figure's own band."""
    with Reference(store) as ref:
        learnt = class_learnt(ref, ref.glass(CLASS), rows)
    figure = figure_of(learnt)
    with PooledShelf(store, None, {CLASS: figure}) as ref:
        taken = ref.glass(CLASS).value("expansion")
    assert taken == figure
    prior = summary(np.arange(2.0, 20.0001, 0.05) * 1e-6, effective_prior(taken))
    assert [x * 1e6 for x in prior] == pytest.approx([figure.value, figure.low, figure.high], abs=0.06)


def test_answers_worked_out_before_are_passed_over(refdb, added):
    """At the standard build too the band is the pool's."""
    standard = ("suits", CLASS, "low-carbon-steel", "--json")
    plain, pooled = asked(refdb, *standard), asked(refdb, *standard, "--pool")
    assert plain["numbers"]["gap_ppm"]["value"] + 200 < pooled["numbers"]["gap_ppm"]["value"]


def test_a_setting_does_the_same_and_every_question_takes_it(refdb, added, monkeypatch, tmp_path):
    by_word = asked(refdb, *ASKED, "--pool")
    ranked = ("glasses", "--on", "copper-sheet", "--json")
    clears = ("clears", "fine-silver-foil", "--on", "copper-sheet", "--json")
    before = [asked(refdb, *q) for q in (ranked, clears)]
    refdb("piece", "new", str(tmp_path / "moth.toml"))
    check = ("piece", "check", str(tmp_path / "moth.toml"), "--json")
    plain, pooled = refdb(*check), refdb(*check, "--pool")
    assert {plain.status, pooled.status} <= {0, 1, 5}
    assert json.loads(plain.out)["numbers"] != json.loads(pooled.out)["numbers"]
    monkeypatch.setenv("REFDB_POOL", "1")
    assert asked(refdb, *ASKED) == by_word
    after = [asked(refdb, *q) for q in (ranked, clears)]
    assert [a != b for a, b in zip(before, after, strict=True)] == [True, True]
    assert refdb(*check).out == pooled.out


def test_a_jar_like_the_class_has_the_pool_as_its_likeness(refdb, added):
    refdb("mine", "add", "glass", "--name", "Jar", "--like", CLASS, "--basis", "guess")
    own = ("suits", "my:jar", "low-carbon-steel", "--json")
    plain, pooled = asked(refdb, *own), asked(refdb, *own, "--pool")
    assert plain["numbers"]["gap_ppm"]["value"] + 200 < pooled["numbers"]["gap_ppm"]["value"]
    assert GRADES.index(pooled["evidence"]["grade"]) >= GRADES.index("trade")


def test_no_pool_and_one_that_teaches_nothing_leave_the_class_alone(refdb, tmp_path, store):
    plain = asked(refdb, *ASKED)
    ran = refdb(*ASKED, "--pool")
    assert json.loads(ran.out) == plain
    assert "no pool" in ran.err
    with Reference(store) as ref:
        few = simulate.studios(
            ref, CLASS, simulate.Truth(), 5, 4, simulate.DESIGNS["standard"], np.random.default_rng(1)
        )
    refdb("pool", "add", file_of(tmp_path / "few.csv", few))
    ran = refdb(*ASKED, "--pool")
    assert json.loads(ran.out) == plain
    assert "taught nothing" in ran.err


def test_figures_are_kept_until_the_pool_changes(refdb, added, monkeypatch):
    first = asked(refdb, *ASKED, "--pool")
    with monkeypatch.context() as held:
        held.setattr("refdb.judge.own.pooling.classes_learnt", None)
        assert asked(refdb, *ASKED, "--pool") == first
    refdb("pool", "remove", "1")
    assert "taught nothing" in refdb(*ASKED, "--pool").err


def test_the_workshop_may_be_set_to_use_it_and_one_question_may_leave_it_out(refdb, added, monkeypatch):
    plain, by_word = asked(refdb, *ASKED), asked(refdb, *ASKED, "--pool")
    assert "from now on" in refdb("pool", "use").out
    assert asked(refdb, *ASKED) == by_word
    assert asked(refdb, *ASKED, "--no-pool") == plain
    monkeypatch.setenv("REFDB_POOL", "0")
    assert asked(refdb, *ASKED) == plain
    monkeypatch.delenv("REFDB_POOL")
    # What others learnt is no belief before for what the pool itself, or one's own tiles, teach.
    assert json.loads(refdb("pool", "learn", CLASS, "--json").out)["rows"][0]["taught"]
    refdb("pool", "unuse")
    assert asked(refdb, *ASKED) == plain


def test_without_a_pool_there_is_nothing_to_use(refdb):
    ran = refdb("pool", "use")
    assert ran.status == 4
    assert "no pool here" in ran.err


def test_a_pool_that_cannot_be_read_is_left_out_aloud(refdb, tmp_path):
    plain = asked(refdb, *ASKED)
    (tmp_path / "workshop-pool.db").write_bytes(b"no store" * 400)
    ran = refdb(*ASKED)
    assert json.loads(ran.out) == plain
    assert "the pool is left out" in ran.err


def test_builds_comparisons_and_plans_take_it(refdb, added, tmp_path):
    """The map of builds, ratios, a comparison, and of a piece its plan and its changes."""
    metal, file = "copper-sheet", str(tmp_path / "moth.toml")
    refdb("piece", "new", file)
    questions = (
        ("builds", metal, "--glass", CLASS),
        ("builds", metal),
        ("compare", CLASS, "opal-lead-free", "--on", metal),
        ("piece", "plan", file),
        ("piece", "improve", file),
    )
    plain, pooled = ([json.loads(refdb(*q, "--json", *more).out) for q in questions] for more in ((), ("--pool",)))
    assert [a != b for a, b in zip(plain, pooled, strict=True)] == [True] * len(questions)
