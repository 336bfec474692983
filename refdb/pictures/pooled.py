"""What pooled tiles teach: bands before and after, beliefs as curves, and how far studios differ."""

from __future__ import annotations

import math
from collections.abc import Sequence

from refdb.frozen import dataclass
from refdb.pictures.drawing import Triple, at, figure, named_picture, path, rectangle, span, text

_LEFT, _RIGHT = 8.0, 332.0
_HEAD, _ROW, _FOOT = 26.0, 44.0, 34.0
_PANEL, _GAP = 112.0, 46.0
#: Studios stand in rows of this height, their bars right of their names.
_STUDIO, _NAME = 20.0, 96.0

Points = Sequence[tuple[float, float]]


@dataclass(frozen=True)
class Band:
    """A name, the band before, and the one after; none where nothing was taught."""

    name: str
    before: Triple
    after: Triple | None


@dataclass(frozen=True)
class Belief:
    """A quantity with its belief before and after as (value, density), the latter scaled to any height."""

    name: str
    before: Points
    after: Points


@dataclass(frozen=True)
class Shift:
    """A studio's sign, its shift with low and high, and whether it stands out."""

    name: str
    value: Triple
    stands_out: bool


@dataclass(frozen=True)
class _Axis:
    low: float
    high: float
    left: float = _LEFT
    step: float = 1.0

    def x(self, value: float) -> float:
        held = min(max(value, self.low), self.high)
        return self.left + (_RIGHT - self.left) * (held - self.low) / (self.high - self.low)

    def drawn(self, top: float, foot: float, title: str) -> list[str]:
        """Strokes from top to foot at every step, with figures and a title beneath."""
        parts = []
        decimals = 0 if self.step >= 1 else 1
        for k in range(round((self.high - self.low) / self.step) + 1):
            value = self.low + k * self.step
            parts.append(path(f"M{at(self.x(value))} {at(top)}V{at(foot)}", "hl"))
            parts.append(text(figure(value, decimals), self.x(value), foot + 14, "q m"))
        parts.append(path(f"M{at(self.left)} {at(foot)}H{at(_RIGHT)}", "ax"))
        return [*parts, text(title, _RIGHT, foot + 28, "q i e")]


def _axis_over(low: float, high: float, left: float = _LEFT) -> _Axis:
    """An axis with round ends that holds these."""
    step = next((s for s in (0.5, 1.0, 2.0, 5.0, 10.0, 20.0) if (high - low) / s <= 8), 50.0)
    first, last = math.floor(low / step) * step, math.ceil(high / step) * step
    return _Axis(first, max(last, first + step), left, step)


def bands_before_and_after(bands: Sequence[Band], key: str, title: str) -> str:
    """A row for each name: the band before as a line with a ring, the one after as a box with a dot [ppm/K].

    Parameters
    ----------
    bands : sequence of Band
        At least one.
    key, title : str
        Id of the picture on its page, and its title.
    """
    every = [x for b in bands for t in (b.before, b.after) if t is not None for x in (t.low, t.high)]
    axis = _axis_over(min(every), max(every))
    foot = _HEAD + _ROW * len(bands)
    parts = axis.drawn(_HEAD - 6, foot, "ppm/K, 20 to 400 °C")
    parts += [
        path("M8 10H30", "wk"),
        '<circle class="ring" cx="19" cy="10" r="3.4"/>',
        text("before", 36, 14, "q"),
        rectangle(96, 5, 22, 10, "gl"),
        '<circle class="sq" cx="107" cy="10" r="3.4"/>',
        text("after", 124, 14, "q"),
    ]
    told = []
    for k, band in enumerate(bands):
        top = _HEAD + _ROW * k
        parts += [text(band.name, _LEFT, top + 12, "on"), *_pair(band, axis, top)]
        now = "nothing taught" if band.after is None else f"{figure(band.after.value, 1)} ({_ends(band.after)})"
        told.append(f"{band.name}: before {figure(band.before.value, 1)} ({_ends(band.before)}), after {now}.")
    return named_picture(key, title, " ".join(told), f"0 0 340 {at(foot + _FOOT)}", parts)


