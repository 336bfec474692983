"""Cooling every draw of every firing of a stack at once, and what its thicknesses say."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from refdb.judge.draws import GlassDraws, MetalDraws
from refdb.judge.numbers import SampledStage
from refdb.judge.reason import Triple
from refdb.science.expansion import glass_strain
from refdb.science.plate import Array, ByPlate, HardeningYield, Plates, cool_many, dome_restraint_n_m
from refdb.science.plate.fracture import release_rates
from refdb.science.sampling import bands_of

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


@dataclass(frozen=True)
class Stack:
    """Sheets from bottom to top, one of them the metal, in a number of states with a title each.

    `base` holds the metal's inputs; `rise_m` and `grip` (samples,) are of a dome, zeros for a flat piece.
    """

    sheets: Sequence[Sheet]
    base: MetalDraws
    titles: Sequence[str]
    rise_m: Array
    grip: Array


Cooled = tuple[tuple[SampledStage, ...], list[Array]]


def cooled(stacks: Sequence[Stack]) -> list[Cooled]:
    """Cool all states of all draws; states alike in every number are cooled once.

    Parameters
    ----------
    stacks : sequence of Stack
        All with as many draws.

    Returns
    -------
    list of tuple
        For each stack its stages, and the worst tension in glass of each state [MPa] (samples,).
    """
    groups: dict[_Build, dict[bytes, Array]] = {}
    wanted: list[list[tuple[_Build, bytes]]] = []
    for stack in stacks:
        build = _Build(
            tuple(s.name for s in stack.sheets), [s.glass for s in stack.sheets].index(None), stack.base.strain.function
        )
        blocks = [(block.tobytes(), block) for block in _blocks(stack)]
        groups.setdefault(build, {}).update(blocks)
        wanted.append([(build, key) for key, _ in blocks])
    found = {
        (build, key): state
        for build, blocks in groups.items()
        for key, state in zip(blocks, _cooled_alike(build, list(blocks.values())), strict=True)
    }
    return [
        (
            tuple(replace(found[k][0], name=title) for k, title in zip(keys, stack.titles, strict=True)),
            [found[k][1] for k in keys],
        )
        for keys, stack in zip(wanted, stacks, strict=True)
    ]


class _Build(NamedTuple):
    """What states that cool in one batch have in common."""

    names: tuple[str, ...]
    metal_at: int
    strain: Callable[..., Any]


def _blocks(stack: Stack) -> Iterator[Array]:
    """All inputs of each state as rows (inputs, samples): five for each layer, then those of the metal and the dome."""
    metal, count = stack.base, len(stack.sheets)
    none = np.full(len(stack.rise_m), np.nan)
    drawn = np.array(
        [
            (metal.youngs_pa, metal.poisson, none, none)
            if s.glass is None
            else (s.glass.youngs_pa, s.glass.poisson, s.glass.set_c, s.glass.per_k)
            for s in stack.sheets
        ]
    )
    flow = metal.flow
    (factor,) = metal.strain.parameters
    of_metal = np.array((factor, flow.stress_0_pa, flow.hardening_pa, flow.ratio_500c))
    for k in range(len(stack.titles)):
        thickness = np.array([s.thickness_m[k] for s in stack.sheets])
        on: Any = (thickness > 0).any(axis=1)
        layers = drawn.copy()
        # What is not on yet must not tell apart states that are alike.
        layers[~on] = drawn[next(j for j in range(count) if on[j] and stack.sheets[j].glass is not None)]
        dome = stack.grip * dome_restraint_n_m((layers[:, 0] * thickness).sum(axis=0), stack.rise_m)
        yield np.concatenate((thickness, *layers.swapaxes(0, 1), of_metal, dome[None]))


def _cooled_alike(build: _Build, blocks: Sequence[Array]) -> list[tuple[SampledStage, Array]]:
    """Stage and worst tension of each block."""
    count, samples = len(build.names), blocks[0].shape[1]
    rows = np.concatenate(blocks, axis=1)
    h, e, nu, sets, per_k = rows[: 5 * count].reshape(5, count, -1)
    factor, stress_0, hardening, ratio, dome = rows[5 * count :]
    layers = range(count)
    many = cool_many(
        Plates(
            build.names,
            h.T,
            e.T,
            nu.T,
            tuple(
                ByPlate(build.strain, (factor,)) if k == build.metal_at else ByPlate(glass_strain, (per_k[k],))
                for k in layers
            ),
            sets.T,
            tuple(HardeningYield(stress_0, hardening, ratio) if k == build.metal_at else None for k in layers),
            dome,
        )
    )
    glassy = [k for k in layers if k != build.metal_at]
    release = release_rates(many.bottom_pa, many.top_pa, h.T, (e / (1 - nu)).T)[:, glassy].max(axis=1)
    tension = np.where(h.T > 0, np.maximum(many.bottom_pa, many.top_pa), -np.inf)[:, glassy].max(axis=1) / 1e6
    told = np.stack((many.curvature_per_m * BOW_CHORD_M**2 / 8 * 1e3, many.plastic_strain[:, build.metal_at], release))
    faces = np.stack((many.bottom_pa, many.mean_pa, many.top_pa)).transpose(2, 0, 1) / 1e6
    # (layers, faces, states, 3) and (measures, states, 3)
    face_bands = bands_of(faces.reshape(count, 3, -1, samples))
    bands = bands_of(told.reshape(3, -1, samples))
    on = h.reshape(count, -1, samples).max(axis=2) > 0
    stages = []
    for k in range(len(blocks)):
        shown = tuple((build.names[j], *_triples(face_bands[j, :, k])) for j in layers if on[j, k])
        stages.append(SampledStage("", 0, shown, *_triples(bands[:, k])))
    return list(zip(stages, tension.reshape(-1, samples), strict=True))


def _triples(bands: Array) -> tuple[Triple, Triple, Triple]:
    (a, b, c), (d, e, f), (g, h, i) = bands.tolist()
    return (a, b, c), (d, e, f), (g, h, i)
