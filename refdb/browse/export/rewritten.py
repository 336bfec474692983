"""A page of the view as a file: its links lead to files beside it, and what needs the program itself goes."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from html import escape, unescape
from html.parser import HTMLParser
from urllib.parse import parse_qsl, urlencode

from refdb.browse.export.places import leads, place_of

#: Forms that only choose among pages: the export's script finds the file.
_CHOOSE = ("/suits", "/clears", "/builds", "/find")
#: Forms that look words up, which in a copy its one search does.
_WORDS = ("/faults", "/practice", "/cautions")
_LINK = re.compile(r"""(\s)(href|src|action)="([^"]*)\"""")
SCRIPTS = ("/static/export.js", "/static/search.js")
NOTE = "This copy holds the questions that are worked out beforehand; refdb itself answers any other."
#: Elements with this attribute say what only the view can do.
LIVE = "data-live"


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
        #: The tag that is left away with all it holds, and how many of it are open; links that are open, and whether
        #: each is kept.
        self.dropping, self.dropped = "", 0
        self.links: list[bool] = []
        #: Of each open item of a list: where it begins, whether a link went, whether anything else is said in it.
        self.items: list[list[int]] = []
        self.in_nav = False
        self.noted = False
        self.form, self.select, self.left_out = "", "", False
        #: What can be chosen on this page, by the name of the choice: keys with their words.
        self.choices: dict[str, dict[str, str]] = {}
        self.choice = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._opened(tag, dict(attrs), closed=False)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._opened(tag, dict(attrs), closed=True)

    def _opened(self, tag: str, attrs: dict[str, str | None], *, closed: bool) -> None:
        text = self.get_starttag_text() or ""
        if self.dropped:
            self.dropped += tag == self.dropping and not closed
            return
        if LIVE in attrs or (tag == "form" and not self._copied(attrs)):
            self.dropping, self.dropped = tag, 1
            if tag == "form":
                self._note()
            return
        self.in_nav = self.in_nav or tag == "nav"
        if tag == "form":
            self.form = attrs.get("action") or ""
            if self.form in _WORDS:
                text = text.replace(f'action="{self.form}"', 'action="/find"')
        elif tag == "input" and self.form in _WORDS:
            text = text.replace('name="words"', 'name="q"')
        elif tag == "link" and attrs.get("rel") == "manifest":
            return  # files in a folder are there without being kept
        elif tag == "select":
            self.select = attrs.get("name") or ""
        elif tag == "option":
            self.choice = attrs.get("value") or ""
            self.left_out = bool(self.choice) and not self._can_be_chosen(self.choice)
            if self.left_out:
                return
        elif tag == "li":
            self.items.append([len(self.parts), 0, 0])
        elif tag == "a":
            kept = self._there(attrs.get("href") or attrs.get("xlink:href") or "")
            self.links.append(kept)
            if not kept:
                if self.items:
                    self.items[-1][1] = 1
                return
        elif tag == "svg":
            self._said()
        self.parts.append(_LINK.sub(self._led, text))

    def handle_endtag(self, tag: str) -> None:
        if self.dropped:
            self.dropped -= tag == self.dropping
            return
        if tag == "a" and self.links and not self.links.pop():
            return
        if tag == "option":
            self.choice = ""
            if self.left_out:
                self.left_out = False
                return
        if tag == "form":
            self.form = ""
        if tag == "nav":
            self.in_nav = False
        if tag == "main":
            self.parts += self._without_script()
        if tag == "body":
            self.parts += [
                f'<script src="{leads(self.place, one[1:])}{self.of_edition}"></script>\n' for one in self._scripts()
            ]
        self.parts.append(f"</{tag}>")
        if tag == "li" and self.items:
            begun, gone, says = self.items.pop()
            if gone and not says:
                # A link that stood alone says nothing without what it led to.
                del self.parts[begun:]

    def _scripts(self) -> tuple[str, ...]:
        return SCRIPTS[::-1] if self.place == place_of("/find") else SCRIPTS[:1]

    def handle_data(self, data: str) -> None:
        if self.dropped or self.left_out:
            return
        if self.choice:
            of_select = self.choices.setdefault(self.select, {})
            of_select[self.choice] = of_select.get(self.choice, "") + data
        gone = bool(self.links) and not self.links[-1]
        if data.strip() and not gone:
            self._said()
        # The name of a part of the view that is not in the export says nothing in a line of links.
        if not (self.in_nav and gone):
            self.parts.append(data)

    def _said(self) -> None:
        """Of every item of a list that is open: that it says something, link or none."""
        for item in self.items:
            item[2] = 1

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

    def _copied(self, attrs: dict[str, str | None]) -> bool:
        """Whether a form still asks something that the export answers."""
        action = attrs.get("action") or ""
        wishes = action == "/builds" and attrs.get("class") == "find"
        return action in (*_CHOOSE, *_WORDS) and (attrs.get("method") or "get").lower() == "get" and not wishes

    def _can_be_chosen(self, key: str) -> bool:
        if self.select == "metal":
            return not self.metals or key in self.metals
        if self.select == "glass" and self.form == "/builds":
            return any(one.startswith(f"builds/glass-{key}.metal-") for one in self.places)
        return True

    def _without_script(self) -> Iterator[str]:
        """Links to what the forms of a page lead to, for those whose browser runs no script."""
        lists = ""
        if self.place == place_of("/suits"):
            lists = self._listed("/suits", "metal") + self._listed("/suits", "glass")
        elif self.place == place_of("/builds"):
            lists = self._listed("/builds", "metal")
        elif self.place == place_of("/clears"):
            for leaf, words in self.choices.get("leaf", {}).items():
                lists += f"<details><summary>{words}</summary>{self._listed('/clears', 'metal', leaf=leaf)}</details>"
        elif self.place == place_of("/find"):
            parts = ("/materials", "/faults", "/practice", "/cautions", "/sources", "/about")
            lists = self._line((one, one[1:].capitalize()) for one in parts)
        if lists:
            yield (
                '<noscript><section class="sec" aria-labelledby="h-every"><div class="side"><h2 id="h-every">All of '
                f'them</h2><p class="soft">The form takes a script. These links do not.</p></div><div>{lists}</div>'
                "</section></noscript>\n"
            )

    def _listed(self, path: str, name: str, **also: str) -> str:
        chosen = self.choices.get(name, {}).items()
        return self._line((f"{path}?{urlencode({**also, name: key})}", words) for key, words in chosen)

    def _line(self, links: Iterable[tuple[str, str]]) -> str:
        there = [(place_of(address), words) for address, words in links if place_of(address) in self.places]
        told = " · ".join(f'<a href="{leads(self.place, to)}">{words}</a>' for to, words in there)
        return f"<p>{told}</p>"

    def _to(self, address: str) -> tuple[str, str]:
        """The file that an address leads to, and what stands after it; no file where nothing of the export answers."""
        path, _, query = address.partition("?")
        place = place_of(address)
        if place in self.places:
            return place, self.of_edition if path.startswith("/static/") else ""
        asked = dict(parse_qsl(query))
        if path == "/find" and set(asked) == {"q"}:
            return place_of(path), f"?{query}"
        if path == "/builds" and "metal" in asked and self.place.partition("/")[0] != "builds":
            # The map of one glass takes a calculation; what holds on its metal is there.
            place = place_of(f"/builds?{urlencode({'metal': asked['metal']})}")
        return (place, "") if place in self.places else ("", "")

    def _there(self, link: str) -> bool:
        """Whether a link leads anywhere from the export."""
        address = link.partition("#")[0]
        return link.startswith(("#", "https://", "http://")) or (address.startswith("/") and self._to(address)[0] != "")

    def _led(self, found: re.Match[str]) -> str:
        space, name, link = found[1], found[2], unescape(found[3])
        if not link.startswith("/"):
            return found[0]
        address, mark, part = link.partition("#")
        place, after = self._to(address)
        way = leads(self.place, place or place_of(address))
        return f'{space}{name}="{escape(way + after)}{mark}{escape(part)}"'
