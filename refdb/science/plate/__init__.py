"""The layered plate: stress in glass and metal after cooling from the kiln.

Equal-biaxial plane stress through the thickness; the in-plane strain is strain₀ + curvature·z with z up from
the middle of the plate and layers listed from bottom to top. Glass carries no stress above its set point and
is linear elastic below it; metal is elastic-plastic (von Mises, isotropic hardening, yield falling with
temperature). The plate is marched down in temperature; at each step the stresses are returned to the yield
surface and ∫σ dz = 0 and ∫σ z dz = 0 are solved by Newton's method with a line search.

In this state the von Mises stress is |σ|, the biaxial modulus is E/(1−ν), and the equivalent plastic strain
is twice the in-plane one. Elastic limits are those of Timoshenko (J. Opt. Soc. Am. 11 (1925) 233) for two
layers, with E/(1−ν) for E, and of Hsueh (Thin Solid Films 418 (2002) 182) for many. A dome resists bending;
its resistance enters the balance of moments as a spring, see `dome_restraint_n_m`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from refdb.errors import BadInput
from refdb.science.expansion import ROOM_C
from refdb.science.plate.cooling import march
from refdb.science.plate.layers import (
    Array,
    ByPlate,
    HardeningYield,
    Layer,
    LayerStress,
    Plates,
    Residual,
    ResidualMany,
)

__all__ = [
    "Array",
    "ByPlate",
    "HardeningYield",
    "Layer",
    "LayerStress",
    "Plates",
    "Residual",
    "ResidualMany",
    "cool",
    "cool_many",
    "dome_restraint_n_m",
]

STEP_K = 60.0
#: So many at a time: the tail of the iteration is shared by many, and the arrays still fit near the processor.
_CHUNK = 8192


def dome_restraint_n_m(stiffness_n_per_m: Any, rise_m: Any) -> Any:
    """How strongly a shallow dome resists a change of its curvature, per width.

    Parameters
    ----------
    stiffness_n_per_m : float or array
        Σ E·h through the wall, glass and metal [N/m].
    rise_m : float or array
        Height of the dome over its rim [m].

    Returns
    -------
    float or array
        Σ E·h · rise²/24 [N·m]: moment per width for unit change of curvature, besides the wall's own bending.

    Notes
    -----
    Energy method for a shallow spherical cap with free edge whose curvature changes evenly: the membrane
    stresses follow from ∇⁴F = −(E/R)∇²w with R = a²/(2·rise), and the size a drops out. An even change of
    curvature is the stiffest way a dome can bend, so this is an upper bound; the rim itself bends more freely.
    """
    return stiffness_n_per_m * rise_m**2 / 24.0


def cool(layers: Sequence[Layer], room_c: float = ROOM_C, step_k: float = STEP_K) -> Residual:
    """Cool one plate from the highest set point of its glasses to room temperature.

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
        No layer, no set point, or a number that cannot be.
    NotConverged
        Force and moment do not vanish; no answer is given then.
    """
    if not layers:
        raise BadInput("a plate needs at least one layer")
    row = [
        [
            layer.thickness_m,
            layer.youngs_modulus_pa,
            layer.poisson_ratio,
            math.nan if layer.set_c is None else layer.set_c,
        ]
        for layer in layers
    ]
    table = np.array(row, dtype=float)
    plates = Plates(
        tuple(layer.name for layer in layers),
        table[None, :, 0],
        table[None, :, 1],
        table[None, :, 2],
        tuple(layer.strain for layer in layers),
        table[None, :, 3],
        tuple(layer.flow_stress for layer in layers),
    )
    many = cool_many(plates, room_c, step_k)
    return Residual(
        float(many.curvature_per_m[0]),
        float(many.strain[0]),
        tuple(
            LayerStress(
                layer.name,
                float(many.bottom_pa[0, k]),
                float(many.mean_pa[0, k]),
                float(many.top_pa[0, k]),
                float(many.plastic_strain[0, k]),
            )
            for k, layer in enumerate(layers)
        ),
        float(many.residual_force[0]),
        float(many.residual_moment[0]),
    )


def cool_many(plates: Plates, room_c: float = ROOM_C, step_k: float = STEP_K) -> ResidualMany:
    """Cool many plates at once; each starts at its own highest set point.

    Parameters
    ----------
    plates : Plates
        n plates of L layers.
    room_c, step_k : float
        Final temperature [°C] and greatest temperature step [K].

    Returns
    -------
    ResidualMany

    Raises
    ------
    BadInput, NotConverged
        As `cool`.
    """
    _refuse_nonsense(plates, room_c, step_k)
    n = len(plates.thickness_m)
    ends = np.linspace(0, n, math.ceil(n / _CHUNK) + 1).astype(int)
    parts = [march(plates.rows(slice(low, high)), room_c, step_k) for low, high in pairwise(ends.tolist())]
    return ResidualMany(*(np.concatenate(column) for column in zip(*parts, strict=True)))


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
