"""A build with cells in section: depths to one scale, the floor of a recess from its shallowest to its deepest place.

Heights are kept in mm over the front of the metal, and turned into the picture at the end. Widths are not to scale.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

from refdb.pictures.build_strip import LEFT, RIGHT, TOP, BuildLayer, Strip, hatched
from refdb.pictures.drawing import at, path

_PER_MM, _DEEPEST = 110.0, 150.0
#: The narrowest land beside a recess, and the narrowest recess.
_LEAST_LAND, _LEAST_RECESS = 9.0, 30.0
#: Openings, alone, and beside a recess with its place; a recess over the whole face has its openings in its floor.
_HOLES = ((16.0, 42.0), (56.0, 82.0))
_HOLES_BESIDE, _RECESS_BESIDE = ((9.0, 23.0), (32.0, 46.0)), (55.0, 88.0)
_WIRES, _WIRE_WIDE, _INSET_AT, _INSET_WIDE = (0.16, 0.47, 0.78), 3.2, 0.62, 40.0
_STANDING, _FILMS = ("wire", "inset", "set metal"), ("leaf", "line")

Points = list[tuple[float, float]]
Holes = tuple[tuple[float, float], ...]


class _Surface(NamedTuple):
    """How far a surface is from the metal's own [mm]: at the land, and at the shallow and the deep end of a recess."""

    land: float
    shallow: float
    deep: float


class _Shape(NamedTuple):
    """Points across the strip [picture] and over the front [mm], the kind of what they draw, and whether a ring."""

    kind: str
    points: Points
    closed: bool = True


class _Face:
    """One face while things are laid on it, counted outwards from the metal, and the shapes that come of it."""

    def __init__(self, rows: Sequence[tuple[int, BuildLayer]], metal_mm: float, holes: Holes, *, front: bool) -> None:
        self.metal_mm, self.front = metal_mm, front
        self.spans = _between(holes)
        self.shapes: list[_Shape] = []
        self.above: list[_Shape] = []
        self.names: dict[int, tuple[float, float]] = {}
        recess = next((x for _, x in rows if x.kind == "recess"), None)
        self.recess = recess
        self.walls = (LEFT, RIGHT)
        self.surface = _Surface(0.0, 0.0, 0.0)
        if recess is not None:
            self.surface = _Surface(0.0, -recess.places[0], -recess.places[-1])
        if recess is not None and recess.cover < 1.0:
            wide = RIGHT - LEFT
            half = max(_LEAST_RECESS, min(recess.cover * wide, wide - 2 * _LEAST_LAND)) / 2
            self.walls = _RECESS_BESIDE if holes else ((LEFT + RIGHT) / 2 - half, (LEFT + RIGHT) / 2 + half)
        self.metal = self.across(self.surface)
        for row, layer in rows:
            self._lay(row, layer)

    @property
    def has_land(self) -> bool:
        return self.walls[0] > LEFT or self.recess is None

    @property
    def bars(self) -> list[float]:
        """Shares of the strip in the middle of the bars between openings; none where those lie beside this."""
        left, right = self.walls
        if len(self.spans) == 1 or left > LEFT:
            return []
        return [((a + b) / 2 - left) / (right - left) for a, b in self.spans]

    def over(self, height: float) -> float:
        """A height over this face as one over the front."""
        return height if self.front else -self.metal_mm - height

    def across(self, surface: _Surface, *, land: bool = True) -> Points:
        """A surface from left to right, without its land where that is bare."""
        left, right = self.walls
        ends = [(LEFT, surface.land), (RIGHT, surface.land)]
        if self.recess is not None:
            floor = [(left, surface.shallow), (right, surface.deep)]
            beside = [(left, surface.land), (right, surface.land)]
            ends = [ends[0], beside[0], *floor, beside[1], ends[1]] if land and self.has_land else floor
        return [(x, self.over(h)) for x, h in ends]

    def height(self, share: float) -> tuple[float, float]:
        """A place at a share of the recess, or of the strip where there is none, and how high the surface is there."""
        left, right = self.walls
        slope = self.surface.deep - self.surface.shallow
        return left + share * (right - left), self.surface.shallow + share * slope

    def _lay(self, row: int, layer: BuildLayer) -> None:
        if layer.kind == "glass":
            self._coat(row, layer)
        elif layer.kind in _FILMS:
            line = self.across(self.surface)
            self.above += [_Shape(layer.kind, _part(line, *span), closed=False) for span in self.spans]
            self.names[row] = line[-1]
        elif layer.kind == "recess":
            x, h = self.height(self.bars[-1] if self.bars else 0.8)
            self.names[row] = (x, self.over(h))
        elif layer.kind in _STANDING:
            self._stand(row, layer)

    def _coat(self, row: int, layer: BuildLayer) -> None:
        thick = layer.places or (layer.thickness_mm,) * 3
        upper = _Surface(*(a + b for a, b in zip(self.surface, thick, strict=True)))
        land = thick[0] > 0.0
        lines = self.across(upper, land=land), self.across(self.surface, land=land)
        for span in self.spans:
            over, under = (_part(line, *span) for line in lines)
            if over:
                self.shapes.append(_Shape("glass", [*over, *reversed(under)]))
        if self.has_land and land:
            self.names[row] = (RIGHT, self.over((upper.land + self.surface.land) / 2))
        else:
            x = self.walls[1] - (5.0 if self.has_land else 0.0)
            self.names[row] = (x, self.over((upper.deep + self.surface.deep) / 2))
        self.surface = upper

    def _stand(self, row: int, layer: BuildLayer) -> None:
        tall = layer.thickness_mm
        wire = layer.kind == "wire"
        places: Sequence[float] = _WIRES if wire else (_INSET_AT,)
        wide = self.walls[1] - self.walls[0]
        if self.bars:
            # What is set stands on metal, not over an opening.
            places, wide = self.bars if wire else self.bars[1:2], self.spans[1][1] - self.spans[1][0]
        half = (_WIRE_WIDE if wire else min(_INSET_WIDE, 0.7 * wide)) / 2
        x = h = 0.0
        for share in places:
            x, h = self.height(share)
            box = [(x - half, h), (x - half, h + tall), (x + half, h + tall), (x + half, h)]
            self.above.append(_Shape(layer.kind, [(a, self.over(b)) for a, b in box]))
        self.names[row] = (x + half, self.over(h + tall * 0.2))


