"""Whether a coat beneath comes up through the one above while that one is fired to its gloss."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from refdb.judge import limits
from refdb.judge.verdict import CARE, NOT, SUITS, Measure, Reason
from refdb.judge.walk import Coat, Fire, LeafOn, Walk
from refdb.records import Glass, Metal

if TYPE_CHECKING:
    from refdb.science.firing_curve import FiringCurve


BED_RULE = "Bed under the leaf"
#: The same in one sentence, where both glasses are already named.
BED_MOVES = f"{BED_RULE}: it flows as readily as this clear, and may tear the leaf"
_BED_WHY = "A bed that flows as readily as the clear above it moves, and tears the leaf or lets it wander."


def shows(over: Glass, under: Glass) -> bool:
    """Whether it would be seen: a colour under a clear, or anything unlike that an opaque takes part in."""
    if over.key == under.key:
        return False
    if over.optical != "transparent" or under.optical != "transparent":
        return True
    return bool(under.colourant) and not over.colourant


def rises(trail: Walk, metal: Metal) -> Iterator[Reason]:
    """One reason for each coat and each unlike run of coats beneath it that would show, and for the bed of a leaf."""
    for over in (c for c in trail.coats if not c.line):
        fire = trail.fire_of(over)
        if fire is None or fire.step.kiln_c is None:
            continue
        told: set[str] = set()
        leaf = between = False
        for item in trail.beneath(over):
            if isinstance(item, LeafOn):
                # The bed matters to the coat that lies on the leaf; leaf hides it from those above.
                if between:
                    break
                leaf = True
                continue
            between = True
            # Identical neighbours count as one.
            if item.line or item.glass.key in told or not trail.is_fused(item, over.step):
                continue
            if leaf or shows(over.glass, item.glass):
                told.add(item.glass.key)
                yield _reason(over, item, fire, metal, trail.piece.base.thickness_m.value, leaf)
            if leaf:
                break


def _reason(over: Coat, under: Coat, fire: Fire, metal: Metal, metal_m: float, leaf: bool) -> Reason:
    index = dose_share(over, under, fire, metal, metal_m)
    limit = limits.PULL_THROUGH
    names = f"{under.glass.label.lower()} under {over.glass.label.lower()}"
    rule, why = (BED_RULE, _BED_WHY) if leaf else (limit.rule, limit.why)
    if index is None:
        return Reason(rule, CARE, f"How {names} flow against each other is not known at this heat.", limit.words, why,
                      limit.remedy, limit.source, step=over.step.title)
    value, low, high = index
    outcome = NOT if value > limit.care else CARE if value > limit.fine else SUITS
    if leaf and outcome == NOT:
        # A bed that moves tears the leaf, which the leaf's own strength may yet hold together.
        outcome = CARE
    return Reason(f"{rule}: {names}", outcome, Measure(value, low, high, limit.unit), limit.words,
                  why if outcome != SUITS else "The coat beneath stays stiff while the one above flows.",
                  limit.remedy if outcome != SUITS else "", limit.source, step=over.step.title)


def coming_up(reason: Reason) -> str:
    """What a reason about two coats says of them, as half a sentence; empty for any other rule."""
    head, _, names = reason.rule.partition(": ")
    under, found, over = names.partition(" under ")
    if not found or head not in (BED_RULE, limits.PULL_THROUGH.rule):
        return ""
    if head == BED_RULE:
        return f"the bed under the leaf, {under}, flows as readily as {over} above it"
    return f"{under} {'comes' if reason.outcome == NOT else 'may come'} up through {over}"


def dose_share(over: Coat, under: Coat, fire: Fire, metal: Metal, metal_m: float) -> tuple[float, float, float] | None:
    """The share of its own gloss dose that the coat beneath gets while the one above is fired until it shines.

    Returns value, low and high, or None where a kiln range is not known or the kiln is outside what the viscosity
    model reaches. Classes tell only how they stand to each other, so minutes do not enter.
    """
    from refdb.science.maturing import blank_of, pull_through

    curves = [_curve(coat.glass) for coat in (under, over)]
    density = metal.band("density")
    heat = fire.step.kiln_c
    assert heat is not None
    if None in curves or density is None:
        return None
    found = pull_through(curves[0], curves[1], heat, blank_of(metal.family, metal_m, density.value),
                         under.thickness_m.value, over.thickness_m.value)
    index = found.index
    return None if index is None else (index.value, index.low, index.high)


def _curve(glass: Glass) -> FiringCurve | None:
    from refdb.science.firing_curve import class_curve

    low, high, set_point = (glass.band(k) for k in ("fuse_low", "fuse_high", "set_point"))
    if low is None or high is None:
        return None
    return class_curve((low.value + high.value) / 2, low.value, high.value, set_point.value if set_point else None)
