"""What the commands of one's own shelf print."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from refdb.cli.mine.tables import KINDS, key_of_row, table
from refdb.cli.output import Column, Page, emit_json
from refdb.errors import NotFound
from refdb.store.workshop.schema import NAMED, NUMBERED, OWN, Own

if TYPE_CHECKING:
    from refdb.store.workshop.file import Workshop

Row = dict[str, Any]
_LOWER_C, _UPPER_C = "expansion_from_c", "expansion_to_c"


def plain_row(kind: str, row: Row) -> Row:
    """A row for JSON: its key as people type it, then every column."""
    return {
        "key": key_of_row(kind, row),
        "kind": kind,
        **{c.name: row.get(c.name) for c in OWN[kind].columns if c.name != "key"},
    }


def told_row(
    done: str,
    kind: str,
    row: Row,
    as_json: bool,
    more: str = "",
    firings: Sequence[Row] = (),
    waiting: Mapping[str, int] | None = None,
    guessed: bool = False,
    alike: str = "",
) -> None:
    """Say what was done with a row, which firings went with it, and what was waiting for one of its key.

    `guessed` where nobody said what the figures rest on; `alike` is the class that follows from hardness and lead.
    """
    if as_json:
        emit_json(
            {
                "done": done.lower(),
                "row": plain_row(kind, row),
                **({"firings": [plain_row("firing", r) for r in firings]} if kind == "glass" else {}),
            }
        )
        return
    page = Page()
    key = key_of_row(kind, row)
    page.paragraph(f"{done}: {key}, {row['name']}" if kind in NAMED else f"{done}: {key}")
    page.pairs(_pairs(OWN[kind], row))
    for firing in firings:
        page.paragraph(told_firing(firing), 2, 4)
    if waiting:
        counts = ", ".join(f"{n:,} {KINDS[k] if n > 1 else k}" for k, n in waiting.items())
        page.paragraph(f"Written down of an earlier {key}, and now counting for this one: {counts}.")
    if alike:
        by = {"glass": "hardness and lead", "metal": "composition", "leaf": "metal"}[kind]
        page.paragraph(
            f"By its {by} it is like {alike}, whose figures stand in where it has none of its "
            f"own. If not: refdb mine edit {key} --like KEY, or --like none."
        )
    if kind == "metal" and row.get("alloy") and done in ("Added", "Changed"):
        from refdb.store.workshop.alloy import poison_of
        from refdb.store.workshop.composition import content_of

        page.paragraph(poison_of(content_of(row["alloy"])))
    if guessed:
        _add_guess(page, kind, key, row)
    if more:
        page.paragraph(more)
    elif kind == "glass" and done == "Added":
        page.line()
        page.paragraph(f"Try: refdb suits {key} copper-sheet")
    page.show()


def _add_guess(page: Page, kind: str, key: str, row: Row) -> None:
    """Add what follows where no basis was given for the figures of a material."""
    if any(isinstance(v, float) for v in row.values()):
        page.paragraph(
            "Taken as a guess, and widened to the range of one: nothing says what the figures rest on. "
            f'Better: refdb mine edit {key} with the figures and --basis "maker\'s sheet" or "own test".'
        )
    elif kind == "glass":
        page.paragraph(
            "Nothing of the jar itself is known yet, so a verdict on it never says more than suits with "
            f"care. Better: refdb mine edit {key} with the maker's figures and --basis \"maker's sheet\"."
        )


def told_firing(row: Mapping[str, Any]) -> str:
    """A firing in one line."""
    size = f", {row['metal_mm']:.3g} mm" if row["metal_mm"] is not None else ""
    return (
        f"firing:{row['number']}, {row['kiln_c']:.0f} °C for {row['minutes']:.3g} min on {row['metal']}{size}: "
        f"{row['result']}"
    )


def _pairs(own: Own, row: Row) -> list[tuple[str, str]]:
    pairs = []
    for column in own.columns:
        value = row.get(column.name)
        if value is None or column.name in ("name", "number", "key", _UPPER_C):
            continue
        label = column.label if column.label not in ("low", "high", "from") else ""
        if column.name == _LOWER_C:
            pairs.append(("span", f"{value:g} to {row[_UPPER_C]:g} °C"))
            continue
        text = f"{value:.5g} {column.unit}".strip() if isinstance(value, float) else str(value)
        pairs.append((label or _near_label(own, column.name), text))
    return pairs


def _near_label(own: Own, name: str) -> str:
    """The label of a low or high end: that of its figure, with the end."""
    end = " low" if "_low_" in name else " high"
    stem = name.partition("_low_")[0] if "_low_" in name else name.partition("_high_")[0]
    found = next((c for c in own.columns if c.name.startswith(f"{stem}_") and c.label not in ("low", "high")), None)
    return f"{found.label},{end}" if found else name.replace("_", " ")


def show_page(shop: Workshop, kind: str, bare: str, as_json: bool) -> None:
    """Print one row with all its columns, and the tiles and strips of a material."""
    row = shop.row(kind, bare)
    if row is None:
        raise NotFound(f"there is no {kind} '{bare[:60]}'", todo="refdb mine list has them all")
    key = key_of_row(kind, row)
    tiles, strips, firings = (
        [
            shop.rows(f"SELECT * FROM {OWN[k].table} WHERE ? IN (glass, metal) ORDER BY date DESC, number DESC", key)
            for k in NUMBERED
        ]
        if kind in NAMED
        else ([], [], [])
    )
    left = shop.row("stock", key) if kind in NAMED else None
    if as_json:
        emit_json(
            {
                "row": plain_row(kind, row),
                "tiles": [plain_row("tile", r) for r in tiles],
                "strips": [plain_row("strip", r) for r in strips],
                "firings": [plain_row("firing", r) for r in firings],
                "stock_grams": left and left["grams"],
            }
        )
        return
    page = Page()
    if kind == "kiln":
        page.paragraph(key)
    else:
        page.sides(row["name"] if kind in NAMED else key, key if kind in NAMED else kind)
    page.pairs(_pairs(OWN[kind], row))
    if left:
        page.pairs([("left", f"{left['grams']:g} g on {left['date']}")])
    for word, held in (("firing", firings), ("tile", tiles), ("strip", strips)):
        if held:
            page.heading(KINDS[word])
            page.table(*table(word, held))
    page.show()


def columns_page(own: Own, as_json: bool) -> None:
    """Print the columns of a kind."""
    if as_json:
        from refdb.store.workshop.datapackage import schema

        emit_json({"kind": own.kind, "file": own.file, "table_schema": schema(own)})
        return
    page = Page()
    page.paragraph(f"{own.file}: {own.description}")
    page.paragraph(
        "UTF-8, a header line, cells separated by commas, decimals with a point; an empty cell is not "
        "known. Numbers are in the unit of their column, or bring their own, as in 1500F. Columns may be "
        "left away, except those marked *."
    )
    page.line()
    rows = []
    for c in own.columns:
        about = "; ".join(x for x in (", ".join(c.choices), c.description) if x)
        rows.append([f"{c.name}{' *' if c.required else ''}", c.unit, about])
    if own.kind in ("glass", "metal"):
        rows.append(["cubical", "", "yes or no; yes divides the expansion by three (import only)"])
    page.table([Column("column"), Column("unit"), Column("what may stand in it", wraps=True)], rows)
    page.show()
