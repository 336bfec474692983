"""How much wire a piece takes, what is set into it, and what metal is cut out of it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from refdb.judge.piece.steps import Piece, Step
from refdb.plan.amount import Amount, product
from refdb.plan.words import amount_span, millimetres, small
from refdb.quantities.typed import Band

if TYPE_CHECKING:
    from refdb.plan.allowances import Allowances
    from refdb.records import Glass, Metal
    from refdb.store.reference import Reference

#: A disc fills the cylinder around it, a cabochon or a bead two thirds of that: value, low, high.
_OF_CYLINDER = Band(5 / 6, 2 / 3, 1.0)
_COMPUTED = "computed-here"


def amounts_of_cells(ref: Reference, piece: Piece, area: Band, allowed: Allowances) -> Iterator[Amount | str]:
    """Wire, insets and metal cut out, step by step; words where a figure is missing.

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
            f"the length of the wire of {small(metal.label)} in step {step.number}: lay a thread along the drawing "
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
        f"Wire of {small(metal.label)}, {size}",
        metal.key,
        product(taken, 1e3),
        "mm",
        "length as the file says, and what is cut off",
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
        f"Set in: {small(what.label)}",
        what.key,
        Band.exact(float(number)),
        "piece" if number == 1 else "pieces",
        "as many as the file says",
        tuple(dict.fromkeys(sources)),
        (step.number,),
        None,
        note,
    )


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
