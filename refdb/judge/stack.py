"""Cooling every draw of every firing of a stack at once, and what its thicknesses say; both judges use it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from refdb.judge import limits
from refdb.judge.draws import GlassDraws, MetalDraws
from refdb.judge.numbers import SampledStage
from refdb.records import Metal
from refdb.science.expansion import glass_strain
from refdb.science.fracture import release_rate
from refdb.science.plate import Array, ByPlate, HardeningYield, Plates, cool_many, dome_restraint_n_m
from refdb.science.spread import band_of

#: The chord over which a bow is told [m].
BOW_CHORD_M = 0.030
#: A coat is never thinner than this, whatever its band [m].
THINNEST_COAT_M = 1e-6
#: A hair of rounding must not turn 0.30 + 0.30 on 0.60 mm into a fault.
HAIR = 1.0 + 1e-9


@dataclass(frozen=True)
class Sheet:
    """One layer of a stack in every state: thickness [m] (samples,) of each, zero where it is not on yet.

    `glass` is None for the metal.
    """

    name: str
    glass: GlassDraws | None
    thickness_m: Sequence[Array]


def cooled(sheets: Sequence[Sheet], base: MetalDraws, titles: Sequence[str], rise_m: Array,
           grip: Array) -> tuple[tuple[SampledStage, ...], list[Array]]:
    """Cool all states of all draws.

    Parameters
    ----------
    sheets : sequence of Sheet
        Bottom to top, one of them the metal.
    base : MetalDraws
        The metal's inputs.
    titles : sequence of str
        Name of each state.
    rise_m, grip : array (samples,)
        Of a dome; zeros for a flat piece.

    Returns
    -------
    tuple
        The stages, and the worst tension in glass of each state [MPa] (samples,).
    """
    count, samples = len(titles), len(rise_m)

    def tiled(values: Array) -> Array:
        return np.tile(values, count)

    metal_at = next(k for k, s in enumerate(sheets) if s.glass is None)
    glassy = [k for k, s in enumerate(sheets) if s.glass is not None]
    flow = HardeningYield(*(tiled(x) for x in (base.flow.stress_0_pa, base.flow.hardening_pa, base.flow.ratio_500c)))
    strain = [ByPlate(base.strain.function, tuple(tiled(p) for p in base.strain.parameters)) if s.glass is None
              else ByPlate(glass_strain, (tiled(s.glass.per_k),)) for s in sheets]
    h = np.stack([np.concatenate(s.thickness_m) for s in sheets], axis=1)
    e = np.stack([tiled(base.youngs_pa if s.glass is None else s.glass.youngs_pa) for s in sheets], axis=1)
    nu = np.stack([tiled(base.poisson if s.glass is None else s.glass.poisson) for s in sheets], axis=1)
    sets = np.stack([np.full(samples * count, np.nan) if s.glass is None else tiled(s.glass.set_c) for s in sheets],
                    axis=1)
    # A coat not on yet must not raise the temperature at which the plate starts to stiffen.
    on = np.where(h > 0, sets, np.nan)
    lowest = np.nanmin(on, axis=1)[:, None]
    sets = np.where(np.isnan(on) & ~np.isnan(sets), lowest, sets)
    many = cool_many(Plates(
        tuple(s.name for s in sheets), h, e, nu, tuple(strain), sets,
        tuple(flow if s.glass is None else None for s in sheets),
        tiled(grip) * dome_restraint_n_m((e * h).sum(axis=1), tiled(rise_m))))
    worst = np.where(h > 0, np.maximum(many.bottom_pa, many.top_pa), -np.inf)[:, glassy].max(axis=1) / 1e6
    release = np.max([release_rate(many.bottom_pa, many.top_pa, h, e / (1 - nu), k) for k in glassy], axis=0)
    bow = many.curvature_per_m * BOW_CHORD_M**2 / 8 * 1e3
    stages, tension = [], []
    for j, title in enumerate(titles):
        part = slice(j * samples, (j + 1) * samples)
        layers = tuple(
            (s.name, band_of(many.bottom_pa[part, k] / 1e6), band_of(many.mean_pa[part, k] / 1e6),
             band_of(many.top_pa[part, k] / 1e6))
            for k, s in enumerate(sheets) if h[part, k].max() > 0)
        stages.append(SampledStage(title, layers, band_of(bow[part]), band_of(many.plastic_strain[part, metal_at]),
                                   band_of(release[part])))
        tension.append(worst[part])
    return tuple(stages), tension


def thickness_rules(front: Array, back: Array, metal_m: Array, metal: Metal, both_faces: bool,
                    outcomes: dict[str, Array], found: dict[str, Array]) -> None:
    """Glass against metal, the faces against each other, and the metal against its least thickness."""
    thick, thin = np.maximum(front, back), np.minimum(front, back)
    whole = metal_m * limits.ONE_FACE_OF_METAL.fine * HAIR
    outcomes["glass-of-metal"] = np.where(thick > whole, 2.0, np.where(front + back > whole, 1.0, 0.0))
    found["glass-of-metal"] = (front + back) / metal_m
    if both_faces:
        outcomes["faces-alike"] = np.where(thin < limits.FACES_ALIKE.fine * thick / HAIR, 1.0, 0.0)
        found["faces-alike"] = thin / thick
    else:
        outcomes["one-face"] = np.where(metal_m * 1e3 < limits.COUNTER_ALWAYS.fine, 1.0, 0.0)
        found["one-face"] = metal_m * 1e3
    least = metal.band("least_thickness")
    assert least is not None
    outcomes["least-metal"] = np.where(metal_m * HAIR < least.value, 1.0, 0.0)
    found["least-metal"] = metal_m * 1e3
