"""Quantities as people type them, turned into SI floats (°C and minutes excepted), and printed again.

What is typed at the bench is read with plain arithmetic; pint is imported only for a unit not in the tables. The
functions are imported when they are first used, since records need only what a band is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from refdb.science.lazy import exported

if TYPE_CHECKING:
    from refdb.quantities.amounts import duration_min, fraction, fraction_band, mass_kg, power_w
    from refdb.quantities.band import Band
    from refdb.quantities.expansions import expansion_per_k
    from refdb.quantities.lengths import Thickness, area_m2, length_m, thickness
    from refdb.quantities.printed import ascii_fallback, fahrenheit, format_length_mm, format_number
    from refdb.quantities.temperatures import (
        span_c,
        temperature_band_c,
        temperature_c,
        temperature_difference_band_k,
        temperature_difference_k,
    )

__all__ = [
    "Band",
    "Thickness",
    "area_m2",
    "ascii_fallback",
    "duration_min",
    "expansion_per_k",
    "fahrenheit",
    "format_length_mm",
    "format_number",
    "fraction",
    "fraction_band",
    "length_m",
    "mass_kg",
    "power_w",
    "span_c",
    "temperature_band_c",
    "temperature_c",
    "temperature_difference_band_k",
    "temperature_difference_k",
    "thickness",
]

_HOMES = {
    "amounts": ("duration_min", "fraction", "fraction_band", "mass_kg", "power_w"),
    "band": ("Band",),
    "expansions": ("expansion_per_k",),
    "lengths": ("Thickness", "area_m2", "length_m", "thickness"),
    "printed": ("ascii_fallback", "fahrenheit", "format_length_mm", "format_number"),
    "temperatures": (
        "span_c",
        "temperature_band_c",
        "temperature_c",
        "temperature_difference_band_k",
        "temperature_difference_k",
    ),
}
__getattr__, __dir__ = exported(__name__, {name: home for home, names in _HOMES.items() for name in names})
