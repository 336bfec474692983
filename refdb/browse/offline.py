"""What a browser may keep of these pages for when they cannot be reached, and the file that keeps it there.

A page that is kept holds nothing of the person's own. Where there is no workshop no page can. Where there is one, the
page is written a second time from the store alone, by a view that has no workshop to read, and only that copy is given
away, and only where the own one differs from it in nothing but what can be chosen in its forms.
"""

from __future__ import annotations

import hashlib
import json
import re
from typing import TYPE_CHECKING

from refdb import __version__
from refdb.browse.pages.piece import BENCH_STYLES, BENCH_STYLES_ADDRESS, STYLES, STYLES_ADDRESS
from refdb.browse.server.query import Busy
from refdb.browse.server.watched_workshop import ABSENT
from refdb.browse.site import STATIC, Site
from refdb.errors import RefdbError

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable

    #: A page and its status, by the view it is asked of.
    Of = Callable[[Site], Awaitable[tuple[bytes, int]]]

#: The header of an answer that may be kept, and the one that asks for a copy without own records.
MARK, COPY = "refdb-keep", "refdb-copy"
#: Said after the version where a copy has to be asked for.
ASK = " ask"
LIST, MANIFEST, ICON = "/offline", "/static/refdb.webmanifest", "/static/mark.svg"
#: Pages that tell of the person's own, or of what others gave; the shelf is no page of `views.ROUTES`.
NEVER = frozenset({"/pool"})
_MAIN = re.compile(r"<main\b.*</main>", re.S)
_CHOICES = re.compile(r"<select\b.*?</select>", re.S)


def version_of(site: Site) -> str:
    """What stands for the store, the program and its looks: another wherever a kept page may be out of date."""
    found: str | None = site.__dict__.get("_version")
    if found is None:
        told = hashlib.sha256(f"{__version__} {site.styles_address} {site.script_address}".encode())
        for file in (site.path, STATIC / "worker.js", STYLES, BENCH_STYLES):
            with file.open("rb") as read:
                told.update(hashlib.file_digest(read, "sha256").digest())
        found = site.__dict__["_version"] = told.hexdigest()[:16]
    return found


def worker_of(site: Site) -> bytes:
    """The file that keeps pages, with its version and what it keeps besides."""
    files = [site.styles_address, site.script_address, STYLES_ADDRESS, BENCH_STYLES_ADDRESS, ICON, LIST]
    text = (STATIC / "worker.js").read_text(encoding="utf-8")
    return text.replace('"VERSION"', json.dumps(version_of(site))).replace('["FILES"]', json.dumps(files)).encode()


def manifest_of() -> bytes:
    """What a browser is told so that it can be put among other programs."""
    told = {
        "name": "refdb: glass on metal",
        "short_name": "refdb",
        "id": "/",
        "start_url": "/",
        "scope": "/",
        # With a way back, by which a step of the builder is undone.
        "display": "minimal-ui",
        "background_color": "#fcfcf9",
        "theme_color": "#fcfcf9",
        "icons": [{"src": ICON, "sizes": "any", "type": "image/svg+xml", "purpose": "any"}],
    }
    return json.dumps(told).encode()


def marks(site: Site, address: str, status: int) -> dict[str, str]:
    """The headers that tell a browser whether a page may be kept as it is, or as a copy to be asked for."""
    if status != 200 or address in NEVER:
        return {}
    return {MARK: version_of(site) + ("" if site.state == ABSENT else ASK)}


def without_own(site: Site) -> Site:
    """The same view of the store alone, which has no workshop and no pool to read."""
    if site.bare is None:
        site.bare = Site(site.path, local=site.local, sql=site.sql, names=site.names, writer=site.writer)
        site.bare.worker = site.worker
    site.bare.network_address = site.network_address
    return site.bare


async def given(site: Site, address: str, copy: bool, of: Of) -> tuple[bytes, int, dict[str, str]]:
    """A page, its status, and whether it may be kept.

    Parameters
    ----------
    site : Site
        The view.
    address : str
        Of the page, without its query.
    copy : bool
        Whether the page is asked for without own records, to be kept. Where they make another page of it the answer is
        empty, with status 204.
    of : callable
        The page and its status, by this view or by the one of the store alone.
    """
    before = site.state
    body, status = await of(site)
    told = marks(site, address, status)
    if not copy or (before == ABSENT and site.state == ABSENT):
        return body, status, told
    try:
        bare, bare_status = await of(without_own(site)) if told else (b"", status)
    except Busy:
        raise
    except RefdbError:
        bare, bare_status = b"", 404
    same = address == LIST or _said(bare) == _said(body)
    if not told or bare_status != 200 or not same:
        return b"", 204, {}
    return bare, 200, {MARK: version_of(site)}


def _said(body: bytes) -> str:
    """What a page says, without what can be chosen in its forms."""
    main = _MAIN.search(body.decode())
    return _CHOICES.sub("", main[0]) if main else ""
