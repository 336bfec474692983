"""Whether a coat beneath comes up through the one above while that one is fired to its gloss."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from refdb.judge.piece.in_kiln import Heated, heated
from refdb.judge.piece.observed_firing import Firings, Flow
from refdb.judge.piece.states import Coat, Fire, LeafOn, Walk
from refdb.judge.reason import CARE, NOT, SUITS, Measure, Reason, Subject
from refdb.judge.rules import limit_of
from refdb.records import Glass, Metal


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


def rising(trail: Walk, metal: Metal, firings: Firings) -> Iterator[Reason]:
    """One finding for each of the `pairs`."""
    firings = firings.with_own(trail.piece.seen)
    for pair in pairs(trail):
        yield _reason(pair, heated(trail, pair.fire, metal), firings)


def prepare(pieces: Iterable[tuple[Walk, Metal]]) -> None:
    """Warm many pieces up together, so that their `rises` need not one by one."""
    from refdb.science.firing.doses import Entry, prepare_heat_ups
    from refdb.science.firing.heating import HEAT_OF_FAMILY, blank_of
    from refdb.science.firing.pull_through import glass_of_two

    entries = []
    for trail, metal in pieces:
        density = metal.band("density")
        if density is None or metal.family not in HEAT_OF_FAMILY:
            continue
        blank = blank_of(metal.family, trail.piece.base.thickness_m.value, density.value)
        for over, under, fire, _ in pairs(trail):
            glass_m = glass_of_two(under.thickness_m.value, over.thickness_m.value)
            entries += [Entry(heat, blank, glass_m, heated(trail, fire, metal).kiln) for heat in _ends(fire)]
    prepare_heat_ups(entries)


def _ends(fire: Fire) -> tuple[float, ...]:
    """The heats at which a fire is followed: the middle of what the kiln is, and both ends where it has any."""
    heat = fire.heat
    assert heat is not None
    return (heat.value,) if heat.is_exact else (heat.value, heat.low, heat.high)


def _reason(pair: Pair, into: Heated, firings: Firings) -> Reason:
    over, under, fire, leaf = pair
    rule = "leaf-bed" if leaf else "pull-through"
    about = Subject(over.step.number, glass=over.glass.key, under=under.glass.key)
    index = dose_share(over, under, fire, into, firings)
    if index is None:
        return Reason(rule, CARE, about, case="unknown", values={"flow": Flow()})
    limit = limit_of(rule)
    value, low, high = index
    outcome = SUITS if value <= limit.fine else CARE if limit.care is None or value <= limit.care else NOT
    pins = [(glass.key, firings.pinned(glass, _ends(fire)[0])) for glass in (under.glass, over.glass)]
    values = {"flow": Flow(tuple({key: pin for key, pin in pins if pin is not None}.items()))}
    return Reason(rule, outcome, about, Measure(value, low, high, limit.unit), values=values)


def dose_share(
    over: Coat, under: Coat, fire: Fire, into: Heated, firings: Firings
) -> tuple[float, float, float] | None:
    """The share of its own gloss dose that the coat beneath gets while the one above is fired until it shines.

    Returns value, low and high, or None where a kiln range is not known or the kiln is outside what the viscosity
    model reaches. Classes tell only how they stand to each other, so the minutes of the file enter only where a
    firing that was seen pins the coat above. A band of the kiln widens low and high to what they are at both ends.
    """
    assert fire.heat is not None
    found = [_dose_share(over, under, fire, heat, into, there) for heat, there in firings.at_ends(fire.heat)]
    told = [index for index in found if index is not None]
    if len(told) < len(found):
        return None
    return told[0][0], min(index[1] for index in told), max(index[2] for index in told)


def _dose_share(
    over: Coat, under: Coat, fire: Fire, heat: float, into: Heated, firings: Firings
) -> tuple[float, float, float] | None:
    from refdb.science.firing.doses import LONGEST_MINUTES
    from refdb.science.firing.maturing import blank_of, pull_through

    below, above = firings.pair(under.glass, over.glass, heat)
    metal, density = into.metal, into.metal.band("density")
    if below is None or above is None or density is None:
        return None
    minutes = fire.step.minutes if firings.pinned(over.glass, heat) is not None else None
    if minutes is not None:
        minutes = min(minutes, LONGEST_MINUTES)
    found = pull_through(
        below,
        above,
        heat,
        blank_of(metal.family, into.metal_m, density.value),
        under.thickness_m.value,
        over.thickness_m.value,
        minutes=minutes,
        kiln=into.kiln,
        one_glass=over.glass.key == under.glass.key,
    )
    index = found.index
    return None if index is None else (index.value, index.low, index.high)
