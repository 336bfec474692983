"""Own records in files: import and export of CSV, a copy of the whole, and the columns."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from refdb.cli.common import JsonOption, say_taken, seen_workshop, store_path, typed
from refdb.cli.mine.options import Basis, Kind, Text
from refdb.cli.options import Argument, Option
from refdb.cli.output import emit, emit_json
from refdb.errors import BadInput


def import_files(
    files: Annotated[list[Path], Argument(metavar="FILE...", help="CSV files, or the folder of an export.")],
    kind: Annotated[
        str | None, Option("--kind", metavar="KIND", help="What the rows are, where the file does not tell.")
    ] = None,
    check: Annotated[bool, Option("--check", help="Only tell which lines are bad.")] = False,
    keep_good: Annotated[bool, Option("--keep-good", help="Take the good lines even where others are bad.")] = False,
    basis: Basis = None,
    date: Annotated[Text, Option("--date", metavar="DATE", help="Where a line has none.")] = None,
    as_json: JsonOption = False,
) -> int:
    """Import CSV files: every line, or none where one is bad.

    refdb mine columns tells the columns. Rows that stand there already are passed over.

    \b
    Example:
      refdb mine import glasses.csv --check

    Exit status: 0 all good, or the good ones taken with --keep-good; 2 a bad line.
    """
    from refdb.cli.mine.progress import Progress, told_import
    from refdb.cli.mine.values import known_keys
    from refdb.judge.naming import Taking
    from refdb.plan.own.tiles import own_column
    from refdb.store.reference import Reference
    from refdb.store.workshop.cells import choice, past_date
    from refdb.store.workshop.csv_files import Importer
    from refdb.store.workshop.rows import own_of
    from refdb.store.workshop.schema import GLASS

    defaults: dict[str, str] = {}
    if basis is not None:
        defaults["basis"] = choice(typed(basis), own_column(GLASS, "basis"))
    if date is not None:
        defaults["date"] = past_date(typed(date), "--date")
    wanted = own_of(typed(kind).lower()).kind if kind is not None else None
    known = known_keys()
    with Progress() as progress, Reference(store_path()) as ref:
        names = Taking(ref)

        def named(kind: str, text: str) -> str:
            names.thickness = ""
            key = names.key(text, kind, text)
            if names.thickness:
                raise BadInput(f"no thickness is taken here, such as {names.thickness}", "", "name the metal alone")
            return key

        importer = Importer(known, lambda bad: progress.tell(bad.line), progress.step, defaults, named)
        report = importer.run(_files(files), seen_workshop(making=True), wanted, check=check, keep_good=keep_good)
    say_taken(names)
    told_import(report, check, as_json)
    return BadInput.exit_status if report.bad and not (keep_good and not check) else 0


def _files(paths: list[Path]) -> list[Path]:
    from refdb.store.workshop.schema import OWN

    found: list[Path] = []
    for path in paths:
        if path.is_dir():
            inside = [path / own.file for own in OWN.values() if (path / own.file).is_file()]
            if not inside:
                raise BadInput("the folder has no file of an export", str(path)[:80], "it should hold glasses.csv, …")
            found += inside
        else:
            found.append(path)
    return found


def export_files(
    folder: Annotated[Path, Argument(metavar="DIR", help="A folder to write the files into.")],
    as_json: JsonOption = False,
) -> None:
    """Write all of it as CSV files with a datapackage.json.

    Importing them gives the same again. A spreadsheet opens them as UTF-8, separated by commas, language English; a '
    before a text that it would take for a formula, number or date keeps it text.

    \b
    Example:
      refdb mine export my-shelf
    """
    from refdb.store.workshop.csv_files import export
    from refdb.store.workshop.file import Workshop

    with Workshop(seen_workshop()) as shop:
        counts = export(shop, folder)
    if as_json:
        emit_json({"folder": str(folder), "rows": counts})
    else:
        emit(f"Wrote {folder}: {', '.join(f'{n:,} {k}' for k, n in counts.items() if n) or 'nothing is yours yet'}\n")


def backup(file: Annotated[Path, Argument(metavar="FILE", help="The copy to write; it never overwrites.")]) -> None:
    """Copy the whole workshop into a file; --workshop FILE opens it.

    The pool beside it, if there is one, is copied beside the copy. With it goes the random number behind your studio's
    sign: keep it, so that what you share later is not counted as another studio's.

    \b
    Example:
      refdb mine backup shelf-2024.db
    """
    from refdb.store.pool.place import pool_path
    from refdb.store.workshop.file import Workshop

    path = seen_workshop()
    pooled, beside = pool_path(path), pool_path(file)
    with Workshop(path) as shop:
        if not pooled.is_file():
            shop.backup(file)
            emit(f"Copied to {file}\n")
            return
        from refdb.store.pool.file import Pool

        shop.may_be_copied_to(file)
        with Pool(pooled) as pool:
            # One that was stopped before the workshop was copied has left the pool's copy there.
            there_already = beside.exists()
            if there_already and not pool.is_copied_in(beside):
                raise BadInput("there is a file of this name already, for the pool", str(beside), "give another name")
            if not there_already:
                pool.backup(beside)
        # The workshop comes last: where its copy stands, all is there.
        try:
            shop.backup(file)
        except BaseException:
            if not there_already:
                beside.unlink(missing_ok=True)
            raise
    emit(f"Copied to {file}, and the pool to {beside.name}\n")


def columns(kind: Kind = "glass", as_json: JsonOption = False) -> None:
    """Tell the columns of a CSV file for import.

    With --json it is the table schema.

    \b
    Example:
      refdb mine columns glass
    """
    from refdb.cli.mine.pages import columns_page
    from refdb.store.workshop.rows import own_of

    columns_page(own_of(typed(kind).lower()), as_json)
