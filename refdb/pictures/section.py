"""A section through a piece with the stress along its depth, and the same for one firing of several."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from refdb.frozen import dataclass
from refdb.pictures.drawing import Triple, at, figure, named_picture, path, rectangle, span, text
from refdb.words import upper_first

_STRIP_X, _STRIP_W = 84.0, 44.0
_ZERO_X, _HALF = 236.0, 84.0
_TOP = 48.0
_PER_MM, _DEEPEST = 190.0, 260.0
_LEAST_LAYER = 30.0
_NAME_LETTERS = 11
_SLICE = 10.0
#: The width of the picture, and of a bold figure in it.
_WIDTH, _DIGIT = 340.0, 8.6


@dataclass(frozen=True)
class LayerStress:
    """One layer: its name, thickness and stresses at its faces and in the mean; tension is positive.

    `kind` is "glass" or "metal".
    """

    name: str
    kind: str
    thickness_mm: float
    top_mpa: Triple
    mean_mpa: Triple
    bottom_mpa: Triple

    def stress_mpa(self, depth: float) -> float:
        """Stress at a share of the depth of this layer, 0 at its top and 1 at its bottom.

        In glass, which is elastic, it runs straight from face to face. In metal, which yields, it is the parabola
        that has both face values and the mean, kept between the extremes of the three.
        """
        top, bottom, mean = self.top_mpa.value, self.bottom_mpa.value, self.mean_mpa.value
        if self.kind == "glass":
            return top + (bottom - top) * depth
        bend = 6 * ((top + bottom) / 2 - mean)
        value = top + (bottom - top - bend) * depth + bend * depth * depth
        return min(max(value, min(top, bottom, mean)), max(top, bottom, mean))


def stress_scale_mpa(layers: Sequence[LayerStress], *, ranges: bool = True) -> float:
    """The stress at the ends of the axis: 100 MPa, or the next 50 that hold faces and means, with ranges if drawn."""
    held = [x for layer in layers for x in (layer.top_mpa.value, layer.mean_mpa.value, layer.bottom_mpa.value)]
    held += [x for layer in layers if ranges for x in (layer.mean_mpa.low, layer.mean_mpa.high)]
    most = max(map(abs, held), default=0.0)
    return max(100.0, math.ceil(most / 50.0) * 50.0)


def _heights(layers: Sequence[LayerStress], per_mm: float) -> list[float]:
    """Drawn heights: to scale, but never so thin that a layer's name cannot stand in it."""
    return [max(layer.thickness_mm * per_mm, _LEAST_LAYER) for layer in layers]


def _per_mm(layers: Sequence[LayerStress]) -> float:
    depth = sum(layer.thickness_mm for layer in layers)
    return min(_PER_MM, _DEEPEST / depth) if depth > 0 else _PER_MM


def drawn_thicker(layers: Sequence[LayerStress]) -> tuple[str, ...]:
    """Names of the layers that `section` draws thicker than to scale; its caption has to say so."""
    per_mm = _per_mm(layers)
    return tuple(layer.name for layer in layers if layer.thickness_mm * per_mm < _LEAST_LAYER - 0.05)


def _bars(
    layer: LayerStress, y: float, height: float, zero_x: float, per_mpa: float, slice_height: float
) -> Iterator[str]:
    count = max(1, round(height / slice_height))
    step = height / count
    for n in range(count):
        stress = layer.stress_mpa((n + 0.5) / count)
        length = abs(stress) * per_mpa
        if length < 0.3:
            continue
        left = zero_x - length if stress < 0 else zero_x
        yield rectangle(left, y + n * step + 0.8, length, step - 1.6, "sq" if stress < 0 else "st")


def _cut(layer: LayerStress, x: float, y: float, width: float, height: float) -> str:
    if layer.kind == "glass":
        return rectangle(x, y, width, height, "gl")
    return rectangle(x, y, width, height, "me") + (
        f'<rect fill="url(#cut)" x="{at(x)}" y="{at(y)}" width="{at(width)}" height="{at(height)}"/>'
    )


def _sentence(layers: Sequence[LayerStress]) -> str:
    depth = sum(layer.thickness_mm for layer in layers)
    parts = [f"From the front, {figure(depth, 2)} mm deep."]
    for layer in layers:
        mean = layer.mean_mpa
        parts.append(
            f"{upper_first(layer.name)}, {figure(layer.thickness_mm, 2)} mm: mean "
            f"{figure(mean.value, signed=True)} MPa, {span(mean.low, mean.high, signed=True)}; "
            f"from {figure(layer.top_mpa.value, signed=True)} at its top to "
            f"{figure(layer.bottom_mpa.value, signed=True)} at its bottom."
        )
    parts.append("Minus is squeezed, plus is stretched.")
    return " ".join(parts)


