"""What all lists have in common: a family chosen, and rows under headings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from refdb.cli.common import chosen_from
from refdb.cli.output import Column, Page

NOTHING = "Nothing in the store is all that was asked for."


def of_family(records: Sequence[Any], family: str, option: str = "--family") -> list[Any]:
    """The records of a family, all where none is named; BadInput for one that none of them has."""
    if not family:
        return list(records)
    wanted = chosen_from(family, sorted({r.family for r in records}), option)
    return [r for r in records if r.family == wanted]


def grouped(page: Page, columns: list[Column], table: list[list[str]], headings: list[str]) -> None:
    """A table whose rows stand under headings, the heads of its columns once at the top."""
    widths = page.table_widths(columns, table)
    page.table(columns, [], widths=widths)
    last = None
    for heading, row in zip(headings, table, strict=True):
        if heading != last:
            page.heading(heading)
            last = heading
        page.rows(columns, [row], widths)
