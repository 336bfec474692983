"""What an import prints while it runs and at its end."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from refdb.cli.mine.tables import KINDS
from refdb.cli.output import Page, complain, emit_json
from refdb.errors import BadInput

if TYPE_CHECKING:
    from refdb.store.workshop.csv_files import Report


class Progress:
    """Shows on a terminal how many lines of a long file were read; elsewhere only bad lines are printed."""

    def __init__(self) -> None:
        self.live = sys.stderr is not None and sys.stderr.isatty()
        self._shown = False

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *error: object) -> None:
        self._wipe()

    def step(self, name: str, lines: int) -> None:
        """Show that so many lines of a file were read."""
        if self.live:
            sys.stderr.write(f"\r{name}: {lines:,} lines\033[K")
            sys.stderr.flush()
            self._shown = True

    def tell(self, line: str) -> None:
        """Print the message of a bad line."""
        self._wipe()
        complain(line)

    def _wipe(self) -> None:
        if self._shown:
            sys.stderr.write("\r\033[K")
            sys.stderr.flush()
            self._shown = False


def told_import(report: Report, check: bool, as_json: bool) -> None:
    """Print the counts of an import, or why nothing was imported."""
    total = sum(report.good.values())
    if as_json:
        emit_json(
            {
                "checked" if check else "imported": report.good,
                "there_already": report.there,
                "bad": report.bad,
                "done": report.done,
            }
        )
        return
    told = [f"{total:,} good", f"{report.bad:,} bad"] + ([f"{report.there:,} there already"] if report.there else [])
    page = Page()
    if check:
        page.paragraph(f"{', '.join(told)}; nothing was changed")
    elif report.done:
        page.paragraph(
            f"Imported {', '.join(f'{n:,} {KINDS[k]}' for k, n in report.good.items() if n) or 'nothing'}"
            + (f"; {', '.join(told[1:])}" if report.bad or report.there else "")
        )
    else:
        complain(BadInput(f"{', '.join(told)}; nothing was imported", "", "mend them, or add --keep-good").line)
        return
    page.show()
