"""Writing an export: which pages there are, each made by the view's own builders, and the words they are found by."""

from __future__ import annotations

import glob
import hashlib
import json
import multiprocessing
import os
import re
import shutil
from collections.abc import Callable, Collection, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import suppress
from html import unescape
from pathlib import Path
from urllib.parse import unquote

from refdb import __version__
from refdb.browse.export.places import is_exported, place_of
from refdb.browse.export.rewritten import rewritten
from refdb.browse.pages import material, practice_topic
from refdb.browse.pages.lists import hit_address
from refdb.browse.server.named import NamedQuery
from refdb.browse.server.query import read_query
from refdb.browse.site import STATIC, Site, link_to, link_to_verdict
from refdb.browse.views import ROUTES
from refdb.errors import BadInput, RefdbError
from refdb.frozen import dataclass
from refdb.pictures.marks import icon
from refdb.processes import end_with_parent
from refdb.store.edition import kept_seal
from refdb.store.hits import kind_words
from refdb.store.workshop.files import part_of, remove_stale, runs

#: What tells an export from any other folder, and what it was made of.
MANIFEST = "refdb-export.json"
_LINKS = re.compile(r'href="(/[^"#]*)')
_BATCH = 40
#: Letters of the words by which a record is found.
_MOST_WORDS = 600


@dataclass(frozen=True)
class _Wanted:
    """What of the many pages of two records is written."""

    on: tuple[str, ...]
    maps: bool


@dataclass(frozen=True)
class _To:
    """Where pages are written, what is there, and what links to shared files end with."""

    folder: Path
    places: frozenset[str]
    metals: tuple[str, ...]
    edition: str


@dataclass(frozen=True)
class Exported:
    """What was written: how many pages, and their bytes."""

    pages: int
    size: int


def export(
    store: Path,
    folder: Path,
    tell: Callable[[int, int], None],
    *,
    on: Collection[str] = (),
    maps: bool = False,
    workers: int | None = None,
) -> Exported:
    """Write every page that needs no question worked out, without own records, into a folder.

    Parameters
    ----------
    store : Path
        The reference.
    folder : Path
        Not there yet, empty, or an earlier export, which is replaced once the new one is whole.
    tell : callable
        Called with how many pages are written and how many there are.
    on : collection of str
        Keys of the metals whose verdicts are written; all where none is named.
    maps : bool
        Whether the map of builds of each glass on each metal is worked out too, some seconds each.
    workers : int, optional
        Processes; as many as there are processors unless said.

    Raises
    ------
    BadInput
        A folder that holds anything else, or that cannot be written to.
    StoreUnusable
        The store, or the fingerprint beside it, cannot be read.
    """
    _tidied(folder)
    _may_be_written(folder)
    beside = part_of(folder)
    try:
        beside.mkdir(parents=True)
        found = _written(store, beside, _Wanted(tuple(on), maps), workers, tell)
        _put_in_place(beside, folder)
    except OSError as error:
        raise BadInput(f"cannot be written: {error.strerror or error}", str(folder), "choose another folder") from None
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return found


def _may_be_written(folder: Path) -> None:
    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise BadInput("is no folder", str(folder), "name a folder that is not there yet")
    if folder.is_dir() and any(folder.iterdir()) and not (folder / MANIFEST).is_file():
        raise BadInput("holds other things", str(folder), "name a folder that is empty or not there yet")


def _put_in_place(beside: Path, folder: Path) -> None:
    """Give the new export its name, and only then let the old one go.

    A folder cannot take the place of another in one step. Whoever is killed between the two leaves the old one beside,
    and `_tidied` puts it back.
    """
    old = folder.with_name(f"{folder.name}.{os.getpid()}.old")
    if folder.exists():
        folder.rename(old)
    try:
        beside.rename(folder)
    except BaseException:
        if old.exists():
            old.rename(folder)
        raise
    shutil.rmtree(old, ignore_errors=True)


def _tidied(folder: Path) -> None:
    """Take away what exports that were killed have left beside; an export that lost its name to one gets it back."""
    remove_stale(folder)
    with suppress(OSError):
        for found in sorted(folder.parent.glob(f"{glob.escape(folder.name)}.*.old")):
            number = found.name[len(folder.name) + 1 : -len(".old")]
            if not (number.isascii() and number.isdecimal() and len(number) < 10 and (found / MANIFEST).is_file()):
                continue
            if runs(int(number)) and int(number) != os.getpid():
                continue
            if folder.exists():
                shutil.rmtree(found, ignore_errors=True)
            else:
                found.rename(folder)


def _written(
    store: Path, folder: Path, wanted: _Wanted, workers: int | None, tell: Callable[[int, int], None]
) -> Exported:
    site = _opened(store, wanted.on)
    bodies, pairs = _found(site, wanted)
    places = {place_of(a) for a in (*bodies, *pairs)}
    shutil.copytree(STATIC, folder / "static", ignore=shutil.ignore_patterns("worker.js"))
    (folder / "static" / "mark.svg").write_text(icon(), encoding="utf-8")
    _write_index(site, folder, places)
    edition = edition_of(store, folder / "static")
    places |= {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}
    to = _To(folder, frozenset(places), wanted.on, edition)
    size = sum(_put(to, address, body) for address, body in bodies.items())
    total, done = len(bodies) + len(pairs), len(bodies)
    tell(done, total)
    batches = [pairs[n : n + _BATCH] for n in range(0, len(pairs), _BATCH)]
    # Started anew, for a copy of a process with threads may hang.
    with ProcessPoolExecutor(
        workers or os.cpu_count(), multiprocessing.get_context("spawn"), _begin, (store, to)
    ) as pool:
        for number, bytes_ in enumerate(pool.map(_write_batch, batches)):
            size += bytes_
            done += len(batches[number])
            tell(done, total)
    manifest = {
        "refdb": __version__,
        "edition": edition,
        "pages": total,
        "bytes": size,
        "on": wanted.on,
        "maps": wanted.maps,
    }
    (folder / MANIFEST).write_text(json.dumps(manifest, indent=1) + "\n", encoding="utf-8")
    site.close()
    return Exported(total, size)


