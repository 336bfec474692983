"""From the rows of a pool to figures of classes, kept so that they need not be worked out again."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refdb import __version__
from refdb.errors import RefdbError

if TYPE_CHECKING:
    from refdb.records import PropertyValue
    from refdb.store.pool.file import Pool
    from refdb.store.reference import Reference
    from refdb.store.workshop.beside_reference import Shelf

_KEPT = "figures"
NO_POOL = "there is no pool, so classes are as the reference has them; refdb pool add makes one"
#: Weight that the rest of the pool leaves on the far side of a mean that a file moved too far.
_REST = 0.01


def figures_of(ref: Reference, pool: Pool) -> dict[str, PropertyValue]:
    """By class that the pool taught something of, the expansion of its next jar; worked out once for the same files."""
    from refdb.records import PropertyValue

    kept = pool.kept(_KEPT)
    mark = _mark(ref, pool)
    if kept is None or kept["mark"] != mark:
        from refdb.judge.own.pooling import classes_learnt, figure_of

        learnt = classes_learnt(ref, pool.counted())
        kept = {"mark": mark, "figures": {c.glass.key: vars(figure_of(c)) for c in learnt if c.taught}}
        _keep(pool.path, kept)
    return {key: PropertyValue(**_fields(row)) for key, row in kept["figures"].items()}


def _mark(ref: Reference, pool: Pool) -> list[Any]:
    """What the figures depend on: the files, the program, and the figures of the reference."""
    files = [[f.number, f.rows, f.counted] for f in pool.files()]
    rows = ref.rows("SELECT count(*) AS n, total(value) AS v, total(low) AS l, total(high) AS h FROM property_values")
    return [__version__, files, [f"{x!r}" for x in rows[0].values()], pool.digests()]


def _keep(path: Path, kept: Mapping[str, Any]) -> None:
    """Keep figures; where the file cannot be written they are worked out again next time."""
    from refdb.store.pool.file import Pool

    try:
        with Pool(path, write=True) as pool:
            pool.keep(_KEPT, kept)
    except RefdbError:
        pass


def _fields(row: Mapping[str, Any]) -> dict[str, Any]:
    from refdb.records import PropertyValue

    return {n: row[n] for n in PropertyValue.__dataclass_fields__}


def moved_by_file(ref: Reference, pool: Pool, number: int) -> list[str]:
    """Classes whose mean a file moves to where the rest of the pool (or else the class's band) has hardly any weight.

    Below a hundredth at either side.
    """
    from refdb.judge.own.pooling import classes_learnt
    from refdb.science.inference.pooled import moved_by

    studios = pool.studios_of(number)
    rows = pool.counted()
    touched = sorted({r.glass for r in rows if r.studio in studios})
    found = []
    for with_file in classes_learnt(ref, rows, touched):
        rest = [r for r in rows if r.glass == with_file.glass.key and r.studio not in studios]
        others = classes_learnt(ref, rest)
        alone = others[0].pooled if others else with_file.before
        if not _REST <= moved_by(with_file.pooled, alone) <= 1 - _REST:
            found.append(with_file.glass.key)
    return found


def is_used(workshop: Path) -> bool:
    """Whether the pool of a workshop is taken without being asked for; one that cannot be read is left out, aloud."""
    from refdb.cli.output import complain
    from refdb.store.pool.file import Pool
    from refdb.store.pool.place import pool_path

    try:
        with Pool(pool_path(workshop)) as pool:
            return pool.used
    except RefdbError as fault:
        complain(f"the pool is left out: {fault.line}")
        return False


def with_pool(ref: Shelf) -> Shelf:
    """The shelf with the classes as its pool has them; as it is, with a word on standard error, where there is none."""
    from refdb.cli.output import complain
    from refdb.store.pool.beside import PooledShelf
    from refdb.store.pool.file import Pool
    from refdb.store.pool.place import pool_path

    path = pool_path(ref.workshop_path)
    if not path.is_file():
        complain(NO_POOL)
        return ref
    with ref, Pool(path) as pool:
        figures = figures_of(ref, pool)
        store = ref.path
    if not figures:
        complain("the pool has taught nothing yet, so classes are as the reference has them; see refdb pool learn")
    return PooledShelf(store, ref.workshop_path, figures, lenient=ref.lenient)
