"""What is found of laying and firing: dry, washed, even, neither too thin nor too thick, long enough in the fire."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from refdb.judge.piece.in_kiln import heated, molten_under
from refdb.judge.piece.known import Known
from refdb.judge.piece.observed_firing import Basis, Firings, Maturing, maturing
from refdb.judge.piece.reasons import mm
from refdb.judge.piece.states import Coat, Fire, LeafOn, Walk
from refdb.judge.piece.steps import FACES
from refdb.judge.reason import CARE, Measure, Reason, Subject
from refdb.judge.rules import COLOUR_FIRES, MANY_FIRES_CASE, limit_of
from refdb.judge.selectors import matches
from refdb.records import Metal
from refdb.science.glass.surface_tension import contrast_n_per_m

if TYPE_CHECKING:
    from refdb.science.firing.doses import Ranged


def _solid(trail: Walk, face: str) -> list[Coat]:
    return [i for i in trail.faces[face] if isinstance(i, Coat) and not i.line]


def _of(coat: Coat, under: str = "") -> Subject:
    return Subject(coat.step.number, glass=coat.glass.key, under=under)


def _over_leaf(trail: Walk, coat: Coat) -> bool:
    beneath = trail.beneath(coat)
    return bool(beneath) and isinstance(beneath[0], LeafOn)


def _under(trail: Walk, coat: Coat) -> Coat | LeafOn | None:
    """What lies right beneath a coat, drawing passed over."""
    return next((i for i in trail.beneath(coat) if not (isinstance(i, Coat) and i.line)), None)


def damp(trail: Walk, known: Known) -> Iterator[Reason]:
    """What the file says goes into the kiln damp."""
    for step in (s for s in trail.piece.steps if s.dried is False):
        if trail.fires_after(step):
            yield Reason("damp-coat", CARE, Subject(step.number))


def unwashed(trail: Walk, known: Known) -> Iterator[Reason]:
    """Transparent glass of a kind that is washed, and is not; right over leaf another rule says so."""
    for coat in trail.coats:
        washable = coat.glass.optical == "transparent" and coat.glass.wash == "yes"
        if coat.step.washed is False and washable and not _over_leaf(trail, coat):
            yield Reason("unwashed", CARE, _of(coat))


def uneven(trail: Walk, known: Known) -> Iterator[Reason]:
    """Coats whose thickness the file gives as a wide range; siftings are known no closer, so they do not count."""
    for coat in trail.coats:
        band = coat.thickness_m
        told_apart = not (coat.line or _over_leaf(trail, coat) or coat.step.siftings)
        if told_apart and band.high > limit_of("uneven-coat").fine * band.low:
            yield Reason("uneven-coat", CARE, _of(coat), values={"thick": mm(band)})


def thin(trail: Walk, known: Known) -> Iterator[Reason]:
    """Coats too thin for what lies beneath: metal that scales, or another colour; and opals too thin to cloud."""
    for face in FACES:
        coats = _solid(trail, face)
        for coat in coats:
            most_mm, values = coat.thickness_m.high * 1e3, {"thick": mm(coat.thickness_m)}
            first = trail.faces[face][0] is coat
            if first and known.metal.bare_surface != "none" and most_mm < limit_of("thin-first-coat").fine:
                yield Reason("thin-first-coat", CARE, _of(coat), values=values)
            under = _under(trail, coat)
            hides = coat.glass.optical == "opaque" and most_mm < limit_of("thin-over-colour").fine
            if isinstance(under, Coat) and hides and coat.glass.key != under.glass.key:
                yield Reason("thin-over-colour", CARE, _of(coat, under=under.glass.key), values=values)
        opals = [c for c in coats if c.glass.optical == "opalescent"]
        if opals and sum(c.thickness_m.high for c in opals) * 1e3 < limit_of("thin-opal").fine:
            yield Reason("thin-opal", CARE, _of(opals[0]), values={"thick": mm(opals[0].thickness_m)})


def thick(trail: Walk, known: Known) -> Iterator[Reason]:
    """More than two full coats laid on a face for one fire."""
    for fire in trail.fires:
        for face in FACES:
            new = [c for c in _solid(trail, face) if c.number in fire.new]
            total_mm = sum(c.thickness_m.low * c.step.coverage for c in new) * 1e3
            if new and total_mm > limit_of("thick-at-once").fine:
                about = Subject(new[-1].step.number, fire.number, face)
                yield Reason("thick-at-once", CARE, about, values={"total_mm": total_mm})


def part_cover(trail: Walk, known: Known) -> Iterator[Reason]:
    """A face of metal that scales, of which the first fire with glass leaves a part bare."""
    if known.metal.bare_surface == "none":
        return
    for face in FACES:
        coats = _solid(trail, face)
        fire = trail.fire_of(coats[0]) if coats else None
        if fire is None or face in fire.masked:
            continue
        first = [c for c in coats if c.number in fire.new and trail.faces[face].index(c) <= len(fire.new)]
        cover = sum(c.step.coverage for c in first)
        if cover < limit_of("bare-beside-glass").fine:
            about = Subject(coats[0].step.number, face=face)
            yield Reason("bare-beside-glass", CARE, about, values={"coverage": cover})


def soft_back(trail: Walk, known: Known) -> Iterator[Reason]:
    """A back whose outermost glass is softer than that of the front."""
    front, back = _solid(trail, "front"), _solid(trail, "back")
    if not front or not back:
        return
    of_front, of_back = _middle(front[-1]), _middle(back[-1])
    if of_front is not None and of_back is not None and of_front - of_back > limit_of("soft-back").fine:
        yield Reason("soft-back", CARE, _of(back[-1], under=front[-1].glass.key))


def _middle(coat: Coat) -> float | None:
    """The middle of a glass's kiln range [°C]."""
    low, high = coat.glass.band("fuse_low"), coat.glass.band("fuse_high")
    return None if low is None or high is None else (low.value + high.value) / 2


