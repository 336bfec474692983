"""Watched firings of a jar, and the kiln's own offset, at the command line."""

from __future__ import annotations

import json

import pytest

from refdb.store.workshop.beside_reference import Shelf
from refdb.store.workshop.file import Workshop

ADD = ("mine", "add", "glass", "--name", "Jar 12", "--like", "clear-medium-lead-free", "--basis", "guess")
SEEN = "790C 2.5min copper 0.75mm"
CLEARED = "790C 4min copper 0.75mm oxide cleared"


@pytest.fixture
def mine(refdb, tmp_path, monkeypatch):
    monkeypatch.setenv("REFDB_WORKSHOP", str(tmp_path / "mine.db"))
    refdb.path = tmp_path / "mine.db"
    return refdb


def firings(mine, key="my:jar-12"):
    ran = mine("mine", "show", key, "--json")
    assert ran.status == 0, ran.err
    return {f["key"]: f for f in json.loads(ran.out)["firings"]}


def one_line(ran, status, *words):
    assert (ran.status, ran.out, ran.err.count("\n")) == (status, "", 1), ran
    for word in words:
        assert word in ran.err


def test_firings_are_added_with_the_jar_and_later(mine):
    ran = mine(*ADD, "--observed", SEEN, "--observed", CLEARED, "--date", "2024-06-01", "--json")
    added = json.loads(ran.out)["firings"]
    assert [(f["key"], f["result"], f["date"]) for f in added] == [
        ("firing:1", "gloss", "2024-06-01"),
        ("firing:2", "oxide cleared", "2024-06-01"),
    ]
    assert {n: added[0][n] for n in ("glass", "kiln_c", "minutes", "metal", "metal_mm")} == {
        "glass": "my:jar-12",
        "kiln_c": 790.0,
        "minutes": 2.5,
        "metal": "copper-sheet",
        "metal_mm": 0.75,
    }
    ran = mine("mine", "edit", "my:jar-12", "--observed", "1500F 2 min fine-silver-sheet 20 ga")
    assert ran.status == 0, ran.err
    assert "firing:3" in ran.out
    found = firings(mine)
    assert sorted(found) == ["firing:1", "firing:2", "firing:3"]
    assert found["firing:3"]["kiln_c"] == pytest.approx(815.6, abs=0.1)
    page = mine("mine", "show", "my:jar-12").out
    assert page.count("firing:") == 3
    assert max(map(len, page.splitlines())) <= 80
    assert "oxide" in mine("mine", "list", "firing").out


def test_an_edit_that_only_adds_a_firing_leaves_the_jar_as_it_was(mine):
    mine(*ADD, "--note", "first")
    mine("mine", "edit", "my:jar-12", "--note", "second")
    mine("mine", "edit", "my:jar-12", "--observed", SEEN)
    mine("mine", "restore", "my:jar-12")
    row = json.loads(mine("mine", "show", "my:jar-12", "--json").out)["row"]
    assert row["note"] == "first"
    assert list(firings(mine)) == ["firing:1"]


def test_firings_are_removed_and_come_back(mine):
    mine(*ADD, "--observed", SEEN, "--observed", CLEARED)
    before = firings(mine)
    assert mine("mine", "remove", "firing:1").status == 0
    assert list(firings(mine)) == ["firing:2"]
    one_line(mine("mine", "remove", "firing:1"), 3, "refdb mine list firing")
    assert "firing:1" in mine("mine", "list", "--removed").out
    assert mine("mine", "restore", "firing:1").status == 0
    assert firings(mine) == before
    assert mine("mine", "edit", "my:jar-12", "--observed", "none").status == 0
    assert firings(mine) == {}
    for number in (1, 2):
        mine("mine", "restore", f"firing:{number}")
    assert firings(mine) == before
    # Forgotten and replaced at once.
    mine("mine", "edit", "my:jar-12", "--observed", "none", "--observed", SEEN)
    assert list(firings(mine)) == ["firing:3"]


def test_a_new_jar_of_an_old_name_is_told_what_counts_for_it(mine):
    mine(*ADD, "--observed", SEEN)
    mine("mine", "tile", "my:jar-12", "copper-sheet", "--outcome", "sound")
    assert mine("mine", "remove", "my:jar-12").status == 0
    assert "1 tile, 1 firing." in " ".join(mine(*ADD).out.split())
    assert "counting for this one" not in mine(*ADD[:4], "Other", *ADD[5:]).out


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("790C 2.5min copper", ("--observed", "815C 3min copper 0.75mm")),
        ("790C copper 0.75mm", ("--observed",)),
        ("790C 2.5min 0.75mm", ("--observed",)),
        ("shone at 790C after 2.5min on copper 0.75mm", ("--observed",)),
        ("790 2.5min copper 0.75mm", ("--observed",)),
        ("790C 2.5min copper 75mm", ("0.1 to 10 mm",)),
        ("790C 99min copper 0.75mm", ("60 minutes",)),
        ("20C 2.5min copper 0.75mm", ("no kiln setting",)),
        ("790C 2.5min unobtainium 0.75mm", ("unobtainium",)),
        ("790C 0.06min copper 3mm", ("no glass shines",)),
        ("", ("--observed", "nothing was typed")),
        ("x" * 300, ("--observed",)),
        ("790C 2.5min ../copper 0.75mm", ("copper",)),
    ],
)
def test_what_is_no_firing(mine, text, words):
    ran = mine(*ADD, "--observed", text)
    one_line(ran, 3 if "unobtainium" in text or "../" in text else 2, *words)
    assert not mine.path.exists()
    mine(*ADD)
    one_line(mine("mine", "edit", "my:jar-12", "--note", "x", "--observed", text), ran.status, *words)
    row = json.loads(mine("mine", "show", "my:jar-12", "--json").out)
    assert (row["row"]["note"], row["firings"]) == (None, [])


