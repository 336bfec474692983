"""Several materials over each other: curves told apart by their line, and bars on one scale with shared limits."""

from __future__ import annotations

import math
from collections.abc import Sequence

from refdb.frozen import dataclass
from refdb.pictures.curves import Frame, Place, Points
from refdb.pictures.drawing import Triple, at, figure, named_picture, path, rectangle, span, text

#: Lines that are told apart without hue; one more would need another.
LINES = 4
_BAR_LEFT, _BAR_RIGHT, _ROW, _BARS_TOP = 8.0, 332.0, 46.0, 40.0
#: A limit drawn left of this would go through the names, which then begin beside it.
_BESIDE_LIMIT = 80.0


@dataclass(frozen=True)
class Curve:
    """Free expansion of one material: points [°C, ppm], its name, and whether its glass sets at its end."""

    points: Points
    name: str
    is_glass: bool


def line_key(place: int) -> str:
    """The line of one of several, for the head of its column."""
    return f'<svg class="linekey" viewBox="0 0 44 12" aria-hidden="true"><path class="cc c{place}" d="M1 6H43"/></svg>'


def curves_together(several: Sequence[Curve], shared: Curve, hottest_c: float, key: str, title: str) -> str:
    """Curves of several materials against the one that they share.

    Parameters
    ----------
    several : sequence of Curve
        At most `LINES`; a glass ends where it sets.
    shared : Curve
    hottest_c : float
        The end of the temperature axis.
    key, title : str
        Id of the picture on its page, and its title.
    """
    frame = Frame(hottest_c, max(s for one in (*several, shared) for _, s in one.points))
    parts = frame.drawn()
    parts.append(f'<polyline class="{"cg" if shared.is_glass else "cm"}" points="{frame.line(shared.points)}"/>')
    for n, one in enumerate(several, 1):
        kind = "cc" if one.is_glass else "ci"
        parts.append(f'<polyline class="{kind} c{n}" points="{frame.line(one.points)}"/>')
        if one.is_glass:
            parts.append(path(f"M{at(frame.x(one.points[-1][0]))} {at(frame.y(one.points[-1][1]) - 4)}v8", "wk"))
    if shared.is_glass:
        parts.append(path(f"M{at(frame.x(shared.points[-1][0]))} {at(frame.y(shared.points[-1][1]) - 4)}v8", "wk"))
    parts += _names(frame, several, shared)
    told = "; ".join(
        f"{one.name} {figure(one.points[-1][1])} ppm at {figure(one.points[-1][0])} °C" for one in (*several, shared)
    )
    return named_picture(key, title, f"Grown from 20 °C by: {told}.", "0 0 340 288", parts)


def _names(frame: Frame, several: Sequence[Curve], shared: Curve) -> list[str]:
    """Each name at the end of its line; where one is too long for that, all in the corner, each after its line."""
    ends = sorted(several, key=lambda one: -one.points[-1][1])
    lines = {one.name: f"{'cc' if one.is_glass else 'ci'} c{n}" for n, one in enumerate(several, 1)}
    if any(frame.x(one.points[-1][0]) + 8 + 6.4 * len(one.name) > 338 for one in several):
        rows = [(shared, "cg" if shared.is_glass else "cm"), *((one, lines[one.name]) for one in ends)]
        left = 326 - 6.6 * max(len(one.name) for one, _ in rows)
        parts = []
        for n, (one, kind) in enumerate(rows):
            y = 233 - 16 * (len(rows) - 1 - n)
            parts += [path(f"M{at(left - 32)} {at(y - 4)}h26", kind), text(one.name, left, y, "i on")]
        return parts
    t, s = min(shared.points, key=lambda p: abs(p[0] - 0.5 * shared.points[-1][0]))
    parts = [text(shared.name, max(frame.x(t) - 6, 50 + 6.4 * len(shared.name)), frame.y(s) - 10, "i e on")]
    last = -math.inf
    for one in ends:
        # Names of curves that end close together would lie over one another: each keeps its distance.
        last = max(frame.y(one.points[-1][1]) + 4, last + 15)
        parts.append(text(one.name, frame.x(one.points[-1][0]) + 8, last, "i on"))
    return parts


