"""What a sudden chill does to the surface of glass on metal, layer by layer: an oracle for `science.plate.cooling`.

Conduction through the layers and thermoelastic stress, without the approximation that the product takes for a plate of
glass alone.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
_TIMES = 400


@dataclass(frozen=True)
class Conductor:
    """A material as a chill sees it, in SI units; `expansion_per_k` is its mean over the drop."""

    conductivity_w_per_m_k: float
    heat_per_volume_j_per_m3_k: float
    youngs_modulus_pa: float
    poisson_ratio: float
    expansion_per_k: float


def quench_stress_pa(
    drop_k: float,
    convection_w_per_m2_k: float,
    glass: Conductor,
    metal: Conductor,
    glass_thickness_m: float,
    metal_thickness_m: float,
    *,
    cells: int = 30,
    longest_s: float = 20.0,
) -> float:
    """Return the greatest tensile stress at the glass surface of a plate chilled on both faces, Pa.

    Parameters
    ----------
    drop_k : float
        How much hotter the piece is than what chills it.
    convection_w_per_m2_k : float
        Heat transfer at each face: still or fanned air 20 to 100, water some thousands (from memory).
    glass, metal : Conductor
        The materials; glass of the same thickness lies on both faces.
    glass_thickness_m, metal_thickness_m : float
        Thickness of the glass on one face, and of the metal.
    cells : int
        Cells in each layer of one half.
    longest_s : float
        How long to look.

    Notes
    -----
    One-dimensional conduction in finite volumes, solved exactly in time by its eigenvectors. σ = E/(1-ν)(ε - αΔT),
    ε from the balance of forces of the symmetric plate; at infinite transfer it tends to EαΔT/(1-ν), the limit of
    a thin layer chilled at once.
    """

    def layered(of_glass: float, of_metal: float) -> Array:
        return np.repeat([of_glass, of_metal], cells)

    width = layered(glass_thickness_m / cells, metal_thickness_m / 2.0 / cells)
    conduct = layered(glass.conductivity_w_per_m_k, metal.conductivity_w_per_m_k)
    heat = layered(glass.heat_per_volume_j_per_m3_k, metal.heat_per_volume_j_per_m3_k) * width
    stiff = layered(*(m.youngs_modulus_pa / (1.0 - m.poisson_ratio) for m in (glass, metal)))
    expands = layered(glass.expansion_per_k, metal.expansion_per_k)
    outside = 1.0 / (1.0 / convection_w_per_m2_k + width[0] / 2.0 / conduct[0])
    temps = _cell_temperatures(width, conduct, heat, outside, drop_k, np.geomspace(1e-6, longest_s, _TIMES))
    change = temps - drop_k
    strain = np.sum((stiff * expands * width)[:, None] * change, axis=0) / np.sum(stiff * width)
    flux = outside * temps[0]
    surface = change[0] - flux * width[0] / 2.0 / conduct[0]
    return float(np.max(stiff[0] * (strain - expands[0] * surface)))


def _cell_temperatures(
    width: Array, conduct: Array, heat: Array, outside: float, drop_k: float, times_s: Array
) -> Array:
    """Temperature over that outside [K] of each cell of one half at each time; (cells, times).

    `heat` is the heat capacity per area of each cell [J/(m² K)], `outside` the heat transfer of the first [W/(m² K)].
    """
    between = 1.0 / (width[:-1] / 2.0 / conduct[:-1] + width[1:] / 2.0 / conduct[1:])
    flow = np.diag(between, 1) + np.diag(between, -1)
    flow -= np.diag(flow.sum(axis=1))
    flow[0, 0] -= outside
    # Symmetric in sqrt(heat) times temperature, so that the eigenvalues are real and the solution stable.
    root = np.sqrt(heat)
    values, vectors = np.linalg.eigh(flow / root[:, None] / root[None, :])
    start = vectors.T @ (root * drop_k)
    return np.asarray((vectors @ (start[:, None] * np.exp(np.outer(values, times_s)))) / root[:, None])
