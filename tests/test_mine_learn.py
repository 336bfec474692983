"""What own tiles teach, shown and kept: no tile counts twice, and the former figure comes back."""

from __future__ import annotations

import json
import math

import pytest
from own_words import BOW, COPPER_STRIP

from refdb.judge import limits
from refdb.judge.own.tile_update import GRID_PER_K, band_prior, expansion_learnt, kiln_learnt
from refdb.records import KilnOffset, OwnTile
from refdb.science.inference.tiles import summary
from refdb.store.workshop.beside_reference import Shelf
from refdb.store.workshop.file import Workshop

JAR, STEEL = "my:jar-12", "low-carbon-steel"
ADD = ("mine", "add", "glass", "--name", "Jar 12", "--like", "clear-medium-lead-free", "--basis", "guess")


@pytest.fixture
def mine(refdb, tmp_path, monkeypatch):
    monkeypatch.setenv("REFDB_WORKSHOP", str(tmp_path / "mine.db"))
    assert refdb(*ADD).status == 0
    return refdb


@pytest.fixture
def path(tmp_path):
    return tmp_path / "mine.db"


def fired(mine, outcome, metal=STEEL, kiln="790C"):
    ran = mine("mine", "tile", JAR, metal, "--outcome", outcome, "--kiln", kiln)
    assert ran.status == 0, ran.err


def learnt(mine, what, *more):
    ran = mine("mine", "learn", what, "--json", *more)
    assert ran.status == 0, ran.err
    return json.loads(ran.out)


def jar(mine):
    return json.loads(mine("mine", "show", JAR, "--json").out)["row"]


def test_without_keep_nothing_changes(mine):
    fired(mine, "crazed")
    before = jar(mine)
    told = learnt(mine, JAR)
    assert (told["kept"], told["told"]) == (False, [1])
    assert jar(mine) == before
    assert "refdb mine learn my:jar-12 --keep" in mine("mine", "learn", JAR).out


def test_what_is_kept_becomes_the_jars_figure_and_comes_back(mine):
    for outcome in ("crazed", "crazed", "cloudy"):
        fired(mine, outcome)
    before, told = jar(mine), learnt(mine, JAR, "--keep")
    assert (told["kept"], told["told"], told["silent"], told["basis"]) == (True, [1, 2], [3], "own test")
    row = jar(mine)
    assert [row[f"expansion_{n}ppm_per_k"] for n in ("", "low_", "high_")] == pytest.approx(
        [told["after"][n] for n in ("value", "low", "high")], abs=1e-3
    )
    assert (row["expansion_from_c"], row["expansion_to_c"], row["expansion_tiles"]) == (20.0, 400.0, "1; 2")
    assert (row["expansion_basis"], row["expansion_date"] >= "2024") == ("own test", True)
    assert "by 2 tiles" in row["expansion_as_given"]
    asked = json.loads(mine("suits", JAR, "copper-sheet", "--json").out)["question"]["glass_expansion"]
    assert asked["ppm_per_k"]["value"] == pytest.approx(told["after"]["value"], abs=1e-3)
    assert mine("mine", "restore", JAR).status == 0
    assert jar(mine) == before
    assert learnt(mine, JAR)["told"] == [1, 2]


def test_tiles_are_not_counted_twice(mine):
    """Learning again with no new tile changes nothing; with one, that one alone is counted."""
    fired(mine, "crazed")
    kept = learnt(mine, JAR, "--keep")["after"]
    again = learnt(mine, JAR)
    assert (again["told"], again["counted_before"]) == ([], [1])
    # The belief before is the belief that was kept, to a step of the grid (0.05 ppm/K).
    assert list(again["before"].values()) == pytest.approx(list(kept.values()), abs=0.05)
    assert again["after"] == again["before"]
    row = jar(mine)
    ran = mine("mine", "learn", JAR, "--keep")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.count("\n") == 1
    assert "not counted before" in ran.err
    assert jar(mine) == row
    fired(mine, "crazed")
    more = learnt(mine, JAR, "--keep")
    assert (more["told"], more["counted_before"]) == ([2], [1])
    assert more["after"]["low"] > kept["low"]
    assert jar(mine)["expansion_tiles"] == "1; 2"


def test_one_after_another_they_say_what_they_say_together(mine):
    """Bayes' rule does not mind the order; what is lost is what a band does not hold of a belief: 0.15 ppm/K."""
    kept = {}
    for outcome, metal in (("crazed", STEEL), ("sound", "copper-sheet"), ("crazed", STEEL)):
        fired(mine, outcome, metal)
        kept = learnt(mine, JAR, "--keep")["after"]
    mine(*ADD[:4], "Twin", *ADD[5:])
    for outcome, metal in (("crazed", STEEL), ("sound", "copper-sheet"), ("crazed", STEEL)):
        mine("mine", "tile", "my:twin", metal, "--outcome", outcome)
    together = learnt(mine, "my:twin")
    assert len(together["told"]) == 3
    assert list(kept.values()) == pytest.approx(list(together["after"].values()), abs=0.15)
    # And counted twice they would have said more than that.
    assert together["after"]["low"] - together["before"]["low"] > 0.5


