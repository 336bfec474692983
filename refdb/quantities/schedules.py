"""A kiln schedule as people type it: "345 C, 30 min, open; 900 C, 3 h, carbon"."""

from __future__ import annotations

from typing import NamedTuple

from refdb.errors import BadInput
from refdb.quantities.amounts import duration_min
from refdb.quantities.temperatures import temperature_c

OPEN, CARBON = "open air", "carbon"
_WRITE = 'write each phase as heat, time, and open or carbon: "345 C, 30 min, open; 900 C, 3 h, carbon"'
_IN = {"open": OPEN, "open air": OPEN, "air": OPEN, "carbon": CARBON, "in carbon": CARBON}
MOST_PHASES = 6
#: No clay is fired outside these [°C], [min].
_HEAT, _TIME = (100.0, 1300.0), (0.5, 1440.0)


class FiredPhase(NamedTuple):
    """One phase of a schedule: its heat [°C], how long it is held [min], and in what."""

    temp_c: float
    hold_min: float
    atmosphere: str


def phases_of(text: str, where: str = "schedule") -> tuple[FiredPhase, ...]:
    """The phases of a schedule, apart by semicolons, in the order of firing; where nothing is said it is open air.

    Raises
    ------
    BadInput
        A phase cannot be read, lies outside what clays are fired at, or there are more than `MOST_PHASES`.
    """
    parts = [p.strip() for p in text.split(";") if p.strip()]
    if not 0 < len(parts) <= MOST_PHASES:
        raise BadInput(f"a schedule of {len(parts)} phases", where, f"give 1 to {MOST_PHASES}; {_WRITE}")
    return tuple(_phase(part, where) for part in parts)


def _phase(text: str, where: str) -> FiredPhase:
    words = [w.strip() for w in text.split(",")]
    if not 2 <= len(words) <= 3:
        raise BadInput(f"'{text[:40]}' is no phase of a schedule", where, _WRITE)
    temp_c, hold_min = temperature_c(words[0], where=where), duration_min(words[1], where=where)
    if not _HEAT[0] <= temp_c <= _HEAT[1] or not _TIME[0] <= hold_min <= _TIME[1]:
        todo = f"{_HEAT[0]:g} to {_HEAT[1]:g} °C, {_TIME[0]:g} to {_TIME[1]:g} min; look at the units"
        raise BadInput(f"'{text[:40]}' is no firing of a clay", where, todo)
    found = _IN.get(words[2].lower() if len(words) == 3 else "open")
    if found is None:
        raise BadInput(f"'{words[2][:20]}' is neither open nor carbon", where, _WRITE)
    return FiredPhase(round(temp_c, 1), round(hold_min, 2), found)


def schedule_text(phases: tuple[FiredPhase, ...]) -> str:
    """A schedule as `phases_of` reads it."""
    return "; ".join(f"{p.temp_c:g} C, {p.hold_min:g} min, {p.atmosphere}" for p in phases)
