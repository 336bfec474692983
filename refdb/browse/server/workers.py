"""Several processes that answer on one port, looked after by one that answers nothing itself.

The socket is opened once and handed to each; whoever is free takes the next connection. Each keeps its pages and its
queue for itself. Forms hold one secret, made before the first process was begun, so that any of them takes a form that
another wrote; what is written down goes through SQLite's own transactions.
"""

from __future__ import annotations

import multiprocessing
import signal
import socket
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import TYPE_CHECKING

from refdb.browse.server.application import answer_on, ends_on_terminate, open_socket, told_address
from refdb.browse.site import Site
from refdb.errors import BadInput, StoreUnusable
from refdb.frozen import dataclass
from refdb.processes import end_with_parent
from refdb.store.workshop.file import Workshop

if TYPE_CHECKING:
    from multiprocessing.context import SpawnProcess

    from refdb.browse.server.public_address import PublicAddress
    from refdb.browse.server.writing import Writer

MOST_WORKERS = 64
#: How long a worker may take to end before it is made to [s].
_LAST_WORDS_S = 20.0
#: More workers than this that end by themselves within a minute are no accident.
_MOST_RESTARTS, _WITHIN_S = 10, 60.0


@dataclass(frozen=True)
class Served:
    """What each worker is told: as for `application.serve`."""

    path: Path
    host: str
    workshop: Path | None
    sql: bool
    writer: Writer | None
    there: PublicAddress | None = None
    pool: bool | None = None


def serve_by(
    count: int, served: Served, port: int | None, ready: Callable[[str], None], tell: Callable[[str], None]
) -> None:
    """Answer by so many processes until interrupted.

    Parameters
    ----------
    count : int
        How many, from 1 on.
    served : Served
        What they serve.
    port
        As for `application.open_socket`.
    ready : callable
        Told the address once all of them answer there.
    tell : callable
        Told in a line when one ended by itself and another is begun.

    Raises
    ------
    BadInput
        The system cannot hand a socket to processes, or the port cannot be used.
    StoreUnusable
        There is no store, or workers end again and again.
    """
    if sys.platform == "win32":
        raise BadInput("several workers cannot share a port on this system", "--workers", "leave it away")
    Site(served.path).leave_workshop()
    listening = open_socket(served.host, port)
    crew = _Crew(listening, served)
    try:
        with ends_on_terminate():
            for _ in range(count):
                crew.begin()
            crew.wait_until_ready(count)
            ready(told_address(served.host, listening))
            crew.look_after(tell)
    except KeyboardInterrupt:
        return
    finally:
        listening.close()
        crew.end()
        if served.workshop is not None and served.workshop.is_file():
            # Where all close it at once, none of them may find itself the last.
            with suppress(StoreUnusable):
                Workshop(served.workshop).close()


class _Crew:
    """The processes, and the pipe by which they tell that they answer."""

    def __init__(self, listening: socket.socket, served: Served) -> None:
        self._listening, self._served = listening, served
        self._context = multiprocessing.get_context("spawn")
        self._heard, self._say = self._context.Pipe(duplex=False)
        self._processes: list[SpawnProcess] = []
        self._ended: list[float] = []

    def begin(self) -> None:
        process = self._context.Process(target=_work, args=(self._listening, self._served, self._say), daemon=True)
        process.start()
        self._processes.append(process)

    def wait_until_ready(self, count: int) -> None:
        while count:
            for found in wait([self._heard, *(p.sentinel for p in self._processes)]):
                if found is not self._heard:
                    raise StoreUnusable(
                        "a worker ended before it answered", "--workers", "start it without, to see why"
                    )
                self._heard.recv_bytes()
                count -= 1

    def look_after(self, tell: Callable[[str], None]) -> None:
        while True:
            wait([self._heard, *(p.sentinel for p in self._processes)])
            while self._heard.poll():
                self._heard.recv_bytes()
            for process in [p for p in self._processes if not p.is_alive()]:
                self._processes.remove(process)
                now = time.monotonic()
                self._ended = [at for at in self._ended if now - at < _WITHIN_S] + [now]
                if len(self._ended) > _MOST_RESTARTS:
                    raise StoreUnusable("workers end again and again", "--workers", "start it without, to see why")
                tell(f"a worker ended (status {process.exitcode}); another is begun")
                self.begin()

    def end(self) -> None:
        """Ask all to end, and make those end that do not."""
        for process in self._processes:
            process.terminate()
        until = time.monotonic() + _LAST_WORDS_S
        for process in self._processes:
            process.join(max(until - time.monotonic(), 0.1))
            if process.is_alive():
                process.kill()
                process.join()


def _work(listening: socket.socket, served: Served, say: Connection) -> None:
    """One worker: it ends when it is asked to, or when the process that began it is gone."""
    # Ctrl-C reaches every process of the terminal; the one that looks after them says when to end.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    end_with_parent()
    answer_on(
        listening,
        served.path,
        served.host,
        lambda: say.send_bytes(b"ready"),
        workshop=served.workshop,
        sql=served.sql,
        writer=served.writer,
        there=served.there,
        pool=served.pool,
        alone=False,
    )
