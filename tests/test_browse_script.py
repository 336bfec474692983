"""The one script: small, ours, and only an addition; what it does is tried in a real browser, with and without it."""

from __future__ import annotations

import re

import pytest
from browse_client import Asking, served
from chromium_pipe import PROGRAM, Browser
from conftest import ROOT

from refdb.browse.server.application import build

SCRIPT = ROOT / "refdb" / "browse" / "static" / "refdb.js"
VERDICT = "/suits?glass=clear-hard-lead-free&metal=copper-sheet"


def test_it_is_small_and_reaches_for_nothing():
    text = SCRIPT.read_text(encoding="utf-8")
    assert len(text.encode()) <= 20_000
    for word in (
        "fetch(",
        "XMLHttpRequest",
        "WebSocket",
        "sendBeacon",
        "import(",
        "eval(",
        "innerHTML",
        "http:",
        "https:",
    ):
        assert word not in text, word


def test_every_page_asks_for_it_by_what_is_in_it(store):
    asked = Asking(store)
    found = {
        re.search(r'<script src="(/static/refdb\.js\?v=[0-9a-f]{12})" defer>', asked.get(p).body)[1]
        for p in ("/", VERDICT)
    }
    assert len(found) == 1
    answer = asked.get(found.pop())
    assert answer.headers["content-type"].startswith("text/javascript")
    assert "immutable" in answer.headers["cache-control"]
    assert answer.body == SCRIPT.read_text(encoding="utf-8")
    asked.close()


@pytest.fixture(scope="module")
def address(store):
    with served(build(store)) as found:
        yield found


@pytest.fixture(scope="module")
def browser():
    if PROGRAM is None:
        pytest.skip("chromium is not installed")
    with Browser() as opened:
        yield opened


def test_a_long_select_opens_a_list_that_narrows(browser, address):
    browser.size(360, 640)
    browser.console.clear()
    browser.open(address + "/suits")
    browser.ask("document.querySelector('#f-glass').dispatchEvent(new MouseEvent('mousedown', {cancelable: true}))")
    assert browser.ask("document.querySelector('dialog.picker').open")
    browser.ask("""const b = document.querySelector('.picker input'); b.value = 'clear hard';
        b.dispatchEvent(new Event('input'))""")
    left = browser.ask("[...document.querySelectorAll('.picker li:not([hidden])')].map(l => l.textContent)")
    assert left
    assert all("clear" in text.lower() and "hard" in text.lower() for text in left)
    # Enter takes the first that is left.
    browser.ask("document.querySelector('.picker input').focus()")
    browser.press("Enter")
    assert not browser.ask("document.querySelector('dialog.picker').open")
    assert "clear-hard" in browser.ask("document.querySelector('#f-glass').value")
    assert browser.ask("document.activeElement.id") == "f-glass"
    assert browser.ask("document.documentElement.scrollWidth") <= 360
    assert browser.console == []


def test_a_long_list_shows_only_what_holds_the_words(browser, address):
    browser.size(360, 640)
    browser.open(address + "/materials?kind=glass")
    every = browser.ask("document.querySelectorAll('.list tbody tr:not(.class)').length")
    browser.ask("""const f = document.querySelector('.filter input'); f.value = 'Lead-free CLEAR';
        f.dispatchEvent(new Event('input'))""")
    seen = browser.ask(
        "[...document.querySelectorAll('.list tbody tr:not(.class)')].filter(r => r.checkVisibility())"
        ".map(r => r.textContent)"
    )
    assert 0 < len(seen) < every
    assert all("clear" in row.lower() for row in seen)
    assert browser.ask("document.querySelector('.filter .soft').textContent") == f"{len(seen)} of {every}"
    assert browser.ask("document.documentElement.scrollWidth") <= 360


def test_the_slider_asks_for_the_verdict_at_its_thickness(browser, address):
    browser.open(address + VERDICT)
    browser._loaded = False
    browser.ask("""const s = document.querySelector('.slide input'); s.value = '0.55';
        s.dispatchEvent(new Event('input')); s.dispatchEvent(new Event('change'))""")
    browser._wait()
    assert "0.55\u00a0mm" in browser.ask("document.querySelector('h1').textContent")
    assert browser.ask("document.querySelector('.slide input').value") == "0.55"


def test_ticks_stay_for_this_piece_and_can_be_cleared(browser, address):
    bench = address + "/piece/bench?text=" + _piece()
    browser.open(bench)
    browser.ask("document.querySelector('input[type=checkbox]').click()")
    browser.open(address + "/about")
    browser.open(bench)
    assert browser.ask("document.querySelectorAll('input:checked').length") == 1
    other = browser.ask("localStorage.length")
    assert other == 1
    browser.ask("[...document.querySelectorAll('button')].find(b => b.textContent == 'Clear the ticks').click()")
    browser.open(bench)
    assert browser.ask("document.querySelectorAll('input:checked').length") == 0


def _piece():
    from urllib.parse import quote

    return quote(
        '[piece]\ntitle = "disc"\nwidth = "20 mm"\nheight = "20 mm"\n[base]\nmetal = "copper-sheet"\n'
        'thickness = "0.8 mm"\n[[step]]\ndo = "coat"\nglass = "clear-hard-lead-free"\nthickness = "0.2 mm"\n'
        '[[step]]\ndo = "fire"\nkiln = "815 C"\n',
        safe="",
    )


def test_an_answer_is_copied_as_plain_text(browser, address):
    browser.open(address + VERDICT)
    # As on a network without encryption, where there is no clipboard for pages.
    browser.ask("""navigator.clipboard.writeText = () => Promise.reject();
        document.execCommand = () => { window.copied = document.querySelector('textarea.vh').value; return true; };
        document.querySelector('.copy button').click()""")
    for _ in range(50):
        if browser.ask("window.copied"):
            break
    lines = browser.ask("window.copied").strip().split("\n")
    assert lines[0].startswith("Lead-free hard clear on copper sheet")
    assert "Suits" in lines
    assert lines[-1] == address + VERDICT
    assert browser.ask("document.querySelector('.copy .soft').textContent") == "Copied."


@pytest.mark.parametrize("path", ["/suits", "/materials?kind=glass", VERDICT, "/faults", "/piece/bench?text="])
def test_without_it_nothing_is_missing(browser, address, path):
    full = address + path + (_piece() if path.endswith("text=") else "")
    browser.scripts(False)
    try:
        browser.open(full)
        # The questions below are asked by the protocol, which runs none of the page's own.
        bare = browser.send("DOM.getDocument", depth=-1)
    finally:
        browser.scripts(True)
    text = str(bare)
    for added in ("picker", "filter noprint", "slide noprint", "copy noprint", "Clear the ticks"):
        assert added not in text
    assert "href" in text
