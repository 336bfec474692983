"""A piece in the making: its steps moved about, the file that it makes, and its way into an address and back."""

from __future__ import annotations

import tomllib
import zlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import refdb
from refdb.browse.pages.piece import example
from refdb.browse.server.packed import LONGEST_PACKED, LONGEST_UNPACKED, packed, unpacked
from refdb.errors import BadInput
from refdb.plan.piecefile import parse_piece
from refdb.plan.sketch import Sketch, completed

TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
TABLES = st.dictionaries(
    st.text("abcdefgh_", min_size=1, max_size=6),
    TEXTS | st.booleans() | st.integers(-(2**60), 2**60) | st.floats(-1e9, 1e9),
    max_size=4,
)


@settings(max_examples=100, deadline=None)
@given(TABLES, TABLES, TABLES, st.lists(TABLES, max_size=5))
def test_the_file_of_a_sketch_is_read_as_what_was_written(piece, base, kiln, steps):
    sketch = Sketch(piece, base, kiln, tuple(steps))
    # The reader of TOML is Python's own.
    read = tomllib.loads(sketch.text)
    assert read == {"piece": piece, "base": base} | ({"kiln": kiln} if kiln else {}) | (
        {"step": steps} if steps else {}
    )
    assert Sketch.of(sketch.text) == sketch


def test_the_example_is_the_same_piece_after_a_turn_through_the_form_of_an_address():
    text = unpacked(packed(Sketch.of(example()).text))
    with refdb.open_reference() as ref:
        assert parse_piece(text, ref) == parse_piece(example(), ref)
    assert len(packed(text)) < 1000


def steps(sketch):
    return [step["n"] for step in sketch.steps]


def test_steps_move_within_their_ends_and_are_copied_to_the_last():
    sketch = Sketch(steps=tuple({"n": n} for n in "abc"))
    assert steps(sketch.moved(1, -1)) == list("abc")
    assert steps(sketch.moved(1, 1)) == list("bac")
    assert steps(sketch.moved(3, -1)) == list("acb")
    assert steps(sketch.moved(3, 1)) == list("abc")
    assert steps(sketch.copied(2)) == list("abcb")
    assert steps(sketch.without(2)) == list("ac")
    assert steps(sketch.with_step(2, {"n": "x"})) == list("axbc")
    assert steps(sketch.with_step(99, {"n": "x"})) == list("abcx")
    assert steps(sketch.with_changed(2, {"n": "x"})) == list("axc")
    for number in (0, 4, -1):
        for change in (sketch.without, sketch.copied, lambda n: sketch.moved(n, 1)):
            with pytest.raises(BadInput, match="there is no step"):
                change(number)


def test_what_is_fired_ends_with_the_last_fire():
    done = ["coat", "fire", "coat", "fire", "coat"]
    sketch = Sketch(steps=tuple({"do": do} for do in done))
    assert [s["do"] for s in sketch.fired.steps] == done[:4]
    assert sketch.without(2).without(3).fired.steps == ()


@pytest.mark.parametrize(
    ("name", "text", "taken"),
    [
        ("thickness", "0,15", "0.15 mm"),
        ("thickness", " 0.1-0.2 ", "0.1-0.2 mm"),
        ("thickness", "3 cards", "3 cards"),
        ("thickness", "18g", "18 ga"),
        ("thickness", "Three cards", "3 cards"),
        ("coverage", "18g", "18g"),
        ("thickness", "1,234", "1,234"),
        ("coverage", "60", "60 %"),
        ("kiln", "800", "800 C"),
        ("kiln", "1470 F", "1470 F"),
        ("minutes", "2,5", "2.5 min"),
        ("title", "7", "7"),
    ],
)
def test_a_bare_number_gets_the_unit_of_its_field(name, text, taken):
    assert completed(name, text) == taken


@pytest.mark.parametrize(
    "text", ["[piece", "other = 1", "[piece.deep]\nx = 1", "[[base]]\nx = 1", "step = 3", "[[step]]\nx = [1]"]
)
def test_what_no_form_can_show_is_refused(text):
    with pytest.raises(BadInput):
        Sketch.of(text)


def bomb():
    import base64

    return base64.urlsafe_b64encode(zlib.compress(b" " * 50_000_000, 9)).decode().rstrip("=")


@pytest.mark.parametrize(
    "letters", ["", "!", "AAAA", packed("x")[:-2], packed("x") + "AAAA", "é", "A" * (LONGEST_PACKED + 1)]
)
def test_an_address_that_holds_no_piece_is_refused(letters):
    with pytest.raises(BadInput, match="holds no piece"):
        unpacked(letters)


def test_what_would_grow_too_large_is_not_grown():
    import tracemalloc

    letters = bomb()
    assert len(letters) > LONGEST_PACKED
    small = packed(" " * LONGEST_UNPACKED)
    assert len(unpacked(small)) == LONGEST_UNPACKED
    tracemalloc.start()
    for text in (letters, letters[:LONGEST_PACKED]):
        with pytest.raises(BadInput):
            unpacked(text)
    assert tracemalloc.get_traced_memory()[1] < 2_000_000
    tracemalloc.stop()
    for text in (" " * (LONGEST_UNPACKED + 1), "".join(chr(33 + (n * n * 7919 + n) % 9000) for n in range(12_000))):
        with pytest.raises(BadInput, match="too long for an address"):
            packed(text)
