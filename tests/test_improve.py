"""The fewest changes that make a piece hold: each helps, the file stays itself, and the answer is the judge's."""

import json
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.errors import BadInput
from refdb.judge.piece.verdict import judge_piece
from refdb.judge.reason import NOT
from refdb.plan.improve import MOST_EDITS, holds, improve_text
from refdb.plan.piece_text import PieceText
from refdb.plan.piecefile import parse_piece

STEPS = """
[[step]]
do = "clean"
[[step]]
do = "mask"
face = "back"
[[step]]
do = "coat"
glass = "clear-hard-lead-free"
thickness = "{front} mm"   # sifted
[[step]]
do = "fire"
kiln = "{kiln} C"
"""


def pendant(metal="copper-sheet", mm=0.8, front=0.2, kiln=825, steps=STEPS):
    return (
        f'[piece]\ntitle = "pendant"\nwidth = "20 mm"\nheight = "30 mm"\n[base]\nmetal = "{metal}"\n'
        f'thickness = "{mm} mm"\n' + steps.format(front=front, kiln=kiln)
    )


@pytest.mark.parametrize(("text", "words"), [
    (pendant(kiln=700), "set the kiln of step 4"),
    (pendant(mm=0.3, front=0.5), "mm"),
    (pendant().replace('do = "fire"', 'do = "stone"').replace('kiln = "825 C"', ""), "fire at"),
])  # fmt: skip
def test_a_piece_with_one_fault_is_mended_by_what_the_fault_calls_for(ref, text, words):
    found = improve_text(ref, text)
    assert not holds(found.before)
    assert found.holds
    assert any(words in edit.words for edit in found.edits)


def test_what_is_told_after_is_the_verdict_on_the_file_that_is_written(ref):
    found = improve_text(ref, pendant(mm=0.3, front=0.4, kiln=700))
    again = judge_piece(ref, parse_piece(found.text, ref))
    assert (again.outcome, again.shares) == (found.after.outcome, found.after.shares)
    assert 0 < len(found.edits) <= MOST_EDITS
    # Every edit was needed: without the last one it does not hold.
    before = found.edits[-2].text.text if len(found.edits) > 1 else pendant(mm=0.3, front=0.4, kiln=700)
    assert not holds(judge_piece(ref, parse_piece(before, ref)))


def test_a_sound_piece_is_left_alone(ref):
    found = improve_text(ref, pendant(mm=1.5, front=0.15))
    assert holds(found.before)
    assert found.edits == ()
    assert found.text == pendant(mm=1.5, front=0.15)


CELLS = (
    """
[[step]]
do = "coat"
face = "back"
glass = "clear-hard-lead-free"
thickness = "0.2 mm"
[[step]]
do = "coat"
glass = "clear-hard-lead-free"
thickness = "0.15 mm"
[[step]]
do = "fire"
kiln = "805 C"
"""
    + """[[step]]
do = "coat"
glass = "blue-transparent-lead-free"
thickness = "0.3 mm"
[[step]]
do = "fire"
kiln = "788 C"
"""
    * 3
)


def test_metal_grows_by_a_millimetre_at_most_and_each_value_is_told_once(ref):
    """Three coats of 0.3 mm on 0.6 mm of silver: not 1.6, then 2.6, then 3.6 mm of metal, which nobody would saw."""
    found = improve_text(ref, pendant("fine-silver-sheet", 0.6, steps=CELLS))
    assert not holds(found.before)
    metal = [edit.metal_mm for edit in found.edits if edit.metal_mm]
    assert len(metal) <= 1
    assert max(metal, default=0.0) <= 1.6 + 1e-9
    set_once = [edit.sets for edit in found.edits if edit.sets]
    assert len(set_once) == len(set(set_once))
    assert parse_piece(found.text, ref).base.thickness_m.value * 1e3 == pytest.approx(metal[0] if metal else 0.6)


def test_what_no_edit_can_help_says_so(ref):
    found = improve_text(ref, pendant(metal="aluminium-sheet"))
    assert found.after.outcome == NOT
    assert not found.holds


@given(number=st.integers(1, 4), key=st.sampled_from(["kiln", "note", "glass", "thickness"]), at=st.integers(1, 6))
def test_one_change_leaves_the_rest_of_the_file_as_it_is(number, key, at):
    text = PieceText.of(pendant(), 4)
    changed = tomllib.loads(text.with_value("step", number, key, '"x"').text)
    expected = tomllib.loads(pendant())
    expected["step"][number - 1][key] = "x"
    assert changed == expected
    added = tomllib.loads(text.with_step(at, {"do": '"clean"', "face": '"back"'}).text)["step"]
    assert added[min(at, 5) - 1] == {"do": "clean", "face": "back"}
    assert [s for k, s in enumerate(added) if k != min(at, 5) - 1] == tomllib.loads(pendant())["step"]


def test_remarks_stay(ref):
    found = PieceText.of(pendant(), 4).with_value("step", 3, "thickness", '"0.10 mm"').text
    assert 'thickness = "0.10 mm"   # sifted' in found


def test_steps_in_another_form_of_toml_are_refused_in_one_line(ref):
    text = pendant(steps="").replace("[base]", 'step = [{do = "fire"}]\n[base]').replace("[piece]", "", 1)
    with pytest.raises(BadInput, match=r"\[\[step\]\]"):
        PieceText.of(text, 1)


def test_the_command_prints_what_was_found_and_writes_only_when_asked(refdb, tmp_path):
    file, out = tmp_path / "pendant.toml", tmp_path / "better.toml"
    file.write_text(pendant(kiln=700), encoding="utf-8")
    told = refdb("piece", "improve", str(file), "--json")
    found = json.loads(told.out)
    assert told.status == 0
    assert found["holds"]
    assert file.read_text(encoding="utf-8") == pendant(kiln=700)
    assert refdb("piece", "improve", str(file), "--write", str(out)).status == 0
    assert out.read_text(encoding="utf-8") == found["text"]
    checked = json.loads(refdb("piece", "check", str(out), "--json").out)
    assert checked["verdict"] == found["after"]["verdict"]
    assert refdb("piece", "improve", str(file), "--write", str(out)).status == 2
