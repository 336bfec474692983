"""Our hooks into Datasette: pages, errors, templates.

Datasette has one plugin manager for the whole process, which asks these hooks for every Datasette in it. Each hook does
nothing unless the Datasette was made by `server.application.build`, which is known by its attribute `refdb_site`.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import unquote

from datasette import Forbidden, NotFound, Response, hookimpl
from datasette.utils.asgi import Base400
from datasette.views.base import DatasetteError

from refdb.browse.pages import builder as builder_page
from refdb.browse.pages import builder_forms, piece_views
from refdb.browse.pages import builds as builds_page
from refdb.browse.pages import clears as clears_page
from refdb.browse.pages import grid as grid_page
from refdb.browse.pages import lists as lists_page
from refdb.browse.pages import material as material_page
from refdb.browse.pages import piece as piece_page
from refdb.browse.pages import reading as plain_pages
from refdb.browse.pages import suits as suits_page
from refdb.browse.pages.printed import on_a_page
from refdb.browse.server.guard import TAKE_A_FORM, Guard
from refdb.browse.server.named import AmbiguousQuery, NamedQuery
from refdb.browse.server.query import LONGEST_PIECE, LONGEST_QUERY, TooLarge, read_query
from refdb.browse.site import Builder, Site, View
from refdb.browse.tables.headings import head_of
from refdb.errors import BadInput, RefdbError, StoreUnusable
from refdb.errors import NotFound as NoRecord
from refdb.pictures.marks import icon

log = logging.getLogger("refdb.browse")
_HTML = "text/html; charset=utf-8"
#: How often a page is begun again because the workshop proved unreadable.
_MOST_TRIES = 3
#: Letters of a query that holds a piece, each of which may be written as three.
_LONGEST_OF_PIECE = 3 * LONGEST_PIECE + 100


def site_of(datasette: Any) -> Site | None:
    """The site that a Datasette shows; None for one that is not ours."""
    return getattr(datasette, "refdb_site", None)


@dataclass(frozen=True)
class Route:
    """One of our pages: its address, what builds it, its parameters, and which questions take a while."""

    address: str
    build: Builder
    parameters: tuple[str, ...] = ()
    slow: Callable[[Site, dict[str, str]], bool] = lambda site, query: False


ROUTES = (
    Route("/", plain_pages.home),
    Route("/find", lists_page.find, ("q",)),
    Route("/suits", suits_page.build, suits_page.PARAMETERS, suits_page.is_slow),
    Route("/builds", builds_page.build, builds_page.PARAMETERS, builds_page.is_slow),
    Route("/clears", clears_page.build, clears_page.PARAMETERS, clears_page.is_slow),
    Route("/piece", piece_views.build, piece_page.PARAMETERS, piece_page.is_slow),
    Route("/piece/sheet", piece_views.printed, piece_page.PARAMETERS, piece_page.is_slow),
    Route("/piece/bench", piece_views.bench, piece_page.PARAMETERS, piece_page.is_slow),
    Route("/piece/build", builder_page.build, builder_page.PARAMETERS, builder_page.is_slow),
    Route("/materials", lists_page.materials, lists_page.PARAMETERS),
    Route("/grid", grid_page.build, grid_page.PARAMETERS, grid_page.is_slow),
    Route("/faults", plain_pages.faults, ("words", "part")),
    Route("/practice", plain_pages.practice, ("words", "topic", "on")),
    Route("/cautions", plain_pages.cautions, ("material", "words", "use")),
    Route("/sources", plain_pages.sources, ("key",)),
    Route("/about", plain_pages.about),
)


async def _tell(send: Any, body: bytes, kind: str = _HTML, keep: str = "", status: int = 200) -> None:
    """Send an answer. Nothing is returned, for Datasette would keep it alive in a cycle of stack frames."""
    headers = {"cache-control": keep} if keep else {}
    await Response(body, status=status, content_type=kind, headers=headers).asgi_send(send)


async def _built(site: Site, build: Callable[[], View], slow: Callable[[], bool]) -> View:
    """A page built now, in the worker thread where it calculates; without the workshop where that cannot be read."""
    for _ in range(_MOST_TRIES):
        try:
            return await asyncio.get_running_loop().run_in_executor(site.worker, build) if slow() else build()
        except StoreUnusable as fault:
            if not site.sets_aside(fault):
                raise
    return build()


async def _answer(
    site: Site, name: str, query_text: str, build: Callable[[], View], slow: Callable[[], bool] = lambda: False
) -> tuple[bytes, int]:
    """A page from the cache, or built now, and its status."""
    body = site.kept(name, query_text)
    if body is not None:
        return body, 200
    state = site.state
    page = await _built(site, build, slow)
    body = site.written(page)
    if page.status == 200:
        site.keep(name, query_text, body, state)
    return body, page.status


def _view(site: Site, route: Route) -> Callable[[Any, Any], Awaitable[None]]:
    async def view(request: Any, send: Any) -> None:
        text = request.query_string
        body, status = site.kept(route.address, text), 200
        if body is None:
            query = read_query(
                text, route.parameters, _LONGEST_OF_PIECE if {"text", "p"} & set(route.parameters) else LONGEST_QUERY
            )
            asked = NamedQuery(site, route.address, query, "metal_thickness" in route.parameters)
            body, status = await _answer(
                site,
                route.address,
                text,
                lambda: asked.told(route.build(site, asked.query)),
                lambda: route.slow(site, asked.query),
            )
        await _tell(send, body, status=status)

    return view


def _piece_view(site: Site, route: Route) -> Callable[[Any, Any], Awaitable[None]]:
    """The page of a piece, which can be sent as well as asked for."""
    asked = _view(site, route)

    async def view(request: Any, send: Any) -> None:
        if request.method != "POST":
            await asked(request, send)
            return
        from refdb.browse.server import upload as sent

        read_query(request.query_string, ())
        headers = request.headers
        body = await sent.body_of(request.receive, headers.get("content-length"))
        fields = sent.fields_of(headers.get("content-type", ""), body, ("file", "text", "as"))
        del body
        piece, sheet = sent.piece_of(fields), sent.wants_sheet(fields)
        if not piece.as_file and (address := piece_page.address_of(piece.text, sheet)):
            # So that the answer has an address of its own, to keep and to pass on.
            await Response("", status=303, headers={"location": address}).asgi_send(send)
            return
        build = piece_views.printed_text if sheet else piece_views.build_text
        page = await _built(site, lambda: build(site, piece.text, piece.where), lambda: True)
        await _tell(send, site.written(page), keep="no-store", status=page.status)

    return view


def _builder_view(site: Site, route: Route) -> Callable[[Any, Any], Awaitable[None]]:
    """The page on which a piece is put together: a form that is sent leads to the address of what it makes."""
    asked = _view(site, route)

    async def view(request: Any, send: Any) -> None:
        if request.method != "POST":
            await asked(request, send)
            return
        from refdb.browse.server import upload

        read_query(request.query_string, ())
        headers = request.headers
        body = await upload.body_of(request.receive, headers.get("content-length"))
        form = upload.texts_of(upload.fields_of(headers.get("content-type", ""), body, builder_forms.NAMES))
        found: list[str | View] = []

        def answer() -> View:
            found.append(builder_page.sent(site, form))
            return found[-1] if isinstance(found[-1], View) else View("")

        page = await _built(site, answer, lambda: True)
        if isinstance(found[-1], str):
            await Response("", status=303, headers={"location": found[-1]}).asgi_send(send)
        else:
            await _tell(send, site.written(page), keep="no-store", status=page.status)

    return view


def _file_view(site: Site) -> Callable[[Any, Any], Awaitable[None]]:
    """A piece as the file that the terminal takes."""

    async def view(request: Any, send: Any) -> None:
        from refdb.browse.server.packed import unpacked

        text = unpacked(read_query(request.query_string, ("p",), _LONGEST_OF_PIECE).get("p", ""))
        headers = {"content-disposition": 'attachment; filename="piece.toml"', "cache-control": "no-store"}
        await Response(text, content_type="text/plain; charset=utf-8", headers=headers).asgi_send(send)

    return view


def _material_view(site: Site) -> Callable[[Any, Any], Awaitable[None]]:
    async def view(request: Any, send: Any) -> None:
        read_query(request.query_string, ())
        key = unquote(request.url_vars["key"], errors="replace")
        if not key.isprintable():
            raise BadInput("this key holds characters that cannot be read", todo="use the search on the front page")
        body, status = await _answer(
            site,
            f"/material/{key}",
            "",
            lambda: material_page.build(site, site.ref.named(key).key),
            lambda: site.bears_own({"key": key}),
        )
        await _tell(send, body, status=status)

    return view


#: Pages to which a form can be sent.
_SENT_TO = {"/piece": _piece_view, "/piece/build": _builder_view}


@hookimpl
def register_routes(datasette: Any) -> list[tuple[str, Callable[..., Any]]]:
    """Our pages, before those of Datasette."""
    site = site_of(datasette)
    if site is None:
        return []

    async def styles(request: Any, send: Any) -> None:
        await _tell(send, site.styles, "text/css; charset=utf-8", "public, max-age=31536000, immutable")

    async def sheet_styles(request: Any, send: Any) -> None:
        await _tell(send, piece_page.STYLES.read_bytes(), "text/css; charset=utf-8", "public, max-age=3600")

    async def bench_styles(request: Any, send: Any) -> None:
        await _tell(send, piece_page.BENCH_STYLES.read_bytes(), "text/css; charset=utf-8", "public, max-age=3600")

    async def mark(request: Any, send: Any) -> None:
        await _tell(send, icon().encode(), "image/svg+xml", "public, max-age=86400")

    async def databases(request: Any, send: Any) -> None:
        # As Datasette tells it, but for where the files lie.
        told = [{k: v for k, v in one.items() if k != "path"} for one in datasette._connected_databases()]
        await Response.json(told).asgi_send(send)

    pages: list[tuple[str, Callable[..., Any]]] = [
        (f"^{route.address}$", _SENT_TO.get(route.address, _view)(site, route)) for route in ROUTES
    ]
    return [
        *pages,
        (r"^/piece/file$", _file_view(site)),
        (r"^/-/databases\.json$", databases),
        (r"^/material/(?P<key>[^/]*)$", _material_view(site)),
        (r"^/static/refdb\.css$", styles),
        (r"^/static/sheet\.css$", sheet_styles),
        (r"^/static/bench_sheet\.css$", bench_styles),
        (r"^/static/mark\.svg$", mark),
        (r"^/favicon\.ico$", mark),
    ]


@hookimpl
def prepare_connection(conn: Any, database: str, datasette: Any) -> None:
    """The judge's functions, for those who enabled SQL."""
    site = site_of(datasette)
    if site is not None and site.sql:
        from refdb.browse.tables.sql_functions import register

        register(conn, lambda: site.ref)


