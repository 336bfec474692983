"""What the commands share: the store they look into, options that several have, and completion of keys."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from refdb.cli.options import Option
from refdb.errors import Ambiguous, BadInput, StoreUnusable
from refdb.words import short_path

if TYPE_CHECKING:
    from refdb.cli.output import Page
    from refdb.judge.naming import Taking
    from refdb.store.workshop.beside_reference import Shelf

Units = Literal["metric", "studio"]
JsonOption = Annotated[bool, Option("--json", help="Print JSON of the schema refdb/2.")]
CsvOption = Annotated[bool, Option("--csv", help="Print CSV, in metric units.")]
UnitsOption = Annotated[
    Units,
    Option("--units", envvar="REFDB_UNITS", help="Degrees in C (metric) or F (studio); JSON and CSV stay metric."),
]
#: None where nothing was said: then it is as refdb pool use has it.
PoolOption = Annotated[
    bool | None,
    Option("--pool/--no-pool", envvar="REFDB_POOL", help="Classes as pooled tiles have them; see refdb pool."),
]
AllOption = Annotated[bool, Option("--all", help="All records of your own too, however many there are.")]
FullOption = Annotated[bool, Option("--full", help="Every row with its figures, however many there are.")]
FamilyOption = Annotated[
    str, Option("--family", metavar="NAME", help="Only this family; a name that is none lists them all.")
]

#: The store and the workshop named by --store and --workshop for this run; None means the usual one.
_chosen: list[Path | None] = [None, None]


#: What is said at the end of a command that succeeds.
_said: list[str] = []
#: Whether the workshop was named with this very command, not in the environment.
_named_here = [False]


def choose_store(path: Path | None, workshop: Path | None = None, named_here: bool = False) -> None:
    """Remember which store, and which workshop, this run looks into; BadInput for a workshop that is no file."""
    if workshop is not None and str(workshop).startswith((":memory:", "file:")):
        raise BadInput(
            "this names no file, so nothing would stay", f"--workshop {short_path(workshop)}", "give a file's name"
        )
    _chosen[:] = path, workshop
    _named_here[:] = [named_here and workshop is not None]


def workshop_path() -> Path:
    """The workshop of this run, which need not exist."""
    from refdb.store.workshop.keys import default_path

    return default_path() if _chosen[1] is None else _chosen[1]


def seen_workshop(*, making: bool = False, own: bool = True) -> Path:
    """The workshop of this run, after a look at a named one.

    Parameters
    ----------
    making : bool
        Whether the command makes it where it is missing.
    own : bool
        Whether the answer is of own records alone. A look-up of the reference stands a workshop that is named in the
        environment and not made yet.

    Raises
    ------
    StoreUnusable
        The named one is missing, no file, an empty one, or cannot be looked at.
    """
    path = _chosen[1]
    if path is None:
        return workshop_path()
    shown = short_path(path)
    try:
        size = path.stat().st_size if path.is_file() else None
        if path.is_dir():
            raise StoreUnusable("this is a folder, no workshop", shown, "give the file with --workshop")
        if size is None and path.exists():
            raise StoreUnusable("this is no file, so no workshop", shown, "give a file with --workshop")
    except OSError as error:
        why = (error.strerror or "unknown reason").lower()
        raise StoreUnusable(f"the workshop cannot be opened ({why})", shown, "give another with --workshop") from None
    if making:
        return path
    if size is None:
        from refdb.store.pool.place import pool_path

        # Who has only a pool may look things up with it.
        if own or (_named_here[0] and not pool_path(path).is_file()):
            raise StoreUnusable("no workshop here", shown, "check the name; refdb mine add makes one")
    elif not size:
        raise StoreUnusable(
            "the file is empty, so it is no workshop", shown, "check the name; refdb mine add makes one of it"
        )
    return path


def store_path() -> Path:
    """The store this run looks into."""
    from refdb.store.reference import default_path

    return default_path() if _chosen[0] is None else _chosen[0]


@contextmanager
def opened(
    every: bool | None = None, making: bool = False, pool: bool | None = False, of_own: bool = False
) -> Iterator[Shelf]:
    """The store of this run with the person's own shelf, closed afterwards; StoreUnusable when it cannot be read.

    `every` says whether lists hold all own records, where the command has --all, and is None where it has not;
    `making` whether the command makes a workshop where there is none; `pool` whether classes are as pooled tiles have
    them, None for as refdb pool use has it; `of_own` whether the answer is of own records alone, so that without them
    there is none.
    """
    from refdb.store.workshop.beside_reference import Shelf

    path = store_path()
    try:
        ref = Shelf(path, seen_workshop(making=making, own=False), lenient=not of_own)
        if pool is None:
            pool = _pool_is_used(ref.workshop_path)
        if pool:
            from refdb.cli.pool_learning import with_pool

            ref = with_pool(ref)
    except OSError as error:
        raise StoreUnusable(
            f"the store cannot be opened ({(error.strerror or 'unknown reason').lower()})",
            short_path(path),
            "give its path with --store",
        ) from None
    with ref:
        if every:
            ref.most_listed = None
        yield ref
        if ref.own_fault is not None:
            from refdb.cli.output import complain

            complain(f"your own records are left out here, or some: {ref.own_fault.line}")
        if ref.left_out:
            from refdb.cli.output import complain

            how = "refdb mine list has them all" if every is None else "--all takes them in"
            complain(f"{ref.left_out:,} records of your own are left out here; {how}")


def _pool_is_used(workshop: Path) -> bool:
    from refdb.store.pool.place import pool_path

    if not pool_path(workshop).is_file():
        return False
    from refdb.cli.pool_learning import is_used

    return is_used(workshop)


def names_in(ref: Shelf) -> Taking:
    """Looks up what is typed by name; at a terminal a person is asked which of several is meant."""
    from refdb.judge.naming import Taking

    return Taking(ref, _picked if _asks() else None)


def _asks() -> bool:
    return all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout))


def _picked(several: Ambiguous) -> str:
    """The key of the record that the person picks by its number."""
    from refdb.cli.output import complain

    complain(f"{several.what.partition(': ')[0]}:")
    for number, (key, label) in enumerate(several.choices, 1):
        complain(f"{number:>3}  {label} ({key})")
    sys.stderr.write("refdb: which number? ")
    sys.stderr.flush()
    given = sys.stdin.readline().strip()
    if given.isdecimal() and 1 <= int(given[:4]) <= len(several.choices):
        return several.choices[int(given) - 1][0]
    raise several


def tell_taken(page: Page, question: Mapping[str, Any]) -> None:
    """A line for each name of a question that was taken for something, at the head of a page."""
    from refdb.judge.naming import taken_line

    for line in dict.fromkeys(taken_line(one, page.width) for one in question.get("taken", {}).values()):
        page.line(page.fit(line))


def say_taken(names: Taking) -> None:
    """The same on standard error once all is done, for commands that write something down or print no page."""
    from refdb.judge.naming import taken_line

    _said.extend(dict.fromkeys(taken_line(one) for one in names.taken.values()))


def say_what_waits(done: bool) -> None:
    """Say what `say_taken` was told, or forget it where the command came to nothing."""
    if done and _said:
        from refdb.cli.output import complain

        for line in _said:
            complain(line)
    _said.clear()


def shortened(text: str, most: int = 80) -> str:
    """Text cut to a length that fits a message."""
    return text if len(text) <= most else text[: most - 3] + "..."


def typed(text: str) -> str:
    """What was typed, with bytes that are no text in the person's encoding made harmless."""
    return text.encode("utf-8", "replace").decode("utf-8")


