"""What a kiln gets done in a time: against counts by hand and bounds that hold for any packing."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refdb.errors import BadInput
from refdb.plan.allowances import Allowances
from refdb.plan.kiln_day import floor_of, kiln_day
from refdb.quantities import Band
from refdb.store.reference import Reference

BY_HAND = ("kiln", "12 pendants", "--size", "30x24 mm", "--floor", "120x100 mm")


@pytest.fixture(scope="module")
def allowed(store):
    with Reference(store) as ref:
        yield Allowances(ref)


def test_a_floor_and_a_day_by_hand(refdb):
    """By hand: (120 − 5) / (30 + 5) = 3.3 and (100 − 5) / (24 + 5) = 3.3, so 9 at once and 2 loads of 12. A load of
    2.5 min fires with 0.5 to 2 min of recovery; a round takes 6 to 9 min of fires, or one load's own 3 to 4.5 min with
    5 to 15 min to cool and 2 to 30 to dry: 10 to 49.5 min. Three rounds and 30 to 90 min of heating up: 60 to 238.5."""
    found = json.loads(refdb(*BY_HAND, "--minutes", "2.5", "--json").out)
    assert (found["per_load"], found["loads"], found["per_load_at_most"]) == (9, 2, 9)
    assert (found["one_fire_min"]["low"], found["one_fire_min"]["high"]) == (3.0, 4.5)
    assert (found["all_min"]["low"], found["all_min"]["high"]) == (60.0, 238.5)


@settings(max_examples=25, deadline=None)
@given(wide=st.integers(8, 60), high=st.integers(8, 60), across=st.integers(80, 300), along=st.integers(80, 300))
def test_no_floor_holds_more_than_its_area_nor_fewer_than_a_grid(allowed, wide, high, across, along):
    day = kiln_day(allowed, 100, (wide / 1e3, high / 1e3), (across / 1e3, along / 1e3), 3)
    grids = [((across - 5) // (a + 5)) * ((along - 5) // (b + 5)) for a, b in ((wide, high), (high, wide))]
    assert max(grids) <= day.per_load <= (across - 5) * (along - 5) / ((wide + 5) * (high + 5))
    assert (day.loads - 1) * day.per_load < 100 <= day.loads * day.per_load


@settings(max_examples=25, deadline=None)
@given(count=st.integers(1, 60), fires=st.integers(1, 8), time=st.floats(10, 600), more=st.floats(0, 200))
def test_more_time_never_finishes_fewer_and_more_fires_never_take_less(allowed, count, fires, time, more):
    def day(fires, time):
        return kiln_day(allowed, count, (0.03, 0.024), (0.12, 0.1), fires, minutes=Band(2.5, 2, 3), time_min=time)

    short, long, harder = day(fires, time), day(fires, time + more), day(fires + 1, time)
    assert all(a <= b for a, b in zip(short.done, long.done, strict=True))
    assert all(a >= b for a, b in zip(short.done, harder.done, strict=True))
    assert harder.all.low > short.all.low
    # Time enough at the slowest is time enough for all.
    assert day(fires, short.all.high).done == (count, count)


def test_page_fits_one_screen_and_says_that_time_may_not_do(refdb):
    out = refdb(*BY_HAND, "--time", "1 h 30 min").out
    assert "9 at once" in out
    assert "In 90 min: 0 to 12 of 12 finished." in " ".join(out.split())
    assert len(out.splitlines()) <= 24
    assert max(map(len, out.splitlines())) <= 80


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (("--floor", "20x20"), "does not fit"),
        (("--floor", "1x2x3x4"), "not one to three lengths"),
        (("--floor", "150 mm round"), "a round floor is not reckoned; give the largest square"),
        (("--floor", "9 m x 9 m"), "no floor of a small kiln"),
        (("--fires", "0"), "0 fires"),
        (("--time", "3"), None),
        (("--time", "soon"), "--time"),
        (("--minutes", "-1"), "--minutes"),
    ],
)
def test_what_cannot_be_is_one_line(refdb, more, says):
    ran = refdb(*BY_HAND, *more)
    if says is None:
        # A bare number is minutes.
        assert ran.status == 0
        assert "In 3 min: 0 of 12" in ran.out
        return
    assert (ran.status, ran.out) == (2, "")
    assert says in ran.err
    assert len(ran.err.splitlines()) == 1


@pytest.mark.parametrize("floor", ["150 mm", "150", "15 cm", "150 mm square", "150x150 mm"])
def test_one_length_is_the_side_of_a_square(refdb, floor):
    assert floor_of(floor) == pytest.approx((0.15, 0.15))
    out = refdb(*BY_HAND[:-1], floor).out
    assert " ".join(out.split()).startswith("12 at once on 150 x 150 mm (20 fit 5 mm apart")


@given(st.text(max_size=30))
def test_any_floor_is_read_or_refused(text):
    try:
        sizes = floor_of(text)
    except BadInput:
        return
    assert min(sizes) > 0
