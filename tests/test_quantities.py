"""Quantities as people type them, read with plain arithmetic and compared with pint, and printed again."""

from __future__ import annotations

import dataclasses
import math
import re
import subprocess
import sys

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from refdb import quantities as q
from refdb.errors import BadInput
from refdb.quantities import Band
from refdb.quantities import any_unit as slow
from refdb.quantities import typed as grammar

UREG = pint.UnitRegistry()
READERS = (
    q.length_m,
    q.thickness,
    q.temperature_c,
    q.temperature_difference_k,
    q.expansion_per_k,
    q.span_c,
    q.fraction,
    q.fraction_band,
    q.mass_kg,
    q.duration_min,
)


def refused(reader, text, **named) -> str:
    """The one line with which `reader` refuses `text`."""
    with pytest.raises(BadInput) as caught:
        reader(text, **named)
    line = caught.value.line
    assert "\n" not in line
    assert line.isprintable()
    return line


# --- bands


def test_band_keeps_order_and_scales():
    band = Band(2, 1, 4)
    assert (type(band.value), band.is_exact, Band.exact(3.0).is_exact) == (float, False, True)
    assert band.scaled(-2.0) == Band(-4.0, -8.0, -2.0)
    with pytest.raises(dataclasses.FrozenInstanceError):
        band.value = 3.0


@pytest.mark.parametrize(
    "numbers", [(1, 2, 3), (3, 1, 2), (math.nan, 0, 1), (0, -math.inf, 1), ("x", 0, 1), (None, 0, 1), ("1e999", 0, 1)]
)
def test_band_out_of_order_or_not_finite_is_refused(numbers):
    assert "band" in refused(lambda text: Band(*text), numbers)


# --- temperatures


@pytest.mark.parametrize("scale", sorted(set(grammar.TEMPERATURE_SCALES)))
@pytest.mark.parametrize("number", [20.0, 815.0, 1500.5])
def test_every_name_of_a_degree_equals_pint(scale, number):
    letter = grammar.TEMPERATURE_SCALES[scale]
    unit, difference = {"C": ("degC", "delta_degC"), "F": ("degF", "delta_degF"), "K": ("kelvin", "kelvin")}[letter]
    expected_c = UREG.Quantity(number, unit).to("degC").magnitude
    assert q.temperature_c(f"{number} {scale}") == pytest.approx(expected_c, abs=1e-9)
    expected_k = UREG.Quantity(number, difference).to("kelvin").magnitude
    assert q.temperature_difference_k(f"{number}{scale}") == pytest.approx(expected_k, rel=1e-12)


def test_temperatures_as_typed():
    for text in ("1500F", "1500 °F", "1500 degF", "1500 deg F", "1500℉", "1500 f", "1500 degrees Fahrenheit"):
        assert q.temperature_c(text) == pytest.approx(815.5556, abs=5e-5)
    for text in ("815 C", "815C", "815 °C", "815ºC", "815 degC", "815℃", "1088.15 K", "1088.15\u212a"):
        assert q.temperature_c(text) == pytest.approx(815.0, abs=1e-9)
    assert q.temperature_c("−20 °C") == -20.0
    assert q.temperature_c("-459.67 F") == pytest.approx(-273.15)
    assert [q.temperature_difference_k(text) for text in ("30 K", "30C", "54F", "-10 °C")] == [30.0, 30.0, 30.0, -10.0]


@pytest.mark.parametrize(
    "text",
    [
        "815",
        "815°",
        "815 deg",
        "-1 K",
        "-274 C",
        "-460 F",
        "6001 C",
        "815 R",
        "815 mm",
        "760-815 C",
        "1,500 F",
        "815 C F",
        "C",
    ],
)
def test_temperatures_refused(text):
    assert re.search("815 C|1500 F", refused(q.temperature_c, text))


@pytest.mark.parametrize("text", ["30", "20-30 K", "7000 K", "30 mm", "1e999 K"])
def test_temperature_differences_refused(text):
    refused(q.temperature_difference_k, text)


