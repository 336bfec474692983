"""Every kind of page for everyone: axe-core's rules, WCAG 2.2's target size, focus, headings, and no sideways page.

axe-core is an open rule set that this project did not write; 2.5.8 of WCAG 2.2 is checked as it is worded there, with
its exceptions for links in a sentence, for links given again, and for targets with room around them. Widths from a
small phone to a desk, light, dark and forced colours.
"""

from __future__ import annotations

import os

import axe
import pytest
from browse_client import served, write_shelf
from chromium_pipe import PROGRAM, Browser

from refdb.browse.pages.piece import example
from refdb.browse.server.packed import packed, without_remarks
from refdb.browse.server.writing import Writer

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(PROGRAM is None and "CI" not in os.environ, reason="there is no chromium on this computer"),
]
MOTH = "p=" + packed(without_remarks(example()))
PAGES = (
    "/",
    "/find?q=foil",
    "/find?q=zzzz",
    "/suits",
    "/suits?glass=clear-hard-lead-free&metal=copper-clay-open&metal_thickness=3+cards",
    "/suits?glass=clear-hard-lead-free&metal=copper-sheet&front=thick",
    "/suits?metal=copper-sheet",
    "/materials",
    "/materials?kind=glass",
    "/material/copper-sheet",
    "/material/my:jar-12",
    "/grid",
    "/builds",
    "/builds?glass=clear-hard-lead-free&metal=copper-sheet",
    "/builds?metal=copper-sheet&metal_thickness=thin",
    "/compare?glass=clear-hard-lead-free&glass=opal-lead-free&metal=copper-sheet",
    "/clears?leaf=gold-foil-24k&metal=fine-silver-clay",
    "/piece?example=moth",
    "/piece/build",
    f"/piece/build?{MOTH}",
    f"/piece/bench?{MOTH}",
    "/faults",
    "/faults?look=cloud&stage=in+the+fire",
    "/practice",
    "/practice/champleve",
    "/cautions",
    "/cautions?material=clear-soft-leaded",
    "/sources",
    "/sources?key=from-memory",
    "/about",
    "/about/verdict",
    "/about/grounds",
    "/about/gaps",
    "/about/rows",
    "/shelf",
    "/shelf?kept=tile:1",
    "/reference",
    "/reference/contacts",
    "/reference/glasses?family__contains=clear",
    "/reference/colour_reactions/amber-gold",
    "/reference?sql=select+key+from+materials",
    "/reference?sql=selct",
    "/workshop",
    "/workshop/tiles",
    "/workshop/tiles/1",
    "/nosuch",
)
#: Of each page: heading levels that are left out, fields without a name, small targets, and whether it is too wide.
FAULTS = """(() => {
    const faults = [], seen = e => e.checkVisibility({visibilityProperty: true});
    let last = 0;
    for (const h of [...document.querySelectorAll('h1, h2, h3, h4')].filter(seen)) {
        const level = Number(h.tagName[1]);
        if (level > last + 1) faults.push(`h${last} is followed by h${level}: ${h.textContent}`);
        last = level;
    }
    for (const field of document.querySelectorAll('input:not([type=hidden]), select, textarea'))
        if (seen(field) && !field.labels.length && !field.getAttribute('aria-label')) faults.push(field.outerHTML);
    const inSentence = e => e.tagName === 'A' && getComputedStyle(e).display === 'inline' &&
        [...e.parentNode.childNodes].some(n => n.nodeType === 3 && n.textContent.trim().length > 1);
    // A cell of a picture is again a link of the table behind it.
    const again = e => e.closest('svg') && [...document.querySelectorAll('td a')].some(a => a.href === e.href.baseVal ||
        a.getAttribute('href') === e.getAttribute('href'));
    const kinds = 'a[href], button, input:not([type=hidden]), select, summary, textarea';
    const targets = [...document.querySelectorAll(kinds)]
        .filter(e => seen(e) && !e.closest('.vh, .skip') && !inSentence(e) && !again(e)).map(e => {
            const box = [e, ...(e.labels || [])].map(x => x.getBoundingClientRect()).reduce((a, b) => ({
                left: Math.min(a.left, b.left), right: Math.max(a.right, b.right),
                top: Math.min(a.top, b.top), bottom: Math.max(a.bottom, b.bottom)}));
            const small = Math.min(box.right - box.left, box.bottom - box.top) < 23.9;
            return {e, box, small, x: (box.left + box.right) / 2, y: (box.top + box.bottom) / 2};
        });
    for (const t of targets.filter(t => t.small)) {
        const near = targets.find(o => o !== t && !o.e.contains(t.e) && !t.e.contains(o.e) && (o.small
            ? Math.hypot(o.x - t.x, o.y - t.y) < 23.9
            : Math.hypot(Math.max(o.box.left - t.x, 0, t.x - o.box.right),
                         Math.max(o.box.top - t.y, 0, t.y - o.box.bottom)) < 11.9));
        if (near) faults.push(`small and close: ${t.e.outerHTML.slice(0, 90)} to ${near.e.outerHTML.slice(0, 90)}`);
    }
    const wide = document.documentElement.scrollWidth;
    if (wide > innerWidth) faults.push(`it is ${wide} px wide`);
    return faults;
})()"""
#: What has the focus: nothing, or its words and why it cannot be seen to have it.
FOCUSED = """(() => {
    const e = document.activeElement;
    if (!e || e === document.body) return null;
    const box = e.getBoundingClientRect(), style = getComputedStyle(e);
    for (let x = e; x; x = x.parentElement)
        if (getComputedStyle(x).clipPath !== 'none' && x.getBoundingClientRect().width <= 2)
            return [e.outerHTML.slice(0, 80), 'is clipped away'];
    if (style.outlineStyle === 'none' || parseFloat(style.outlineWidth) < 2)
        return [e.outerHTML.slice(0, 80), 'shows no focus'];
    return [e.outerHTML.slice(0, 80), box.width < 4 ? 'has no room' : ''];
})()"""


