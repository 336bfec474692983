"""How many pieces of clay fit a firing container, in how many layers and batches."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Any

from refdb.errors import BadInput
from refdb.frozen import dataclass
from refdb.quantities import length_m

#: Lengths are packed as whole numbers of this [m], pieces rounded up and the container down.
_GRAIN_M = 1e-5
_LARGEST_M = 2.0
#: Above so many pieces in a layer, strips of rows lie within a hundredth of the best mixture.
_MIXED_UP_TO = 150
_TIMES = re.compile(r"\s*(?:[x×*]|by)\s*", re.IGNORECASE)
_UNIT = re.compile(r'[A-Za-zµμ"][A-Za-z. ]*$')

Rect = tuple[int, int, int, int]


@dataclass(frozen=True)
class Container:
    """Inner size of a firing container [m]."""

    width_m: float
    depth_m: float
    height_m: float


@dataclass(frozen=True)
class Placement:
    """Where a piece lies in its layer: its near left corner and its size as laid [m]."""

    x_m: float
    y_m: float
    width_m: float
    height_m: float


@dataclass(frozen=True)
class Packed:
    """How a quantity fits: places of one full layer, layers, and batches of the whole quantity.

    `at_most` is what no layer of such rectangles can exceed, 0 where that was not asked.
    """

    container: Container
    spacing_m: float
    carbon_m: float
    places: tuple[Placement, ...]
    layers: int
    quantity: int
    sources: tuple[str, ...]
    note: str = ""
    at_most: int = 0

    @property
    def is_most(self) -> bool:
        """Whether it is certain that no more fit a layer."""
        return self.per_layer == self.at_most

    @property
    def per_layer(self) -> int:
        """Pieces in a full layer."""
        return len(self.places)

    @property
    def per_batch(self) -> int:
        """Pieces in a full container."""
        return self.per_layer * self.layers

    @property
    def batches(self) -> int:
        """Firings of the container for the whole quantity."""
        return math.ceil(self.quantity / self.per_batch)

    @property
    def layers_used(self) -> int:
        """Layers in use in the fullest batch."""
        return math.ceil(min(self.quantity, self.per_batch) / self.per_layer)

    @property
    def words(self) -> str:
        """How the quantity fits, in a sentence."""
        layers = f"{self.layers} layer{'s' if self.layers != 1 else ''}"
        batches = f"{self.batches} batch{'es' if self.batches != 1 else ''}"
        used = "" if self.batches > 1 or self.layers_used == self.layers else f" ({self.layers_used} in use)"
        sure = ", more cannot fit" if self.is_most else f", {self.at_most} at the very most" if self.at_most else ""
        return (
            f"{self.per_layer} to a layer{sure}; {layers}, {self.per_batch} in all; "
            f"{self.quantity:,} in {batches}{used}, "
            f"{_mm(self.spacing_m):g} mm apart and to the wall, {_mm(self.carbon_m):g} mm of carbon below, above "
            "and between."
        )

    def as_dict(self) -> dict[str, Any]:
        """Ready for JSON, lengths in mm."""
        box = self.container
        return {
            "container_mm": [_mm(x) for x in (box.width_m, box.depth_m, box.height_m)],
            "spacing_mm": _mm(self.spacing_m),
            "carbon_mm": _mm(self.carbon_m),
            "per_layer": self.per_layer,
            "per_layer_at_most": self.at_most,
            "layers": self.layers,
            "per_batch": self.per_batch,
            "quantity": self.quantity,
            "batches": self.batches,
            "places_mm": [[_mm(x) for x in (p.x_m, p.y_m, p.width_m, p.height_m)] for p in self.places],
            "sources": list(self.sources),
        } | ({"note": self.note} if self.note else {})


def container_of(text: str, where: str = "--container") -> Container:
    """A container as typed: "200x150x80 mm", "20 x 15 x 8 cm", "8 in x 6 in x 3 in".

    Raises
    ------
    BadInput
        When these are not three lengths above zero and up to 2 m.
    """
    example = "200x150x80 mm"
    parts = [p.strip() for p in _TIMES.split(text.strip())] if len(text) <= 100 else []
    if len(parts) != 3 or not all(parts):
        raise BadInput("not three inner lengths", where, f"write width x depth x height, such as {example}")
    unit = _UNIT.search(parts[2])
    sizes = [length_m(p if _UNIT.search(p) or unit is None else f"{p} {unit[0]}", where=where) for p in parts]
    if max(sizes) > _LARGEST_M:
        raise BadInput(f"{max(sizes):g} m is no size of a firing container", where, f"write for example {example}")
    return Container(*sizes)


def packed(
    width_m: float,
    height_m: float,
    depth_m: float,
    quantity: int,
    container: Container,
    *,
    spacing_m: float,
    carbon_m: float,
    sources: tuple[str, ...] = (),
    note: str = "",
) -> Packed:
    """Pack pieces of one size, lying flat, into layers of a container.

    Parameters
    ----------
    width_m, height_m, depth_m : float
        Size of a piece before firing: its outline as a rectangle, and how high it stands [m].
    quantity : int
        Pieces in all.
    container : Container
        Inner size.
    spacing_m : float
        Least gap between pieces and to the wall [m].
    carbon_m : float
        Least carbon below, above and between layers [m].

    Returns
    -------
    Packed
        The most pieces found for a layer, with the number that no layer can exceed.

    Raises
    ------
    BadInput
        One piece alone does not fit.
    """
    layers = math.floor((container.height_m - carbon_m + 1e-9) / (depth_m + carbon_m))
    room = (container.width_m - spacing_m, container.depth_m - spacing_m)
    wide, high = (math.ceil((x + spacing_m) / _GRAIN_M - 1e-6) for x in (width_m, height_m))
    across, along = (math.floor(x / _GRAIN_M + 1e-6) for x in room)
    fits = (wide <= across and high <= along) or (high <= across and wide <= along)
    if layers < 1 or not fits:
        gap, carbon = (f"{_mm(x):g} mm" for x in (spacing_m, carbon_m))
        raise BadInput(
            f"a piece of {_mm(width_m):g} x {_mm(height_m):g} x {_mm(depth_m):g} mm before firing does not fit "
            f"{_mm(container.width_m):g} x {_mm(container.depth_m):g} x {_mm(container.height_m):g} mm with {gap} to "
            f"the wall and {carbon} of carbon above and below",
            "--container",
            "give a larger container",
        )
    found = sorted(layout(across, along, wide, high), key=lambda r: (r[1], r[0]))
    places = tuple(_placement(rect, spacing_m) for rect in found)
    return Packed(
        container, spacing_m, carbon_m, places, layers, quantity, sources, note, most_certain(across, along, wide, high)
    )


def _placement(rect: Rect, spacing_m: float) -> Placement:
    """Where a piece lies whose rectangle, in grains, holds the gap before it."""
    x, y, width, height = (n * _GRAIN_M for n in rect)
    return Placement(x + spacing_m, y + spacing_m, width - spacing_m, height - spacing_m)


def layout(across: int, along: int, wide: int, high: int) -> list[Rect]:
    """Return places (x, y, width, height) of as many pieces as are found to fit a layer.

    Parameters
    ----------
    across, along, wide, high : int
        Sides of the layer and of a piece; pieces may be turned.

    Returns
    -------
    list of tuple of int
        The fullest of several layers laid by a rectangle packer; it may fall one or two short of the best possible,
        see `most_certain`.
    """
    best: list[Rect] = []
    most = most_certain(across, along, wide, high)
    for found in _layers(across, along, wide, high):
        if len(found) > len(best):
            best = found
        if len(best) >= most:
            break
    return best


def _layers(across: int, along: int, wide: int, high: int) -> Iterator[list[Rect]]:
    """Layers to choose from: rows, two strips of rows, and mixtures of both orientations in several orders."""
    from rectpack import MaxRectsBaf, MaxRectsBl, MaxRectsBssf

    most = across * along // (wide * high)
    yield _rows(across, along, wide, high)
    yield _two_strips(across, along, wide, high)
    if most > _MIXED_UP_TO or wide == high:
        return
    upright, turned = [(wide, high)], [(high, wide)]
    for rule in (MaxRectsBssf, MaxRectsBaf, MaxRectsBl):
        yield _packed_once(across, along, upright * most, rule, turning=True)
        for count in range(1, most, max(1, most // 16)):
            yield _packed_once(across, along, upright * count + turned * most, rule)
            yield _packed_once(across, along, turned * count + upright * most, rule)
            yield _packed_once(across, along, upright * count + turned * 2 * count + upright * most, rule)
            yield _packed_once(across, along, turned * count + upright * 2 * count + turned * most, rule)


def _rows(across: int, along: int, wide: int, high: int) -> list[Rect]:
    """Rows of the better orientation."""
    from rectpack import SkylineBl

    w, h = max((wide, high), (high, wide), key=lambda size: (across // size[0]) * (along // size[1]))
    return _packed_once(across, along, [(w, h)] * ((across // w) * (along // h)), SkylineBl)


def _two_strips(across: int, along: int, wide: int, high: int) -> list[Rect]:
    """Rows in each part of a layer cut in two from side to side, where that holds the most."""

    def held(a: int, b: int) -> int:
        return max((a // wide) * (b // high), (a // high) * (b // wide))

    ways = [((at, along), (across - at, along), (at, 0)) for size in (wide, high) for at in range(size, across, size)]
    ways += [((across, at), (across, along - at), (0, at)) for size in (wide, high) for at in range(size, along, size)]
    if not ways:
        return []
    first, second, (x0, y0) = max(ways, key=lambda way: held(*way[0]) + held(*way[1]))
    return [*_rows(*first, wide, high), *((x + x0, y + y0, w, h) for x, y, w, h in _rows(*second, wide, high))]


def _packed_once(
    across: int, along: int, shapes: list[tuple[int, int]], rule: Any, *, turning: bool = False
) -> list[Rect]:
    from rectpack import SORT_NONE, PackingMode, newPacker

    packer = newPacker(mode=PackingMode.Offline, pack_algo=rule, sort_algo=SORT_NONE, rotation=turning)
    for width, height in shapes:
        packer.add_rect(width, height)
    packer.add_bin(across, along)
    packer.pack()
    return [(x, y, w, h) for _, x, y, w, h, _ in packer.rect_list()]


def most_certain(across: int, along: int, wide: int, high: int) -> int:
    """Return a number that no layout of pieces in a rectangle can exceed.

    Parameters
    ----------
    across, along, wide, high : int
        Sides of the rectangle and of a piece; pieces may be turned.

    Notes
    -----
    A side is first cut down to the longest sum of piece sides that fits it. By area, less the waste that bars of 1 by
    the length and of 1 by the width of a piece must leave (Barnes, 1979): of sides r and s over whole bars of n, the
    smaller of r·s and (n-r)·(n-s).
    """
    across, along = (
        max(i * wide + (side - i * wide) // high * high for i in range(side // wide + 1)) for side in (across, along)
    )
    waste = 0
    for bar in (wide, high):
        r, s = across % bar, along % bar
        waste = max(waste, min(r * s, (bar - r) * (bar - s)))
    return (across * along - waste) // (wide * high)


def _mm(metres: float) -> float:
    return round(metres * 1e3, 2)
