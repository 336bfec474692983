"""Which hazards a verdict shows, weightiest first."""

from __future__ import annotations

from refdb.judge.verdict import Caution
from refdb.records import Glass, Hazard, Metal

#: A verdict shows at most this many; `refdb cautions` has them all.
MOST_SHOWN = 6
#: Every verdict ends with this one, so it is not said twice.
_SAID_ANYWAY = ("test-tile-first",)


def triggers(glass: Glass | None, metal: Metal | None) -> set[str]:
    """The words under which hazards are filed that hold here; unknown content counts as present."""
    found = {"always"}
    if glass is not None:
        if glass.lead != "free":
            found.add("lead")
        if glass.cadmium != "free":
            found.add("cadmium")
    if metal is not None:
        zinc = metal.band("zinc_content")
        if zinc is not None and zinc.high > 0:
            found.add("zinc")
        if metal.fired_in_carbon:
            found.add("clay in carbon")
        if metal.family == "nickel" or "Ni" in metal.alloy.replace(",", " ").split():
            found.add("nickel")
    return found


def cautions_for(hazards: list[Hazard], glass: Glass | None, metal: Metal | None,
                 most: int | None = MOST_SHOWN) -> tuple[Caution, ...]:
    """Cautions of this glass and metal: those of their own content first, then the ones that always hold."""
    wanted = triggers(glass, metal)
    held = [h for h in hazards if h.trigger in wanted and h.key not in _SAID_ANYWAY]
    held.sort(key=lambda h: (h.trigger == "always", h.weight, h.key))
    return tuple(Caution(_told(h), h.source) for h in held[:most])


def _told(hazard: Hazard) -> str:
    """The caution with the step it belongs to, for it says little alone."""
    step, caution = hazard.step, hazard.caution
    return f"{step[:1].upper()}{step[1:]}: {caution[:1].lower()}{caution[1:]}"
