"""Whether a coat beneath comes up through the one above while that one is fired to its gloss."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, NamedTuple

from refdb.judge import limits
from refdb.judge.piece.states import Coat, Fire, LeafOn, Walk
from refdb.judge.verdict import CARE, NOT, SUITS, Measure, Reason
from refdb.records import Glass, Metal

if TYPE_CHECKING:
    from refdb.judge.piece.observed_firing import Firings


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


class Pair(NamedTuple):
    """A coat, one that is fused beneath it, the firing of the upper one, and whether leaf lies between them."""

    over: Coat
    under: Coat
    fire: Fire
    leaf: bool


def pairs(trail: Walk) -> Iterator[Pair]:
    """Each coat with each unlike run of coats beneath it that would show, and with the bed of its leaf."""
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
                yield Pair(over, item, fire, leaf)
            if leaf:
                break


def rises(trail: Walk, metal: Metal, firings: Firings) -> Iterator[Reason]:
    """One reason for each of the `pairs`."""
    firings = firings.with_own(trail.piece.seen)
    for over, under, fire, leaf in pairs(trail):
        yield _reason(over, under, fire, metal, trail.piece.base.thickness_m.value, leaf, firings)


def prepare(pieces: Iterable[tuple[Walk, Metal]]) -> None:
    """Warm many pieces up together, so that their `rises` need not one by one."""
    from refdb.science.firing.doses import Entry, prepare_heat_ups
    from refdb.science.firing.heating import HEAT_OF_FAMILY, USUAL_KILN, blank_of
    from refdb.science.firing.pull_through import glass_of_two

    entries = []
    for trail, metal in pieces:
        density = metal.band("density")
        if density is None or metal.family not in HEAT_OF_FAMILY:
            continue
        blank = blank_of(metal.family, trail.piece.base.thickness_m.value, density.value)
        for over, under, fire, _ in pairs(trail):
            glass_m = glass_of_two(under.thickness_m.value, over.thickness_m.value)
            entries += [Entry(heat, blank, glass_m, USUAL_KILN) for heat in _ends(fire)]
    prepare_heat_ups(entries)


def _ends(fire: Fire) -> tuple[float, ...]:
    """The heats at which a fire is followed: the middle of what the kiln is, and both ends where it has any."""
    heat = fire.heat
    assert heat is not None
    return (heat.value,) if heat.is_exact else (heat.value, heat.low, heat.high)


def _reason(over: Coat, under: Coat, fire: Fire, metal: Metal, metal_m: float, leaf: bool, firings: Firings) -> Reason:
    index = dose_share(over, under, fire, metal, metal_m, firings)
    limit = limits.PULL_THROUGH
    names = f"{under.glass.label.lower()} under {over.glass.label.lower()}"
    rule, why = (BED_RULE, _BED_WHY) if leaf else (limit.rule, limit.why)
    if index is None:
        return Reason(
            rule,
            CARE,
            f"How {names} flow against each other is not known at this heat.",
            limit.words,
            why,
            limit.remedy,
            limit.source,
            step=over.step.title,
        )
    value, low, high = index
    outcome = NOT if value > limit.care else CARE if value > limit.fine else SUITS
    if leaf and outcome == NOT:
        # A bed that moves tears the leaf, which the leaf's own strength may yet hold together.
        outcome = CARE
    return Reason(
        f"{rule}: {names}",
        outcome,
        Measure(value, low, high, limit.unit),
        limit.words,
        (why if outcome != SUITS else "The coat beneath stays stiff while the one above flows.")
        + _pinned_words(over, under, fire, firings),
        limit.remedy if outcome != SUITS else "",
        limit.source,
        step=over.step.title,
    )


def _pinned_words(over: Coat, under: Coat, fire: Fire, firings: Firings) -> str:
    """Which of the two flows as a firing that was seen tells, as a sentence; empty where classes tell both."""
    told = []
    for glass in dict.fromkeys((under.glass, over.glass)):
        pinned = firings.pinned(glass, _ends(fire)[0])
        if pinned is not None:
            told.append(f"{glass.label} by {pinned.words} [{pinned.record.source}]")
    return f" Flow: {'; '.join(told)}." if told else ""


def coming_up(reason: Reason) -> str:
    """What a reason about two coats says of them, as half a sentence; empty for any other rule."""
    head, _, names = reason.rule.partition(": ")
    under, found, over = names.partition(" under ")
    if not found or head not in (BED_RULE, limits.PULL_THROUGH.rule):
        return ""
    if head == BED_RULE:
        return f"the bed under the leaf, {under}, flows as readily as {over} above it"
    return f"{under} {'comes' if reason.outcome == NOT else 'may come'} up through {over}"


def dose_share(
    over: Coat, under: Coat, fire: Fire, metal: Metal, metal_m: float, firings: Firings
) -> tuple[float, float, float] | None:
    """The share of its own gloss dose that the coat beneath gets while the one above is fired until it shines.

    Returns value, low and high, or None where a kiln range is not known or the kiln is outside what the viscosity
    model reaches. Classes tell only how they stand to each other, so the minutes of the file enter only where a
    firing that was seen pins the coat above. A band of the kiln widens low and high to what they are at both ends.
    """
    assert fire.heat is not None
    found = [_dose_share(over, under, fire, heat, metal, metal_m, there) for heat, there in firings.at_ends(fire.heat)]
    told = [index for index in found if index is not None]
    if len(told) < len(found):
        return None
    return told[0][0], min(index[1] for index in told), max(index[2] for index in told)


def _dose_share(
    over: Coat, under: Coat, fire: Fire, heat: float, metal: Metal, metal_m: float, firings: Firings
) -> tuple[float, float, float] | None:
    from refdb.science.firing.doses import LONGEST_MINUTES
    from refdb.science.firing.maturing import blank_of, pull_through

    below, above = firings.pair(under.glass, over.glass, heat)
    density = metal.band("density")
    if below is None or above is None or density is None:
        return None
    minutes = fire.step.minutes if firings.pinned(over.glass, heat) is not None else None
    if minutes is not None:
        minutes = min(minutes, LONGEST_MINUTES)
    found = pull_through(
        below,
        above,
        heat,
        blank_of(metal.family, metal_m, density.value),
        under.thickness_m.value,
        over.thickness_m.value,
        minutes=minutes,
    )
    index = found.index
    return None if index is None else (index.value, index.low, index.high)
