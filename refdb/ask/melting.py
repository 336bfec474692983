"""Where a metal melts, in words: the one place that says it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from refdb.records.printed import degrees

if TYPE_CHECKING:
    from refdb.quantities import Band
    from refdb.records import Material

#: A band that reaches no further down than this is not told [K].
_HARDLY = 5.0


def begins_at(solidus: Band, verb: str = "begins to melt") -> str:
    """Where a metal begins to melt, or melts, with the lowest that its band leaves open."""
    lowest = f" ({degrees(solidus.low)} at the lowest)" if solidus.low < solidus.value - _HARDLY else ""
    return f"{verb} at {degrees(solidus.value)}{lowest}"


def melting_of(metal: Material) -> str:
    """Where a metal begins and ends melting, in a sentence."""
    low, high = metal.band("solidus"), metal.band("liquidus")
    told = [begins_at(low)] if low is not None else []
    told += [f"is molten at {degrees(high.value)}"] if high is not None else []
    if not told:
        return f"Nothing is known of where {metal.small} melts."
    if low is not None and high is not None and abs(high.value - low.value) < _HARDLY:
        told = [begins_at(low, "melts")]
    found = metal.value("solidus")
    return f"{metal.label} {' and '.join(told)}{f'; {found.basis}' if found is not None else ''}."
