"""A metal clay by the schedule that fired it: the cooler and shorter, the more pores, and the softer and weaker.

What the store holds of a clay covers every schedule of its family that is fit for glass. A schedule that is named
narrows it, or moves it beyond.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from difflib import get_close_matches
from typing import TYPE_CHECKING, NamedTuple

from refdb.errors import BadInput, NotFound
from refdb.frozen import replace
from refdb.quantities.band import Band
from refdb.records import Metal, PropertyValue
from refdb.science.porous import STRENGTH_POWER, least_stiffness, most_stiffness

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: How a clay is told whose schedule is not.
ANY_SCHEDULE = "any schedule of its family that is fit for glass"
#: What is said where the thickness of a sheet is given in cards.
NO_CARDS = "cards measure rolled clay, sheet is sold by mm or gauge"
#: Rows of practice that tell how dense a schedule makes a clay end so, after the key of its last phase.
_ROWS = "density-"
#: Source of what is worked out of a relative density.
_POROUS = "estimate-porous-metal"


#: From such a spread of its relative density on [%], it matters which schedule fired a clay.
_MATTERS_PCT = 20.0


def schedule_told(metal: Metal) -> str:
    """The schedule that fired a clay, or that it may be any where that matters; empty for all else."""
    dense = metal.band("relative_density")
    if metal.fired_by or metal.form != "clay" or dense is None:
        return metal.fired_by
    return ANY_SCHEDULE if dense.high - dense.low >= _MATTERS_PCT else ""


class Sintered(NamedTuple):
    """A clay's schedule by name, the relative density that it gives, 0 to 1, and where that stands."""

    schedule: str
    density: Band
    source: str


def sintered_of(ref: Reference, metal: Metal, schedule: str, where: str) -> Sintered:
    """The schedule of a clay that a word names: "high heat", "low heat".

    Raises
    ------
    BadInput, NotFound
        The metal is no clay, has no such schedule, or nothing is known of how dense that makes it.
    """
    if metal.form != "clay":
        raise BadInput(f"{metal.small} is no clay, and has no schedule", where, "leave the schedule out")
    rows = ref.rows("SELECT * FROM firing_phases WHERE clay_family = ? ORDER BY schedule, phase", metal.clay_family)
    last = {r["schedule"]: r["key"] for r in rows}
    found = next((name for name in last if _plain(name) == _plain(schedule)), None)
    if found is None:
        near = get_close_matches(schedule, list(last), 3, 0.4) or list(last)[:3]
        named = "; ".join(last)
        todo = f"name one of: {named}" if last else "leave the schedule out"
        raise NotFound(f"no schedule of {metal.small} is called '{schedule[:60]}'", where, todo, tuple(near))
    dense = ref.rows("SELECT * FROM practice_rules WHERE key = ?", f"{_ROWS}{last[found]}")
    if not dense:
        raise BadInput(f"how dense '{found}' makes {metal.small} is not known apart", where, "leave the schedule out")
    low, high = dense[0]["low"] / 100.0, dense[0]["high"] / 100.0
    return Sintered(found, Band((low + high) / 2.0, low, high), dense[0]["source"])


def _plain(name: str) -> str:
    return re.sub(r"[^a-z0-9]", "", name.lower().replace("deg", ""))


def as_sintered(metal: Metal, sintered: Sintered | None) -> Metal:
    """A clay as a schedule leaves it: density, stiffness and strength by the relative density, each end of a band by
    that end. What was measured stays, and so does a metal with no schedule."""
    usual, poisson = metal.band("relative_density"), metal.band("poisson_ratio")
    if sintered is None or usual is None or poisson is None:
        return metal
    usual, wanted = usual.scaled(0.01), sintered.density
    solid_poisson = poisson.high

    def moved(row: PropertyValue) -> PropertyValue:
        by = _SCALES.get(row.property)
        if by is None or row.source != _POROUS or not row.preferred:
            return row
        ends = [
            getattr(row.band, end)
            * by(end, getattr(wanted, end), solid_poisson)
            / by(end, getattr(usual, end), solid_poisson)
            for end in ("value", "low", "high")
        ]
        return replace(row, value=ends[0], low=ends[1], high=ends[2], note=f"as sintered: {sintered.schedule}")

    values = tuple(
        replace(v, value=wanted.value * 100, low=wanted.low * 100, high=wanted.high * 100, source=sintered.source)
        if v.property == "relative_density" and v.preferred
        else moved(v)
        for v in metal.values
    )
    label = f"{metal.label} ({sintered.schedule})"
    return replace(metal, values=values, fired_by=sintered.schedule, label=label)


def _by_mass(end: str, dense: float, poisson: float) -> float:
    return dense


def _by_strength(end: str, dense: float, poisson: float) -> float:
    return float(dense**STRENGTH_POWER)


def _by_stiffness(end: str, dense: float, poisson: float) -> float:
    if end == "low":
        return least_stiffness(dense, poisson)
    return most_stiffness(dense) if end == "high" else (least_stiffness(dense, poisson) + most_stiffness(dense)) / 2.0


_SCALES: dict[str, Callable[[str, float, float], float]] = {
    "density": _by_mass,
    "flow_stress": _by_strength,
    "hardening": _by_strength,
    "youngs_modulus": _by_stiffness,
}
