"""Our pages as the server asks for them: from what is kept, worked out in their turn, or sent by a form."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar
from urllib.parse import unquote

from datasette import Response

from refdb.browse.offline import COPY, LIST, given
from refdb.browse.pages import builder as builder_page
from refdb.browse.pages import builder_forms, handbook, piece_views
from refdb.browse.pages import builds as builds_page
from refdb.browse.pages import clears as clears_page
from refdb.browse.pages import compare as compare_page
from refdb.browse.pages import grid as grid_page
from refdb.browse.pages import lists as lists_page
from refdb.browse.pages import material as material_page
from refdb.browse.pages import piece as piece_page
from refdb.browse.pages import pool as pool_page
from refdb.browse.pages import practice_topic as topic_page
from refdb.browse.pages import reading as plain_pages
from refdb.browse.pages import suits as suits_page
from refdb.browse.server.named import NamedQuery
from refdb.browse.server.query import LONGEST_PIECE, LONGEST_QUERY, Busy, read_query
from refdb.browse.site import Builder, Site, View
from refdb.errors import BadInput, StoreUnusable
from refdb.frozen import dataclass

if TYPE_CHECKING:
    from refdb.browse.offline import Of
    from refdb.browse.server.upload import Sent

HTML = "text/html; charset=utf-8"
NOTHING: Mapping[str, str] = MappingProxyType({})
Built = TypeVar("Built")
#: So many calculations may wait for their turn.
MOST_WAITING = 12
#: How often a page is begun again because the workshop proved unreadable.
_MOST_TRIES = 3
#: Letters of a query that holds a piece, each of which may be written as three.
_LONGEST_OF_PIECE = 3 * LONGEST_PIECE + 100


@dataclass(frozen=True)
class Route:
    """One of our pages: its address, what builds it, its parameters, and which questions take a while."""

    address: str
    build: Builder
    parameters: tuple[str, ...] = ()
    slow: Callable[[Site, dict[str, str]], bool] = lambda site, query: False
    #: Parameters that may be given several times.
    several: tuple[str, ...] = ()


ROUTES = (
    Route("/", plain_pages.home),
    Route("/find", lists_page.find, ("q",)),
    Route("/suits", suits_page.build, suits_page.PARAMETERS, suits_page.is_slow),
    Route("/compare", compare_page.build, compare_page.PARAMETERS, compare_page.is_slow, ("glass", "metal")),
    Route("/builds", builds_page.build, builds_page.PARAMETERS, builds_page.is_slow),
    Route("/clears", clears_page.build, clears_page.PARAMETERS, clears_page.is_slow),
    Route("/piece", piece_views.build, piece_page.PARAMETERS, piece_page.is_slow),
    Route("/piece/sheet", piece_views.printed, piece_page.PARAMETERS, piece_page.is_slow),
    Route("/piece/bench", piece_views.bench, piece_page.PARAMETERS, piece_page.is_slow),
    Route("/piece/build", builder_page.build, builder_page.PARAMETERS, builder_page.is_slow),
    Route("/materials", lists_page.materials, lists_page.PARAMETERS),
    Route("/grid", grid_page.build, grid_page.PARAMETERS, grid_page.is_slow),
    Route("/faults", plain_pages.faults, ("words", "part", "look", "stage", "beneath")),
    Route("/pool", pool_page.build, ("glass",)),
    Route("/practice", plain_pages.practice, ("words", "topic", "on")),
    Route("/cautions", plain_pages.cautions, ("material", "words", "use")),
    Route("/sources", plain_pages.sources, ("key",)),
    Route(LIST, plain_pages.offline),
    Route("/about", plain_pages.about),
    Route("/about/verdict", handbook.verdict),
    Route("/about/grounds", handbook.grounds),
    Route("/about/gaps", handbook.gaps),
    Route("/about/rows", handbook.rows),
)


async def tell(
    send: Any, body: bytes, kind: str = HTML, keep: str = "", status: int = 200, told: Mapping[str, str] = NOTHING
) -> None:
    """Send an answer. Nothing is returned, for Datasette would keep it alive in a cycle of stack frames."""
    headers = {**told, **({"cache-control": keep} if keep else {})}
    await Response(body, status=status, content_type=kind, headers=headers).asgi_send(send)


async def _worked_out(site: Site, build: Callable[[], Built], receive: Any) -> Built:
    """Build in the worker thread, unless too many wait for it; given up where the asker goes before its turn."""
    if site.waiting >= MOST_WAITING:
        raise Busy("many questions are being worked out", todo="ask again in some seconds")
    site.waiting += 1
    given_up = False

    def begun() -> Built:
        # One that a thread has taken, but whose turn has not come, can no longer be cancelled.
        if given_up:
            raise Busy("the asker has gone", todo="ask again")
        return build()

    work: asyncio.Future[Any] = asyncio.get_running_loop().run_in_executor(site.worker, begun)
    gone: asyncio.Future[Any] = asyncio.ensure_future(_gone(receive))
    try:
        await asyncio.wait([work, gone], return_when=asyncio.FIRST_COMPLETED)
        given_up = not work.done()
        if given_up and work.cancel():
            raise Busy("the asker has gone", todo="ask again")
        found: Built = await work
        return found
    finally:
        gone.cancel()
        site.waiting -= 1


async def _gone(receive: Any) -> None:
    """Wait until whoever asked has gone; for ever where that cannot be told."""
    for _ in range(2):
        if (await receive())["type"] == "http.disconnect":
            return
    await asyncio.Event().wait()


async def in_turn(site: Site, build: Callable[[], Built], slow: Callable[[], bool], receive: Any) -> Built:
    """Build now, in the worker thread where it calculates; without the workshop where that cannot be read."""
    for _ in range(_MOST_TRIES):
        try:
            waits = site.pool.is_learning or slow()
            return await _worked_out(site, build, receive) if waits else build()
        except StoreUnusable as fault:
            if not site.sets_aside(fault):
                raise
    return build()


async def _answer(
    site: Site,
    name: str,
    query_text: str,
    build: Callable[[], View],
    receive: Any,
    slow: Callable[[], bool] = lambda: False,
) -> tuple[bytes, int]:
    """A page from the cache, or built now, and its status."""
    kept = site.kept(name, query_text)
    if kept is not None:
        return kept, 200
    state = site.state

    def written() -> tuple[View, bytes]:
        page = build()
        return page, site.written(page)

    # A page that took long to work out is mostly a long one, so that it is also written beside the loop.
    page, body = await in_turn(site, written, slow, receive)
    if page.status == 200:
        site.keep(name, query_text, body, state)
    return body, page.status


def view(site: Site, route: Route) -> Callable[[Any, Any], Awaitable[None]]:
    """What answers at the address of a page."""

    async def answered(request: Any, send: Any) -> None:
        text = request.query_string

        async def of(one: Site) -> tuple[bytes, int]:
            body = one.kept(route.address, text)
            if body is not None:
                return body, 200
            longest = _LONGEST_OF_PIECE if {"text", "p"} & set(route.parameters) else LONGEST_QUERY
            query = read_query(text, route.parameters, longest, route.several)
            asked = NamedQuery(one, route.address, query, "metal_thickness" in route.parameters)
            return await _answer(
                one,
                route.address,
                text,
                lambda: asked.told(route.build(one, asked.query)),
                request.receive,
                lambda: route.slow(one, asked.query),
            )

        await _given(site, route.address, request, send, of)

    return answered


async def _given(site: Site, address: str, request: Any, send: Any, of: Of) -> None:
    """Answer with a page, and tell whether a browser may keep it."""
    body, status, told = await given(site, address, COPY in request.headers, of)
    await tell(send, body, status=status, told=told)


#: What answers to the fields of a form that was sent: an address to go on to, or a page.
Filled = Callable[[Any, "dict[str, Sent]"], Awaitable["str | View"]]


def _form_view(
    site: Site, route: Route, names: tuple[str, ...], filled: Filled
) -> Callable[[Any, Any], Awaitable[None]]:
    """A page that can be asked for, and to which a form with these fields can be sent."""
    asked = view(site, route)

    async def answered(request: Any, send: Any) -> None:
        if request.method != "POST":
            await asked(request, send)
            return
        from refdb.browse.server.upload import body_of, fields_of

        read_query(request.query_string, ())
        body = await body_of(request.receive, request.headers.get("content-length"))
        # A megabyte of letters each written as three takes a while to read, and nobody else should wait for it.
        kind = request.headers.get("content-type", "")
        fields = await asyncio.get_running_loop().run_in_executor(site.reader, fields_of, kind, body, names)
        del body
        found = await filled(request, fields)
        if isinstance(found, str):
            # So that the answer has an address of its own, to keep and to pass on.
            await Response("", status=303, headers={"location": found}).asgi_send(send)
        else:
            await tell(send, site.written(found), keep="no-store", status=found.status)

    return answered


def _piece_view(site: Site, route: Route) -> Callable[[Any, Any], Awaitable[None]]:
    """The page of a piece, which can be sent as well as asked for."""

    async def filled(request: Any, fields: dict[str, Sent]) -> str | View:
        from refdb.browse.server.upload import piece_of, wants_sheet

        piece, sheet = piece_of(fields), wants_sheet(fields)
        if not piece.as_file and (address := piece_page.address_of(piece.text, sheet)):
            return address
        build = piece_views.printed_text if sheet else piece_views.build_text
        return await in_turn(site, lambda: build(site, piece.text, piece.where), lambda: True, request.receive)

    return _form_view(site, route, ("file", "text", "as"), filled)


def _builder_view(site: Site, route: Route) -> Callable[[Any, Any], Awaitable[None]]:
    """The page on which a piece is put together: a form that is sent leads to the address of what it makes."""

    async def filled(request: Any, fields: dict[str, Sent]) -> str | View:
        from refdb.browse.server.upload import texts_of

        form = texts_of(fields)
        found: list[str | View] = []

        def answer() -> View:
            found.append(builder_page.sent(site, form))
            return found[-1] if isinstance(found[-1], View) else View("")

        await in_turn(site, answer, lambda: True, request.receive)
        return found[-1]

    return _form_view(site, route, builder_forms.NAMES, filled)


def file_view(site: Site) -> Callable[[Any, Any], Awaitable[None]]:
    """A piece as the file that the terminal takes."""

    async def answered(request: Any, send: Any) -> None:
        from refdb.browse.server.packed import unpacked

        text = unpacked(read_query(request.query_string, ("p",), _LONGEST_OF_PIECE).get("p", ""))
        headers = {"content-disposition": 'attachment; filename="piece.toml"', "cache-control": "no-store"}
        await Response(text, content_type="text/plain; charset=utf-8", headers=headers).asgi_send(send)

    return answered


def _key_of(request: Any) -> str:
    """The key at the end of an address."""
    key = unquote(request.url_vars["key"], errors="replace")
    if not key.isprintable():
        raise BadInput("this key holds characters that cannot be read", todo="use the search on the front page")
    return key


def material_view(site: Site) -> Callable[[Any, Any], Awaitable[None]]:
    """What answers at the address of a material."""

    async def answered(request: Any, send: Any) -> None:
        read_query(request.query_string, ())
        key = _key_of(request)

        async def of(one: Site) -> tuple[bytes, int]:
            return await _answer(
                one,
                f"/material/{key}",
                "",
                lambda: material_page.build(one, one.ref.named(key).key),
                request.receive,
                lambda: one.bears_own({"key": key}),
            )

        await _given(site, "/material", request, send, of)

    return answered


def topic_view(site: Site) -> Callable[[Any, Any], Awaitable[None]]:
    """What answers at the address of a subject of practice."""

    async def answered(request: Any, send: Any) -> None:
        read_query(request.query_string, ())
        key = _key_of(request)

        async def of(one: Site) -> tuple[bytes, int]:
            return await _answer(one, f"/practice/{key}", "", lambda: topic_page.build(one, key), request.receive)

        await _given(site, "/practice", request, send, of)

    return answered


#: Pages to which a form can be sent.
SENT_TO = {"/piece": _piece_view, "/piece/build": _builder_view}
