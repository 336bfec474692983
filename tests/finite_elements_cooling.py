"""A plate of glass that cools steadily, heat and stress together, put to the finite-element solver CalculiX (ccx).

Axisymmetric quadratic elements (CAX8) of half a plate, the other half being its mirror. A plate whose every place
cools at one rate has the temperatures, against its surface, of one that is heated evenly within at a still surface.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from finite_elements import GAUSS, solve

from refdb.science.plate.cooling import Body

_ALONG, _THROUGH = 20, 6


def ramp(body: Body, rate_k_per_s: float, half_thickness_m: float, folder: Path) -> tuple[float, float]:
    """Stress in the plane [Pa] at the surface and at the middle, near the axis of a wide disc that may move freely."""
    radii = 12 * half_thickness_m * 1e3 * np.linspace(0, 1, 2 * _ALONG + 1)
    heights = half_thickness_m * 1e3 * np.linspace(0, 1, 2 * _THROUGH + 1)
    wide = len(radii)

    def node(i: int, j: int) -> int:
        return 1 + i + j * wide

    lines = ["*NODE, NSET=ALL"]
    lines += [
        f"{node(i, j)}, {r:.10g}, {z:.10g}, 0."
        for j, z in enumerate(heights)
        for i, r in enumerate(radii)
        if not (i % 2 and j % 2)
    ]
    lines.append("*ELEMENT, TYPE=CAX8, ELSET=GLASS")
    for row in range(_THROUGH):
        for col in range(_ALONG):
            i, j = 2 * col, 2 * row
            corners = [(i, j), (i + 2, j), (i + 2, j + 2), (i, j + 2)]
            middles = [(i + 1, j), (i + 2, j + 1), (i + 1, j + 2), (i, j + 1)]
            lines.append(f"{1 + col + row * _ALONG}, " + ", ".join(str(node(*x)) for x in corners + middles))
    lines += ["*ELSET, ELSET=READ", *[f"{2 + row * _ALONG}," for row in range(_THROUGH)]]
    lines += ["*NSET, NSET=AXIS", *[f"{node(0, j)}," for j in range(len(heights))]]
    lines += ["*NSET, NSET=MIRROR", *[f"{node(i, 0)}," for i in range(wide)]]
    lines += ["*NSET, NSET=SURFACE", *[f"{node(i, len(heights) - 1)}," for i in range(wide)]]
    # Millimetres, newtons, seconds.
    heat = body.heat_per_volume_j_per_m3_k * rate_k_per_s * 1e-6
    lines += [
        *("*MATERIAL, NAME=M", "*ELASTIC", f"{body.youngs_modulus_pa / 1e6:.9g}, {body.poisson_ratio}"),
        *("*EXPANSION, ZERO=0.", f"{body.expansion_per_k:.9g}"),
        *("*CONDUCTIVITY", f"{body.conductivity_w_per_m_k:.9g}"),
        *("*SOLID SECTION, ELSET=GLASS, MATERIAL=M", "*INITIAL CONDITIONS, TYPE=TEMPERATURE", "ALL, 0."),
        *("*STEP", "*COUPLED TEMPERATURE-DISPLACEMENT, STEADY STATE", "1., 1."),
        *("*BOUNDARY", "AXIS, 1, 1", "MIRROR, 2, 2", "SURFACE, 11, 11, 0."),
        *("*DFLUX", f"GLASS, BF, {heat:.9g}"),
        *("*EL PRINT, ELSET=READ", "S", "*NODE PRINT, NSET=MIRROR", "U", "*END STEP"),
    ]
    stresses, _ = solve(lines, folder)
    at, found = [], []
    for row in range(_THROUGH):
        tensors = np.array(stresses[2 + row * _ALONG])[9:18].reshape(3, 3, 6)
        low, high = heights[2 * row], heights[2 * row + 2]
        at.append((low + high) / 2 + GAUSS * (high - low) / 2)
        found.append(tensors[:, :, 0].mean(axis=1))
    curve = np.polynomial.Polynomial.fit(np.concatenate(at), np.concatenate(found), 2)
    return float(curve(heights[-1])), float(curve(0.0))
