"""The shelf as the server asks for it: shown to who may see it, and changed by forms where the view was started so."""

from __future__ import annotations

import re
from collections.abc import Awaitable, Callable
from typing import Any

from datasette import Response

from refdb.browse.pages import shelf as shelf_page
from refdb.browse.pages.shelf_forms import FILLED, LABELS, SECRET, UNDO, WrongField, kept, undone
from refdb.browse.server.query import address, read_query
from refdb.browse.server.writing import LONGEST_FORM, Writer
from refdb.browse.site import Site, View
from refdb.browse.views import HTML, in_turn, tell
from refdb.errors import BadInput, NotFound
from refdb.store.workshop.keys import PREFIX

Handler = Callable[[Any, Any], Awaitable[None]]
_KEPT = re.compile(r"(tile|strip|firing):[0-9]{1,9}")


def shelf_view(site: Site) -> Handler:
    """The page; never kept, since it holds what only who may write shall see."""

    async def answered(request: Any, send: Any) -> None:
        query = read_query(request.query_string, ("token", "kept", *FILLED))
        filled = {name: query[name] for name in FILLED if name in query}
        writer = site.writer
        if "token" in query:
            if writer is None or not writer.is_token(query["token"].strip().lower()):
                raise BadInput("this is not the word that the terminal showed", "word", "type it again")
            # The word goes into a cookie and out of the address.
            headers = {
                "location": address("/shelf", **filled),
                "set-cookie": writer.cookie,
                "cache-control": "no-store",
            }
            await Response("", status=303, headers=headers).asgi_send(send)
            return
        said: dict[str, Any] = {"kind": "tile", "form": filled} if filled else {}
        kind, _, number = query.get("kept", "").partition(":")
        jars = site.ref.owned("glass") if kind == "glass" else ()
        jar = next((g.label for g in jars if g.key == PREFIX + number), "")
        if jar or _KEPT.fullmatch(query.get("kept", "")):
            said |= {"kept": jar or query["kept"], "undo": (kind, number)}
        may_write = _may(writer, request)
        page = await in_turn(
            site, lambda: shelf_page.build(site, may_write, said), lambda: shelf_page.is_slow(site), request.receive
        )
        await _tell(site, page, send)

    return answered


def _may(writer: Writer | None, request: Any) -> bool:
    return writer is not None and writer.knows(request.headers.get("cookie", ""))


async def _tell(site: Site, page: View, send: Any) -> None:
    await tell(send, site.written(page), HTML, "no-store", page.status)


def form_view(site: Site, kind: str) -> Handler:
    """What takes a form of the shelf, and answers with the shelf as it is then."""
    names = (SECRET, *(UNDO if kind == "undo" else LABELS[kind]))

    async def answered(request: Any, send: Any) -> None:
        from refdb.browse.server.upload import body_of, fields_of, readable, texts_of

        writer = site.writer
        if writer is None:
            raise NotFound("no page has this address", todo="check the address")
        if request.method != "POST":
            await Response("", status=303, headers={"location": "/shelf"}).asgi_send(send)
            return
        read_query(request.query_string, ())
        body = await body_of(request.receive, request.headers.get("content-length"), LONGEST_FORM)
        fields = fields_of(request.headers.get("content-type", ""), body, names)
        form = readable(fields)
        if not _may(writer, request) or not writer.is_secret(form.pop(SECRET, "")):
            raise Refused("this form is not one of this view", todo="open the shelf again and fill it in there")

        def undo() -> View:
            undone(site, writer, form)
            return View("")

        if kind == "undo":
            form = texts_of({name: fields[name] for name in form})
            await in_turn(site, undo, lambda: True, request.receive)
            await _on(send, "/shelf")
            return
        found: list[str] = []

        def work() -> View:
            try:
                texts_of({name: fields[name] for name in form})
            except BadInput as fault:
                raise WrongField(fault, LABELS[kind]) from None
            found.append(kept(site, writer, kind, form))
            return View("")

        try:
            await in_turn(site, work, lambda: True, request.receive)
        except WrongField as fault:
            said = shelf_page.wrong_field(fault, kind, form)
            page = await in_turn(
                site, lambda: shelf_page.build(site, True, said), lambda: shelf_page.is_slow(site), request.receive
            )
            await _tell(site, page, send)
            return
        await _on(send, address("/shelf", kept=found[0]))

    return answered


class Refused(BadInput):
    """A form from who may not write."""


async def _on(send: Any, where: str) -> None:
    await Response("", status=303, headers={"location": where, "cache-control": "no-store"}).asgi_send(send)
