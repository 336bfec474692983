"""What is known of a record besides its figures, and what is not."""

from __future__ import annotations

import re
from html import unescape

import pytest
from browse_client import Asking, as_typed

from refdb.judge.known import details_of, in_order, kind_of, missing_of, not_known, rules_naming


def test_kind_and_details_come_from_the_table_of_the_kind(ref):
    assert kind_of(ref.leaf("fine-silver-foil")) == "leaf"
    assert details_of(ref.glass("clear-hard-lead-free"))["hardness"] == "hard"
    assert "source" not in details_of(ref.metal("copper-sheet"))


def test_what_is_missing_is_named(ref):
    assert "expansion" in missing_of(ref.glass("painting-black"))
    assert not_known(ref, ref.glass("painting-black"))[0] == "thermal expansion"
    assert "expansion" not in missing_of(ref.glass("clear-hard-lead-free"))


def test_a_clay_should_have_its_shrinkage(ref):
    from dataclasses import replace

    clay = ref.metal("copper-clay")
    without = replace(clay, values=tuple(v for v in clay.values if v.property != "shrinkage"), points=())
    assert "shrinkage" not in missing_of(clay)
    assert {"shrinkage", "expansion curve"} <= set(missing_of(without))


def test_rules_that_hold_for_any_are_not_its_own(ref):
    rules = ref.fit_rules()
    named = rules_naming(rules, ref.metal("brass-70-30"))
    assert any("zinc" in r.rule for r in named)
    assert all(r.metal != "any" for r in named)
    assert rules_naming(rules, ref.leaf("fine-silver-foil")) == []


def test_expansion_strength_and_melting_are_told_first(ref):
    every = [p.key for p in ref.properties()]
    told = [p.key for p in in_order(ref.properties())]
    assert sorted(told) == sorted(every)
    assert told[0] == "expansion"
    wanted = ["expansion", "flow_stress", "solidus", "fuse_low", "fuse_high", "density"]
    assert [key for key in told if key in wanted] == wanted


@pytest.mark.parametrize("key", ["copper-sheet", "opal-lead-free"])
def test_page_and_command_tell_them_in_the_same_order(store, refdb, key):
    asking = Asking(store)
    heads = re.findall(r'<tr class="prop" role="row"><th[^>]*>([^<]+), [^<,]+<', asking.get(f"/material/{key}").body)
    asking.close()
    lines = refdb("show", key, "--full").out.lower().splitlines()
    heads = [as_typed(unescape(head)).replace("\u00a0", " ").lower() for head in heads]
    places = [[n for n, line in enumerate(lines) if line.startswith(f"{head},")] for head in heads]
    # Both ends of the kiln's setting are one row of the page.
    assert [len(found) for found in places] == [2 if head == "kiln setting" else 1 for head in heads]
    assert len(heads) > 3
    in_turn = [n for found in places for n in found]
    assert in_turn == sorted(in_turn)
