"""The fit grid: glasses down, metals across; in each cell a mark, a word, how sure, and the room to the next limit."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from refdb.frozen import dataclass
from refdb.pictures.drawing import at, escaped
from refdb.pictures.marks import mark

#: The short word of a cell; the whole words stand in its label.
SHORT = {"suits": "suits", "suits with care": "with care", "does not suit": "does not", "cannot say": "cannot say"}
#: Room is drawn up to this.
_MOST_ROOM = 3.0
_LIMIT_X, _UNIT = 16.0, 16.0


@dataclass(frozen=True)
class Cell:
    """One pair: its outcome, in how many of ten draws it holds, and the room to the next limit.

    `room` counts in half-bands and is None where no number decides; `by` then says what does, in two or three words.
    """

    outcome: str
    holds: int | None = None
    room: float | None = None
    by: str = ""

    @property
    def looks(self) -> tuple[str, int | None, int | None, str]:
        """What can be seen of it: cells alike in this are one."""
        return self.outcome, self.holds, None if self.room is None else round(self.room * 2), self.by


@dataclass(frozen=True)
class Row:
    """Glasses that look alike on every metal, the first of which stands for them."""

    glasses: tuple[tuple[str, str], ...]
    cells: tuple[Cell, ...]


def rows_alike(rows: Iterable[tuple[tuple[str, str], Sequence[Cell]]]) -> list[Row]:
    """Rows, each a glass (key, label) with its cells, those that look alike folded into one; in their order."""
    found: dict[tuple[object, ...], list[tuple[tuple[str, str], Sequence[Cell]]]] = {}
    for glass, cells in rows:
        found.setdefault(tuple(cell.looks for cell in cells), []).append((glass, cells))
    return [Row(tuple(glass for glass, _ in held), tuple(held[0][1])) for held in found.values()]


def fit_grid(
    groups: Sequence[tuple[str, Sequence[Row]]],
    columns: Sequence[tuple[str, str]],
    row_link: Callable[[str], str],
    cell_link: Callable[[str, str], str],
    caption: str,
    tint: Callable[[str], str] = lambda key: "",
) -> str:
    """A table of marks.

    Parameters
    ----------
    groups : sequence of (heading, rows)
        Rows of glasses under their heading, with a cell for each column.
    columns : sequence of (key, label)
        Metals.
    row_link, cell_link : callable
        Addresses of a record by its key, and of a verdict by glass key and metal key.
    caption : str
        Read by screen readers.
    tint : callable
        A drawing that stands before the name of a glass, by its key.
    """
    parts = [
        f'<table class="grid mg"><caption class="vh">{escaped(caption)}</caption><thead><tr><th scope="col">glass</th>'
    ]
    parts += [f'<th scope="col"><a href="{escaped(row_link(key))}">{escaped(label)}</a></th>' for key, label in columns]
    parts.append("</tr></thead>")
    for heading, rows in groups:
        parts.append(
            f'<tbody><tr class="class"><th colspan="{len(columns) + 1}" scope="rowgroup">{escaped(heading)}</th></tr>'
        )
        for row in rows:
            parts.append(f'<tr><th scope="row">{_head(row, row_link, tint)}</th>')
            parts += _cells(row, columns, cell_link)
            parts.append("</tr>")
        parts.append("</tbody>")
    return "".join(parts) + "</table>"


def _head(row: Row, link: Callable[[str], str], tint: Callable[[str], str]) -> str:
    links = [f'{tint(key)}<a href="{escaped(link(key))}">{escaped(label)}</a>' for key, label in row.glasses]
    if len(links) == 1:
        return links[0]
    others = "".join(f"<li>{one}</li>" for one in links[1:])
    return f"{links[0]}<details><summary>{len(links) - 1} alike</summary><ul>{others}</ul></details>"


def _cells(row: Row, columns: Sequence[tuple[str, str]], link: Callable[[str, str], str]) -> Iterable[str]:
    glass, label = row.glasses[0]
    for (metal, metal_label), cell in zip(columns, row.cells, strict=True):
        sure = "" if cell.holds is None else f", holds in {cell.holds} of 10"
        said = escaped(f"{label} on {metal_label}: {cell.outcome}{sure}")
        tenths = "" if cell.holds is None else f" <b>{cell.holds}</b>"
        below = _room(cell.room) if cell.room is not None else f'<span class="by">{escaped(cell.by)}</span>'
        yield (
            f'<td><a class="cell" href="{escaped(link(glass, metal))}" aria-label="{said}">{mark(cell.outcome)}'
            f'<span class="w">{SHORT[cell.outcome]}</span>{tenths}{below}</a></td>'
        )


def _room(room: float) -> str:
    """A bar from the limit: to its right what is left, to its left what is past."""
    shown = max(-1.0, min(room, _MOST_ROOM))
    x, width = (_LIMIT_X, shown * _UNIT) if shown >= 0 else (_LIMIT_X + shown * _UNIT, -shown * _UNIT)
    bar = f'<rect class="{"in" if shown >= 0 else "out"}" x="{at(x)}" y="2" width="{at(max(width, 1))}" height="6"/>'
    line = f'<path class="lim" d="M{at(_LIMIT_X)} 0V10"/>'
    return (
        f'<svg class="room" viewBox="0 0 64 10" aria-hidden="true"><path class="base" d="M0 9.5H64"/>{bar}{line}</svg>'
    )
