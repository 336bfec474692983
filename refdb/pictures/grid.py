"""The fit grid: glasses down, metals across, a mark and a word in each cell."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from refdb.pictures.drawing import escaped
from refdb.pictures.marks import mark

#: The short word of a cell; the whole words stand in its label.
SHORT = {"suits": "suits", "suits with care": "with care", "does not suit": "does not", "cannot say": "cannot say"}


def fit_grid(
    groups: Sequence[tuple[str, Sequence[tuple[str, str]]]],
    columns: Sequence[tuple[str, str]],
    outcome: Callable[[str, str], str],
    row_link: Callable[[str], str],
    cell_link: Callable[[str, str], str],
    caption: str,
) -> str:
    """A table of marks.

    Parameters
    ----------
    groups : sequence of (heading, rows)
        Rows are (key, label) of glasses under their heading.
    columns : sequence of (key, label)
        Metals.
    outcome : callable
        Outcome of a glass key on a metal key, in the words of a verdict.
    row_link, cell_link : callable
        Addresses of a record by its key, and of a verdict by glass key and metal key.
    caption : str
        Read by screen readers.
    """
    parts = [
        f'<table class="grid"><caption class="vh">{escaped(caption)}</caption><thead><tr><th scope="col">glass</th>'
    ]
    parts += [f'<th scope="col"><a href="{escaped(row_link(key))}">{escaped(label)}</a></th>' for key, label in columns]
    parts.append("</tr></thead>")
    for heading, rows in groups:
        parts.append(
            f'<tbody><tr class="class"><th colspan="{len(columns) + 1}" scope="rowgroup">{escaped(heading)}</th></tr>'
        )
        for key, label in rows:
            parts.append(f'<tr><th scope="row"><a href="{escaped(row_link(key))}">{escaped(label)}</a></th>')
            parts += _cells(key, label, columns, outcome, cell_link)
            parts.append("</tr>")
        parts.append("</tbody>")
    return "".join(parts) + "</table>"


def _cells(
    glass: str,
    label: str,
    columns: Sequence[tuple[str, str]],
    outcome: Callable[[str, str], str],
    link: Callable[[str, str], str],
) -> Iterable[str]:
    for metal, metal_label in columns:
        found = outcome(glass, metal)
        said = escaped(f"{label} on {metal_label}: {found}")
        yield f'<td><a href="{escaped(link(glass, metal))}" aria-label="{said}">{mark(found)}{SHORT[found]}</a></td>'