@pytest.fixture(scope="module")
def rules():
    return axe.source()


@pytest.fixture(scope="module")
def address(store, tmp_path_factory):
    from refdb.browse.server.application import build

    path = tmp_path_factory.mktemp("own") / "shelf.db"
    write_shelf(
        path,
        store,
        ("add", "glass", "--name", "Jar 12", "--like", "opal-lead-free", "--basis", "guess"),
        ("add", "metal", "--name", "Thin copper", "--like", "copper-sheet", "--basis", "guess"),
        ("tile", "my:jar-12", "copper-sheet", "--outcome", "crazed", "--showed", "within-a-day"),
    )
    with served(build(store, workshop=path, writer=Writer(path), sql=True)) as found:
        yield found


@pytest.fixture(scope="module")
def browser():
    with Browser() as opened:
        yield opened


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize(
    ("width", "dark", "forced"), [(320, False, False), (360, False, True), (820, False, False), (1440, True, False)]
)
def test_a_page_is_within_reach(browser, address, rules, path, width, dark, forced):
    browser.size(width, 800, dark)
    if forced:
        browser.send("Emulation.setEmulatedMedia", features=[{"name": "forced-colors", "value": "active"}])
    browser.open(address + path)
    assert browser.ask(FAULTS) == []
    assert axe.broken(browser, rules) == []


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("width", [360])
def test_the_keyboard_is_seen_to_go_through_a_page(browser, address, path, width):
    browser.size(width, 800)
    browser.open(address + path)
    reached = []
    for _ in range(40):
        browser.press("Tab")
        found = browser.ask(FOCUSED)
        if found is None:
            break
        reached.append(found)
    assert len(reached) > 3
    assert [one for one in reached if one[1]] == []