def test_another_figure_frees_the_tiles(mine):
    fired(mine, "crazed")
    learnt(mine, JAR, "--keep")
    mine("mine", "edit", JAR, "--expansion", "12-13 ppm/K", "--span", "20-400C", "--basis", "maker's sheet")
    assert jar(mine)["expansion_tiles"] is None
    assert learnt(mine, JAR)["told"] == [1]
    learnt(mine, JAR, "--keep")
    ran = mine("mine", "strip", *COPPER_STRIP, *BOW, "--save", JAR)
    assert ran.status == 0, ran.err
    assert jar(mine)["expansion_tiles"] is None
    mine("mine", "edit", JAR, "--note", "blue tin")
    learnt(mine, JAR, "--keep")
    mine("mine", "edit", JAR, "--note", "green tin")
    assert jar(mine)["expansion_tiles"] == "1"


def test_a_counted_tile_that_is_gone_is_told(mine):
    fired(mine, "crazed")
    fired(mine, "crazed")
    learnt(mine, JAR, "--keep")
    mine("mine", "remove", "tile:1")
    told = learnt(mine, JAR)
    assert (told["counted_before"], told["no_longer_there"]) == ([2], [1])
    assert "tile:1" in mine("mine", "learn", JAR).out
    fired(mine, "crazed")
    learnt(mine, JAR, "--keep")
    assert jar(mine)["expansion_tiles"] == "1; 2; 3"


def test_tiles_that_narrow_a_class_little_leave_it_a_guess(mine):
    """And a verdict does not say that it rests on a measurement; with more tiles it becomes a test's result."""
    mine("mine", "edit", JAR, "--like", "opal-lead-free")
    fired(mine, "sound", "copper-sheet")
    told = learnt(mine, JAR, "--keep")
    widths = [told[w]["high"] - told[w]["low"] for w in ("before", "after")]
    assert widths[1] > 0.75 * widths[0], "take a pair that tells less"
    assert (told["basis"], jar(mine)["expansion_basis"]) == ("guess", "guess")
    assert json.loads(mine("suits", JAR, "copper-sheet", "--json").out)["evidence"]["grade"] != "measured"
    # A guess that tiles narrowed is effective all the same: nothing is added to it again.
    values = json.loads(mine("show", JAR, "--json").out)["values"]
    figure = next(v for v in values if v["property"] == "expansion" and v["preferred"])
    assert (figure["effective"], figure["basis"]) == (True, "from memory")
    assert list(learnt(mine, JAR)["before"].values()) == pytest.approx(list(told["after"].values()), abs=0.05)
    for _ in range(3):
        fired(mine, "crazed")
    assert learnt(mine, JAR, "--keep")["basis"] == "own test"


def test_what_cannot_be_kept(mine):
    fired(mine, "cloudy")
    for arguments, words in (
        ((JAR, "--keep"), "not counted before"),
        (("kiln", "--keep"), "not counted before"),
        (("clear-hard-lead-free", "--keep"), "jar of your own"),
    ):
        ran = mine("mine", "learn", *arguments)
        assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1), ran
        assert words in ran.err
    assert jar(mine)["expansion_ppm_per_k"] is None


def test_a_change_while_tiles_are_weighed_is_not_written_over(mine, path, monkeypatch):
    """The jar is changed by another between reading and writing."""
    import refdb.judge.own.tile_update as module

    real = module.expansion_learnt

    def slow(*arguments):
        found = real(*arguments)
        with Workshop(path, write=True) as shop:
            row = shop.row("glass", "jar-12")
            shop.edit("glass", "jar-12", {**row, "note": "changed by another"})
        return found

    fired(mine, "crazed")
    monkeypatch.setattr(module, "expansion_learnt", slow)
    ran = mine("mine", "learn", JAR, "--keep")
    assert ran.status == 2
    assert "learn again" in ran.err
    assert (jar(mine)["note"], jar(mine)["expansion_ppm_per_k"]) == ("changed by another", None)


def test_the_kiln_is_kept_used_and_not_counted_twice(mine, store, path):
    for _ in range(3):
        fired(mine, "under fired", "copper-sheet", "800C")
    told = learnt(mine, "kiln", "--keep")
    assert told["after"]["value"] < -5
    with Shelf(store, path) as shelf:
        kept = shelf.kiln_offset()
    assert (kept.offset_k, kept.low_k, kept.high_k) == pytest.approx(
        [told["after"][n] for n in ("value", "low", "high")], abs=0.051
    )
    assert (kept.tiles, kept.basis) == ((1, 2, 3), "own test")
    again = learnt(mine, "kiln")
    assert (again["told"], again["counted_before"]) == ([], [1, 2, 3])
    assert list(again["before"].values()) == pytest.approx(list(told["after"].values()), abs=1.0)
    assert "own test" in mine("mine", "learn", "kiln").out
    fired(mine, "sound", "copper-sheet", "830C")
    assert learnt(mine, "kiln", "--keep")["told"] == [4]
    mine("mine", "restore", "kiln")
    with Shelf(store, path) as shelf:
        assert shelf.kiln_offset() == kept
    ran = mine("suits", "clear-hard-lead-free", "copper-sheet", "--kiln", "815C", "--json")
    asked = json.loads(ran.out)["question"]
    assert asked["kiln_offset_k"] == pytest.approx(kept.offset_k, abs=0.05)


