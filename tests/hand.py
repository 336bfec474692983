"""A jeweller's hand in a real browser: clicks and keys, each counted; where things stand is asked without a script."""

from __future__ import annotations

import re
import time
from html import unescape

from chromium_pipe import Browser


class Hand:
    """Clicks and keys on the page that is open, counted in `count`; a word that is typed counts once.

    Elements are found by CSS or XPath through the protocol, so that it works where scripts are off.
    """

    def __init__(self, browser: Browser, home: str) -> None:
        self.browser, self.count = browser, 0
        browser.open(home)

    def _node(self, what: str) -> int:
        self.browser.send("DOM.getDocument", depth=0)
        found = self.browser.send("DOM.performSearch", query=what)
        assert found["resultCount"], f"nothing on the page is {what}"
        held = self.browser.send("DOM.getSearchResults", searchId=found["searchId"], fromIndex=0, toIndex=1)
        return int(held["nodeIds"][0])

    def _middle(self, node: int) -> tuple[float, float]:
        # A quad for each line of a link that runs over two.
        quad = self.browser.send("DOM.getContentQuads", nodeId=node)["quads"][0]
        return sum(quad[::2]) / 4, sum(quad[1::2]) / 4

    def click(self, what: str, loads: bool = True) -> None:
        """Click in the middle of what is named; `loads` waits for the page that comes."""
        node = self._node(what)
        self.browser.send("DOM.scrollIntoViewIfNeeded", nodeId=node)
        x, y = self._middle(node)
        self.count += 1
        self.browser._loaded = False
        for kind in ("mousePressed", "mouseReleased"):
            self.browser.send("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)
        if loads:
            self.browser._wait()

    def choose(self, select: str, words: str) -> None:
        """Choose in a select by its first letters: a click on its label or a Tab to it, and the letters."""
        self.browser.send("DOM.focus", nodeId=self._node(select))
        self.count += 1
        self.write(words)

    def pick(self, select: str, words: str) -> None:
        """Choose in a long select by the list that narrows, which a script opens: a click, the letters, Enter."""
        self.click(select, loads=False)
        self.write(words)
        self.key("Enter")

    def write(self, words: str) -> None:
        """Type words, letter by letter, where the keyboard is."""
        self.count += 1
        for letter in words:
            self.browser.press(letter, letter)
        # A select forgets the letters after a second: those of the next must not be added to these.
        time.sleep(0.02)

    def key(self, name: str, loads: bool = False) -> None:
        """Press one key that is no letter."""
        self.count += 1
        self.browser.press(name, loads=loads)

    def words(self, what: str) -> str:
        """The words of an element, as its markup holds them."""
        text = self.browser.send("DOM.getOuterHTML", nodeId=self._node(what))["outerHTML"]
        return " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).replace("\u00a0", " ").split())
