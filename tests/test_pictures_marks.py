"""The marks and strokes."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from refdb.judge.verdict import CARE, NOT, SUITS, UNSURE
from refdb.pictures import marks


def test_each_outcome_of_a_verdict_has_a_mark_of_its_own_shape():
    page = ET.fromstring(marks.marks_once())
    shapes = {s.get("id"): ET.tostring(s).partition(b">")[2] for s in page.iter("symbol")}
    used = {re.search("#([a-z-]+)", marks.mark(outcome))[1] for outcome in (SUITS, CARE, NOT, UNSURE)}
    assert used == set(shapes)
    assert len(set(shapes.values())) == 4


def test_a_mark_is_silent_and_its_word_stands_beside_it():
    told = ET.fromstring(marks.says(CARE))
    assert told.find("svg").get("aria-hidden") == "true"
    assert "".join(told.itertext()) == "suits with care"
    assert "".join(ET.fromstring(marks.says(NOT, "<b>")).itertext()) == "<b>"


def test_a_word_that_is_no_outcome_has_no_mark():
    with pytest.raises(KeyError):
        marks.mark("perhaps")


@pytest.mark.parametrize(
    ("share", "solid"), [(0.0, 0), (0.04, 0), (0.05, 1), (0.5, 5), (0.94, 9), (0.949, 9), (0.95, 10), (1.0, 10)]
)
def test_ten_strokes_of_which_the_sure_ones_are_solid(share, solid):
    drawn = ET.fromstring(marks.strokes(share))
    kinds = [path.get("class") for path in drawn]
    assert kinds == ["on"] * solid + ["off"] * (10 - solid)


def test_strokes_and_the_words_of_the_command_line_agree():
    from refdb.records.printed import sure
    from refdb.words import tenths

    for n in range(1001):
        assert sure(n / 1000) == f"{tenths(n / 1000)} of 10"


def test_the_icon_stands_alone():
    assert ET.fromstring(marks.icon()).tag == "{http://www.w3.org/2000/svg}svg"
