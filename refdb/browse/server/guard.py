"""What stands before every page: who may ask, how long a question may be, and the headers of every answer."""

from __future__ import annotations

import ipaddress
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any

from refdb.browse.server.query import LONGEST_PIECE_ADDRESS
from refdb.errors import BadInput, NotFound, RefdbError

Scope = MutableMapping[str, Any]
Send = Callable[[dict[str, Any]], Awaitable[None]]
Receive = Callable[[], Awaitable[dict[str, Any]]]

LONGEST_ADDRESS = 8000
#: Where a piece file may stand in the address.
PIECES = frozenset({b"/piece", b"/piece/sheet", b"/piece/bench", b"/piece/build", b"/piece/file"})
#: Pages that take a form, whose answer depends on nothing that is kept; and who may send it.
TAKE_A_FORM, SENDERS = frozenset({b"/piece", b"/piece/build"}), frozenset({"", "same-origin", "none"})
#: Addresses of forms that are written down, where the view was started so.
WRITES = frozenset({b"/shelf/glass", b"/shelf/tile", b"/shelf/strip", b"/shelf/firing", b"/shelf/undo"})
_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'; worker-src 'self'; manifest-src 'self'"
)
#: The file that keeps pages may ask this view for them, and do nothing else.
WORKER, _WORKER_POLICY = b"/worker.js", b"default-src 'none'; connect-src 'self'"
HEADERS = (
    (b"content-security-policy", _POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    # Nothing goes to another site. With no-referrer a browser hides from us too where a form stands.
    (b"referrer-policy", b"same-origin"),
    (b"x-frame-options", b"DENY"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)
WORKER_HEADERS = ((HEADERS[0][0], _WORKER_POLICY), *HEADERS[1:])
_OURS = frozenset(name for name, _ in HEADERS)
#: What Datasette tells about itself, open to this computer alone.
OPEN_ON_LOOPBACK = frozenset(f"/-/{name}.json" for name in ("databases", "versions", "settings", "plugins", "metadata"))
LOCAL_NAMES = frozenset({"localhost", "127.0.0.1", "[::1]", "::1"})


def is_number(host: str) -> bool:
    """Whether a host is told by its address, not by a name."""
    try:
        ipaddress.ip_address(host.strip("[]"))
    except ValueError:
        return False
    return True


def is_loopback(host: str) -> bool:
    """Whether a host name or address stands for this computer alone."""
    return host == "localhost" or (is_number(host) and ipaddress.ip_address(host.strip("[]")).is_loopback)


class Guard:
    """An ASGI application before another.

    Parameters
    ----------
    app : callable
        What answers.
    refused : callable
        Makes a page of a status and an error.
    loopback : bool
        Whether only this computer is served.
    look : callable, optional
        Called before a question is passed on, to see what has changed.
    names : frozenset of str
        Names, besides this computer's own for itself, under which it may be asked for. Under another it is refused, so
        that a foreign page cannot point its own name at this address and read along; who is let in from elsewhere may
        also ask by a number, which no page can point anywhere.
    takes : frozenset of bytes
        Addresses to which a form may be sent.
    """

    def __init__(
        self,
        app: Any,
        refused: Callable[[int, RefdbError], bytes],
        loopback: bool,
        look: Callable[[], None] = lambda: None,
        names: frozenset[str] = frozenset(),
        takes: frozenset[bytes] = TAKE_A_FORM,
    ) -> None:
        self.app, self.refused, self.loopback, self.look = app, refused, loopback, look
        self.takes = takes
        self.names = names | LOCAL_NAMES

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a question on, or refuse it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        begun, keeps_pages = False, scope["path"].encode() == WORKER

        async def sent(message: dict[str, Any]) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                kept = [(k, v) for k, v in message.get("headers", ()) if k.lower() not in _OURS]
                message = {**message, "headers": [*kept, *(WORKER_HEADERS if keeps_pages else HEADERS)]}
            await send(message)

        found = self._fault(scope)
        if found is None:
            try:
                self.look()
                await self.app(scope, receive, sent)
            except (UnicodeError, ValueError):
                if begun:
                    raise
                found = (400, BadInput("this address cannot be read", todo="check the address"))
        if found is not None:
            await self._refuse(sent, scope, *found)

    def _fault(self, scope: Scope) -> tuple[int, RefdbError] | None:
        """What is wrong with a question before anyone has looked at it."""
        raw: bytes = scope.get("raw_path") or scope["path"].encode()
        path = raw.partition(b"?")[0]
        query: bytes = scope.get("query_string", b"")
        posted = scope["method"] == "POST" and path in self.takes
        if scope["method"] not in ("GET", "HEAD") and not posted:
            return 405, BadInput("this is for reading only", todo="open the page instead")
        if len(path) + len(query) > (LONGEST_PIECE_ADDRESS if path in PIECES else LONGEST_ADDRESS):
            return 414, BadInput("the question is too long", todo="shorten it")
        if sum(name == b"host" for name, _ in scope["headers"]) > 1:
            # Who stands between might go by the other one.
            return 400, BadInput("the question names two hosts", todo="name one")
        host = self._host(scope)
        if host not in self.names and not (is_number(host) and (not self.loopback or is_loopback(host))):
            todo = (
                "open it as http://127.0.0.1 with its port" if self.loopback else "open it by its number, with its port"
            )
            return 400, BadInput(
                "this view is for its own computer" if self.loopback else "no such name here", todo=todo
            )
        from_afar = self._header(scope, b"sec-fetch-site").lower() == "cross-site"
        if from_afar and not posted and self._header(scope, b"sec-fetch-mode").lower() not in ("", "navigate"):
            return 403, BadInput("this is a page, not a part of another site's", todo="open it by itself")
        if posted and self._header(scope, b"sec-fetch-site").lower() not in SENDERS:
            return 403, BadInput("this was sent from another site", todo="send it from a page here")
        if posted and path in WRITES and not self._from_here(scope):
            return 403, BadInput("this was sent from another site", todo="send it from the shelf here")
        if not path.isascii() or not query.isascii() or b"\\" in path or b"//" in path or b"/.." in path:
            return 404, NotFound("no page has this address", todo="check the address")
        text = path.decode()
        if text.startswith("/-/") and not (self.loopback and text in OPEN_ON_LOOPBACK):
            return 404, NotFound("no page has this address", todo="check the address")
        if "%" in text and not text.startswith(("/material/", "/practice/", "/reference", "/workshop")):
            return 404, NotFound("no page has this address", todo="check the address")
        return None

    @staticmethod
    def _header(scope: Scope, name: bytes) -> str:
        found: bytes = next((v for k, v in scope["headers"] if k == name), b"")
        return found.decode("latin-1")

    def _from_here(self, scope: Scope) -> bool:
        """Whether a form comes from a page of ours, by what a browser says of where it stands."""
        origin = self._header(scope, b"origin")
        if not origin:
            # Who sends neither is no browser, and no page of another site.
            return self._header(scope, b"sec-fetch-site").lower() != "none"
        return origin.partition("://")[2].lower() == self._header(scope, b"host").lower()

    def _host(self, scope: Scope) -> str:
        host = self._header(scope, b"host")
        name, colon, port = host.rpartition(":")
        return (name if colon and port.isdigit() else host).lower().rstrip(".")

    async def _refuse(self, send: Send, scope: Scope, status: int, fault: RefdbError) -> None:
        body = self.refused(status, fault)
        headers = [(b"content-type", b"text/html; charset=utf-8"), (b"content-length", str(len(body)).encode())]
        if status == 405:
            path: bytes = (scope.get("raw_path") or scope["path"].encode()).partition(b"?")[0]
            headers.append((b"allow", b"GET, HEAD, POST" if path in self.takes else b"GET, HEAD"))
        await send({"type": "http.response.start", "status": status, "headers": headers})
        await send({"type": "http.response.body", "body": b"" if scope["method"] == "HEAD" else body})
