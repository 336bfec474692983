"""What is found of recesses, wires, openings and insets: what no stress can tell."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from refdb.judge.piece.known import FixedRule, Known
from refdb.judge.piece.reasons import heat_of, mm
from refdb.judge.piece.rules_of_cooling import coolings
from refdb.judge.piece.rules_of_leaf import lowest_contact, symbols_of
from refdb.judge.piece.states import Coat, Fire, Item, Walk
from refdb.judge.piece.steps import Step
from refdb.judge.piece.zones import filled_m
from refdb.judge.reason import CARE, NOT, Reason, Subject
from refdb.judge.rules import limit_of
from refdb.judge.selectors import matches
from refdb.quantities.band import Band
from refdb.records import Contact, Metal


def _glass_m(items: Sequence[Item]) -> float:
    """Glass among what lies on a face, as thick as it is over the whole of it [m]."""
    return sum(i.thickness_m.value * i.step.coverage for i in items if isinstance(i, Coat) and i.is_plate)


def _hottest(trail: Walk, step: Step) -> Fire | None:
    """The hottest fire after a step; None where no setting is known."""
    after = [f for f in trail.fires_after(step) if f.hottest_c is not None]
    return max(after, key=lambda f: f.hottest_c or 0.0, default=None)


def _stoned_later(trail: Walk, step: Step) -> bool:
    """Whether a face is stoned after its last coat."""
    last = max((i.step.number for i in trail.faces[step.face] if isinstance(i, Coat) and i.is_plate), default=0)
    return any(s.face == step.face and s.number > last for s in trail.piece.steps_of("stone"))


def recesses(trail: Walk, known: Known) -> Iterator[Reason]:
    """The metal left beneath a recess, and glass that does not end level with its land."""
    cut = sum(r.depth_m.high for r in trail.piece.steps_of("recess") if r.depth_m is not None)
    for step in trail.piece.steps_of("recess"):
        assert step.depth_m is not None
        about = Subject(step.number, face=step.face)
        metal = trail.piece.base.thickness_m
        floor = Band(metal.value - cut, metal.low - cut, metal.high - cut)
        if floor.value * 1e3 < limit_of("recess-floor").fine:
            yield Reason("recess-floor", CARE, about, values={"thick": mm(floor)})
        within_m, over_m = filled_m(trail, step)
        if over_m > 0 or within_m <= 0:
            continue
        above_mm = (within_m - step.depth_m.value) * 1e3
        if -above_mm > limit_of("recess-hollow").fine:
            yield Reason("recess-hollow", CARE, about, values={"low_mm": -above_mm})
        elif above_mm > limit_of("recess-proud").fine and not _stoned_later(trail, step):
            yield Reason("recess-proud", CARE, about, values={"high_mm": above_mm})


def metals_set(trail: Walk, known: Known) -> Iterator[Reason]:
    """Wires and insets of metal: what they melt at, alone and against the metal beneath, and what is in them."""
    steps = [s for s in trail.piece.steps_of("wire", "inset") if s.metal]
    for step in steps:
        metal, fire = known.metals[step.metal], _hottest(trail, step)
        about = Subject(step.number, face=step.face, metal=metal.key)
        if fire is None:
            yield Reason("never-fired", NOT, about, values={"what": metal.small})
            continue
        solidus = metal.band("solidus")
        assert fire.hottest_c is not None
        values: dict[str, Any] = {"heat": heat_of(fire)}
        if solidus is not None and solidus.low - fire.hottest_c < limit_of("wire-melts").fine:
            yield Reason("wire-melts", NOT, about, values=values | {"melts_c": solidus.low})
        if not any(isinstance(i, Coat) and i.is_plate for i in trail.before(step)):
            yield from _on_bare(known, metal, known.metal, fire, about)
        for row in known.fit_rules:
            if row.glass == "any" and row.metal != "any" and matches(row.metal, metal):
                yield Reason(row.key, row.outcome, about)
    for one in trail.piece.steps_of("wire"):
        for other in trail.piece.steps_of("wire"):
            if one.number < other.number and one.face == other.face and one.metal != other.metal:
                yield from _side_by_side(trail, known, one, other)


def _between(known: Known, one: Metal, other: Metal) -> Contact | None:
    """Where two metals first melt together; None where that is not known."""
    return lowest_contact(known.contacts, " ".join(symbols_of(one)), other)


def _on_bare(known: Known, metal: Metal, base: Metal, fire: Fire, about: Subject) -> Iterator[Reason]:
    if metal.family == base.family:
        return
    contact = _between(known, metal, base)
    on = Subject(about.step, face=about.face, metal=metal.key, under=base.key)
    if contact is None:
        yield Reason("wire-contact", CARE, on, case="unknown")
        return
    assert fire.hottest_c is not None
    values = {"melts_c": contact.first_melts_c, "heat": heat_of(fire)}
    melts = fire.hottest_c >= contact.low
    yield Reason(
        "wire-contact", NOT if melts else CARE, on, case="melts" if melts else "", values=values, source=contact.source
    )


def _side_by_side(trail: Walk, known: Known, one: Step, other: Step) -> Iterator[Reason]:
    contact, fire = _between(known, known.metals[one.metal], known.metals[other.metal]), _hottest(trail, other)
    if contact is not None and fire is not None and (fire.hottest_c or 0.0) >= contact.low:
        about = Subject(other.number, face=other.face, metal=other.metal, under=one.metal)
        values = {"melts_c": contact.first_melts_c, "heat": heat_of(fire)}
        yield Reason("wire-contact", CARE, about, case="wires", values=values, source=contact.source)


def wires(trail: Walk, known: Known) -> Iterator[Reason]:
    """Whether wire stands, on what, and how its height goes with the glass around it."""
    for step in trail.piece.steps_of("wire"):
        assert step.height_m is not None
        about = Subject(step.number, face=step.face, metal=step.metal)
        if step.bent is False:
            yield Reason("wire-falls", CARE, about)
        bed_mm = _glass_m(trail.before(step)) * 1e3
        if 0.0 < bed_mm < limit_of("wire-bed").fine:
            yield Reason("wire-bed", CARE, about, values={"total_mm": bed_mm})
        over_mm = (_glass_m(trail.after(step)) - step.height_m.value) * 1e3
        if over_mm > limit_of("wire-drowned").fine and not _stoned_later(trail, step):
            yield Reason("wire-drowned", CARE, about, values={"low_mm": over_mm})
        elif -over_mm > limit_of("wire-proud").fine and not _stoned_later(trail, step):
            yield Reason("wire-proud", CARE, about, values={"high_mm": -over_mm})


def openings(trail: Walk, known: Known) -> Iterator[Reason]:
    """Openings that are empty or large, or whose backing cannot be had off."""
    for step in trail.piece.steps_of("opening"):
        assert step.size_m is not None
        about, across_mm = Subject(step.number), step.size_m.high * 1e3
        if not trail.faces.get("opening"):
            yield Reason("opening-empty", NOT, about)
        area_mm2, limit = math.pi / 4 * across_mm**2, limit_of("opening-large")
        if area_mm2 > limit.fine:
            outcome = NOT if limit.care is not None and area_mm2 > limit.care else CARE
            yield Reason("opening-large", outcome, about, values={"area_mm2": area_mm2})
        if step.backing == "none" and across_mm > limit_of("opening-unbacked").fine:
            yield Reason("opening-unbacked", CARE, about, values={"across_mm": across_mm})
        if step.backing == "copper foil" and "Cu" in symbols_of(known.metal) + known.metal.alloy.split():
            about = Subject(step.number, metal=known.metal.key)
            yield Reason("opening-etch", NOT, about)


def insets(trail: Walk, known: Known) -> Iterator[Reason]:
    """Insets of glass so thick that they have to be cooled slowly."""
    for step in trail.piece.steps_of("inset"):
        assert step.thickness_m is not None
        thick = step.thickness_m
        if step.glass and thick.high * 1e3 > limit_of("inset-thick").fine:
            # All glass at its thickest place, the inset with it; as the verdict on cooling says it.
            after = coolings(trail, trail.fires_after(step))
            if after and not any(c.lacks or c.given_min is None for c in after):
                continue
            slowest = max(after, key=lambda c: c.least_min, default=None)
            values: dict[str, Any] = {"thick": mm(thick)}
            if slowest is not None and slowest.least_min > 0:
                values |= {"minutes": math.ceil(slowest.least_min), "high_c": slowest.high_c, "low_c": slowest.low_c}
            case = "computed" if len(values) > 1 else ""
            yield Reason("inset-thick", CARE, Subject(step.number, glass=step.glass), case=case, values=values)


CELL_RULES: tuple[FixedRule, ...] = (recesses, metals_set, wires, openings, insets)
