"""A page of the view as a file: its links lead to files beside it, and what needs the program itself goes."""

from __future__ import annotations

import re
from collections.abc import Collection
from html import escape, unescape
from html.parser import HTMLParser

from refdb.browse.export.places import leads, place_of

#: Forms that only choose among pages: the export's script finds the file.
_CHOOSE = ("/suits", "/clears", "/builds", "/find")
_LINK = re.compile(r"""(\s)(href|src|action)="([^"]*)\"""")
SCRIPTS = ("/static/export.js", "/static/search.js")
NOTE = "This copy holds the questions that are worked out beforehand; refdb itself answers any other."


def rewritten(html: str, place: str, places: Collection[str], metals: Collection[str] = (), edition: str = "") -> str:
    """A page with relative links.

    Parameters
    ----------
    html : str
        As the view writes it.
    place : str
        Its file in the export.
    places : collection of str
        All files of the export: a link to any other page becomes its words alone.
    metals : collection of str
        Keys of the metals that can be chosen; all where none is named.
    edition : str
        What every link to a file that pages share ends with, so that browsers may keep it for good.
    """
    page = _Page(place, places, metals, edition)
    page.feed(html)
    page.close()
    return "".join(page.parts)


class _Page(HTMLParser):
    """Passes a page on piece by piece."""

    def __init__(self, place: str, places: Collection[str], metals: Collection[str], edition: str) -> None:
        super().__init__(convert_charrefs=False)
        self.place, self.places, self.metals = place, places, metals
        self.of_edition = f"?v={edition}" if edition else ""
        self.parts: list[str] = []
        #: Tags that are open and left away with all they hold; links that are open, and whether each is kept.
        self.dropped = 0
        self.links: list[bool] = []
        self.in_nav = False
        self.noted = False
        self.select, self.left_out = "", False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._opened(tag, dict(attrs), closed=False)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._opened(tag, dict(attrs), closed=True)

    def _opened(self, tag: str, attrs: dict[str, str | None], *, closed: bool) -> None:
        text = self.get_starttag_text() or ""
        if self.dropped:
            self.dropped += tag == "form" and not closed
            return
        self.in_nav = self.in_nav or tag == "nav"
        if tag == "form":
            if (attrs.get("action") or "") not in _CHOOSE or (attrs.get("method") or "get").lower() != "get":
                self.dropped = 1
                self._note()
                return
        elif tag == "link" and attrs.get("rel") == "manifest":
            return  # files in a folder are there without being kept
        elif tag == "select":
            self.select = attrs.get("name") or ""
        elif tag == "option":
            key = attrs.get("value")
            self.left_out = bool(self.metals and key and self.select == "metal" and key not in self.metals)
            if self.left_out:
                return
        elif tag == "a":
            kept = self._there(attrs.get("href") or attrs.get("xlink:href") or "")
            self.links.append(kept)
            if not kept:
                return
        self.parts.append(_LINK.sub(self._led, text))

    def handle_endtag(self, tag: str) -> None:
        if self.dropped:
            self.dropped -= tag == "form"
            return
        if tag == "a" and self.links and not self.links.pop():
            return
        if tag == "option" and self.left_out:
            self.left_out = False
            return
        if tag == "nav":
            self.in_nav = False
        if tag == "body":
            self.parts += [
                f'<script src="{leads(self.place, one[1:])}{self.of_edition}"></script>\n' for one in self._scripts()
            ]
        self.parts.append(f"</{tag}>")

    def _scripts(self) -> tuple[str, ...]:
        return SCRIPTS[::-1] if self.place == place_of("/find") else SCRIPTS[:1]

    def handle_data(self, data: str) -> None:
        # The name of a part of the view that is not in the export says nothing in a line of links.
        if not self.dropped and not self.left_out and not (self.in_nav and self.links and not self.links[-1]):
            self.parts.append(data)

    def handle_entityref(self, name: str) -> None:
        self.handle_data(f"&{name};")

    def handle_charref(self, name: str) -> None:
        self.handle_data(f"&#{name};")

    def handle_decl(self, decl: str) -> None:
        self.parts.append(f"<!{decl}>")

    def _note(self) -> None:
        if not self.noted:
            self.parts.append(f'<p class="soft">{NOTE}</p>')
        self.noted = True

    def _there(self, link: str) -> bool:
        """Whether a link leads anywhere from the export."""
        address = link.partition("#")[0]
        return link.startswith(("#", "https://", "http://")) or (
            address.startswith("/") and place_of(address) in self.places
        )

    def _led(self, found: re.Match[str]) -> str:
        space, name, link = found[1], found[2], unescape(found[3])
        if not link.startswith("/"):
            return found[0]
        address, mark, part = link.partition("#")
        way = escape(leads(self.place, place_of(address)))
        if address.startswith("/static/"):
            way += self.of_edition
        return f'{space}{name}="{way}{mark}{escape(part)}"'
