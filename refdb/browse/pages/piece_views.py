"""The page of a whole piece: its file pasted, sent or the example; judged, planned, and as a sheet. Nothing is kept."""

from __future__ import annotations

from refdb.browse.pages.piece import example
from refdb.browse.pages.printed import on_a_page
from refdb.browse.server.packed import packed, unpacked, without_remarks
from refdb.browse.server.query import address, chosen
from refdb.browse.site import Site, View
from refdb.errors import BadInput, NotFound, RefdbError, StoreUnusable
from refdb.words import upper_first


def build(site: Site, query: dict[str, str]) -> View:
    """The judged piece, or the form alone."""
    text = _text(query)
    return build_text(site, text, "piece") if text else _page({"title": "Will this piece work?", "text": ""})


def build_text(site: Site, text: str, where: str) -> View:
    """The judged piece of a text; `where` is how it is called in messages."""
    # Here and below: what judges and plans is loaded only by those who ask for it.
    from refdb.browse.pages.piece_answer import answered, fields

    try:
        return _page(fields(site, text, *answered(site, text, where)))
    except StoreUnusable:
        raise
    except RefdbError as fault:
        # The text stays on the page, to be mended there.
        told = _of_the_file(fault)
        what = f"{told.where}: {told.what}" if told.where else told.what
        todo, listed = on_a_page(told.todo)
        what = "".join(c if c.isprintable() else "?" for c in what)
        return _page(
            {
                "title": "This piece cannot be read",
                "text": text,
                "fault": upper_first(what),
                "todo": todo,
                "listed": listed,
            },
            400,
        )


def printed(site: Site, query: dict[str, str]) -> View:
    """The sheet for the bench, whole and ready."""
    text = _text(query)
    if not text:
        raise BadInput("there is no piece", "piece", "paste its file, or send it")
    return printed_text(site, text, "piece")


def printed_text(site: Site, text: str, where: str) -> View:
    """The sheet for the bench of the piece of a text."""
    from refdb.browse.pages.piece_answer import answered, sheet_of

    try:
        _, verdict, plan = answered(site, text, where)
    except NotFound as fault:
        raise _of_the_file(fault) from None
    return View("sheet.html", {"sheet": sheet_of(plan, verdict, site.script_address)})


def bench(site: Site, query: dict[str, str]) -> View:
    """The two pages for the kiln's side."""
    from refdb.browse.pages.piece_answer import answered, bench_of

    text = _text(query)
    if not text:
        raise BadInput("there is no piece", "piece", "paste its file, or send it")
    try:
        _, verdict, plan = answered(site, text, "piece")
    except NotFound as fault:
        raise _of_the_file(fault) from None
    sheet = bench_of(plan, verdict, address("/piece", **query), site.script_address, back_to(site, query, text))
    return View("sheet.html", {"sheet": sheet})


def back_to(site: Site, query: dict[str, str], text: str) -> str:
    """The address of a piece on the network, as short as it can be told; empty where nobody can open it from there."""
    if not site.network_address:
        return ""
    if "example" in query:
        return site.network_address + address("/piece", **query)
    try:
        return site.network_address + address("/piece", p=packed(without_remarks(text)))
    except BadInput:
        return ""


def _page(fields: dict[str, object], status: int = 200) -> View:
    return View("piece.html", {"verdict": None, "fault": "", "sheet": "", "bench": ""} | fields, "/piece", status)


def _of_the_file(fault: RefdbError) -> RefdbError:
    """The page is there; it is the file that names what is not."""
    if not isinstance(fault, NotFound):
        return fault
    near = f"did you mean {' or '.join(fault.near)}" if fault.near else fault.todo
    return BadInput(fault.what, fault.where or "piece", near)


def _text(query: dict[str, str]) -> str:
    if "example" in query:
        if "text" in query or "p" in query:
            raise BadInput("a piece and the example are both given", "piece", "give one of them")
        chosen(query, "example", ("moth",))
        return example()
    if "p" in query:
        if "text" in query:
            raise BadInput("a piece is given twice", "piece", "give one of them")
        return unpacked(query["p"])
    return query.get("text", "")