@hookimpl
def prepare_jinja2_environment(env: Any, datasette: Any) -> None:
    """What our templates use, for Datasette's table pages too."""
    site = site_of(datasette)
    if site is not None:
        site.furnish(env)
        env.globals["head_of"] = head_of(site)


@hookimpl
def asgi_wrapper(datasette: Any) -> Callable[[Any], Any]:
    """The guard in front of everything."""
    site = site_of(datasette)
    if site is None:
        return lambda app: app
    return lambda app: Guard(app, lambda status, fault: refused(site, status, fault), site.local, site.look)


@hookimpl
def skip_csrf(datasette: Any, scope: Any) -> bool:
    """The forms that are sent change nothing; who may send it is the guard's to say."""
    return site_of(datasette) is not None and scope["path"].encode() in TAKE_A_FORM


def refused(site: Site, status: int, fault: RefdbError) -> bytes:
    """An error as a page in our look."""
    headings = {
        404: "There is nothing here",
        403: "This is closed",
        405: "This is for reading only",
        413: "Too large a piece",
        414: "Too long a question",
        500: "Something broke here",
        503: "The store cannot be read",
    }
    what = f"{fault.where}: {fault.what}" if fault.where else fault.what
    what = "".join(c if c.isprintable() else "?" for c in what)
    near = fault.near if isinstance(fault, NoRecord) else ()
    todo, listed = on_a_page("" if near else fault.todo)
    return site.written(
        View(
            "fault.html",
            {
                "heading": headings.get(status, "That cannot be answered"),
                "status": status,
                "near": near,
                "links": fault.links if isinstance(fault, AmbiguousQuery) else (),
                "listed": listed,
                "what": what[:1].upper() + what[1:].rstrip(".") + ".",
                "todo": todo,
            },
        )
    )