def colour_fires(trail: Walk, known: Known) -> Iterator[Reason]:
    """Colours that stand few fires, wherever they lie; on the metal itself the rule of fit says so already."""
    for row in (r for r in known.fit_rules if r.key.endswith("-fires")):
        for coat in trail.coats:
            fires = sum(coat.number in f.coats for f in trail.fires_after(coat.step))
            lies_higher = trail.faces[coat.face][0] is not coat
            concerned = matches(row.glass, coat.glass) and matches(row.metal, known.metal)
            if fires > COLOUR_FIRES and lies_higher and concerned:
                yield Reason(row.key, row.outcome, _of(coat), case=MANY_FIRES_CASE, values={"fires": fires})


def surface_tensions(trail: Walk, known: Known) -> Iterator[Reason]:
    """A coat that may have a higher surface tension than the one it is fired on; nothing is told where one is unknown.

    Told of the typical figures, and only where the compositions of the two classes lie apart; how far the difference
    is known goes with it.
    """
    for over in (c for c in trail.coats if not c.line):
        under = _under(trail, over)
        # Leaf keeps the two apart, and one glass has one tension.
        if not isinstance(under, Coat) or under.glass.key == over.glass.key or trail.fire_of(over) is None:
            continue
        rows = [c.glass.value("surface_tension") for c in (over, under)]
        if rows[0] is None or rows[1] is None:
            continue
        above, below = rows[0].band, rows[1].band
        own = math.hypot(above.value - above.low, below.high - below.value)
        leaded = [c.glass.lead == "contains" for c in (over, under)]
        value, low, high = contrast_n_per_m(above.value, below.value, *leaded, own=own)
        apart = Measure(value * 1e3, low * 1e3, high * 1e3, "mN/m")
        if apart.value > limit_of("surface-tension").fine and above.low > below.high:
            yield Reason("surface-tension", CARE, _of(over, under=under.glass.key), apart, source=rows[0].source)


def fire_times(trail: Walk, metal: Metal, firings: Firings) -> Iterator[Reason]:
    """Firings whose minutes in the file are surely too short or far too long for what is new in them."""
    firings = firings.with_own(trail.piece.seen)
    for fire in trail.fires:
        minutes, heat = fire.step.minutes, fire.heat
        if minutes is None or heat is None:
            continue
        into = heated(trail, fire, metal)
        slowest: tuple[Ranged, Maturing, Coat] | None = None
        for coat in (trail.coats[n] for n in fire.new if not trail.coats[n].line):
            told = maturing(coat.glass, heat, coat.thickness_m.value, into, firings, molten_under(trail, coat))
            if told.gloss is None:
                continue
            if minutes < limit_of("short-fire").fine * told.gloss.low and _must_shine(trail, coat, fire):
                yield _minutes("short-fire", minutes, told.gloss.low, fire, coat, told)
            if slowest is None or told.gloss.high > slowest[0].high:
                slowest = (told.gloss, told, coat)
        if slowest is not None and minutes <= limit_of("long-fire").fine:
            gloss, told, coat = slowest
            if minutes > limit_of("past-gloss").fine * gloss.high:
                yield _minutes("past-gloss", minutes, gloss.high, fire, coat, told)


def _minutes(rule: str, minutes: float, gloss_min: float, fire: Fire, coat: Coat, told: Maturing) -> Reason:
    about = Subject(fire.step.number, fire.number, glass=coat.glass.key)
    values = {"gloss_min": gloss_min, "basis": Basis(told.pinned)}
    return Reason(rule, CARE, about, Measure(minutes, minutes, minutes, "min"), values=values)


def _must_shine(trail: Walk, coat: Coat, fire: Fire) -> bool:
    """Whether a coat has to shine in this fire: the one that bonds to the metal, and one that gets no other."""
    return trail.faces[coat.face][0] is coat or fire is trail.fires[-1]
