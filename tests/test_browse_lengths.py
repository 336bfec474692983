"""How long a page is on a phone: nobody scrolls through more than some ten screens, but for a grid or a full table."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from browse_client import served
from chromium_pipe import PROGRAM, Browser

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(PROGRAM is None and "CI" not in os.environ, reason="there is no chromium on this computer"),
]

#: Pixels at a width of 360.
MOST = 6000
#: One address of each kind of page, and of those that hold most.
PAGES = (
    "/",
    "/find?q=foil",
    "/find?q=copper",
    "/suits",
    "/suits?glass=clear-hard-lead-free&metal=copper-sheet",
    "/suits?glass=window-soda-lime&metal=fine-silver-sheet",
    "/suits?metal=copper-sheet",
    "/suits?glass=amber-transparent-lead-free",
    "/suits?glass=clear-medium-leaded",
    "/clears",
    "/clears?leaf=gold-foil-24k&metal=fine-silver-clay",
    "/compare",
    "/compare?glass=opal-lead-free&metal=copper-sheet&metal=fine-silver-sheet&metal=gold-24k&metal=brass-70-30",
    "/builds",
    "/builds?metal=copper-sheet",
    "/piece",
    "/piece?example=moth",
    "/piece/sheet?example=moth",
    "/piece/bench?example=moth",
    "/piece/build",
    "/materials",
    "/material/copper-sheet",
    "/faults",
    "/faults?words=crack",
    "/faults?words=glass",
    "/faults?words=chips",
    "/faults?part=colour",
    "/faults?look=cloud&stage=in+the+fire",
    "/practice",
    "/practice/torch",
    "/practice?words=glass",
    "/practice?words=dry",
    "/practice?on=copper-sheet",
    "/cautions",
    "/cautions?words=lead",
    "/cautions?material=fusing-glass-90",
    "/sources",
    "/sources?key=from-memory",
    "/sources?key=common-practice",
    "/about",
    "/about/verdict",
    "/about/grounds",
    "/about/gaps",
    "/about/rows",
)


@pytest.fixture(scope="module")
def address(store):
    from refdb.browse.server.application import build

    with served(build(Path(store))) as found:
        yield found


@pytest.fixture(scope="module")
def browser():
    with Browser() as opened:
        opened.size(360, 640)
        yield opened


@pytest.mark.parametrize("path", PAGES)
def test_a_page_is_no_long_way_on_a_phone(browser, address, path):
    """Folded there, and all of it there: opened, no fold is empty; and the page is none that tells of a fault."""
    browser.open(address + path)
    assert browser.ask("document.documentElement.scrollHeight") <= MOST
    assert browser.ask("performance.getEntriesByType('navigation')[0].responseStatus") == 200
    empty = browser.ask(
        """[...document.querySelectorAll('main details')].filter(e => { e.open = true;
        return e.innerText.trim() === e.querySelector('summary').innerText.trim(); }).map(e => e.innerText)"""
    )
    assert empty == []
