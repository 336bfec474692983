"""The sample of a layered piece: every firing's plate, every glass's gap and kiln window, drawn together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from refdb.judge import limits
from refdb.judge.draws import (
    DOME_INPUTS,
    GLASS_INPUTS,
    METAL_INPUTS,
    Draws,
    GlassDraws,
    MetalDraws,
    gap_ppm,
    graded,
    of_glass,
    shares,
)
from refdb.judge.fit.build import THINNEST_METAL_M
from refdb.judge.numbers import Numbers, RuleNumbers, SampledStage
from refdb.judge.own import kiln
from refdb.judge.piece.states import Coat, Fire, Walk
from refdb.judge.stack import THINNEST_COAT_M, Sheet, Stack, cooled, thickness_rules
from refdb.quantities.typed import Band
from refdb.records import Metal
from refdb.science.plate import Array
from refdb.science.sampling import SAMPLES, bands_of, most_telling


def sample_pieces(pieces: Sequence[tuple[Walk, Metal]], samples: int = SAMPLES) -> list[Numbers]:
    """Put every band of each piece through its firings.

    Parameters
    ----------
    pieces : sequence of tuple
        Pieces with at least one firing whose glasses have every figure a verdict needs, and their metals.
    samples : int
        Draws; the same each time.

    Returns
    -------
    list of Numbers
        Rules are keyed "rule:step number" or "rule:step number:glass key"; one stage a firing.
    """
    sampled = [_Sampled(trail, metal, samples) for trail, metal in pieces]
    return [one.numbers(*found) for one, found in zip(sampled, cooled([s.stack for s in sampled]), strict=True)]


class _Sampled:
    """One piece with its inputs drawn: first the stack to be cooled, then the numbers."""

    def __init__(self, trail: Walk, metal: Metal, samples: int) -> None:
        self.trail, self.metal = trail, metal
        self.solid = solid = [c for c in trail.coats if not c.line]
        glasses = {c.glass.key: c.glass for c in solid}
        # One kiln for all firings. Last, so that what is drawn of the others does not hang on it.
        offset_k = next((f.offset_k for f in trail.fires if f.step.kiln_c is not None), kiln.TRUE)
        self.draws = draws = Draws(
            (
                "metal thickness",
                *METAL_INPUTS,
                *DOME_INPUTS,
                *(f"thickness of {c.step.title}" for c in solid),
                *(of_glass(n, g) for g in glasses.values() for n in GLASS_INPUTS),
                *(() if offset_k.is_exact else (kiln.INPUT,)),
            ),
            samples,
        )
        self.offset_k = offset_k.value if offset_k.is_exact else draws.of(kiln.INPUT, offset_k)
        self.base = draws.metal(metal)
        self.metal_m = draws.thickness("metal thickness", trail.piece.base.thickness_m, THINNEST_METAL_M)
        self.drawn = {key: draws.glass(glass, metal, several=True) for key, glass in glasses.items()}
        self.coats = {
            c.number: draws.thickness(f"thickness of {c.step.title}", c.thickness_m, THINNEST_COAT_M) * c.step.coverage
            for c in solid
        }
        self.fires = [f for f in trail.fires if any(not trail.coats[n].line for n in f.coats)]
        # A firing that adds no coat leaves the plate as it was.
        built = [tuple(n for n in f.coats if n in self.coats) for f in self.fires]
        self.state_of = [sorted(set(built)).index(b) for b in built]
        states = [self.fires[self.state_of.index(k)] for k in range(len(set(built)))]
        self.stack = Stack(
            _sheets(trail, solid, self.coats, self.metal_m, self.drawn, states),
            self.base,
            [f.title for f in states],
            *draws.dome(_rise(trail)),
        )

    def numbers(self, told: tuple[SampledStage, ...], worst_of: list[Array]) -> Numbers:
        """All that is told of the piece, with its stages and their worst tensions."""
        trail, base, solid, metal_m = self.trail, self.base, self.solid, self.metal_m
        outcomes: dict[str, Array] = {}
        found: dict[str, Array] = {}
        stages = tuple(replace(told[k], name=f.title) for k, f in zip(self.state_of, self.fires, strict=True))
        for fire, worst in zip(self.fires, (worst_of[k] for k in self.state_of), strict=True):
            limit = limits.TENSION_LASTING if fire is trail.fires[-1] else limits.TENSION_BETWEEN
            key = f"{limit.key}:{fire.step.number}"
            outcomes[key], found[key] = graded(worst, limit.fine, limit.care), worst
        for glass_key, one in self.drawn.items():
            first = next(c for c in solid if c.glass.key == glass_key)
            key = f"gap:{first.step.number}:{glass_key}"
            gap = gap_ppm(base, one)
            outcomes[key], found[key] = graded(gap, limits.GAP.fine, limits.GAP.care), gap
            if one.beyond.any():
                outcomes[f"curve-end:{first.step.number}:{glass_key}"] = one.beyond
                found[f"curve-end:{first.step.number}:{glass_key}"] = one.set_asked_c
        for fire in trail.fires:
            _heat(trail, fire, self.offset_k, base, self.drawn, outcomes, found)
        front_m, back_m = (_face(solid, self.coats, face, metal_m) for face in ("front", "back"))
        thickness_rules(
            front_m, back_m, metal_m, self.metal, {c.face for c in solid} == {"front", "back"}, outcomes, found
        )
        graded_ = np.stack(list(outcomes.values()))
        overall = graded_.max(axis=0)
        measures = {"metal_thickness_mm": metal_m * 1e3, "front_mm": front_m * 1e3, "back_mm": back_m * 1e3}
        bands = bands_of(np.stack([*(found[k] for k in outcomes), *measures.values()])).tolist()
        of = dict(zip((*outcomes, *measures), map(tuple, bands), strict=True))
        whole, *each = shares(np.vstack((overall, graded_)))
        return Numbers(
            whole,
            {k: RuleNumbers(s, of[k]) for k, s in zip(outcomes, each, strict=True)},
            {k: of[k] for k in measures},
            stages,
            most_telling(self.draws.wide, overall),
        )


def _rise(trail: Walk) -> Band | None:
    if trail.piece.shape != "domed":
        return None
    return trail.piece.rise_m or Band(*limits.DOME_RISE_M)


def _face(solid: list[Coat], coats: dict[int, Array], face: str, like: Array) -> Array:
    return np.asarray(np.sum([coats[c.number] for c in solid if c.face == face] or [np.zeros_like(like)], axis=0))


def _sheets(
    trail: Walk,
    solid: list[Coat],
    coats: dict[int, Array],
    metal_m: Array,
    drawn: dict[str, GlassDraws],
    fires: list[Fire],
) -> list[Sheet]:
    """The stack from the bottom up: the back's outermost coat first, then the metal, then the front outwards."""

    def sheet(coat: Coat) -> Sheet:
        return Sheet(
            f"{coat.glass.key}, {coat.face}",
            drawn[coat.glass.key],
            [coats[coat.number] * (coat.number in f.coats) for f in fires],
        )

    return [
        *(sheet(c) for c in reversed(solid) if c.face == "back"),
        Sheet("metal", None, [metal_m] * len(fires)),
        *(sheet(c) for c in solid if c.face == "front"),
    ]