def test_a_firing_stands_once_and_with_a_jar_alone(mine):
    mine(*ADD, "--observed", SEEN)
    one_line(mine("mine", "edit", "my:jar-12", "--observed", SEEN), 2, "firing:1")
    one_line(mine(*ADD[:4], "B", *ADD[5:], "--observed", SEEN, "--observed", SEEN), 2, "already")
    assert mine("mine", "show", "my:b").status == 3
    mine("mine", "add", "metal", "--name", "Sheet", "--basis", "guess")
    one_line(mine("mine", "edit", "my:sheet", "--observed", SEEN), 2, "jar of glass")


def test_firings_and_the_kiln_go_out_and_come_in_again(mine, tmp_path):
    mine(*ADD, "--observed", SEEN, "--observed", CLEARED)
    mine("mine", "kiln", "8 to 16 K", "--note", "with a thermocouple")
    mine("mine", "export", str(tmp_path / "out"))
    other = str(tmp_path / "other.db")
    ran = mine("mine", "import", str(tmp_path / "out"), "--workshop", other)
    assert (ran.status, ran.err) == (0, "")
    assert "2 firings, 1 kiln" in ran.out
    mine("mine", "export", str(tmp_path / "again"), "--workshop", other)
    for file in (tmp_path / "out").iterdir():
        assert file.read_bytes() == (tmp_path / "again" / file.name).read_bytes()
    lines = tmp_path / "firings.csv"
    lines.write_text(
        "glass,kiln_c,minutes,metal,result,date\nmy:jar-12,1454F,150 s,copper-sheet,Gloss,2024-06-01\n"
        "clear-hard-lead-free,790,2,copper-sheet,gloss,2024-06-01\n"
        "my:x,790,2,copper-sheet,shiny,2024-06-01\n"
    )
    ran = mine("mine", "import", str(lines), "--keep-good")
    assert ran.status == 0
    assert "no jar of your own" in ran.err
    assert "use one of: gloss, oxide cleared" in ran.err
    assert firings(mine)["firing:3"]["minutes"] == 2.5


def test_a_jar_s_firing_is_used_in_a_plan(mine, tmp_path, store):
    """What the plan says of the minutes names the firing, and changes with it."""
    mine(*ADD)
    piece = tmp_path / "piece.toml"
    piece.write_text(
        '[piece]\ntitle = "A"\nwidth = "30 mm"\nheight = "20 mm"\n[base]\nmetal = "copper-sheet"\n'
        'thickness = "0.8 mm"\n[[step]]\ndo = "coat"\nglass = "my:jar-12"\nthickness = "0.2 mm"\n'
        '[[step]]\ndo = "fire"\nkiln = "790 C"\n'
    )
    before = mine("piece", "plan", str(piece)).out
    mine("mine", "edit", "my:jar-12", "--observed", "790C 2.5min copper 0.75mm")
    after = mine("piece", "plan", str(piece)).out
    assert before != after
    assert "2.5 min, copper-sheet" in " ".join(after.split())
    with Shelf(store, mine.path) as shelf:
        assert len(shelf.observed_firings("my:jar-12")) == 1


@pytest.mark.parametrize(
    ("typed", "three"),
    [
        ("12 K", (12.0, None, None)),
        ("12K", (12.0, None, None)),
        ("-5 K", (-5.0, None, None)),
        ("18F", (10.0, None, None)),
        ("8 to 16 K", (12.0, 8.0, 16.0)),
        ("8-16K", (12.0, 8.0, 16.0)),
        ("-10 to 4 K", (-3.0, -10.0, 4.0)),
        ("16 to 8 K", (12.0, 8.0, 16.0)),
        ("0 K", (0.0, None, None)),
    ],
)
def test_the_kiln_as_it_is_typed(mine, typed, three):
    ran = mine("mine", "kiln", "--json", "--", typed)
    assert ran.status == 0, ran.err
    row = json.loads(ran.out)["row"]
    assert (row["offset_k"], row["offset_low_k"], row["offset_high_k"]) == pytest.approx(three)
    assert row["basis"] == "own test"


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("hot", ("OFFSET",)),
        ("900 K", ("OFFSET", "300")),
        ("12", ("OFFSET",)),
        ("", ("OFFSET",)),
        ("8 to 900 K", ("300",)),
        ("8 to x K", ("OFFSET",)),
        ("nan K", ("OFFSET",)),
    ],
)
def test_what_is_no_offset_of_a_kiln(mine, typed, words):
    one_line(mine("mine", "kiln", typed), 2, *words)
    assert not mine.path.exists()


def test_the_kiln_is_shown_forgotten_and_brought_back(mine):
    one_line(mine("mine", "kiln"), 4, "no workshop")
    mine(*ADD)
    one_line(mine("mine", "kiln"), 3, "refdb mine learn kiln")
    one_line(mine("mine", "kiln", "none"), 3)
    mine("mine", "kiln", "12 K")
    mine("mine", "kiln", "15 K")
    assert "15 K" in mine("mine", "kiln").out
    mine("mine", "restore", "kiln")
    assert "12 K" in mine("mine", "kiln").out
    assert mine("mine", "kiln", "none").status == 0
    assert mine("mine", "kiln").status == 3
    assert "kiln" in mine("mine", "list", "--removed").out
    mine("mine", "restore", "kiln")
    assert json.loads(mine("mine", "list", "kiln", "--json").out)["rows"][0]["offset_k"] == 12.0
    with Workshop(mine.path) as shop:
        assert shop.count("kiln") == 1