def one_form(as_json: bool, as_csv: bool) -> None:
    """BadInput when both --json and --csv are asked for."""
    if as_json and as_csv:
        raise BadInput("--json and --csv exclude each other", todo="give one of them")


def chosen_from(text: str, known: Sequence[str], option: str) -> str:
    """The known word that was meant, in any case and with hyphens for blanks; BadInput otherwise."""
    wanted = " ".join(typed(text).lower().replace("-", " ").split())
    for word in known:
        if word.lower().replace("-", " ") == wanted:
            return word
    raise BadInput(f"'{shortened(typed(text), 40)}' is not known here", option, f"use one of: {', '.join(known)}")


def completed(kind: str | None, context: Any, incomplete: str) -> list[tuple[str, str]]:
    """Keys that begin so, with their labels, then names that do; nothing when the store cannot be read."""
    try:
        from refdb.store.names import names_beginning
        from refdb.store.reference import default_path
        from refdb.store.workshop.beside_reference import Shelf
        from refdb.store.workshop.keys import default_path as usual_workshop

        given: Any = context.find_root().params
        store, workshop = given.get("store"), given.get("workshop")
        with Shelf(Path(store) if store else default_path(), Path(workshop) if workshop else usual_workshop()) as ref:
            rows = ref.rows(
                "SELECT key, label FROM materials WHERE kind = ifnull(?, kind) AND instr(key, ?) = 1 ORDER BY key",
                kind,
                incomplete.lower(),
            )
            rows += ref.own_keys(kind, incomplete)
            found = [(row["key"], row["label"]) for row in rows]
            if incomplete.strip() and not found:
                begin = names_beginning(ref, incomplete, kind)
                # A shell goes on with what was typed, letter by letter.
                found += [(name, one.label) for name, one in begin if name.startswith(incomplete)]
        return found
    except Exception:  # a shell asks while someone types: whatever is wrong, say nothing
        return []


def complete_glass(ctx: Any, incomplete: str) -> list[tuple[str, str]]:
    """Completion of the key of a glass."""
    return completed("glass", ctx, incomplete)


def complete_metal(ctx: Any, incomplete: str) -> list[tuple[str, str]]:
    """Completion of the key of a base metal."""
    return completed("metal", ctx, incomplete)


def complete_leaf(ctx: Any, incomplete: str) -> list[tuple[str, str]]:
    """Completion of the key of a leaf."""
    return completed("leaf", ctx, incomplete)


def complete_material(ctx: Any, incomplete: str) -> list[tuple[str, str]]:
    """Completion of the key of any material."""
    return completed(None, ctx, incomplete)
