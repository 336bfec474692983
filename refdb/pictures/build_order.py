"""The build of a piece from the front down: each layer, its name, and the firing that fuses it."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.pictures.build_strip import CELLS, RIGHT, TOP, BuildLayer, plain
from refdb.pictures.drawing import at, figure, named_picture, path, span, text

_LABELS, _FIRING, _WIDE = 160.0, 150.0, 340.0
_APART, _LINE = 18.0, 14.0
_LETTERS = 27
#: Of more layers each name has one line.
_MOST_WRAPPED = 14


def _spread(wanted: Sequence[float], lines: Sequence[int]) -> list[float]:
    """Places of names so far from each other that their lines do not touch, in order, each as high as it may be."""
    placed: list[float] = []
    for n, y in enumerate(wanted):
        placed.append(max(y, placed[-1] + _APART + _LINE * (lines[n - 1] - 1)) if placed else y)
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
    Depths are to scale; without cells a layer too thin to see is drawn thicker. Leaf and drawing are lines.
    """
    if any(x.kind in CELLS for x in layers):
        # Most pieces have none, and do not load this.
        from refdb.pictures.build_cells import cells

        drawn = cells(layers)
    else:
        drawn = plain(layers)
    words = [_wrapped(x.label, 1 if len(layers) > _MOST_WRAPPED else 2) for x in layers]
    labels = _spread([max(y, TOP + 12) for _, y in drawn.points], [len(x) for x in words])
    parts = [text("firing", _FIRING, TOP - 2, "q i e")] if any(x.firing for x in layers) else []
    parts += drawn.parts
    for layer, (x, y), label, lines in zip(layers, drawn.points, labels, words, strict=True):
        if x < RIGHT:
            parts.append(path(f"M{at(x - 1.2)} {at(y)}a1.2 1.2 0 1 0 2.4 0a1.2 1.2 0 1 0 -2.4 0", "wk"))
        parts.append(path(f"M{at(x)} {at(y)}L122 {at(label - 4)}", "ld"))
        if layer.firing:
            parts.append(text(layer.firing, _FIRING, label, "e"))
        for n, line in enumerate(lines):
            parts.append(text(line, _LABELS if layer.firing else 128, label + _LINE * n))
    last = labels[-1] + _LINE * (len(words[-1]) - 1) if labels else 0.0
    end = max(drawn.end, last) + 8
    if drawn.note:
        end += _LINE
        parts.append(text(drawn.note, 0, end - 4, "q i"))
    return named_picture(key, title, _sentence(layers), f"0 0 {at(_WIDE)} {at(end)}", parts)


def _wrapped(words: str, most: int) -> list[str]:
    """A name over as many lines; what is still too long is cut."""
    lines = [""]
    for word in words.split():
        longer = f"{lines[-1]} {word}".strip()
        if len(longer) > _LETTERS and lines[-1] and len(lines) < most:
            lines.append(word)
        else:
            lines[-1] = longer
    return [x if len(x) <= _LETTERS else x[: _LETTERS - 1].rstrip(" ,") + "…" for x in lines]


def _sentence(layers: Sequence[BuildLayer]) -> str:
    parts = []
    for layer in layers:
        said = [layer.label]
        if layer.kind not in ("leaf", "line", "recess", "opening"):
            said.append(f"{figure(layer.thickness_mm, 2)} mm")
        if layer.places and layer.kind not in CELLS:
            land, *floor = layer.places
            beside = f"{figure(land, 2)} mm" if land > 0.0 else "none"
            said.append(f"{span(min(floor), max(floor), 2)} mm in the recess and {beside} on the land")
        if layer.firing:
            said.append(f"firing {layer.firing}")
        parts.append(", ".join(said))
    return "From the front down: " + "; ".join(parts) + "."
