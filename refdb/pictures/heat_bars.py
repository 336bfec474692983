"""What melts where, and what the kiln does there: rows on one axis of temperature."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.frozen import dataclass
from refdb.pictures.drawing import Triple, at, figure, named_picture, path, rectangle, text
from refdb.words import within

_LEFT, _RIGHT, _TOP = 132.0, 322.0, 30.0
_ROW, _TALL, _HEADING = 22.0, 34.0, 26.0
COLDEST_C, HOTTEST_C = 500, 1100
#: Letters of a name that have room.
_LETTERS = 21


@dataclass(frozen=True)
class HeatRow:
    """A name with a second line, and what stands in its row [°C]: a window, where it melts, or where a contact does."""

    name: str
    below: str = ""
    window_c: tuple[float, float] | None = None
    melts_c: Triple | None = None
    contact_c: Triple | None = None


def _x(temp_c: float) -> float:
    held = min(max(temp_c, COLDEST_C), HOTTEST_C)
    return _LEFT + (_RIGHT - _LEFT) * (held - COLDEST_C) / (HOTTEST_C - COLDEST_C)


def heat_bars(
    groups: Sequence[tuple[str, Sequence[HeatRow]]], kiln_c: tuple[float, float], key: str, title: str, description: str
) -> str:
    """Rows under headings, with the usual kiln as a band behind them all.

    Parameters
    ----------
    groups : sequence of (heading, rows)
    kiln_c : (low, high)
        Usual settings of the kiln [°C].
    key, title, description : str
        Id of the picture on its page, its title, and what it tells in words.
    """
    low, high = kiln_c
    foot = _TOP + sum(_HEADING + sum(map(_height, rows)) for _, rows in groups)
    parts = [rectangle(_x(low), _TOP, _x(high) - _x(low), foot - _TOP, "kiln")]
    for mark in range(COLDEST_C, HOTTEST_C + 1, 100):
        parts.append(path(f"M{at(_x(mark))} {at(_TOP)}V{at(foot)}", "hl"))
        if mark % 200 == 0:
            parts.append(text(figure(mark), _x(mark), foot + 16, "q m"))
    parts.append(text(f"usual kiln, {figure(low)} to {figure(high)} °C", _x((low + high) / 2), 22, "q m"))
    y = _TOP
    for heading, rows in groups:
        y += _HEADING
        parts.append(text(heading, 0, y - 8, "i"))
        for row in rows:
            parts += _row(row, y)
            y += _height(row)
    parts += [path(f"M{at(_LEFT)} {at(foot)}H{at(_RIGHT)}", "ax"), text("°C", _RIGHT, foot + 31, "q i e")]
    return named_picture(key, title, description, f"0 0 340 {at(foot + 36)}", parts)


def _lines(row: HeatRow) -> tuple[str, str]:
    """What stands in the row's two lines: a long name goes on in the second, where nothing else does."""
    if len(row.name) <= _LETTERS:
        return row.name, row.below
    head = within(row.name, _LETTERS)
    return head, row.below or row.name[len(head) :].strip()


def _height(row: HeatRow) -> float:
    return _TALL if _lines(row)[1] else _ROW


def _row(row: HeatRow, top: float) -> list[str]:
    name, below = _lines(row)
    middle = top + _height(row) / 2 - 4
    parts = [text(name, 0, middle - 3 if below else middle + 4)]
    if below:
        parts.append(text(below, 0, middle + 10, "" if name != row.name and not row.below else "q"))
    if row.window_c:
        low, high = row.window_c
        parts.append(rectangle(_x(low), middle - 5, _x(high) - _x(low), 10, "gl"))
        parts.append(text(f"{figure(low)} to {figure(high)}", _x(high) + 5, middle + 4, "q on"))
        return parts
    touching = row.contact_c if row.contact_c and COLDEST_C <= row.contact_c.value <= HOTTEST_C else None
    if touching:
        parts += _point(touching, "ring", middle)
    # An arrow would lie on the ring, and the words beside it say as much.
    if row.melts_c and (COLDEST_C <= row.melts_c.value <= HOTTEST_C or not touching):
        parts += _point(row.melts_c, "spot", middle)
    return parts


def _point(found: Triple, shape: str, y: float) -> list[str]:
    if not COLDEST_C <= found.value <= HOTTEST_C:
        # Beyond the axis: an arrow at its end.
        x, way = (_LEFT, -1) if found.value < COLDEST_C else (_RIGHT, 1)
        tip = f"M{at(x - 4 * way)} {at(y - 3.5)}L{at(x)} {at(y)}L{at(x - 4 * way)} {at(y + 3.5)}"
        return [path(f"M{at(x - 10 * way)} {at(y)}H{at(x)}{tip}", "wk")]
    parts = []
    if not found.is_exact:
        parts.append(path(f"M{at(_x(found.low))} {at(y)}H{at(_x(found.high))}", "wk"))
    return [*parts, f'<circle class="{shape}" cx="{at(_x(found.value))}" cy="{at(y)}" r="3.8"/>']
