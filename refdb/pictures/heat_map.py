"""A map of shares over two thicknesses: three lightnesses, a figure in each cell, and the lines between them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from refdb.pictures.drawing import at, escaped, figure, named_picture, rectangle, text

#: Shares from which a cell is dark, and from which it is tinted.
MOST, HALF = 0.9, 0.5
_CELL_W, _CELL_H = 31.0, 25.0
_LEFT, _TOP, _FOOT = 42.0, 24.0, 44.0
#: A share that only rounding parts from a limit is on it.
_ROUNDING = 1e-6


def zone(share: float) -> int:
    """1 for a share above nine in ten, 2 above five, else 3."""
    return 1 if share > MOST + _ROUNDING else 2 if share > HALF + _ROUNDING else 3


def tenths_text(share: float) -> str:
    """The share in tenths, cut so that no cell says more than its zone; a dot for none."""
    tenths = int(share * 10 + _ROUNDING)
    if zone(share) != 1:
        tenths = min(tenths, 8 if zone(share) == 2 else 4)
    return str(tenths) if tenths else "·"


def heat_map(
    key: str,
    title: str,
    description: str,
    columns: Sequence[str],
    rows: Sequence[str],
    share: Callable[[int, int], float],
    link: Callable[[int, int], str],
    named: Callable[[int, int], str],
    axes: tuple[str, str],
) -> str:
    """Draw a map.

    Parameters
    ----------
    key, title, description : str
        As of every picture.
    columns, rows : sequence of str
        Labels of the columns from the left, and of the rows from the bottom up.
    share : callable
        Share of a cell by row and column.
    link, named : callable
        Address of a cell, and what it is in words.
    axes : tuple of str
        Titles of the columns and of the rows.
    """
    width = _LEFT + _CELL_W * len(columns) + 4
    height = _TOP + _CELL_H * len(rows) + _FOOT
    foot = _TOP + _CELL_H * len(rows)
    parts = [text(axes[1], 2, 13, "q")]
    cells = [(r, c) for r in range(len(rows)) for c in range(len(columns))]
    for r, c in cells:
        parts.append(_cell(r, c, len(rows), share(r, c), link(r, c), named(r, c)))
    for r, label in enumerate(rows):
        parts.append(text(label, _LEFT - 6, _y(r, len(rows)) + 17, "e"))
    for c, label in enumerate(columns):
        parts.append(text(label, _x(c) + _CELL_W / 2, foot + 17, "m"))
    parts.append(text(axes[0], width - 4, foot + 37, "q e"))
    for limit, shape in ((HALF, "l5"), (MOST, "l9")):
        line = " ".join(
            _between([[share(r, c) > limit + _ROUNDING for c in range(len(columns))] for r in range(len(rows))])
        )
        if line:
            parts += [f'<path class="halo" d="{line}"/>', f'<path class="{shape}" d="{line}"/>']
    return named_picture(key, title, description, f"0 0 {at(width)} {at(height)}", parts, "fig heat", "group")


def _x(column: int) -> float:
    return _LEFT + _CELL_W * column


def _y(row: int, rows: int) -> float:
    return _TOP + _CELL_H * (rows - 1 - row)


def _cell(row: int, column: int, rows: int, share: float, link: str, named: str) -> str:
    x, y, kind = _x(column), _y(row, rows), zone(share)
    return (
        f'<a href="{escaped(link)}" tabindex="-1" aria-label="{escaped(named)}"><title>{escaped(named)}</title>'
        + rectangle(x, y, _CELL_W, _CELL_H, f"cellb z{kind}")
        + text(tenths_text(share), x + _CELL_W / 2, y + 17, f"m t{kind}")
        + "</a>"
    )


def _between(inside: Sequence[Sequence[bool]]) -> Iterator[str]:
    """The borders of cells that part those inside from the others, as strokes of a path."""
    for r, row in enumerate(inside):
        for c, here in enumerate(row):
            x, y = _x(c), _y(r, len(inside))
            if c + 1 < len(row) and row[c + 1] != here:
                yield f"M{at(x + _CELL_W)} {at(y)}V{at(y + _CELL_H)}"
            if r + 1 < len(inside) and inside[r + 1][c] != here:
                yield f"M{at(x)} {at(y)}H{at(x + _CELL_W)}"


def key_of(share: float) -> str:
    """One cell alone, for a legend."""
    kind = zone(share)
    return (
        '<svg class="heat" viewBox="0 0 31 21" aria-hidden="true">'
        + rectangle(0.5, 0.5, 30, 20, f"edged z{kind}")
        + text(tenths_text(share), 15.5, 15.5, f"m t{kind}")
        + "</svg>"
    )


def shares_table(
    columns: Sequence[str],
    rows: Sequence[str],
    share: Callable[[int, int], float],
    link: Callable[[int, int], str],
    named: Callable[[int, int], str],
    heads: tuple[str, str],
) -> str:
    """The same as a table of links, the last row first; figures are shares in hundredths."""
    across = "".join(f'<th scope="col" class="n">{escaped(label)}</th>' for label in columns)
    body: Iterable[str] = (
        f'<tr><th scope="row" class="n">{escaped(rows[r])}</th>'
        + "".join(
            f'<td class="n"><a href="{escaped(link(r, c))}" aria-label="{escaped(named(r, c))}">'
            f"{figure(int(share(r, c) * 100 + _ROUNDING))}</a></td>"
            for c in range(len(columns))
        )
        + "</tr>"
        for r in reversed(range(len(rows)))
    )
    return (
        f'<table class="tight cells"><caption class="soft">{escaped(heads[0])}</caption><thead><tr>'
        f'<th scope="col" class="n">{escaped(heads[1])}</th>{across}</tr></thead><tbody>{"".join(body)}</tbody></table>'
    )
