"""Quantities printed for the bench and read back."""

from __future__ import annotations

import math
import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb import quantities as q
from refdb.words import lower_first, set_quotes, short_path, shortened, units_held, upper_first


@pytest.mark.parametrize(
    ("printed", "expected"),
    [
        (q.format_length_mm(0.65e-3, plain=True), "0.65 mm"),
        (q.format_length_mm(0.00081182, plain=True), "0.81 mm"),
        (q.format_length_mm(0.0254, plain=True), "25.4 mm"),
        (q.format_length_mm(0.03, plain=True), "30 mm"),
        (q.format_length_mm(65e-6, plain=True), "0.065 mm"),
        (q.format_length_mm(0.00015, plain=True), "0.15 mm"),
        (q.format_length_mm(1.2e-7, plain=True), "0.12 µm"),
        (q.format_length_mm(0.0), "0\u00a0mm"),
        (q.format_length_mm(-0.002), "\u22122.00\u00a0mm"),
        (q.format_length_mm(math.nan), "unknown"),
        (q.format_number(0.0), "0"),
        (q.format_number(1e20, plain=True), "1.00e20"),
        (q.format_number(-3.2e-7), "\u22123.20e\u22127"),
    ],
)
def test_printing(printed, expected):
    assert printed == expected


@given(st.floats(1e-8, 0.9))
def test_printed_lengths_are_read_back(length_m):
    for plain in (True, False):
        back = q.length_m(q.format_length_mm(length_m, plain=plain))
        assert back == pytest.approx(length_m, rel=0.0503)


@given(st.floats(-250.0, 3000.0))
def test_fahrenheit_is_read_back(temp_c):
    assert q.temperature_c(f"{q.fahrenheit(temp_c)!r} F") == pytest.approx(temp_c, abs=1e-9)


@given(st.text())
def test_ascii_fallback_is_ascii_and_leaves_ascii_alone(text):
    plain = q.ascii_fallback(text)
    assert plain.isascii()
    assert q.ascii_fallback(plain) == plain


def test_ascii_fallback_words():
    shown = "815\u00a0°C, 6.9×10⁻⁶/°F, 30 µm – 0.65 ± 0.05 mm², ≥ −5°"
    assert q.ascii_fallback(shown) == "815 degC, 6.9x10^-6/degF, 30 um - 0.65 +/- 0.05 mm2, >= -5 deg"


@given(st.text(max_size=200), st.integers(1, 100))
def test_a_shortened_text_fits_and_says_that_it_is_cut(text, most):
    short = shortened(text, most)
    assert len(short) <= most
    assert short == text if len(text) <= most else text.startswith(short[:-1]) and short.endswith("…")


@given(st.text(string.printable, min_size=1))
def test_only_the_first_letter_changes(text):
    small = lower_first(text)
    assert small in (text, text[0].lower() + text[1:])
    assert small != text or not text[0].isupper() or any(c.isdigit() or c.isupper() for c in text[1:])
    assert upper_first(small) == text[0].upper() + text[1:]


@pytest.mark.parametrize(
    ("escaped", "shown"),
    [
        ("<p>the maker&#39;s sheet, the makers&#x27; sheets</p>", "<p>the maker’s sheet, the makers’ sheets</p>"),
        ("<p>&quot;hard&quot; and (&#34;soft&#34;)</p>", "<p>“hard” and (“soft”)</p>"),
        ("<b>&#34;hard</b>&#34;", "<b>“hard</b>”"),
        ("<p>no glass is called &#39;moss&#39;</p>", "<p>no glass is called ‘moss’</p>"),
        ('<a title="maker&#39;s">it&#39;s</a>', '<a title="maker&#39;s">it’s</a>'),
        (
            "<textarea>jar&#39;s</textarea><code>&#34;a&#34;</code>",
            "<textarea>jar&#39;s</textarea><code>&#34;a&#34;</code>",
        ),
        ("<p>3&#34; and 2&#39; by &lt;b&gt;</p>", "<p>3&#34; and 2&#39; by &lt;b&gt;</p>"),
        ("", ""),
    ],
)
def test_a_page_is_set_with_typographic_marks_but_not_what_is_typed(escaped, shown):
    assert set_quotes(escaped) == shown


@pytest.mark.parametrize(
    ("text", "held"),
    [
        ("0.8 mm of copper", "0.8_mm of copper"),
        ("from 780 to 815 °C", "from 780 to 815_°C"),
        ("4 metres, 3 m³", "4 metres, 3 m³"),
        ("12 ppm/K and 12 ppm", "12_ppm/K and 12_ppm"),
        ("after 35 s, in 2 sorts", "after 35_s, in 2 sorts"),
        ("34 × 26 mm (step 15), 2 steps 3 times", "34_×_26_mm (step_15), 2 steps 3 times"),
    ],
)
def test_a_unit_stays_with_its_number(text, held):
    assert units_held(text, "_") == held


@given(st.text(max_size=200), st.integers(4, 120))
def test_a_short_path_fits_and_keeps_its_end(path, most):
    short = short_path(path, most)
    assert len(short) <= most
    assert path.endswith(short.removeprefix("...")) or short == path
    assert (short == path) == (len(path) <= most) or path.startswith("...")