def section(layers: Sequence[LayerStress], key: str, title: str) -> str:
    """The layers to scale, front on top, and beside them the stress along the depth.

    Parameters
    ----------
    layers : sequence of LayerStress
        From the front to the back.
    key, title : str
        Id of the picture on its page, and its title.

    Notes
    -----
    A layer too thin for its name is drawn thicker than to scale: see `drawn_thicker`.
    """
    depth = sum(layer.thickness_mm for layer in layers)
    heights = _heights(layers, _per_mm(layers))
    most = stress_scale_mpa(layers)
    per_mpa = _HALF / most
    end = _TOP + sum(heights)
    parts = [
        text("depth, mm", 78, 37, "q i e"),
        text("← squeezed", _ZERO_X - 12, 11, "q i e"),
        text("stretched →", _ZERO_X + 12, 11, "q i"),
        text("MPa", 128, 33, "q i e"),
    ]
    for share in (-1.0, -0.5, 0.0, 0.5, 1.0):
        x = _ZERO_X + share * _HALF
        parts.append(path(f"M{at(x)} 38V{at(end + 4)}", "hl" if share else "ax"))
        parts.append(text(figure(share * most), x, 33, "q m"))
    parts += _named_layers(layers, heights, depth)
    y = _TOP
    for layer, height in zip(layers, heights, strict=True):
        parts += _bars(layer, y, height, _ZERO_X, per_mpa, _SLICE)
        y += height
    parts.append(path(f"M{at(_ZERO_X)} 38V{at(end + 4)}", "ax"))
    y = _TOP
    for layer, height in zip(layers, heights, strict=True):
        parts.append(_whisker(layer.mean_mpa, y + height / 2, per_mpa))
        y += height
    return named_picture(key, title, _sentence(layers), f"0 0 340 {at(end + 22)}", parts)


def _named_layers(layers: Sequence[LayerStress], heights: Sequence[float], depth: float) -> Iterator[str]:
    y, gone = _TOP, 0.0
    for layer, height in zip(layers, heights, strict=True):
        yield _cut(layer, _STRIP_X, y, _STRIP_W, height)
        yield path(f"M79 {at(y)}H84", "ld")
        yield text(figure(gone, 2), 76, y + 4, "q e")
        lines = _wrapped(layer.name, int(max(1, (height - 16) // 14)))
        first = y + height / 2 + 4 - 7 * (len(lines) - 1)
        for n, line in enumerate(lines):
            yield text(line, 76, first + 14 * n, "i e")
        y += height
        gone += layer.thickness_mm
    yield path(f"M79 {at(y)}H84", "ld")
    yield text(figure(depth, 2), 76, y + 4, "q e")


def _wrapped(words: str, most_lines: int) -> list[str]:
    """Words over as many lines as there is room for; what does not fit is left to the table."""
    lines: list[str] = [""]
    for word in words.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > _NAME_LETTERS:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    return lines[:most_lines]


def _whisker(mean: Triple, y: float, per_mpa: float) -> str:
    low, high, value = (_ZERO_X + x * per_mpa for x in (mean.low, mean.high, mean.value))
    data = f"M{at(low)} {at(y)}H{at(high)}M{at(low)} {at(y - 4)}v8M{at(high)} {at(y - 4)}v8"
    words = figure(mean.value, signed=True)
    wide = _DIGIT * len(words)
    left, right = min(low, value) - 6, max(high, value) + 6
    # Where it would lie on the layers, or beyond the picture, it stands across the axis, where no bar is.
    if mean.value < 0 and left - wide < _STRIP_X + _STRIP_W + 2:
        label = text(words, _ZERO_X + 6, y + 4.5, "b on")
    elif mean.value >= 0 and right + wide > _WIDTH:
        label = text(words, _ZERO_X - 6, y + 4.5, "b e on")
    elif mean.value < 0:
        label = text(words, left, y + 4.5, "b e on")
    else:
        label = text(words, right, y + 4.5, "b on")
    return path(data, "wko") + path(data, "wk") + label


def firing(
    layers: Sequence[LayerStress],
    bow_mm: float,
    key: str,
    title: str,
    *,
    most_mpa: float,
    deepest_mm: float,
    front_mm: float,
) -> str:
    """One firing of several, small: section, stress along the depth, and the bow beneath.

    Parameters
    ----------
    layers : sequence of LayerStress
        From the front to the back.
    bow_mm : float
        Rise over a chord of 30 mm; above zero the front is convex.
    most_mpa, deepest_mm, front_mm : float
        What all firings of the piece share, so that their scales agree and the metal stands at one height: the
        end of the stress axis, the greatest depth, and the most glass on the front.
    """
    per_mm = min(104.0, 130.0 / max(deepest_mm, 1e-9))
    per_mpa = 56.0 / most_mpa
    parts = []
    for share in (-1.0, 0.0, 1.0):
        x = 90 + 56 * share
        parts.append(path(f"M{at(x)} 16V154", "hl" if share else "ax"))
        parts.append(text(figure(share * most_mpa), x, 11, "q m"))
    glass_on_top = sum(layer.thickness_mm for layer in _above_metal(layers))
    y = 20 + (front_mm - glass_on_top) * per_mm
    for layer in layers:
        height = layer.thickness_mm * per_mm
        parts.append(_cut(layer, 2, y, 22, height))
        parts += _bars(layer, y, height, 90, per_mpa, 7.4)
        y += height
    parts.append(path("M90 16V154", "ax"))
    rise = bow_mm * 5 * 4
    drawn = max(-20.0, min(20.0, rise))
    flat = abs(bow_mm) < 0.005
    words = "flat" if flat else f"bow {figure(bow_mm, 2)} mm, drawn ×5"
    if drawn != rise:
        words = f"bow {figure(bow_mm, 2)} mm, not to scale"
    parts += [
        path("M15 178H135", "hl"),
        path(f"M15 178Q75 {at(178 - 2 * drawn)} 135 178", "cm"),
        text(words, 75, 195, "q m"),
    ]
    bow = "The piece stays flat." if flat else f"Over 30 mm it bows {figure(bow_mm, 2)} mm."
    return named_picture(key, title, f"{_sentence(layers)} {bow}", "0 0 150 200", parts)


def _above_metal(layers: Sequence[LayerStress]) -> list[LayerStress]:
    found: list[LayerStress] = []
    for layer in layers:
        if layer.kind == "metal":
            return found
        found.append(layer)
    return found
