"""Pages that open where the view cannot be reached: which may be kept, by whom, for how long, and never own records."""

from __future__ import annotations

import json
import re
import shutil
import sqlite3
import time
from urllib.parse import urlsplit

import pytest
from browse_client import Asking, served, write_shelf
from chromium_pipe import PROGRAM, Browser
from conftest import ROOT

from refdb.browse.offline import COPY, MARK
from refdb.browse.server.application import build

PIECE, SHEET, BENCH = (f"/piece{part}?example=moth" for part in ("", "/sheet", "/bench"))
VERDICT = "/suits?glass=clear-hard-lead-free&metal=copper-sheet"
JAR = ("add", "glass", "--name", "Jar 12", "--like", "opal-lead-free", "--basis", "guess")
#: What names the jar, its tile or the shelf's own tables on a page.
OWN = ("jar 12", "jar-12", "own-tile", "/workshop")
needs_browser = pytest.mark.skipif(PROGRAM is None, reason="there is no chromium on this computer")


@pytest.fixture(scope="module")
def shelf(store, tmp_path_factory):
    path = tmp_path_factory.mktemp("own") / "shelf.db"
    write_shelf(path, store, JAR, ("tile", "my:jar-12", "copper-sheet", "--outcome", "crazed"))
    return path


@pytest.fixture(scope="module")
def alone(store):
    asked = Asking(store)
    yield asked
    asked.close()


@pytest.fixture(scope="module")
def asking(store, shelf):
    asked = Asking(store, workshop=shelf)
    yield asked
    asked.application.refdb_site.leave_workshop()
    asked.close()


def copied(asked, path):
    return asked.get(path, **{COPY: "1"})


def test_without_a_shelf_a_page_is_marked_as_it_is(alone):
    version = alone.get("/").headers[MARK]
    assert re.fullmatch(r"[0-9a-f]{16}", version)
    for path in (PIECE, SHEET, BENCH, VERDICT, "/material/copper-sheet", "/practice"):
        assert alone.get(path).headers[MARK] == version
        assert copied(alone, path).body == alone.get(path).body
    assert f'"{version}"' in alone.get("/worker.js").body


@pytest.mark.parametrize(
    "path", ["/nosuch", "/pool", "/shelf", "/reference/contacts", "/suits?x=1", "/piece?text=a", "/piece/file?p=x"]
)
def test_what_is_no_page_of_ours_is_not_marked(alone, asking, path):
    assert MARK not in alone.get(path).headers
    assert MARK not in asking.get(path).headers
    assert MARK not in copied(asking, path).headers


def test_a_form_that_is_sent_is_not_marked(alone):
    body = b"text=%5Bpiece%5D"
    kind = (b"content-type", b"application/x-www-form-urlencoded")
    assert MARK not in alone.raw(b"/piece", method="POST", headers=[kind], body=[body]).headers


def test_beside_a_shelf_a_copy_has_to_be_asked_for_and_holds_nothing_of_it(asking):
    """The jar stands in the form of every verdict; the copy's form has none, and its words are the same."""
    assert "Jar 12" in asking.get(VERDICT).body
    for path in (PIECE, SHEET, BENCH, VERDICT, "/find?q=foil", "/clears", "/piece/build", "/offline"):
        version, how = asking.get(path).headers[MARK].split()
        copy = copied(asking, path)
        assert (how, copy.status, copy.headers[MARK]) == ("ask", 200, version)
        assert [word for word in OWN if word in copy.body.lower()] == []


@pytest.mark.parametrize(
    "path",
    [
        "/material/my:jar-12",
        "/suits?glass=my:jar-12&metal=copper-sheet",
        "/suits?glass=jar+12&metal=copper-sheet",
        "/suits?metal=copper-sheet",
        "/materials",
        "/grid",
        "/material/copper-sheet",
        "/piece?text=%5Bpiece%5D",
    ],
)
def test_where_own_records_make_another_page_there_is_no_copy(asking, path):
    copy = copied(asking, path)
    assert MARK not in copy.headers
    assert copy.status in (204, 400)
    assert copy.status == 400 or copy.body == ""


def test_an_own_kiln_keeps_the_sheet_from_being_kept(store, tmp_path):
    """The settings on it are the kiln's; those of the store alone would be others."""
    write_shelf(tmp_path / "shelf.db", store, ("kiln", "12 K"))
    asked = Asking(store, workshop=tmp_path / "shelf.db")
    assert asked.get(BENCH).status == 200
    assert copied(asked, BENCH).status == 204
    assert copied(asked, VERDICT).status == 200
    asked.application.refdb_site.leave_workshop()
    asked.close()


def test_another_store_is_another_version(alone, other_store):
    asked = Asking(other_store)
    assert asked.get("/").headers[MARK] != alone.get("/").headers[MARK]
    asked.close()


def test_it_can_be_put_among_programs(alone):
    answer = alone.get("/static/refdb.webmanifest")
    told = json.loads(answer.body)
    assert (told["start_url"], told["scope"]) == ("/", "/")
    assert {alone.get(icon["src"]).status for icon in told["icons"]} == {200}
    policy = answer.headers["content-security-policy"]
    assert "worker-src 'self'" in policy
    assert "manifest-src 'self'" in policy
    assert alone.get("/worker.js").headers["content-security-policy"] == "default-src 'none'; connect-src 'self'"


