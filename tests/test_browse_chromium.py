"""The browse view in a real browser: sizes, light and dark, keyboard, no script, print, and accessibility rules."""

from __future__ import annotations

import os

import axe
import pytest
from browse_client import served
from chromium_pipe import PROGRAM, Browser

from refdb.browse.pages.piece import example
from refdb.cli.main import main

pytestmark = pytest.mark.skipif(
    PROGRAM is None and "CI" not in os.environ, reason="there is no chromium on this computer"
)

VERDICT = "/suits?glass=clear-hard-lead-free&metal=copper-clay-open&metal_thickness=3+cards"
OWN_VERDICT = "/suits?glass=my:jar-12&metal=copper-sheet&kiln=800+C"
PAGES = (
    "/",
    "/find?q=foil",
    "/suits",
    VERDICT,
    "/suits?metal=copper-sheet",
    "/materials",
    "/material/copper-sheet",
    "/material/clear-hard-lead-free",
    "/grid",
    "/faults",
    "/practice",
    "/cautions",
    "/sources",
    "/sources?key=from-memory",
    "/about",
    "/reference",
    "/reference/contacts",
    "/nosuch",
    "/compare",
    "/compare?glass=clear-hard-lead-free&glass=opal-lead-free&glass=window-soda-lime&metal=copper-clay",
    "/compare?glass=opal-lead-free&metal=copper-sheet&metal=fine-silver-sheet&metal=gold-24k&metal=brass-70-30",
    "/shelf",
    "/faults?look=cloud&stage=in+the+fire",
    "/clears",
    "/clears?leaf=gold-foil-24k&metal=fine-silver-clay",
    "/piece",
    "/piece?example=moth",
    "/piece?text=%5Bpiece%5D",
    OWN_VERDICT,
    "/material/my:jar-12",
    "/suits?metal=my:thin-copper",
    "/grid?glasses=your+own",
    "/materials?kind=glass",
    "/workshop",
    "/workshop/glasses",
    "/workshop/glasses/jar-12",
)
PICTURED = ("/", VERDICT, "/material/copper-sheet")
#: Pages that are answers to a fault, of which a browser tells on its console.
FAULTS = ("/nosuch", "/piece?text=%5Bpiece%5D")


@pytest.fixture(scope="module")
def shelf(store, tmp_path_factory):
    path = tmp_path_factory.mktemp("own") / "shelf.db"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("REFDB_STORE", str(store))
        for arguments in (
            (
                "add",
                "glass",
                "--name",
                "Jar 12",
                "--like",
                "clear-medium-lead-free",
                "--expansion",
                "12.4 ppm/K",
                "--expansion-span",
                "20-400C",
                "--basis",
                "maker's sheet",
                "--note",
                "From the tall shelf",
            ),
            ("add", "metal", "--name", "Thin copper", "--like", "copper-sheet", "--basis", "guess"),
            ("tile", "my:jar-12", "copper-sheet", "--outcome", "crazed", "--showed", "within-a-day"),
            ("kiln", "12 K"),
        ):
            assert main(["--workshop", str(path), "mine", *arguments]) == 0
    return path


@pytest.fixture(scope="module")
def address(store, shelf):
    from refdb.browse.server.application import build

    with served(build(store, workshop=shelf)) as found:
        yield found


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
    if path not in FAULTS:
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
    assert browser.ask("document.querySelector('h1').textContent") == "Lead-free opal on fine silver sheet, 1.0\u00a0mm"
    assert "1.00\u00a0mm of metal" in browser.ask("document.querySelector('.built').textContent")


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
    assert browser.ask("!!document.querySelector('.brief .word')")


def test_everything_works_with_scripts_off(browser, address):
    browser.scripts(False)
    try:
        browser.size(1440, 900)
        for path in (
            "/",
            VERDICT,
            "/piece?example=moth",
            "/clears?leaf=gold-foil-24k&metal=copper-sheet",
            OWN_VERDICT,
            "/workshop",
            "/grid?lead=free",
            "/materials?kind=glass&sort=expansion",
        ):
            browser.open(address + path)
    finally:
        browser.scripts(True)


