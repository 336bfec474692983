"""Every rule of a piece that needs no sample, in the order in which findings stand where they weigh alike."""

from __future__ import annotations

from collections.abc import Iterator

from refdb.judge.piece import rules_of_cooling as cooling
from refdb.judge.piece import rules_of_laying as laying
from refdb.judge.piece import rules_of_leaf as leaf
from refdb.judge.piece import rules_of_order as order
from refdb.judge.piece.known import FixedRule, Known
from refdb.judge.piece.states import Walk
from refdb.judge.reason import Reason

FIXED_RULES: tuple[FixedRule, ...] = (
    order.fired,
    order.surface,
    leaf.leaves,
    leaf.lines,
    leaf.lead_order,
    order.clean_and_mask,
    order.joins,
    order.stoned,
    order.many_fires,
    order.use,
    order.colours,
    laying.damp,
    leaf.unpricked,
    laying.unwashed,
    laying.uneven,
    laying.thin,
    laying.thick,
    laying.part_cover,
    laying.soft_back,
    laying.colour_fires,
    laying.surface_tensions,
    cooling.cooling,
)


def findings(trail: Walk, known: Known) -> list[Reason]:
    """Every finding of order, surface, laying and use."""
    return [reason for rule in (*FIXED_RULES, *_of_techniques(trail)) for reason in rule(trail, known)]


def _of_techniques(trail: Walk) -> Iterator[FixedRule]:
    """Rules of cells, and of what is laid over finished glass, where a piece has any: others do not load them."""
    if trail.piece.steps_of("recess", "wire", "opening", "inset"):
        from refdb.judge.piece.rules_of_cells import CELL_RULES

        yield from CELL_RULES
    if trail.piece.steps_of("paint", "decal", "lustre", "slip"):
        from refdb.judge.piece.rules_of_late import LATE_RULES

        yield from LATE_RULES
