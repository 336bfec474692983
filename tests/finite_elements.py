"""A layered disc or dome put to the finite-element solver CalculiX (ccx), which shares nothing with our plate.

Axisymmetric quadratic elements (CAX8), cooled evenly from the set point. A disc of radius 10 times its thickness is
read near the axis, where the state is equal-biaxial; a spherical cap with a free edge is read along its meridian.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ALONG = 24
ALONG_CAP = 36
THROUGH_GLASS, THROUGH_METAL = 2, 4
#: Gauss points of an element, in its own span from -1 to 1.
GAUSS = np.sqrt(0.6) * np.array([-1.0, 0.0, 1.0])
STEPS = 25
#: Metal given a flow stress from here on never yields [Pa]; what is elastic all through takes one step.
NEVER_YIELDS_PA = 1e9
#: Glass that melts has lost its stiffness so far above its set point [K].
MELTS_OVER_K = 10.0


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


@dataclass(frozen=True)
class FaceStress:
    """Stress [Pa] at the outer face of a dome's glass, from the pole to the rim.

    `from_rim_m` is the way along the meridian; `along_pa` is the stress in that direction, `around_pa` the hoop's.
    """

    from_rim_m: np.ndarray
    along_pa: np.ndarray
    around_pa: np.ndarray


class _Mesh:
    """Elements of a stack of layers over a span cut into columns; every second row and column holds corners.

    `span` holds the columns' ends and middles as fractions from the axis (0) to the edge (1); `place` puts a fraction
    and a height over the lowest face at a radius and a height [m]. `elements` lists number, layer, column, bottom, top.
    """

    def __init__(self, layers: list[Solid], span: np.ndarray, place: Callable[..., tuple[float, float]]) -> None:
        self.layers, self.span = layers, span
        through = [THROUGH_METAL if x.yields else THROUGH_GLASS for x in layers]
        edges = np.concatenate([[0.0], np.cumsum([x.thickness_m for x in layers])])
        rows = [np.linspace(edges[k], edges[k + 1], 2 * n + 1)[min(k, 1) :] for k, n in enumerate(through)]
        self.heights = np.concatenate(rows)
        self.places = {
            (i, j): place(s, z) for j, z in enumerate(self.heights) for i, s in enumerate(span) if not (i % 2 and j % 2)
        }
        self.node = {at: 1 + at[0] + at[1] * len(span) for at in self.places}
        self.of_row = [k for k, n in enumerate(through) for _ in range(n)]
        columns = len(span) // 2
        self.elements = [
            (1 + col + row * columns, k, col, self.heights[2 * row], self.heights[2 * row + 2])
            for row, k in enumerate(self.of_row)
            for col in range(columns)
        ]

    def lines(self, read: list[int]) -> list[str]:
        """The mesh in the solver's words, in millimetres, which keep the numbers of one size."""
        node, columns = self.node, len(self.span) // 2
        out = ["*NODE, NSET=ALL"]
        out += [f"{node[at]}, {r * 1e3:.10g}, {z * 1e3:.10g}, 0." for at, (r, z) in self.places.items()]
        for number, k, col, *_ in self.elements:
            if number == 1 or (col == 0 and self.of_row[(number - 1) // columns - 1] != k):
                out.append(f"*ELEMENT, TYPE=CAX8, ELSET=L{k}")
            i, j = 2 * col, 2 * ((number - 1) // columns)
            corners = [(i, j), (i + 2, j), (i + 2, j + 2), (i, j + 2)]
            middles = [(i + 1, j), (i + 2, j + 1), (i + 1, j + 2), (i, j + 1)]
            out.append(f"{number}, " + ", ".join(str(node[x]) for x in corners + middles))
        out += ["*ELSET, ELSET=READ", *[f"{number}," for number in read]]
        out += ["*NSET, NSET=AXIS", *[f"{node[0, j]}," for j in range(len(self.heights))]]
        out += ["*NSET, NSET=FOOT", f"{node[0, 0]},"]
        return [*out, "*NSET, NSET=BASE", *[f"{node[i, 0]}," for i in range(len(self.span))]]

    def gauss(self, layer: int, column: int, stresses: dict[int, list[list[float]]]) -> tuple[np.ndarray, np.ndarray]:
        """Heights (points,) and stress tensors (points, along, 6) [Pa] of a layer in a column."""
        found = [(number, low, high) for number, k, col, low, high in self.elements if (k, col) == (layer, column)]
        heights = np.concatenate([(low + high) / 2 + GAUSS * (high - low) / 2 for _, low, high in found])
        # The solver turns CAX8 into a wedge of 3 by 3 by 3 points; its middle plane has x along the radius.
        return heights, np.concatenate([np.array(stresses[number])[9:18].reshape(3, 3, 6) for number, *_ in found])


def disc(layers: list[Solid], set_c: float, folder: Path, room_c: float = 20.0) -> DiscStress:
    """Cool a disc and read the stress near its axis."""
    radius = 10 * sum(x.thickness_m for x in layers)
    mesh = _Mesh(layers, np.linspace(0, 1, 2 * ALONG + 1), lambda s, z: (s * radius, z))
    stresses, moves = _solved(mesh, [number for number, _, col, *_ in mesh.elements if col == 1], set_c, folder, room_c)
    faces = []
    for k in range(len(layers)):
        heights, tensors = mesh.gauss(k, 1, stresses)
        faces.append(_at_faces(mesh, k, heights, tensors[:, :, 0].mean(axis=1), 1))
    return DiscStress(tuple(x[0] for x in faces), tuple(x[1] for x in faces), _bend(mesh, moves, radius))


def refired(layers: list[Solid], set_c: float, folder: Path, room_c: float = 20.0) -> float:
    """Cool a disc, warm it to its set point again and melt its glass; return the curvature left in the metal [1/m].

    Molten is glass that has lost all but a millionth of its stiffness, some kelvins above the set point.
    """
    radius = 10 * sum(x.thickness_m for x in layers)
    mesh = _Mesh(layers, np.linspace(0, 1, 2 * ALONG + 1), lambda s, z: (s * radius, z))
    _, moves = _solved(mesh, [1], set_c, folder, room_c, melts=True)
    return _bend(mesh, moves, radius)


def _bend(mesh: _Mesh, moves: dict[int, float], radius: float) -> float:
    """Curvature of a disc near its axis [1/m], top convex above zero."""
    radii = mesh.span * radius
    lift = np.array([moves[mesh.node[i, 0]] for i in range(len(radii))])
    near = radii <= radius * 0.5
    return float(-2 * np.polynomial.Polynomial.fit(radii[near] ** 2, lift[near], 1).convert().coef[1])


def cap(layers: list[Solid], radius_m: float, rise_m: float, set_c: float, folder: Path, face: int = -1) -> FaceStress:
    """Cool a spherical cap with a free edge and read its glass; a disc where it does not rise.

    Layers lie from the hollow face to the domed one, radius and rise are of the middle of the wall, the edge is cut
    square to it; `face` is the glass to be read, -1 the domed face's and 0 the hollow face's.
    """
    half = sum(x.thickness_m for x in layers) / 2
    if rise_m:
        ball = (radius_m**2 + rise_m**2) / (2 * rise_m)
        opening = np.arcsin(radius_m / ball)
        length = ball * opening

        def place(s: float, z: float) -> tuple[float, float]:
            at = ball + z - half
            return at * np.sin(s * opening), at * np.cos(s * opening) - ball

    else:
        opening, length = 0.0, radius_m

        def place(s: float, z: float) -> tuple[float, float]:
            return s * radius_m, z

    # Narrower columns toward the edge.
    ends = 1 - (1 - np.linspace(0, 1, ALONG_CAP + 1)) ** 1.6
    mesh = _Mesh(layers, np.sort(np.concatenate([ends, (ends[1:] + ends[:-1]) / 2])), place)
    layer = range(len(layers))[face]
    stresses, _ = _solved(mesh, [number for number, k, *_ in mesh.elements if k == layer], set_c, folder, 20.0)
    at, along, around = [], [], []
    for col in range(ALONG_CAP):
        heights, tensors = mesh.gauss(layer, col, stresses)
        middle, width = (ends[col] + ends[col + 1]) / 2, ends[col + 1] - ends[col]
        for c, g in enumerate(GAUSS):
            s = middle + g * width / 2
            xx, yy, zz, xy = tensors[:, c, :4].T
            cos, sin = np.cos(s * opening), np.sin(s * opening)
            at.append((1 - s) * length)
            along.append(
                _at_faces(mesh, layer, heights, xx * cos**2 + yy * sin**2 - 2 * xy * sin * cos, 2)[-1 if face else 0]
            )
            around.append(_at_faces(mesh, layer, heights, zz, 2)[-1 if face else 0])
    return FaceStress(np.array(at), np.array(along), np.array(around))


def _at_faces(mesh: _Mesh, layer: int, heights: np.ndarray, values: np.ndarray, degree: int) -> tuple[float, float]:
    """Values at Gauss points carried on to the two faces of their layer."""
    curve = np.polynomial.Polynomial.fit(heights, values, degree)
    ends = [h for _, k, _, low, high in mesh.elements if k == layer for h in (low, high)]
    return float(curve(min(ends))), float(curve(max(ends)))


def materials(layers: list[Solid], set_c: float, room_c: float = 20.0, melts: bool = False) -> list[str]:
    """Elasticity, expansion and yield of the element sets L0, L1, … as the solver reads them."""
    lines = []
    for k, x in enumerate(layers):
        lines += [f"*MATERIAL, NAME=M{k}", "*ELASTIC", f"{x.youngs_pa / 1e6:.9g}, {x.poisson}, {set_c}"]
        if melts and not x.yields:
            lines.append(f"{x.youngs_pa / 1e12:.9g}, {x.poisson}, {set_c + MELTS_OVER_K}")
        lines += [f"*EXPANSION, ZERO={set_c}", f"{x.expansion_per_k:.9g}"]
        if x.yields:
            stress, hardening, ratio = x.yields
            lines.append("*PLASTIC")
            for temp in (room_c, 500.0, 600.0):
                f = 1 + (ratio - 1) * (temp - 25) / 475
                lines.append(f"{stress / 1e6 * f:.9g}, 0., {temp}")
                lines.append(f"{(stress + hardening * 0.2) / 1e6 * f:.9g}, 0.2, {temp}")
        lines.append(f"*SOLID SECTION, ELSET=L{k}, MATERIAL=M{k}")
    return lines


def _solved(
    mesh: _Mesh, read: list[int], set_c: float, folder: Path, room_c: float, melts: bool = False
) -> tuple[dict[int, list[list[float]]], dict[int, float]]:
    """Stress [Pa] at all points of the elements asked for, and the lift [m] of each node of the lowest face."""
    lines = [*mesh.lines(read), *materials(mesh.layers, set_c, room_c, melts)]
    temps = (room_c, set_c, set_c + MELTS_OVER_K) if melts else (room_c,)
    return run(lines, ["AXIS, 1, 1", "FOOT, 2, 2"], mesh.layers, set_c, folder, temps)


def run(
    model: list[str],
    held: list[str],
    layers: list[Solid],
    set_c: float,
    folder: Path,
    temps: tuple[float, ...] = (20.0,),
) -> tuple[dict[int, list[list[float]]], dict[int, float]]:
    """Take a model with the sets ALL, READ and BASE to each temperature in turn from its set point [°C].

    Stress [Pa] at all points of READ and lift [m] of BASE at the last.
    """
    elastic = all(x.yields is None or x.yields[0] >= NEVER_YIELDS_PA for x in layers)
    lines = [*model, "*INITIAL CONDITIONS, TYPE=TEMPERATURE", f"ALL, {set_c}", "*BOUNDARY", *held]
    for temp in temps:
        lines += [
            "*STEP, INC=1000",
            "*STATIC, DIRECT",
            f"{1.0 if elastic else 1 / STEPS}, 1.",
            "*TEMPERATURE",
            f"ALL, {temp}",
            "*EL PRINT, ELSET=READ, FREQUENCY=1000",
            "S",
            "*NODE PRINT, NSET=BASE, FREQUENCY=1000",
            "U",
            "*END STEP",
        ]
    return solve(lines, folder)


def solve(lines: list[str], folder: Path) -> tuple[dict[int, list[list[float]]], dict[int, float]]:
    """Hand a whole model to the solver: stress [Pa] at all points printed and lift [m] of nodes, both at the last."""
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
    assert "S T O P" not in done.stdout, done.stdout[-2000:]
    assert "*ERROR" not in done.stdout, done.stdout[-2000:]
    return _read((folder / "disc.dat").read_text())


def _read(text: str) -> tuple[dict[int, list[list[float]]], dict[int, float]]:
    stresses: dict[int, list[list[float]]] = {}
    moves: dict[int, float] = {}
    block = ""
    for line in text.splitlines():
        if line.strip().startswith(("stresses", "displacements")):
            block = line.split()[0]
            if block == "stresses":
                stresses = {}
            continue
        parts = line.split()
        if block == "stresses" and len(parts) == 8 and re.fullmatch(r"\d+", parts[0]):
            stresses.setdefault(int(parts[0]), []).append([float(x) * 1e6 for x in parts[2:]])
        elif block == "displacements" and len(parts) == 4:
            moves[int(parts[0])] = float(parts[2]) * 1e-3
    return stresses, moves
