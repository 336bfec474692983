"""How much of everything a piece takes: powder, leaf, holding agent, clay and carbon, for the whole quantity.

Every amount is a value with its low and high: all factors at their middle, all on the small side, all on the large.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from refdb.frozen import dataclass, field, replace
from refdb.judge.clay import as_sintered
from refdb.judge.limits import DOME_RISE_M, DOME_SOURCE
from refdb.judge.piece.steps import Piece, Step
from refdb.plan.allowances import Allowances
from refdb.plan.amount import Amount, product
from refdb.quantities.typed import Band
from refdb.records import Glass, Metal
from refdb.store.reference import Reference

ONE = Band.exact(1.0)


@dataclass(frozen=True)
class Amounts:
    """All amounts of a piece, and what could not be told for want of a figure."""

    rows: tuple[Amount, ...]
    missing: tuple[str, ...] = ()
    quantity: int = 1
    area_m2: Band = field(default=ONE)


def divided(over: Band, under: Band) -> Band:
    """One band above zero divided by another: the smallest and the largest it can be."""
    return Band(over.value / under.value, over.low / under.high, over.high / under.low)


def kept(loss: Band) -> Band:
    """What is left of one when a share is lost."""
    return Band(1 - loss.value, 1 - loss.high, 1 - loss.low)


def face_area_m2(piece: Piece) -> Band:
    """Area of one face [m²]; a dome is taken as a spherical cap, whose area is π(a² + h²) over the base π·a²."""
    if piece.shape != "domed":
        return Band.exact(piece.area_m2)
    rise = piece.rise_m or Band(*DOME_RISE_M)
    radius_squared = piece.width_m * piece.height_m / 4
    return product(piece.area_m2, Band(*(1 + x * x / radius_squared for x in (rise.value, rise.low, rise.high))))


def is_washed(step: Step, glass: Glass) -> bool:
    """Whether the powder of this coat is washed: as the step says, else as its class of glass asks for."""
    return glass.wash == "yes" if step.washed is None else step.washed


def amounts_of(ref: Reference, piece: Piece, allowed: Allowances | None = None) -> Amounts:
    """How much of everything the whole quantity of a piece takes.

    Parameters
    ----------
    ref : Reference
        The store.
    piece : Piece
        The piece and how many of it.
    allowed : Allowances, optional
        The allowances of that store, where they are read already.

    Returns
    -------
    Amounts
        Powder [g] and leaf [cm²] for each material, holding agent [ml], and for a clay its fresh mass [g] and, where
        it is fired in carbon, the carbon [cm³].
    """
    allowed = allowed or Allowances(ref)
    area = face_area_m2(piece)
    by_dome = (DOME_SOURCE,) if piece.shape == "domed" and piece.rise_m is None else ()
    rows: list[Amount] = []
    missing: list[str] = []
    glasses: dict[str, list[Step]] = {}
    leaves: dict[str, list[Step]] = {}
    for step in piece.steps:
        if step.glass:
            glasses.setdefault(step.glass, []).append(step)
        elif step.do == "leaf":
            leaves.setdefault(step.leaf, []).append(step)
    for key, steps in glasses.items():
        if all(s.do == "inset" for s in steps):
            continue
        row = _powder(ref.glass(key), [s for s in steps if s.do != "inset"], area, piece, allowed)
        if isinstance(row, str):
            missing.append(row)
        else:
            rows.append(row)
    for key, steps in leaves.items():
        rows.append(_leaf(ref, key, steps, area, piece.quantity, allowed))
    if any(s.do in ("coat", "leaf") and s.within != "opening" for s in piece.steps):
        rows.append(_agent(piece, area, allowed))
    if piece.steps_of("wire", "inset", "recess", "opening"):
        # Most pieces have none, and do not load this.
        from refdb.plan.amounts_of_cells import amounts_of_cells

        for found in amounts_of_cells(ref, piece, area, allowed):
            (missing if isinstance(found, str) else rows).append(found)  # type: ignore[arg-type]
    metal = as_sintered(ref.metal(piece.base.metal), piece.base.sintered)
    if metal.form == "clay":
        clay = _clay(metal, piece, area, allowed)
        if isinstance(clay, str):
            missing.append(clay)
        else:
            rows.append(clay)
        if metal.fired_in_carbon:
            rows.append(_carbon(metal, piece, allowed))
    rows = [
        replace(
            r, sources=_once([*r.sources, *by_dome]), left=ref.grams_left(r.key) if r.key and r.unit == "g" else None
        )
        for r in rows
    ]
    return Amounts(tuple(rows), tuple(missing), piece.quantity, area)


def _share(piece: Piece, step: Step) -> Band | float:
    """What a coat covers of its face; in a recess or in openings the share of those, by their mean depth."""
    if not step.within:
        return step.coverage
    (cell,) = (s for s in piece.steps_of(step.within) if step.within == "opening" or s.face == step.face)
    return step.coverage * cell.coverage


def _powder(glass: Glass, steps: list[Step], area: Band, piece: Piece, allowed: Allowances) -> Amount | str:
    density = glass.value("density")
    if density is None:
        return f"the density of {glass.key}, so its powder cannot be weighed; weigh a fired tile of known area"
    on_piece, out = Band.exact(0.0), Band.exact(0.0)
    sift, wash = allowed["sift-loss"], allowed["wash-loss"]
    sources = [density.source, sift.source]
    washed = False
    for step in steps:
        cover = _share(piece, step)
        if step.do == "line" and step.coverage >= 1.0:
            cover = allowed["line-cover"].band
            sources.append(allowed["line-cover"].source)
        assert step.thickness_m is not None
        mass = product(area, cover, step.thickness_m, density.band, piece.quantity, 1e3)
        taken = divided(mass, kept(sift.band))
        if is_washed(step, glass):
            taken, washed = divided(taken, kept(wash.band)), True
        on_piece, out = on_piece.plus(mass), out.plus(taken)
    how = "area × cover × fired thickness × density, and what falls beside in sifting"
    if washed:
        how += " and goes with the washing"
        sources.append(wash.source)
    return Amount(glass.label, glass.key, out, "g", how, _once(sources), tuple(s.number for s in steps), on_piece)


def _leaf(ref: Reference, key: str, steps: list[Step], area: Band, quantity: int, allowed: Allowances) -> Amount:
    leaf = ref.leaf(key)
    trim = allowed["foil-overlap"]
    covered = product(area, sum(s.coverage for s in steps), quantity, 1e4)
    cut = product(covered, Band(1 + trim.band.value, 1 + trim.band.low, 1 + trim.band.high))
    sheet_m2, sheet_source = allowed.leaf_area_m2()
    sheets = [max(1, math.ceil(x / (sheet_m2 * 1e4) - 1e-9)) for x in (cut.low, cut.high)]
    count = f"{sheets[0]}" if sheets[0] == sheets[1] else f"{sheets[0]} to {sheets[1]}"
    side = f"{math.sqrt(sheet_m2) * 1e3:.0f} mm"
    note = f"by area {count} leaves of {side} square" if count != "1" else f"by area one leaf of {side} square"
    sources = [trim.source, sheet_source]
    areal = leaf.value("areal_mass")
    if areal is not None:
        mass = product(cut, areal.band, 0.1)
        note += f"; it weighs {mass.low:.2g} to {mass.high:.2g} g"
        sources.append(areal.source)
    return Amount(
        leaf.label,
        key,
        cut,
        "cm²",
        "area × cover, and the trim",
        _once(sources),
        tuple(s.number for s in steps),
        covered,
        note,
    )


def _agent(piece: Piece, area: Band, allowed: Allowances) -> Amount:
    film, thinned = allowed["agent-volume"], allowed["agent-sifting"]
    steps = [s for s in piece.steps if s.do in ("coat", "leaf") and s.within != "opening"]
    faces = sum(s.coverage * (s.siftings or 1) for s in steps)
    volume = product(area, faces, film.band, piece.quantity, 1e6)
    parts = thinned.band
    neat = divided(volume, Band(1 + parts.value, 1 + parts.low, 1 + parts.high))
    return Amount(
        "Holding agent, thinned",
        "",
        volume,
        "ml",
        "area of every coat and leaf × film",
        _once([film.source, thinned.source]),
        tuple(s.number for s in steps),
        None,
        f"{neat.low:.2g} to {neat.high:.2g} ml of it neat, in {parts.low:g} to {parts.high:g} parts of water",
    )


def _clay(metal: Metal, piece: Piece, area: Band, allowed: Allowances) -> Amount | str:
    density = metal.value("density")
    if density is None:
        return f"the density of fired {metal.key}, so its clay cannot be weighed"
    binder = allowed["clay-binder"]
    fired = product(area, piece.base.thickness_m, density.band, piece.quantity, 1e3)
    return Amount(
        metal.label,
        metal.key,
        divided(fired, kept(binder.band)),
        "g",
        "fired area × fired thickness × density of the fired, porous metal, and the binder that burns off",
        _once([density.source, binder.source]),
        (),
        fired,
        "offcuts come on top and go back into the packet",
    )


def fresh_size_m(piece: Piece, metal: Metal) -> tuple[Band, Band, Band]:
    """Width, height and thickness before firing [m]: as given, else fired size over one less the shrinkage.

    For a sheet, and for a clay whose shrinkage is not known, these are the sizes of the finished piece.
    """
    shrinkage = metal.band("shrinkage") if metal.form == "clay" else None
    rest = kept(shrinkage.scaled(0.01)) if shrinkage is not None else ONE
    base = piece.base
    wide, high = (
        Band.exact(given) if given else divided(Band.exact(fired), rest)
        for given, fired in ((base.fresh_width_m, piece.width_m), (base.fresh_height_m, piece.height_m))
    )
    return wide, high, base.fresh_thickness_m or divided(base.thickness_m, rest)


def fresh_depth_m(piece: Piece, metal: Metal) -> Band:
    """Height that a piece takes up lying down, before firing [m]: its thickness, and the rise of a dome."""
    thick = fresh_size_m(piece, metal)[2]
    if piece.shape != "domed":
        return thick
    rise = piece.rise_m or Band(*DOME_RISE_M)
    return thick.plus(rise)


def _carbon(metal: Metal, piece: Piece, allowed: Allowances) -> Amount:
    wide, high, thick = fresh_size_m(piece, metal)
    depth = allowed["carbon-depth"]
    around = 2 * depth.band.high
    sizes = [
        (getattr(wide, k), getattr(high, k), getattr(fresh_depth_m(piece, metal), k), getattr(thick, k))
        for k in ("value", "low", "high")
    ]
    volume = Band(
        *(((w + around) * (h + around) * (d + around) - w * h * t) * 1e6 * piece.quantity for w, h, d, t in sizes)
    )
    burnt = allowed["carbon-loss"]
    return Amount(
        "Activated carbon",
        "",
        volume,
        "cm³",
        f"each piece with {depth.band.high * 1e3:.0f} mm around it, less the piece",
        _once([depth.source, burnt.source]),
        (),
        None,
        f"{burnt.band.low * 100:.0f} to {burnt.band.high * 100:.0f} % burns away in a fire; pieces "
        "that share a container share carbon",
    )


def _once(keys: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(keys))
