"""The changes that make a piece hold, as text: what to change, what comes of it, and the file line by line."""

from __future__ import annotations

from difflib import unified_diff

from refdb.cli.common import Units
from refdb.cli.output import Page
from refdb.cli.verdict_page import how_sure
from refdb.judge.verdict import TEST_TILE
from refdb.plan.improve import Improved
from refdb.words import upper_first


def improve_page(found: Improved, text: str, name: str, units: Units = "metric") -> Page:
    """The whole page; `text` is that of the file as it stands, `name` how it is called."""
    page = Page(fahrenheit=units == "studio")
    page.paragraph(f"As it stands: {found.before.outcome}{how_sure(found.before)}. {found.before.sentence}")
    if not found.edits:
        page.line()
        page.paragraph(
            "It holds; nothing needs to be changed." if found.holds else "No single change was found to help."
        )
        page.paragraph(TEST_TILE)
        return page
    page.heading(f"Change {'this' if len(found.edits) == 1 else 'these, in this order'}")
    for number, edit in enumerate(found.edits, 1):
        page.paragraph(upper_first(edit.words), 2, None, f"{number}  ")
    page.line()
    page.paragraph(f"Then: {found.after.outcome}{how_sure(found.after)}. {found.after.sentence}")
    page.heading("In the file")
    for line in list(unified_diff(text.split("\n"), found.text.split("\n"), name, name, lineterm="", n=1))[2:]:
        page.clipped(line, 2)
    page.line()
    page.paragraph(f"{TEST_TILE} Write it with --write OUT.")
    return page