@pytest.mark.parametrize(
    "text",
    [
        "20-400C",
        "20-400 °C",
        "20–400 °C",
        "20 to 400 C",
        "20..400 C",
        "68-752F",
        "68F-752F",
        "20 °C to 400 °C",
        "20 C - 752 F",
        "293.15-673.15 K",
    ],
)
def test_spans_as_typed(text):
    assert q.span_c(text) == pytest.approx((20.0, 400.0))


def test_spans_may_start_below_zero():
    assert q.span_c("-20-400 C") == (-20.0, 400.0)
    assert q.span_c("-40 - -20 C") == (-40.0, -20.0)


@pytest.mark.parametrize("text", ["400-20 C", "20-20 C", "20-400", "400 C", "20 ± 5 C", "-300-20 C", "20-9000 C", "x"])
def test_spans_refused(text):
    refused(q.span_c, text)


# --- expansion


@pytest.mark.parametrize(
    "text",
    [
        "12.5 ppm/K",
        "125e-7/K",
        "12.5e-6/K",
        "12.5e-6 /°C",
        "12.5e-6/C",
        "12.5 µm/(m·K)",
        "12.5 um/m/K",
        "12.5 µm/m·K",
        "125 x 10^-7 /K",
        "125×10⁻⁷ K⁻¹",
        "125 x 10-7 K-1",
        "125·10⁻⁷ 1/K",
        "12.5 ppm K^-1",
        "12.5 ppm per °C",
        "12.5 µm m⁻¹ K⁻¹",
        "12.5 ppm/°C",
        "0.0125 mm/m/K",
        "12.5e-6 m/m/K",
        "12.5e-6 mm/(mm*K)",
        "12.5 ppm/degC",
    ],
)
def test_expansions_as_typed(text):
    assert q.expansion_per_k(text).value == pytest.approx(12.5e-6, rel=1e-12)
    assert q.expansion_per_k(text).is_exact


def test_expansion_does_not_depend_on_how_it_is_written():
    ways = ("12.5 ppm/K", "125e-7/K", "125×10⁻⁷ K⁻¹", "12.5 µm/m/K", "0.00125e-2 1/°C")
    assert len({q.expansion_per_k(text) for text in ways}) == 1


@pytest.mark.parametrize("text", ["6.9e-6/°F", "6.9 ppm/F", "6.9 ppm/degF", "6.9e-6 in/in/°F", "6.9 uin/in/degF"])
def test_expansion_per_fahrenheit_equals_pint(text):
    expected = UREG.Quantity(6.9, "ppm/delta_degF").to("1/kelvin").magnitude
    assert q.expansion_per_k(text).value == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("12-13 ppm/K", 12, 13),
        ("12 to 13 ppm/K", 12, 13),
        ("12 ppm/K - 13 ppm/K", 12, 13),
        ("12e-6-13e-6 /K", 12, 13),
        ("120-130e-7/K", 12, 13),
        ("120-130 x 10^-7 /K", 12, 13),
        ("(120–130)×10⁻⁷/K", 12, 13),
        ("12.5 ± 0.5 ppm/K", 12, 13),
        ("(125 ± 5) x 10^-7 K^-1", 12, 13),
        ("(125±5)e-7/K", 12, 13),
        ("12.5 ppm/K ± 4 %", 12, 13),
    ],
)
def test_expansion_ranges(text, low, high):
    band = q.expansion_per_k(text)
    assert (band.low, band.value, band.high) == pytest.approx((low * 1e-6, 12.5e-6, high * 1e-6), rel=1e-9)


def test_cubical_expansion_is_a_third_and_its_size_is_hinted():
    assert q.expansion_per_k("375e-7/K", cubical=True).value == pytest.approx(12.5e-6)
    assert "--cubical" in refused(q.expansion_per_k, "375e-7/K")
    assert "--cubical" in refused(q.expansion_per_k, "29-31 ppm/K")
    assert "--cubical" not in refused(q.expansion_per_k, "120 ppm/K", cubical=True)
    assert q.expansion_per_k("30 ppm/K").value == pytest.approx(30e-6)


