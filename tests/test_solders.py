"""What is said of a solder in the kiln, against its own figures read by hand."""

from __future__ import annotations

import csv
from collections import Counter

import pytest
from conftest import SOURCES
from pieces import piece

from refdb.judge.piece.verdict import judge_piece
from refdb.records.solders import FIRES_C, SOFT, in_the_kiln
from refdb.store.reference import Reference
from refdb.words import lower_first


def _solders() -> list[dict[str, str]]:
    with (SOURCES / "solders.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize(
    ("begins", "flows", "words"),
    [
        (677, 743, "liquid in a usual fire of enamel"),  # BAg-5
        (718, 857, "half liquid in a usual fire of enamel"),  # BAg-13
        (779, 779, "liquid in a usual fire of enamel"),  # the eutectic
        (840, 895, "softens in the hotter fires of enamel"),  # for 22 carat
        (None, 740, "liquid in a usual fire of enamel"),  # one melting point is known
        (960, 971, ""),  # BAg-23
        (183, 188, SOFT),  # Sn60Pb40
        (None, None, ""),
    ],
)
def test_what_a_fire_does_to_a_solder(begins, flows, words):
    assert in_the_kiln(begins, flows) == words


def test_every_class_outside_the_usual_fires_is_told_so():
    """None that begins below 846 °C passes in silence, and none above is warned of."""
    for row in _solders():
        begins = float(row["solidus_c"] or row["liquidus_c"])
        assert bool(in_the_kiln(begins, float(row["liquidus_c"]))) == (begins < FIRES_C[1]), row["key"]


def test_notes_say_what_the_figures_do_not():
    """A remark on many rows belongs to no row; nine share how they were recalled."""
    parts = Counter(part for row in _solders() for part in row["note"].split("; ") if part)
    assert {part for part, times in parts.items() if times > 4} <= {"recalled, within about 25 K"}
    assert not any("kiln setting" in part for part in parts)


def test_record_and_list_say_it(refdb):
    assert "liquid in a usual fire" in " ".join(refdb("show", "bag-5").out.split())
    assert "strip every trace before firing again" in " ".join(refdb("show", "soft-sn63pb37").out.split())
    assert "half liquid in a usual fire" in " ".join(refdb("practice", "BAg-13", "--full").out.split())


@pytest.mark.parametrize("key", ["bag-7", "ag-155", "soft-sac305", "soft-sn60pb40", "ag-cu"])
def test_a_solder_keeps_its_capitals_in_what_is_said_of_a_piece(store, key):
    """Names of standards are formulas: "bAg-7" is none. Names in words begin small within a sentence."""
    with Reference(store) as ref:
        label = ref.rows("SELECT label FROM solders WHERE key = ?", key)[0]["label"].partition(" (")[0]
        lines = ["clean front", f"join {key}", "coat front clear-hard-lead-free 0.2", "fire 815"]
        told = judge_piece(ref, piece(lines)).told
    about = [t for t in told if t.key.startswith("join")]
    assert about
    assert any(label in str(t.found) for t in about)
    for said in (text for t in about for text in (str(t.found), t.head, t.title, t.why)):
        assert label[0].lower() + label[1:] not in said
    assert lower_first("Silver solder, easy") == "silver solder, easy"
