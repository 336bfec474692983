"""The sample of a piece: every band of the inputs goes through all its firings, gaps and kiln settings together.

A question about a glass on a metal is a small piece (`judge.fit.question`) and goes the same way.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from refdb.frozen import dataclass
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
from refdb.judge.piece.held_against import SAMPLED_RULES, Held
from refdb.judge.piece.states import Coat, Fire, Walk
from refdb.judge.reason import Triple
from refdb.judge.stack import THINNEST_COAT_M, Cooled, Sheet, Stack, Worst, cooled, worst
from refdb.quantities.band import Band
from refdb.records import Metal
from refdb.science.plate import Array
from refdb.science.sampling import SAMPLES, bands_of, most_telling


def sample_pieces(pieces: Sequence[tuple[Walk, Metal]], samples: int = SAMPLES) -> list[Numbers]:
    """Put every band of each piece through its firings.

    Parameters
    ----------
    pieces : sequence of tuple
        Pieces with at least one firing whose glasses have every figure a verdict needs, and their metals. A set point
        beyond the metal's expansion curve is taken at the curve's end, and the rule `curve-end` says so.
    samples : int
        Draws; the same each time.

    Returns
    -------
    list of Numbers
        One for each piece; one stage a firing.
    """
    drawn = [Drawn(trail, metal, samples) for trail, metal in pieces]
    return [_numbers(one, found) for one, found in zip(drawn, cooled([d.stack for d in drawn]), strict=True)]


def shares_of_pieces(pieces: Sequence[tuple[Walk, Metal]], samples: int = SAMPLES) -> list[Triple]:
    """The joint shares of the outcomes of each piece, as `sample_pieces` finds them, in a fraction of its time."""
    drawn = [Drawn(trail, metal, samples) for trail, metal in pieces]
    overall = [
        np.max([row.grades for row in _rows(one, [found[k] for k in one.state_of])], axis=0)
        for one, found in zip(drawn, worst([d.stack for d in drawn]), strict=True)
    ]
    return shares(np.stack(overall)) if overall else []


@dataclass(frozen=True)
class Laid:
    """Glass of one face that is drawn as one: a coat of a piece, or all coats of a face in a question."""

    name: str
    face: str
    glass: str
    by_fire: tuple[Array, ...]


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
        What is to be cooled: a state for each build-up that differs.
    """

    def __init__(self, trail: Walk, metal: Metal, samples: int) -> None:
        self.trail, self.metal = trail, metal
        self.solid = [c for c in trail.coats if not c.line]
        records = {c.glass.key: c.glass for c in self.solid}
        offset_k = trail.offset_k
        self.draws = draws = Draws(_inputs(trail, self.solid, sampled_kiln=not offset_k.is_exact), samples)
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
        self.fires = [f for f in trail.fires if any(not trail.coats[n].line for n in f.coats)]
        self.laid = _laid(self.solid, self.fires, draws)
        # A firing that adds no coat leaves the plate as it was.
        built = [tuple(n for n in f.coats if not trail.coats[n].line) for f in self.fires]
        states = sorted(set(built))
        self.state_of = [states.index(b) for b in built]
        shown = [self.state_of.index(k) for k in range(len(states))]
        self.stack = Stack(
            self._sheets(shown),
            self.base,
            [self.fires[k].title for k in shown],
            *draws.dome(_rise(trail), _radius(trail)),
            again=[k in self.state_of[:-1] for k in range(len(states))],
        )

    def _sheets(self, shown: Sequence[int]) -> list[Sheet]:
        """The stack from the bottom up: the back's outermost coat first, then the metal, then the front outwards."""

        def sheet(laid: Laid) -> Sheet:
            return Sheet(laid.name, self.glasses[laid.glass], [laid.by_fire[k] for k in shown])

        return [
            *(sheet(x) for x in reversed(self.laid) if x.face == "back"),
            Sheet("metal", None, [self.metal_m] * len(shown)),
            *(sheet(x) for x in self.laid if x.face == "front"),
        ]

    @cached_property
    def gaps_ppm(self) -> dict[str, Array]:
        """The contraction gap of each glass on the metal."""
        return {key: gap_ppm(self.base, one) for key, one in self.glasses.items()}

    def face_m(self, face: str) -> Array:
        """All glass of a face once the piece is finished."""
        return np.asarray(
            np.sum([x.by_fire[-1] for x in self.laid if x.face == face] or [np.zeros_like(self.metal_m)], axis=0)
        )

    def first_step(self, glass: str) -> int:
        """Number of the step that first lays a glass."""
        return next(c.step.number for c in self.solid if c.glass.key == glass)


def _inputs(trail: Walk, solid: Sequence[Coat], *, sampled_kiln: bool) -> tuple[str, ...]:
    """Names of all inputs; the first columns of the sample are the most even."""
    # The kiln and the hoop of a rim stand last, so that what is drawn of the others does not hang on them.
    last = (kiln.INPUT,) if sampled_kiln else ()
    last = (*last, *HOOP_INPUTS) if trail.piece.shape == "domed" else last
    if trail.piece.is_question:
        return (*QUESTION_INPUTS, *last)
    glasses = {c.glass.key: c.glass for c in solid}
    return (
        "metal thickness",
        *METAL_INPUTS,
        *COMMON_INPUTS,
        *DOME_INPUTS,
        *(f"thickness of {c.step.title}" for c in solid),
        *(of_glass(n, g) for g in glasses.values() for n in GLASS_INPUTS),
        *last,
    )


def _laid(solid: Sequence[Coat], fires: Sequence[Fire], draws: Draws) -> list[Laid]:
    found: dict[str, list[Coat]] = {}
    for coat in solid:
        found.setdefault(coat.step.drawn_with or f"thickness of {coat.step.title}", []).append(coat)
    laid = []
    for name, coats in found.items():
        first = coats[0]
        layer = f"{first.face} glass" if first.step.drawn_with else f"{first.glass.key}, {first.face}"
        by_fire = [
            draws.thickness(name, _total([c for c in coats if c.number in f.coats]), THINNEST_COAT_M)
            * first.step.coverage
            for f in fires
        ]
        laid.append(Laid(layer, first.face, first.glass.key, tuple(by_fire)))
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


def _rows(one: Drawn, states: Sequence[Worst]) -> list[Held]:
    """Every sampled rule about every subject of a piece, from its states after cooling."""
    return [row for rule in SAMPLED_RULES for row in rule(one, states)]


def _numbers(one: Drawn, found: list[Cooled]) -> Numbers:
    """Everything sampled of a piece, from its states after cooling."""
    states = [found[k] for k in one.state_of]
    stages = tuple(_stages(one, states))
    rows = _rows(one, states)
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
        stage = replace(state.stage, name=fire.title, fire=fire.number)
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