def told(exception: Exception) -> tuple[int, RefdbError]:
    """The status and the words for an exception."""
    if isinstance(exception, NoRecord):
        return 404, exception
    if isinstance(exception, StoreUnusable):
        # Its words name the file, which is nobody's business on a page.
        return 503, StoreUnusable(
            "the store cannot be read", todo="build it again with: refdb build --from data_sources"
        )
    if isinstance(exception, RefdbError):
        return (413 if isinstance(exception, TooLarge) else 400), exception
    if isinstance(exception, Forbidden):
        return 403, BadInput("this part of the store is closed", todo="SQL stays off while the view is open")
    if isinstance(exception, NotFound):
        return 404, NoRecord("no page has this address", todo="check the address")
    if isinstance(exception, (Base400, DatasetteError)):
        # Where Datasette names no status it was the question: an order or a column that is not there.
        status = getattr(exception, "status", None) or 400
        status = status if 400 <= status < 500 else 400
        return status, BadInput("this question cannot be read", todo="check what stands after the question mark")
    return 500, BadInput("this page could not be made", todo="try another; the terminal says what happened")


@hookimpl(hookwrapper=True)
def handle_exception(datasette: Any, request: Any, exception: Exception) -> Any:
    """Errors in our look; Datasette's own handler, which prints tracebacks, is not asked."""
    outcome = yield
    site = site_of(datasette)
    if site is None:
        return
    status, fault = told(exception)
    if status == 500:
        log.error("%s", request.path, exc_info=exception)
    if request.path.partition("?")[0].endswith(".json"):
        outcome.force_result([Response.json({"ok": False, "status": status, "error": fault.line}, status=status)])
        return
    outcome.force_result([Response(refused(site, status, fault), status=status, content_type=_HTML)])


@hookimpl(hookwrapper=True)
def forbidden(datasette: Any, request: Any, message: str) -> Any:
    """What is closed, in our look."""
    outcome = yield
    site = site_of(datasette)
    if site is not None:
        status, fault = told(Forbidden(message))
        outcome.force_result([Response(refused(site, status, fault), status=status, content_type=_HTML)])
