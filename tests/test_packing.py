"""How many pieces fit a container: against small cases whose best is known, and against what must always hold."""

from __future__ import annotations

import functools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refdb.errors import BadInput
from refdb.plan.packing import Container, container_of, layout, most_certain, packed


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


#: Container, piece, and the most it can hold, by publication or by the bound and a layout that reaches it.
PUBLISHED = [
    ((49, 28), (8, 3), 57),
    ((43, 26), (7, 3), 53),
    ((42, 39), (9, 4), 45),
    ((40, 25), (7, 3), 47),
    ((52, 33), (9, 4), 47),
    ((56, 52), (12, 5), 48),
    ((86, 82), (15, 11), 42),
    ((22, 16), (5, 3), 23),
    ((57, 34), (7, 4), 69),
    ((74, 46), (7, 5), 97),
    ((86, 52), (9, 5), 99),
    ((141, 71), (13, 8), 96),
]


@pytest.mark.parametrize(("box", "size", "bound"), PUBLISHED)
def test_hard_cases_of_the_literature(box, size, bound):
    """Identical rectangles: nothing exceeds the bound, and a general packer comes within a twentieth of it.

    Birgin, Lobato and Morabito (J. Oper. Res. Soc. 61 (2010) 306): (49, 28, 8, 3) holds 57.
    """
    assert most_certain(*box, *size) == bound
    placed = layout(*box, *size)
    assert 0.95 * bound <= len(placed) <= bound
    assert_sound(placed, box, size)


def assert_sound(placed, box, size):
    for n, (x, y, w, h) in enumerate(placed):
        assert min(x, y) >= 0
        assert x + w <= box[0]
        assert y + h <= box[1]
        assert sorted((w, h)) == sorted(size)
        for a, b, c, d in placed[n + 1 :]:
            assert x + w <= a or a + c <= x or y + h <= b or b + d <= y


def best_by_trying(across: int, along: int, wide: int, high: int) -> int:
    """The most pieces of a small rectangle, by filling its first free cell in every way or leaving it."""
    shapes = {(wide, high), (high, wide)}

    @functools.cache
    def filled(taken: tuple[int, ...], row: int) -> int:
        # Rows fill from below; `taken` counts the rows still covered in each column.
        if row == along:
            return 0
        free = next((c for c, t in enumerate(taken) if t == 0), None)
        if free is None:
            down = min(taken)
            return filled(tuple(t - down for t in taken), row + down) if row + down <= along else 0
        best = filled((*taken[:free], 1, *taken[free + 1 :]), row)
        for w, h in shapes:
            if free + w <= across and row + h <= along and not any(taken[free : free + w]):
                best = max(best, 1 + filled((*taken[:free], *(h,) * w, *taken[free + w :]), row))
        return best

    return filled((0,) * across, 0)


@settings(max_examples=40, deadline=None)
@given(st.integers(2, 8), st.integers(2, 8), st.integers(1, 5), st.integers(1, 5))
def test_small_rectangles_against_every_way_of_filling_them(across, along, wide, high):
    """At most one short of the best, and the bound never below it."""
    best = best_by_trying(across, along, wide, high)
    placed = layout(across, along, wide, high)
    assert_sound(placed, (across, along), (wide, high))
    assert best - 1 <= len(placed) <= best <= most_certain(across, along, wide, high)


def test_it_is_said_when_more_cannot_fit():
    sure = packed(0.03, 0.02, 2e-3, 1, Container(0.142, 0.079, 0.105), spacing_m=0.013, carbon_m=0.025)
    assert sure.is_most
    assert "6 to a layer, more cannot fit" in sure.words
    assert sure.as_dict()["per_layer_at_most"] == 6
    open_ = packed(0.008, 0.003, 2e-3, 1, Container(0.049, 0.028, 0.01), spacing_m=0.0, carbon_m=0.0)
    assert not open_.is_most
    assert "56 to a layer, 57 at the very most" in open_.words


def test_thousands_of_pieces_are_laid_at_once():
    placed = layout(2000, 1999, 33, 28)
    assert len(placed) > 0.99 * most_certain(2000, 1999, 33, 28)
    assert max(x + w for x, _, w, _ in placed) <= 2000
    assert max(y + h for _, y, _, h in placed) <= 1999


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
    [
        "200x150x80 mm",
        "200 x 150 x 80 mm",
        "20 x 15 x 8 cm",
        "200mm×150mm×80mm",
        "200 by 150 by 80 mm",
        "20 cm x 150 mm x 0.08 m",
        "200X150X80mm",
        "200*150*80 mm",
    ],
)
def test_containers_as_typed(text):
    box = container_of(text)
    assert (box.width_m, box.depth_m, box.height_m) == pytest.approx((0.2, 0.15, 0.08))


@pytest.mark.parametrize(
    "text",
    [
        "",
        "200",
        "200x150",
        "200x150x80",
        "200x150x80x10 mm",
        "ax bx c",
        "200 x 150 x -80 mm",
        "0x150x80 mm",
        "200x150x80 kg",
        "200x150x80 m",
        "nan x 150 x 80 mm",
        "x" * 10_000,
        "200 x x 80 mm",
        "\x1b[2J",
    ],
)
def test_containers_that_cannot_be(text):
    with pytest.raises(BadInput) as caught:
        container_of(text)
    assert "--container" in caught.value.line
    assert "\n" not in caught.value.line
    assert len(caught.value.line) < 300
