"""Our hooks into Datasette: pages, errors, templates. They touch only a Datasette that `server.build` made.

Datasette's plugin manager is one for the whole process, so each hook first looks whether it is asked by one of ours.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any
from urllib.parse import unquote
from weakref import WeakKeyDictionary, WeakSet

from datasette import Forbidden, NotFound, Response, hookimpl
from datasette.utils.asgi import Base400
from datasette.views.base import DatasetteError

from refdb.browse import clears_page, grid_page, lists_page, material_page, piece_page, plain_pages, suits_page
from refdb.browse.guard import Guard
from refdb.browse.heads import head_of
from refdb.browse.query import LONGEST_PIECE, LONGEST_QUERY, read_query
from refdb.browse.site import Builder, Page, Site
from refdb.errors import BadInput, RefdbError, StoreUnusable
from refdb.errors import NotFound as NoRecord
from refdb.pictures.marks import icon

log = logging.getLogger("refdb.browse")
#: The sites of the Datasettes that are ours, and whether each is read from this computer alone.
sites: WeakKeyDictionary[Any, Site] = WeakKeyDictionary()
loopback: WeakKeyDictionary[Any, bool] = WeakKeyDictionary()
#: Those whose readers may write SQL.
with_sql: WeakSet[Any] = WeakSet()
_HTML = "text/html; charset=utf-8"
#: One calculation at a time, beside the loop that serves pages.
_worker = ThreadPoolExecutor(1, thread_name_prefix="refdb-verdict")


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
    Route("/suits", suits_page.build, suits_page.PARAMETERS, lambda site, query: not suits_page.is_standard(query)),
    Route("/clears", clears_page.build, clears_page.PARAMETERS,
          lambda site, query: "leaf" in query and "metal" in query),
    Route("/piece", piece_page.build, piece_page.PARAMETERS, piece_page.is_slow),
    Route("/piece/sheet", piece_page.printed, piece_page.PARAMETERS, piece_page.is_slow),
    Route("/materials", lists_page.materials, lists_page.PARAMETERS),
    Route("/grid", grid_page.build, grid_page.PARAMETERS, lambda site, query: "outcomes" not in vars(site)),
    Route("/faults", plain_pages.faults, ("words",)),
    Route("/practice", plain_pages.practice, ("words", "topic")),
    Route("/cautions", plain_pages.cautions, ("material",)),
    Route("/sources", plain_pages.sources, ("key",)),
    Route("/about", plain_pages.about),
)


async def _tell(send: Any, body: bytes, kind: str = _HTML, keep: str = "") -> None:
    """Send an answer, and hand nothing back, which Datasette would hold in a knot of frames for long."""
    await Response(body, content_type=kind, headers={"cache-control": keep} if keep else {}).asgi_send(send)


async def _answer(site: Site, name: str, query_text: str, build: Callable[[], Page], slow: bool = False) -> bytes:
    """A page from those kept, or built now: beside the loop where it calculates."""
    body = site.kept(name, query_text)
    if body is None:
        page = await asyncio.get_running_loop().run_in_executor(_worker, build) if slow else build()
        body = site.written(page)
        site.keep(name, query_text, body)
    return body


def _view(site: Site, route: Route) -> Callable[[Any, Any], Awaitable[None]]:
    async def view(request: Any, send: Any) -> None:
        text = request.query_string
        body = site.kept(route.address, text)
        if body is None:
            query = read_query(text, route.parameters, 3 * LONGEST_PIECE + 100 if "text" in route.parameters
                               else LONGEST_QUERY)
            body = await _answer(site, route.address, text, lambda: route.build(site, query), route.slow(site, query))
        await _tell(send, body)

    return view


def _material_view(site: Site) -> Callable[[Any, Any], Awaitable[None]]:
    async def view(request: Any, send: Any) -> None:
        read_query(request.query_string, ())
        key = unquote(request.url_vars["key"], errors="replace")
        if not key.isprintable():
            raise BadInput("this key holds characters that cannot be read", todo="use the search on the front page")
        await _tell(send, await _answer(site, f"/material/{key}", "", lambda: material_page.build(site, key)))

    return view


@hookimpl
def register_routes(datasette: Any) -> list[tuple[str, Callable[..., Any]]]:
    """Our pages, before those of Datasette."""
    site = sites.get(datasette)
    if site is None:
        return []

    async def styles(request: Any, send: Any) -> None:
        await _tell(send, site.styles, "text/css; charset=utf-8", "public, max-age=31536000, immutable")

    async def sheet_styles(request: Any, send: Any) -> None:
        await _tell(send, piece_page.STYLES.read_bytes(), "text/css; charset=utf-8", "public, max-age=3600")

    async def mark(request: Any, send: Any) -> None:
        await _tell(send, icon().encode(), "image/svg+xml", "public, max-age=86400")

    pages: list[tuple[str, Callable[..., Any]]] = [(f"^{route.address}$", _view(site, route)) for route in ROUTES]
    return [*pages, (r"^/material/(?P<key>[^/]*)$", _material_view(site)), (r"^/static/refdb\.css$", styles),
            (r"^/static/sheet\.css$", sheet_styles), (r"^/static/mark\.svg$", mark), (r"^/favicon\.ico$", mark)]


@hookimpl
def prepare_connection(conn: Any, database: str, datasette: Any) -> None:
    """The judge's functions, for those who enabled SQL."""
    if datasette in with_sql:
        from refdb.browse.functions import register
        from refdb.store.reference import Reference

        register(conn, Reference(sites[datasette].path))


