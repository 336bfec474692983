"""How the bow of a coated strip is measured: a drawing for pages, and one of plain characters for the terminal."""

from __future__ import annotations

from refdb.pictures.drawing import NO_BREAK, at, figure, named_picture, path, text

_LEFT, _RIGHT, _GROUND, _RISE, _BAND = 24.0, 316.0, 124.0, 52.0, 9.0
_COLUMNS, _ROWS, _INDENT = 62, 6, 8


def _amount(value_mm: float | None, decimals: int) -> str:
    return "" if value_mm is None else f" {figure(abs(value_mm), decimals)}{NO_BREAK}mm"


def _side(glass_outside: bool) -> str:
    if glass_outside:
        return "Glass on the outside of the bend: the bow counts above zero."
    return "Glass on the inside of the bend: the bow counts below zero."


def _height(x: float) -> float:
    """Height of the strip's underside over the ground at a place along the picture."""
    share = (x - _LEFT) / (_RIGHT - _LEFT) * 2 - 1
    return _RISE * (1 - share * share)


def _band(lift: float, shape: str, more: str = "") -> str:
    """One layer as an arc of even height; the control point of a parabola lies at twice its rise."""
    middle, low = (_LEFT + _RIGHT) / 2, _GROUND - lift
    high = low - _BAND
    return path(
        f"M{at(_LEFT)} {at(low)}Q{at(middle)} {at(low - 2 * _RISE)} {at(_RIGHT)} {at(low)}"
        f"V{at(high)}Q{at(middle)} {at(high - 2 * _RISE)} {at(_LEFT)} {at(high)}Z",
        shape,
        more,
    )


def strip_drawing(
    key: str, title: str, *, bow_mm: float | None = None, length_mm: float | None = None, glass_outside: bool = True
) -> str:
    """The strip from the side, lying on its ends on something flat, with what is to be measured.

    Parameters
    ----------
    key, title : str
        Id of the picture on its page, and its title.
    bow_mm, length_mm : float, optional
        Figures to be written at their places; without them only the names stand there.
    glass_outside : bool
        Whether the glass is on the outside of the bend.

    Notes
    -----
    The bend is drawn much larger than it is.
    """
    middle = (_LEFT + _RIGHT) / 2
    metal, glass = (0.0, _BAND) if glass_outside else (_BAND, 0.0)
    parts = [
        _band(metal, "me"),
        _band(metal, "", ' fill="url(#cut)"'),
        _band(glass, "gl"),
        path(f"M8 {at(_GROUND)}H332", "ax"),
    ]
    under = _GROUND - _RISE
    parts += [
        path(
            f"M{at(middle)} {at(under)}V{at(_GROUND)}M{at(middle - 4)} {at(under)}h8M{at(middle - 4)} {at(_GROUND)}h8",
            "wk",
        ),
        text(f"bow{_amount(bow_mm, 2)}", middle + 9, _GROUND - 13, "b"),
    ]
    line = _GROUND + 16
    parts += [
        path(f"M{at(_LEFT)} {at(line)}H{at(_RIGHT)}M{at(_LEFT)} {at(line - 4)}v8M{at(_RIGHT)} {at(line - 4)}v8", "wk"),
        text(f"length{_amount(length_mm, 0)}, straight from end to end", middle, line + 18, "m"),
    ]
    x = _LEFT + 46
    for lift, words, label in sorted(((metal, "metal", 0.0), (glass, "glass", 0.0)), reverse=True):
        from_y = _GROUND - _height(x) - lift - _BAND / 2
        to_y = 38.0 if lift else 56.0
        parts += [
            path(f"M{at(x)} {at(from_y)}L{at(_LEFT + 22 + label)} {at(to_y)}", "ld"),
            text(words, _LEFT + 20, to_y + 2, "i e"),
        ]
    said = (
        f"A strip bent into an arch rests with both ends on something flat. {_side(glass_outside)} The bow"
        f"{_amount(bow_mm, 2)} is the gap under its middle; the length{_amount(length_mm, 0)} is the straight "
        "distance between its ends. The bend is drawn larger than it is."
    )
    return named_picture(key, title, said, "0 0 340 164", parts)


def strip_text(*, bow_mm: float | None = None, length_mm: float | None = None, glass_outside: bool = True) -> list[str]:
    """The same in plain characters, no line longer than 78.

    Returns
    -------
    list of str
        Lines without line ends.
    """
    outer, inner = ("=", "#") if glass_outside else ("#", "=")
    rows = [[" "] * _COLUMNS for _ in range(_ROWS + 2)]
    for x in range(_COLUMNS):
        share = x / (_COLUMNS - 1) * 2 - 1
        top = round(_ROWS * share * share)
        rows[top][x], rows[top + 1][x] = outer, inner
    middle = _COLUMNS // 2
    words = f"bow{_amount(bow_mm, 2)}".replace(NO_BREAK, " ")
    for row in range(2, _ROWS + 2):
        rows[row][middle] = "|"
    half = (_ROWS + 4) // 2
    rows[half][middle + 2 : middle + 2 + len(words)] = words
    lines = ["".join(row).rstrip() for row in rows]
    length = f" length{_amount(length_mm, 0)}, straight from end to end ".replace(NO_BREAK, " ")
    legend = f"{outer} {'glass' if outer == '=' else 'metal'}   {inner} {'metal' if inner == '#' else 'glass'}"
    drawn = [*lines, "-" * _COLUMNS, f"|{length:-^{_COLUMNS - 2}}|"]
    drawn += ["", f"{legend}   (the bend is drawn larger than it is)", _side(glass_outside)]
    return [(" " * _INDENT + line).rstrip() for line in drawn]
