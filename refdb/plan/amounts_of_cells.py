"""How much wire a piece takes, what is set into it, what its cells hold, and what metal is cut out of them."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from refdb.judge.piece.states import Walk, walk
from refdb.judge.piece.steps import Piece, Step
from refdb.judge.piece.zones import BARE_M, depth_m, level_m
from refdb.plan.amount import Amount, product
from refdb.plan.words import amount_span, millimetres
from refdb.quantities.typed import Band

if TYPE_CHECKING:
    from refdb.plan.allowances import Allowances
    from refdb.records import Glass, Metal
    from refdb.store.reference import Reference

#: A disc fills the cylinder around it, a cabochon or a bead two thirds of that: value, low, high.
_OF_CYLINDER = Band(5 / 6, 2 / 3, 1.0)
_COMPUTED = "computed-here"


def amounts_of_cells(ref: Reference, piece: Piece, area: Band, allowed: Allowances) -> Iterator[Amount | str]:
    """Wire, insets, glass in cells and metal cut out, step by step; words where a figure is missing.

    Parameters
    ----------
    ref : Reference
    piece : Piece
    area : Band
        Of one face [m²].
    allowed : Allowances
    """
    for step in piece.steps_of("wire"):
        yield _wire(ref.metal(step.metal), step, piece, allowed)
    for step in piece.steps_of("inset"):
        yield _inset(ref.glass(step.glass) if step.glass else ref.metal(step.metal), step, piece)
    for step in piece.steps_of("recess", "opening"):
        yield from _filled(ref, step, piece, area)
        yield _cut_out(ref.metal(piece.base.metal), step, piece, area)


def _wire(metal: Metal, step: Step, piece: Piece, allowed: Allowances) -> Amount | str:
    assert step.thickness_m is not None
    assert step.height_m is not None
    size = f"{millimetres(step.thickness_m, 2)} by {millimetres(step.height_m, 2)}"
    density = metal.value("density")
    section = product(step.thickness_m, step.height_m)
    if step.length_m is None:
        weighs = ""
        if density is not None:
            weighs = f"; 100 mm of it weigh {amount_span(product(section, 0.1, density.band, 1e3))} g"
        return (
            f"the length of the wire of {metal.small} in step {step.number}: lay a thread along the drawing "
            f'and say length = "120 mm"{weighs}'
        )
    more = allowed["cloisonne-offcut"]
    needed = Band.exact(step.length_m * piece.quantity)
    taken = product(needed, Band(1 + more.band.value, 1 + more.band.low, 1 + more.band.high))
    sources, note = [more.source], ""
    if density is not None:
        note = f"it weighs {amount_span(product(section, taken, density.band, 1e3))} g"
        sources.append(density.source)
    return Amount(
        f"Wire of {metal.small}, {size}",
        metal.key,
        product(taken, 1e3),
        "mm",
        "length as said, and what is cut off",
        tuple(dict.fromkeys(sources)),
        (step.number,),
        product(needed, 1e3),
        note,
    )


def _inset(what: Glass | Metal, step: Step, piece: Piece) -> Amount:
    assert step.thickness_m is not None
    assert step.size_m is not None
    number = step.count * piece.quantity
    density = what.value("density")
    note, sources = f"{millimetres(step.size_m)} across, {millimetres(step.thickness_m)} thick", [_COMPUTED]
    if density is not None:
        across = product(math.pi / 4, step.size_m, step.size_m)
        mass = product(across, step.thickness_m, _OF_CYLINDER, density.band, number, 1e3)
        note += f"; together {amount_span(mass)} g, from rounded to flat"
        sources.append(density.source)
    return Amount(
        f"Set in: {what.small}",
        what.key,
        Band.exact(float(number)),
        "piece" if number == 1 else "pieces",
        "as many as said",
        tuple(dict.fromkeys(sources)),
        (step.number,),
        None,
        note,
    )


def _filled(ref: Reference, step: Step, piece: Piece, area: Band) -> Iterator[Amount]:
    """The glass that a recess or openings hold, as a part of the powders; nothing where no glass is laid there."""
    coats = [s for s in piece.steps_of("coat", "slip") if _lies_in(s, step)]
    glasses = {s.glass: ref.glass(s.glass) for s in piece.steps if s.glass}
    density = glasses[coats[0].glass].value("density") if coats else None
    if density is None:
        return
    if step.do == "opening":
        deep = sum(s.thickness_m.value * s.coverage for s in coats if s.thickness_m is not None)
        metal = piece.base.thickness_m.value
        what, note = "Glass in the openings", f"{_mm(deep)} deep where the metal is {_mm(metal)}"
        thick = Band(deep, *_ends(coats))
        how = "area × cover × thickness of its coats × density"
    else:
        assert step.depth_m is not None
        trail = walk(piece, glasses, {s.leaf: ref.leaf(s.leaf) for s in piece.steps if s.leaf})
        what, note = "Glass to fill the recess level", _level(trail, step)
        thick, how = step.depth_m, "area × cover × depth × density"
    mass = product(area, step.coverage, thick, density.band, piece.quantity, 1e3)
    yield Amount(
        what, "", mass, "g", how, (density.source,), tuple(s.number for s in coats),
        note=f"{note}; it is counted in the powders",
    )  # fmt: skip


def _lies_in(coat: Step, cell: Step) -> bool:
    """Whether a coat fills a cell: laid in it, or for a recess over its face."""
    if cell.do == "opening":
        return coat.within == "opening"
    return coat.face == cell.face and coat.within != "opening"


def _ends(coats: list[Step]) -> tuple[float, float]:
    bands = [(s.thickness_m, s.coverage) for s in coats if s.thickness_m is not None]
    return sum(b.low * c for b, c in bands), sum(b.high * c for b, c in bands)


def _level(trail: Walk, recess: Step) -> str:
    """Where the glass of a recess ends, in words."""
    (glass, land), mean = level_m(trail, recess), depth_m(recess)[1]
    off = glass - mean
    if land > BARE_M:
        return f"the coats fill it and stand {_mm(land)} over the metal"
    if abs(off) <= BARE_M:
        return "the coats fill it level"
    return f"the coats end {_mm(abs(off))} {'above' if off > 0 else 'below'} the metal"


def _mm(metres: float) -> str:
    return millimetres(Band.exact(metres), 2)


def _cut_out(metal: Metal, step: Step, piece: Piece, area: Band) -> Amount | str:
    density = metal.value("density")
    where = "recess" if step.do == "recess" else "openings"
    if density is None:
        return f"the density of {metal.key}, so what is cut out of it cannot be weighed"
    deep = step.depth_m if step.do == "recess" and step.depth_m is not None else piece.base.thickness_m
    mass = product(area, step.coverage, deep, density.band, piece.quantity, 1e3)
    return Amount(
        f"{metal.label} cut out, {where}",
        "",
        mass,
        "g",
        "area × cover × depth × density",
        (density.source,),
        (step.number,),
        note="it is kept as scrap",
    )
