"""`refdb verify --against`: what changed between two stores, for people and for programs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

from refdb.cli.output import Page, emit_csv, emit_json
from refdb.curate.between import ANSWERS, CHANGED, FIGURES, GONE, NEW, Between, Difference, Turned, between
from refdb.errors import StoreUnusable
from refdb.records.printed import SCALES, unit_words
from refdb.words import short_path

#: Rows of the first screen for figures and for verdicts, and tables that are named there.
_FIGURES, _VERDICTS, _TABLES = 5, 3, 4
#: What each row of the CSV says.
HEADER = ("table", "change", "record", "property", "source", "key", "column", "old", "new")
#: Columns of property_values that are in the unit of the property, and those that are degrees.
_IN_ITS_UNIT, _DEGREES = ("value", "low", "high"), ("temp_low_c", "temp_high_c")
#: How the source printed a figure; told with all the rest alone.
_AS_PRINTED = ("as_printed", "unit_as_printed")
_NOT_MORE = "Verdicts as each store keeps them: standard build, without rules of the trade; none worked out anew."


def compared(old: Path, new: Path) -> Between:
    """Compare two stores; StoreUnusable, also where one cannot be read."""
    try:
        return between(old, new)
    except OSError as error:
        raise StoreUnusable(
            f"a store cannot be read ({(error.strerror or 'unknown reason').lower()})", short_path(old, 80)
        ) from None


def show_json(found: Between) -> None:
    """All of it as JSON."""
    stores = zip(("from", "to"), (found.old, found.new), found.fingerprints, strict=True)
    emit_json(
        {
            **{name: {"store": str(path), "fingerprint": mark} for name, path, mark in stores},
            "same": found.same,
            "counts": found.counts(),
            "rows": [
                {
                    "table": row.table,
                    "change": row.kind,
                    "key": row.key,
                    "values": {name: {"old": old, "new": now} for name, (old, now) in row.values.items()},
                }
                for row in found.rows
            ],
            "verdicts": [
                {
                    "glass": one.glass,
                    "metal": one.metal,
                    "build": one.build,
                    "old": one.outcomes[0],
                    "new": one.outcomes[1],
                    "old_shares": one.old,
                    "new_shares": one.new,
                }
                for one in found.verdicts
            ],
            "answers_otherwise_moved": found.moved,
            "answers": found.pairs,
        }
    )


def show_csv(found: Between) -> None:
    """One line for each value that differs, and for each row without values; verdicts as outcomes of `answers`."""
    emit_csv(list(_csv_rows(found)), HEADER)


def _csv_rows(found: Between) -> Iterator[dict[str, Any]]:
    for row in found.rows:
        head = {
            "table": row.table,
            "change": row.kind,
            "record": row.key.get("material") or row.key.get("glass"),
            "property": row.key.get("property"),
            "source": row.key.get("source"),
            "key": _named(row),
        }
        for column, (old, new) in (row.values or {"": (None, None)}).items():
            yield {**head, "column": column, "old": old, "new": new}
    for one in found.verdicts:
        yield {
            "table": ANSWERS,
            "change": NEW if one.old is None else GONE if one.new is None else CHANGED,
            "record": one.glass,
            "key": f"{one.glass}, {one.metal}, {one.build}",
            "column": "outcome" if one.turns else "shares",
            **dict(zip(("old", "new"), one.outcomes if one.turns else map(_shares, (one.old, one.new)), strict=True)),
        }


def show_page(found: Between, full: bool) -> None:
    """In words: counts first, then figures, verdicts and the rest, on one screen unless all is asked for."""
    page = Page()
    figures = found.of(*FIGURES)
    rest = [row for row in found.rows if row.table not in FIGURES]
    turned = [one for one in found.verdicts if one.turns]
    page.paragraph(_head(found, len(figures), len(turned), len(rest)))
    stores = zip(("from", "to"), (found.old, found.new), found.fingerprints, strict=True)
    page.pairs([(name, f"{mark[:12]}, {short_path(path, 55)}") for name, path, mark in stores])
    if figures:
        page.heading(f"Figures: {_counted(_kinds(figures))}")
        _list(page, [_told(row, found, full) for row in figures], _FIGURES, full)
    if found.verdicts or found.moved:
        moved = len(found.verdicts) - len(turned) + found.moved
        page.heading(f"Stored verdicts: {len(turned):,} come out otherwise, {moved:,} moved within their outcome")
        _list(page, [_turned(one) for one in (found.verdicts if full else turned)], _VERDICTS, full)
    if rest:
        counts = found.counts()
        tables = [f"{_table(name)} {_counted(counts[name])}" for name in dict.fromkeys(row.table for row in rest)]
        page.heading("Other rows:" if full else f"Other rows: {_first(tables)}")
        if full:
            _list(page, [f"{_table(row.table)}: {_told(row, found, full)}" for row in rest], 0, full)
    page.line()
    if full and len(found.verdicts) > len(turned):
        page.paragraph("Shares of the draws: those that hold plainly, with care, not.")
    page.paragraph(_NOT_MORE if full or found.same else f"{_NOT_MORE} All of it: --full")
    page.show()


def _head(found: Between, figures: int, turned: int, rest: int) -> str:
    if found.same:
        return f"Nothing changed: both stores have the same rows, and the same {found.pairs:,} stored verdicts."
    if not (found.rows or found.verdicts or found.moved):
        return "No row and no stored verdict changed; only the index by which words are found is another."
    pairs = f"{turned:,} of {found.pairs:,} stored verdicts"
    return f"Changed: {_many(figures, 'figure')}, {pairs}, {_many(rest, 'other row')}."


def _many(count: int, what: str) -> str:
    return f"{count:,} {what}{'' if count == 1 else 's'}"


def _kinds(rows: Sequence[Difference]) -> dict[str, int]:
    return {kind: sum(row.kind == kind for row in rows) for kind in (CHANGED, NEW, GONE)}


def _counted(counts: dict[str, int]) -> str:
    return ", ".join(f"{count:,} {kind}" for kind, count in counts.items() if count)


def _first(tables: Sequence[str]) -> str:
    more = len(tables) - _TABLES
    return "; ".join(tables[:_TABLES]) + (f"; and {_many(more, 'table')} more" if more > 0 else "")


def _list(page: Page, lines: Sequence[str], most: int, full: bool) -> None:
    """The lines, each wrapped; on one screen, those that fit in so many rows of it."""
    begun = len(page.lines)
    for n, line in enumerate(lines):
        kept = len(page.lines)
        page.paragraph(line, 2, 4)
        if not full and len(page.lines) - begun > most:
            del page.lines[kept:]
            page.line(f"  and {len(lines) - n:,} more")
            return


def _table(name: str) -> str:
    return name.replace("_", " ")


def _named(row: Difference) -> str:
    return ", ".join(map(_value, row.key.values()))


def _told(row: Difference, found: Between, full: bool) -> str:
    """One row in words: what it is, and each value that differs; the long ones of new rows only where all is told."""
    first = [name for name in row.values if name in _IN_ITS_UNIT] or list(row.values)[:2]
    values = row.values
    if not full:
        brief = {name: pair for name, pair in values.items() if name not in _AS_PRINTED}
        values = (brief or values) if row.kind == CHANGED else {name: values[name] for name in first}
    said = "; ".join(_said(row, found, values))
    return f"{_named(row)}{'' if row.kind == CHANGED else f', {row.kind}'}{f': {said}' if said else ''}"


def _said(row: Difference, found: Between, values: dict[str, tuple[Any, Any]]) -> Iterable[str]:
    for column, (old, new) in values.items():
        name = "" if column == "value" else f"{_table(column)} "
        unit, scale = _unit(row, column, found)
        one = _value(new if row.kind == NEW else old, scale)
        if row.kind != CHANGED:
            yield f"{name}{one}{unit}"
            continue
        other = _value(new, scale)
        if one == other:  # they differ in a later digit
            one, other = _value(old, scale, 12), _value(new, scale, 12)
        yield f"{name}was {one}, now {other}{unit}"


def _unit(row: Difference, column: str, found: Between) -> tuple[str, float]:
    """The unit of a column with a blank before it, and what a stored number is multiplied by to stand in it."""
    if column in _DEGREES:
        return " °C", 1.0
    if column not in _IN_ITS_UNIT or row.key.get("property") not in found.units or row.table not in FIGURES:
        return "", 1.0
    stored, shown = found.units[row.key["property"]]
    scale = SCALES.get((stored, shown))
    unit = unit_words(stored if scale is None else shown)
    return (f" {unit}" if unit else ""), scale or 1.0


def _value(value: Any, scale: float = 1.0, digits: int = 6) -> str:
    if value is None:
        return "none"
    return f"{value * scale:.{digits}g}" if isinstance(value, float) else str(value)


def _shares(shares: Sequence[float] | None) -> str | None:
    return None if shares is None else ", ".join(f"{share:.3f}" for share in shares)


def _turned(one: Turned) -> str:
    old, new = one.outcomes
    if not one.turns:
        return f"{one.glass} on {one.metal}: {old}; shares {_shares(one.old)}, now {_shares(one.new)}"
    return f"{one.glass} on {one.metal}: was {old or 'not kept'}, now {new or 'not kept'}"
