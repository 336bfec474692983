"""The firings of a piece as blocks at their kiln settings, with the window of each and what must not be passed."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.frozen import dataclass
from refdb.pictures.drawing import at, escaped, figure, named_picture

_LEFT, _RIGHT, _TOP, _BOTTOM = 44.0, 330.0, 22.0, 196.0
_MOST = 12
#: A block of less room than this has no minutes under it.
_LEAST_FOR_WORDS = 40.0


@dataclass(frozen=True)
class FiringBlock:
    """One firing: its kiln setting [°C], two or three words, the settings its new glasses want [°C], and slow cooling.

    `cooling_min` is how long it then falls in the closed kiln [min], drawn as a slope at the right of its block.
    """

    kiln_c: float
    words: str
    low_c: float | None = None
    high_c: float | None = None
    cooling_min: float | None = None


def firing_blocks(firings: Sequence[FiringBlock], never_above_c: float, what: str, key: str, title: str) -> str:
    """Blocks side by side, the first firing left.

    Parameters
    ----------
    firings : sequence of FiringBlock
        In their order; of more than twelve the last are shown.
    never_above_c : float
        Setting that no firing may pass [°C], drawn as a dashed line where it is near.
    what : str
        What happens there, in two or three words.
    key, title : str
        Id of the picture on its page, and its title.
    """
    shown = list(firings)[-_MOST:]
    first = len(firings) - len(shown) + 1
    marks = [f.kiln_c for f in shown] + [c for f in shown for c in (f.low_c, f.high_c) if c is not None]
    low = 50.0 * ((min(marks) - 20.0) // 50.0)
    high = 50.0 * (-(-(max(marks) + 20.0) // 50.0))
    if never_above_c <= high + 100:
        high = max(high, 50.0 * (-(-(never_above_c + 10.0) // 50.0)))

    def y(temp_c: float) -> float:
        return _BOTTOM - (temp_c - low) / (high - low) * (_BOTTOM - _TOP)

    parts = [f'<text class="q i" x="{at(_LEFT - 40)}" y="12">kiln setting, °C</text>']
    step = 50.0 if high - low <= 300 else 100.0
    mark = low
    while mark <= high:
        parts.append(f'<path class="hl" d="M{at(_LEFT)} {at(y(mark))}H{at(_RIGHT)}"/>')
        parts.append(f'<text class="q e" x="{at(_LEFT - 6)}" y="{at(y(mark) + 4)}">{figure(mark)}</text>')
        mark += step
    each = (_RIGHT - _LEFT) / len(shown)
    for n, one in enumerate(shown):
        x, wide = _LEFT + each * n + each * 0.14, each * 0.62
        top = y(one.kiln_c)
        parts.append(
            f'<rect class="gl" x="{at(x)}" y="{at(top)}" width="{at(wide)}" height="{at(max(_BOTTOM - top, 2))}"/>'
        )
        parts.append(f'<text class="b m" x="{at(x + wide / 2)}" y="{at(top + 16)}">{figure(one.kiln_c)}</text>')
        parts.append(f'<text class="q m" x="{at(x + wide / 2)}" y="{at(_BOTTOM + 16)}">{first + n}</text>')
        if one.cooling_min is not None:
            slope = f"M{at(x + wide)} {at(top)}L{at(x + wide + each * 0.2)} {at(_BOTTOM)}H{at(x + wide)}z"
            parts.append(f'<path class="gl" d="{slope}"/>')
            if each >= _LEAST_FOR_WORDS:
                words = f"{figure(one.cooling_min)} min"
                parts.append(f'<text class="q m" x="{at(x + wide / 2)}" y="{at(_BOTTOM + 31)}">{words}</text>')
        if one.low_c is not None and one.high_c is not None:
            # Left of a block that slopes at its right.
            whisker = x + wide + each * 0.1 if one.cooling_min is None else x - each * 0.07
            a, b = y(one.low_c), y(min(one.high_c, high))
            parts.append(f'<path class="wk" d="M{at(whisker - 3)} {at(a)}h6m-3 0V{at(b)}m-3 0h6"/>')
    if low < never_above_c <= high:
        line = y(never_above_c)
        parts.append(f'<path class="stop" d="M{at(_LEFT)} {at(line)}H{at(_RIGHT)}"/>')
        parts.append(f'<text class="q e on" x="{at(_RIGHT)}" y="{at(line - 5)}">{escaped(what)}</text>')
    parts.append(f'<path class="ax" d="M{at(_LEFT)} {at(_BOTTOM)}H{at(_RIGHT)}"/>')
    lower = 14.0 if any(f.cooling_min is not None for f in shown) else 0.0
    parts.append(f'<text class="q i e" x="{at(_RIGHT)}" y="{at(_BOTTOM + 34 + lower)}">firing</text>')
    told = "; ".join(
        f"firing {first + n} at {figure(f.kiln_c)} °C, {f.words}"
        + ("" if f.cooling_min is None else f", then slow cooling over {figure(f.cooling_min)} min")
        for n, f in enumerate(shown)
    )
    return named_picture(
        key, title, f"{told}. {what} at {figure(never_above_c)} °C.", f"0 0 340 {at(236 + lower)}", parts
    )
