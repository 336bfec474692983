"""Small plots of a number between its low and high."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.pictures.drawing import Triple
from refdb.pictures.interval import WIDTH, Scale, axis, interval, scale_of, window


def drawn(*args, **more):
    picture = ET.fromstring(interval(*args, **more))
    return {kind: [e for e in picture if e.get("class") == kind] for kind in ("band", "lim", "bad", "dot", "ring")}


def test_bar_dot_and_limits_stand_where_their_numbers_say():
    parts = drawn(Triple(5, 2, 8), Scale(0, 10), limits=[6, 9], bad_above=9)
    assert parts["band"][0].get("d") == f"M{WIDTH * 0.2:.1f} 10H{WIDTH * 0.8:.1f}"
    assert float(parts["dot"][0].get("cx")) == WIDTH * 0.5
    assert [e.get("d") for e in parts["lim"]] == ["M91.2 2V18", "M136.8 2V18"]
    first = re.match(r"M([\d.]+) 14", parts["bad"][0].get("d"))
    assert float(first[1]) == pytest.approx(WIDTH * 0.9, abs=0.1)


def test_what_lies_below_a_least_value_is_slanted_from_the_left():
    parts = drawn(Triple(0.8, 0.8, 0.8), Scale(0, 1), limits=[0.6], bad_below=0.6)
    data = parts["bad"][0].get("d")
    assert data.startswith("M0 14l4-8m0 8l4-8")
    assert WIDTH * 0.6 - 4 < 4 * data.count("l4-8") <= WIDTH * 0.6
    assert parts["band"] == []


def test_a_rival_figure_is_a_ring():
    assert len(drawn(Triple(1, 0, 2), Scale(0, 2), preferred=False)["ring"]) == 1
    assert drawn(Triple(1, 0, 2), Scale(0, 2))["ring"] == []


numbers = st.floats(-1e9, 1e9).filter(lambda x: x == 0 or abs(x) > 1e-9)


@given(st.lists(numbers, min_size=1, max_size=6))
def test_a_scale_holds_its_numbers_with_room(held):
    scale = scale_of(held)
    assert scale.low <= min(held)
    assert max(held) <= scale.high
    assert scale.low < scale.high
    if max(held) > min(held):
        share = (max(held) - min(held)) / (scale.high - scale.low)
        assert 0.3 <= share <= 0.5 + 1e-6


def test_a_scale_that_may_not_be_negative_begins_at_zero():
    assert scale_of([0.1, 5.0], floor=0.0).low == 0.0


def test_the_ends_of_an_axis_are_escaped():
    assert "".join(ET.fromstring(axis("<5", "&9")).itertext()) == "<5&9"


def test_a_window_is_one_bar_between_its_ends_and_tells_which_is_preferred():
    scale = Scale(700.0, 900.0)
    both = window((760.0, True), (830.0, False), scale)
    assert f'class="band" d="M{0.3 * 152:.1f} 10H{0.65 * 152:.1f}"' in both
    assert f'<circle class="dot" cx="{0.3 * 152:.1f}"' in both
    assert f'<circle class="ring" cx="{0.65 * 152:.1f}"' in both
    alone = window(None, (830.0, True), scale)
    assert "band" not in alone
    assert alone.count("<circle") == 1
