"""Our hooks into Datasette: pages, errors, templates.

Datasette has one plugin manager for the whole process, which asks these hooks for every Datasette in it. Each hook does
nothing unless the Datasette was made by `server.application.build`, which is known by its attribute `refdb_site`.
"""

from __future__ import annotations

import logging
import re
import sqlite3
from collections.abc import Callable
from typing import Any

from datasette import Forbidden, NotFound, Response, hookimpl
from datasette.utils import ValueAsBooleanError
from datasette.utils.asgi import Base400
from datasette.views.base import DatasetteError

from refdb.browse.again import form_again
from refdb.browse.offline import MANIFEST, manifest_of, worker_of
from refdb.browse.pages import piece as piece_page
from refdb.browse.pages.printed import on_a_page
from refdb.browse.server.compressed import Compressed
from refdb.browse.server.guard import TAKE_A_FORM, WORKER, WRITES, Guard
from refdb.browse.server.named import AmbiguousQuery, UnknownInQuery
from refdb.browse.server.query import Busy, TooLarge
from refdb.browse.shelf_views import Refused, form_view, shelf_view
from refdb.browse.site import OWN_TABLES, Site, View
from refdb.browse.tables.headings import head_of, ways_of
from refdb.browse.tables.laid_out import ROWS_AT_ONCE, laid_out, row_laid, turn
from refdb.browse.views import HTML, ROUTES, SENT_TO, file_view, material_view, tell, topic_view, view
from refdb.errors import BadInput, RefdbError, StoreUnusable
from refdb.errors import NotFound as NoRecord
from refdb.pictures.marks import icon
from refdb.words import upper_first

log = logging.getLogger("refdb.browse")
#: What a question of SQL may take of the memory: bytes of a value and of the question, and how deep it goes.
SQL_LIMITS = {
    sqlite3.SQLITE_LIMIT_LENGTH: 5_000_000,
    sqlite3.SQLITE_LIMIT_SQL_LENGTH: 100_000,
    sqlite3.SQLITE_LIMIT_EXPR_DEPTH: 200,
    sqlite3.SQLITE_LIMIT_COMPOUND_SELECT: 50,
}


def site_of(datasette: Any) -> Site | None:
    """The site that a Datasette shows; None for one that is not ours."""
    return getattr(datasette, "refdb_site", None)


@hookimpl
def register_routes(datasette: Any) -> list[tuple[str, Callable[..., Any]]]:
    """Our pages, before those of Datasette."""
    site = site_of(datasette)
    if site is None:
        return []

    async def styles(request: Any, send: Any) -> None:
        await tell(send, site.styles, "text/css; charset=utf-8", "public, max-age=31536000, immutable")

    async def script(request: Any, send: Any) -> None:
        await tell(send, site.script, "text/javascript; charset=utf-8", "public, max-age=31536000, immutable")

    async def sheet_styles(request: Any, send: Any) -> None:
        await tell(send, piece_page.STYLES.read_bytes(), "text/css; charset=utf-8", "public, max-age=3600")

    async def bench_styles(request: Any, send: Any) -> None:
        await tell(send, piece_page.BENCH_STYLES.read_bytes(), "text/css; charset=utf-8", "public, max-age=3600")

    async def mark(request: Any, send: Any) -> None:
        await tell(send, icon().encode(), "image/svg+xml", "public, max-age=86400")

    async def worker(request: Any, send: Any) -> None:
        await tell(send, worker_of(site), "text/javascript; charset=utf-8", "no-cache")

    async def manifest(request: Any, send: Any) -> None:
        await tell(send, manifest_of(), "application/manifest+json", "no-cache")

    async def databases(request: Any, send: Any) -> None:
        # As Datasette tells it, but for where the files lie.
        told = [{k: v for k, v in one.items() if k != "path"} for one in datasette._connected_databases()]
        await Response.json(told).asgi_send(send)

    pages: list[tuple[str, Callable[..., Any]]] = [
        (f"^{route.address}$", SENT_TO.get(route.address, view)(site, route)) for route in ROUTES
    ]
    return [
        *pages,
        (r"^/piece/file$", file_view(site)),
        (r"^/shelf$", shelf_view(site)),
        *((rf"^/shelf/{kind}$", form_view(site, kind)) for kind in ("glass", "tile", "strip", "firing", "undo")),
        (r"^/-/databases\.json$", databases),
        (r"^/material/(?P<key>[^/]*)$", material_view(site)),
        (r"^/practice/(?P<key>[^/]+)$", topic_view(site)),
        (r"^/static/refdb\.css$", styles),
        (r"^/static/refdb\.js$", script),
        (r"^/static/sheet\.css$", sheet_styles),
        (r"^/static/bench_sheet\.css$", bench_styles),
        (r"^/static/mark\.svg$", mark),
        (r"^/favicon\.ico$", mark),
        (f"^{re.escape(WORKER.decode())}$", worker),
        (f"^{re.escape(MANIFEST)}$", manifest),
    ]