def _heat(
    trail: Walk,
    fire: Fire,
    offset_k: float | Array,
    base: MetalDraws,
    drawn: dict[str, GlassDraws],
    outcomes: dict[str, Array],
    found: dict[str, Array],
) -> None:
    """The kiln of one firing against the metal and against every glass that is on."""
    if fire.step.kiln_c is None:
        return
    heat = fire.step.kiln_c + offset_k
    ceiling = base.solidus_c - limits.SOLIDUS_MARGIN_K
    key = f"metal-melts:{fire.step.number}"
    outcomes[key], found[key] = np.where(heat > ceiling, 2.0, 0.0), ceiling
    for number in fire.coats:
        coat = trail.coats[number]
        one = drawn.get(coat.glass.key)
        if one is None:
            continue
        over, under = heat - one.fuse_high_c, one.fuse_low_c - heat
        new = number in fire.new
        # A coat fired before has only to stand the heat; a new one has to flow in it.
        beyond = np.maximum(over, under) if new else over
        key = f"{'setting' if new else 'setting-again'}:{fire.step.number}:{coat.glass.key}"
        worst = 2 if new else 1
        graded_ = np.where(beyond > limits.RANGE_MARGIN_K, worst, np.where(beyond > 0, 1, 0)).astype(float)
        if key not in outcomes or graded_.mean() > outcomes[key].mean():
            outcomes[key], found[key] = graded_, np.broadcast_to(heat, ceiling.shape)
