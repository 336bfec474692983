"""CSV of the tables as a spreadsheet may open it: no text in it is taken for a formula."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from types import SimpleNamespace
from typing import Any

from refdb.store.workshop.cells import FORMULA

_MARKS = (*FORMULA, "'")


class _Guarded:
    def __init__(self, file: Any) -> None:
        self._writer = csv.writer(file)

    def writerow(self, row: Iterable[object]) -> Any:
        """Write a row, with a ' before text that begins as a formula does; numbers stay as they are."""
        return self._writer.writerow(
            [f"'{cell}" if isinstance(cell, str) and cell.startswith(_MARKS) else cell for cell in row]
        )


def guard_csv() -> None:
    """Have Datasette write its CSV so."""
    import datasette.views.base

    datasette.views.base.csv = SimpleNamespace(writer=_Guarded)