@pytest.mark.parametrize(
    "text",
    [
        "12.5",
        "125",
        "12.5 ppm",
        "12.5 ppm K",
        "0.09 ppm/K",
        "-12 ppm/K",
        "0 /K",
        "12.5 /K",
        "12.5e-6/s",
        "13-12 ppm/K",
        "12.5 um/m",
        "12.5e-6/K/K",
        "5±6 ppm/K",
    ],
)
def test_expansions_refused(text):
    refused(q.expansion_per_k, text)


# --- fractions, masses, durations


def test_fractions_as_typed():
    assert [q.fraction(text) for text in ("12 %", "12%", "12 percent", "12 per cent", "0 %", "100 %")] == [
        0.12,
        0.12,
        0.12,
        0.12,
        0.0,
        1.0,
    ]
    band = q.fraction_band("10-15 %")
    assert (band.value, band.low, band.high) == pytest.approx((0.125, 0.10, 0.15))
    for text in ("0.12", "12", "101 %", "-1 %", "10-15 %", "12 mm", "95-105 %"):
        refused(q.fraction, text)
    refused(q.fraction_band, "1 ± 2 %")


def test_durations_as_typed():
    typed = ("3 min", "90 s", "3h", "2.5min", "1 h 30 min", "1h30m", "2m30s", "1 h 30 s", "1 week")
    assert [q.duration_min(text) for text in typed] == [3.0, 1.5, 180.0, 2.5, 90.0, 90.0, 2.5, 60.5, 10080.0]
    assert q.duration_min("0 min", zero_ok=True) == 0.0
    for text in ("3", "0 min", "-3 min", "2:30", "2-3 min", "30 min 1 h", "1 h -30 min", "1h30", "1 h 1 h", "3 mm"):
        refused(q.duration_min, text)


def test_masses_refused():
    for text in ("12", "0 g", "-1 g", "3 gr", "3 mm", "1-2 g", "1e308 kg kg", "1e-400 g"):
        refused(q.mass_kg, text)


# --- the plain path against pint

SPELLED = {
    "in.": "inch",
    '"': "inch",
    "thous": "thou",
    "thousandth": "thou",
    "thousandths": "thou",
    "kilo": "kg",
    "kilos": "kg",
    "gramme": "gram",
    "grammes": "gram",
    "ozt": "troy_ounce",
    "troy oz": "troy_ounce",
    "oz troy": "troy_ounce",
    "troy ounce": "troy_ounce",
    "troy ounces": "troy_ounce",
    "lbs": "lb",
    "ct": "carat",
    "h": "hour",
    "hr": "hour",
    "hrs": "hour",
    "m": "metre",
    "mins": "minute",
    "s": "second",
    "sec": "second",
    "secs": "second",
    "d": "day",
    "pct": "percent",
    "per cent": "percent",
    "%": "percent",
}
TABLES = [
    (q.length_m, grammar.LENGTHS_M, "metre"),
    (q.mass_kg, grammar.MASSES_KG, "kg"),
    (q.duration_min, grammar.DURATIONS_MIN, "minute"),
    (q.fraction, grammar.FRACTIONS, "dimensionless"),
]


@pytest.mark.parametrize(
    ("reader", "unit", "target"), [(reader, unit, target) for reader, table, target in TABLES for unit in table]
)
def test_every_everyday_unit_equals_pint(reader, unit, target):
    spelled = SPELLED.get(unit, unit)
    if (unit, target) == ("m", "minute"):
        spelled = "minute"
    per = 1e-3 if unit == "permille" else UREG.Quantity(1.0, spelled).to(target).magnitude
    assert reader(f"0.37 {unit}") == pytest.approx(0.37 * per, rel=1e-12)


