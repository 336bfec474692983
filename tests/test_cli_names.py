"""Names in place of keys, as they are typed at a terminal."""

from __future__ import annotations

import csv
import io
import json
import sys

import pytest

SCREEN = 24


def plain(ran):
    return " ".join(ran.out.split())


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("suits", "hard clear", "copper"), "hard clear: taken as lead-free hard clear; also: leaded hard clear"),
        (("suits", "opal", "silver clay"), "silver clay: taken as fine silver clay; also: silver clay 960 and 1 more"),
        (("suits", "window glass", "steel"), "steel: taken as low-carbon enamelling steel"),
        (("suits", "clear", "silver-clay"), "clear: taken as lead-free medium clear; also: lead-free hard clear"),
        (("suits", "flux", "18 gauge copper"), "18 gauge copper: taken as copper sheet, 18 gauge"),
        (
            ("clears", "gold foil", "--on", "copper"),
            "gold foil: taken as 24 carat gold foil; also: gold foil for bonding",
        ),
        (("clears", "gold", "foil", "--on", "copper"), "gold foil: taken as 24 carat gold foil"),
        (("clears", "silver foil", "--on", "copper", "--under", "flux"), "flux: taken as lead-free medium clear"),
        (("glasses", "--on", "copper"), "copper: taken as copper sheet; also: carbon-fired copper clay"),
        (("builds", "copper", "clay"), "copper clay: taken as carbon-fired copper clay; also: open-fired copper clay"),
        (("show", "hard", "clear"), "hard clear: taken as lead-free hard clear"),
        (("show", "Kupfer"), "Kupfer: taken as copper sheet"),
    ],
)
def test_a_name_is_taken_and_told(refdb, arguments, told):
    ran = refdb(*arguments)
    assert ran.status in (0, 1, 5), ran.err
    assert told in plain(ran)
    assert all(len(line) <= 80 for line in ran.out.splitlines())


def test_a_verdict_by_names_is_that_by_keys(refdb):
    by_key = json.loads(refdb("suits", "clear-hard-lead-free", "copper-sheet", "--json").out)
    by_name = json.loads(refdb("suits", "hard clear", "copper", "--json").out)
    taken = by_name["question"].pop("taken")
    assert by_name == by_key
    assert taken["glass"] == {
        "typed": "hard clear",
        "key": "clear-hard-lead-free",
        "label": "Lead-free hard clear",
        "how": "name",
        "also": [{"key": "clear-hard-leaded", "label": "Leaded hard clear"}],
    }
    assert taken["metal"]["key"] == "copper-sheet"
    assert "taken" not in by_key["question"]


def test_a_verdict_by_names_fits_the_screen(refdb):
    for pair in (("clear", "silver clay"), ("opal", "three cards of copper clay"), ("white", "copper")):
        ran = refdb("suits", *pair)
        assert len(ran.out.splitlines()) <= SCREEN
        assert f"{pair[0]}: taken as" in ran.out


def test_a_thickness_said_with_the_metal_holds(refdb):
    said = json.loads(refdb("suits", "hard clear", "three cards of copper clay", "--json").out)["question"]
    typed = json.loads(refdb("suits", "hard clear", "copper clay", "--metal-thickness", "3 cards", "--json").out)
    assert said["metal_thickness_mm"] == typed["question"]["metal_thickness_mm"]
    assert said["taken"]["metal"]["thickness"] == "3 cards"
    assert refdb("suits", "hard clear", "18 gauge copper", "--metal-thickness", "18 ga").status == 0
    for arguments in (
        ("suits", "hard clear", "18 gauge copper", "--metal-thickness", "0.8mm"),
        ("builds", "18 gauge copper", "--metal-thickness", "0.8mm"),
        ("glasses", "--on", "18 gauge copper"),
        ("clears", "gold foil", "--on", "0.8 mm copper"),
    ):
        ran = refdb(*arguments)
        assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)


def test_what_may_mean_several_things_is_listed(refdb):
    ran = refdb("suits", "turquoise", "copper")
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert "lead-free transparent turquoise, lead-free opaque turquoise" in ran.err
    ran = refdb("clears", "leaf", "--on", "silver")
    assert ran.status == 2
    assert "23 carat gold leaf" in ran.err