def send_file(browser, file):
    """Choose a file and press the button with what the protocol has, for scripts may be off."""
    root = browser.send("DOM.getDocument")["root"]["nodeId"]

    def found(selector):
        return browser.send("DOM.querySelector", nodeId=root, selector=selector)["nodeId"]

    browser.send("DOM.setFileInputFiles", nodeId=found("input[type=file]"), files=[str(file)])
    browser.send("DOM.focus", nodeId=found("input[type=file] + button"))
    browser.press("Enter", loads=True)


@pytest.mark.parametrize(("width", "dark"), [(360, True), (1440, False)])
def test_a_file_is_sent_judged_and_printed_without_a_script(browser, address, rules, width, dark, tmp_path):
    """No script, no sideways scrolling, axe-core content; then the sheet by the form of the answer."""
    file = tmp_path / "moth.toml"
    # Too long for an address, so that the sheet has to come from the form.
    file.write_text(example() + "# a remark that only makes it longer\n" * 400, encoding="utf-8")
    browser.size(width, 900, dark)
    browser.console.clear()
    browser.scripts(False)
    try:
        browser.open(address + "/piece")
        send_file(browser, file)
    finally:
        browser.scripts(True)
    assert browser.ask("location.pathname + location.search") == "/piece"
    assert browser.ask("document.querySelector('h1').textContent") == "Moth brooch"
    assert browser.ask("document.querySelector('#p-text').value") == file.read_text(encoding="utf-8")
    assert browser.ask("document.documentElement.scrollWidth") <= width
    assert serious(browser, rules) == []
    browser.printed(tmp_path / "piece.pdf")
    assert (tmp_path / "piece.pdf").read_bytes()[:5] == b"%PDF-"
    browser._loaded = False
    browser.ask("document.querySelector('button[name=as]').click()")
    browser._wait()
    assert browser.ask("document.querySelectorAll('input[type=checkbox]').length") > 0
    assert browser.console == []


def test_a_short_text_ends_at_an_address_that_can_be_passed_on(browser, address):
    browser.size(1440, 900)
    browser.open(address + "/piece?example=moth")
    browser._loaded = False
    browser.ask("document.querySelector('#paste button').click()")
    browser._wait()
    assert browser.ask("location.search").startswith("?text=")
    text = browser.ask("document.querySelector('#p-text').value")
    assert text == example()
    browser.open(browser.ask("location.href"))
    assert browser.ask("document.querySelector('h1').textContent") == "Moth brooch"


def test_a_text_that_cannot_be_read_is_still_there_to_be_mended(browser, address, tmp_path):
    file = tmp_path / "moth.toml"
    file.write_text(example().replace("fine-silver-clay", "fine-silver-cly"), encoding="utf-8")
    browser.size(360, 900)
    browser.open(address + "/piece")
    send_file(browser, file)
    assert "fine-silver-cly" in browser.ask("document.querySelector('.lead').textContent")
    assert browser.ask("document.querySelector('#p-text').value") == file.read_text(encoding="utf-8")
    assert browser.ask("document.documentElement.scrollWidth") <= 360


def test_ten_megabytes_are_refused_in_words(browser, address, tmp_path):
    file = tmp_path / "large.toml"
    file.write_bytes(b"# far too much\n" * 700_000)
    browser.size(1440, 900)
    browser.open(address + "/piece")
    send_file(browser, file)
    assert browser.ask("document.querySelector('h1').textContent") == "Too large a piece"


