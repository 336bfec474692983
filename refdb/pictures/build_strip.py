"""The strip of a build: its layers one over the other, plain or with cells, each with the place its name points at."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from refdb.frozen import dataclass
from refdb.pictures.drawing import at, path, rectangle

LEFT, RIGHT, TOP = 1.0, 97.0, 12.0
#: What stands in layers or is cut into the metal, instead of lying over a face.
CELLS = ("wire", "inset", "set metal", "recess", "opening", "within")
_PER_MM, _DEEPEST, _LEAST = 90.0, 130.0, 8.0
_THIN = 4.0
_CUT = ' fill="url(#cut)" fill-rule="evenodd"'


@dataclass(frozen=True)
class BuildLayer:
    """One layer: `kind` is "glass", "line", "leaf", "metal" or one of `CELLS`; `firing` says which firing fuses it.

    A "wire", an "inset" of glass and a "set metal" stand on what their row lies on, as high as they are thick. A
    "recess" is cut into the metal, as deep as its `places`, over a share `cover` of the face; an "opening" goes through
    the metal, and `backing` closes it. "within" is glass in openings. `places` holds how thick a coat is on the land of
    a recess, at its shallowest and at its deepest place [mm]; nothing where it is as thick everywhere.
    """

    label: str
    kind: str
    thickness_mm: float
    firing: str = ""
    places: tuple[float, ...] = ()
    cover: float = 1.0
    backing: str = ""


class Strip(NamedTuple):
    """Markup, the point of each layer that its name leads to, where the strip ends, and a note to stand beneath."""

    parts: list[str]
    points: list[tuple[float, float]]
    end: float
    note: str = ""


def plain(layers: Sequence[BuildLayer]) -> Strip:
    """The layers of a piece without cells, from the front down: to scale, but none too thin to be seen."""
    heights = _heights(layers)
    parts, points, y = [], [], TOP
    for layer, height in zip(layers, heights, strict=True):
        middle = y + height / 2
        if layer.kind == "leaf":
            parts.append(path(f"M{at(LEFT)} {at(middle)}H{at(RIGHT)}", "foil"))
        elif layer.kind == "line":
            parts.append(path(f"M8 {at(middle)}H30M44 {at(middle)}H70", "foil"))
        elif layer.kind == "metal":
            data = f"M{at(LEFT)} {at(y)}H{at(RIGHT)}V{at(y + height)}H{at(LEFT)}Z"
            parts.append(rectangle(LEFT, y, RIGHT - LEFT, height, "me"))
            parts.append(path(data, "", _CUT))
        else:
            parts.append(rectangle(LEFT, y, RIGHT - LEFT, height, "gl"))
        points.append((RIGHT, middle))
        y += height
    return Strip(parts, points, y)


def hatched(data: str) -> Iterator[str]:
    """Cut metal; what a path within the path encloses is open."""
    yield path(data, "me", ' fill-rule="evenodd"')
    yield path(data, "", _CUT)


def _heights(layers: Sequence[BuildLayer]) -> list[float]:
    solid = sum(x.thickness_mm for x in layers if x.kind in ("glass", "metal"))
    per_mm = min(_PER_MM, _DEEPEST / solid) if solid > 0 else _PER_MM
    return [_THIN if x.kind in ("leaf", "line") else max(_LEAST, x.thickness_mm * per_mm) for x in layers]
