"""How figures in the units of the workshop's columns are read from text: one function for a number, one for a range."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from refdb import quantities
from refdb.errors import BadInput
from refdb.quantities.band import Band


class UnitReader(NamedTuple):
    """Readers of one unit; both take the text and where it was typed, and raise BadInput.

    `number` gives one figure, `band` a figure with low and high, both in the unit of the column.
    """

    number: Callable[[str, str], float]
    band: Callable[[str, str], Band]


def _one_expansion(text: str, where: str) -> float:
    band = quantities.expansion_per_k(text, where=where)
    if not band.is_exact:
        raise BadInput("a range in one cell", where, "give the ends in the columns for low and high")
    return band.value * 1e6


def _lengths(per_metre: float) -> UnitReader:
    return UnitReader(
        lambda text, where: quantities.length_m(text, where=where) * per_metre,
        lambda text, where: quantities.thickness(text, where=where).band.scaled(per_metre),
    )


def _single(number: Callable[[str, str], float]) -> UnitReader:
    return UnitReader(number, lambda text, where: Band.exact(number(text, where)))


MEASURES = {
    "°C": UnitReader(
        lambda text, where: quantities.temperature_c(text, where=where),
        lambda text, where: quantities.temperature_band_c(text, where=where),
    ),
    "ppm/K": UnitReader(_one_expansion, lambda text, where: quantities.expansion_per_k(text, where=where).scaled(1e6)),
    "mm": _lengths(1e3),
    "µm": _lengths(1e6),
    "percent": UnitReader(
        lambda text, where: quantities.fraction(text, where=where) * 100,
        lambda text, where: quantities.fraction_band(text, where=where).scaled(100),
    ),
    "min": _single(lambda text, where: quantities.duration_min(text, where=where)),
    "g": _single(lambda text, where: quantities.mass_kg(text, where=where) * 1e3),
}