@hookimpl
def prepare_connection(conn: Any, database: str, datasette: Any) -> None:
    """The judge's functions, for those who enabled SQL."""
    site = site_of(datasette)
    if site is not None:
        for bound, most in SQL_LIMITS.items():
            conn.setlimit(bound, most)
    if site is not None and site.sql:
        from refdb.browse.tables.sql_functions import register

        register(conn, lambda: site.ref)


@hookimpl
def prepare_jinja2_environment(env: Any, datasette: Any) -> None:
    """What our templates use, for Datasette's table pages too."""
    site = site_of(datasette)
    if site is not None:
        site.furnish(env)
        head = head_of(site)
        env.globals.update(head_of=head, ways_of=ways_of, laid_out=laid_out(site, head), row_laid=row_laid(site, head))
        env.globals.update(turn=turn, rows_at_once=ROWS_AT_ONCE)
        env.globals.update(sql_on=site.sql, sql_functions=sql_names(site))


@hookimpl
def asgi_wrapper(datasette: Any) -> Callable[[Any], Any]:
    """The guard in front of everything."""
    site = site_of(datasette)
    if site is None:
        return lambda app: app
    takes = TAKE_A_FORM | (WRITES if site.writer is not None else frozenset())
    return lambda app: Guard(
        app if site.local else Compressed(app),
        lambda status, fault: refused(site, status, fault),
        site.local,
        site.look,
        site.names,
        takes,
    )


@hookimpl
def skip_csrf(datasette: Any, scope: Any) -> bool:
    """Who may send a form is the guard's to say, and what is written down needs a secret of ours besides."""
    return site_of(datasette) is not None and scope["path"].encode() in TAKE_A_FORM | WRITES


def refused(site: Site, status: int, fault: RefdbError, asked: tuple[str, str] = ("", "")) -> bytes:
    """An error as a page in our look; `asked` is path and query of a question, whose form is drawn again."""
    headings = {
        404: "There is no such name" if isinstance(fault, UnknownInQuery) else "There is nothing here",
        403: "This is closed",
        405: "This is for reading only",
        413: "Too large a form" if fault.where == "form" else "Too large a piece",
        414: "Too long a question",
        500: "Something broke here",
        503: "Too much is asked just now" if isinstance(fault, Busy) else "The store cannot be read",
    }
    again = form_again(site, *asked, fault)
    where = again["label"] if again and again["placed"] and fault.where else fault.where
    what = f"{where}: {fault.what}" if where else fault.what
    what = "".join(c if c.isprintable() else "?" for c in what)
    near = fault.near if isinstance(fault, NoRecord) and not isinstance(fault, UnknownInQuery) else ()
    links = fault.links if isinstance(fault, (AmbiguousQuery, UnknownInQuery)) else ()
    todo, listed = on_a_page("" if near or (links and isinstance(fault, UnknownInQuery)) else fault.todo)
    return site.written(
        View(
            "fault.html",
            {
                "heading": headings.get(status, "That cannot be answered"),
                "status": status,
                "near": near,
                "links": links,
                "again": again,
                "listed": listed,
                "what": upper_first(what.rstrip(".")) + ".",
                "todo": todo,
            },
        )
    )


