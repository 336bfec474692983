"""What stands around the order of work: the time it takes, and what can hurt someone at it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from refdb.judge.cautions import (
    CADMIUM_SOLDER,
    CHILD,
    CLEANING,
    FOOD,
    JOINING,
    PAINTING,
    STONING,
    caution_of,
    cautions_for,
    hazards_of_piece,
    hazards_of_techniques,
)
from refdb.judge.piece.in_kiln import whole_load
from refdb.judge.piece.states import Walk
from refdb.judge.piece.steps import COLD_JOINS, Piece
from refdb.judge.verdict import Caution
from refdb.plan.allowances import Allowances
from refdb.plan.lines import OWN, ClaySchedule, Firing, Line
from refdb.plan.words import minutes_span
from refdb.quantities.typed import Band
from refdb.records import Metal
from refdb.store.reference import Reference

#: Hazards that a way of working calls for, beside those of the glass and the metal.
_OF_USE = {"child": CHILD, "food": FOOD}
_OF_STEPS = {"stone": STONING, "clean": CLEANING, "line": PAINTING}


def times_of(
    piece: Piece,
    firings: Sequence[Firing],
    schedules: Sequence[ClaySchedule],
    allowed: Allowances,
    slow_min: float | None = None,
) -> tuple[tuple[Line, ...], Band]:
    """Lines on the time at the kiln and before it, and the minutes of all firings of one piece.

    `slow_min` is how long the finished piece has to cool in the closed kiln at least [min], where it may not cool in
    still air.
    """
    recovery, heat, cool = (allowed[k] for k in ("kiln-recovery", "kiln-heat-up", "cool-time"))
    bands = [f.minutes.band for f in firings if f.minutes.band is not None]
    slow = [f for f in firings if f.cooling is not None]
    shut = _shut(slow, firings, allowed)
    one = shut.plus(*bands, recovery.band.scaled(len(firings)))
    is_open = any(f.minutes.open_ended for f in firings)
    most = " and more" if is_open else ""
    lines = [
        Line(
            f"{len(firings)} firing{'s' if len(firings) != 1 else ''}; door to door {minutes_span(one)}{most} "
            "for one piece, with the kiln's recovery.",
            recovery.source,
        )
    ]
    if slow:
        lines.append(_slow_line(slow, shut, allowed))
    if piece.quantity > 1:
        at_once = min(piece.in_kiln.at_once, piece.quantity)
        loads = math.ceil(piece.quantity / at_once)
        how = "one at a time" if at_once == 1 else f"{at_once:,} at a time"
        whole = one.scaled(loads)
        if firings and firings[-1].cooling is not None:
            # The kiln is cold when a load comes out of it.
            whole = whole.plus(heat.band.scaled(loads - 1))
        lines.append(Line(f"{minutes_span(whole)}{most} for all {piece.quantity:,} fired {how}.", recovery.source))
    each = "each" if not slow else "each other"
    cools = f"after {each} firing a piece cools for {cool.band.low:g} to {cool.band.high:g} min"
    if slow and len(slow) == len(firings):
        cools = "a piece stays in it until it is cold"
    if slow_min is not None:
        cools = (
            f"once all its glass is on a piece cools in the closed kiln for {slow_min:.0f} min or more, and stays in "
            "there until it is cold"
        )
    lines.append(
        Line(
            f"Before that the kiln heats up for {heat.band.low:g} to {heat.band.high:g} min, and {cools}.", heat.source
        )
    )
    fit = [s for s in schedules if s.for_glass]
    if fit:
        low, high = min(s.hold_min[0] for s in fit), max(s.hold_min[1] for s in fit)
        hold = f"{low:g}" if low == high else f"{low:g} to {high:g}"
        lines.append(
            Line(
                f"The clay before that: {hold} min at heat by the schedules here, and the ramps.",
                fit[0].phases[-1].source,
            )
        )
    return tuple(lines), one


def _shut(slow: Sequence[Firing], firings: Sequence[Firing], allowed: Allowances) -> Band:
    """How long firings that cool slowly keep the kiln shut [min], and it heats up again where another one follows."""
    down, heat = allowed["kiln-cool-down"].band, allowed["kiln-heat-up"].band
    given = sum(f.cooling.minutes for f in slow if f.cooling is not None)
    again = sum(1 for f in slow if f is not firings[-1])
    return down.scaled(len(slow)).plus(heat.scaled(again), Band.exact(given))


def _slow_line(slow: Sequence[Firing], shut: Band, allowed: Allowances) -> Line:
    down = allowed["kiln-cool-down"]
    each = ", ".join(f"{f.cooling.minutes:g} min after firing {f.number}" for f in slow if f.cooling is not None)
    hours = f"{down.band.low / 60:g} to {down.band.high / 60:g} h"
    return Line(
        f"Of that {minutes_span(shut)} go with slow cooling: {each}, then {hours} until the closed kiln is cold.",
        down.source,
    )


def load_line(piece: Piece, allowed: Allowances) -> Line:
    """For what kiln and load the minutes are reckoned."""
    load = whole_load(piece)
    said = piece.in_kiln
    rack = f"a rack of {load.rack_kg * 1e3:.0f} g" if load.rack_kg else "no rack"
    rows = {"kiln-power": said.power_w, "kiln-rack": said.rack_kg}
    taken = [name for name, key in (("power", "kiln-power"), ("rack", "kiln-rack")) if rows[key] is None]
    from_where = f" ({' and '.join(taken)} as is usual; say your own under [kiln] in the file)" if taken else ""
    return Line(
        f"Minutes are for {'one piece' if said.at_once == 1 else f'{said.at_once:,} pieces'} in at once on {rack} in a "
        f"kiln of {load.power_w / 1e3:g} kW{from_where}.",
        allowed.row("kiln-power")["source"] if taken else OWN,
    )


def cautions_of(ref: Reference, trail: Walk, metal: Metal) -> tuple[Caution, ...]:
    """The cautions of a piece's glasses and metal, of its use, and of what its steps do."""
    hazards = ref.hazards()
    keys = [s.solder for s in trail.piece.steps if s.do == "join" and s.solder not in COLD_JOINS]
    held = {_OF_USE.get(trail.piece.use, ""): True, JOINING: bool(keys), CADMIUM_SOLDER: _has_cadmium(ref, keys)} | {
        word: any(s.do == do for s in trail.piece.steps) for do, word in _OF_STEPS.items()
    }
    found: dict[str, Caution] = {}
    for glass in {c.glass.key: c.glass for c in trail.coats}.values() or (None,):
        found |= {c.key: c for c in cautions_for(hazards, glass, metal)}
    steps = trail.piece.steps
    of_piece = hazards_of_piece(hazards, [word for word, holds in held.items() if word and holds])
    of_piece += hazards_of_techniques(hazards, {s.do for s in steps}, {s.backing for s in steps})
    for key in {s.metal for s in steps if s.metal}:
        found |= {c.key: c for c in cautions_for(hazards, None, ref.metal(key))}
    return tuple((found | {h.key: caution_of(h, step_known=True) for h in of_piece}).values())


def _has_cadmium(ref: Reference, solders: Sequence[str]) -> bool:
    marks = ",".join("?" * len(solders))
    return bool(ref.rows(f"SELECT 1 FROM solders WHERE key IN ({marks}) AND hazard LIKE '%cadmium%'", *solders))