@given(st.floats(1e-3, 40.0), st.sampled_from([unit for unit in grammar.LENGTHS_M if grammar.LENGTHS_M[unit] < 0.03]))
def test_the_unit_chosen_never_changes_the_length(size_mm, unit):
    assert q.length_m(f"{size_mm / 1e3 / grammar.LENGTHS_M[unit]!r} {unit}") == pytest.approx(size_mm / 1e3, rel=1e-12)


@given(st.floats(-250.0, 3000.0))
def test_the_scale_chosen_never_changes_the_temperature(temp_c):
    assert q.temperature_c(f"{temp_c * 1.8 + 32.0!r} F") == pytest.approx(temp_c, abs=1e-9)
    assert q.temperature_c(f"{temp_c + 273.15!r} K") == pytest.approx(temp_c, abs=1e-9)


def test_pint_converts_the_rest_and_refuses_what_does_not_fit():
    assert slow.converted(70.0, "GPa", "Pa") == pytest.approx(70e9)
    assert slow.factor("BTU/(lb*degF)", "J/(kg*K)") == pytest.approx(4186.8, abs=0.05)
    assert slow.factor("g/cm^3", "kg/m^3") == pytest.approx(1000.0)
    for unit in (
        "degC",
        "degF",
        "K",
        "",
        "furlong/",
        "(m",
        "m)",
        "2 m",
        "__import__",
        "a" * 100,
        "m**9**9**9",
        "9**9**9",
    ):
        with pytest.raises(BadInput):
            slow.factor(unit, "m")
    for unit in ("degC", "degF"):
        with pytest.raises(BadInput):
            slow.factor(unit, "K")


def test_everyday_text_does_not_import_pint_or_numpy():
    program = (
        "import sys\n"
        "from refdb import quantities as q\n"
        "q.length_m('0.8 mm'); q.length_m('20 ga'); q.thickness('3 cards'); q.temperature_c('1500 F')\n"
        "q.temperature_difference_k('54F'); q.expansion_per_k('125×10⁻⁷ K⁻¹'); q.span_c('20-400 C')\n"
        "q.fraction('12 %'); q.mass_kg('12 g'); q.duration_min('1 h 30 min'); q.fahrenheit(815.0)\n"
        "print(sorted({'pint', 'numpy', 'rich', 'sqlite_utils'} & set(sys.modules)))\n"
        "q.length_m('0.01 ft')\n"
        "print('pint' in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-X", "utf8", "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.split("\n")[:2] == ["[]", "True"]


# --- junk

PIECES = st.sampled_from(
    [
        "1",
        "0.8",
        ".5",
        "-",
        "±",
        "to",
        "..",
        "e-7",
        "e999",
        "x 10^-7",
        "10^9",
        "/",
        "/K",
        "1/",
        "K^-1",
        "K⁻¹",
        "mm",
        "in",
        '"',
        "ga",
        "swg",
        "cards",
        "ppm",
        "%",
        "(",
        ")",
        "m",
        "h",
        "min",
        "°",
        "C",
        "F",
        " ",
        "*",
        "**",
        "^",
        "9" * 40,
        "nan",
        "inf",
        "_",
        "furlong",
        "delta_degC",
        "degF",
        "\x00",
        "\ud800",
        "\u202e",
        "µ",
        "٣",
        ",",
        ":",
        "0",
    ]
)


@settings(deadline=None, max_examples=300)
@given(st.one_of(st.text(max_size=230), st.lists(PIECES, max_size=10).map("".join)), st.sampled_from(READERS))
def test_junk_is_read_or_refused_in_one_line(text, reader):
    problem = None
    try:
        found = reader(text)
    except BadInput as refusal:
        problem = refusal
    if problem is not None:
        assert problem.line.isprintable()
        assert len(problem.line) < 400
    else:
        found = found.band if isinstance(found, q.Thickness) else found
        numbers = (found.value, found.low, found.high) if isinstance(found, Band) else found
        assert all(math.isfinite(number) for number in (numbers if isinstance(numbers, tuple) else (numbers,)))
