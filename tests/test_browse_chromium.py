"""The browse view in a real browser: sizes, light and dark, keyboard, no script, print, and accessibility rules."""

from __future__ import annotations

import importlib.util
import json
import os
import threading
from pathlib import Path

import pytest
from chromium_pipe import PROGRAM, Browser

pytestmark = pytest.mark.skipif(
    PROGRAM is None and "CI" not in os.environ, reason="there is no chromium on this computer")

VERDICT = "/suits?glass=clear-hard-lead-free&metal=copper-clay-open&metal_thickness=3+cards"
PAGES = ("/", "/find?q=foil", "/suits", VERDICT, "/suits?metal=copper-sheet", "/materials", "/material/copper-sheet",
         "/material/clear-hard-lead-free", "/grid", "/faults", "/practice", "/cautions", "/sources",
         "/sources?key=from-memory", "/about", "/reference", "/reference/contacts", "/nosuch")
PICTURED = ("/", VERDICT, "/material/copper-sheet")


@pytest.fixture(scope="module")
def address(store):
    import uvicorn

    from refdb.browse.server import build, open_socket

    listening = open_socket("127.0.0.1", None)
    server = uvicorn.Server(uvicorn.Config(build(store).app(), log_level="warning", access_log=False))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{listening.getsockname()[1]}"
    server.should_exit = True
    thread.join(20)
    listening.close()


@pytest.fixture(scope="module")
def browser():
    with Browser() as opened:
        yield opened


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize(("width", "dark"), [(320, False), (360, True), (820, False), (1440, True)])
def test_nothing_but_a_table_region_scrolls_sideways(browser, address, path, width, dark, tmp_path):
    browser.console.clear()
    browser.size(width, 900, dark)
    browser.open(address + path)
    assert browser.ask("document.documentElement.scrollWidth") <= width
    cut = browser.ask("""[...document.querySelectorAll('main *')].filter(e => !e.closest('.scroll, .vh, thead, svg')
        && e.getBoundingClientRect().right > innerWidth + 1).map(e => e.outerHTML.slice(0, 80))""")
    assert cut == []
    ground = browser.ask("getComputedStyle(document.documentElement).backgroundColor")
    assert ground == ("rgb(16, 24, 26)" if dark else "rgb(252, 252, 249)")
    if path != "/nosuch":
        assert browser.console == []
    if path in PICTURED:
        browser.picture(tmp_path / "page.png")
        assert (tmp_path / "page.png").stat().st_size > 10_000


def test_the_form_is_filled_and_answered(browser, address):
    browser.size(1440, 900)
    browser.open(address + "/")
    browser._loaded = False
    browser.ask("""const f = document.querySelector('form[action="/suits"]'); f.glass.value = 'opal-lead-free';
        f.metal.value = 'fine-silver-sheet'; f.metal_thickness.value = '1.0 mm'; f.querySelector('button').click()""")
    browser._wait()
    assert browser.ask("document.querySelector('h1').textContent") == "Opal, lead-free on fine silver sheet"
    assert "1.00\u00a0mm of metal" in browser.ask("document.querySelector('.lead').textContent")


def test_a_verdict_is_asked_for_with_the_keyboard_alone(browser, address):
    browser.size(1440, 900)
    browser.open(address + "/suits")
    browser.press("Tab")
    assert browser.ask("document.activeElement.className") == "skip"
    assert browser.ask("document.activeElement.getBoundingClientRect().left") >= 0
    browser.press("Enter")
    reached = {}
    for _ in range(40):
        browser.press("Tab")
        name = browser.ask("document.activeElement.name || document.activeElement.tagName")
        outline = browser.ask("getComputedStyle(document.activeElement).outlineStyle")
        reached[name] = outline
        if name == "glass":
            browser.press("c", "c")
        if name == "metal":
            browser.press("c", "c")
        if browser.ask("document.activeElement.tagName") == "BUTTON":
            browser.press("Enter", loads=True)
            break
    assert {"glass", "metal", "metal_thickness", "front", "back", "first", "shape"} <= set(reached)
    assert set(reached.values()) == {"solid"}
    heading = browser.ask("document.querySelector('h1').textContent")
    assert " on c" in heading
    assert browser.ask("!!document.querySelector('.verdict .word')")


def test_everything_works_with_scripts_off(browser, address):
    browser.scripts(False)
    try:
        browser.size(1440, 900)
        for path in ("/", VERDICT, "/grid?lead=free", "/materials?kind=glass&sort=expansion"):
            browser.open(address + path)
    finally:
        browser.scripts(True)
    browser.open(address + VERDICT)
    assert browser.ask("document.scripts.length") == 0


def test_print_is_light_unfolded_and_without_forms(browser, address, tmp_path):
    browser.size(1440, 900, dark=True)
    browser.open(address + VERDICT)
    browser.send("Emulation.setEmulatedMedia", media="print",
                 features=[{"name": "prefers-color-scheme", "value": "dark"}])
    try:
        assert browser.ask("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
        assert browser.ask("getComputedStyle(document.documentElement).color") == "rgb(0, 0, 0)"
        hidden = browser.ask("[...document.querySelectorAll('.again, .head nav, summary')]"
                             ".every(e => !e.offsetParent || getComputedStyle(e).display == 'none')")
        assert hidden
        assert browser.ask("getComputedStyle(document.querySelector('.reasons td')).display") == "table-cell"
        browser.printed(tmp_path / "page.pdf")
        assert (tmp_path / "page.pdf").read_bytes()[:5] == b"%PDF-"
    finally:
        browser.send("Emulation.setEmulatedMedia", media="")


@pytest.fixture(scope="module")
def rules():
    found = importlib.util.find_spec("axe_core_python")
    if found is None:
        assert "CI" not in os.environ, "axe-core-python is not installed"
        pytest.skip("axe-core-python is not installed")
    return next(Path(found.submodule_search_locations[0]).rglob("axe.min.js")).read_text(encoding="utf-8")


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize(("width", "dark"), [(360, True), (1440, False)])
def test_no_rule_of_accessibility_is_broken(browser, address, rules, path, width, dark):
    """axe-core's rules: nothing serious or critical."""
    browser.size(width, 900, dark)
    browser.open(address + path)
    browser.ask(rules + ";0")
    found = browser.send("Runtime.evaluate", awaitPromise=True, returnByValue=True, expression="""
        axe.run(document, {resultTypes: ['violations']}).then(r => JSON.stringify(
            {passes: r.passes.length, bad: r.violations.filter(v => ['serious', 'critical'].includes(v.impact))
                .map(v => [v.id, v.nodes[0].html.slice(0, 120)])}))""")
    told = json.loads(found["result"]["value"])
    assert told["bad"] == []
    assert told["passes"] > 10
