"""Cooling every draw of every firing of a stack at once, and what its thicknesses say."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from refdb.frozen import dataclass
from refdb.judge.cooled_blocks import Build, State, cooled_blocks
from refdb.judge.draws import GlassDraws, MetalDraws, Rim
from refdb.judge.numbers import SampledLayer, SampledStage
from refdb.judge.reason import Triple
from refdb.science.plate import Array, dome_restraint_n_m, rim_hoop_pa
from refdb.science.sampling import bands_of

#: A coat is never thinner than this, whatever its band [m].
THINNEST_COAT_M = 1e-6
#: No dome is lower in the sums [m].
LEAST_RISE_M = 1e-6
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

    `base` holds the metal's inputs; `rise_m` and `grip` (samples,) are of a dome, zeros for a flat piece; `rim` is None
    where there is none. `again` says of each state whether it goes back into the fire, which tells what that bends.
    """

    sheets: Sequence[Sheet]
    base: MetalDraws
    titles: Sequence[str]
    rise_m: Array
    grip: Array
    rim: Rim | None = None
    again: Sequence[bool] = ()


@dataclass(frozen=True)
class Worst:
    """One state after cooling: in every draw the worst tension in glass [MPa] and release [J/m²].

    `hoop_mpa` is the worst around the rim of a dome, where there is one, which a narrow ring alone has to bear.
    """

    tension_mpa: Array
    release_j_m2: Array
    hoop_mpa: Array | None


@dataclass(frozen=True)
class Cooled(Worst):
    """The same with its stage, whose bands are told.

    `bow_mm` is the bow of this state alone and `left_mm` what it leaves in the metal for the fires after it, of every
    draw.
    """

    stage: SampledStage
    bow_mm: Array
    left_mm: Array


def cooled(stacks: Sequence[Stack], beside: Sequence[Stack] = ()) -> tuple[list[list[Cooled]], list[list[Worst]]]:
    """Cool all states of all draws; states alike in every number are cooled once.

    Parameters
    ----------
    stacks : sequence of Stack
        All with as many draws.
    beside : sequence of Stack
        More of them, of which `worst` tells enough; cooled in the same call, they cost half of one of their own.

    Returns
    -------
    list of list of Cooled
        For each stack its states. A dome's rim bends freely: it is cooled as a flat piece, and goes beyond that by a
        part of what full restraint would take away; around it stretches or shrinks as a hoop. The tension is the worse
        of the middle's and of the rim's along its meridian; what is around it stands apart.
    list of list of Worst
        The same of `beside`.
    """
    found = _states(stacks, beside)
    whole = [
        [
            _told(build, middle, ends, stack, title)
            for (build, middle, ends), title in zip(states, stack.titles, strict=True)
        ]
        for states, stack in zip(found, stacks, strict=False)
    ]
    return whole, _worst(found[len(stacks) :], beside)


def worst(stacks: Sequence[Stack]) -> list[list[Worst]]:
    """What `cooled` finds worst in each state, and no bands; a state and its mirror image are cooled once.

    Around the rim of a dome the two faces differ, so there a state has no mirror image.
    """
    return _worst(_states((), stacks), stacks)


def _worst(found: Sequence[Sequence[_Found]], stacks: Sequence[Stack]) -> list[list[Worst]]:
    return [
        [Worst(*_tension(build, middle, ends, stack)) for build, middle, ends in states]
        for states, stack in zip(found, stacks, strict=True)
    ]


class Inside(NamedTuple):
    """Of one state: mean stress of every sheet (sheets, samples) [MPa], and the metal's plastic strain (samples,)."""

    mean_mpa: Array
    plastic_strain: Array


def inside(stack: Stack, state: int) -> Inside:
    """What a state is within."""
    one = replace(
        stack,
        sheets=[replace(s, thickness_m=[s.thickness_m[state]]) for s in stack.sheets],
        titles=[stack.titles[state]],
        rim=None,
        again=(),
    )
    ((_, found, _),) = _states([one])[0]
    return Inside(found.faces[:, 1], found.told[1])