@dataclass(frozen=True)
class Bar:
    """One row: its name, its number or where it begins and ends, and what is printed of it; nothing where unknown."""

    name: str
    number: Triple | None
    words: str


def bars(
    rows: Sequence[Bar],
    limits: Sequence[tuple[float, str]],
    zones: Sequence[str],
    key: str,
    title: str,
    unit: str,
    *,
    block: bool = False,
) -> str:
    """Bars of several on one scale, with limits as uprights through all.

    Parameters
    ----------
    rows : sequence of Bar
    limits : sequence of (value, label)
        In rising order.
    zones : sequence of str
        What lies left of the first limit, between the limits, and right of the last; empty for none.
    key, title, unit : str
        Id of the picture, its title, and the unit for its description.
    block : bool
        Draw what lies between low and high as a block, without a value.
    """
    held = [v for r in rows if r.number for v in (r.number.low, r.number.high)] + [v for v, _ in limits]
    low, high = min(held, default=0.0), max(held, default=1.0)
    # Blocks are named at their ends, which takes more room.
    room = max(high - low, 1.0) * (0.3 if block else 0.08)
    low, high = low - room, high + room

    def x(value: float) -> float:
        return _BAR_LEFT + (_BAR_RIGHT - _BAR_LEFT) * (value - low) / (high - low)

    foot = _BARS_TOP + _ROW * len(rows)
    parts = _limits(limits, zones, x, foot)
    # No upright goes through a name that begins left of it.
    first = x(limits[0][0]) if limits else 0.0
    left = first + 6 if 0 < first < _BESIDE_LIMIT else 0.0
    for n, row in enumerate(rows):
        y = _BARS_TOP + _ROW * n
        parts.append(text(row.name, left, y + 14, "i on"))
        if row.number is None:
            parts.append(text(row.words, left, y + 32, "q on"))
            continue
        a, b = x(row.number.low), x(row.number.high)
        if block:
            parts.append(rectangle(a, y + 20, b - a, 12, "kb"))
        else:
            parts.append(rectangle(a, y + 23, b - a, 6, "bandb"))
            parts.append(f'<circle class="bdot" cx="{at(x(row.number.value))}" cy="{at(y + 26)}" r="5"/>')
        wide = 6.6 * len(row.words)
        crossed = [any(p - 3 < x(v) < p + wide + 3 for v, _ in limits) for p in (b + 8, a - 8 - wide)]
        right = b + 8 + wide < 340 and not (crossed[0] and not crossed[1] and a - 8 - wide > 0)
        parts.append(text(row.words, b + 8, y + 30, "b on") if right else text(row.words, a - 8, y + 30, "b e on"))
    told = [
        f"{r.name} {r.words}" if r.number is None or block else f"{r.name} {r.words}, {_ranged(r.number)}" for r in rows
    ]
    ends = "; ".join(f"{label} at {figure(v)}" if label else f"limit {figure(v)}" for v, label in limits)
    words = f"In {unit}. {'; '.join(told)}." + (f" Limits: {ends}." if ends else "")
    return named_picture(key, title, words, f"0 0 340 {at(foot + 6)}", parts, "fig bars")


def _limits(limits: Sequence[tuple[float, str]], zones: Sequence[str], x: Place, foot: float) -> list[str]:
    parts: list[str] = []
    for n, (value, label) in enumerate(limits):
        parts.append(path(f"M{at(x(value))} 34V{at(foot)}", "ax"))
        near = [x(other) - x(value) for m, (other, _) in enumerate(limits) if m != n and abs(x(other) - x(value)) < 40]
        side = "e" if label or (near and near[0] > 0) else "" if near else "m"
        parts.append(
            text(f"{label} {figure(value)}".strip(), x(value) + {"e": 2, "": -2, "m": 0}[side], 29, f"q {side}")
        )
    edges = [_BAR_LEFT, *(x(v) for v, _ in limits), _BAR_RIGHT]
    for n, zone in enumerate(zones):
        if zone:
            parts.append(text(zone, (edges[n] + edges[n + 1]) / 2, 13, "q i m"))
    return parts


def _ranged(number: Triple) -> str:
    return span(number.low, number.high)
