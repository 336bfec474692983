"""How draws become a word, and how many of each: two pictures of the handbook."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.pictures.drawing import at, figure, named_picture, path, rectangle, text

_LEFT, _RIGHT = 8.0, 332.0


def decision_rule(edges: tuple[float, float, float], outcomes: Sequence[str], key: str, title: str) -> str:
    """The share of draws that do not hold, from none to all, parted where the outcome changes.

    Parameters
    ----------
    edges : (float, float, float)
        Shares at which the outcome changes [-].
    outcomes : sequence of str
        The four outcomes, from the left.
    key, title : str
        Id of the picture on its page, and its title.
    """
    marks = (0.0, *edges, 1.0)

    def x(share: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * share

    parts = []
    fills = ("sq", "gl", "gapf", "me")
    for n, (outcome, fill) in enumerate(zip(outcomes, fills, strict=True)):
        low, high = x(marks[n]), x(marks[n + 1])
        parts.append(rectangle(low, 46, high - low, 18, fill))
        # Names stand on two heights by turns, for the first parts are narrow.
        upper, middle = n % 2 == 0, (low + high) / 2
        parts.append(text(outcome, low if n == 0 else middle, 12 if upper else 36, "" if n == 0 else "m"))
        if upper:
            parts.append(path(f"M{at(middle)} 17V44", "ld"))
    for n, share in enumerate(marks):
        parts.append(path(f"M{at(x(share))} 44v24", "ax"))
        if share:
            side = "q e" if n == len(marks) - 1 else "q m"
            parts.append(text(f"{figure(share * 100)} %", x(share), 82, side))
    parts.append(text("of the draws do not hold", _RIGHT, 98, "q i e"))
    spans = zip(outcomes, marks, marks[1:], strict=False)
    words = "; ".join(f"{figure(a * 100)} to {figure(b * 100)} %: {outcome}" for outcome, a, b in spans)
    return named_picture(key, title, f"By the share of draws that do not hold: {words}.", "0 0 340 104", parts)


def counted_bars(rows: Sequence[tuple[str, int]], key: str, title: str) -> str:
    """Names with a count each, as bars on one scale."""
    most = max(count for _, count in rows) or 1
    parts = []
    for n, (name, count) in enumerate(rows):
        y = 24.0 * n + 4
        parts.append(text(name, 0, y + 13))
        parts.append(rectangle(92, y, 190 * count / most, 16, "gl"))
        parts.append(text(figure(count), 98 + 190 * count / most, y + 13, "q"))
    words = "; ".join(f"{name} {figure(count)}" for name, count in rows)
    return named_picture(key, title, f"{words}.", f"0 0 340 {at(24.0 * len(rows) + 4)}", parts)
