"""Cooling of layered plates from the kiln to room temperature, one or many at once.

Equal-biaxial plane stress through the thickness; the in-plane strain is strain₀ + curvature·z with z up from
the middle of the plate and layers listed from bottom to top. Glass carries no stress above its setting temperature and
is linear elastic below it; metal is elastic-plastic (von Mises, isotropic hardening, yield falling with
temperature). The temperature is stepped down; at each step the stresses are returned to the yield surface and
∫σ dz = 0 and ∫σ z dz = 0 are solved by Newton's method with a line search.

In this state the von Mises stress is |σ|, the biaxial modulus is E/(1−ν), and the equivalent plastic strain
is twice the in-plane one. Elastic limits are those of Timoshenko (J. Opt. Soc. Am. 11 (1925) 233) for two
layers, with E/(1−ν) for E, and of Hsueh (Thin Solid Films 418 (2002) 182) for many. A dome resists bending;
its restraint enters the balance of moments as a spring, see `dome.dome_restraint_n_m`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from refdb.errors import BadInput
from refdb.science.expansion import ROOM_C
from refdb.science.plate.layers import Array, Layer, LayerStress, Plates, Residual, ResidualMany
from refdb.science.plate.stepping import Batch

STEP_K = 80.0
#: So many at a time: the tail of the iteration is shared by many, and the arrays still fit near the processor.
_CHUNK = 8192


def cool(layers: Sequence[Layer], room_c: float = ROOM_C, step_k: float = STEP_K) -> Residual:
    """Return one plate cooled from the highest setting temperature of its glasses to room temperature.

    Parameters
    ----------
    layers : sequence of Layer
        Bottom to top.
    room_c : float
        Final temperature [°C].
    step_k : float
        Greatest temperature step [K].

    Returns
    -------
    Residual

    Raises
    ------
    BadInput
        No layer, no setting temperature, or a number that cannot be.
    NotConverged
        Force and moment do not vanish; no answer is given then.

    Examples
    --------
    >>> import refdb
    >>> copper = refdb.Layer("copper", 0.8e-3, 115e9, 0.34, lambda temp_c: 18.5e-6 * (temp_c - 20.0))
    >>> glass = refdb.Layer("glass", 0.3e-3, 70e9, 0.22, lambda temp_c: 12.5e-6 * (temp_c - 20.0), set_c=500.0)
    >>> found = refdb.cool([copper, glass])
    >>> round(found.curvature_per_m, 2), round(found.layers[1].mean_pa / 1e6)
    (2.47, -114)
    """
    if not isinstance(layers, Sequence) or not all(isinstance(layer, Layer) for layer in layers):
        raise BadInput("is no plate", "layers", "give a sequence of Layer, bottom to top")
    if not layers:
        raise BadInput("a plate needs at least one layer")
    many = cool_many(_batch_of_one(layers), room_c, step_k)
    stresses = (many.bottom_pa[0], many.mean_pa[0], many.top_pa[0], many.plastic_strain[0])
    return Residual(
        float(many.curvature_per_m[0]),
        float(many.strain[0]),
        tuple(LayerStress(layer.name, *(float(x[k]) for x in stresses)) for k, layer in enumerate(layers)),
        float(many.residual_force[0]),
        float(many.residual_moment[0]),
    )


def _batch_of_one(layers: Sequence[Layer]) -> Plates:
    def row(values: Sequence[float]) -> np.typing.NDArray[np.float64]:
        return np.array([values], dtype=float)

    return Plates(
        tuple(layer.name for layer in layers),
        row([layer.thickness_m for layer in layers]),
        row([layer.youngs_modulus_pa for layer in layers]),
        row([layer.poisson_ratio for layer in layers]),
        tuple(layer.strain for layer in layers),
        row([math.nan if layer.set_c is None else layer.set_c for layer in layers]),
        tuple(layer.flow_stress for layer in layers),
    )


def cool_many(plates: Plates, room_c: float = ROOM_C, step_k: float = STEP_K) -> ResidualMany:
    """Return many plates cooled at once, each from its own highest setting temperature.

    Parameters
    ----------
    plates : Plates
        n plates of L layers.
    room_c, step_k : float
        Final temperature [°C] and greatest temperature step [K].

    Returns
    -------
    ResidualMany
        Arrays (n,) and (n, L).

    Raises
    ------
    BadInput, NotConverged
        As `cool`.

    Examples
    --------
    >>> import numpy as np
    >>> import refdb
    >>> def grows(per_k):
    ...     return lambda temp_c: per_k * (temp_c - 20.0)
    >>> thick = np.array([[0.8e-3, 0.1e-3], [0.8e-3, 0.3e-3]])
    >>> elastic, poisson, sets = (np.tile(x, (2, 1)) for x in ([115e9, 70e9], [0.34, 0.22], [np.nan, 500.0]))
    >>> plates = refdb.Plates(
    ...     ("copper", "glass"), thick, elastic, poisson, (grows(18.5e-6), grows(12.5e-6)), sets, (None, None)
    ... )
    >>> refdb.cool_many(plates).curvature_per_m.round(2).tolist()
    [1.19, 2.47]
    """
    return ResidualMany(*_together(batch.cooled() for batch in _in_parts(plates, room_c, step_k)))


def cool_and_refire(
    plates: Plates,
    again: Callable[[ResidualMany], npt.NDArray[np.bool_]],
    room_c: float = ROOM_C,
    step_k: float = STEP_K,
) -> tuple[ResidualMany, Array]:
    """Return many plates cooled at once, and the curvature that stays in the metal of those that are fired again.

    Parameters
    ----------
    plates : Plates
    again : callable
        again(cooled) -> which of the n plates are fired again, bool (n,).
    room_c, step_k : float
        As for `cool_many`.

    Returns
    -------
    ResidualMany
    array (n,)
        1/m, as `refired.left_curvature` has it; zero of plates that are not fired again.

    Raises
    ------
    BadInput, NotConverged
        As `cool`.
    """
    batches = list(_in_parts(plates, room_c, step_k))
    many = ResidualMany(*_together(batch.cooled() for batch in batches))
    wanted, left = again(many), np.zeros(len(plates.thickness_m))
    first = 0
    for batch in batches:
        few = np.flatnonzero(wanted[first : first + len(batch.total)])
        left[first + few] = batch.left(few, step_k)
        first += len(batch.total)
    return many, left


def _in_parts(plates: Plates, room_c: float, step_k: float) -> Iterator[Batch]:
    """The plates in batches that fit near the processor, each to be cooled."""
    if not isinstance(plates, Plates):
        raise BadInput("are no plates", "plates", "give Plates; cool takes one sequence of Layer")
    _refuse_nonsense(plates, room_c, step_k)
    n = len(plates.thickness_m)
    ends = np.linspace(0, n, math.ceil(n / _CHUNK) + 1).astype(int)
    for low, high in pairwise(ends.tolist()):
        yield Batch.cooling(plates.rows(slice(low, high)), room_c, step_k)


def _together(parts: Iterable[tuple[Array, ...]]) -> Iterator[Array]:
    return (np.concatenate(column) for column in zip(*parts, strict=True))


def _refuse_nonsense(plates: Plates, room_c: float, step_k: float) -> None:
    thickness, nu = plates.thickness_m, plates.poisson_ratio
    if thickness.ndim != 2 or not thickness.size:
        raise BadInput("a plate needs at least one layer")
    if not (np.isfinite(thickness).all() and (thickness >= 0).all() and (thickness.sum(axis=1) > 0).all()):
        raise BadInput("layer thicknesses must be finite, none negative and not all zero")
    if not (np.isfinite(plates.youngs_modulus_pa).all() and (plates.youngs_modulus_pa > 0).all()):
        raise BadInput("Young's modulus must be positive and finite")
    if not ((nu > -1).all() and (nu < 0.5).all()):
        raise BadInput("Poisson's ratio must lie between -1 and 0.5")
    if np.isnan(plates.set_c).all(axis=1).any():
        raise BadInput("no layer has a set point, so nothing is stressed by cooling")
    if np.nanmin(plates.set_c) <= room_c:
        raise BadInput(f"a set point must lie above room temperature ({room_c:g} °C)")
    if not step_k > 0:
        raise BadInput("the temperature step must be positive")
