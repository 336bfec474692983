"""The kiln schedule of a person's own clay, as rows like those of the reference's schedules."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from refdb.quantities.schedules import CARBON, phases_of

if TYPE_CHECKING:
    from refdb.records import Metal
    from refdb.store.reference import Reference

NAME = "your own packet"
FIT = "as its packet says"


def own_phases(ref: Reference, metal: Metal) -> list[dict[str, Any]]:
    """The phases of `metal.schedule` with the columns of firing_phases; none where it has no schedule.

    How deep it lies in carbon is the reference's rule of practice, which the packet overrules.
    """
    if not metal.schedule:
        return []
    depths = {
        r["key"]: r["high"]
        for r in ref.rows("SELECT key, high FROM practice_rules WHERE key IN ('carbon-depth', 'carbon-spacing')")
    }
    return [
        {
            "key": f"{metal.key}-{number}",
            "clay_family": metal.label,
            "schedule": NAME,
            "phase": number,
            "title": "fire in carbon" if phase.atmosphere == CARBON else "fire in the open",
            "atmosphere": phase.atmosphere,
            "ramp": "any",
            "temp_low_c": phase.temp_c,
            "temp_high_c": phase.temp_c,
            "hold_low_min": phase.hold_min,
            "hold_high_min": phase.hold_min,
            "cover": "",
            "carbon_mm": depths.get("carbon-depth") if phase.atmosphere == CARBON else None,
            "spacing_mm": depths.get("carbon-spacing") if phase.atmosphere == CARBON else None,
            "enamel": FIT,
            "basis": "published",
            "source": metal.source,
            "note": "as you wrote it down; ramp and lid as the packet says",
        }
        for number, phase in enumerate(phases_of(metal.schedule), 1)
    ]
