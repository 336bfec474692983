"""Build a store whose classes have the expansions that shared tests teach: the sources, with rows of the pool added."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from refdb.curate.build import BuildReport, build
from refdb.errors import BadInput

if TYPE_CHECKING:
    from refdb.curate.record import Record, Records
    from refdb.records import PropertyValue
    from refdb.records.pooled import SharedRow

_TITLE = "Expansions of classes from pooled test tiles of studios"
#: Answers worked out before, which hold for the classes' own bands.
_WORKED_OUT = ("answers", "builds")


def build_with_pool(sources: Path, files: Sequence[Path], target: Path) -> tuple[BuildReport, list[str]]:
    """Build the store with what files of shared tests teach, and return its report and the classes that were taught.

    The figure of a class that was taught becomes the preferred one, with a source of kind `dataset`; the former stays
    beside it. Same sources and same files in the same order give the same bytes.

    Raises
    ------
    BadInput
        A file has a bad row, or none of them teaches anything; the target is left as it was.
    BadSource, StoreUnusable
        As `build`.
    """
    with TemporaryDirectory(prefix="refdb-") as folder:
        plain = Path(folder, "plain.db")
        build(sources, plain)
        figures = _taught(plain, files)
        if not figures:
            raise BadInput("the files narrow no class", str(files[0])[:80], "refdb pool learn tells what would")
        return build(sources, target, lambda records: _added(records, figures)), sorted(figures)


def _taught(store: Path, files: Sequence[Path]) -> dict[str, PropertyValue]:
    """The figure of each class that the files teach."""
    from refdb.judge.own.pooling import classes_learnt, figure_of
    from refdb.store.pool.rows import rows_of
    from refdb.store.reference import Reference

    def refuse(error: BadInput) -> None:
        raise error

    with Reference(store) as ref:
        known = {
            kind: {r["key"] for r in ref.rows("SELECT key FROM materials WHERE kind = ?", kind)}
            for kind in ("glass", "metal")
        }
        rows: dict[tuple[str, str], SharedRow] = {}
        for file in files:
            rows |= {(row.studio, row.row): row for _, row in rows_of(file, known, refuse)}
        learnt = classes_learnt(ref, [rows[sign] for sign in sorted(rows)])
        return {one.glass.key: figure_of(one) for one in learnt if one.taught}


def _added(records: Records, figures: Mapping[str, PropertyValue]) -> None:
    """Add the figures and their source to checked records, and take away what was worked out without them."""
    one = next(iter(figures.values()))
    sources, values = records["sources"], records["property_values"]
    records["sources"] = [r for r in sources if r.values["key"] != one.source]
    records["sources"].append(
        _alike(
            sources[0],
            key=one.source,
            name="Pooled test tiles",
            kind="dataset",
            title=_TITLE,
            container="refdb build --pool",
            note="computed by refdb from shared tests; none was checked on a bench",
        )
    )
    example = next(r for r in values if r.values["material"] in figures and r.values["property"] == "expansion")
    kept = [
        _alike(r, **{**r.values, "preferred": 0})
        if r.values["material"] in figures and r.values["property"] == "expansion"
        else r
        for r in values
    ]
    records["property_values"] = kept + [_of_figure(example, key, f) for key, f in sorted(figures.items())]
    for name in _WORKED_OUT:
        records[name] = [r for r in records[name] if r.values["glass"] not in figures]


def _of_figure(example: Record, key: str, figure: PropertyValue) -> Record:
    """A row of `property_values`, with the columns of another."""
    fields = {n: getattr(figure, n) for n in figure.__dataclass_fields__ if n in example.values}
    empty = {n: None if v == "" else v for n, v in fields.items()}
    return _alike(example, **{**empty, "material": key, "preferred": 1})


def _alike(example: Record, **values: object) -> Record:
    """A record of the place and the columns of another, empty where no value is given."""
    return replace(example, values=dict.fromkeys(example.values) | values)