def test_print_is_light_unfolded_and_without_forms(browser, address, tmp_path):
    browser.size(1440, 900, dark=True)
    browser.open(address + VERDICT)
    browser.send(
        "Emulation.setEmulatedMedia", media="print", features=[{"name": "prefers-color-scheme", "value": "dark"}]
    )
    try:
        assert browser.ask("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
        assert browser.ask("getComputedStyle(document.documentElement).color") == "rgb(0, 0, 0)"
        hidden = browser.ask(
            "[...document.querySelectorAll('.again, .head nav, summary')]"
            ".every(e => !e.offsetParent || getComputedStyle(e).display == 'none')"
        )
        assert hidden
        # What is folded on the screen stands open on paper.
        assert browser.ask("[...document.querySelectorAll('.fold1 .why h3')].every(e => e.checkVisibility())")
        browser.printed(tmp_path / "page.pdf")
        assert (tmp_path / "page.pdf").read_bytes()[:5] == b"%PDF-"
    finally:
        browser.send("Emulation.setEmulatedMedia", media="")


@pytest.fixture(scope="module")
def rules():
    return axe.source()


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize(("width", "dark"), [(360, True), (1440, False)])
def test_no_rule_of_accessibility_is_broken(browser, address, rules, path, width, dark):
    """axe-core's rules: nothing serious or critical."""
    browser.size(width, 900, dark)
    browser.open(address + path)
    assert serious(browser, rules) == []


def serious(browser, rules):
    """What axe-core finds serious or critical on the page that is open."""
    return axe.broken(browser, rules, ("serious", "critical"))


@pytest.mark.parametrize(
    ("path", "last"),
    [
        (VERDICT, ".pick a"),
        ("/suits?glass=window-soda-lime&metal=fine-silver-sheet", ".do li:last-child"),
        ("/", ".qs li:nth-child(3) button"),
        ("/suits?metal=copper-sheet", ".ranks tbody tr:first-child th"),
        ("/clears?leaf=fine-silver-foil&metal=copper-sheet", ".ranks tbody tr:first-child th"),
        ("/clears?leaf=gold-foil-24k&metal=fine-silver-clay", ".ranks tbody tr:first-child th"),
        ("/piece?example=moth", ".go li:last-child"),
        ("/faults?words=crack", "#h-apart"),
        ("/cautions?material=red-opaque-cadmium", ".plain li:first-child"),
    ],
)
def test_the_first_screen_of_a_phone_answers(browser, address, path, last):
    """Verdict, sentence, what to do and the change of thickness; of a ranking its first row; of the front questions."""
    browser.size(360, 640)
    browser.open(address + path)
    assert browser.ask(f"document.querySelector({last!r}).getBoundingClientRect().bottom") <= 640
    links = browser.ask(
        "[...document.querySelectorAll('.head a, .head summary')].filter(e => e.checkVisibility())"
        ".map(e => e.getBoundingClientRect()).map(r => [Math.round(r.top + r.height / 2), Math.round(r.right)])"
    )
    assert max(right for _, right in links) <= 360
    assert max(y for y, _ in links) - min(y for y, _ in links) <= 4


def test_the_first_clear_is_told_at_once(browser, address):
    browser.size(360, 640)
    browser.open(address + "/clears?leaf=gold-foil-24k&metal=copper-sheet")
    assert browser.ask("document.querySelector('.brief .because').getBoundingClientRect().bottom") <= 320
    first = browser.ask("document.querySelector('.ranks th').closest('table').querySelector('tbody th').innerText")
    assert browser.ask("document.querySelector('.brief .word').innerText").strip().lower().startswith(first.lower())


@pytest.mark.parametrize(
    "key", ["copper-sheet", "copper-clay", "sterling-sheet", "clear-hard-lead-free", "fine-silver-foil"]
)
def test_a_material_is_no_long_way_on_a_phone(browser, address, key):
    """Its sections are folded there, in line on a wide screen, and whole on paper."""
    browser.size(360, 640)
    browser.open(f"{address}/material/{key}")
    assert browser.ask("document.documentElement.scrollHeight") <= 6000
    assert not browser.ask("document.querySelector('.props').checkVisibility()")
    browser.ask("document.querySelector('.props').closest('details').querySelector('summary').click()")
    assert browser.ask("document.querySelector('.props').checkVisibility()")
    browser.size(1440, 900)
    browser.open(f"{address}/material/{key}")
    assert browser.ask("document.querySelector('.props').checkVisibility()")
    browser.send("Emulation.setEmulatedMedia", media="print")
    try:
        browser.size(700, 900)
        browser.send("Emulation.setEmulatedMedia", media="print")
        browser.open(f"{address}/material/{key}")
        assert browser.ask("document.querySelector('.props').checkVisibility()")
    finally:
        browser.send("Emulation.setEmulatedMedia", media="")
