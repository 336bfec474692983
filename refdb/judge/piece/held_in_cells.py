"""What every draw of glass in openings and of what is set into glass is held against."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import numpy as np

from refdb.judge import limits
from refdb.judge.piece.held_against import Held
from refdb.judge.piece.states import Coat
from refdb.judge.piece.wires import WIRE_MODEL, of_wire, wire_metals
from refdb.judge.reason import Subject
from refdb.judge.rules import limit_of
from refdb.judge.stack import Inside, inside
from refdb.quantities.band import Band
from refdb.science.expansion import glass_strain
from refdb.science.plate import Array, ByPlate
from refdb.science.plate.duration import duration_factor
from refdb.science.plate.inset import misfit_pressure_pa, misfit_tension_pa
from refdb.science.plate.layers import Plates
from refdb.science.plate.opening import opening_stress
from refdb.science.plate.wire import Base, wire_stress
from refdb.science.plate.wire_around import Stratum

if TYPE_CHECKING:
    from refdb.judge.draws import GlassDraws
    from refdb.judge.piece.sample import Drawn
    from refdb.judge.piece.steps import Step

#: What is set in and no wider than this parts from its glass in a hair line or not at all [m]; see `other-threads`.
_DOT_M = 2.0e-3
#: Halfway from the set point to the room, where the hardening of a base is taken [°C].
_MIDWAY_C = 270.0


def _for_good(piece: Drawn) -> Array:
    """Strength of the glass while a load lasts [MPa]."""
    return np.asarray(piece.strength_mpa * duration_factor(limits.HOURS_FOR_GOOD))


def glass_in_openings(piece: Drawn) -> Iterator[Held]:
    """Stress of each glass in the openings once the piece is cold [MPa], against its strength for good."""
    fired = {n for f in piece.trail.fires for n in f.coats}
    coats = [c for c in piece.trail.coats if c.step.within == "opening" and c.number in fired]
    steps = piece.trail.piece.steps_of("opening")
    if not coats or not steps:
        return
    (step,) = steps
    assert step.size_m is not None
    assert step.frame_m is not None
    glass_m = np.full_like(piece.metal_m, sum(c.thickness_m.value * c.step.coverage for c in coats))
    fire = piece.trail.fires[-1]
    for key in dict.fromkeys(c.glass.key for c in coats):
        # Two openings share the bar between them.
        plates = _of_frame(piece, piece.glasses[key], glass_m)
        worst = opening_stress(step.size_m.value / 2, step.frame_m.value / 2, plates).glass_pa / 1e6
        grades = np.where(worst > _for_good(piece), 2.0, np.where(worst > limit_of("opening-glass").fine, 1.0, 0.0))
        yield Held("opening-glass", Subject(fire.step.number, fire.number, glass=key), grades, worst)


def _of_frame(piece: Drawn, glass: GlassDraws, glass_m: Array) -> Plates:
    """The frame and the glass in it, in every draw."""
    base, none = piece.base, np.full_like(glass_m, np.nan)
    return Plates(
        ("frame", "glass"),
        np.column_stack((np.broadcast_to(piece.metal_m, glass_m.shape), glass_m)),
        np.column_stack((base.youngs_pa, glass.youngs_pa)),
        np.column_stack((base.poisson, glass.poisson)),
        (base.strain, ByPlate(glass_strain, (glass.per_k,))),
        np.column_stack((none, glass.set_c)),
        (base.flow, None),
    )


def insets(piece: Drawn) -> Iterator[Held]:
    """Tension in and around glass that is set into other glass [MPa], against the strength for good."""
    for coat in (c for c in piece.trail.coats if c.step.do == "inset"):
        under = next((i for i in piece.trail.beneath(coat) if isinstance(i, Coat) and i.is_plate), None)
        if under is None or under.glass.key == coat.glass.key or piece.trail.fire_of(coat) is None:
            continue
        own, around = piece.glasses[coat.glass.key], piece.glasses[under.glass.key]
        misfit = (own.per_k - around.per_k) * (np.minimum(own.set_c, around.set_c) - 20.0)
        moduli = ((own.youngs_pa, own.poisson), (around.youngs_pa, around.poisson))
        worst = misfit_tension_pa(misfit_pressure_pa(misfit, *moduli)) / 1e6
        assert coat.step.size_m is not None
        cracks = 2.0 if coat.step.size_m.value > _DOT_M else 1.0
        grades = np.where(worst > _for_good(piece), cracks, np.where(worst > limit_of("inset-misfit").fine, 1.0, 0.0))
        yield Held(
            "inset-misfit", Subject(coat.step.number, glass=coat.glass.key, under=under.glass.key), grades, worst
        )


def _beneath(piece: Drawn, step: Step, state: int, found: Inside) -> Base:
    """What a wire stands on, from its foot down, and how far the metal of that flows."""
    sheets, base = piece.stack.sheets, piece.base
    metal_at = piece.sheet_numbers.index(-1)
    before = {c.number for c in piece.trail.before(step) if isinstance(c, Coat)}
    outward = 1 if step.face == "front" else -1
    face = range(metal_at + outward, len(sheets) if outward > 0 else -1, outward)
    bed = [k for k in face if piece.sheet_numbers[k] in before]
    strata = []
    for k in (*reversed(bed), *range(metal_at, -1 if outward > 0 else len(sheets), -outward)):
        of = base if k == metal_at else sheets[k].glass
        assert of is not None
        hardens = float(np.mean(base.flow.hardening_pa * base.flow.factor(_MIDWAY_C))) if k == metal_at else None
        thick = float(np.mean(sheets[k].thickness_m[state]))
        if thick > 0.0:
            strata.append(Stratum(thick, float(np.mean(of.youngs_pa)), float(np.mean(of.poisson)), hardens))
    # The plastic strain told is the equivalent one, twice that in the plane.
    plastic = found.plastic_strain / 2.0
    stretch = np.abs(found.mean_mpa[metal_at]) * 1e6 * (1.0 - base.poisson) / base.youngs_pa
    return Base(tuple(strata), plastic / np.maximum(plastic + stretch, 1e-12))


def wires(piece: Drawn) -> Iterator[Held]:
    """The pull of each wire on the glass at its side once the piece is cold [MPa], on average over its height."""
    known = wire_metals(piece.trail)
    part = next((p for p in piece.zones if p.fires and p.fires[-1] is piece.trail.fires[-1]), None)
    for step in piece.trail.piece.steps_of("wire"):
        over = [c for c in piece.trail.after(step) if isinstance(c, Coat) and c.is_plate]
        if step.metal not in known or part is None or not over or piece.trail.fire_of(over[-1]) is None:
            continue
        assert step.thickness_m is not None
        assert step.height_m is not None
        # The glass of the cells, told by its last coat, and how far the base squeezes it where no wire is.
        glass, number = piece.glasses[over[-1].glass.key], over[-1].number
        at = [n for n, x in enumerate(piece.sheet_numbers) if x == number]
        state = inside(piece.stack, part.state_of[-1])
        glass_pa = state.mean_mpa[at[0]] * 1e6
        metal = piece.draws.metal(piece.trail.metals[step.metal], of_wire(step.metal))
        set_c = np.minimum(glass.set_c, piece.trail.metals[step.metal].curve.high_c)
        one = np.ones_like(glass_pa)
        plates = Plates(
            ("wire", "glass"),
            np.column_stack((one * step.thickness_m.value, one * step.height_m.value)),
            np.column_stack((metal.youngs_pa, glass.youngs_pa)),
            np.column_stack((metal.poisson, glass.poisson)),
            (metal.strain, ByPlate(glass_strain, (glass.per_k,))),
            np.column_stack((one * np.nan, set_c)),
            (metal.flow, None),
        )
        found = wire_stress(plates, glass_pa, _beneath(piece, step, part.state_of[-1], state))
        missed = piece.draws.of(WIRE_MODEL, Band(0.0, -1.0, 1.0))
        across = (found.across_pa + found.across_missed_pa(missed)) / 1e6
        beside = (found.beside_pa + found.beside_missed_pa(missed)) / 1e6
        # Glass that is stretched beside its wire cracks from there.
        pulled = np.where(across > limit_of("wire-pulls").fine, 1.0, 0.0)
        grades = np.where(beside > _for_good(piece), 2.0, pulled)
        about = Subject(step.number, glass=over[-1].glass.key, metal=step.metal)
        yield Held("wire-pulls", about, grades, across)


#: Every sampled rule of cells, in the order in which findings stand where they weigh alike.
CELL_RULES: tuple[Callable[..., Iterator[Held]], ...] = (glass_in_openings, insets, wires)
