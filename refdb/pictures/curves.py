"""Free expansion of a glass and its metal, with the gap between them shaded."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import chain

from refdb.frozen import dataclass
from refdb.pictures.drawing import Triple, at, figure, named_picture, path, span, text

_LEFT, _RIGHT, _TOP, _FOOT = 44.0, 328.0, 18.0, 244.0
_HOTTEST_C = 600.0
#: Width of a letter of a name, and of the words at the set point, as a phone draws them; the lowest curve named below.
_LETTER, _SET_WIDTH, _LOWEST_NAME = 6.2, 48.0, 214.0
Points = Sequence[tuple[float, float]]
Place = Callable[[float], float]


@dataclass(frozen=True)
class Frame:
    """The axes: temperature to the right, free expansion upwards."""

    hottest_c: float
    most_ppm: float

    @property
    def ceiling_ppm(self) -> float:
        """The upper end of the axis."""
        return max(12000.0, math.ceil(self.most_ppm / 2000) * 2000)

    def x(self, temp_c: float) -> float:
        """The place of a temperature."""
        return _LEFT + (_RIGHT - _LEFT) * temp_c / self.hottest_c

    def y(self, ppm: float) -> float:
        """The height of an expansion."""
        return _FOOT - (_FOOT - _TOP) * ppm / self.ceiling_ppm

    def line(self, points: Points) -> str:
        """Points of a curve."""
        return " ".join(f"{at(self.x(t))},{at(self.y(s))}" for t, s in points)

    def drawn(self) -> list[str]:
        """Axes with their titles and figures."""
        parts: list[str] = []
        for ppm in range(0, int(self.ceiling_ppm) + 1, 2000 if self.ceiling_ppm <= 16000 else 4000):
            parts.append(path(f"M44 {at(self.y(ppm))}H328", "hl" if ppm else "ax"))
            parts.append(text(figure(ppm), 38, self.y(ppm) + 4, "q e"))
        for temp in range(0, int(self.hottest_c) + 1, 100 if self.hottest_c <= 800 else 200):
            parts.append(path(f"M{at(self.x(temp))} 244v4", "ax"))
            parts.append(text(str(temp), self.x(temp), 261, "q m"))
        return [
            *parts,
            text("free expansion from 20 °C, ppm", 46, 12, "q i"),
            text("temperature, °C", 328, 279, "q i e"),
        ]


def one_curve(
    points: Points, low: Points | None, high: Points | None, name: str, kind: str, key: str, title: str
) -> str:
    """The curve of one glass or metal, with its low and high as dots where they are given.

    Parameters
    ----------
    points, low, high : sequence of (temperature, strain)
        °C and ppm from 20 °C.
    name : str
        Stands at the curve.
    kind : "glass" or "metal"
    key, title : str
        Id of the picture on its page, and its title.
    """
    hottest = max(_HOTTEST_C, math.ceil(points[-1][0] / 100) * 100)
    frame = Frame(hottest, max(s for _, s in chain(points, high or ())))
    parts = frame.drawn()
    if low and high and low[-1] != high[-1]:
        parts += [f'<polyline class="cb" points="{frame.line(each)}"/>' for each in (low, high)]
    parts.append(f'<polyline class="{"cg" if kind == "glass" else "cm"}" points="{frame.line(points)}"/>')
    t, s = min(points, key=lambda p: abs(p[0] - 0.62 * points[-1][0]))
    top = min(high, key=lambda p: abs(p[0] - t))[1] if high else s
    parts.append(text(name, max(frame.x(t) - 8, 62 + 6.2 * len(name)), frame.y(top) - 8, "i e on"))
    words = f"From 20 °C, {name} grows by {figure(points[-1][1])} ppm up to {figure(points[-1][0])} °C"
    words += f", {span(low[-1][1], high[-1][1])}." if low and high else "."
    return named_picture(key, title, words, "0 0 340 288", parts)


def hottest_c(set_high_c: float) -> float:
    """The end of the temperature axis: 600 °C, or more where the number of the gap needs room beside the set point."""
    return max(_HOTTEST_C, math.ceil((set_high_c + 120.0) / 100) * 100)


def expansion_curves(
    metal: Points,
    glass: Points,
    glass_low: Points,
    glass_high: Points,
    set_c: Triple,
    gap_ppm: Triple,
    names: tuple[str, str],
    key: str,
    title: str,
) -> str:
    """Curves of free expansion from 20 °C [ppm] over temperature [°C].

    Parameters
    ----------
    metal, glass, glass_low, glass_high : sequence of (temperature, strain)
        The metal as far as it is known, up to `hottest_c`; the glass, its low and its high up to the set point.
    set_c, gap_ppm : Triple
        Set point of the glass and the gap there, as the verdict has them.
    names : (metal, glass)
    key, title : str
        Id of the picture on its page, and its title.
    """
    hottest = hottest_c(set_c.high)
    frame = Frame(hottest, max(s for _, s in chain(metal, glass, glass_high)))
    x, y, line = frame.x, frame.y, frame.line
    parts = frame.drawn()
    to_set = [(t, s) for t, s in metal if t <= set_c.value + 1e-9]
    parts.append(f'<polygon class="gapf" points="{line(to_set)} {line(list(reversed(glass)))}"/>')
    parts += [
        f'<polyline class="cb" points="{line(points)}"/>'
        for points in (glass_low, glass_high)
        if glass_low[-1] != glass_high[-1]
    ]
    parts.append(f'<polyline class="cm" points="{line(metal)}"/>')
    parts.append(f'<polyline class="cg" points="{line(glass)}"/>')
    parts += _gap(x(set_c.value), y(to_set[-1][1]), y(glass[-1][1]), gap_ppm)
    named, lower = _names(metal, glass, names, x, y)
    parts += _set_point(x(set_c.value), x(set_c.low), x(set_c.high), y(max(glass[-1][1], 0)), set_c.value, lower)
    parts += named
    words = (
        f"At the set point, {figure(set_c.value)} °C ({span(set_c.low, set_c.high)}), {names[0]} has grown by "
        f"{figure(to_set[-1][1])} ppm from 20 °C and {names[1]} by {figure(glass[-1][1])} ppm. The gap is "
        f"{figure(gap_ppm.value)} ppm, {span(gap_ppm.low, gap_ppm.high)}."
    )
    return named_picture(key, title, words, "0 0 340 288", parts)


def _gap(x: float, metal_y: float, glass_y: float, gap_ppm: Triple) -> list[str]:
    parts = [
        path(f"M{at(x - 4)} {at(metal_y)}h8M{at(x)} {at(metal_y)}V{at(glass_y)}M{at(x - 4)} {at(glass_y)}h8", "wk")
    ]
    left = x > 282
    side, place = ("e ", x - 9) if left else ("", x + 9)
    # Above a narrow gap there is no room beside the bracket: the number then stands over the curves.
    middle = (metal_y + glass_y) / 2 if abs(glass_y - metal_y) >= 26 else min(metal_y, glass_y) - 20
    parts.append(text(figure(gap_ppm.value), place, middle, f"b {side}on"))
    parts.append(text("the gap", place, middle + 14, f"q {side}on"))
    return parts


@dataclass(frozen=True)
class _Box:
    """Where words stand, as wide as they may come out."""

    left: float
    right: float
    top: float
    foot: float

    def meets(self, other: _Box) -> bool:
        """Whether two lie over each other."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.foot and other.top < self.foot


