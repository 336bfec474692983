"""Own tests as a file for others: what leaves is shown first, and nothing of it names anybody or anything."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from refdb.cli.common import JsonOption, seen_workshop
from refdb.cli.options import Argument, Option
from refdb.cli.prompts import confirm
from refdb.errors import BadInput
from refdb.words import counted, short_path

if TYPE_CHECKING:
    from refdb.cli.output import Page
    from refdb.records.pooled import SharedRow

#: So many rows are shown before they leave.
_SHOWN = 6


def share(
    file: Annotated[Path, Argument(metavar="OUT.csv", help="The file to write; it never overwrites.")],
    yes: Annotated[bool, Option("--yes", help="Write it without being asked.")] = False,
    new_number: Annotated[
        bool, Option("--new-number", help="Draw another studio number first; earlier files then count apart.")
    ] = False,
    as_json: JsonOption = False,
) -> None:
    """Write your tests as rows that others may learn from.

    Classes stand for jars, months for days, a random number for your studio; names, notes and places stay here. What
    leaves is shown before it is written. Whoever gives the file on gives it to the public domain (CC0).

    \b
    Example:
      refdb mine share tiles.csv --yes
    """
    from refdb.cli.mine.values import known_keys
    from refdb.store.pool.file import Pool, drawn
    from refdb.store.pool.place import pool_path
    from refdb.store.pool.share import shared_rows
    from refdb.store.workshop.file import Workshop

    if file.exists():
        raise BadInput("there is a file of this name already", short_path(file, 60), "give another name")
    path = seen_workshop()
    known = known_keys()
    with Workshop(path) as shop, Pool(pool_path(path), write=True) as pool:
        secret = drawn() if new_number else pool.secret()
        rows, left_out = shared_rows(shop, known, secret)
    if not rows:
        raise BadInput(
            "there is nothing to share" if not left_out else f"{_left(left_out)}, so there is nothing to share",
            todo="refdb mine tile writes a tile down; refdb mine edit KEY --like CLASS says what a jar is like",
        )
    if not as_json:
        _page(rows, left_out).show()
    written = yes or as_json or _asked(file)
    if written:
        if new_number:
            # Not where it is only looked at.
            with Pool(pool_path(path), write=True) as pool:
                pool.keep_secret(secret)
        _write(file, rows)
    if as_json:
        from refdb.cli.output import emit_json

        emit_json({"file": str(file), "rows": len(rows), "left_out": dict(left_out), "studio": rows[0].studio})
        return
    from refdb.cli.output import emit

    emit(
        f"Wrote {file}, {counted(len(rows), 'row', 'rows')}.\n"
        if written
        else "Nothing was written; --yes writes it without asking.\n"
    )


def _asked(file: Path) -> bool:
    if not all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout)):
        return False
    return confirm(f"Write {file}?")


def _left(left_out: Counter[str]) -> str:
    return "; ".join(f"{n:,} left out, for {why}" for why, n in left_out.items())


def _page(rows: Sequence[SharedRow], left_out: Counter[str]) -> Page:
    from refdb.cli.output import Column, Page

    page = Page()
    kinds = Counter(r.kind for r in rows)
    page.paragraph(
        f"This leaves: {', '.join(counted(n, k, f'{k}s') for k, n in sorted(kinds.items()))}, in no order, such as"
    )
    heads = ("glass", "metal", "mm", "outcome", "month")
    page.table(
        [Column(h, wraps=h == "outcome") for h in heads],
        [
            (
                r.glass,
                r.metal,
                "/".join("-" if x is None else f"{x:g}" for x in (r.metal_mm, r.front_mm, r.back_mm)),
                r.outcome or "bow",
                r.month,
            )
            for r in rows[:_SHOWN]
        ],
    )
    page.paragraph("and of each, where you wrote it down: kiln setting, minutes, when it showed, strip readings.", 2)
    page.paragraph(
        "Nothing else: no names of jars, notes, days or places. studio and jar are random signs, the same when you "
        f"share again, so that nothing is counted twice; your studio is {rows[0].studio}."
    )
    if left_out:
        page.paragraph(f"{_left(left_out)}.")
    page.paragraph("Thicknesses and months are yours still: leave out what only you would fire.")
    return page


def _write(file: Path, rows: Sequence[SharedRow]) -> None:
    import io

    from refdb.store.pool.columns import written
    from refdb.store.workshop.files import write_whole

    text = io.StringIO(newline="")
    written(rows, text)
    try:
        write_whole(file, text.getvalue())
    except FileExistsError:
        raise BadInput("there is a file of this name already", short_path(file, 60), "give another name") from None
    except OSError as error:
        raise BadInput(
            f"it cannot be written ({(error.strerror or 'unknown reason').lower()})",
            short_path(file, 60),
            "give another place",
        ) from None
