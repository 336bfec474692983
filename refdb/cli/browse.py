"""The store in a browser."""

from __future__ import annotations

import re
import sys
from typing import TYPE_CHECKING, Annotated

from refdb.cli.common import (
    PoolOption,
    complete_metal,
    names_in,
    opened,
    seen_workshop,
    store_path,
    typed,
    workshop_path,
)
from refdb.cli.options import Option
from refdb.cli.output import complain, emit, shows_signs
from refdb.cli.pool_learning import NO_POOL
from refdb.errors import BadInput, StoreUnusable
from refdb.quantities.band import shown

if TYPE_CHECKING:
    from refdb.browse.server.public_address import PublicAddress
    from refdb.browse.server.writing import Writer


def browse(
    port: Annotated[
        str | None, Option("--port", metavar="NUMBER", help="The port; without it the usual one, or a free one.")
    ] = None,
    no_open: Annotated[bool, Option("--no-open", help="Do not open a browser.")] = False,
    host: Annotated[
        str, Option("--host", metavar="ADDRESS", help="Where to listen; anything but 127.0.0.1 lets others in.")
    ] = "127.0.0.1",
    address: Annotated[
        str | None,
        Option("--address", metavar="URL", help="With --host: how others open it, such as http://bench.local."),
    ] = None,
    shelf: Annotated[bool, Option("--shelf", help="With --host: show your own shelf to all who are let in.")] = False,
    write: Annotated[
        bool, Option("--write", help="Let jars, tiles, strips and firings be written down on your shelf.")
    ] = False,
    export: Annotated[
        str | None,
        Option("--export", metavar="DIR", help="Write the pages that need no question worked out as files, and end."),
    ] = None,
    on: Annotated[
        list[str] | None,
        Option(
            "--on", metavar="METAL", autocompletion=complete_metal, help="With --export: verdicts on this metal alone."
        ),
    ] = None,
    maps: Annotated[
        bool, Option("--maps", help="With --export: the map of builds of each pair too, some seconds each.")
    ] = False,
    workers: Annotated[
        str | None,
        Option("--workers", metavar="NUMBER", help="So many processes answer, each on a processor of its own."),
    ] = None,
    sql: Annotated[
        bool, Option("--sql", help="Let readers write SQL, with verdict(glass, metal) and other functions.")
    ] = False,
    pool: PoolOption = None,
) -> None:
    """Open the store and your own shelf in a browser.

    It runs until Ctrl-C. Pages are served to this computer alone unless --host says otherwise.

    \b
    Examples:
      refdb browse --port 8800
      refdb browse --workshop other.db
      refdb browse --host 0.0.0.0 --shelf --write
      refdb browse --host 0.0.0.0 --address http://bench.local
      refdb browse --export pages --on "copper sheet" --on "fine silver clay"
    """
    if export is not None:
        _export(export, on or [], maps=maps)
        return
    if on or maps:
        raise BadInput("is of use with --export alone", "--on" if on else "--maps", "add --export DIR")
    number = None if port is None else int(port) if re.fullmatch("[0-9]{1,5}", port) else 0
    if number is not None and not 1 <= number <= 65535:
        raise BadInput(f"{shown(port)} is no port", "--port", "give 1 to 65535, or leave it away")
    count = _workers(workers)
    from refdb.browse.server.application import is_loopback, serve
    from refdb.store.pool.place import pool_path

    there = _there(address, host)
    if write and not shelf and not is_loopback(host):
        raise BadInput("--write needs your own shelf to be shown", "--host", "add --shelf, or leave --host away")
    if not is_loopback(host):
        own = " and your own shelf" if shelf and workshop_path().is_file() else ""
        complain(f"--host {host}: everyone who reaches this computer on the network can read these pages{own}")
        if not shelf and workshop_path().is_file():
            complain("your own shelf is left out; --shelf shows it to them")
    own_shelf = workshop_path() if shelf or is_loopback(host) else None
    if own_shelf is not None:
        _bring_up_to_date()
        if pool and not pool_path(own_shelf).is_file():
            complain(NO_POOL)
    elif pool:
        complain("the pool is left out with your own shelf; --shelf shows it to them")

    writer = _writer(host, there) if write else None

    def ready(address: str) -> None:
        emit(f"Reading at {address} (Ctrl-C ends it)\n")
        if not is_loopback(host):
            address = _for_phones(address, host, there)
        if writer is not None:
            token = f"?token={writer.token}" if writer.token else ""
            address += f"shelf{token}"
            emit(f"Write on your shelf at {address}\n")
        if not is_loopback(host):
            _show_code(address)
        if not no_open:
            import threading
            import webbrowser

            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()

    if count is None:
        serve(store_path(), host, number, ready, workshop=own_shelf, sql=sql, writer=writer, there=there, pool=pool)
        return
    from refdb.browse.server.workers import Served, serve_by

    serve_by(count, Served(store_path(), host, own_shelf, sql, writer, there, pool), number, ready, complain)


