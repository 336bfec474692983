"""What changed from one store to another: every row, value by value, and the verdicts that each keeps worked out."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from math import isfinite
from pathlib import Path
from typing import Any

from refdb.curate.dump import fingerprint
from refdb.errors import StoreUnusable
from refdb.frozen import dataclass
from refdb.judge.reason import Triple, outcome_of
from refdb.store.reference_file import BUILD_AGAIN, ReferenceFile
from refdb.store.schema import TABLES, Table

CHANGED, NEW, GONE = "changed", "new", "gone"
#: Figures with a source of their own, those of materials first; they are told one by one.
FIGURES = (
    "property_values",
    "expansion_points",
    "contacts",
    "solders",
    "compositions",
    "reference_values",
    "exposure_limits",
    "observed_firings",
    "firing_phases",
    "elements",
)
ANSWERS = "answers"
#: More digits than any figure has, and fewer than two computers agree in; the fingerprint takes as many.
_DIGITS = 12


@dataclass(frozen=True)
class Difference:
    """A row that is changed, new or gone: its table and key, and each column that differs with its old and new value.

    A row that is new has no old values, one that is gone no new ones; columns without a value are left out of those.
    """

    table: str
    key: dict[str, Any]
    kind: str
    values: dict[str, tuple[Any, Any]]


@dataclass(frozen=True)
class Turned:
    """A stored verdict on a glass and a metal that differs: outcomes and shares (suits, care, not) before and after.

    None stands for a store that keeps no answer for the pair. Rules of the trade are not in it.
    """

    glass: str
    metal: str
    build: str
    old: Triple | None
    new: Triple | None

    @property
    def outcomes(self) -> tuple[str | None, str | None]:
        """What the sample of each store comes to."""
        old, new = (None if shares is None else outcome_of(shares) for shares in (self.old, self.new))
        return old, new

    @property
    def turns(self) -> bool:
        """Whether the outcome is another one, not the shares alone."""
        return self.outcomes[0] != self.outcomes[1]


@dataclass(frozen=True)
class Between:
    """All that changed from an old store to a new one."""

    old: Path
    new: Path
    fingerprints: tuple[str, str]
    rows: tuple[Difference, ...]
    verdicts: tuple[Turned, ...]
    #: Answers whose numbers differ while their shares do not.
    moved: int
    #: Pairs that either store keeps an answer for.
    pairs: int
    #: Unit in the store and unit shown, by property.
    units: dict[str, tuple[str, str]]

    @property
    def same(self) -> bool:
        """Whether nothing changed, the index of words included."""
        return self.fingerprints[0] == self.fingerprints[1]

    def of(self, *tables: str) -> list[Difference]:
        """The differences in some tables, in their order."""
        return [row for name in tables for row in self.rows if row.table == name]

    def counts(self) -> dict[str, dict[str, int]]:
        """How many rows of each table are changed, new and gone; tables without a difference are left out."""
        found: dict[str, dict[str, int]] = {}
        for row in self.rows:
            kinds = found.setdefault(row.table, dict.fromkeys((CHANGED, NEW, GONE), 0))
            kinds[row.kind] += 1
        return found


def between(old: Path, new: Path) -> Between:
    """Compare two stores of this version, row by row.

    Parameters
    ----------
    old, new : Path
        Both are opened read only.

    Raises
    ------
    StoreUnusable
        One is missing, cannot be read, or is of another version.
    """
    with _opened(old) as before, _opened(new) as after:
        rows = [row for table in TABLES if table.name != ANSWERS for row in _differences(table, before, after)]
        verdicts, moved, pairs = _verdicts(before, after)
        units = {
            row["key"]: (row["unit"], row["shown_unit"])
            for ref in (before, after)
            for row in ref.rows("SELECT key, unit, shown_unit FROM properties")
        }
    return Between(old, new, (fingerprint(old), fingerprint(new)), tuple(rows), tuple(verdicts), moved, pairs, units)


@contextmanager
def _opened(path: Path) -> Iterator[ReferenceFile]:
    try:
        file = ReferenceFile(path)
    except OSError as error:
        raise StoreUnusable(
            f"the store cannot be read ({(error.strerror or 'unknown reason').lower()})", str(path)
        ) from None
    with file:
        yield file


def _keyed(table: Table, ref: ReferenceFile) -> dict[tuple[Any, ...], dict[str, Any]]:
    columns = ", ".join(column.name for column in table.columns)
    return {
        tuple(row[name] for name in table.key): {name: _plain(value) for name, value in row.items()}
        for row in ref.rows(f"SELECT {columns} FROM {table.name}")
    }


def _plain(value: Any) -> Any:
    """A value as both stores can be compared by it, and as JSON takes it."""
    if isinstance(value, float):
        return float(f"{value:.{_DIGITS}g}") + 0.0 if isfinite(value) else str(value)
    return repr(value) if isinstance(value, bytes) else value


def _differences(table: Table, before: ReferenceFile, after: ReferenceFile) -> Iterator[Difference]:
    old, new = _keyed(table, before), _keyed(table, after)
    for key in sorted(old.keys() | new.keys(), key=lambda key: tuple(map(str, key))):
        was, now = old.get(key), new.get(key)
        if was == now:
            continue
        named = dict(zip(table.key, key, strict=True))
        kind = NEW if was is None else GONE if now is None else CHANGED
        yield Difference(table.name, named, kind, _values(named, was or {}, now or {}))


def _values(key: Mapping[str, Any], was: Mapping[str, Any], now: Mapping[str, Any]) -> dict[str, tuple[Any, Any]]:
    found = {name: (was.get(name), now.get(name)) for name in (was or now) if name not in key}
    return {name: (old, new) for name, (old, new) in found.items() if old != new}


def _verdicts(before: ReferenceFile, after: ReferenceFile) -> tuple[list[Turned], int, int]:
    old, new = ({row[:3]: row[3] for row in _answers(ref)} for ref in (before, after))
    turned: list[Turned] = []
    moved = 0
    pairs = sorted(old.keys() | new.keys())
    for pair in pairs:
        was, now = old.get(pair), new.get(pair)
        if was == now:
            continue
        one = Turned(*pair, _shares(was, before, pair), _shares(now, after, pair))
        if one.old == one.new:
            moved += 1
        else:
            turned.append(one)
    return turned, moved, len(pairs)


def _answers(ref: ReferenceFile) -> list[tuple[str, str, str, str]]:
    return [
        (row["glass"], row["metal"], row["build"], row["numbers"])
        for row in ref.rows(f"SELECT glass, metal, build, numbers FROM {ANSWERS}")
    ]


def _shares(numbers: str | None, ref: ReferenceFile, pair: tuple[str, ...]) -> Triple | None:
    """The shares that an answer begins with; StoreUnusable where it does not."""
    if numbers is None:
        return None
    try:
        fine, care, bad = (float(share) for share in json.loads(numbers)[0])
    except (ValueError, TypeError, KeyError, IndexError, RecursionError):
        what = f"the answer for {pair[0]} on {pair[1]} cannot be read"
        raise StoreUnusable(what, str(ref.path), BUILD_AGAIN) from None
    return fine, care, bad
