"""The picture at the front: a section through a domed piece, its layers numbered."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from refdb.frozen import dataclass
from refdb.pictures.drawing import at, named_picture, path, text

_X, _Y = 170.0, 512.0
_HALF_ANGLE = 0.366


@dataclass(frozen=True)
class Arc:
    """A layer of the dome between two radii: "glass", "metal", or "foil" (a line at `inner`)."""

    kind: str
    inner: float
    outer: float


#: Clear over foil over clear on metal on counter enamel.
COVER = (
    Arc("glass", 420.0, 442.0),
    Arc("foil", 420.0, 420.0),
    Arc("glass", 398.0, 420.0),
    Arc("metal", 358.0, 398.0),
    Arc("glass", 336.0, 358.0),
)


def _point(radius: float, angle: float) -> str:
    return f"{at(_X + radius * math.sin(angle))} {at(_Y - radius * math.cos(angle))}"


def _ring(arc: Arc) -> str:
    a = _HALF_ANGLE
    return (
        f"M{_point(arc.outer, -a)}A{arc.outer:g} {arc.outer:g} 0 0 1 {_point(arc.outer, a)}"
        f"L{_point(arc.inner, a)}A{arc.inner:g} {arc.inner:g} 0 0 0 {_point(arc.inner, -a)}Z"
    )


def _drawn(layers: Sequence[Arc]) -> Iterator[str]:
    for arc in layers:
        if arc.kind == "glass":
            yield path(_ring(arc), "gl")
        elif arc.kind == "metal":
            yield path(_ring(arc), "me") + f'<path fill="url(#cut)" d="{_ring(arc)}"/>'
    for arc in layers:
        if arc.kind == "foil":
            a = _HALF_ANGLE * 0.68
            yield path(f"M{_point(arc.inner, -a)}A{arc.inner:g} {arc.inner:g} 0 0 1 {_point(arc.inner, a)}", "foil")


def domed_section(names: Sequence[str], key: str = "cover", layers: Sequence[Arc] = COVER) -> str:
    """A domed piece cut through, its layers numbered from the front; the names go into the description."""
    parts = list(_drawn(layers))
    angles = [-0.16 + 0.42 * n / max(len(layers) - 1, 1) for n in range(len(layers))]
    for n, (arc, angle) in enumerate(zip(layers, angles, strict=True), 1):
        radius = (arc.inner + arc.outer) / 2
        x, y = (float(v) for v in _point(radius, angle).split())
        foot_x, foot_y = x - 22 + 9 * n, 18.0 if n < 4 else 18.0 + 12.0 * (n - 3)
        parts.append(path(f"M{at(foot_x)} {at(foot_y + 5)}L{at(x)} {at(y)}", "ld"))
        parts.append(f'<circle class="spot" cx="{at(x)}" cy="{at(y)}" r="2"/>')
        parts.append(text(str(n), foot_x, foot_y, "m"))
    told = ", ".join(f"{n} {name}" for n, name in enumerate(names, 1))
    return named_picture(key, "A section through a domed piece", f"From the front: {told}.", "0 0 340 204", parts)
