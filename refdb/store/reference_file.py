"""The file of the reference store, opened read only and held to its version."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any, Self

from refdb.errors import BadInput, StoreUnusable
from refdb.quantities.band import shown
from refdb.store.version import APPLICATION_ID, SCHEMA_VERSION

BUILD_AGAIN = "build it again with: refdb build --from data_sources"


class ReferenceFile:
    """An open file of the reference.

    Raises
    ------
    StoreUnusable
        There is no store there, it cannot be read, or it is of another version.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        if not path.is_file():
            raise StoreUnusable("no store here", str(path), "build it with: refdb build --from data_sources")
        try:
            uri = f"{path.resolve().as_uri()}?mode=ro&immutable=1"
            self._db = sqlite3.connect(uri, uri=True)
        except (sqlite3.Error, OSError) as error:
            raise StoreUnusable(f"the store cannot be opened ({error})", str(path)) from None
        self._db.row_factory = sqlite3.Row
        with self._guarded():
            application = self._db.execute("PRAGMA application_id").fetchone()[0]
            version = self._db.execute("PRAGMA user_version").fetchone()[0]
            if application != APPLICATION_ID:
                raise StoreUnusable(
                    "this is not a refdb store", str(path), "build one with: refdb build --from data_sources"
                )
            if version != SCHEMA_VERSION:
                raise StoreUnusable(
                    f"the store has version {version}, this refdb reads {SCHEMA_VERSION}", str(path), BUILD_AGAIN
                )
            self._db.execute("SELECT count(*) FROM materials").fetchone()

    def opening(self) -> Callable[[], Self]:
        """What opens the same store again in another process."""
        return partial(type(self), self.path)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    @contextmanager
    def _guarded(self) -> Iterator[None]:
        try:
            yield
        except sqlite3.DatabaseError as error:
            raise StoreUnusable(f"the store cannot be read ({error})", str(self.path), BUILD_AGAIN) from None
        except UnicodeEncodeError as error:
            raise BadInput(f"{shown(error.object)} holds characters that cannot be read", "", "type it again") from None

    def rows(self, sql: str, *values: Any) -> list[dict[str, Any]]:
        """All rows of a query as dictionaries; StoreUnusable when the file is damaged."""
        with self._guarded():
            return [dict(row) for row in self._db.execute(sql, values)]
