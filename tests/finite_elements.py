"""A layered disc put to the finite-element solver CalculiX (ccx), as a check that shares nothing with our plate.

Axisymmetric quadratic elements (CAX8), free disc of radius 10 times its thickness, cooled evenly from the set
point; read near the axis, where the state is equal-biaxial.
"""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ALONG = 24
THROUGH_GLASS, THROUGH_METAL = 2, 4


@dataclass(frozen=True)
class Solid:
    """One layer: thickness [m], elastic constants, expansion [1/K], and (stress_0, hardening, ratio) of a metal."""

    thickness_m: float
    youngs_pa: float
    poisson: float
    expansion_per_k: float
    yields: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class DiscStress:
    """Per layer bottom to top: stress at bottom and top face [Pa]; and the disc's curvature [1/m], top convex > 0."""

    bottom_pa: tuple[float, ...]
    top_pa: tuple[float, ...]
    curvature_per_m: float


def disc(layers: list[Solid], set_c: float, folder: Path, room_c: float = 20.0) -> DiscStress:
    """Cool a disc and read the stress near its axis."""
    total = sum(x.thickness_m for x in layers)
    radius = 10 * total
    through = [THROUGH_METAL if x.yields else THROUGH_GLASS for x in layers]
    # Every second row and column holds element corners; millimetres keep the numbers of one size.
    edges = np.concatenate([[0.0], np.cumsum([x.thickness_m for x in layers])])
    z = (
        np.concatenate(
            [np.linspace(edges[k], edges[k + 1], 2 * n + 1)[(0 if k == 0 else 1) :] for k, n in enumerate(through)]
        )
        * 1e3
    )
    r = np.linspace(0, radius, 2 * ALONG + 1) * 1e3
    node = {(i, j): 1 + i + j * len(r) for j in range(len(z)) for i in range(len(r)) if not (i % 2 and j % 2)}
    lines = ["*NODE, NSET=ALL"]
    lines += [f"{n}, {r[i]:.9g}, {z[j]:.9g}, 0." for (i, j), n in node.items()]
    element, centre, row = 1, [], 0
    for k, n in enumerate(through):
        lines.append(f"*ELEMENT, TYPE=CAX8, ELSET=L{k}")
        for _ in range(n):
            for col in range(ALONG):
                i, j = 2 * col, 2 * row
                corners = [(i, j), (i + 2, j), (i + 2, j + 2), (i, j + 2)]
                middles = [(i + 1, j), (i + 2, j + 1), (i + 1, j + 2), (i, j + 1)]
                lines.append(f"{element}, " + ", ".join(str(node[x]) for x in corners + middles))
                if col == 1:
                    centre.append((element, k, z[2 * row], z[2 * row + 2]))
                element += 1
            row += 1
    lines += ["*ELSET, ELSET=READ", *[f"{e}," for e, *_ in centre]]
    lines += [
        "*NSET, NSET=AXIS",
        *[f"{node[0, j]}," for j in range(len(z))],
        "*NSET, NSET=FOOT",
        f"{node[0, 0]},",
        "*NSET, NSET=BASE",
        *[f"{node[i, 0]}," for i in range(len(r))],
    ]
    for k, x in enumerate(layers):
        lines += [
            f"*MATERIAL, NAME=M{k}",
            "*ELASTIC",
            f"{x.youngs_pa / 1e6:.9g}, {x.poisson}",
            f"*EXPANSION, ZERO={set_c}",
            f"{x.expansion_per_k:.9g}",
        ]
        if x.yields:
            stress, hardening, ratio = x.yields
            lines.append("*PLASTIC")
            for temp in (room_c, 500.0, 600.0):
                f = 1 + (ratio - 1) * (temp - 25) / 475
                lines += [
                    f"{stress / 1e6 * f:.9g}, 0., {temp}",
                    f"{(stress + hardening * 0.2) / 1e6 * f:.9g}, 0.2, {temp}",
                ]
        lines.append(f"*SOLID SECTION, ELSET=L{k}, MATERIAL=M{k}")
    lines += [
        "*INITIAL CONDITIONS, TYPE=TEMPERATURE",
        f"ALL, {set_c}",
        "*BOUNDARY",
        "AXIS, 1, 1",
        "FOOT, 2, 2",
        "*STEP, INC=1000",
        "*STATIC, DIRECT",
        "0.04, 1.",
        "*TEMPERATURE",
        f"ALL, {room_c}",
        "*EL PRINT, ELSET=READ, FREQUENCY=1000",
        "S",
        "*NODE PRINT, NSET=BASE, FREQUENCY=1000",
        "U",
        "*END STEP",
    ]
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "disc.inp").write_text("\n".join(lines) + "\n")
    done = subprocess.run(
        ["ccx", "disc"],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=300,
        env={"OMP_NUM_THREADS": "1", "PATH": "/usr/bin:/bin:/usr/local/bin"},
    )
    text = (folder / "disc.dat").read_text()
    assert "S T O P" not in done.stdout, done.stdout[-2000:]
    assert "*ERROR" not in done.stdout, done.stdout[-2000:]
    return _read(text, centre, len(layers), dict(zip((node[i, 0] for i in range(len(r))), r, strict=True)))


def _read(text: str, centre: list[tuple[int, int, float, float]], count: int, base: dict[int, float]) -> DiscStress:
    stresses, moves, block = {}, {}, ""
    for line in text.splitlines():
        if line.strip().startswith(("stresses", "displacements")):
            block = line.split()[0]
            stresses, moves = ({}, moves) if block == "stresses" else (stresses, {})
            continue
        parts = line.split()
        if block == "stresses" and len(parts) == 8 and re.fullmatch(r"\d+", parts[0]):
            stresses.setdefault(int(parts[0]), []).append(float(parts[2]) * 1e6)
        elif block == "displacements" and len(parts) == 4:
            moves[int(parts[0])] = float(parts[2])
    gauss = np.sqrt(0.6)
    bottom, top = [], []
    for k in range(count):
        zs, ss = [], []
        for e, layer, low, high in centre:
            if layer == k:
                # The solver turns CAX8 into a wedge of 3 by 3 by 3 points; its middle plane has x along the radius.
                rows = np.array(stresses[e])[9:18].reshape(3, 3).mean(axis=1)
                zs += [(low + high) / 2 + g * (high - low) / 2 for g in (-gauss, 0, gauss)]
                ss += list(rows)
        ends = np.array([min(x[2] for x in centre if x[1] == k), max(x[3] for x in centre if x[1] == k)])
        line = np.polynomial.Polynomial.fit(zs, ss, 1)
        bottom.append(float(line(ends[0])))
        top.append(float(line(ends[1])))
    radii = np.array(list(base.values()))
    lift = np.array([moves[n] for n in base])
    near = radii <= radii.max() * 0.5
    slope = np.polynomial.Polynomial.fit(radii[near] ** 2, lift[near], 1).convert().coef[1]
    return DiscStress(tuple(bottom), tuple(top), float(-2 * slope * 1e3))
