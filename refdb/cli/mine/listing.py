"""Lists of one's own rows, printed one after another, so that a long shelf needs no more memory than a short one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from typing import TYPE_CHECKING, Any

from refdb.cli.common import one_form, seen_workshop
from refdb.cli.mine.pages import plain_row
from refdb.cli.mine.tables import KINDS, table
from refdb.cli.output import Page, emit_csv_of, emit_json, emit_json_rows
from refdb.errors import BadInput
from refdb.store.workshop.schema import NAMED, NUMBERED, OWN, PREFIX

if TYPE_CHECKING:
    from refdb.store.workshop.file import Workshop

Row = dict[str, Any]
#: What is said of an empty list.
_NOTHING = {
    "": "Nothing is yours yet. refdb mine add glass keeps a jar; refdb mine import takes a list.",
    "tile": "No tile is written down yet: refdb mine tile GLASS METAL --outcome sound",
    "strip": "No strip is kept yet; refdb mine strip --help tells how one is measured.",
    "stock": "No stock is written down yet: refdb mine stock KEY 45g",
    "firing": 'No firing is written down yet: refdb mine edit my:NAME --observed "815C 3min copper 0.75mm"',
    "kiln": 'Nothing is written down of your kiln: refdb mine kiln "12 K"',
}


def list_page(kinds: tuple[str, ...], removed: bool, as_json: bool, as_csv: bool = False) -> None:
    """Print rows of some kinds, or what was removed."""
    one_form(as_json, as_csv)
    if as_csv and (removed or len(kinds) > 1):
        raise BadInput("kinds have different columns", "--csv", "name one, such as glass; refdb mine export writes all")
    path = seen_workshop()
    with ExitStack() as held:
        shop = None
        if path.is_file() and path.stat().st_size:
            from refdb.store.workshop.file import Workshop

            shop = held.enter_context(Workshop(path))
        if removed:
            _removed(shop, kinds, as_json)
        elif as_json:
            emit_json_rows(plain_row(kind, row) for kind in kinds for row in _each(shop, kind))
        elif as_csv:
            header = list(dict.fromkeys(("key", "kind", *(c.name for c in OWN[kinds[0]].columns))))
            emit_csv_of((plain_row(kinds[0], row) for row in _each(shop, kinds[0])), header)
        else:
            _tables(shop, kinds)


def _each(shop: Workshop | None, kind: str) -> Iterator[Row]:
    return iter(()) if shop is None else shop.each(kind)


def _tables(shop: Workshop | None, kinds: tuple[str, ...]) -> None:
    page = Page()
    there = [kind for kind in kinds if shop is not None and shop.count(kind)]
    if not there:
        page.paragraph(_NOTHING.get(kinds[0], _NOTHING[""]) if len(kinds) == 1 else _NOTHING[""])
    for kind in there:
        page.heading(KINDS[kind])
        heads, _ = table(kind, ())

        def cells(kind: str = kind) -> Iterator[list[str]]:
            return (table(kind, (row,))[1][0] for row in _each(shop, kind))

        # Once for the widths, and once more to print.
        widths = page.table_widths(heads, cells())
        page.table(heads, (), widths=widths)
        for row in cells():
            page.rows(heads, (row,), widths)
            page.show_so_far()
    page.show()


def _removed(shop: Workshop | None, kinds: tuple[str, ...], as_json: bool) -> None:
    rows = [] if shop is None else [r for r in shop.removed() if len(kinds) > 1 or r["kind"] in kinds]
    if as_json:
        emit_json({"removed": [{"key": _gone_key(r), "kind": r["kind"], "at": r["at"]} for r in rows]})
        return
    page = Page()
    for r in rows:
        page.sides(_gone_key(r), f"{r['kind']}, {r['at']}")
    page.paragraph("refdb mine restore KEY brings one back." if rows else "Nothing was removed.")
    page.show()


def _gone_key(row: Row) -> str:
    if row["kind"] in NAMED:
        return f"{PREFIX}{row['key']}"
    return f"{row['kind']}:{row['key']}" if row["kind"] in NUMBERED else str(row["key"])
