"""The JSON Schema of a piece file says what its reader knows, no more and no less."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

import refdb.plan
from refdb.judge.piece.steps import DOINGS
from refdb.plan.piece_schema import STEP_CHOICES, STEP_NEEDS, STEP_VALUES, piece_schema
from refdb.plan.piecefile import _BASE_KEYS, _PIECE_KEYS, KILN_KEYS, parse_piece
from refdb.plan.step_keys import STEP_KEYS
from refdb.store.reference import Reference

DEMO = (Path(refdb.plan.__file__).parent / "new_piece.toml").read_text(encoding="utf-8")


def steps() -> dict[str, dict]:
    return {s["properties"]["do"]["const"]: s for s in piece_schema()["properties"]["step"]["items"]["oneOf"]}


def test_every_step_with_its_keys():
    assert set(steps()) == set(DOINGS)
    for do, step in steps().items():
        assert set(step["properties"]) == {"do", "note", *STEP_KEYS[do]}
        assert step["additionalProperties"] is False


def test_every_key_of_a_step_is_described():
    assert set(STEP_VALUES) == {k for keys in STEP_KEYS.values() for k in keys}


def test_tables_have_the_keys_of_the_reader():
    tables = piece_schema()["properties"]
    assert set(tables["piece"]["properties"]) == set(_PIECE_KEYS)
    assert set(tables["kiln"]["properties"]) == set(KILN_KEYS)
    assert set(tables["base"]["properties"]) == set(_BASE_KEYS)


@pytest.mark.parametrize("do", DOINGS)
def test_what_a_step_needs_is_what_the_reader_misses(store, do):
    """A step with nothing but `do` is refused exactly where the schema says that something is required."""
    from refdb.errors import BadInput

    head = '[piece]\nwidth="3 cm"\nheight="2 cm"\n[base]\nmetal="copper-sheet"\nthickness="1 mm"\n'
    with Reference(store) as ref:
        try:
            parse_piece(f'{head}[[step]]\ndo = "{do}"\n', ref)
            refused = False
        except BadInput:
            refused = True
    assert refused == (do in STEP_NEEDS or do in STEP_CHOICES)


def test_the_demo_uses_only_what_the_schema_has():
    tables = piece_schema()["properties"]
    data = tomllib.loads(DEMO)
    # The kiln stands in it as a remark, since usual figures serve without it.
    assert set(data) == set(tables) - {"kiln"}
    assert set(data["piece"]) <= set(tables["piece"]["properties"])
    assert set(data["base"]) <= set(tables["base"]["properties"])
    for step in data["step"]:
        assert set(step) <= set(steps()[step["do"]]["properties"])
        assert set(steps()[step["do"]]["required"]) <= set(step)