def test_what_means_nothing_is_told_with_the_nearest(refdb):
    ran = refdb("suits", "lead amber", "copper")
    assert (ran.status, ran.err.count("\n")) == (3, 1)
    assert "amber-transparent-lead-free" in ran.err


def test_the_other_order_is_taken_and_said(refdb):
    ran = refdb("suits", "copper", "hard clear")
    assert ran.status == 0
    assert ran.out.startswith("Lead-free hard clear on copper sheet")
    assert "the glass comes first" in ran.err
    keys = refdb("suits", "copper-sheet", "clear-hard-lead-free", "--json")
    assert json.loads(keys.out)["question"]["glass"] == "clear-hard-lead-free"
    for pair in (("copper", "copper"), ("hard clear", "opal"), ("copper", "nonsense")):
        assert refdb("suits", *pair).status == 3


def test_several_words_without_quotes_are_told_about(refdb):
    ran = refdb("suits", "hard", "clear", "copper")
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert ran.err.endswith('did you mean: refdb suits "hard clear" copper\n')
    ran = refdb("suits", "flux", "18", "gauge", "copper", "--json")
    assert ran.err.endswith('did you mean: refdb suits flux "18 gauge copper"\n')
    ran = refdb("suits", "no", "such", "thing")
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert "in quotes" in ran.err
    assert "in quotes" in refdb("glasses", "--on", "copper", "clay").err


def test_csv_stays_a_table(refdb):
    ran = refdb("clears", "gold foil", "--on", "copper", "--csv")
    rows = list(csv.DictReader(io.StringIO(ran.out)))
    assert rows[0]["place"] == "1"
    assert "gold foil: taken as 24 carat gold foil" in ran.err


def test_at_a_terminal_one_is_picked_by_its_number(refdb, monkeypatch):
    class Terminal(io.StringIO):
        def isatty(self):
            return True

    for answer, status in (("2\n", 0), ("9\n", 2), ("x\n", 2), ("", 2)):
        monkeypatch.setattr(sys, "stdin", Terminal(answer))
        monkeypatch.setattr("refdb.cli.common._asks", lambda: True)
        ran = refdb("suits", "turquoise", "copper")
        assert ran.status == status
        assert "  2  Lead-free opaque turquoise (turquoise-opaque-lead-free)" in ran.err
        assert ("Lead-free opaque turquoise on copper sheet" in ran.out) == (status == 0)


def test_own_jars_are_called_by_their_names(refdb, monkeypatch, tmp_path):
    monkeypatch.setenv("REFDB_WORKSHOP", str(tmp_path / "own.db"))
    ran = refdb("mine", "add", "glass", "--name", "Blue one", "--like", "transparent blue", "--basis", "guess")
    assert ran.status == 0
    assert "transparent blue: taken as lead-free transparent blue" in ran.err
    assert "Blue one on copper sheet" in refdb("suits", "blue one", "copper").out
    assert refdb("mine", "stock", "blue one", "20g").status == 0
    assert refdb("mine", "tile", "blue one", "18 gauge copper", "--outcome", "sound").status == 0
    tile = json.loads(refdb("mine", "tiles", "--json").out)["rows"][0]
    assert (tile["glass"], tile["metal"]) == ("my:blue-one", "copper-sheet")
    assert tile["metal_mm"] == pytest.approx(1.0237, abs=1e-3)


def test_practice_on_a_metal_says_how_its_name_was_taken(refdb):
    told = "silver clay: taken as fine silver clay; also:"
    for form in ((), ("--full",)):
        ran = refdb("practice", "--on", "silver clay", *form)
        by_key = refdb("practice", "--on", "fine-silver-clay", *form)
        assert ran.status == by_key.status == 0
        assert ran.out.startswith(told)
        assert ran.err == by_key.err == ""
        assert "taken as" not in by_key.out
    assert told in refdb("practice", "--on", "silver clay", "--csv").err
    asked = json.loads(refdb("practice", "--on", "silver clay", "--json").out)["question"]
    assert asked["on"] == "fine-silver-clay"
    assert asked["taken"]


def test_cautions_say_how_the_name_of_a_material_was_taken(refdb):
    ran = refdb("cautions", "silver clay")
    assert ran.out.startswith("Silver clay: taken as fine silver clay; also: ")
    assert "taken as" not in refdb("cautions", "fine-silver-clay").out
    assert "taken as" not in refdb("cautions", "lead").out
