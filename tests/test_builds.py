"""The firings of a build, and the builds that are refused."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refdb.errors import BadInput, NotFound
from refdb.judge.fit.build import Build, firings
from refdb.judge.fit.glass_on_metal import suits
from refdb.judge.verdict import Measure
from refdb.quantities.typed import Band

CLEAR, COPPER = "clear-hard-lead-free", "copper-sheet"


@pytest.mark.parametrize(
    ("front", "back", "first", "expected"),
    [
        (0.3, 0.3, 0.2, [(0.2, 0.0), (0.2, 0.2), (0.3, 0.3)]),
        (0.2, 0.2, 0.2, [(0.2, 0.0), (0.2, 0.2)]),
        (0.3, 0.0, 0.2, [(0.2, 0.0), (0.3, 0.0)]),
        (0.15, 0.0, 0.2, [(0.15, 0.0)]),
        (0.0, 0.3, 0.2, [(0.0, 0.2), (0.0, 0.3)]),
        (0.1, 0.3, 0.2, [(0.0, 0.2), (0.1, 0.2), (0.1, 0.3)]),
        (0.5, 0.3, 0.6, [(0.5, 0.0), (0.5, 0.3)]),
    ],
)
def test_firings_of_known_builds(front, back, first, expected):
    states = firings(Build(front_m=Band.exact(front * 1e-3), back_m=Band.exact(back * 1e-3), first_m=first * 1e-3))
    found = [(round(s.front_m.value * 1e3, 9), round(s.back_m.value * 1e3, 9)) for s in states]
    assert found == expected


FACE = st.tuples(st.integers(0, 20), st.integers(0, 5), st.integers(0, 5)).map(
    lambda t: Band(t[0] * 5e-5, max(t[0] - t[1], 0) * 5e-5, (t[0] + t[2]) * 5e-5) if t[0] else Band(0.0, 0.0, 0.0)
)


@settings(max_examples=300)
@given(FACE, FACE, st.floats(1e-5, 2e-3))
def test_every_build_begins_on_one_face_grows_and_ends_whole(front, back, first):
    if front.value == back.value == 0:
        return
    states = firings(Build(front_m=front, back_m=back, first_m=first))
    assert 1 <= len(states) <= 3
    assert [s.finished for s in states] == [False] * (len(states) - 1) + [True]
    assert (states[-1].front_m, states[-1].back_m) == (front, back)
    assert min(states[0].front_m.value, states[0].back_m.value) == 0
    for before, after in pairwise(states):
        assert (before.front_m, before.back_m) != (after.front_m, after.back_m)
        assert before.front_m.value <= after.front_m.value
        assert before.back_m.value <= after.back_m.value
        assert max(before.front_m.high, before.back_m.high) <= max(first, 0)


@pytest.mark.parametrize(
    ("given_", "where"),
    [
        ({"metal_thickness_m": 0.0}, "metal"),
        ({"metal_thickness_m": -1e-3}, "metal"),
        ({"metal_thickness_m": 10.0}, "metal"),
        ({"metal_thickness_m": math.nan}, ""),
        ({"front_m": math.inf}, ""),
        ({"front_m": -1e-4}, "front"),
        ({"front_m": 0.0, "back_m": 0.0}, "either face"),
        ({"first_m": 0.0}, "first"),
        ({"first_m": math.nan}, "first"),
        ({"shape": "bowl"}, "shape"),
        ({"shape": "domed", "rise_m": 0.0}, "rise"),
        ({"kiln_c": math.nan}, "kiln"),
        ({"kiln_c": math.inf}, "kiln"),
        ({"kiln_c": 800.0, "kiln_offset_k": math.nan}, "kiln"),
        ({"kiln_c": -273.15}, "kiln"),
        ({"kiln_c": 20.0}, "kiln"),
        ({"kiln_c": 1500.0}, "kiln"),
        ({"kiln_offset_k": 900.0}, "kiln offset"),
        ({"shape": "domed", "rise_m": 90.0}, "rise"),
    ],
)
def test_a_build_that_cannot_be_is_refused_in_one_line(ref, given_, where):
    with pytest.raises(BadInput) as caught:
        suits(ref, CLEAR, COPPER, **given_)
    assert where in caught.value.line
    assert "\n" not in caught.value.line


@pytest.mark.parametrize(
    "bands",
    [
        {"front_m": Band(1e-4, 0.0, 2e-4), "back_m": 0.0},
        {"front_m": Band(1e-4, 0.0, 2e-4), "back_m": Band(1e-4, 0.0, 2e-4)},
        {"metal_thickness_m": Band(2e-3, 2.1e-5, 4e-3)},
    ],
)
def test_a_band_that_touches_nothing_still_gives_finite_numbers(ref, bands):
    verdict = suits(ref, CLEAR, COPPER, **bands)
    for stage in verdict.stages:
        for layer in stage.layers:
            assert all(map(math.isfinite, (layer.top_mpa.low, layer.mean_mpa.value, layer.bottom_mpa.high)))
    assert all(math.isfinite(r.found.low) for r in verdict.reasons if isinstance(r.found, Measure))


def test_unknown_keys_are_not_found(ref):
    for glass, metal in (("no-such-glass", COPPER), (CLEAR, "no-such-metal"), (COPPER, CLEAR), ("", COPPER)):
        with pytest.raises(NotFound):
            suits(ref, glass, metal)
