"""`refdb clears`: every clear over a leaf, ranked, as text, JSON and CSV."""

from __future__ import annotations

import csv
import io
import json

import pytest

ORDER = ["suits", "suits with care", "cannot say", "does not suit"]


@pytest.fixture(scope="module")
def question() -> tuple[str, ...]:
    return ("clears", "gold-foil-24k", "--on", "fine-silver-clay")


def test_the_three_forms_agree(refdb, question):
    text = refdb(*question)
    found = json.loads(refdb(*question, "--json").out)
    rows = list(csv.DictReader(io.StringIO(refdb(*question, "--csv").out)))
    assert text.status == 0
    assert found["schema"] == "refdb/2"
    assert found["question"] == {"leaf": "gold-foil-24k", "metal": "fine-silver-clay", "under": "clear-hard-lead-free"}
    assert [r["key"] for r in rows] == [r["key"] for r in found["rows"]]
    lines = [line for line in text.out.split("\n") if any(r["key"] in line.split() for r in rows)]
    assert len(lines) == len(rows)
    for line, row in zip(lines, found["rows"], strict=True):
        assert row["key"] in line
        assert f"{row['place']}{'=' if row['tied'] else ''}" == line.split()[0]
    assert max(len(line) for line in text.out.split("\n")) <= 80


def test_best_come_first_and_ties_share_a_place(refdb, question):
    rows = json.loads(refdb(*question, "--json").out)["rows"]
    ranks = [ORDER.index(r["verdict"]) for r in rows]
    assert ranks == sorted(ranks)
    for row in rows:
        assert row["tied"] == (sum(r["place"] == row["place"] for r in rows) > 1)


def test_every_clear_of_the_store_is_there(refdb, question):
    keys = {r["key"] for r in json.loads(refdb(*question, "--json").out)["rows"]}
    clears = {r["key"] for r in json.loads(refdb("glasses", "--family", "clears", "--json").out)["rows"]}
    assert clears <= keys


def test_leaf_on_bare_metal_is_judged_by_first_melting(refdb):
    """Silver touching copper melts at 779 °C (phase diagram); silver on silver does not at these heats."""

    def verdicts(metal: str) -> set[str]:
        rows = json.loads(refdb("clears", "fine-silver-foil", "--on", metal, "--under", "bare", "--json").out)["rows"]
        return {r["verdict"] for r in rows if r["key"] == "clear-hard-lead-free"}

    assert verdicts("copper-sheet") == {"does not suit"}
    assert verdicts("fine-silver-sheet") != {"does not suit"}
    text = refdb("clears", "fine-silver-foil", "--on", "copper-sheet", "--under", "bare").out
    assert "laid on the bare metal" in text


@pytest.mark.parametrize(
    ("arguments", "status", "words"),
    [
        (("clears", "gold-foil-24c", "--on", "copper-sheet"), 3, "gold-foil-24k"),
        (("clears", "gold-foil-24k", "--on", "coper-sheet"), 3, "copper-sheet"),
        (("clears", "gold-foil-24k", "--on", "copper-sheet", "--under", "clear-hrd"), 3, "clear-hard"),
        (("clears", "gold-foil-24k", "--on", "copper-sheet", "--under", "painting-black"), 2, "no bed for leaf"),
        (("clears", "gold-foil-24k"), 2, "--on"),
        (("clears", "copper-sheet", "--on", "copper-sheet"), 3, "not a leaf"),
        (("clears", "gold-foil-24k", "--on", "copper-sheet", "--json", "--csv"), 2, "--json and --csv"),
    ],
)
def test_faults(refdb, arguments, status, words):
    ran = refdb(*arguments)
    assert ran.status == status
    assert ran.out == ""
    assert ran.err.count("\n") == 1
    assert words in ran.err


def test_a_ranking_tells_what_can_hurt_and_with_which_of_the_clears(refdb, question):
    """A clear that holds lead may come first: its lead is told beside it, and never of one that is free of it."""
    rows = json.loads(refdb("glasses", "--family", "clears", "--json").out)["rows"]
    ranked = [r["key"] for r in json.loads(refdb(*question, "--json").out)["rows"]]
    free = {r["key"] for r in rows if r["lead"] == "free"}
    short, whole = (" ".join(refdb(*question, *form).out.split()) for form in ((), ("--full",)))
    _, _, told = short.partition("Take care with ")
    keys, _, named = told.partition(": ")
    assert keys.split(", ") == [key for key in ranked if key not in free]
    assert named.startswith("lead poisoning by breathing and swallowing dust and fume")
    assert "; with all of them: " in named
    assert f"Cautions with {keys} Every step with lead glass: " in whole
    assert "Sifting and handling powder: " in whole.partition("Cautions with all of them ")[2]
