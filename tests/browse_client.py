"""Questions to the browse view: through Datasette's own client or byte for byte, or served to a real browser."""

from __future__ import annotations

import asyncio
import re
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

VOID = {"meta", "link", "input", "br", "hr", "img", "col"}
#: Elements of drawings that stand alone with a slash.
DRAWN = {"path", "rect", "circle", "use", "polygon", "polyline"}


@dataclass(frozen=True)
class Answer:
    """Status, headers (lower case, joined) and body of one answer."""

    status: int
    headers: dict[str, str]
    body: str


def write_shelf(path: Path, store: Path, *commands: Sequence[str]) -> None:
    """Write a shelf of one's own at a path by so many commands of `mine`, over a store."""
    from refdb.cli.main import main

    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("REFDB_STORE", str(store))
        for words in commands:
            assert main(["--workshop", str(path), "mine", *words]) == 0


@contextmanager
def served(application: Any, port: int = 0) -> Iterator[str]:
    """The address of an application that a thread serves, on a free port or on this one.

    Never on the usual port: once this server has gone, that of another test might answer there in its place.
    """
    from refdb.browse.server.application import _server, open_socket

    listening = open_socket("127.0.0.1", port)
    ready = threading.Event()
    server = _server(application, ready.set)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    assert ready.wait(60)
    try:
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(20)
        listening.close()
    assert not thread.is_alive()


class Asking:
    """An application and a loop to ask it on."""

    def __init__(
        self, store: Path, local: bool = True, workshop: Path | None = None, writer: Any = None, sql: bool = False
    ) -> None:
        from refdb.browse.server.application import build

        self.loop = asyncio.new_event_loop()
        self.application = build(store, workshop=workshop, local=local, writer=writer, sql=sql)
        self.asgi = self.application.client.app

    def close(self) -> None:
        """Close the loop."""
        self.loop.close()

    def get(self, path: str, **headers: str) -> Answer:
        """The answer to an address as a browser would ask for it; redirects are not followed."""
        found = self.loop.run_until_complete(self.application.client.get(path, headers=headers))
        return Answer(found.status_code, dict(found.headers), found.text)

    def raw(
        self,
        path: bytes,
        query: bytes = b"",
        method: str = "GET",
        host: bytes = b"localhost",
        headers: Sequence[tuple[bytes, bytes]] = (),
        body: Iterable[bytes | None] = (b"",),
    ) -> Answer:
        """The answer to bytes that no client would send; a body in pieces, None where the sender goes away."""
        waiting = iter(body)
        held = next(waiting)
        sent: list[dict[str, Any]] = []
        scope = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "method": method,
            "scheme": "http",
            "path": path.decode("latin-1"),
            "raw_path": path,
            "query_string": query,
            "root_path": "",
            "headers": [(b"host", host), *headers],
            "client": ("127.0.0.1", 1),
            "server": ("127.0.0.1", 80),
        }

        async def receive() -> dict[str, Any]:
            nonlocal held
            now, held = held, next(waiting, b"")
            if now is None:
                return {"type": "http.disconnect"}
            return {"type": "http.request", "body": now, "more_body": held != b""}

        async def send(message: dict[str, Any]) -> None:
            sent.append(message)

        self.loop.run_until_complete(self.asgi(scope, receive, send))
        told = {k.decode().lower(): v.decode() for k, v in sent[0]["headers"]}
        return Answer(sent[0]["status"], told, b"".join(m.get("body", b"") for m in sent[1:]).decode())


def printed(value: float, decimals: int = 0, signed: bool = False) -> str:
    """A number as the pages print it."""
    text = f"{value:,.{decimals}f}"
    if not re.search("[1-9]", text):
        return text.lstrip("-")
    text = text.replace("-", "−")
    return f"+{text}" if signed and value > 0 else text


def numbers_not_told(told: dict[str, Any], text: str) -> list[str]:
    """What the command says of a verdict in JSON and a page's words do not hold."""
    wanted = [told["verdict"][:1].upper() + told["verdict"][1:], told["sentence"]]
    for reason in told["reasons"]:
        found = reason["found"]
        wanted += [reason["title"][:1].upper() + reason["title"][1:], reason["limit"]]
        unit = {"MPa": "MPa", "ppm": "ppm", "mm": "mm", "°C": "°C"}.get(found.get("unit", ""))
        if unit:
            wanted.append(f"{printed(found['value'], 2 if unit == 'mm' else 0)} {unit}")
        elif "text" in found:
            wanted.append(found["text"].rstrip("."))
    for stage in told["numbers"]["stages"]:
        for layer in stage["layers"]:
            for face in ("top_mpa", "mean_mpa", "bottom_mpa"):
                value, low, high = (printed(layer[face][n], 0, signed=True) for n in ("value", "low", "high"))
                wanted += [value, low if low == high else f"{low} to {high}"]
    gap = told["numbers"].get("gap_ppm")
    if gap:
        wanted.append(f"{printed(gap['value'])} ppm ({printed(gap['low'])} to {printed(gap['high'])})")
    wanted += [caution["text"] for caution in told["cautions"]]
    wanted += [" ".join(citation.split()) for citation in told["sources"].values()]
    return [words for words in wanted if words not in text]


_SET = str.maketrans({"\u2018": "'", "\u2019": "'", "\u201c": '"', "\u201d": '"'})


def as_typed(text: str) -> str:
    """Words of a page with their typographic marks as data, commands and messages have them."""
    return text.translate(_SET)


class Outline(HTMLParser):
    """What a page is made of: its tags in order, ids, links, labels, and what is wrong with its nesting."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.faults: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        self.faults += [f"<{tag}> is never closed" for tag in self.open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if len(given) != len(attrs):
            self.faults.append(f"<{tag}> has an attribute twice")
        self.tags.append((tag, given))
        if given.get("id"):
            self.ids.append(str(given["id"]))
        if tag == "a" and given.get("href") is not None:
            self.links.append(str(given["href"]))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in DRAWN:
            self.faults.append(f"<{tag}/> closes itself")
        self.handle_starttag(tag, attrs)
        self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open[-1] != tag:
            self.faults.append(f"</{tag}> where {self.open[-1:]} is open")
        else:
            self.open.pop()

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        """All words, with every blank, quotation mark and apostrophe as it is typed."""
        return as_typed(" ".join("".join(self.words).replace("\u00a0", " ").split()))

    def all(self, tag: str) -> list[dict[str, str | None]]:
        """Attributes of every element of one kind."""
        return [given for name, given in self.tags if name == tag]