def _stumbled(exception: Exception) -> bool:
    """Whether Datasette's own code took what stands in an address for something of another kind."""
    at = exception.__traceback__
    while at is not None and at.tb_next is not None:
        at = at.tb_next
    module = at.tb_frame.f_globals.get("__name__", "") if at is not None else ""
    return isinstance(exception, (TypeError, AttributeError, IndexError)) and module.partition(".")[0] == "datasette"


#: What SQLite says where a file is damaged beneath the view, or the disk refuses.
_UNREADABLE = (
    *(sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN),
    sqlite3.SQLITE_FULL,
)


def told(exception: Exception, of_tables: bool = False) -> tuple[int, RefdbError]:
    """The status and the words for an exception; `of_tables` where Datasette's own pages of tables raised it."""
    if isinstance(exception, Busy):
        return 503, exception
    unread = isinstance(exception, (ValueError, KeyError, ValueAsBooleanError, sqlite3.ProgrammingError))
    if of_tables and (unread or _stumbled(exception)):
        # Datasette reads what stands in an address as it comes.
        return 400, BadInput("this question of a table cannot be read", todo="check the address")
    if isinstance(exception, NoRecord):
        return 404, exception
    damaged = getattr(exception, "sqlite_errorcode", 0) & 0xFF in _UNREADABLE
    if damaged or isinstance(exception, StoreUnusable):
        # Its words name the file, which is nobody's business on a page.
        return 503, StoreUnusable(
            "the store cannot be read", todo="build it again with: refdb build --from data_sources"
        )
    if isinstance(exception, Refused):
        return 403, exception
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


def sql_names(site: Site) -> tuple[str, ...]:
    """Names of the judge's functions, where readers may write SQL."""
    if not site.sql:
        return ()
    from refdb.browse.tables.sql_functions import FUNCTIONS

    return tuple(FUNCTIONS)


def sql_refused(site: Site, request: Any, exception: Exception) -> bytes | None:
    """A question in SQL that was refused, still in its field with what is wrong with it; None for anything else."""
    path = request.path.partition("?")[0].rstrip("/")
    typed = request.args.get("sql")
    if (
        not site.sql
        or typed is None
        or path not in ("/reference", OWN_TABLES)
        or not isinstance(exception, DatasetteError)
    ):
        return None
    slow = exception.title == "SQL Interrupted"
    fault = "this took longer than a second and was stopped; ask for less" if slow else str(exception)
    fields = {"action": path, "typed": typed, "fault": fault.rstrip("."), "sql_functions": sql_names(site)}
    return site.written(View("sql_fault.html", fields))


@hookimpl(hookwrapper=True)
def handle_exception(datasette: Any, request: Any, exception: Exception) -> Any:
    """Errors in our look; Datasette's own handler, which prints tracebacks, is not asked."""
    outcome = yield
    site = site_of(datasette)
    if site is None:
        return
    of_tables = request.path.startswith(("/reference", "/workshop"))
    status, fault = told(exception, of_tables)
    if status == 500:
        log.error("%s", request.path, exc_info=exception)
    if request.path.partition("?")[0].endswith(".json"):
        outcome.force_result([Response.json({"ok": False, "status": status, "error": fault.line}, status=status)])
        return
    later = {"retry-after": "5"} if status == 503 else {}
    page = sql_refused(site, request, exception) or refused(
        site,
        status,
        fault,
        (request.path, request.query_string) if request.method == "GET" and status < 500 else ("", ""),
    )
    outcome.force_result([Response(page, status=status, content_type=HTML, headers=later)])


@hookimpl(hookwrapper=True)
def forbidden(datasette: Any, request: Any, message: str) -> Any:
    """What is closed, in our look."""
    outcome = yield
    site = site_of(datasette)
    if site is not None:
        status, fault = told(Forbidden(message))
        outcome.force_result([Response(refused(site, status, fault), status=status, content_type=HTML)])
