"""The command that goes from a symptom to its causes."""

from __future__ import annotations

import json

import pytest

from refdb.records import Fault
from refdb.store.fault_search import matching, nearest_symptoms, words_of
from refdb.store.reference import open_reference


@pytest.fixture
def ref(store):
    with open_reference(store) as found:
        yield found


@pytest.fixture
def faults(ref) -> list[Fault]:
    return ref.faults()


def symptoms(found: list[Fault]) -> list[str]:
    return list(dict.fromkeys(f.symptom for f in found))


@pytest.mark.parametrize(
    ("asked", "first"),
    [
        ("chips at the edge", "Chips and spalls at the edges"),
        ("why did it chip", "Chips and spalls at the edges"),
        ("crazed", "Crazing: a network of fine cracks"),
        ("hairline", "Hairline: a single crack or a few"),
        ("cloudy", "Cloudy or milky clear"),
        ("my clear went milky", "Cloudy or milky clear"),
        ("it bent", "The plate bows"),
        ("warped", "The plate bows"),
        ("bubbles", "Bubbles in the glass"),
        ("black spots", "Black dots in an opaque"),
        ("yellow over silver", "A lemon or amber cast over silver or silver leaf"),
        ("leaf disappeared", "Leaf has vanished"),
        ("the copper is still red", "Copper stays dull red under a clear"),
        ("a bumpy surface", "Orange peel: a bumpy surface"),
        ("line work scratches off", "Line work scrapes off"),
        ("stuck to the trivet support", "The back sticks to its support"),
        ("eutectic", "Leaf has vanished"),
        ("BUBBLES!", "Bubbles in the glass"),
    ],
)
def test_words_of_a_person_find_the_symptom(ref, asked, first):
    assert symptoms(matching(ref, asked))[0] == first


def test_causes_stand_in_order_of_likelihood(ref, faults):
    for symptom in symptoms(faults):
        held = [f for f in matching(ref, symptom) if f.symptom == symptom]
        assert [f.rank for f in held] == list(range(1, len(held) + 1)), symptom
        assert len(held) >= 2


def test_several_sights_are_looked_for_each_on_its_own(ref):
    both = symptoms(matching(ref, "why did it chip, craze or cloud?"))
    assert {"Chips and spalls at the edges", "Crazing: a network of fine cracks", "Cloudy or milky clear"} <= set(both)
    one = matching(ref, "bubbles")
    assert matching(ref, "bubbles and bubbles") == one
    assert matching(ref, "bubbles, qqqq") == one


def test_idle_words_find_nothing(ref, faults):
    assert words_of("why is it on the glass") == []
    assert matching(ref, "the") == []
    assert len(nearest_symptoms(faults, "the")) == 3


def test_a_page_gives_cause_check_remedy_and_prevention(refdb):
    ran = refdb("fault", "crazing")
    assert ran.status == 0
    for word in ("tell", "do", "avoid", "rules", "tension-lasting", "Sources", "test tile"):
        assert word in ran.out
    assert "[Common practice]" in " ".join(ran.out.split())
    assert "common-practice" not in ran.out
    assert ran.out.index("  1  ") < ran.out.index("  2  ") < ran.out.index("  3  ")


def test_without_words_every_symptom_is_listed_once(refdb, faults):
    ran = refdb("fault")
    assert ran.status == 0
    rows = json.loads(refdb("fault", "--json").out)["rows"]
    assert len(rows) == len(faults)
    for symptom in symptoms(faults):
        assert ran.out.count(symptom[:24]) >= 1, symptom
    assert len(symptoms(faults)) >= 25


def test_nothing_found_names_the_nearest(refdb):
    ran = refdb("fault", "bublies")
    assert ran.status == 3
    assert ran.out == ""
    assert "Bubbles in the glass" in ran.err
    assert ran.err.count("\n") == 1


@pytest.mark.parametrize("words", ["?!", " ", "--", "\x1b[31m", "x" * 100_000, "%_*\"'", "é" * 300])
def test_hostile_words_are_one_line(refdb, words):
    ran = refdb("fault", "--", words)
    assert ran.status in (2, 3)
    assert ran.err.count("\n") == 1
    assert len(ran.err) < 500
    assert "\x1b" not in ran.err


def test_json_and_csv_exclude_each_other(refdb):
    assert refdb("fault", "--json", "--csv").status == 2


def test_a_cause_can_be_shown_and_found(refdb):
    assert refdb("show", "crazing-expansion").status == 0
    assert "crazing-expansion" in refdb("find", "network", "cracks").out
    assert "fault" in refdb("sources", "edinburgh-encyclopaedia").out


def test_every_source_of_a_row_is_cited(refdb):
    body = json.loads(refdb("fault", "cracked", "--json").out)
    assert {r["source"] for r in body["rows"]} == set(body["sources"])
    assert body["question"] == {"words": "cracked"}


