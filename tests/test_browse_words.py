"""Numbers and labels as the pages print them."""

from __future__ import annotations

from dataclasses import replace

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


@pytest.mark.parametrize(
    ("outcome", "shares", "told"),
    [
        (SUITS, (0.88, 0.12, 0.0), "Holds in 10 of 10 draws, plainly in 9."),
        (CARE, (0.47, 0.45, 0.08), "Holds in 9 of 10 draws, plainly in 5."),
        (CARE, (0.0, 0.7, 0.3), "Holds in 7 of 10 draws, always with care."),
        (UNSURE, (0.6, 0.0, 0.4), "Holds in 6 of 10 draws."),
        (NOT, (0.0, 0.0, 1.0), "Holds in none of 10 draws."),
    ],
)
def test_in_how_many_draws_it_holds(outcome, shares, told):
    assert words.how_sure(verdict(outcome, shares, max(shares))) == told


def test_where_nothing_was_sampled_nothing_is_said_of_draws():
    assert words.how_sure(replace(verdict(UNSURE, (0.0, 0.0, 0.0), 0.0), shares={}, missing=("x",))) == ""


def test_what_to_do_is_told_as_a_page_would():
    assert words.on_a_page("see refdb piece new") == ("", ("/piece?example=moth", "a piece file that can be read"))
    assert words.on_a_page("give one of them") == ("Give one of them", None)


def test_a_span_of_temperature():
    assert words.temperature_span(20, 400) == "20–400\u00a0°C"
    assert words.temperature_span(None, 400) == ""
