"""A wire standing in glass on a base that imposes its own contraction, put to the finite-element solver CalculiX (ccx).

Plane strain (CPE8) in the frame that contracts as the base does: every strain is told against the base's, so that the
length of the wire, the foot of the glass and the middle between two wires stay where they are. Half a wire and half of
the glass between it and the next; the top is free. With a base of its own below the underside is free as well, and
held up at the mirror alone, so that the base bends between two wires.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
from finite_elements import GAUSS, Solid, materials, run

_IN_WIRE, _IN_GLASS, _UP = 8, 24, 20
#: The same on a base that gives, and in what lies beneath.
_IN_WIRE_ON_BASE, _IN_GLASS_ON_BASE, _UP_ON_BASE, _IN_BASE, _IN_BED, _IN_COUNTER = 6, 14, 12, 5, 3, 2


class AtWire(NamedTuple):
    """Means over the height [Pa]: across the side of the wire, and along it in the glass beside and in the wire."""

    across: float
    beside: float
    along: float
    profile: np.ndarray


def wire(
    metal: Solid,
    glass: Solid,
    base_per_k: float,
    spacing_m: float,
    set_c: float,
    folder: Path,
    base: Solid | None = None,
    bed_m: float = 0.0,
    counter_m: float = 0.0,
) -> AtWire:
    """Cool a wire of `metal.thickness_m` across in glass of `glass.thickness_m`, as high as the wire.

    Below lie, where they are given, `bed_m` of the same glass, the base and `counter_m` of the same glass. A base that
    shrinks more than `base_per_k` is stretched before the wire comes to it.
    """
    half, height = metal.thickness_m / 2, glass.thickness_m
    in_wire, in_glass, in_height = _IN_WIRE, _IN_GLASS, _UP
    if base is not None:
        in_wire, in_glass, in_height = _IN_WIRE_ON_BASE, _IN_GLASS_ON_BASE, _UP_ON_BASE
    inner = half * (1 - (1 - np.linspace(0, 1, 2 * in_wire + 1)) ** 1.5)
    outer = half + (spacing_m / 2 - half) * np.linspace(0, 1, 2 * in_glass + 1)[1:] ** 2.2
    across = np.concatenate([inner, outer])
    grid = np.linspace(-1, 1, 2 * in_height + 1)
    up = (height / 2) * (1 + np.sign(grid) * (1 - (1 - np.abs(grid)) ** 1.5))
    bed = _IN_BED if bed_m else 0
    if bed:
        up = np.concatenate([bed_m * np.linspace(-1, 0, 2 * bed + 1)[:-1], up])
    if base is not None:
        down = -base.thickness_m * np.linspace(1, 0, 2 * _IN_BASE + 1)[:-1] ** 1.5 - bed_m
        up = np.concatenate([down, up])
    back = _IN_COUNTER if counter_m else 0
    if back:
        up = np.concatenate([up[0] - counter_m * np.linspace(1, 0, 2 * back + 1)[:-1], up])
    under = back + (_IN_BASE if base is not None else 0)
    below = under + bed
    # Middle nodes halfway.
    across[1::2], up[1::2] = (across[:-1:2] + across[2::2]) / 2, (up[:-1:2] + up[2::2]) / 2
    columns, rows, wide = in_wire + in_glass, len(up) // 2, len(across)

    def node(i: int, j: int) -> int:
        return 1 + i + j * wide

    lines = ["*NODE, NSET=ALL"]
    lines += [
        f"{node(i, j)}, {x * 1e3:.10g}, {y * 1e3:.10g}, 0."
        for j, y in enumerate(up)
        for i, x in enumerate(across)
        if not (i % 2 and j % 2)
    ]
    parts = [(range(below, rows), range(in_wire)), (range(below, rows), range(in_wire, columns))]
    solids = [metal, glass]
    for solid, over in ((glass, range(under, below)), (base, range(back, under)), (glass, range(back))):
        if over and solid is not None:
            parts.append((over, range(columns)))
            solids.append(solid)
    for k, (over, span) in enumerate(parts):
        lines.append(f"*ELEMENT, TYPE=CPE8, ELSET=L{k}")
        for row in over:
            for col in span:
                i, j = 2 * col, 2 * row
                corners = [(i, j), (i + 2, j), (i + 2, j + 2), (i, j + 2)]
                middles = [(i + 1, j), (i + 2, j + 1), (i + 1, j + 2), (i, j + 1)]
                lines.append(f"{1 + col + row * columns}, " + ", ".join(str(node(*x)) for x in corners + middles))
    seen = [(row, col) for row in range(below, rows) for col in range(in_wire + 1)]
    lines += ["*ELSET, ELSET=READ", *[f"{1 + col + row * columns}," for row, col in seen]]
    for name, at in (("LEFT", 0), ("RIGHT", wide - 1)):
        lines += [f"*NSET, NSET={name}", *[f"{node(at, j)}," for j in range(len(up))]]
    lines += ["*NSET, NSET=BASE", *[f"{node(i, 0)}," for i in range(wide)]]
    lines += materials([replace(x, expansion_per_k=x.expansion_per_k - base_per_k) for x in solids], set_c)
    lines += ["*NSET, NSET=PROP", f"{node(wide - 1, 0)},"]
    on = ["BASE, 2, 2", "BASE, 1, 1"] if base is None else ["PROP, 2, 2"]
    held = ["LEFT, 1, 1", "RIGHT, 1, 1", *on]
    stresses, _ = run(lines, held, solids, set_c, folder)

    def points(row: int, col: int) -> np.ndarray:
        return np.array(stresses[1 + col + row * columns])[9:18].reshape(3, 3, 6)

    weights = np.array([5, 8, 5]) / 18
    heights = np.diff(up[2 * below :: 2])
    side = [points(row, in_wire) for row in range(below, rows)]
    inside = [[points(row, col) for col in range(in_wire)] for row in range(below, rows)]
    widths = np.diff(across[: 2 * in_wire + 1 : 2])
    # Carried on to the side from the three points of the first column of glass.
    left, right = across[2 * in_wire], across[2 * in_wire + 2]
    at = (left + right) / 2 + GAUSS * (right - left) / 2

    def carried(tensors: np.ndarray, part: int) -> np.ndarray:
        return np.array([np.polynomial.Polynomial.fit(at, tensors[j, :, part], 1)(left) for j in range(3)])

    x_profile = np.array([carried(t, 0) for t in side])
    levels = np.array(
        [(up[2 * r] + up[2 * r + 2]) / 2 + GAUSS * (up[2 * r + 2] - up[2 * r]) / 2 for r in range(below, rows)]
    )

    def mean(profile: np.ndarray) -> float:
        return float((profile @ weights) @ heights / height)

    along = sum(
        (weights @ t[:, :, 2] @ weights) * w * h
        for line, h in zip(inside, heights, strict=True)
        for t, w in zip(line, widths, strict=True)
    )
    return AtWire(
        mean(x_profile),
        mean(np.array([carried(t, 2) for t in side])),
        float(along / (half * height)),
        np.stack((levels.ravel(), x_profile.ravel())),
    )
