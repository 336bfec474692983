"""The default answer of a command fits one screen of 80 columns and 24 lines, and cuts no word."""

from __future__ import annotations

import json
import re

import pytest

from refdb.cli.output import SCREEN, Page
from refdb.judge.piece.clear_over_leaf import against_each
from refdb.judge.piece.clear_over_leaf import clears as ranked_clears
from refdb.store.opening import open_reference

METALS = ("copper-sheet", "copper-clay", "fine-silver-clay", "sterling-sheet", "gold-18k-yellow", "low-carbon-steel")
CLEARS = [
    (leaf, metal, under)
    for leaf in ("fine-silver-foil", "gold-foil-24k", "fine-silver-leaf")
    for metal in METALS[:5]
    for under in ("", "bare")
]


def fits(out: str) -> None:
    lines = out.splitlines()
    assert len(lines) <= SCREEN, out
    assert max(map(len, lines)) <= 80
    assert not re.search(r"\.\.\.|…", out)


@pytest.mark.parametrize(("leaf", "metal", "under"), CLEARS)
def test_clears_tell_every_clear_and_what_to_do_in_whole_words(refdb, store, leaf, metal, under):
    """Each clear with what stands against it, and the deed for the first of these, or how many deeds are left."""
    ran = refdb("clears", leaf, "--on", metal, *(("--under", under) if under else ()))
    fits(ran.out)
    assert "--full" in ran.out
    shown = " ".join(ran.out.split())
    with open_reference(store) as ref:
        ranked = ranked_clears(ref, leaf, metal, under or None)
        deeds = {found[0].remedy.lower() for found in against_each(ranked) if found and found[0].remedy}
    missing = re.search(r"and (\d+) more [TtAaF]|^ +and (\d+) more$", ran.out, re.MULTILINE)
    told = [one.glass.key for one in ranked if f" {one.glass.key} " in shown]
    assert len(told) >= min(6, len(ranked))
    assert told == [one.glass.key for one in ranked][: len(told)]
    assert len(told) == len(ranked) or missing
    there = {deed for deed in deeds if deed in shown.lower()}
    assert len(there) >= min(1, len(deeds))
    assert there == deeds or "And what to do about" in shown or missing


@pytest.mark.parametrize("metal", METALS)
def test_glasses_on_a_metal_fit_a_screen_and_name_all_that_hold(refdb, metal):
    rows = json.loads(refdb("glasses", "--on", metal, "--json").out)["rows"]
    out = refdb("glasses", "--on", metal).out
    fits(out)
    told = out.split()
    for row in rows:
        if row["verdict"] == "suits":
            assert row["key"] in {word.strip(",:") for word in told}
    for verdict in {row["verdict"] for row in rows}:
        count = sum(row["verdict"] == verdict for row in rows)
        assert f"\n{verdict} ({count})\n" in out
    # Why each of the others is where it is stands there too.
    plain = " ".join(told)
    for row in rows:
        assert row["verdict"] == "suits" or row["decided_by"] in plain
    whole = refdb("glasses", "--on", metal, "--full").out
    assert all(re.search(rf"(?m)^ +\d+=? +{row['key']} ", whole) for row in rows)


def test_a_short_ranking_is_told_with_places(refdb):
    out = refdb("glasses", "--on", "copper-sheet", "--family", "clears").out
    fits(out)
    assert re.search(r"(?m)^ +1=? +clear-", out)


def test_every_material_is_shown_on_one_screen_with_its_preferred_figures(refdb, store):
    with open_reference(store) as ref:
        records = [r for kind in ("metal", "glass", "leaf") for r in ref.materials(kind)]
        properties = {p.key: p.label for p in ref.properties()}
    assert len(records) > 80
    for record in records:
        out = refdb("show", record.key).out
        fits(out)
        plain = " ".join(out.split())
        for value in record.values:
            if value.preferred:
                assert properties[value.property] in plain, (record.key, value.property)
    # What the bench asks first stands with its number and with what it rests on.
    assert re.search(r"solidus +1085 \(1066 to 1085\) °C, published", refdb("show", "copper-sheet").out)
    assert re.search(r"kiln setting, low end +800 °C, computed", refdb("show", "clear-hard-lead-free").out)
    assert "Not known: thermal expansion" in refdb("show", "painting-black").out


@pytest.mark.parametrize("listed", ["metals", "glasses", "leaf"])
def test_a_list_names_all_on_a_screen_and_is_whole_in_a_pipe(refdb, monkeypatch, listed):
    keys = [row["key"] for row in json.loads(refdb(listed, "--json").out)["rows"]]
    whole = refdb(listed).out
    assert len(whole.splitlines()) > SCREEN
    monkeypatch.setattr("refdb.cli.lists._on_screen", lambda: True)
    monkeypatch.setattr("refdb.cli.lists._whole", lambda show_all, for_programs: show_all or for_programs)
    out = refdb(listed).out
    fits(out)
    assert set(keys) <= {word.strip(",:") for word in out.split()}
    assert "--full" in out
    assert refdb(listed, "--full").out == whole


def test_a_plan_begins_with_its_firings(refdb, tmp_path):
    """The setting and the minutes of each fire are within the first screen; all else follows."""
    file = tmp_path / "pendant.toml"
    refdb("piece", "new", str(file), "--template", "pendant")
    out = refdb("piece", "plan", str(file)).out
    first = "\n".join(out.splitlines()[:SCREEN])
    fires = json.loads(refdb("piece", "plan", str(file), "--json").out)["firings"]
    assert len(fires) > 1
    for fire in fires:
        assert re.search(rf"(?m)^ +{fire['number']}  .*  {fire['kiln_c']:.0f}  ", first)


def test_what_is_cut_ends_with_a_whole_word():
    page = Page(42)
    page.clipped("A sentence that goes on for longer than the line has room")
    assert re.fullmatch(r"A sentence that goes on for longer than(…|\.\.\.)", page.lines[0])


def test_a_source_on_which_much_rests_fits_a_screen_and_counts_it(refdb):
    rows = json.loads(refdb("sources", "common-practice", "--json").out)["rows"]
    out = refdb("sources", "common-practice").out
    fits(out)
    for place in {row["place"] for row in rows}:
        assert f"\n{place} ({sum(row['place'] == place for row in rows)}): " in out
    assert refdb("show", "common-practice").out == out
    whole = refdb("sources", "common-practice", "--full").out
    assert all(str(row["key"]) in whole for row in rows)
