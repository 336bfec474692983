"""States of a stack as blocks of numbers, cooled in one batch; the last batches are remembered."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Container, Mapping
from hashlib import blake2b
from threading import Lock
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from refdb.frozen import dataclass
from refdb.science.expansion import glass_strain
from refdb.science.plate import Array, ByPlate, HardeningYield, Plates, ResidualMany
from refdb.science.plate.cooled import cool_and_refire
from refdb.science.plate.fracture import release_rates

#: The chord over which a bow is told [m].
BOW_CHORD_M = 0.030
#: A bow of rounding alone [mm].
_FLAT_MM = 1e-4


class Build(NamedTuple):
    """What states that cool in one batch have in common."""

    names: tuple[str, ...]
    metal_at: int
    strain: Callable[..., Any]


@dataclass(frozen=True)
class State:
    """A cooled block: face stresses (layers, 3, samples) [MPa], which layers are on, and what else is told.

    `wall_m` is the whole thickness, `youngs_pa` (layers, samples) the layers' moduli, `left_mm` what the bow leaves
    when the glass melts again; zeros where it does not, or of a state that is flat.
    """

    faces: Array
    on: list[bool]
    told: Array
    tension: Array
    wall_m: Array
    youngs_pa: Array
    left_mm: Array

    def close(self) -> None:
        """Let nobody write in what others will read."""
        for array in (self.faces, self.told, self.tension, self.wall_m, self.youngs_pa, self.left_mm):
            array.flags.writeable = False

    @property
    def curvature_per_m(self) -> Array:
        """By the bow that is told [1/m]."""
        return np.asarray(self.told[0] * 8e-3 / BOW_CHORD_M**2)


#: Batches that are remembered, and bytes of all the inputs of one: a dome of glass on both faces, with its neighbours
#: and its rim, has 27 blocks of 20 kB. What comes of it takes about as much again.
_MOST_BATCHES, _MOST_BYTES = 8, 600_000
_batches: OrderedDict[tuple[Build, bytes], list[State]] = OrderedDict()
_turn = Lock()


def cooled_blocks(build: Build, held: Mapping[bytes, Array], again: Container[bytes]) -> list[State]:
    """What `_cooled_alike` finds; of the batches that were cooled last it is still known.

    A question of which only the kiln, or the wait between firings, is another cools the very same plates again.
    """
    if sum(map(len, held)) > _MOST_BYTES:
        return _cooled_alike(build, held, again)
    mark = blake2b(digest_size=20)
    for key in held:
        mark.update(b"again" if key in again else b"once")
        mark.update(key)
    batch = build, mark.digest()
    with _turn:
        found = _batches.get(batch)
        if found is not None:
            _batches.move_to_end(batch)
            return found
    found = _cooled_alike(build, held, again)
    for state in found:
        state.close()
    with _turn:
        _batches[batch] = found
        while len(_batches) > _MOST_BATCHES:
            _batches.popitem(last=False)
    return found


def _cooled_alike(build: Build, held: Mapping[bytes, Array], again: Container[bytes]) -> list[State]:
    """Each block cooled, and fired again where its key is among those."""
    blocks = list(held.values())
    count, samples = len(build.names), blocks[0].shape[1]
    rows = np.concatenate(blocks, axis=1)
    h, e, nu = rows[: 3 * count].reshape(3, count, -1)
    fired = np.array([key in again for key in held])

    def bent(many: ResidualMany) -> npt.NDArray[np.bool_]:
        bow_mm = np.abs(_bow_mm(many.curvature_per_m)).reshape(-1, samples)
        return np.repeat(fired & (bow_mm.max(axis=1) > _FLAT_MM), samples)

    many, left = cool_and_refire(_plates(build, rows, samples), bent)
    glassy = [k for k in range(count) if k != build.metal_at]
    release = release_rates(many.bottom_pa, many.top_pa, h.T, (e / (1 - nu)).T)[:, glassy].max(axis=1)
    told = np.stack((_bow_mm(many.curvature_per_m), many.plastic_strain[:, build.metal_at], release))
    faces = np.stack((many.bottom_pa, many.mean_pa, many.top_pa)).transpose(2, 0, 1) / 1e6
    tension = np.where(h.T > 0, np.maximum(many.bottom_pa, many.top_pa), -np.inf)[:, glassy].max(axis=1) / 1e6
    on = h.reshape(count, -1, samples).max(axis=2) > 0
    faces, told = faces.reshape(count, 3, -1, samples), told.reshape(3, -1, samples)
    tension, wall, youngs, left_mm = (
        x.reshape(*x.shape[:-1], -1, samples) for x in (tension, h.sum(axis=0), e, _bow_mm(left))
    )
    return [
        State(faces[:, :, k], on[:, k].tolist(), told[:, k], tension[k], wall[k], youngs[:, k], left_mm[k])
        for k in range(len(blocks))
    ]


def _bow_mm(curvature_per_m: Array) -> Array:
    return np.asarray(curvature_per_m * BOW_CHORD_M**2 / 8 * 1e3)


@dataclass(frozen=True)
class _InTurn:
    """A curve of plates that mostly are alike every so many: worked out for the first of them, and repeated."""

    curve: Callable[..., Any]
    apart: int

    def __call__(self, temp_c: Array, *parameters: Array) -> Any:
        given, n = (temp_c, *parameters), temp_c.shape[-1]
        if n <= self.apart or n % self.apart or not all(self._repeats(x) for x in given):
            return self.curve(*given)
        first = self.curve(*(x[..., : self.apart] for x in given))
        return np.tile(first, n // self.apart)

    def _repeats(self, given: Array) -> bool:
        turns = given.reshape(*given.shape[:-1], -1, self.apart)
        return bool((turns == turns[..., :1, :]).all())


def _plates(build: Build, rows: Array, samples: int) -> Plates:
    """The plates of blocks put side by side, so many of each."""
    count = len(build.names)
    h, e, nu, sets, per_k = rows[: 5 * count].reshape(5, count, -1)
    factor, stress_0, hardening, ratio, dome = rows[5 * count :]
    layers, glass = range(count), _InTurn(glass_strain, samples)
    strains: list[ByPlate] = []
    for k in layers:
        if k == build.metal_at:
            strains.append(ByPlate(_InTurn(build.strain, samples), (factor,)))
            continue
        # Layers of one glass have one curve, which is then worked out once.
        alike = (strains[j] for j in range(k) if j != build.metal_at and np.array_equal(per_k[j], per_k[k]))
        strains.append(next(alike, None) or ByPlate(glass, (per_k[k],)))
    return Plates(
        build.names,
        h.T,
        e.T,
        nu.T,
        tuple(strains),
        sets.T,
        tuple(HardeningYield(stress_0, hardening, ratio) if k == build.metal_at else None for k in layers),
        dome,
    )
