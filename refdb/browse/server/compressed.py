"""Texts that go over a network compressed, where whoever asks takes them so."""

from __future__ import annotations

import zlib
from collections import OrderedDict
from typing import Any

from refdb.browse.server.guard import Receive, Scope, Send

#: Below so many bytes it is not worth it; above so many it is done quickly, since others wait meanwhile.
LEAST, LARGE = 1_000, 100_000
#: Bytes of texts and what became of them that are remembered.
MOST_REMEMBERED = 4_000_000
_KINDS = (b"text/html", b"text/css", b"text/javascript", b"text/plain", b"application/json", b"image/svg+xml")
#: A page there may hold a secret beside words of who asks, and the length of the two together would tell of it.
_NEVER = "/shelf"


class Compressed:
    """An ASGI application before another; what is sent in one piece is compressed, and the last texts stay so."""

    def __init__(self, app: Any) -> None:
        self.app = app
        self._done: OrderedDict[bytes, bytes] = OrderedDict()
        self._bytes = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a question on, and its answer back."""
        if scope["type"] != "http" or scope["method"] != "GET" or scope["path"].startswith(_NEVER) or not _takes(scope):
            await self.app(scope, receive, send)
            return
        held: list[dict[str, Any]] = []

        async def sent(message: dict[str, Any]) -> None:
            if message["type"] == "http.response.start" and _is_text(message):
                held.append(message)
                return
            if held:
                start, body = held.pop(), message.get("body", b"")
                if len(body) >= LEAST and not message.get("more_body"):
                    body = self._compressed(body)
                    told = [(k, v) for k, v in start["headers"] if k.lower() != b"content-length"]
                    told += [
                        (b"content-encoding", b"gzip"),
                        (b"vary", b"accept-encoding"),
                        (b"content-length", str(len(body)).encode()),
                    ]
                    start, message = {**start, "headers": told}, {**message, "body": body}
                await send(start)
            await send(message)

        await self.app(scope, receive, sent)

    def _compressed(self, body: bytes) -> bytes:
        found = self._done.get(body)
        if found is not None:
            self._done.move_to_end(body)
            return found
        # 31 is the format of gzip, whose header names no time.
        making = zlib.compressobj(6 if len(body) < LARGE else 1, zlib.DEFLATED, 31)
        found = self._done[body] = making.compress(body) + making.flush()
        self._bytes += len(body) + len(found)
        while self._bytes > MOST_REMEMBERED:
            self._bytes -= sum(map(len, self._done.popitem(last=False)))
        return found


def _takes(scope: Scope) -> bool:
    """Whether whoever asks takes gzip."""
    told = b",".join(v for k, v in scope["headers"] if k == b"accept-encoding").lower().replace(b" ", b"")
    return any(part.partition(b";")[0] == b"gzip" and not part.endswith(b"q=0") for part in told.split(b","))


def _is_text(start: dict[str, Any]) -> bool:
    """Whether an answer that begins so is a whole text, not compressed yet."""
    told = {k.lower(): v for k, v in start.get("headers", ())}
    return (
        start["status"] == 200 and b"content-encoding" not in told and told.get(b"content-type", b"").startswith(_KINDS)
    )
