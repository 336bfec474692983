"""The server's reading of a connection, with bounds on how long its asker is waited for and on how many there are.

A connection on which its asker is waited for (for a head, for the rest of what is sent, or until what was answered is
taken) makes room for a new one where there are too many; the one that was waited for longest goes first. So whoever
holds any number of them open keeps nobody else out.
"""

from __future__ import annotations

import asyncio
import errno
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

#: A head that is not whole by then is given up [s].
HEAD_S = 20.0
#: Connections beyond the bound that are still told that the server is busy.
_MORE = 10
_FULL = (errno.EMFILE, errno.ENFILE, errno.ENOBUFS, errno.ENOMEM)
_BUSY = b"This server is busy; ask again in some seconds.\n"


async def busy(scope: Any, receive: Any, send: Any) -> None:
    """Answer that the server is busy, and when to come back."""
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(_BUSY)).encode()),
        (b"retry-after", b"5"),
        (b"connection", b"close"),
    ]
    await send({"type": "http.response.start", "status": 503, "headers": headers})
    await send({"type": "http.response.body", "body": _BUSY})


def on_fault(loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
    """Pass over that the system has no file left for a connection: it is taken a second later, without a word.

    The loop tells it for every connection that waits, which would fill a terminal.
    """
    if getattr(context.get("exception"), "errno", None) not in _FULL:
        loop.default_exception_handler(context)


class Timed(H11Protocol):
    """A connection that is closed where its first question, or the next after one was begun, is never said in full."""

    #: Connections at a time.
    most = 200
    _made_room = False
    _late: asyncio.TimerHandle | None = None
    #: Since when its asker is waited for, where it is [s].
    _since = 0.0

    def connection_made(self, transport: Any) -> None:
        """Begin to wait for a head; where there are too many connections, one makes room."""
        super().connection_made(transport)
        self._since = self.loop.time()
        self._wait()
        self._make_room()

    def data_received(self, data: bytes) -> None:
        """Take more in; once a head is whole the waiting is over, and begins anew with the next."""
        whole = self.cycle
        super().data_received(data)
        if self.cycle is not whole:
            self._since = self.loop.time()
        if self.cycle is not whole or self.transport.is_closing():
            self._settle()
        elif self._late is None and (whole is None or whole.response_complete):
            self._wait()

    def on_response_complete(self) -> None:
        """Wait for the next question, if there is one."""
        self._since = self.loop.time()
        super().on_response_complete()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no longer."""
        self._settle()
        super().connection_lost(exc)

    def _make_room(self) -> None:
        there = [c for c in self.connections if isinstance(c, Timed) and not c._made_room]
        if len(there) <= self.most:
            return
        waited_for = [c for c in there if c is not self and c._is_waited_for()]
        if not waited_for and len(there) <= self.most + _MORE:
            self.app = busy
            return
        leaves = min(waited_for, key=lambda c: c._since, default=self)
        leaves._made_room = True
        leaves.transport.abort()

    def _is_waited_for(self) -> bool:
        """Whether it is the asker's turn: to ask, to send the rest, or to take what was answered."""
        at_rest = self.cycle is None or self.cycle.response_complete
        return at_rest or self.cycle.more_body or self.flow.write_paused

    def _wait(self) -> None:
        self._late = self.loop.call_later(HEAD_S, self._give_up)

    def _settle(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None

    def _give_up(self) -> None:
        self._late = None
        if not self.transport.is_closing():
            self.transport.close()