def _ends(band: Triple) -> str:
    return span(band.low, band.high, 1)


def _pair(band: Band, axis: _Axis, top: float) -> list[str]:
    upper, lower = top + 21, top + 33
    parts = [
        path(f"M{at(axis.x(band.before.low))} {at(upper)}H{at(axis.x(band.before.high))}", "wk"),
        f'<circle class="ring" cx="{at(axis.x(band.before.value))}" cy="{at(upper)}" r="3.4"/>',
    ]
    if band.after is None:
        return [*parts, text("nothing taught", axis.x(band.before.low), lower + 4, "q i on")]
    low, high = axis.x(band.after.low), axis.x(band.after.high)
    return [
        *parts,
        rectangle(low, lower - 5, max(high - low, 2), 10, "gl"),
        f'<circle class="sq" cx="{at(axis.x(band.after.value))}" cy="{at(lower)}" r="3.4"/>',
    ]


def beliefs(panels: Sequence[Belief], key: str, title: str, description: str) -> str:
    """One panel beneath the other: the belief before dotted, the one after as a filled curve; all in ppm/K.

    Parameters
    ----------
    panels : sequence of Belief
    key, title, description : str
        Id of the picture on its page, its title, and what it tells in words.
    """
    parts: list[str] = []
    for k, panel in enumerate(panels):
        top = 22 + k * (_PANEL + _GAP + 14)
        foot = top + _PANEL
        most = max(d for _, d in (*panel.before, *panel.after))
        seen = [x for points in (panel.before, panel.after) for x, d in points if d > 0.004 * most]
        axis = _axis_over(min(seen), max(seen))
        parts += [text(panel.name, _LEFT, top - 8, "i"), *axis.drawn(top, foot, "ppm/K")]
        before, after = (_curve(points, axis, foot, most) for points in (panel.before, panel.after))
        base = f"{at(foot)}"
        parts += [
            f'<polygon class="gapf" points="{after[0].partition(",")[0]},{base} {" ".join(after)} '
            f'{after[-1].partition(",")[0]},{base}"/>',
            f'<polyline class="cg" points="{" ".join(after)}"/>',
            f'<polyline class="cb" points="{" ".join(before)}"/>',
        ]
    height = 22 + len(panels) * (_PANEL + _GAP + 14) - 22
    return named_picture(key, title, description, f"0 0 340 {at(height)}", parts)


def _curve(points: Points, axis: _Axis, foot: float, most: float) -> list[str]:
    held = [(x, d) for x, d in points if axis.low <= x <= axis.high]
    return [f"{at(axis.x(x))},{at(foot - (_PANEL - 6) * d / most)}" for x, d in held]


def shifts_of_studios(shifts: Sequence[Shift], key: str, title: str, description: str) -> str:
    """A row for each studio: its shift as a line with a dot, at nought an upright line [MPa].

    Parameters
    ----------
    shifts : sequence of Shift
        At least one.
    key, title, description : str
        Id of the picture on its page, its title, and what it tells in words.
    """
    axis = _axis_over(min(0.0, *(s.value.low for s in shifts)), max(0.0, *(s.value.high for s in shifts)), left=_NAME)
    foot = 8 + _STUDIO * len(shifts)
    parts = [*axis.drawn(4, foot, "MPa"), path(f"M{at(axis.x(0.0))} 4V{at(foot)}", "ax")]
    for k, shift in enumerate(shifts):
        y = 8 + _STUDIO * k + _STUDIO / 2
        shape = "sq" if shift.stands_out else "ring"
        parts += [
            text(shift.name, _LEFT, y + 4, "b" if shift.stands_out else ""),
            path(f"M{at(axis.x(shift.value.low))} {at(y)}H{at(axis.x(shift.value.high))}", "wk"),
            f'<circle class="{shape}" cx="{at(axis.x(shift.value.value))}" cy="{at(y)}" r="3.6"/>',
        ]
    return named_picture(key, title, description, f"0 0 340 {at(foot + _FOOT)}", parts)
