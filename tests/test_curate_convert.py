"""Units of the sources into the store's own."""

from __future__ import annotations

import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from refdb.curate.convert import conversion
from refdb.errors import BadSource

ORACLE = pint.UnitRegistry()


@pytest.mark.parametrize(
    ("value", "unit", "canonical", "expected"),
    [
        (9.6, "1e-6/delta_degF", "ppm/K", 17.28),
        (9.6, "1e-6/degF", "ppm/K", 17.28),
        (9.6, "ppm/delta_degF", "ppm/K", 17.28),
        (125.0, "1e-7/K", "ppm/K", 12.5),
        (1.7e-5, "1/K", "ppm/K", 17.0),
        (17.0, "um/m/K", "ppm/K", 17.0),
        (17.0, "um/(m*K)", "ppm/K", 17.0),
        (16.6, "ppm/K", "ppm/K", 16.6),
        (1500.0, "degF", "degC", 7340 / 9),
        (-40.0, "degF", "degC", -40.0),
        (0.0, "K", "degC", -273.15),
        (1084.62, "degC", "degC", 1084.62),
        (117.0, "GPa", "Pa", 117e9),
        (0.28, "mm", "m", 0.00028),
        (0.1, "um", "m", 1e-7),
        (0.03, "in", "mm", 0.762),
        (30.0, "thou", "m", 0.000762),
        (8.96, "g/cm**3", "kg/m**3", 8960.0),
        (3.1, "mg/cm**2", "kg/m**2", 0.031),
        (12.0, "percent", "1", 0.12),
        (0.12, "1", "percent", 12.0),
    ],
)
def test_a_figure_becomes_the_nearest_double(value: float, unit: str, canonical: str, expected: float) -> None:
    """By the definitions of the units (inch 25.4 mm, degF 5/9 K from 32), to the last bit."""
    assert conversion(unit, canonical)(value) == expected


@pytest.mark.parametrize(
    ("unit", "canonical", "hint"),
    [
        ("C", "degC", "write degC"),
        ("F", "degC", "write degF"),
        ("mil", "m", "write thou"),
        ("ppm/k", "ppm/K", "write K"),
        ("GPa", "ppm/K", "same kind as ppm/K"),
        ("delta_degC", "degC", "same kind as degC"),
        ("delta_degF", "degC", "same kind as degC"),
        ("degC", "delta_degC", "same kind as delta_degC"),
        ("delta_degC", "K", "same kind as K"),
        ("mpa", "Pa", "GPa"),
        ("furlongs per", "m", "write it as in"),
        ("", "1", "write it as in"),
        ("9**9**9**9", "m", "write it as in"),
        ("m**99999999", "m", "write it as in"),
        ("__import__('os')", "m", "write it as in"),
        ("m" * 61, "m", "write it as in"),
        ("0/K", "ppm/K", "write it as in"),
        ("(" * 30, "m", "write it as in"),
    ],
)
def test_a_unit_of_another_kind_or_none_is_refused(unit: str, canonical: str, hint: str) -> None:
    with pytest.raises(BadSource) as caught:
        conversion(unit, canonical)
    assert hint in caught.value.line
    assert len(caught.value.line) < 300


@given(
    st.floats(-1e6, 1e6),
    st.sampled_from(
        [
            ("ksi", "Pa"),
            ("inch", "m"),
            ("degF", "degC"),
            ("degC", "degF"),
            ("ppm/delta_degF", "ppm/K"),
            ("lb/ft**3", "kg/m**3"),
            ("percent", "1"),
            ("oz/ft**2", "kg/m**2"),
        ]
    ),
)
def test_agrees_with_pint_in_floats(value: float, units: tuple[str, str]) -> None:
    """Against pint's own float arithmetic, whose rounding is a few units in the last place."""
    expected = ORACLE.Quantity(value, units[0]).to(units[1]).magnitude
    assert math.isclose(conversion(*units)(value), expected, rel_tol=1e-12, abs_tol=1e-12)


@given(st.text(max_size=70))
def test_junk_is_refused_or_converted_and_never_else(text: str) -> None:
    try:
        found = conversion(text, "m")(1.0)
    except BadSource:
        return
    assert math.isfinite(found)
