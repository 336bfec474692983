"""A question as typed, turned into records and a build."""

from __future__ import annotations

import pytest

from refdb.errors import BadInput
from refdb.judge.fit.build import Build
from refdb.judge.fit.glass_on_metal import judge_question, suits
from refdb.judge.fit.question import FIELDS, asked
from refdb.quantities import Band


@pytest.fixture
def ask(ref):
    def question(metal="copper-sheet", **texts):
        return asked(ref.glass("clear-hard-lead-free"), ref.metal(metal), texts, lambda name: f"<{name}>")

    return question


def test_nothing_typed_is_the_standard_build(ask):
    assert ask().build == Build()
    assert ask(front="", first="  ").build == Build()


def test_everything_typed_is_taken(ask):
    build = ask(
        metal_thickness="1.0-1.2 mm",
        front="0.4 mm",
        back="0 mm",
        first="0.1 mm",
        shape="Domed",
        rise="2 mm",
        kiln="1500 F",
        kiln_offset="-10 K",
    ).build
    assert (build.metal_m.low, build.metal_m.high) == pytest.approx((1.0e-3, 1.2e-3))
    assert build.front_m.value == pytest.approx(0.4e-3)
    assert build.back_m == Band(0, 0, 0)
    assert (build.first_m, build.shape) == (pytest.approx(0.1e-3), "domed")
    assert build.rise_m.value == pytest.approx(2e-3)
    assert (build.kiln_c, build.kiln_offset_k) == (pytest.approx(815.6, abs=0.05), Band.exact(-10.0))


def test_cards_of_clay_shrink_and_say_so(ask):
    clay, sheet = ask("copper-clay", metal_thickness="3 cards"), ask(metal_thickness="3 cards")
    assert clay.build.metal_m.value < sheet.build.metal_m.value
    assert "card" in clay.note


def test_an_own_figure_takes_the_place_of_the_class(ask):
    row = ask(expansion="124e-7/K", span="20-400 C").glass.value("expansion")
    assert row.value == pytest.approx(12.4)
    assert (row.temp_low_c, row.temp_high_c) == (20, 400)
    third = ask(expansion="372e-7/K", span="20-400 C", cubical="yes").glass.value("expansion")
    assert third.value == pytest.approx(12.4)


@pytest.mark.parametrize(
    ("texts", "where"),
    [
        ({"shape": "round"}, "<shape>"),
        ({"metal_thickness": "3 kg"}, "<metal_thickness>"),
        ({"front": "x"}, "<front>"),
        ({"front": "0 mm", "back": "0 mm"}, "<front> and <back>"),
        ({"rise": "2 mm"}, "<rise>"),
        ({"kiln": "815"}, "<kiln>"),
        ({"kiln_offset": "10"}, "<kiln_offset>"),
        ({"span": "20-400 C"}, "<span>"),
        ({"cubical": "yes"}, "<cubical>"),
        ({"expansion": "12.4 ppm/K"}, "<expansion>"),
        ({"expansion": "37 ppm/K", "span": "20-400 C"}, "<expansion>"),
        ({"expansion": "12 ppm/K", "span": "400-20 C"}, "<span>"),
        ({"first": "0 mm"}, "<first>"),
    ],
)
def test_what_cannot_be_is_refused_where_it_stands(ask, texts, where):
    with pytest.raises(BadInput) as caught:
        ask(**texts)
    assert where in caught.value.line
    assert caught.value.todo


def test_a_question_as_typed_is_that_of_a_program(ref, ask):
    verdict = judge_question(ref, ask(metal_thickness="1 mm"))
    assert verdict.question["metal_thickness_mm"]["value"] == 1.0
    assert verdict.as_dict() == suits(ref, "clear-hard-lead-free", "copper-sheet", metal_thickness_m=1e-3).as_dict()
    assert set(FIELDS) >= {"metal_thickness", "front", "back", "shape"}
