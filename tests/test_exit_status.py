"""Every command keeps to one exit status for a record that is not there, and to another for input it cannot take."""

from __future__ import annotations

import pytest

from refdb.cli.commands import COMMANDS

PIECE = """
[piece]
title = "one coat"
width = "20 mm"
height = "20 mm"
[base]
metal = "{metal}"
thickness = "0.8 mm"
[[step]]
do = "coat"
glass = "{glass}"
thickness = "0.2 mm"
[[step]]
do = "fire"
kiln = "{kiln}"
"""
GOOD = {"metal": "copper-sheet", "glass": "clear-hard-lead-free", "kiln": "815 C"}
NO, HARD, COPPER = "zzqqzz", "clear-hard-lead-free", "copper-sheet"

#: No such record: words of a command; FILE stands for a piece file with a glass that is not there.
NOT_THERE = [
    ("show", NO),
    ("find", NO),
    ("sources", NO),
    ("suits", NO, COPPER),
    ("suits", HARD, NO),
    ("glasses", "--on", NO),
    ("builds", NO),
    ("builds", COPPER, "--glass", NO),
    ("clears", NO, "--on", COPPER),
    ("clears", "fine-silver-foil", "--on", NO),
    ("clears", "fine-silver-foil", "--on", COPPER, "--under", NO),
    ("compare", HARD, NO, "--on", COPPER),
    ("compare", HARD, "opal-lead-free", "--on", NO),
    ("amounts", "12", "pendants", "--size", "30x24 mm", "--coats", f"{NO} 0.2 mm"),
    ("cautions", NO),
    ("practice", NO),
    ("fault", NO),
    ("fault", "--piece", "FILE"),
    ("estimate", "SiO2 60, Na2O 20, B2O3 20", "--on", NO),
    ("piece", "check", "FILE"),
    ("piece", "plan", "FILE"),
    ("piece", "improve", "FILE"),
    ("mine", "tile", NO, COPPER, "--outcome", "crazed"),
    ("mine", "tile", HARD, NO, "--outcome", "crazed"),
    ("mine", "learn", NO),
    ("mine", "add", "glass", "--name", "jar", "--like", NO),
    ("mine", "add", "metal", "--name", "sheet", "--like", NO),
]
#: Input that cannot be taken; FILE stands for a piece file with a kiln of no heat.
BAD = [
    ("show",),
    ("metals", "--family", NO),
    ("glasses", "--json", "--csv"),
    ("leaf", "--nothing"),
    ("suits", HARD),
    ("suits", HARD, COPPER, "--front", "thick"),
    ("suits", HARD, COPPER, "--order", "upside-down"),
    ("suits", HARD, COPPER, "--expansion", "40 ppm/K", "--span", "20-400C"),
    ("builds", COPPER, "--wish", "something nice"),
    ("clears", "fine-silver-foil"),
    ("compare", HARD, "--on", COPPER),
    ("compare", HARD, HARD, "--on", COPPER),
    ("estimate", "SiO2"),
    ("fault", "--piece", "/no/such/file.toml"),
    ("piece", "check", "FILE"),
    ("piece", "check", "/no/such/file.toml"),
    ("piece", "new", "/no/such/folder/piece.toml"),
    ("mine", "list", NO),
    ("mine", "kiln", "hot"),
    ("mine", "import", "/no/such/file.csv"),
    ("build", "--from", "/no/such/folder"),
    (NO,),
]


@pytest.fixture
def ran(refdb, tmp_path, monkeypatch):
    """Run a command with a piece file of these contents in the place of FILE, and a workshop of its own."""
    monkeypatch.setenv("REFDB_WORKSHOP", str(tmp_path / "workshop.db"))

    def run(words, **other):
        path = tmp_path / "piece.toml"
        path.write_text(PIECE.format(**(GOOD | other)), encoding="utf-8")
        return refdb(*(str(path) if word == "FILE" else word for word in words))

    return run


def told_in_one_line(found) -> bool:
    return found.out == "" and found.err.startswith("refdb: ") and found.err.count("\n") == 1


@pytest.mark.parametrize("words", NOT_THERE, ids=" ".join)
def test_what_is_not_there_is_three(ran, words):
    found = ran(words, glass=NO)
    assert found.status == 3, found.err
    assert told_in_one_line(found)


@pytest.mark.parametrize("words", BAD, ids=" ".join)
def test_what_cannot_be_taken_is_two(ran, words):
    found = ran(words, kiln="hot")
    assert found.status == 2, found.err
    assert told_in_one_line(found)


def test_every_command_that_names_a_record_stands_here():
    """Lists and the tools of the store name none, or take only what is asked with them."""
    assert set(COMMANDS) - {words[0] for words in NOT_THERE} <= {
        "metals",
        "glasses",
        "leaf",
        "browse",
        "build",
        "kiln",
        "pool",
        "verify",
    }


def test_a_piece_that_is_good_is_answered(ran):
    assert ran(("piece", "check", "FILE")).status in (0, 1, 5)
