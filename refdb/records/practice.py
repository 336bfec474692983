"""Rules of practice as people read them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from refdb.records.printed import unit_words

if TYPE_CHECKING:
    from collections.abc import Mapping


def amount_of(rule: Mapping[str, Any], units: str = "metric") -> str:
    """The figure of a rule of practice with its unit, such as "at most 0.2 mm"; empty where it has none."""
    unit = unit_words(rule["unit"] or "")
    studio = {"°C": (1.8, 32.0, "°F"), "K": (1.8, 0.0, "°F")}
    scale, zero, unit = (studio if units == "studio" else {}).get(unit, (1.0, 0.0, unit))
    known = [x for x in (rule["low"], rule["high"]) if x is not None]
    ends = [f"{x:g}" if scale == 1.0 else f"{x * scale + zero:.0f}" for x in known]
    if not ends:
        return ""
    if len(ends) == 1:
        ends = [("at most " if rule["low"] is None else "at least ") + ends[0]]
    elif ends[0] == ends[1]:
        ends = ends[:1]
    quantity = rule["quantity"] or ""
    return f"{'' if quantity == unit else quantity} {' to '.join(ends)} {unit}".strip()
