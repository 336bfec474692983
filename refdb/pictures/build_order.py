"""The build of a piece from the front down: each layer, its name, and the firing that fuses it."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.frozen import dataclass
from refdb.pictures.drawing import at, figure, named_picture, path, rectangle, text

_STRIP, _LABELS, _FIRING, _WIDE = 96.0, 160.0, 150.0, 340.0
_TOP = 12.0
_PER_MM, _DEEPEST, _LEAST = 90.0, 130.0, 8.0
_APART = 18.0
_LETTERS = 27


@dataclass(frozen=True)
class BuildLayer:
    """One layer: `kind` is "glass", "line", "leaf" or "metal"; `firing` says which firing fuses it, or nothing."""

    label: str
    kind: str
    thickness_mm: float
    firing: str = ""


def _heights(layers: Sequence[BuildLayer]) -> list[float]:
    solid = sum(x.thickness_mm for x in layers if x.kind in ("glass", "metal"))
    per_mm = min(_PER_MM, _DEEPEST / solid) if solid > 0 else _PER_MM
    return [4.0 if x.kind in ("leaf", "line") else max(_LEAST, x.thickness_mm * per_mm) for x in layers]


def _spread(wanted: list[float], apart: float) -> list[float]:
    """Places at least `apart` from each other, in order, each no higher than it would like to be."""
    placed: list[float] = []
    for y in wanted:
        placed.append(max(y, placed[-1] + apart) if placed else y)
    return placed


def build_order(layers: Sequence[BuildLayer], key: str, title: str) -> str:
    """The layers with their names and firings.

    Parameters
    ----------
    layers : sequence of BuildLayer
        From the front to the back.
    key, title : str
        Id of the picture on its page, and its title.

    Notes
    -----
    Glass and metal are to scale except where a layer would be too thin to see; leaf and drawing are lines.
    """
    heights = _heights(layers)
    middles, y = [], _TOP
    for height in heights:
        middles.append(y + height / 2)
        y += height
    labels = _spread([max(m, _TOP + 12) for m in middles], _APART)
    parts = [text("firing", _FIRING, _TOP - 2, "q i e")] if any(x.firing for x in layers) else []
    y = _TOP
    for layer, height, middle, label in zip(layers, heights, middles, labels, strict=True):
        if layer.kind == "leaf":
            parts.append(path(f"M1 {at(middle)}H97", "foil"))
        elif layer.kind == "line":
            parts.append(path(f"M8 {at(middle)}H30M44 {at(middle)}H70", "foil"))
        else:
            parts.append(rectangle(1, y, _STRIP, height, "me" if layer.kind == "metal" else "gl"))
            if layer.kind == "metal":
                parts.append(f'<rect fill="url(#cut)" x="1" y="{at(y)}" width="{at(_STRIP)}" height="{at(height)}"/>')
        parts.append(path(f"M97 {at(middle)}L122 {at(label - 4)}", "ld"))
        words = layer.label if len(layer.label) <= _LETTERS else layer.label[: _LETTERS - 1].rstrip(" ,") + "…"
        if layer.firing:
            parts.append(text(layer.firing, _FIRING, label, "e"))
        parts.append(text(words, _LABELS if layer.firing else 128, label))
        y += height
    end = max(y, labels[-1] if labels else y) + 8
    return named_picture(key, title, _sentence(layers), f"0 0 {at(_WIDE)} {at(end)}", parts)


def _sentence(layers: Sequence[BuildLayer]) -> str:
    parts = []
    for layer in layers:
        thick = f", {figure(layer.thickness_mm, 2)} mm" if layer.kind in ("glass", "metal") else ""
        fired = f", firing {layer.firing}" if layer.firing else ""
        parts.append(f"{layer.label}{thick}{fired}")
    return "From the front down: " + "; ".join(parts) + "."