def _workers(typed_count: str | None) -> int | None:
    if typed_count is None:
        return None
    from refdb.browse.server.workers import MOST_WORKERS

    count = int(typed_count) if re.fullmatch("[0-9]{1,3}", typed_count) else 0
    if not 1 <= count <= MOST_WORKERS:
        raise BadInput(f"{shown(typed_count)} is no number of workers", "--workers", f"give 1 to {MOST_WORKERS}")
    return count


def _there(typed_address: str | None, host: str) -> PublicAddress | None:
    """How others on the network open it, where that is said."""
    if typed_address is None:
        return None
    from refdb.browse.server.application import is_loopback
    from refdb.browse.server.public_address import read_address

    found = read_address(typed_address)
    if is_loopback(host):
        raise BadInput("is for others on the network, and none of them is let in", "--address", "add --host 0.0.0.0")
    return found


def _for_phones(address: str, host: str, there: PublicAddress | None) -> str:
    """The address as others on the network open it, which is said where it is another."""
    from refdb.browse.server.application import reachable

    port = int(address.rstrip("/").rpartition(":")[2])
    found = reachable(host)
    if there is None and found == host:
        return address
    told = f"{there.at(port)}/" if there is not None else f"http://{found}:{port}/"
    emit(f"On the network it is {told}\n")
    return told


def _show_code(address: str) -> None:
    """The address for the camera of a phone, where the terminal can show it."""
    if not shows_signs():
        return
    from refdb.browse.server.square_code import code_lines

    lines = code_lines(address)
    if lines:
        emit("\n".join(lines) + "\n")


def _writer(host: str, there: PublicAddress | None) -> Writer:
    """Who may write: anyone at this computer, or who has the link that is shown here."""
    from refdb.browse.server.application import is_loopback
    from refdb.browse.server.writing import Writer, new_token

    over_https = there is not None and there.scheme == "https"
    return Writer(workshop_path(), "" if is_loopback(host) else new_token(), over_https)


def _export(folder: str, on: list[str], *, maps: bool) -> None:
    from pathlib import Path

    from refdb.browse.export.written import export

    if not folder.strip():
        raise BadInput("names no folder", "--export", "name one that is not there yet")
    with opened() as ref:
        names = names_in(ref)
        keys = [names.key(typed(one), "metal", "--on") for one in on]

    def tell(done: int, total: int) -> None:
        if sys.stderr.isatty():
            sys.stderr.write(f"\r{done:,} of {total:,} pages" + ("\n" if done == total else ""))
            sys.stderr.flush()

    found = export(store_path(), Path(folder), tell, on=keys, maps=maps)
    emit(f"{found.pages:,} pages, {found.size / 1e6:.0f} MB, in {folder}: open index.html there, or serve the folder\n")


def _bring_up_to_date() -> None:
    """Bring a workshop of an older version up to date, as every command does; say so where it cannot be read."""
    from refdb.store.workshop.file import Workshop

    try:
        workshop = seen_workshop(own=False)
        if workshop.exists():
            Workshop(workshop).close()
    except StoreUnusable as fault:
        complain(f"your own shelf is left out: {fault.line}")