@hookimpl
def prepare_jinja2_environment(env: Any, datasette: Any) -> None:
    """What our templates use, for Datasette's table pages too."""
    site = sites.get(datasette)
    if site is not None:
        site.furnish(env)
        env.globals["head_of"] = head_of(site)


@hookimpl
def asgi_wrapper(datasette: Any) -> Callable[[Any], Any]:
    """The guard in front of everything."""
    site = sites.get(datasette)
    if site is None:
        return lambda app: app
    return lambda app: Guard(app, lambda status, fault: refused(site, status, fault), loopback[datasette])


#: Commands that messages name, and the page that stands for each.
_LISTS = {"refdb metals": ("/materials?kind=metal", "all metals"),
          "refdb glasses": ("/materials?kind=glass", "all glasses"),
          "refdb leaf": ("/materials?kind=leaf", "all leaf"), "refdb sources": ("/sources", "all sources"),
          "refdb piece new": ("/piece?example=moth", "a piece file that can be read"),
          "refdb find solder": ("/find?q=solder", "all solders")}


def refused(site: Site, status: int, fault: RefdbError) -> bytes:
    """An error as a page in our look."""
    headings = {404: "There is nothing here", 403: "This is closed", 405: "This is for reading only",
                414: "Too long a question", 500: "Something broke here", 503: "The store cannot be read"}
    what = f"{fault.where}: {fault.what}" if fault.where else fault.what
    what = "".join(c if c.isprintable() else "?" for c in what)
    near = fault.near if isinstance(fault, NoRecord) else ()
    todo = "" if near else fault.todo
    listed = next((where for words, where in _LISTS.items() if words in todo), None)
    if "refdb " in todo:
        todo = ""
    return site.written(Page("fault.html", {
        "heading": headings.get(status, "That cannot be answered"), "status": status, "near": near, "listed": listed,
        "what": what[:1].upper() + what[1:].rstrip(".") + ".", "todo": todo[:1].upper() + todo[1:] if todo else ""}))


def told(exception: Exception) -> tuple[int, RefdbError]:
    """The status and the words for an exception."""
    if isinstance(exception, NoRecord):
        return 404, exception
    if isinstance(exception, StoreUnusable):
        # Its words name the file, which is nobody's business on a page.
        return 503, StoreUnusable("the store cannot be read", todo="build it again with: refdb build")
    if isinstance(exception, RefdbError):
        return 400, exception
    if isinstance(exception, Forbidden):
        return 403, BadInput("this part of the store is closed", todo="SQL stays off while the view is open")
    if isinstance(exception, NotFound):
        return 404, NoRecord("no page has this address", todo="check the address")
    status = getattr(exception, "status", 500)
    if isinstance(exception, (Base400, DatasetteError)) and 400 <= status < 500:
        return status, BadInput("this question cannot be read", todo="check what stands after the question mark")
    return 500, BadInput("this page could not be made", todo="try another; the terminal says what happened")


@hookimpl(hookwrapper=True)
def handle_exception(datasette: Any, request: Any, exception: Exception) -> Any:
    """Errors in our look; Datasette's own handler, which prints tracebacks, is not asked."""
    outcome = yield
    site = sites.get(datasette)
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
    site = sites.get(datasette)
    if site is not None:
        status, fault = told(Forbidden(message))
        outcome.force_result([Response(refused(site, status, fault), status=status, content_type=_HTML)])