def _states(stacks: Sequence[Stack], mirrored: Sequence[Stack] = ()) -> list[list[_Found]]:
    """Each state of each stack cooled; where there is a rim, also without the dome's restraint and with all of it.

    Of those that are `mirrored` a state and its mirror image are one, and what they leave in the metal is not asked.
    """
    groups: dict[Build, dict[bytes, Array]] = {}
    again: dict[Build, set[bytes]] = {}
    wanted: list[list[tuple[Build, bytes, tuple[bytes, bytes] | None]]] = []
    for n, stack in enumerate((*stacks, *mirrored)):
        glasses = [s.glass for s in stack.sheets]
        build = Build(tuple(s.name for s in stack.sheets), glasses.index(None), stack.base.strain.function)
        held = groups.setdefault(build, {})
        whole = n < len(stacks)
        turns = not whole and stack.rim is None and len(glasses) == 3 and build.metal_at == 1
        turns = turns and _alike(glasses[0], glasses[2])
        keys = []
        fired = again.setdefault(build, set())
        for k, block in enumerate(_blocks(stack)):
            if turns and block[0, 0] > block[2, 0]:
                block[[0, 2]] = block[[2, 0]]
            ends = None
            if stack.rim is not None:
                flat, full = block.copy(), block.copy()
                flat[-1], full[-1] = 0.0, block[-1] / stack.grip
                ends = (_put(held, flat), _put(held, full))
            keys.append((build, _put(held, block), ends))
            if whole and any(stack.again[k : k + 1]):
                fired.add(keys[-1][1])
        wanted.append(keys)
    found = {
        (build, key): state
        for build, blocks in groups.items()
        if blocks
        for key, state in zip(blocks, cooled_blocks(build, blocks, again[build]), strict=True)
    }
    return [
        [
            (build, found[build, key], None if ends is None else (found[build, ends[0]], found[build, ends[1]]))
            for build, key, ends in keys
        ]
        for keys in wanted
    ]


def _alike(one: GlassDraws | None, other: GlassDraws | None) -> bool:
    return one is other and one is not None


def _put(held: dict[bytes, Array], block: Array) -> bytes:
    key = block.tobytes()
    held.setdefault(key, block)
    return key


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


#: A dome's state flat and fully restrained; None where there is no rim.
_Ends = tuple[State, State] | None
_Found = tuple[Build, State, _Ends]


def _told(build: Build, state: State, ends: _Ends, stack: Stack, title: str) -> Cooled:
    """One state of a stack, with the rim of a dome where there is one."""
    bands = bands_of(state.faces).tolist()
    rims: list[list[list[float]] | None] = [None] * len(build.names)
    rim = _rim(ends, stack)
    if rim is not None:
        rims = bands_of(np.maximum(*rim)).tolist()
    layers = tuple(
        SampledLayer(name, *map(_triple, bands[j]), *(map(_triple, at) if (at := rims[j]) is not None else ()))
        for j, name in enumerate(build.names)
        if state.on[j]
    )
    bow, plastic, release = map(_triple, bands_of(state.told).tolist())
    stage = SampledStage(title, 0, layers, bow, plastic, release)
    return Cooled(*_tension(build, state, ends, stack), stage, state.told[0], state.left_mm)


def _rim(ends: _Ends, stack: Stack) -> tuple[Array, Array] | None:
    """Stress at both faces of each layer at the rim (layers, 2, samples) [MPa], along its meridian and around it; None
    where there is no rim."""
    if ends is None or stack.rim is None:
        return None
    flat, full = (end.faces[:, ::2] for end in ends)
    free, rim = ends[0], stack.rim
    around = rim_hoop_pa(
        full * 1e6,
        flat * 1e6,
        free.curvature_per_m,
        free.wall_m,
        free.youngs_pa[:, None],
        rim.radius_m,
        np.maximum(stack.rise_m, LEAST_RISE_M),
        rim.followed,
    )
    return np.asarray(flat + rim.beyond * (flat - full)), np.asarray(around / 1e6)


def _tension(build: Build, state: State, ends: _Ends, stack: Stack) -> tuple[Array, Array, Array | None]:
    """The worse tension of the middle and, where there is one, of the rim's meridian; the release; and what the rim has
    around."""
    rim = _rim(ends, stack)
    if rim is None:
        return state.tension, state.told[2], None
    glass = [j for j, on in enumerate(state.on) if on and j != build.metal_at]
    along, around = (faces[glass].max(axis=(0, 1)) for faces in rim)
    return np.maximum(state.tension, along), state.told[2], around


def _triple(band: list[float]) -> Triple:
    middle, low, high = band
    return middle, low, high
