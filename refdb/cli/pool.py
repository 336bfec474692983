"""The pool: shared tests of other studios, in a file beside the workshop, and what they teach of each class."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from refdb.cli.common import JsonOption, complete_glass, names_in, opened, seen_workshop, typed
from refdb.cli.options import Argument, Group, Option
from refdb.cli.output import emit
from refdb.errors import BadInput, NotFound

if TYPE_CHECKING:
    from refdb.judge.own.pooling import ClassLearnt
    from refdb.store.reference import Reference

pool = Group(
    "Learn from the test tiles of many studios. refdb mine share writes yours. The pool is a file beside your "
    "workshop; verdicts use it after refdb pool use, with --pool, or where REFDB_POOL=1 is set."
)
#: So many bad lines are told one by one.
_MOST_TOLD = 20


class _Bad:
    """Bad lines: the first are told, all are counted."""

    def __init__(self) -> None:
        self.count = 0

    def tell(self, error: BadInput) -> None:
        """Take one in."""
        from refdb.cli.output import complain

        self.count += 1
        if self.count <= _MOST_TOLD:
            complain(error.line)
        elif self.count == _MOST_TOLD + 1:
            complain("more lines are bad, and are only counted")


@pool.command("add")
def add(
    files: Annotated[list[Path], Argument(metavar="FILE...", help="CSV files that mine share wrote.")],
    check: Annotated[bool, Option("--check", help="Only tell which lines are bad.")] = False,
    keep_good: Annotated[bool, Option("--keep-good", help="Take the good lines even where others are bad.")] = False,
    as_json: JsonOption = False,
) -> int:
    """Add files of shared tests: every line, or none where one is bad.

    A test that came before is counted once. A file that moves a class further than all others let expect is told.

    \b
    Example:
      refdb pool add theirs.csv

    Exit status: 0 all good, or the good ones taken with --keep-good; 2 a bad line.
    """
    from refdb.cli.mine.values import known_keys
    from refdb.cli.output import Page, complain, emit_json
    from refdb.store.pool.file import Pool
    from refdb.store.pool.place import pool_path
    from refdb.store.pool.rows import rows_of

    path, known, bad = pool_path(seen_workshop(making=True)), known_keys(), _Bad()
    if check:
        good = sum(1 for file in files for _ in rows_of(file, known, bad.tell))
    else:
        good = 0
        with Pool(path, write=True) as store, store.change() as db:
            for file in files:
                good += store.put(db, file.name[:80], rows_of(file, known, bad.tell), bad.tell)
            if bad.count and not keep_good:
                raise BadInput(f"{good:,} good, {bad.count:,} bad; nothing was added", "", "mend them, or --keep-good")
            if not good:
                raise BadInput("there is no good line; nothing was added", files[0].name[:80])
    flagged = [] if check else _moved(path, len(files))
    if as_json:
        emit_json({"good": good, "bad": bad.count, "done": not check, "moved": flagged})
    else:
        page = Page()
        done = "nothing was changed" if check else "refdb pool learn tells what they teach"
        page.paragraph(f"{good:,} good, {bad.count:,} bad; {done}.")
        page.show()
        for one in flagged:
            complain(f"file {one['file']} moves {one['glass']} beyond what all others let expect: look at it first")
    return BadInput.exit_status if bad.count and not keep_good else 0


def _moved(path: Path, last: int) -> list[dict[str, object]]:
    """Of the files added last, those that move a class further than the rest lets expect."""
    from refdb.cli.pool_learning import moved_by_file
    from refdb.store.pool.file import Pool

    with opened() as ref, Pool(path) as store:
        numbers = [f.number for f in store.files()][-last:]
        return [{"file": n, "glass": key} for n in numbers for key in moved_by_file(ref, store, n)]


@pool.command("list")
def listed(as_json: JsonOption = False) -> None:
    """List the files of the pool, with how many of their rows count.

    \b
    Example:
      refdb pool list
    """
    from refdb.cli.output import Column, Page, emit_json
    from refdb.store.pool.file import Pool
    from refdb.store.pool.place import pool_path

    path = pool_path(seen_workshop(own=False))
    found = []
    if path.is_file():
        with Pool(path) as store:
            found = store.files()
    if as_json:
        emit_json({"rows": [vars(f) for f in found]})
        return
    page = Page()
    if not found:
        page.paragraph("The pool is empty: refdb pool add FILE takes what others shared.")
    else:
        heads = ("file", "name", "added", "rows", "studios", "classes", "counted")
        page.table(
            [Column(h, right=h not in ("name", "added"), wraps=h == "name") for h in heads],
            [
                (f"{f.number}", f.name, f.added, f"{f.rows:,}", f"{f.studios:,}", f"{f.classes}", f"{f.counted:,}")
                for f in found
            ],
        )
        page.paragraph("A test that stands in several files is counted in the last.")
    page.show()


@pool.command("remove")
def remove(
    number: Annotated[int, Argument(metavar="NUMBER", help="Of the file, as pool list tells it.")],
    as_json: JsonOption = False,
) -> None:
    """Take a file's rows out of the pool, as if never added.

    \b
    Example:
      refdb pool remove 1
    """
    from refdb.cli.output import emit_json
    from refdb.store.pool.file import Pool
    from refdb.store.pool.place import pool_path

    path = pool_path(seen_workshop(own=False))
    with Pool(path):
        pass
    with Pool(path, write=True) as store:
        name = store.remove(number)
    if as_json:
        emit_json({"removed": number, "name": name})
    else:
        emit(f"Removed file {number}, {name}\n")


@pool.command("use")
def use() -> None:
    """Have verdicts use the pool from now on.

    It holds for this workshop; --no-pool leaves the pool out once.

    \b
    Example:
      refdb pool use
    """
    _used(True)


@pool.command("unuse")
def unuse() -> None:
    """Have verdicts leave the pool out again, unless --pool is given.

    \b
    Example:
      refdb pool unuse
    """
    _used(False)


def _used(on: bool) -> None:
    from refdb.store.pool.file import Pool
    from refdb.store.pool.place import pool_path

    path = pool_path(seen_workshop(own=False))
    with Pool(path):
        pass
    with Pool(path, write=True) as store:
        store.use(on)
    emit("Verdicts use the pool from now on.\n" if on else "Verdicts leave the pool out from now on.\n")


@pool.command("learn")
def learn(
    glass: Annotated[
        str | None, Argument(metavar="[GLASS]", autocompletion=complete_glass, help="A class, told in full; else all.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Tell what the pool teaches, and which tile would teach more.

    \b
    Example:
      refdb pool learn
    """
    from refdb.judge.own.pooling import classes_learnt
    from refdb.store.pool.file import Pool
    from refdb.store.pool.place import pool_path

    with opened() as ref, Pool(pool_path(seen_workshop(own=False))) as store:
        only: Sequence[str] = ()
        if glass is not None:
            only = (names_in(ref).glass(typed(glass)).key,)
        learnt = classes_learnt(ref, store.counted(only))
        if glass is not None and not learnt:
            raise NotFound(f"the pool has no row of {only[0]}", todo="refdb pool list tells what it has")
        _tell(ref, learnt, glass is not None, as_json)


def _tell(ref: Reference, learnt: Sequence[ClassLearnt], alone: bool, as_json: bool) -> None:
    from refdb.cli.pool_page import class_page, classes_page
    from refdb.judge.own.pool_told import plain

    if as_json:
        from refdb.cli.output import emit_json

        emit_json({"rows": [plain(one) for one in learnt]})
    elif alone:
        class_page(learnt[0]).show()
    else:
        classes_page(learnt).show()


@pool.command("columns")
def columns(as_json: JsonOption = False) -> None:
    """Tell the columns of a file of shared tests.

    With --json it is the table schema.

    \b
    Example:
      refdb pool columns
    """
    from refdb.cli.output import Column, Page, emit_json
    from refdb.store.pool.columns import COLUMNS, schema

    if as_json:
        emit_json(schema())
        return
    page = Page()
    page.table(
        [Column("column"), Column("needed"), Column("unit"), Column("what stands there", wraps=True)],
        [
            (c.name, "yes" if c.required else "", c.unit, c.description or ", ".join(c.choices) or c.label)
            for c in COLUMNS
        ],
    )
    page.show()
