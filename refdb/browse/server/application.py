"""The Datasette application of the browse view, and the server that answers on a port."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refdb.browse.server.aside import Aside
from refdb.browse.server.guard import is_loopback
from refdb.browse.server.steady import steady
from refdb.browse.site import TEMPLATES, Site
from refdb.errors import BadInput, StoreUnusable
from refdb.store.schema import TABLES

if TYPE_CHECKING:
    from datasette.app import Datasette

    from refdb.browse.server.public_address import PublicAddress
    from refdb.browse.server.writing import Writer

LOOPBACK, USUAL_PORT = "127.0.0.1", 8733
#: Hosts that stand for every address of this computer, and for none that a phone could open.
EVERYWHERE = frozenset({"0.0.0.0", "::"})
#: Name of the store in addresses.
NAME = "reference"
SETTINGS = {
    "default_allow_sql": False,
    "allow_download": False,
    "allow_facet": False,
    "suggest_facets": False,
    "default_page_size": 50,
    "max_returned_rows": 500,
    "sql_time_limit_ms": 1000,
    "num_sql_threads": 2,
    "max_csv_mb": 10,
    "default_cache_ttl": 0,
    "template_debug": False,
    "trace_debug": False,
    "truncate_cells_html": 160,
}
#: Bytes of one request head that are read, so that one too long is refused in words.
_LONGEST_HEAD = 1_100_000
#: Connections at a time, where the system lets one process have so many files open.
MOST_CONNECTIONS = 200
#: Files that are open besides, and connections that are taken at once before the first of them is looked at.
_OTHER_FILES, _AT_ONCE = 40, 64
#: How long a connection is held on which nothing more is asked [s].
IDLE_S = 10


def build(
    path: Path,
    *,
    workshop: Path | None = None,
    local: bool = True,
    sql: bool = False,
    names: frozenset[str] = frozenset(),
    writer: Writer | None = None,
    pool: bool | None = None,
) -> Datasette:
    """The application on a store, read only.

    Parameters
    ----------
    path : Path
        The store.
    workshop : Path, optional
        The person's own store, read beside it whenever it is there; None for none.
    local : bool
        Whether it will be reached from this computer alone.
    sql : bool
        Whether readers may write SQL of their own, with the functions of `refdb.browse.tables.sql_functions`.
    names : frozenset of str
        Names under which it may be asked for from elsewhere.
    writer : Writer, optional
        Who may write in the workshop from a page; None where nobody may.
    pool : bool, optional
        Whether verdicts take the pool beside the workshop; None for as the pool is set.

    Raises
    ------
    StoreUnusable
        There is no store there, or it cannot be read.
    """
    site = Site(path, workshop, local=local, sql=sql, names=names, writer=writer, pool=pool)
    # Datasette looks for rich when it is imported; with it every wrong address prints a traceback.
    import datasette.app
    import datasette.handle_exception
    from datasette.plugins import pm

    from refdb.browse import plugin
    from refdb.browse.tables import workshop as own_tables
    from refdb.browse.tables.guarded_csv import guard_csv

    datasette.handle_exception.rich = None
    guard_csv()
    if not pm.is_registered(plugin):
        pm.register(plugin)
    about: dict[str, Any] = {
        t.name: {"description": t.description, "sortable_columns": [c.name for c in t.columns]} for t in TABLES
    }
    about["materials"]["label_column"] = about["properties"]["label_column"] = "label"
    about["sources"]["label_column"] = "title"
    # A file has to be named for Datasette not to open one in memory; ours goes in under its own name after.
    made = datasette.app.Datasette(
        immutables=[str(path)],
        settings=SETTINGS | {"default_allow_sql": sql},
        template_dir=str(TEMPLATES),
        metadata={
            "title": "refdb",
            "databases": {NAME: {"tables": about}, own_tables.NAME: {"tables": own_tables.ABOUT}},
        },
    )
    for name in [name for name in made.databases if name != "_internal"]:
        made.remove_database(name)
    made.add_database(own_tables.QuietDatabase(made, path=str(path), is_mutable=False), name=NAME)
    made.refdb_site = site
    site.changed = own_tables.attach(made, site)
    site.changed(site.state)
    # The one it made for itself does not know our pages yet.
    made.client = datasette.app.DatasetteClient(made)
    return made


def open_socket(host: str, port: int | None) -> socket.socket:
    """A socket that listens on a host.

    Parameters
    ----------
    host : str
        Name or address.
    port : int or None
        The port that was asked for, or None for the usual one, and any free one where that is taken.

    Raises
    ------
    BadInput
        The host is not one of this computer's, or the port is taken or not allowed.
    """
    bare = host.strip("[]")
    try:
        family, _, _, _, where = socket.getaddrinfo(bare, port or 0, type=socket.SOCK_STREAM)[0]
    except (OSError, UnicodeError):
        raise BadInput(f"no computer is known as '{host[:60]}'", "--host", f"leave it away for {LOOPBACK}") from None
    for candidate in (port,) if port is not None else (USUAL_PORT, 0):
        # The protocol has to be named: the loop sends small pieces at once only on what it knows to be TCP.
        opened = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        opened.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            opened.bind((where[0], candidate, *where[2:]))
            opened.listen(128)
        except (OSError, OverflowError) as error:
            opened.close()
            reason = getattr(error, "strerror", None) or "it is refused"
            if candidate == USUAL_PORT and port is None:
                continue
            raise BadInput(
                f"{host} port {candidate} cannot be used ({reason.lower()})",
                "--port or --host",
                "take another port, or leave both away",
            ) from None
        return opened
    raise BadInput("no port is free", "--port", "give one that is")


def reachable(host: str) -> str:
    """The host as others on the network call it: where it listens everywhere, the number of this computer there.

    Nothing is sent for that; where the computer is on no network the host comes back as it is.
    """
    bare = host.strip("[]")
    if bare not in EVERYWHERE:
        return host
    family, outside = (socket.AF_INET6, "2001:db8::1") if ":" in bare else (socket.AF_INET, "192.0.2.1")
    try:
        with socket.socket(family, socket.SOCK_DGRAM) as asked:
            asked.connect((outside, 9))
            found = str(asked.getsockname()[0])
    except OSError:
        return host
    return f"[{found}]" if ":" in found else found


def serve(
    path: Path,
    host: str,
    port: int | None,
    ready: Callable[[str], None],
    *,
    workshop: Path | None = None,
    sql: bool = False,
    writer: Writer | None = None,
    there: PublicAddress | None = None,
    pool: bool | None = None,
) -> None:
    """Answer until interrupted.

    Parameters
    ----------
    path : Path
        The store.
    workshop
        As for `build`.
    host, port
        Where to listen; see `open_socket`.
    ready : callable
        Told the address once it is answered there.
    sql, writer, pool
        As for `build`.
    there : PublicAddress, optional
        How it is opened from elsewhere; without it, by the number of this computer on the network.

    Raises
    ------
    BadInput, StoreUnusable
    """
    listening = open_socket(host, port)
    try:
        answer_on(
            listening,
            path,
            host,
            lambda: ready(told_address(host, listening)),
            workshop=workshop,
            sql=sql,
            writer=writer,
            there=there,
            pool=pool,
        )
    finally:
        listening.close()


def told_address(host: str, listening: socket.socket) -> str:
    """The address at which a host is answered on a socket."""
    name = f"[{host.strip('[]')}]" if ":" in host else host
    return f"http://{name}:{listening.getsockname()[1]}/"


def answer_on(
    listening: socket.socket,
    path: Path,
    host: str,
    ready: Callable[[], None],
    *,
    workshop: Path | None = None,
    sql: bool = False,
    writer: Writer | None = None,
    there: PublicAddress | None = None,
    pool: bool | None = None,
    alone: bool = True,
) -> None:
    """Answer on a socket that listens already, until interrupted; all else as for `serve`.

    One that answers `alone` takes a second process to its aid, where there is a processor for it.
    """
    names = frozenset({host.lower(), socket.gethostname().lower(), f"{socket.gethostname().lower()}.local"})
    names |= frozenset({there.name} if there is not None else ())
    local = is_loopback(host)
    application = build(path, workshop=workshop, local=local, sql=sql, names=names, writer=writer, pool=pool)
    site: Site = application.refdb_site
    found = reachable(host)
    if there is not None:
        site.network_address = there.at(listening.getsockname()[1])
    elif not local and found.strip("[]") not in EVERYWHERE:
        site.network_address = told_address(found, listening).rstrip("/")
    server = _server(application, ready)
    if alone and (os.cpu_count() or 1) > 1:
        site.aside = second_process(site)
    try:
        with steady(), ends_on_terminate():
            server.run(sockets=[listening])
    except KeyboardInterrupt:
        return
    finally:
        if site.aside is not None:
            site.aside.close()
        site.leave_workshop()


def second_process(site: Site) -> Aside:
    """What takes a second process to the aid of a view: all of a sample where more than one question waits."""
    return Aside(lambda: site.waiting > 1, site.worker.let_go)


@contextmanager
def ends_on_terminate() -> Iterator[None]:
    """Have a request to end (SIGTERM) end as Ctrl-C does, so that the workshop is closed and leaves no log behind.

    The server raises the signal again once it has stopped.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def end(*_: object) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def room_for() -> int:
    """How many connections fit into the files that this process may have open, after asking for enough."""
    try:
        import resource
    except ImportError:
        return MOST_CONNECTIONS
    wanted = MOST_CONNECTIONS + _AT_ONCE + _OTHER_FILES
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if resource.RLIM_INFINITY != soft < wanted:
        soft = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
        with suppress(OSError, ValueError):
            resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
        soft = resource.getrlimit(resource.RLIMIT_NOFILE)[0]
    if soft == resource.RLIM_INFINITY:
        return MOST_CONNECTIONS
    return min(MOST_CONNECTIONS, max(soft - _AT_ONCE - _OTHER_FILES, 16))


def _server(application: Datasette, ready: Callable[[], None]) -> Any:
    """A server for an application, which says when it answers."""
    import uvicorn

    from refdb.browse.server.timed import Timed, on_fault

    class Bounded(Timed):
        most = room_for()

    class Server(uvicorn.Server):
        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            asyncio.get_running_loop().set_exception_handler(on_fault)
            await super().startup(sockets)
            if self.started:
                ready()

    return Server(
        uvicorn.Config(
            application.app(),
            # A line for each question that is none would let anyone fill the terminal.
            log_level="error",
            access_log=False,
            server_header=False,
            lifespan="on",
            h11_max_incomplete_event_size=_LONGEST_HEAD,
            timeout_keep_alive=IDLE_S,
            backlog=_AT_ONCE,
            http=Bounded,
        )
    )


__all__ = [
    "LOOPBACK",
    "NAME",
    "USUAL_PORT",
    "StoreUnusable",
    "build",
    "is_loopback",
    "open_socket",
    "reachable",
    "serve",
]
