"""The sample of a layered piece: every firing's plate, every glass's gap and kiln window, drawn together."""

from __future__ import annotations

import numpy as np

from refdb.judge import limits
from refdb.judge.builds import THINNEST_METAL_M
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
from refdb.judge.numbers import Numbers, RuleNumbers, SampledStage, Triple
from refdb.judge.sampled import BOW_CHORD_M, THINNEST_COAT_M
from refdb.judge.walk import Coat, Fire, Walk
from refdb.quantities_text import Band
from refdb.records import Glass, Metal
from refdb.science.expansion import glass_strain
from refdb.science.fracture import release_rate
from refdb.science.plate import Array, ByPlate, HardeningYield, Plates, cool_many, dome_restraint_n_m
from refdb.science.spread import SAMPLES, band_of, most_telling


def sample_piece(trail: Walk, metal: Metal, samples: int = SAMPLES) -> Numbers:
    """Put every band of a piece through its firings.

    Parameters
    ----------
    trail : Walk
        A piece with at least one firing whose glasses have every figure a verdict needs.
    metal : Metal
        Its base.
    samples : int
        Draws; the same each time.

    Returns
    -------
    Numbers
        Rules are keyed "rule:step number" or "rule:step number:glass key"; one stage a firing.
    """
    solid = [c for c in trail.coats if not c.line]
    glasses = {c.glass.key: c.glass for c in solid}
    names = ("metal thickness", *METAL_INPUTS, *DOME_INPUTS, *(f"thickness of {c.step.title}" for c in solid),
             *(of_glass(n, g) for g in glasses.values() for n in GLASS_INPUTS))
    draws = Draws(names, samples)
    base = draws.metal(metal)
    metal_m = draws.thickness("metal thickness", trail.piece.base.thickness_m, THINNEST_METAL_M)
    drawn = {key: draws.glass(glass, metal, several=True) for key, glass in glasses.items()}
    coats = {c.number: draws.thickness(f"thickness of {c.step.title}", c.thickness_m, THINNEST_COAT_M)
             * c.step.coverage for c in solid}
    rise_m, grip = draws.dome(_rise(trail))
    outcomes: dict[str, Array] = {}
    found: dict[str, Array] = {}
    stages, tension = _stages(trail, solid, coats, metal_m, base, drawn, rise_m, grip)
    for fire, worst in zip(trail.fires, tension, strict=True):
        if worst is not None:
            limit = limits.TENSION_LASTING if fire is trail.fires[-1] else limits.TENSION_BETWEEN
            key = f"{limit.key}:{fire.step.number}"
            outcomes[key], found[key] = graded(worst, limit.fine, limit.care), worst
    for glass_key, one in drawn.items():
        first = next(c for c in solid if c.glass.key == glass_key)
        key = f"gap:{first.step.number}:{glass_key}"
        gap = gap_ppm(base, one)
        outcomes[key], found[key] = graded(gap, limits.GAP.fine, limits.GAP.care), gap
        if one.beyond.any():
            outcomes[f"curve-end:{first.step.number}:{glass_key}"] = one.beyond
            found[f"curve-end:{first.step.number}:{glass_key}"] = one.set_c
    for fire in trail.fires:
        _heat(trail, fire, base, drawn, outcomes, found)
    _thicknesses(trail, solid, coats, metal_m, metal, outcomes, found)
    overall = np.max(np.stack(list(outcomes.values())), axis=0)
    measures = {"metal_thickness_mm": metal_m * 1e3,
                "front_mm": _face(solid, coats, "front", metal_m) * 1e3,
                "back_mm": _face(solid, coats, "back", metal_m) * 1e3}
    return Numbers(shares(overall), {k: RuleNumbers(shares(outcomes[k]), band_of(found[k])) for k in outcomes},
                   {k: band_of(v) for k, v in measures.items()}, stages, most_telling(draws.wide, overall))


def _rise(trail: Walk) -> Band | None:
    if trail.piece.shape != "domed":
        return None
    return trail.piece.rise_m or Band(*limits.DOME_RISE_M)


def _face(solid: list[Coat], coats: dict[int, Array], face: str, like: Array) -> Array:
    return np.asarray(np.sum([coats[c.number] for c in solid if c.face == face] or [np.zeros_like(like)], axis=0))


