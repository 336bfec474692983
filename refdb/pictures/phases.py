"""A diagram of two metals: what is solid, what is molten, and the kiln's band across it."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.frozen import dataclass
from refdb.pictures.drawing import at, figure, named_picture, path, rectangle, text
from refdb.words import upper_first

_LEFT, _RIGHT, _TOP, _FOOT = 44.0, 328.0, 18.0, 244.0
_COLDEST_C, _HOTTEST_C = 650, 1100
Points = Sequence[tuple[float, float]]


@dataclass(frozen=True)
class Diagram:
    """Lines of (share of the second metal by weight [%], temperature [°C]), and the eutectic between them."""

    liquidus: Points
    solidus_first: Points
    solidus_second: Points
    solvus_first: Points
    solvus_second: Points
    eutectic: tuple[float, float]


@dataclass(frozen=True)
class Alloy:
    """An alloy to be marked: its name, its share of the second metal [%], where it begins and ends to melt [°C]."""

    name: str
    share: float
    begins_c: float
    molten_c: float


def _x(share: float) -> float:
    return _LEFT + (_RIGHT - _LEFT) * share / 100


def _y(temp_c: float) -> float:
    return _FOOT - (_FOOT - _TOP) * (temp_c - _COLDEST_C) / (_HOTTEST_C - _COLDEST_C)


def _drawn(points: Points) -> str:
    return " ".join(f"{at(_x(share))},{at(_y(temp))}" for share, temp in points)


def two_metals(
    diagram: Diagram, kiln_c: tuple[float, float], names: tuple[str, str], alloy: Alloy | None, key: str, title: str
) -> str:
    """The diagram, the first metal left.

    Parameters
    ----------
    diagram : Diagram
    kiln_c : (low, high)
        Usual settings of the kiln [°C].
    names : (first, second)
        Of the metals.
    alloy : Alloy or None
        Marked by an upright line where there is one.
    key, title : str
        Id of the picture on its page, and its title.
    """
    share, temp = diagram.eutectic
    low, high = kiln_c
    cut = [[p for p in line if p[1] >= _COLDEST_C] for line in (diagram.solvus_first, diagram.solvus_second)]
    parts = [rectangle(_LEFT, _y(high), _RIGHT - _LEFT, _y(low) - _y(high), "kiln")]
    for solidus, falling in ((diagram.solidus_first, True), (diagram.solidus_second, False)):
        molten = [p for p in diagram.liquidus if (p[0] <= share) == falling]
        outline = [*molten, diagram.eutectic, *reversed(solidus)] if falling else [diagram.eutectic, *molten]
        outline = outline if falling else [*outline, *reversed(solidus)]
        parts.append(f'<polygon class="gapf" points="{_drawn(outline)}"/>')
    for mark in range(700, _HOTTEST_C + 1, 100):
        parts += [path(f"M44 {at(_y(mark))}H328", "hl"), text(figure(mark), 38, _y(mark) + 4, "q e")]
    parts += [path(f"M44 {at(_y(each))}H328", "ld", ' stroke-dasharray="3 3"') for each in kiln_c]
    parts += [f'<polyline class="ax" points="{_drawn(line)}"/>' for line in cut]
    parts += [f'<polyline class="cm" points="{_drawn(line)}"/>' for line in _solid_lines(diagram)]
    parts.append(f'<polyline class="cg" points="{_drawn(diagram.liquidus)}"/>')
    parts += [path("M44 18V244H328V18", "ax"), *_feet(names)]
    parts += [
        text("temperature, °C", 46, 12, "q i"),
        text("all molten", _x(37), _y(890), "i m on"),
        text("part molten", _x(76), _y(868), "i m on"),
        text("both solid", _x(60), _y(676), "i m on"),
        text(f"usual kiln, {figure(low)} to {figure(high)}", _x(90), _y(low) + 14, "q e on"),
        f'<circle class="spot" cx="{at(_x(share))}" cy="{at(_y(temp))}" r="3.6"/>',
        text(f"{figure(temp)} °C", _x(share), _y(temp) + 27, "b m on"),
        text(f"at {figure(share)} % {names[1]}", _x(share), _y(temp) + 41, "q m on"),
    ]
    parts += _marked(alloy) if alloy else []
    words = (
        f"{names[0]} and {names[1]} together begin to melt at {figure(temp)} °C, {figure(share)} % {names[1]} by "
        f"weight. The usual kiln, {figure(low)} to {figure(high)} °C, lies across that line."
    )
    if alloy:
        words += (
            f" {alloy.name}, {figure(alloy.share, 1)} % {names[1]}, begins to melt at {figure(alloy.begins_c)} °C and "
            f"is molten at {figure(alloy.molten_c)} °C."
        )
    return named_picture(key, title, upper_first(words), "0 0 340 288", parts)


def _solid_lines(diagram: Diagram) -> list[Points]:
    level = [(p[0], diagram.eutectic[1]) for p in (diagram.solidus_first[-1], diagram.solidus_second[0])]
    return [diagram.solidus_first, level, diagram.solidus_second]


def _feet(names: tuple[str, str]) -> list[str]:
    parts = []
    for share in range(0, 101, 20):
        parts += [path(f"M{at(_x(share))} 244v4", "ax"), text(str(share), _x(share), 261, "q m")]
    return [
        *parts,
        text(names[0], _LEFT, 279, "i"),
        text(names[1], _RIGHT, 279, "i e"),
        text(f"{names[1]} by weight, %", (_LEFT + _RIGHT) / 2, 279, "q i m"),
    ]


def _marked(alloy: Alloy) -> list[str]:
    """The alloy as an upright line with its two temperatures, told beside it in the room above the lines."""
    x = _x(alloy.share)
    # Nearer to the second metal the words stand left of the line.
    side, place = ("", x + 9) if alloy.share < 50 else (" e", x - 9)
    height = _y(1062)
    return [
        path(f"M{at(x)} {at(_FOOT)}V{at(height - 9)}", "ld", ' stroke-dasharray="2 3"'),
        *(f'<circle class="ring" cx="{at(x)}" cy="{at(_y(t))}" r="3.4"/>' for t in (alloy.begins_c, alloy.molten_c)),
        text(alloy.name, place, height, f"b on{side}"),
        text(
            f"begins at {figure(alloy.begins_c)} °C, molten at {figure(alloy.molten_c)}",
            place,
            height + 14,
            f"q on{side}",
        ),
    ]
