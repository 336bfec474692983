"""A disc of glass in a ring of metal put to the finite-element solver CalculiX (ccx).

Axisymmetric quadratic elements (CAX8), cooled evenly from the set point; half of the thickness, the other half being
its mirror. Glass may be thinner or thicker than its frame: it then lies in the middle of the thickness.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from finite_elements import Solid, materials, run

_IN_GLASS, _IN_METAL, _THROUGH, _ABOVE = 16, 20, 3, 3


def opening(metal: Solid, glass: Solid, radius_m: float, frame_m: float, set_c: float, folder: Path) -> float:
    """Mean stress in the plane [Pa] of the inner half of the glass, over its whole thickness."""
    # Narrower columns toward the edge of the glass, from either side.
    inner = radius_m * (1 - (1 - np.linspace(0, 1, 2 * _IN_GLASS + 1)) ** 1.5)
    outer = radius_m + frame_m * np.linspace(0, 1, 2 * _IN_METAL + 1)[1:] ** 1.5
    radii = np.concatenate([inner, outer])
    columns = _IN_GLASS + _IN_METAL
    lower, higher = sorted((glass.thickness_m / 2, metal.thickness_m / 2))
    heights = lower * np.linspace(0, 1, 2 * _THROUGH + 1)
    if higher > lower:
        heights = np.concatenate([heights, lower + (higher - lower) * np.linspace(0, 1, 2 * _ABOVE + 1)[1:]])
    rows = len(heights) // 2
    in_glass, in_metal = (rows if x.thickness_m / 2 == higher else _THROUGH for x in (glass, metal))
    wide = len(radii)

    def node(i: int, j: int) -> int:
        return 1 + i + j * wide

    lines = ["*NODE, NSET=ALL"]
    lines += [
        f"{node(i, j)}, {r * 1e3:.10g}, {z * 1e3:.10g}, 0."
        for j, z in enumerate(heights)
        for i, r in enumerate(radii)
        if not (i % 2 and j % 2)
        and (j <= 2 * in_glass or i >= 2 * _IN_GLASS)
        and (j <= 2 * in_metal or i <= 2 * _IN_GLASS)
    ]
    for layer, span, high in ((0, range(_IN_GLASS, columns), in_metal), (1, range(_IN_GLASS), in_glass)):
        lines.append(f"*ELEMENT, TYPE=CAX8, ELSET=L{layer}")
        for row in range(high):
            for col in span:
                i, j = 2 * col, 2 * row
                corners = [(i, j), (i + 2, j), (i + 2, j + 2), (i, j + 2)]
                middles = [(i + 1, j), (i + 2, j + 1), (i + 1, j + 2), (i, j + 1)]
                lines.append(f"{1 + col + row * columns}, " + ", ".join(str(node(*x)) for x in corners + middles))
    read = [
        1 + col + row * columns
        for row in range(in_glass)
        for col in range(_IN_GLASS)
        if radii[2 * col + 2] < radius_m / 2
    ]
    lines += ["*ELSET, ELSET=READ", *[f"{number}," for number in read]]
    lines += ["*NSET, NSET=AXIS", *[f"{node(0, j)}," for j in range(2 * in_glass + 1)]]
    lines += ["*NSET, NSET=BASE", *[f"{node(i, 0)}," for i in range(wide)]]
    lines += materials([metal, glass], set_c)
    stresses, _ = run(lines, ["AXIS, 1, 1", "BASE, 2, 2"], [metal, glass], set_c, folder)
    # Rows above the frame are not as high as those beside it.
    weights = np.diff(heights[::2])[[(number - 1) // columns for number in read]]
    return float(np.average([np.mean(np.array(stresses[number])[:, 0]) for number in read], weights=weights))