def _stages(trail: Walk, solid: list[Coat], coats: dict[int, Array], metal_m: Array, base: MetalDraws,
            drawn: dict[str, GlassDraws], rise_m: Array, grip: Array,
            ) -> tuple[tuple[SampledStage, ...], list[Array | None]]:
    """Cool every draw of every firing that has glass on; the worst tension in glass of each [MPa], if any."""
    # From the bottom up: the back's outermost coat first, then the metal, then the front's innermost.
    order = [c for c in reversed(solid) if c.face == "back"] + [None] + [c for c in solid if c.face == "front"]
    fires = [f for f in trail.fires if any(not trail.coats[n].line for n in f.coats)]
    if not fires:
        return (), [None] * len(trail.fires)
    count, samples = len(fires), len(metal_m)

    def tiled(values: Array) -> Array:
        return np.tile(values, count)

    thickness, youngs, poisson, set_c, strain = [], [], [], [], []
    flow: list[HardeningYield | None] = []
    for coat in order:
        if coat is None:
            thickness.append(tiled(metal_m))
            youngs.append(tiled(base.youngs_pa))
            poisson.append(tiled(base.poisson))
            set_c.append(np.full(samples * count, np.nan))
            strain.append(ByPlate(base.strain.function, tuple(tiled(p) for p in base.strain.parameters)))
            flow.append(HardeningYield(tiled(base.flow.stress_0_pa), tiled(base.flow.hardening_pa),
                                       tiled(base.flow.ratio_500c)))
        else:
            one = drawn[coat.glass.key]
            thickness.append(np.concatenate([coats[coat.number] * (coat.number in f.coats) for f in fires]))
            youngs.append(tiled(one.youngs_pa))
            poisson.append(tiled(one.poisson))
            set_c.append(tiled(one.set_c))
            strain.append(ByPlate(glass_strain, (tiled(one.per_k),)))
            flow.append(None)
    h, e, nu = (np.stack(x, axis=1) for x in (thickness, youngs, poisson))
    # A coat not yet on must not raise the temperature at which the plate starts to stiffen.
    sets = np.where(h > 0, np.stack(set_c, axis=1), np.nan)
    sets = np.where(np.isnan(sets) & np.array([c is not None for c in order]), np.nanmin(sets, axis=1)[:, None], sets)
    many = cool_many(Plates(
        tuple("metal" if c is None else c.step.title for c in order), h, e, nu, tuple(strain), sets, tuple(flow),
        tiled(grip) * dome_restraint_n_m((e * h).sum(axis=1), tiled(rise_m))))
    glassy = [k for k, c in enumerate(order) if c is not None]
    worst = np.where(h > 0, np.maximum(many.bottom_pa, many.top_pa), -np.inf)[:, glassy].max(axis=1) / 1e6
    release = np.max([release_rate(many.bottom_pa, many.top_pa, h, e / (1 - nu), k) for k in glassy], axis=0)
    bow = many.curvature_per_m * BOW_CHORD_M**2 / 8 * 1e3
    metal_at = order.index(None)
    stages: dict[int, SampledStage] = {}
    tension: dict[int, Array] = {}
    for j, fire in enumerate(fires):
        part = slice(j * samples, (j + 1) * samples)
        layers = tuple(
            ("metal" if c is None else f"{c.glass.key}, {c.face}", _mpa(many.bottom_pa[part, k]),
             _mpa(many.mean_pa[part, k]), _mpa(many.top_pa[part, k]))
            for k, c in enumerate(order) if c is None or c.number in fire.coats)
        stages[fire.number] = SampledStage(fire.title, layers, band_of(bow[part]),
                                           band_of(many.plastic_strain[part, metal_at]), band_of(release[part]))
        tension[fire.number] = worst[part]
    return tuple(stages.values()), [tension.get(f.number) for f in trail.fires]


def _mpa(values: Array) -> Triple:
    return band_of(values / 1e6)


def _heat(trail: Walk, fire: Fire, base: MetalDraws, drawn: dict[str, GlassDraws], outcomes: dict[str, Array],
          found: dict[str, Array]) -> None:
    """The kiln of one firing against the metal and against every glass that is on."""
    heat = fire.step.kiln_c
    if heat is None:
        return
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
            outcomes[key], found[key] = graded_, np.full(len(ceiling), heat)


def _thicknesses(trail: Walk, solid: list[Coat], coats: dict[int, Array], metal_m: Array, metal: Metal,
                 outcomes: dict[str, Array], found: dict[str, Array]) -> None:
    front, back = (_face(solid, coats, face, metal_m) for face in ("front", "back"))
    thick, thin = np.maximum(front, back), np.minimum(front, back)
    hair = 1.0 + 1e-9
    if not solid:
        return
    outcomes["glass-of-metal"] = np.where(
        thick > metal_m * hair, 2.0, np.where(front + back > metal_m * hair, 1.0, 0.0))
    found["glass-of-metal"] = (front + back) / metal_m
    if {c.face for c in solid} == {"front", "back"}:
        outcomes["faces-alike"] = np.where(thin < limits.FACES_ALIKE.fine * thick / hair, 1.0, 0.0)
        found["faces-alike"] = thin / thick
    else:
        outcomes["one-face"] = np.where(metal_m * 1e3 < limits.COUNTER_ALWAYS.fine, 1.0, 0.0)
        found["one-face"] = metal_m * 1e3
    least = metal.band("least_thickness")
    assert least is not None
    outcomes["least-metal"] = np.where(metal_m * hair < least.value, 1.0, 0.0)
    found["least-metal"] = metal_m * 1e3


def glasses_of(trail: Walk) -> list[Glass]:
    """The glasses that count in the plate, each once, in the order laid."""
    return list({c.glass.key: c.glass for c in trail.coats if not c.line}.values())
