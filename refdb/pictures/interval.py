"""Small plots of a number between its low and high, for table cells; the numbers stand beside them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from refdb.frozen import dataclass
from refdb.pictures.drawing import Triple, at, escaped

WIDTH, HEIGHT = 152.0, 20.0
_OPEN = f'<svg class="iv" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" aria-hidden="true">'


@dataclass(frozen=True)
class Scale:
    """What the two ends of a plot stand for."""

    low: float
    high: float

    def x(self, value: float) -> float:
        """The place of a value along the plot, kept within it."""
        share = (value - self.low) / (self.high - self.low)
        return min(max(share, 0.0), 1.0) * WIDTH


def scale_of(numbers: Iterable[float], share: float = 0.5, floor: float | None = None) -> Scale:
    """A scale with round ends on which all these numbers take about this middle share.

    Parameters
    ----------
    numbers : iterable of float
        What has to fit; at least one.
    share : float
        Part of the width that they take.
    floor : float, optional
        The scale does not begin below this, such as zero for what cannot be negative.
    """
    held = list(numbers)
    low, high = min(held), max(held)
    middle, width = (low + high) / 2, high - low
    if width <= 0:
        width = abs(middle) * 0.1 or 1.0
    half = width / share / 2
    step = 10.0 ** math.floor(math.log10(half))
    step = next(s for s in (step / 5, step / 2, step, 2 * step) if half / s <= 5.001)
    left, right = math.floor((middle - half) / step) * step, math.ceil((middle + half) / step) * step
    if floor is not None and left < floor:
        left = floor
    return Scale(left, right)


def interval(
    number: Triple,
    scale: Scale,
    *,
    preferred: bool = True,
    limits: Sequence[float] = (),
    bad_above: float | None = None,
    bad_below: float | None = None,
    dot: bool = True,
) -> str:
    """Bar from low to high, limits as upright strokes, what lies beyond the last one slanted, the value as a dot.

    A preferred or found value is a filled dot, a rival one a ring.
    """
    parts = [_OPEN, f'<path class="base" d="M0 10H{WIDTH:g}"/>']
    for beyond, left in ((bad_above, False), (bad_below, True)):
        if beyond is not None:
            parts.append(_slanted(0.0, scale.x(beyond)) if left else _slanted(scale.x(beyond), WIDTH))
    if not number.is_exact:
        parts.append(f'<path class="band" d="M{at(scale.x(number.low))} 10H{at(scale.x(number.high))}"/>')
    parts += [
        f'<path class="lim" d="M{at(scale.x(limit))} 2V18"/>' for limit in limits if scale.low <= limit <= scale.high
    ]
    if dot:
        x = at(scale.x(number.value))
        parts.append(
            f'<circle class="dot" cx="{x}" cy="10" r="4.3"/>'
            if preferred
            else f'<circle class="ring" cx="{x}" cy="10" r="3.6"/>'
        )
    return "".join(parts) + "</svg>"


def window(low: tuple[float, bool] | None, high: tuple[float, bool] | None, scale: Scale) -> str:
    """A bar between the two ends of a window, each with its dot: filled where that end is preferred, else a ring.

    Parameters
    ----------
    low, high : (value, preferred), optional
        One alone is a dot without a bar.
    scale : Scale
    """
    parts = [_OPEN, f'<path class="base" d="M0 10H{WIDTH:g}"/>']
    if low and high:
        parts.append(f'<path class="band" d="M{at(scale.x(low[0]))} 10H{at(scale.x(high[0]))}"/>')
    for value, preferred in filter(None, (low, high)):
        shape, radius = ("dot", 4.3) if preferred else ("ring", 3.6)
        parts.append(f'<circle class="{shape}" cx="{at(scale.x(value))}" cy="10" r="{radius:g}"/>')
    return "".join(parts) + "</svg>"


def _slanted(left: float, right: float) -> str:
    count = int((right - left) // 4)
    return f'<path class="bad" d="M{at(left)} 14{"m0 8".join(["l4-8"] * count)}"/>' if count > 0 else ""


def axis(low_text: str, high_text: str) -> str:
    """The ends of a scale over a bracket, for the head of several plots."""
    return (
        f'<svg class="iv axis" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" aria-hidden="true">'
        f'<path class="base" d="M.5 19V13M151.5 19V13M.5 19H151.5"/><text x="0" y="9">{escaped(low_text)}</text>'
        f'<text class="e" x="{WIDTH:g}" y="9">{escaped(high_text)}</text></svg>'
    )
