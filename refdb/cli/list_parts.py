"""What all lists have in common: a family chosen, and rows under headings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from refdb.cli.common import chosen_from
from refdb.cli.output import Column, Page

NOTHING = "Nothing in the store is all that was asked for."


def chosen_family(family: str, families: Iterable[str], option: str = "--family") -> str:
    """The family that is meant, "" where none is named; BadInput for one that no record has."""
    return chosen_from(family, sorted(set(families)), option) if family else ""


def of_family(records: Sequence[Any], family: str) -> list[Any]:
    """The records of a family, all where none is named; BadInput for one that none of them has."""
    wanted = chosen_family(family, (r.family for r in records))
    return [r for r in records if wanted in ("", r.family)]


def grouped(
    page: Page,
    columns: list[Column],
    rows: Iterable[tuple[str, list[str]]],
    widths: Sequence[int] | None = None,
    as_they_come: bool = False,
) -> None:
    """A table of rows that stand under headings, the heads of its columns once at the top.

    Where `as_they_come`, for which the widths must be known, a long one is written in the meantime.
    """
    if widths is None:
        rows = list(rows)
        widths = page.table_widths(columns, [cells for _, cells in rows])
    page.table(columns, [], widths=widths)
    last = None
    for heading, cells in rows:
        if heading != last:
            page.heading(heading)
            last = heading
        page.rows(columns, [cells], widths)
        if as_they_come:
            page.show_so_far()
