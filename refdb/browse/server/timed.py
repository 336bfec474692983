"""The server's reading of one connection, with a bound on how long the head of a question may take."""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

#: A head that is not whole by then is given up [s].
HEAD_S = 20.0


class Timed(H11Protocol):
    """A connection that is closed where its first question, or the next after one was begun, is never said in full."""

    _late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """Begin to wait for a head."""
        super().connection_made(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Take more in; once a head is whole the waiting is over, and begins anew with the next."""
        whole = self.cycle
        super().data_received(data)
        if self.cycle is not whole or self.transport.is_closing():
            self._settle()
        elif self._late is None and (whole is None or whole.response_complete):
            self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no longer."""
        self._settle()
        super().connection_lost(exc)

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