def test_all_scripts_together_are_small_and_this_one_asks_nobody_else():
    """It asks by places of this view alone: no address of another stands in it."""
    static = ROOT / "refdb" / "browse" / "static"
    assert sum(file.stat().st_size for file in static.glob("*.js")) <= 20_000
    text = (static / "worker.js").read_text(encoding="utf-8")
    for word in ("importScripts", "eval(", "XMLHttpRequest", "WebSocket", "indexedDB", "http:", "https:"):
        assert word not in text, word


@pytest.fixture(scope="module")
def other_store(store, tmp_path_factory):
    """The store with one word changed."""
    path = tmp_path_factory.mktemp("other") / "reference.db"
    shutil.copy(store, path)
    with sqlite3.connect(path) as db:
        db.execute("UPDATE materials SET summary = summary || ' Soft.' WHERE key = 'copper-sheet'")
    db.close()
    return path


@pytest.fixture
def browser():
    with Browser() as opened:
        opened.size(360, 640)
        yield opened


def held(browser):
    """What the browser has kept: pages by address, and the texts of all."""
    found = browser.send(
        "Runtime.evaluate",
        awaitPromise=True,
        returnByValue=True,
        expression="""(async () => { const told = {};
            for (const name of await caches.keys()) { if (!name.startsWith("refdb pages")) continue;
              const cache = await caches.open(name);
              for (const key of await cache.keys()) told[key.url] = await (await cache.match(key)).text(); }
            return told; })()""",
    )
    return {
        urlsplit(url)._replace(scheme="", netloc="").geturl(): text for url, text in found["result"]["value"].items()
    }


def until(asked):
    """Wait for what comes after a page is shown; false where it does not."""
    for _ in range(100):
        if asked():
            return True
        time.sleep(0.1)
    return False


def opened_and_kept(browser, address, *paths):
    for path in paths:
        browser.open(address + path)
        assert until(lambda path=path: path in held(browser)), path


@pytest.mark.slow
@needs_browser
def test_a_piece_and_its_sheets_open_again_when_the_view_is_gone(browser, store, tmp_path):
    heads = {}
    with served(build(store, workshop=tmp_path / "none.db")) as address:
        browser.open(address + "/")
        assert until(lambda: browser.ask("!!navigator.serviceWorker.controller"))
        for path in (PIECE, SHEET, BENCH, VERDICT):
            opened_and_kept(browser, address, path)
            heads[path] = browser.ask("document.querySelector('main h1, main .word').textContent")
        browser.open(address + "/shelf")
        browser.open(address + "/reference/contacts")
    for path, head in heads.items():
        browser.open(address + path)
        assert browser.ask("document.querySelector('main h1, main .word').textContent") == head
        assert "cannot be reached just now" in browser.ask("document.querySelector('main p').textContent")
        assert "Palatino" in browser.ask("getComputedStyle(document.body).fontFamily")
    browser.open(address + BENCH)
    browser.printed(tmp_path / "sheet.pdf")
    assert len(re.findall(rb"/Type\s*/Page\b", (tmp_path / "sheet.pdf").read_bytes())) == 2
    for path in ("/shelf", "/reference/contacts", "/nosuch"):
        browser.open(address + path)
        assert browser.ask("document.querySelector('h1').textContent") == "Kept for later"
        assert "this page was not kept" in browser.ask("document.querySelector('main').innerText")
    assert until(lambda: browser.ask("document.querySelectorAll('[data-kept] a').length") == 5)
    browser.ask("document.querySelector('[data-kept] button').click()")
    assert until(lambda: held(browser) == {})
    browser.open(address + PIECE)
    assert browser.ask("document.querySelector('h1').textContent") == "Kept for later"


@pytest.mark.slow
@needs_browser
def test_what_was_kept_of_an_older_store_goes(browser, store, other_store):
    with served(build(store)) as address:
        opened_and_kept(browser, address, "/", PIECE)
    with served(build(other_store), urlsplit(address).port) as same:
        assert same == address
        browser.open(address + "/material/copper-sheet")
        assert until(lambda: list(held(browser)) == ["/material/copper-sheet"])
        assert "Soft." in held(browser)["/material/copper-sheet"]
    browser.open(address + PIECE)
    assert browser.ask("document.querySelector('h1').textContent") == "Kept for later"


@pytest.mark.slow
@needs_browser
def test_thirty_are_kept_and_the_oldest_goes_first(browser, store):
    paths = [f"/find?q={n}" for n in range(32)]
    with served(build(store)) as address:
        opened_and_kept(browser, address, "/", *paths)
        assert list(held(browser)) == paths[2:]
        browser.open(address + paths[2])
        opened_and_kept(browser, address, "/about")
        assert list(held(browser)) == [*paths[4:], paths[2], "/about"]


@pytest.mark.slow
@needs_browser
def test_nothing_of_a_shelf_is_ever_kept(browser, store, shelf):
    with served(build(store, workshop=shelf)) as address:
        opened_and_kept(browser, address, "/find?q=foil", VERDICT, PIECE)
        for path in ("/material/my:jar-12", "/suits?glass=my:jar-12&metal=copper-sheet", "/materials", "/grid"):
            browser.open(address + path)
            assert "Jar 12" in browser.ask("document.body.textContent")
        opened_and_kept(browser, address, "/practice")
        kept = held(browser)
    assert set(kept) == {"/find?q=foil", VERDICT, PIECE, "/practice"}
    assert [word for word in OWN for text in kept.values() if word in text.lower()] == []
