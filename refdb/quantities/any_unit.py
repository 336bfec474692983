"""Units beyond the everyday ones, converted by pint; importing this module does not yet import it."""

from __future__ import annotations

import functools
import math
import re
from typing import Any

from refdb.errors import BadInput
from refdb.quantities.band import shown

# Names, small whole powers, and products and quotients of them. Pint evaluates arithmetic in a unit, and
# a tower of powers would never end, so nothing else reaches it.
_POWERED = r"[A-Za-z_]{1,30}(?:(?:\^|\*\*)-?[1-4])?"
_UNIT = re.compile(rf"(?:1\s?/\s?)?\(?{_POWERED}(?:\s?[*/ ]\s?\(?{_POWERED}\)?)*\)?")
_LONGEST_UNIT = 60


@functools.cache
def _registry() -> Any:
    """Our own pint registry, so that no other code's definitions reach us."""
    import pint

    return pint.UnitRegistry()


def _for_pint(unit: str) -> str:
    """The unit in pint's spelling; a degree in a compound unit is a difference of temperature."""
    unit = unit.replace("µ", "u").replace("μ", "u").replace("·", "*").strip()
    if re.search(r"[*/ ]", unit):
        unit = re.sub(r"(?:°|\bdeg ?)([CF])\b", r"delta_deg\1", unit)
    return "1" + unit if unit.startswith("/") else unit


def factor(unit: str, target: str, where: str = "unit") -> float:
    """The number that turns a value in `unit` into a value in `target`.

    Parameters
    ----------
    unit : str
        What was typed, such as "ft", "kgf/mm^2" or "in/in/°F".
    target : str
        The unit wanted, in pint's spelling, such as "m", "Pa" or "1/K".
    where : str
        Where the unit was found, for the message.

    Raises
    ------
    BadInput
        When the unit is unknown, measures another quantity, or is a temperature with an offset zero (those
        are read by `refdb.quantities.temperature_c` and `temperature_difference_k`).
    """
    spelled = _for_pint(unit)
    if len(spelled) > _LONGEST_UNIT or not _UNIT.fullmatch(spelled):
        raise BadInput(f"{shown(unit)} is not a unit", where, f"write a unit that turns into {target}")
    try:
        make = _registry().Quantity
        parsed = _registry().parse_units(spelled)
        one, two = (float(make(count, parsed).to(target).magnitude) for count in (1.0, 2.0))
    except Exception as problem:  # pint, its parser and Python's tokenizer raise over a dozen kinds
        raise BadInput(
            f"{shown(unit)} is not a known unit for this", where, f"write a unit that turns into {target}"
        ) from problem
    if not math.isclose(two, 2.0 * one, rel_tol=1e-9) or not math.isfinite(one) or one <= 0.0:
        raise BadInput(f"{shown(unit)} has a zero of its own", where, "write the temperature in C, F or K")
    return one


def converted(value: float, unit: str, target: str, where: str = "unit") -> float:
    """A value in `unit` turned into `target` (see `factor` for both and for the errors raised)."""
    return value * factor(unit, target, where)