def _opened(store: Path, metals: tuple[str, ...]) -> Site:
    """The view behind an export of the verdicts on these metals, on all where none is named."""
    site = Site(store)
    site.only_on = metals
    return site


def _found(site: Site, wanted: _Wanted) -> tuple[dict[str, str], list[str]]:
    """Pages reached from the front page, with their bodies; and the many of two records, still to be written."""
    every, glasses, leaves = ([r.key for r in site.ref.materials(kind)] for kind in ("metal", "glass", "leaf"))
    metals = [key for key in every if not wanted.on or key in wanted.on]
    pairs = [link_to_verdict(glass, metal) for glass in glasses for metal in metals]
    pairs += [f"/clears?leaf={leaf}&metal={metal}" for leaf in leaves for metal in metals]
    if wanted.maps:
        pairs += [f"/builds?glass={glass}&metal={metal}" for glass in glasses for metal in metals]
    waiting = ["/", "/find", "/suits", "/clears", "/builds", *(link_to(key) for key in (*every, *glasses, *leaves))]
    waiting += [f"/suits?{kind}={key}" for kind, keys in (("metal", metals), ("glass", glasses)) for key in keys]
    waiting += [f"/builds?metal={metal}" for metal in metals]
    waiting += [f"/sources?key={one.key}" for one in site.ref.sources()]
    bodies: dict[str, str] = {}
    seen = {place_of(address) for address in waiting}
    while waiting:
        address = waiting.pop()
        try:
            body = bodies[address] = _body(site, address)
        except RefdbError:
            continue  # a link that leads nowhere becomes its words
        for link in _LINKS.findall(body):
            onwards = unescape(link)
            place = place_of(onwards)
            if onwards.startswith(("/suits?", "/clears?", "/builds?")):
                continue  # those that are wanted are named above
            if place not in seen and is_exported(onwards):
                seen.add(place)
                waiting.append(onwards)
    return bodies, pairs


def _body(site: Site, address: str) -> str:
    """A page as the view shows it."""
    path, _, text = address.partition("?")
    if path.startswith("/material/"):
        return site.written(material.build(site, unquote(path.removeprefix("/material/")))).decode()
    if path.startswith("/practice/"):
        return site.written(practice_topic.build(site, unquote(path.removeprefix("/practice/")))).decode()
    route = next((r for r in ROUTES if r.address == path), None)
    if route is None:
        raise BadInput("is no page", address, "check the address")
    query = read_query(text, route.parameters, several=route.several)
    asked = NamedQuery(site, path, query, "metal_thickness" in route.parameters)
    return site.written(asked.told(route.build(site, asked.query))).decode()


def _put(to: _To, address: str, body: str) -> int:
    place = place_of(address)
    file = to.folder / place
    file.parent.mkdir(parents=True, exist_ok=True)
    return file.write_bytes(rewritten(body, place, to.places, to.metals, to.edition).encode())


_here: tuple[Site, _To]


def _begin(store: Path, to: _To) -> None:
    """What a process of the pool has ready."""
    global _here
    end_with_parent()
    _here = _opened(store, to.metals), to


def _write_batch(addresses: list[str]) -> int:
    site, to = _here
    return sum(_put(to, address, _body(site, address)) for address in addresses)


def edition_of(store: Path, shared: Path) -> str:
    """What tells this store and the files that its pages share from any other, in a few digits."""
    seal = kept_seal(store)
    made = hashlib.sha256(seal.of_rows.encode() if seal is not None else b"")
    for file in sorted(shared.iterdir()):
        made.update(f"{file.name}\n{file.stat().st_size}\n".encode())
        made.update(file.read_bytes())
    return made.hexdigest()[:12]


def _write_index(site: Site, folder: Path, places: set[str]) -> None:
    """The words of every record that has a page here, as a script: one that a page in a folder may load."""
    entries = list(_entries(site, places))
    text = json.dumps(entries, ensure_ascii=False, separators=(",", ":")).replace("</", "<\\/")
    (folder / "static" / "search.js").write_text(f"window.REFDB={text};\n", encoding="utf-8")


def _entries(site: Site, places: set[str]) -> Iterator[tuple[str, str, str, str]]:
    """File with its part, title, kind, and words of each record."""
    for row in site.ref.rows("SELECT key, kind, title, words, body FROM search ORDER BY kind, key"):
        address, mark, part = hit_address(site.ref, row["kind"], row["key"]).partition("#")
        if address and place_of(address) in places:
            words = " ".join(f"{row['key']} {row['words']} {row['body']}".split())
            yield f"{place_of(address)}{mark}{part}", row["title"], kind_words(row["kind"]), words[:_MOST_WORDS]
