"""The kiln schedules of a clay as a picture with a table behind it, rival ones under each other."""

from __future__ import annotations

import re
from typing import Any

from markupsafe import Markup

from refdb.browse.site import Site, named
from refdb.pictures.drawing import figure, span
from refdb.pictures.ramps import Phase, Schedule, clay_ramps
from refdb.records import Metal
from refdb.words import upper_first

#: A speed that a ramp begins with, as the store words it.
_SPEED = re.compile(r"(\d+) to (\d+) °C an hour")


def of_clay(site: Site, metal: Metal) -> dict[str, Any] | None:
    """The schedules of a clay, those fit for glass first; None for a metal that is no clay."""
    from refdb.plan.clay import clay_schedules

    found = clay_schedules(site.ref, metal)
    if not found:
        return None
    drawn, rows, used = [], [], set()
    for schedule in found:
        phases = []
        for phase in schedule.phases:
            speed = _SPEED.match(phase.ramp)
            carbon = "carbon" in phase.atmosphere
            told = (float(speed[1]), float(speed[2])) if speed else None
            phases.append(Phase(phase.temp_c, phase.hold_min, "in carbon" if carbon else "in the open", told))
            used.add(phase.source)
            rows.append(
                (
                    schedule.name,
                    phase.title,
                    span(*phase.temp_c),
                    span(*phase.hold_min),
                    "; ".join(x for x in (phase.atmosphere, *phase.more) if x),
                    schedule.fit,
                )
            )
        drawn.append(Schedule(upper_first(schedule.name), schedule.fit, tuple(phases)))
    melts = metal.band("solidus")
    picture = clay_ramps(drawn, melts.low if melts else None, "ramps", f"Kiln schedules of {named(metal)}")
    value = metal.value("solidus")
    return {
        "picture": Markup(picture),
        "rows": rows,
        "rivals": len(found),
        "melts": figure(melts.low) if melts else "",
        "sources": sorted({*used, *([value.source] if value else [])}),
    }