def test_a_piece_file_puts_what_its_judge_found_first(refdb, tmp_path):
    path = tmp_path / "one-face.toml"
    path.write_text(
        '[piece]\nwidth = "3 cm"\nheight = "2 cm"\n[base]\nmetal = "copper-sheet"\nthickness = "0.5 mm"\n'
        '[[step]]\ndo = "clean"\n[[step]]\ndo = "coat"\nglass = "clear-hard-lead-free"\nthickness = "0.4 mm"\n'
        '[[step]]\ndo = "fire"\nkiln = "815 C"\n'
    )
    usual = json.loads(refdb("fault", "crazing", "--json").out)["rows"]
    rows = json.loads(refdb("fault", "crazing", "--piece", str(path), "--json").out)["rows"]
    assert {r["key"] for r in rows} == {r["key"] for r in usual}
    assert all("in_the_piece" not in r for r in usual)
    found = [r for r in rows if r["in_the_piece"]]
    assert found
    assert any("one-face" in rule for r in found for rule in r["in_the_piece"])
    assert rows[0] in found
    assert "in the piece" in refdb("fault", "crazing", "--piece", str(path)).out


_STEPS = (
    '[piece]\nwidth = "3 cm"\nheight = "2 cm"\n[base]\nmetal = "copper-sheet"\nthickness = "0.8 mm"\n'
    '[[step]]\ndo = "clean"\n[[step]]\ndo = "mask"\nface = "back"\n[[step]]\ndo = "coat"\n'
    'glass = "clear-hard-lead-free"\nthickness = "0.15 mm"\n%s[[step]]\ndo = "fire"\nkiln = "%s"\n%s'
)


@pytest.mark.parametrize(
    ("symptom", "key", "coat", "kiln", "fire"),
    [
        ("bubbles", "bubbles-damp", "dried = false\n", "830 C", ""),
        ("dark cloud", "dark-cloud-damp", "dried = false\n", "830 C", ""),
        ("grains jumped", "steam-pits-wet", "dried = false\n", "830 C", ""),
        ("milky", "cloudy-fines", "washed = false\n", "830 C", ""),
        ("orange peel", "peel-short", "", "830 C", "minutes = 0.6\n"),
        ("copper still red", "copper-red-cool", "", "700 C", ""),
        ("beads", "crawl-too-hot", "", "900 C", ""),
        ("blackened edges", "edge-burn-over-fired", "", "830 C", "minutes = 14\n"),
    ],
)
def test_a_piece_file_brings_the_cause_it_tells_of_to_the_top(refdb, tmp_path, symptom, key, coat, kiln, fire):
    """With the slip in the file its cause comes first and is marked; in the sound file it is not found."""
    path, sound = tmp_path / "slip.toml", tmp_path / "sound.toml"
    path.write_text(_STEPS % (coat, kiln, fire))
    sound.write_text(_STEPS % ("dried = true\nwashed = true\n", "830 C", ""))
    rows = json.loads(refdb("fault", symptom, "--piece", str(path), "--json").out)["rows"]
    held = [r for r in rows if r["symptom"] == rows[0]["symptom"]]
    found = [r["key"] for r in held if r["in_the_piece"]]
    assert key in found
    assert [r["key"] for r in held][: len(found)] == found
    cannot = [r["looked_for"] for r in held[len(found) :]]
    assert cannot == sorted(cannot)
    well = json.loads(refdb("fault", symptom, "--piece", str(sound), "--json").out)["rows"]
    assert key not in [r["key"] for r in well if r["in_the_piece"]]


def test_too_cool_and_too_hot_are_told_apart(refdb, tmp_path):
    """What comes of a cool kiln is not found in a hot one, nor the other way round."""

    def found(kiln: str) -> set[str]:
        path = tmp_path / "kiln.toml"
        path.write_text(_STEPS % ("", kiln, ""))
        rows = json.loads(refdb("fault", "--piece", str(path), "--json").out)["rows"]
        return {r["key"] for r in rows if r["in_the_piece"]}

    cool, hot, right = found("700 C"), found("920 C"), found("835 C")
    assert {"peel-cool", "cloudy-under-fired"} <= cool - hot
    assert {"crawl-too-hot", "pinholes-over-fired"} <= hot - cool
    assert not {"peel-cool", "crawl-too-hot"} & right


def test_what_no_piece_file_can_tell_is_said(refdb, tmp_path):
    path = tmp_path / "slip.toml"
    path.write_text(_STEPS % ("dried = false\n", "830 C", ""))
    out = " ".join(refdb("fault", "bubbles", "--piece", str(path)).out.split())
    assert "damp-coat (step 3)" in out
    assert "a piece file cannot tell" in out
    assert "looked for and not found" in out
    assert "not in a piece file" not in " ".join(refdb("fault", "bubbles").out.split())


def test_a_piece_without_words_shows_only_what_was_found(refdb, tmp_path):
    path = tmp_path / "slip.toml"
    path.write_text(_STEPS % ("dried = false\n", "830 C", ""))
    out = refdb("fault", "--piece", str(path)).out
    assert "damp-coat (step 3)" in out
    assert "a piece file cannot tell" not in out
    assert out.count("\n") < 140


def test_a_piece_file_that_cannot_be_read(refdb, tmp_path):
    ran = refdb("fault", "crazing", "--piece", str(tmp_path / "gone.toml"))
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
