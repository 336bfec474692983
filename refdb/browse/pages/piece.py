"""Where a whole piece is asked about: its address, what the page takes, and the example."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import quote

from refdb.browse.server.query import LONGEST_PIECE, LONGEST_PIECE_ADDRESS
from refdb.browse.site import Site

PARAMETERS = ("text", "example", "p")
_PLAN = Path(__file__).resolve().parent.parent.parent / "plan"
STYLES, BENCH_STYLES = _PLAN / "sheet.css", _PLAN / "bench_sheet.css"
STYLES_ADDRESS, BENCH_STYLES_ADDRESS = "/static/sheet.css", "/static/bench_sheet.css"


def example() -> str:
    """The piece file that serves as example."""
    return (_PLAN / "new_piece.toml").read_text(encoding="utf-8").replace("THIS_FILE", "piece.toml")


def is_slow(site: Site, query: dict[str, str]) -> bool:
    """Whether a question calculates."""
    return bool(query)


def address_of(text: str, sheet: bool = False) -> str:
    """The address of the answer for a piece, or of its sheet; empty where the text is too long for one."""
    address = f"/piece{'/sheet' if sheet else ''}?text={quote(text, safe='')}"
    fits = len(text.encode()) <= LONGEST_PIECE and len(address) <= LONGEST_PIECE_ADDRESS and "\ufffd" not in text
    return address if fits else ""
