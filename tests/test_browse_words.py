"""Numbers and labels as the pages print them."""

from __future__ import annotations

import pytest

from refdb.browse.pages import printed as words
from refdb.judge.verdict import CARE, NOT, SUITS, UNSURE, Measure, Verdict


def verdict(outcome, shares, confidence):
    return Verdict(outcome, confidence, "", {}, (), {}, (), (), dict(zip((SUITS, CARE, NOT), shares, strict=True)))


@pytest.mark.parametrize(
    ("measure", "text"),
    [
        (Measure(-24.12, -59.6, 5.4, "MPa"), "−24\u00a0MPa (−60 to 5)"),
        (Measure(2407.5, 1739.1, 3340.0, "ppm"), "2,408\u00a0ppm (1,739 to 3,340)"),
        (Measure(0.8, 0.8, 0.8, "mm"), "0.80\u00a0mm"),
        (Measure(-0.001, -0.001, -0.001, "MPa"), "0\u00a0MPa"),
        (Measure(0.75, 0.75, 0.75, ""), "0.75"),
    ],
)
def test_a_measure_has_its_unit_and_its_range(measure, text):
    assert words.whole_text(measure) == text


@pytest.mark.parametrize(
    ("plain", "text"),
    [("1066", "1,066"), ("-12.5", "−12.5"), ("0.135", "0.135"), ("8940", "8,940"), ("1e-07", "1e−07"), ("960", "960")],
)
def test_numbers_are_set_with_true_minus_and_commas(plain, text):
    assert words.typeset(plain) == text


def test_units_stay_with_their_numbers():
    assert words.held("about 47 MPa, 0.3 mm and 20 °C") == "about 47\u00a0MPa, 0.3\u00a0mm and 20\u00a0°C"
    assert words.held("3 mmm, 5 Kiln") == "3 mmm, 5 Kiln"


def test_how_sure_and_how_the_rest_came_out():
    some = verdict(SUITS, (0.88, 0.12, 0.0), 0.88)
    assert words.how_sure(some) == "Sure in 9 of 10."
    assert words.how_the_rest(some) == (
        "In 88 of 100 draws from the bands of the inputs this was the outcome; suits with care in 12."
    )
    assert words.how_the_rest(verdict(NOT, (0, 0, 1.0), 1.0)) == (
        "Every draw from the bands of the inputs came out so."
    )
    assert words.how_sure(verdict(UNSURE, (0.3, 0.4, 0.3), 0.4)) == (
        "The likeliest outcome, suits with care, has 4 of 10."
    )


def test_where_it_holds_but_the_care_is_open_both_shares_are_told():
    some = verdict(CARE, (0.47, 0.45, 0.08), 0.92)
    assert words.how_sure(some) == "Sure in 9 of 10."
    assert words.how_the_rest(some) == (
        "In 92 of 100 draws from the bands of the inputs it holds, in 47 of them as plain suits; does not suit in 8."
    )
    assert words.how_the_rest(verdict(CARE, (0.08, 0.84, 0.08), 0.84)) == (
        "In 84 of 100 draws from the bands of the inputs this was the outcome; suits in 8 and does not suit in 8."
    )


def test_a_command_that_lists_becomes_a_page():
    assert words.on_a_page("see refdb piece new") == ("", ("/piece?example=moth", "a piece file that can be read"))
    assert words.on_a_page("give one of them") == ("Give one of them", None)


def test_a_span_of_temperature():
    assert words.temperature_span(20, 400) == "20–400\u00a0°C"
    assert words.temperature_span(None, 400) == ""
