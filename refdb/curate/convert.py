"""Units of the sources into the store's own, by pint, exactly.

The registry counts in fractions, so 0.28 mm becomes the double nearest to 0.00028 and not a neighbour of it,
on every machine alike.
"""

from __future__ import annotations

import re
import sys
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from refdb.errors import BadSource

if TYPE_CHECKING:
    from pint import UnitRegistry

_NAME = r"[A-Za-zµμΩ°%_]+"
_TERM = rf"(?:1|{_NAME}(?:(?:\*\*|\^)-?[1-9]|⁻?[¹²³⁴])?)"
_JOIN = r"(?: ?[*/·] ?| )"
_GROUP = rf"(?:{_TERM}|\({_TERM}(?:{_JOIN}{_TERM})*\))"
#: What a unit may look like. Narrower than pint's own grammar, whose powers of powers would never end.
_UNIT = re.compile(rf"{_GROUP}(?:{_JOIN}{_GROUP})*")
_FACTOR = re.compile(r"([0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]{1,2})?)(?=[ */·])(?: ?[*·] ?| )?")
_LONGEST = 60
#: Letters that pint takes for something else than the person meant.
_HINTS = {
    "C": "pint reads C as coulomb; write degC",
    "F": "pint reads F as farad; write degF",
    "mil": "pint reads mil as an angle; write thou",
    "k": "pint reads k as a constant; write K",
}


_LARGEST = Fraction(sys.float_info.max)


@dataclass(frozen=True, slots=True)
class Affine:
    """A conversion: stored = printed × scale + offset."""

    scale: Fraction
    offset: Fraction

    def __call__(self, value: float) -> float:
        """Return the value in the stored unit, as the nearest double; bounds refuse what is beyond the largest."""
        if self.scale == 1 and not self.offset:
            return float(value)
        exact = Fraction(repr(value)) * self.scale + self.offset
        return float(max(-_LARGEST, min(exact, _LARGEST)))


@lru_cache(maxsize=1)
def _registry() -> UnitRegistry[Any]:
    import pint

    registry: UnitRegistry[Any] = pint.UnitRegistry(non_int_type=Fraction)
    registry.autoconvert_offset_to_baseunit = False
    return registry


@lru_cache(maxsize=4096)
def _parsed(text: str) -> tuple[Fraction, Any]:
    """Return the leading factor and the pint unit of a printed unit such as '1e-6/delta_degF'."""
    refused = BadSource(
        f"'{text[:_LONGEST]}' is not a unit that can be read",
        "",
        "write it as in ppm/K, 1e-6/delta_degF, GPa, degC, kg/m**3",
    )
    if len(text) > _LONGEST:
        raise refused
    factor, rest = Fraction(1), text
    if found := _FACTOR.match(text):
        factor, rest = Fraction(found[1]), text[found.end() :]
        rest = "1" + rest if rest.startswith(("/", " /")) else rest
    if not factor or not _UNIT.fullmatch(rest):
        raise refused
    try:
        return factor, _registry().parse_units(rest)
    except Exception:  # pint answers junk with a dozen kinds of error
        raise refused from None


@lru_cache(maxsize=4096)
def conversion(unit: str, canonical: str) -> Affine:
    """Return the conversion from one unit to another.

    Parameters
    ----------
    unit, canonical : str
        The printed unit and the unit of the store, as pint writes them; a leading factor is allowed.
        A bare degC or degF is a temperature; within a product or quotient it is a difference.

    Raises
    ------
    BadSource
        When either cannot be read, or they measure different things (a temperature and a temperature
        difference are different things too).
    """
    factor, source = _parsed(unit)
    canonical_factor, target = _parsed(canonical)
    hint = next((_HINTS[word] for word in re.findall(_NAME, unit) if word in _HINTS), "")
    refused = BadSource(
        f"{unit or 'a blank unit'} cannot be turned into {canonical}",
        "",
        hint or f"give the figure in a unit of the same kind as {canonical}",
    )
    temperature = _registry().kelvin.dimensionality
    mixed = target.dimensionality == temperature and ("delta_" in unit) != ("delta_" in canonical)
    if source.dimensionality != target.dimensionality or mixed:
        raise refused
    quantity = _registry().Quantity
    try:
        zero, one = (
            Fraction(quantity(Fraction(at) * factor, source).to(target).magnitude) / canonical_factor for at in (0, 1)
        )
    except Exception:  # an offset unit within a product, above all
        raise refused from None
    return Affine(one - zero, zero)
