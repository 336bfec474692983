"""The schedules of a clay, and how many pieces a container of carbon takes."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.frozen import replace
from refdb.judge.limits import DOME_SOURCE
from refdb.judge.piece.states import Walk
from refdb.judge.piece.steps import Piece
from refdb.plan.allowances import Allowances
from refdb.plan.amounts import fresh_depth_m, fresh_size_m
from refdb.plan.lines import ClayPhase, ClaySchedule, Line
from refdb.plan.packing import Container, Packed, packed
from refdb.plan.words import millimetres
from refdb.records import Metal
from refdb.store.own_schedule import NAME, own_phases
from refdb.store.reference import Reference


def clay_schedules(ref: Reference, metal: Metal) -> tuple[ClaySchedule, ...]:
    """The rival schedules of this clay, those fit for glass first; none for a metal that is no clay.

    A person's own packet stands first, then those of the family.
    """
    own = own_phases(ref, metal)
    if not metal.clay_family and not own:
        return ()
    rows = ref.rows("SELECT * FROM firing_phases WHERE clay_family = ? ORDER BY schedule, phase", metal.clay_family)
    rows = [*own, *rows]
    found = []
    for name in dict.fromkeys(r["schedule"] for r in rows):
        of_it = [r for r in rows if r["schedule"] == name]
        found.append(
            ClaySchedule(
                name,
                of_it[-1]["enamel"],
                tuple(
                    ClayPhase(
                        r["title"],
                        r["atmosphere"],
                        r["ramp"],
                        (r["temp_low_c"], r["temp_high_c"]),
                        (r["hold_low_min"], r["hold_high_min"]),
                        r["cover"] or "",
                        r["carbon_mm"],
                        r["spacing_mm"],
                        r["note"] or "",
                        r["source"],
                    )
                    for r in of_it
                ),
            )
        )
    return tuple(
        sorted(
            found,
            key=lambda s: (s.name != NAME, not s.for_glass, "weaker" in s.fit, -max(p.temp_c[1] for p in s.phases)),
        )
    )


def fresh_size_line(piece: Piece, metal: Metal) -> Line | None:
    """How large a piece of clay is made for its size after firing; None where its shrinkage is not known."""
    shrinks = metal.value("shrinkage") if metal.form == "clay" else None
    if shrinks is None:
        return None
    wide, high, thick = fresh_size_m(piece, metal)
    return Line(
        f"Make it {millimetres(wide)} by {millimetres(high)} and {millimetres(thick, 2)} thick before firing, for "
        f"{piece.width_m * 1e3:g} by {piece.height_m * 1e3:g} mm after it.",
        shrinks.source,
    )


def against_the_fires(schedules: tuple[ClaySchedule, ...], trail: Walk) -> tuple[ClaySchedule, ...]:
    """The schedules, those cooler than a firing of this piece marked so and last among those fit for glass."""
    hottest = max((f.hottest_c for f in trail.fires if f.hottest_c is not None), default=0.0)

    def cooler(schedule: ClaySchedule) -> bool:
        return schedule.for_glass and max(p.temp_c[1] for p in schedule.phases) < hottest

    marked = [
        replace(
            s,
            fit=f"{s.fit}; but a firing here is hotter ({hottest:.0f} °C), and in it such clay goes on "
            "shrinking under its glass",
        )
        if cooler(s)
        else s
        for s in schedules
    ]
    return tuple(sorted(marked, key=lambda s: (s.name != NAME, not s.for_glass, cooler(s))))


def packed_in_carbon(
    piece: Piece, metal: Metal, schedules: Sequence[ClaySchedule], container: Container, allowed: Allowances
) -> Packed:
    """How many unfired pieces lie in a container, with the carbon that the clay wants around them."""
    depth, spacing = allowed["carbon-depth"], allowed["carbon-spacing"]
    wide, high, _ = fresh_size_m(piece, metal)
    stands = fresh_depth_m(piece, metal)
    note = ""
    if not any(s.in_carbon and s.for_glass for s in schedules):
        what = "no clay" if metal.form != "clay" else "fired in the open by every schedule here that is fit for glass"
        note = f"{metal.label} is {what}; a container of carbon is not needed for it."
    sources = tuple(dict.fromkeys((depth.source, spacing.source, *((DOME_SOURCE,) if piece.shape == "domed" else ()))))
    return packed(
        wide.high,
        high.high,
        stands.high,
        piece.quantity,
        container,
        spacing_m=spacing.band.high,
        carbon_m=depth.band.high,
        sources=sources,
        note=note,
    )
