"""The sample of a piece: every band of the inputs goes through all its firings, gaps and kiln settings together.

A question about a glass on a metal is a small piece (`judge.fit.question`) and goes the same way.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Iterator, Sequence
from functools import cached_property

import numpy as np

from refdb.frozen import dataclass, replace
from refdb.judge import limits
from refdb.judge.draws import (
    COMMON_INPUTS,
    DOME_INPUTS,
    GLASS_INPUTS,
    HOOP_INPUTS,
    METAL_INPUTS,
    QUESTION_INPUTS,
    Draws,
    GlassDraws,
    MetalDraws,
    gap_ppm,
    of_glass,
    shares,
)
from refdb.judge.numbers import Numbers, RuleNumbers, SampledStage
from refdb.judge.own import kiln
from refdb.judge.piece.held_against import OF_ZONES, SAMPLED_RULES, Held, thicknesses
from refdb.judge.piece.states import Coat, Fire, Walk
from refdb.judge.piece.wires import WIRE_MODEL, of_wire, wire_metals
from refdb.judge.piece.zones import PLAIN, Zone, is_spot, zones_of
from refdb.judge.reason import INSET, ZONES, Triple
from refdb.judge.stack import THINNEST_COAT_M, Cooled, Sheet, Stack, Worst, cooled, worst
from refdb.quantities.band import Band
from refdb.records import Metal
from refdb.science.plate import Array
from refdb.science.sampling import SAMPLES, bands_of, most_telling


def sample_beside(
    pieces: Sequence[tuple[Walk, Metal]], others: Sequence[tuple[Walk, Metal]], samples: int = SAMPLES
) -> tuple[list[Numbers], list[Triple]]:
    """Put every band of each piece through its firings, and of others find the shares alone; all cool in one call.

    Parameters
    ----------
    pieces, others : sequence of tuple
        Pieces with at least one firing whose glasses have every figure a verdict needs, and their metals. A set point
        beyond the metal's expansion curve is taken at the curve's end, and the rule `curve-end` says so.
    samples : int
        Draws; the same each time.

    Returns
    -------
    list of Numbers
        One for each of `pieces`; one stage a firing.
    list of Triple
        What `shares_of_pieces` finds of `others`.
    """
    drawn, beside = ([Drawn(trail, metal, samples) for trail, metal in some] for some in (pieces, others))
    whole, worst_of = cooled([d.stack for d in drawn], [d.stack for d in beside])
    numbers = [_numbers(one, found) for one, found in zip(drawn, whole, strict=True)]
    return numbers, _shares(beside, worst_of)


def shares_of_pieces(pieces: Sequence[tuple[Walk, Metal]], samples: int = SAMPLES) -> list[Triple]:
    """The joint shares of the outcomes of each piece, as `sample_beside` finds them, in a fraction of its time."""
    drawn = [Drawn(trail, metal, samples) for trail, metal in pieces]
    return _shares(drawn, worst([d.stack for d in drawn]))


def _shares(drawn: Sequence[Drawn], found: Sequence[Sequence[Worst]]) -> list[Triple]:
    overall = [
        np.max([row.grades for row in _rows(one, states)], axis=0) for one, states in zip(drawn, found, strict=True)
    ]
    return shares(np.stack(overall)) if overall else []


@dataclass(frozen=True)
class Laid:
    """Glass of one face that is drawn as one: a coat of a piece, or all coats of a face in a question."""

    name: str
    face: str
    glass: str
    by_fire: tuple[Array, ...]
    coat: Coat


class Drawn:
    """One piece with its inputs drawn [SI, (samples,) each].

    Attributes
    ----------
    base : MetalDraws
    glasses : dict of str to GlassDraws
        By key.
    metal_m : array
    strength_mpa, release_care, release_not : array
        Short-time strength of the glass [MPa], and the release that wants care and throws off [J/m²].
    ring_stronger : float or array
        How much stronger than that is a ring around the rim of a dome [-].
    laid : list of Laid
        Thickness at each of `fires` [m].
    fires : list of Fire
        Those with glass on.
    offset_k : float or array
        How much hotter the kiln is than it shows [K].
    stack : Stack
        What is to be cooled: a state for each build-up that differs, in each zone.
    sheet_numbers : list of int
        The number of the coat of each sheet of `stack`, -1 for the metal.
    zone : str
        The part of the piece that it is, empty for the whole.
    state_of : list of int
        The state of each of `fires`.
    zones : list of Drawn
        The same with the metal, glass and fires of each part that is judged as a plate.
    """

    def __init__(self, trail: Walk, metal: Metal, samples: int) -> None:
        self.trail, self.metal = trail, metal
        self.zone = ""
        self.state_of: list[int] = []
        self.solid = [c for c in trail.coats if c.is_plate]
        records = trail.solid
        offset_k = trail.offset_k
        zones = zones_of(trail)
        inset = [z.inset for z in zones if z.inset is not None]
        self.draws = draws = Draws(_inputs(trail, [*self.solid, *inset], sampled_kiln=not offset_k.is_exact), samples)
        self.offset_k = offset_k.value if offset_k.is_exact else draws.of(kiln.INPUT, offset_k)
        self.base: MetalDraws = draws.metal(metal)
        self.strength_mpa = draws.of("glass strength", Band(*limits.STRENGTH_MPA))
        self.ring_stronger: float | Array = 1.0
        if trail.piece.shape == "domed":
            self.ring_stronger = draws.of("strength of a ring", Band(*limits.RING_STRONGER))
        self.release_care = draws.of("release that wants care", Band(*limits.RELEASE_CARE_J_M2))
        self.release_not = draws.of("release that throws off", Band(*limits.RELEASE_NOT_J_M2))
        self.metal_m = draws.thickness("metal thickness", trail.piece.base.thickness_m, limits.THINNEST_METAL_M)
        several = not trail.piece.is_question
        self.glasses: dict[str, GlassDraws] = {k: draws.glass(g, metal, several) for k, g in records.items()}
        plate = {c.number for c in self.solid}
        self.fires = [f for f in trail.fires if plate.intersection(f.coats)]
        self.laid = _laid(self.solid, self.fires, draws)
        set_in = _laid(inset, self.fires, draws, whole=True)
        self.zones = [self._part(zone, set_in) for zone in zones] if zones != (PLAIN,) else [self]
        every = _in_order([*self.laid, *set_in])
        keys: dict[tuple[str, tuple[int, ...]], tuple[int, Drawn]] = {}
        for part in self.zones:
            # A firing that adds no coat leaves the plate as it was.
            built = [tuple(sorted(plate.union(c.number for c in inset).intersection(f.coats))) for f in part.fires]
            for k in sorted(range(len(built)), key=lambda k: (built[k], k)):
                keys.setdefault((part.zone, built[k]), (k, part))
            part.state_of = [list(keys).index((part.zone, b)) for b in built]
        shown = list(keys.values())
        again = {k for part in self.zones for k in part.state_of[:-1]}
        self.sheet_numbers = [
            *(x.coat.number for x in reversed(every) if x.face == "back"),
            -1,
            *(x.coat.number for x in every if x.face == "front"),
        ]
        self.stack = Stack(
            [
                *(self._sheet(x, shown) for x in reversed(every) if x.face == "back"),
                Sheet("metal", None, [part.metal_m for _, part in shown]),
                *(self._sheet(x, shown) for x in every if x.face == "front"),
            ],
            self.base,
            [part.fires[k].title for k, part in shown],
            *draws.dome(_rise(trail), _radius(trail)),
            again=[k in again for k in range(len(shown))],
        )

    def _sheet(self, laid: Laid, shown: Sequence[tuple[int, Drawn]]) -> Sheet:
        """A coat in every state: how thick it is in that firing of that zone."""
        none = np.zeros_like(self.metal_m)
        thick = [part.by_coat.get(laid.coat.number, (none,) * len(part.fires))[k] for k, part in shown]
        return Sheet(laid.name, self.glasses[laid.glass], thick)

    @cached_property
    def by_coat(self) -> dict[int, tuple[Array, ...]]:
        """Thickness at each of `fires` by the number of the coat."""
        return {x.coat.number: x.by_fire for x in self.laid}

    def _part(self, zone: Zone, set_in: Sequence[Laid]) -> Drawn:
        """One zone: its metal, its glass as thick as it is there, and the fires in which any is on."""
        part = copy.copy(self)
        part.zone = zone.name
        part.metal_m = np.maximum(self.metal_m - zone.cut_m, limits.THINNEST_METAL_M)
        laid = [replace(x, by_fire=tuple(t * zone.share(x.coat) for t in x.by_fire)) for x in self.laid]
        laid = _in_order([*laid, *(x for x in set_in if x.coat is zone.inset)])
        laid = [x for x in laid if any(t.max() > 0 for t in x.by_fire)]
        on = [k for k in range(len(self.fires)) if any(x.by_fire[k].max() > 0 for x in laid)]
        part.fires = [self.fires[k] for k in on]
        part.laid = [replace(x, by_fire=tuple(x.by_fire[k] for k in on)) for x in laid]
        return part

    @cached_property
    def gaps_ppm(self) -> dict[str, Array]:
        """The contraction gap on the metal of each glass that is laid on it or in it."""
        return {key: gap_ppm(self.base, self.glasses[key]) for key in dict.fromkeys(c.glass.key for c in self.on_metal)}

    @property
    def on_metal(self) -> list[Coat]:
        """Coats on the metal or in its openings."""
        return [c for c in self.trail.coats if not c.line]

    def face_m(self, face: str) -> Array:
        """All glass of a face once the piece is finished."""
        return np.asarray(
            np.sum([x.by_fire[-1] for x in self.laid if x.face == face] or [np.zeros_like(self.metal_m)], axis=0)
        )

    def lies_as_spots(self, glass: str) -> bool:
        """Whether a glass is no more than spots on the piece."""
        return all(is_spot(c) for c in self.on_metal if c.glass.key == glass)

    def first_step(self, glass: str) -> int:
        """Number of the step that first lays a glass."""
        return next(c.step.number for c in self.on_metal if c.glass.key == glass)


def _inputs(trail: Walk, solid: Sequence[Coat], *, sampled_kiln: bool) -> tuple[str, ...]:
    """Names of all inputs; the first columns of the sample are the most even."""
    # The kiln and the hoop of a rim stand last, so that what is drawn of the others does not hang on them.
    last = (kiln.INPUT,) if sampled_kiln else ()
    last = (*last, *HOOP_INPUTS) if trail.piece.shape == "domed" else last
    if trail.piece.is_question:
        return (*QUESTION_INPUTS, *last)
    glasses = trail.solid
    return (
        "metal thickness",
        *METAL_INPUTS,
        *COMMON_INPUTS,
        *DOME_INPUTS,
        *(f"thickness of {c.step.title}" for c in solid),
        *(of_glass(n, g) for g in glasses.values() for n in GLASS_INPUTS),
        *(f"{n}{of_wire(key)}" for key in wire_metals(trail) for n in METAL_INPUTS),
        *([WIRE_MODEL] if trail.piece.steps_of("wire") else []),
        *last,
    )


def _in_order(laid: Sequence[Laid]) -> list[Laid]:
    return sorted(laid, key=lambda x: x.coat.number)


def _laid(solid: Sequence[Coat], fires: Sequence[Fire], draws: Draws, *, whole: bool = False) -> list[Laid]:
    """Coats as they are drawn; `whole` where they count as thick as they are, whatever they cover."""
    found: dict[str, list[Coat]] = {}
    for coat in solid:
        found.setdefault(coat.step.drawn_with or f"thickness of {coat.step.title}", []).append(coat)
    laid = []
    for name, coats in found.items():
        first = coats[0]
        layer = f"{first.face} glass" if first.step.drawn_with else f"{first.glass.key}, {first.face}"
        by_fire = [
            draws.thickness(name, _total([c for c in coats if c.number in f.coats]), THINNEST_COAT_M)
            * (1.0 if whole else first.step.coverage)
            for f in fires
        ]
        laid.append(Laid(layer, first.face, first.glass.key, tuple(by_fire), first))
    return laid


def _total(coats: Sequence[Coat]) -> Band:
    bands = [c.thickness_m for c in coats]
    return Band(sum(b.value for b in bands), sum(b.low for b in bands), sum(b.high for b in bands))


def _rise(trail: Walk) -> Band | None:
    if trail.piece.shape != "domed":
        return None
    return trail.piece.rise_m or Band(*limits.DOME_RISE_M)


def _radius(trail: Walk) -> Band | None:
    """That of a round dome as large as the piece; None of a question, which has no size."""
    return None if trail.piece.is_question else Band.exact((trail.piece.area_m2 / math.pi) ** 0.5)


def _rows(one: Drawn, found: Sequence[Worst]) -> list[Held]:
    """Every sampled rule about every subject of a piece, from its states after cooling; of plates zone by zone."""
    rows: list[Held] = []
    for rule in SAMPLED_RULES:
        for part in one.zones if rule in OF_ZONES else (one,):
            # How faces and metal go together is not told by what is set in at one place.
            if rule in OF_ZONES and (not part.fires or (rule is thicknesses and part.zone == INSET)):
                continue
            states = [found[k] for k in part.state_of] if rule in OF_ZONES else []
            named = rule(part, states)
            rows += (replace(r, subject=replace(r.subject, zone=part.zone)) for r in named) if part.zone else named
    if one.trail.piece.steps_of("opening", "inset", "wire"):
        from refdb.judge.piece.held_in_cells import CELL_RULES

        rows += [row for of_cells in CELL_RULES for row in of_cells(one)]
    return rows


def _worst_zone(one: Drawn, rows: Sequence[Held]) -> Drawn:
    """The part that holds in the fewest draws, of those that are on in the most fires: its stages are told."""
    if len(one.zones) == 1:
        return one.zones[0]

    def weight(part: Drawn) -> tuple[int, float]:
        of_zone = [row.grades for row in rows if row.subject.zone == part.zone]
        return len(part.fires), float(np.max(of_zone, axis=0).mean()) if of_zone else 0.0

    return max(one.zones, key=weight)


def _numbers(one: Drawn, found: list[Cooled]) -> Numbers:
    """Everything sampled of a piece, from its states after cooling."""
    rows = _rows(one, found)
    part = _worst_zone(one, rows)
    stages = tuple(_stages(part, [found[k] for k in part.state_of]))
    grades = np.stack([row.grades for row in rows])
    overall = grades.max(axis=0)
    measures = (
        _measures_of_question(one)
        if one.trail.piece.is_question
        else {
            "metal_thickness_mm": one.metal_m * 1e3,
            "front_mm": one.face_m("front") * 1e3,
            "back_mm": one.face_m("back") * 1e3,
        }
    )
    bands = [(a, b, c) for a, b, c in bands_of(np.stack([*(row.found for row in rows), *measures.values()])).tolist()]
    whole, *each = shares(np.vstack((overall, grades)))
    rules = tuple(
        RuleNumbers(row.rule, row.subject, split, band) for row, split, band in zip(rows, each, bands, strict=False)
    )
    return Numbers(
        whole,
        rules,
        dict(zip(measures, bands[len(rows) :], strict=True)),
        stages,
        most_telling(one.draws.wide, overall),
    )


def _stages(one: Drawn, states: Sequence[Cooled]) -> Iterator[SampledStage]:
    """The stage of each firing, bent by the fires before it as well: what they left in the metal adds up."""
    left_mm = np.zeros_like(one.metal_m)
    for state, fire in zip(states, one.fires, strict=True):
        where = f", at {ZONES[one.zone]}" if one.zone else ""
        stage = replace(state.stage, name=f"{fire.title}{where}", fire=fire.number, zone=one.zone)
        if left_mm.any():
            bow, left = bands_of(np.stack((state.bow_mm + left_mm, left_mm))).tolist()
            stage = replace(stage, bow_mm=tuple(bow), left_mm=tuple(left))
        yield stage
        left_mm = left_mm + state.left_mm


def _measures_of_question(one: Drawn) -> dict[str, Array]:
    (drawn,), (gap,) = one.glasses.values(), one.gaps_ppm.values()
    solidus = one.metal.band("solidus")
    assert solidus is not None
    # The window that is told keeps to where the metal surely does not melt yet.
    surely_solid_c = np.minimum(one.base.solidus_c, solidus.low)
    return {
        "gap_ppm": gap,
        "glass_expansion_ppm_per_k": drawn.figure_per_k * 1e6,
        "metal_expansion_ppm_per_k": one.base.strain(drawn.set_c) / (drawn.set_c - 20.0) * 1e6,
        "set_point_c": drawn.set_c,
        "metal_thickness_mm": one.metal_m * 1e3,
        "kiln_low_c": drawn.fuse_low_c,
        "kiln_high_c": np.minimum(
            np.minimum(drawn.fuse_high_c, surely_solid_c - limits.SOLIDUS_MARGIN_K), one.trail.piece.kiln_most_c
        ),
    }