def _between(holes: Holes) -> list[tuple[float, float]]:
    """What is left of the strip between openings."""
    ends = [LEFT, *(x for hole in holes for x in hole), RIGHT]
    return list(zip(ends[::2], ends[1::2], strict=True))


def _part(line: Points, left: float, right: float) -> Points:
    """The part of a line between two places across; nothing where it does not reach there."""
    left, right = max(left, line[0][0]), min(right, line[-1][0])
    if left >= right:
        return []

    def height(x: float) -> float:
        (a, low), (b, high) = next((p, q) for p, q in pairwise(line) if p[0] <= x <= q[0] > p[0])
        return low + (high - low) * (x - a) / (b - a)

    return [(left, height(left)), *(p for p in line if left < p[0] < right), (right, height(right))]


def _holes_of(layers: Sequence[BuildLayer]) -> Holes:
    """Where openings go through, none of a piece without."""
    if not any(x.kind == "opening" for x in layers):
        return ()
    return _HOLES_BESIDE if any(x.kind == "recess" and x.cover < 1.0 for x in layers) else _HOLES


def _glass_of(
    holes: Holes, layers: Sequence[BuildLayer], metal_mm: float
) -> tuple[list[_Shape], dict[int, tuple[float, float]]]:
    """Openings with their glass: on the backing where there is one, else held between the walls."""
    shapes: list[_Shape] = []
    names: dict[int, tuple[float, float]] = {}
    opening = next(((n, x) for n, x in enumerate(layers) if x.kind == "opening"), None)
    if opening is None:
        return shapes, names
    within = [(n, x) for n, x in enumerate(layers) if x.kind == "within"]
    glass = sum(x.thickness_mm for _, x in within)
    low = -metal_mm if opening[1].backing else -(metal_mm + glass) / 2
    end = holes[-1][1]
    names[opening[0]] = (end, -metal_mm * 0.62 if within else -metal_mm * 0.3)
    # From the back out, as they are laid.
    for row, layer in reversed(within):
        high = low + layer.thickness_mm
        shapes += [_Shape("glass", [(a, high), (b, high), (b, low), (a, low)]) for a, b in holes]
        names[row] = (end - 4.0, (low + high) / 2)
        low = high
    if opening[1].backing:
        shapes.append(_Shape("leaf", [(LEFT, -metal_mm - 0.04), (RIGHT, -metal_mm - 0.04)], closed=False))
    return shapes, names


def cells(layers: Sequence[BuildLayer]) -> Strip:
    """The strip of a piece with cells, from the front down."""
    split = next(n for n, x in enumerate(layers) if x.kind == "metal")
    metal_mm = layers[split].thickness_mm
    rows = list(enumerate(layers))
    holes = _holes_of(layers)
    front = _Face(list(reversed(rows[:split])), metal_mm, holes, front=True)
    back = _Face(rows[split + 1 :], metal_mm, holes, front=False)
    inside, names = _glass_of(holes, layers, metal_mm)
    names |= front.names | back.names
    names[split] = (RIGHT, -metal_mm * (0.85 if inside else 0.6))
    shapes = [*front.shapes, *back.shapes, *inside, *front.above, *back.above]
    heights = [h for s in shapes for _, h in s.points] + [0.0, -metal_mm]
    top, low = max(heights), min(heights)
    per_mm = min(_PER_MM, _DEEPEST / max(top - low, 1e-9))

    def drawn(points: Sequence[tuple[float, float]]) -> Points:
        return [(x, TOP + (top - h) * per_mm) for x, h in points]

    outline = [[*_part(front.metal, *x), *reversed(_part(back.metal, *x))] for x in _between(holes)]
    parts = list(hatched("".join(_ring(drawn(ring)) for ring in outline)))
    for shape in shapes:
        parts += _mark(shape.kind, drawn(shape.points), closed=shape.closed)
    points = drawn([names.get(n, (RIGHT, 0.0)) for n, _ in rows])
    return Strip(parts, points, TOP + (top - low) * per_mm, "depths to scale, widths not")


def _ring(points: Points) -> str:
    return f"{_line(points)}Z"


def _line(points: Points) -> str:
    return "M" + "L".join(f"{at(x)} {at(y)}" for x, y in points)


def _mark(kind: str, points: Points, *, closed: bool) -> Iterator[str]:
    if not closed:
        yield path(_line(points), "foil", ' stroke-dasharray="14 8"' if kind == "line" else "")
    elif kind == "inset":
        # A lump is round on top.
        (left, foot), (_, top), (right, _), _ = points
        middle = (left + right) / 2
        data = f"M{at(left)} {at(foot)}Q{at(left)} {at(top)} {at(middle)} {at(top)}"
        yield path(f"{data}Q{at(right)} {at(top)} {at(right)} {at(foot)}Z", "gl")
    elif kind == "glass":
        yield path(_ring(points), "gl")
    elif kind == "wire":
        yield path(_ring(points), "me")
    else:
        yield from hatched(_ring(points))