def _set_point(x: float, low_x: float, high_x: float, glass_y: float, set_c: float, name: _Box) -> list[str]:
    """The set point's line, its band, and its figure, which gives way to the name of the lower curve."""
    parts = [path(f"M{at(x)} {at(glass_y)}V244", "ld", ' stroke-dasharray="3 3"')]
    if high_x - low_x > 1:
        parts.append(path(f"M{at(low_x)} 239H{at(high_x)}M{at(low_x)} 235v8M{at(high_x)} 235v8", "wk"))
    left = x > 282
    place, side = (x - 6, "q e on") if left else (x + 6, "q on")
    near, far = (place - _SET_WIDTH, place) if left else (place, place + _SET_WIDTH)
    # Just under the end of the glass there is room where its name stands further down; else over the name.
    high = next(
        (high for high in (210.0, glass_y + 16) if not _Box(near, far, high - 11, high + 18).meets(name)), name.top - 20
    )
    return [*parts, text("sets at", place, high, side), text(f"{figure(set_c)} °C", place, high + 14, side)]


def _names(metal: Points, glass: Points, names: tuple[str, str], x: Place, y: Place) -> tuple[tuple[str, str], _Box]:
    """The names at their curves, and where the lower one stands."""

    def near(points: Points, temp_c: float) -> tuple[float, float]:
        return min(points, key=lambda p: abs(p[0] - temp_c))

    upper, lower = (metal, glass) if metal[-1][1] >= 0 and _over(metal, glass) else (glass, metal)
    up, down = names if upper is metal else names[::-1]
    t, s = near(upper, 0.62 * upper[-1][0])
    u, v = near(lower, 0.60 * lower[-1][0])
    # Names start inside the picture even where they are long, and stand over a curve that lies along the axis.
    width = _LETTER * len(down)
    left, foot = min(x(u) + 10, 322 - width), y(v) + (20 if y(v) <= _LOWEST_NAME else -8)
    told = text(up, max(x(t) - 8, 62 + _LETTER * len(up)), y(s) - 8, "i e on"), text(down, left, foot, "i on")
    return told, _Box(left, left + 1.1 * width, foot - 12, foot + 4)


def _over(metal: Points, glass: Points) -> bool:
    """Whether the metal's curve lies above the glass's at the glass's end."""
    t, s = glass[-1]
    return min(metal, key=lambda p: abs(p[0] - t))[1] >= s