def test_a_jar_that_is_gone_does_not_stop_the_kiln(mine):
    fired(mine, "under fired", "copper-sheet", "800C")
    mine("mine", "remove", JAR)
    told = learnt(mine, "kiln")
    assert told["told"] == []
    assert "tile:1" in told["left_out"][0]


def test_a_metal_that_says_too_little_does_not_stop_the_others(mine):
    mine("mine", "add", "metal", "--name", "Odd", "--basis", "guess")
    fired(mine, "crazed", "my:odd")
    fired(mine, "crazed")
    told = learnt(mine, JAR)
    assert told["told"] == [2]
    assert "tile:1" in told["left_out"][0]
    assert "tile:1 is left out" in mine("mine", "learn", JAR).out


@pytest.mark.parametrize(
    "band", [(12.4, 11.9, 13.4), (12.4, 12.0, 12.8), (13.8, 11.5, 14.3), (12.4, 12.4, 12.4), (3.3, 3.2, 3.4)]
)
def test_a_band_is_the_middle_and_the_ends_of_the_belief_before(band):
    """To a step of the grid, 0.05 ppm/K, and never narrower than the least deviation, 0.05 ppm/K."""
    value, low, high = (x * 1e-6 for x in band)
    prior = band_prior(GRID_PER_K, value, low, high, 0.05e-6)
    assert prior.sum() == pytest.approx(1.0)
    found = [x * 1e6 for x in summary(GRID_PER_K, prior)]
    assert found == pytest.approx([band[0], min(band[1], band[0] - 0.08), max(band[2], band[0] + 0.08)], abs=0.05)


def test_counted_tiles_leave_the_belief_alone(store):
    """In the functions themselves: a counted tile is not counted again, but still tells what the jar's tiles share."""
    with Shelf(store, store.with_name("none.db")) as ref:
        glass = ref.glass("clear-hard-lead-free")
        tiles = [
            OwnTile(n, glass.key, STEEL, 0.8, 0.3, 0.3, 800.0, None, "crazed; burnt", None, "2024-01-01", None)
            for n in (1, 2)
        ]
        both, one = expansion_learnt(ref, glass, tiles, (1,)), expansion_learnt(ref, glass, tiles[1:])
        assert (both.update.told, one.update.told) == (1, 1)
        # The second to craze is less news than the first: it may be the same weak glass.
        assert both.update.before == one.update.before
        assert both.update.before[0] < both.update.after[0] < one.update.after[0]
        none = expansion_learnt(ref, glass, tiles, (1, 2))
        assert none.update.posterior == pytest.approx(none.update.prior)
        assert (both.rests_on, one.rests_on) == ((1, 2), (2,))
        kept = KilnOffset(0.0, -10.0, 10.0, "own test", "2024-01-01", (1, 7))
        kiln = kiln_learnt(ref, tiles, kept)
        assert (kiln.rests_on, kiln.gone, [t.number for t in kiln.tiles]) == ((1, 2, 7), (7,), [2])


def test_a_single_figure_is_no_surer_than_where_it_is_typed_with_a_question(mine):
    """The 0.3 ppm/K either way of the limits and the transition's contraction, to a few steps of the grid.

    Of two spreads that are apart from each other the squares add up.
    """
    mine("mine", "edit", JAR, "--expansion", "12.4 ppm/K", "--span", "20-400C", "--basis", "maker's sheet")
    fired(mine, "cloudy")
    more, low, high = limits.TRANSITION_CONTRACTION
    middle = 12.4 * (1 + more)
    assert list(learnt(mine, JAR)["before"].values()) == pytest.approx(
        [middle, middle - math.hypot(0.3, 12.4 * (more - low)), middle + math.hypot(0.3, 12.4 * (high - more))],
        abs=0.15,
    )
    # What a strip or tiles gave is effective already.
    mine("mine", "edit", JAR, "--expansion", "12.4 ppm/K", "--span", "20-400C", "--basis", "own test")
    assert list(learnt(mine, JAR)["before"].values()) == pytest.approx([12.4, 12.1, 12.7], abs=0.05)


@pytest.mark.parametrize("value", [1.0, 25.0])
def test_a_figure_beyond_the_grid_leaves_a_belief_at_its_edge(value):
    prior = band_prior(GRID_PER_K, value * 1e-6, value * 1e-6, value * 1e-6, 0.05e-6)
    assert prior.sum() == pytest.approx(1.0)
    assert prior.argmax() in (0, len(GRID_PER_K) - 1)
