"""How many pieces fit a container: against small cases whose best is known, and against what must always hold."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refdb.errors import BadInput
from refdb.plan.packing import Container, container_of, packed


def layer(wide: int, deep: int, width: int, height: int) -> int:
    """Pieces of one layer without gaps, sizes in mm."""
    box = Container(wide * 1e-3, deep * 1e-3, 0.1)
    return packed(width * 1e-3, height * 1e-3, 1e-3, 1, box, spacing_m=0.0, carbon_m=0.0).per_layer


@pytest.mark.parametrize(
    ("box", "size", "best"),
    [
        ((10, 10), (10, 10), 1),
        ((10, 10), (5, 5), 4),
        ((12, 4), (3, 4), 4),
        ((5, 5), (3, 2), 4),  # a pinwheel: either orientation alone holds two
        ((9, 7), (3, 2), 10),
        ((7, 6), (4, 3), 3),
        ((13, 11), (4, 3), 11),
        ((14, 10), (3, 2), 23),
        ((400, 300), (25, 20), 240),
    ],
)
def test_known_best_layers(box, size, best):
    """The best is certain: no layer can hold more than its area divided by that of a piece."""
    assert best == box[0] * box[1] // (size[0] * size[1])
    assert layer(*box, *size) == best
    assert layer(*box[::-1], *size) == best
    assert layer(*box, *size[::-1]) == best


def test_gaps_and_layers_by_hand():
    """By hand: 30 × 20 mm, 13 mm apart and to the wall, in 142 × 79 mm: 3 × 2, for 13 + 3·43 = 142, 13 + 2·33 = 79.

    Height 105 mm: 25 + 2 mm + 25 + 2 + 25 + 2 = 81 is three pieces' worth and 25 above them makes 106, so two layers;
    106 mm holds three.
    """
    found = packed(0.03, 0.02, 2e-3, 13, Container(0.142, 0.079, 0.105), spacing_m=0.013, carbon_m=0.025)
    assert (found.per_layer, found.layers, found.per_batch, found.batches) == (6, 2, 12, 2)
    taller = packed(0.03, 0.02, 2e-3, 13, Container(0.142, 0.079, 0.106), spacing_m=0.013, carbon_m=0.025)
    assert (taller.layers, taller.batches, taller.layers_used) == (3, 1, 3)
    narrower = packed(0.03, 0.02, 2e-3, 13, Container(0.1419, 0.079, 0.105), spacing_m=0.013, carbon_m=0.025)
    assert narrower.per_layer < 6


sizes = st.integers(min_value=3, max_value=60)


@settings(max_examples=40, deadline=None)
@given(wide=st.integers(60, 220), deep=st.integers(60, 220), width=sizes, height=sizes, gap=st.integers(0, 15))
def test_no_piece_touches_another_or_the_wall(wide, deep, width, height, gap):
    box = Container(wide * 1e-3, deep * 1e-3, 0.1)
    try:
        found = packed(width * 1e-3, height * 1e-3, 1e-3, 5, box, spacing_m=gap * 1e-3, carbon_m=0.01)
    except BadInput:
        assert width + 2 * gap > min(wide, deep) or height + 2 * gap > min(wide, deep)
        return
    slack, gap_m = 1e-9, gap * 1e-3
    places = found.places
    for p in places:
        assert p.x_m >= gap_m - slack
        assert p.y_m >= gap_m - slack
        assert p.x_m + p.width_m + gap_m <= box.width_m + slack
        assert p.y_m + p.height_m + gap_m <= box.depth_m + slack
        assert sorted((p.width_m, p.height_m)) == pytest.approx(sorted((width * 1e-3, height * 1e-3)))
    for n, a in enumerate(places):
        for b in places[n + 1 :]:
            apart_x = max(a.x_m, b.x_m) - min(a.x_m + a.width_m, b.x_m + b.width_m)
            apart_y = max(a.y_m, b.y_m) - min(a.y_m + a.height_m, b.y_m + b.height_m)
            assert max(apart_x, apart_y) >= gap_m - slack
    plain = max((wide - gap) // (w + gap) * ((deep - gap) // (h + gap)) for w, h in ((width, height), (height, width)))
    most = (wide - gap) * (deep - gap) // ((width + gap) * (height + gap))
    assert plain <= found.per_layer <= most


@given(st.integers(1, 500))
def test_batches_hold_the_whole_quantity(quantity):
    found = packed(0.03, 0.02, 2e-3, quantity, Container(0.142, 0.079, 0.105), spacing_m=0.013, carbon_m=0.025)
    assert found.batches == math.ceil(quantity / 12)
    assert found.layers_used == (1 if quantity <= 6 else 2)
    assert str(found.per_layer) in found.words


@pytest.mark.parametrize(
    "box",
    [Container(0.05, 0.2, 0.1), Container(0.2, 0.05, 0.1), Container(0.2, 0.2, 0.051), Container(0.01, 0.01, 0.01)],
)
def test_a_piece_larger_than_the_container(box):
    with pytest.raises(BadInput) as caught:
        packed(0.03, 0.035, 2e-3, 1, box, spacing_m=0.013, carbon_m=0.025)
    line = caught.value.line
    assert "30 x 35 x 2 mm" in line
    assert "does not fit" in line
    assert "\n" not in line


@pytest.mark.parametrize(
    "text",
    ["200x150x80 mm", "200 x 150 x 80 mm", "20 x 15 x 8 cm", "200mm×150mm×80mm", "200 by 150 by 80 mm",
     "20 cm x 150 mm x 0.08 m", "200X150X80mm", "200*150*80 mm"],
)
def test_containers_as_typed(text):
    box = container_of(text)
    assert (box.width_m, box.depth_m, box.height_m) == pytest.approx((0.2, 0.15, 0.08))


@pytest.mark.parametrize(
    "text",
    ["", "200", "200x150", "200x150x80", "200x150x80x10 mm", "ax bx c", "200 x 150 x -80 mm", "0x150x80 mm",
     "200x150x80 kg", "200x150x80 m", "nan x 150 x 80 mm", "x" * 10_000, "200 x x 80 mm", "\x1b[2J"],
)
def test_containers_that_cannot_be(text):
    with pytest.raises(BadInput) as caught:
        container_of(text)
    assert "--container" in caught.value.line
    assert "\n" not in caught.value.line
    assert len(caught.value.line) < 300
