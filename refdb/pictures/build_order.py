"""The build of a piece from the front down: each layer, its name, and the firing that fuses it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from refdb.frozen import dataclass
from refdb.pictures.drawing import at, figure, named_picture, path, rectangle, text

_STRIP, _LABELS, _FIRING, _WIDE = 96.0, 160.0, 150.0, 340.0
_TOP = 12.0
_PER_MM, _DEEPEST, _LEAST = 90.0, 130.0, 8.0
_APART = 18.0
_LETTERS = 27
_STANDING = ("wire", "inset", "recess", "opening", "within")


@dataclass(frozen=True)
class BuildLayer:
    """One layer: `kind` is "glass", "line", "leaf" or "metal", or one of what stands in layers; `firing` says which
    firing fuses it, or nothing.

    What stands in layers is drawn over them where its row begins: a "wire" and an "inset" upwards from there, as high
    as they are thick; a "recess" down into the metal and an "opening" through it; "within" is glass in one of these,
    which is named beside it.
    """

    label: str
    kind: str
    thickness_mm: float
    firing: str = ""


def _heights(layers: Sequence[BuildLayer]) -> list[float]:
    solid = sum(x.thickness_mm for x in layers if x.kind in ("glass", "metal"))
    per_mm = min(_PER_MM, _DEEPEST / solid) if solid > 0 else _PER_MM
    return [
        0.0 if x.kind in _STANDING else 4.0 if x.kind in ("leaf", "line") else max(_LEAST, x.thickness_mm * per_mm)
        for x in layers
    ]


def _standing(layers: Sequence[BuildLayer], heights: Sequence[float]) -> Iterator[tuple[float, str]]:
    """What stands in layers, over them, each with its upper end; to the scale in which the layers are drawn."""
    solid = [(x.thickness_mm, h) for x, h in zip(layers, heights, strict=True) if x.kind in ("glass", "metal")]
    per_mm = sum(h for _, h in solid) / max(sum(t for t, _ in solid), 1e-9)
    y = _TOP
    for n, (layer, height) in enumerate(zip(layers, heights, strict=True)):
        tall = max(4.0, layer.thickness_mm * per_mm)
        on_front = any(x.kind == "metal" for x in layers[n:])
        metal = next((h for x, h in zip(layers, heights, strict=True) if x.kind == "metal"), 0.0)
        out, into = (y - tall, y) if on_front else (y, y - min(tall, metal))
        if layer.kind == "wire":
            yield out, "".join(rectangle(x, out, 3.0, tall, "me") for x in (16.0, 46.0, 76.0))
        elif layer.kind == "inset":
            yield out, rectangle(50.0, out, 26.0, tall, "gl")
        elif layer.kind == "recess":
            yield into, rectangle(20.0, into, 56.0, min(tall, metal), "gl")
        elif layer.kind == "opening":
            yield y, "".join(rectangle(x, y, 26.0, metal, "gl") for x in (14.0, 56.0))
        y += height


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
        elif layer.kind not in _STANDING:
            parts.append(rectangle(1, y, _STRIP, height, "me" if layer.kind == "metal" else "gl"))
            if layer.kind == "metal":
                parts.append(f'<rect fill="url(#cut)" x="1" y="{at(y)}" width="{at(_STRIP)}" height="{at(height)}"/>')
        parts.append(path(f"M97 {at(middle)}L122 {at(label - 4)}", "ld"))
        words = layer.label if len(layer.label) <= _LETTERS else layer.label[: _LETTERS - 1].rstrip(" ,") + "…"
        if layer.firing:
            parts.append(text(layer.firing, _FIRING, label, "e"))
        parts.append(text(words, _LABELS if layer.firing else 128, label))
        y += height
    standing = list(_standing(layers, heights))
    parts += [drawn for _, drawn in standing]
    # What stands out of the front needs room above it.
    start = min([0.0, *(upper - 2.0 for upper, _ in standing)])
    end = max(y, labels[-1] if labels else y) + 8
    return named_picture(key, title, _sentence(layers), f"0 {at(start)} {at(_WIDE)} {at(end - start)}", parts)


def _sentence(layers: Sequence[BuildLayer]) -> str:
    parts = []
    for layer in layers:
        thick = f", {figure(layer.thickness_mm, 2)} mm" if layer.kind not in ("leaf", "line") else ""
        fired = f", firing {layer.firing}" if layer.firing else ""
        parts.append(f"{layer.label}{thick}{fired}")
    return "From the front down: " + "; ".join(parts) + "."
