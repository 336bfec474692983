"""The person's own workshop among Datasette's databases: read only, and there only while it can be read."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

from datasette.database import Database, connections

from refdb.browse.server.watched_workshop import State, address_of
from refdb.browse.site import OWN_TABLES, Site
from refdb.errors import StoreUnusable
from refdb.store.workshop.schema import OWN

NAME = OWN_TABLES.strip("/")
#: What Datasette tells of the tables; what was changed or removed, and checksums, are kept out of sight.
ABOUT: dict[str, Any] = {
    own.table: {"description": own.description, "sortable_columns": [*(("key",) if own.named else ()), *own.names]}
    for own in OWN.values()
} | {"past": {"hidden": True}, "sums": {"hidden": True}}


class QuietDatabase(Database):  # type: ignore[misc]
    """A database of Datasette's that a wrong question leaves no note of on the terminal."""

    async def execute(self, *arguments: Any, **more: Any) -> Any:
        """As Datasette does it, but without its note where that fails."""
        return await super().execute(*arguments, **{**more, "log_sql_errors": False})


class OwnDatabase(QuietDatabase):
    """The workshop as it was opened the n-th time; a file put in its place is another one.

    Parameters
    ----------
    datasette : Datasette
    site : Site
        Told when the file proves damaged.
    path : Path
    opened : int
        Which opening this is.
    """

    def __init__(self, datasette: Any, site: Site, path: Path, opened: int) -> None:
        super().__init__(datasette, path=str(path), is_mutable=True)
        self.site, self.place, self.opened = site, path, opened

    def connect(self, write: bool = False) -> sqlite3.Connection:
        """A connection that reads."""
        if write:
            raise StoreUnusable("the workshop is only read here", str(self.place), "change it with: refdb mine edit")
        found = sqlite3.connect(address_of(self.place), uri=True, check_same_thread=False)
        self._all_file_connections.append(found)
        return found

    async def execute_fn(self, fn: Callable[[sqlite3.Connection], Any]) -> Any:
        """Do something on the connection that a thread has to this file and no other."""
        held = f"{NAME} {id(self.ds)} {self.opened}"

        def in_thread() -> Any:
            found: sqlite3.Connection | None = getattr(connections, held, None)
            if found is None:
                found = self.connect()
                self.ds._prepare_connection(found, self.name)
                setattr(connections, held, found)
            return fn(found)

        try:
            return await asyncio.get_running_loop().run_in_executor(self.ds.executor, in_thread)
        except sqlite3.DatabaseError as error:
            if getattr(error, "sqlite_errorcode", 0) & 0xFF not in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
                raise
            fault = StoreUnusable("the file is damaged or no workshop", str(self.place), "put a backup in its place")
            self.site.sets_aside(fault)
            raise fault from None


def attach(datasette: Any, site: Site) -> Callable[[State], None]:
    """What to do when the workshop has changed: show its tables, those of another file, or none."""

    def changed(state: State) -> None:
        shown: Any = datasette.databases.get(NAME)
        if shown is not None and (not state.readable or shown.opened != state.opened):
            datasette.remove_database(NAME)
            shown.close()
            shown = None
        if shown is None and state.readable and site.watch is not None:
            datasette.add_database(OwnDatabase(datasette, site, site.watch.path, state.opened), name=NAME)

    return changed
