"""People are shown the short names of sources; keys stand in --full of a verdict, in `sources` and in JSON."""

from __future__ import annotations

import html
import re

import pytest
from browse_client import Asking

from refdb.store.reference import Reference

#: What people ask most, as it is printed without --full.
ASKED = (
    ("suits", "clear-hard-lead-free", "copper-sheet"),
    ("suits", "opal-leaded", "fine-silver-sheet"),
    ("glasses", "--on", "copper-sheet"),
    ("clears", "fine-silver-foil", "--on", "copper-sheet"),
    ("builds", "copper-sheet"),
    ("practice", "leaf"),
    ("practice", "etching", "--full"),
    ("fault", "crazing", "--full"),
    ("cautions", "lead"),
    ("cautions", "--full"),
    ("show", "copper-sheet"),
    ("show", "clear-medium-leaded"),
    ("estimate", "SiO2 57, Na2O 16, K2O 10, B2O3 10, CaO 7"),
)
PAGES = ("/", "/cautions", "/practice", "/faults", "/about", "/material/copper-sheet", "/material/clear-medium-leaded",
         "/suits?glass=clear-hard-lead-free&metal=copper-sheet")  # fmt: skip


@pytest.fixture(scope="module")
def keys(store) -> list[str]:
    """Keys of sources that no one could take for a word."""
    with Reference(store) as ref:
        return [s.key for s in ref.sources() if "-" in s.key]


def keys_in(text: str, keys: list[str]) -> list[str]:
    words = set(re.findall(r"[a-z0-9]+(?:-[a-z0-9]+)+", text))
    return sorted(words & set(keys))


@pytest.mark.parametrize("words", ASKED, ids=" ".join)
def test_a_printed_answer_names_sources_and_shows_no_key(refdb, keys, words):
    ran = refdb(*words)
    assert ran.err == ""
    assert keys_in(re.sub(r"-\n\s*", "-", ran.out), keys) == []


@pytest.fixture(scope="module")
def browser(store, tmp_path_factory):
    asking = Asking(store, workshop=tmp_path_factory.mktemp("none") / "none.db")
    yield asking
    asking.close()


@pytest.mark.parametrize("address", PAGES)
def test_a_page_names_sources_and_shows_no_key(browser, keys, address):
    body = browser.get(address).body
    text = html.unescape(re.sub(r"<(style|script|code).*?</\1>|<[^>]*>", " ", body, flags=re.S))
    assert keys_in(text, keys) == []


def test_a_name_is_taken_where_a_key_is(refdb, keys):
    assert refdb("sources", "EN 572-1").out == refdb("sources", "en-572-1").out
    assert refdb("sources", "oh, rödel, cannon and ritchie 1988").status == 0
    assert refdb("sources", "EN 572-9").status == 3


def test_keys_stand_where_they_are_asked_for(refdb, keys):
    assert keys_in(refdb("sources", "--full").out, keys)
    assert keys_in(refdb("suits", "clear-hard-lead-free", "copper-sheet", "--full").out, keys)
