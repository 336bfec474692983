"""Tints of colour families: by the class's key, beside its words, and never of a record of one's own."""

from __future__ import annotations

import re

import pytest
from browse_client import Asking, Outline
from conftest import ROOT

from refdb.pictures.swatch import FAMILIES, SAID, family_of, swatch
from refdb.store.reference import Reference

#: What the families of the store, told apart from the keys, allow.
OF_FAMILY = {
    "ambers and yellows": {"amber", "yellow"},
    "blacks and greys": {"black", "grey"},
    "blues and greens": {"blue", "green", "turquoise"},
    "clears": {"clear"},
    "painting colours": {"black", "brown"},
    "reds, pinks and violets": {"red", "ruby", "violet"},
    "whites and opals": {"white", "opal"},
}


@pytest.fixture(scope="module")
def glasses(store):
    with Reference(store) as ref:
        return ref.materials("glass")


def test_a_key_names_the_colour_that_its_family_allows(glasses):
    found = {g.key: family_of(g.key) for g in glasses}
    assert {g.key for g in glasses if g.family in OF_FAMILY and found[g.key] not in OF_FAMILY[g.family]} == set()
    assert {name for name in found.values() if name} == set(FAMILIES)


@pytest.mark.parametrize("key", ["window-soda-lime", "counter-enamel-mixed", "steel-ground-coat", "my:blue-jar"])
def test_where_no_colour_is_named_there_is_none(key):
    assert swatch(key, "transparent") == ""


def test_a_kind_that_is_not_known_has_no_tint():
    assert swatch("blue-transparent-lead-free", "") == ""


def test_how_far_one_sees_through_is_drawn():
    clear, opal, white = (
        swatch(f"{k}-x", o) for k, o in (("blue", "transparent"), ("opal", "opalescent"), ("white", "opaque"))
    )
    assert 'class="sw blue"' in clear
    assert "behind" in clear
    assert "behind" in opal
    assert 'class="sw opal half"' in opal
    assert "behind" not in white


def test_every_tint_has_a_colour_of_its_own_and_all_differ():
    css = (ROOT / "refdb" / "browse" / "static" / "refdb.css").read_text(encoding="utf-8")
    held = dict(re.findall(r"\.sw\.(\w+) \{ --glass:(#\w{6}) \}", css))
    held["clear"] = re.search(r"\.sw \{ --glass:(#\w{6})", css)[1]
    assert set(held) == set(FAMILIES)
    assert len(set(held.values())) == len(FAMILIES)


@pytest.mark.parametrize("path", ["/materials", "/materials?kind=glass", "/material/opal-lead-free", "/grid"])
def test_a_page_says_once_what_a_tint_is(store, path):
    asking = Asking(store)
    outline = Outline(asking.get(path).body)
    asking.close()
    drawn = [given for given in outline.all("svg") if "sw" in (given.get("class") or "").split()]
    assert drawn
    assert all(given["aria-hidden"] == "true" for given in drawn)
    assert outline.text.count(SAID) == 1
