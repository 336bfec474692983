"""The part of an address after its question mark."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.browse.server.query import LONGEST_TEXT, address, chosen, read_query
from refdb.errors import BadInput

KNOWN = ("q", "kind", "a b")


def test_known_names_are_read_and_empty_ones_left_out():
    assert read_query("q=fine+silver&kind=&a+b=%C3%A9", KNOWN) == {"q": "fine silver", "a b": "é"}


@pytest.mark.parametrize(
    "text",
    [
        "x=1",
        "q=1&q=2",
        "q=%00",
        "q=%0A",
        "q=%FF",
        "q=%E2%80%AE",
        f"q={'a' * 201}",
        "&".join(["q=1"] * 60),
        "q=" + "a" * 5000,
        "<script>=1",
    ],
)
def test_anything_else_is_refused_with_what_to_do(text):
    with pytest.raises(BadInput) as caught:
        read_query(text, KNOWN)
    assert caught.value.todo


@given(st.dictionaries(st.sampled_from(KNOWN), st.text(max_size=LONGEST_TEXT)))
def test_what_is_written_is_read_or_refused(given_parts):
    try:
        found = read_query(urlencode(given_parts, errors="replace"), KNOWN)
    except BadInput:
        return
    assert found == {name: text.strip() for name, text in given_parts.items() if text.strip()}


def test_an_address_leaves_out_what_is_empty():
    assert address("/x") == "/x"
    assert address("/x", a="1 2", b="", c=None, d="<") == "/x?a=1+2&d=%3C"


def test_one_of_a_few_words():
    assert chosen({}, "kind", ("a",), "z") == "z"
    assert chosen({"kind": "a"}, "kind", ("a",)) == "a"
    with pytest.raises(BadInput, match="use one of: a, b"):
        chosen({"kind": "c"}, "kind", ("a", "b"))
