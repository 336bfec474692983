"""The pages as files: links that lead somewhere, nothing absolute, and the same answers as the view's."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from html import unescape
from pathlib import Path
from urllib.parse import quote

import pytest
from browse_client import Asking, Outline
from chromium_pipe import Browser
from hypothesis import given
from hypothesis import strategies as st

from refdb.browse.export.places import is_exported, leads, place_of
from refdb.browse.export.rewritten import NOTE, rewritten
from refdb.browse.export.written import MANIFEST, _body, _opened, _put_in_place, _tidied, edition_of, export
from refdb.store.edition import Seal
from refdb.store.reference import Reference
from refdb.words import lower_first

ROOT = Path(__file__).resolve().parent.parent
PLACES = {"index.html", "about.html", "suits.html", "find.html", "suits/glass-a.metal-b.html", "static/refdb.css"}


@pytest.mark.parametrize(
    ("address", "place"),
    [
        ("/", "index.html"),
        ("/about", "about.html"),
        ("/material/copper-sheet", "material/copper-sheet.html"),
        ("/suits?metal=b&glass=a", "suits/glass-a.metal-b.html"),
        ("/suits?glass=a&metal=b", "suits/glass-a.metal-b.html"),
        ("/static/refdb.css?v=0123", "static/refdb.css"),
    ],
)
def test_a_page_stands_where_its_address_says(address, place):
    assert place_of(address) == place


@given(st.text(min_size=1, max_size=150), st.text(min_size=1, max_size=150))
def test_no_two_topics_are_one_file_and_none_leaves_the_folder(one, other):
    a, b = (place_of(f"/practice?topic={quote(text, safe='')}") for text in (one, other))
    assert (a == b) == (one == other)
    assert re.fullmatch(r"practice/[a-z0-9.-]+\.html", a)
    assert len(a) < 140


@pytest.mark.parametrize(
    ("address", "is_one"),
    [
        ("/suits?glass=a&metal=b", True),
        ("/suits?glass=a&metal=b&front=1+mm", False),
        ("/material/copper-sheet", True),
        ("/material/../about", False),
        ("/piece", False),
        ("/piece?example=moth", True),
        ("/piece?p=eJw", False),
        ("/faults?look=craze&stage=cooling", True),
        ("/faults?stage=cooling", False),
        ("/compare?glass=a&glass=b&metal=c", True),
        ("/compare?glass=a&metal=b", False),
        ("/reference/contacts", False),
    ],
)
def test_what_takes_a_calculation_is_left_out(address, is_one):
    assert is_exported(address) is is_one


def test_a_page_keeps_what_leads_somewhere():
    html = (
        '<nav><a href="/about">About</a><a href="/piece">Piece</a></nav><a href="/suits?metal=b&amp;glass=a#h">x</a>'
        '<a href="/suits?glass=z&amp;metal=b">words</a><a href="#h">here</a><img src="/static/refdb.css">'
        '<form action="/find" method="get"><input name="q"></form>'
        '<form action="/piece" method="post"><form>in</form><p>gone</p></form><p>&amp; after</p></body>'
    )
    found = rewritten(html, "suits/glass-a.metal-b.html", PLACES)
    assert '<nav><a href="../about.html">About</a></nav>' in found
    assert '<a href="glass-a.metal-b.html#h">x</a>words<a href="#h">here</a>' in found
    assert '<form action="../find.html" method="get">' in found
    assert "gone" not in found
    assert NOTE in found
    assert found.endswith('<p>&amp; after</p><script src="../static/export.js"></script>\n</body>')


@pytest.mark.parametrize(
    ("html", "copy"),
    [
        # Words are looked up by the one search of a copy, and its examples are links to it.
        (
            '<form action="/faults" method="get"><input name="words"><a href="/find?q=a+b">a b</a></form>',
            '<form action="find.html" method="get"><input name="q"><a href="find.html?q=a+b">a b</a></form>',
        ),
        ('<form action="/find"><input name="words"></form>', '<form action="find.html"><input name="words"></form>'),
        # What only the view can do is not spoken of, and no word stands where a lone link was.
        ("a<span data-live> or <span>b</span></span>, c", "a, c"),
        (
            '<ul><li><a href="/piece">x</a></li><li><a href="/about">y</a></li></ul>',
            '<ul><li><a href="about.html">y</a></li></ul>',
        ),
        ('<li><b>see</b> <a href="/piece">x</a></li>', "<li><b>see</b> x</li>"),
        ('<li><a href="/piece"><svg></svg>x</a></li>', "<li><svg></svg>x</li>"),
        # The map of a glass takes a calculation; what holds on its metal is there.
        ('<a href="/builds?glass=a&amp;metal=b">c</a>', '<a href="builds/metal-b.html">c</a>'),
        ('<a href="/builds?glass=a&amp;metal=z">c</a>', "c"),
        ('<form class="find" action="/builds"><input name="wish"></form>', f'<p class="soft">{NOTE}</p>'),
        (
            '<form action="/builds"><select name="glass"><option value="">any<option value="a">A</option></select>'
            "</form>",
            '<form action="builds.html"><select name="glass"><option value="">any</select></form>',
        ),
        (
            '<form action="/suits"><select name="glass"><option value="a">A</option></select></form>',
            '<form action="suits.html"><select name="glass"><option value="a">A</option></select></form>',
        ),
    ],
)
def test_a_page_speaks_of_what_the_copy_holds(html, copy):
    assert rewritten(html, "index.html", {*PLACES, "builds.html", "builds/metal-b.html"}) == copy


def test_maps_that_are_there_can_be_chosen():
    html = (
        '<form action="/builds"><select name="glass"><option value="a">A</option><option value="b">B</option></select>'
    )
    found = rewritten(html, "index.html", {"builds.html", "builds/glass-a.metal-c.html"})
    assert '<option value="a">A</option></select>' in found
    linked = '<a href="/builds?glass=a&amp;metal=c">x</a>'
    assert (
        rewritten(linked, "index.html", {"builds/glass-a.metal-c.html"})
        == '<a href="builds/glass-a.metal-c.html">x</a>'
    )


@pytest.mark.parametrize(
    ("place", "selects", "links"),
    [
        ("suits.html", {"glass": "a", "metal": "b"}, ["suits/metal-b.html", "suits/glass-a.html"]),
        ("builds.html", {"glass": "a", "metal": "b"}, ["builds/metal-b.html"]),
        ("clears.html", {"leaf": "l", "metal": "b"}, ["clears/leaf-l.metal-b.html"]),
        ("suits/metal-b.html", {"glass": "a", "metal": "b"}, []),
    ],
)
def test_a_reader_without_a_script_finds_what_a_form_leads_to(place, selects, links):
    form = "".join(f'<select name="{n}"><option value="{v}">{v} &amp; co</option></select>' for n, v in selects.items())
    there = {"suits.html", "builds.html", "clears.html", *links}
    found = rewritten(f'<main><form action="/{place.partition(".")[0]}">{form}</form></main>', place, there)
    assert re.findall(r'<a href="([^"]*)">(.*?)</a>', found) == [(link, f"{link[-6]} &amp; co") for link in links]
    assert ("<noscript>" in found) == bool(links)


def test_another_store_or_another_file_is_another_edition(tmp_path):
    (tmp_path / "static").mkdir()
    (tmp_path / "static" / "refdb.css").write_text("p {}", encoding="utf-8")
    editions = set()
    for rows, style in (("0" * 64, "p {}"), ("1" * 64, "p {}"), ("1" * 64, "a {}"), ("1" * 64, "a {}")):
        (tmp_path / "store.db.sha256").write_text(Seal("2" * 64, rows).text(tmp_path / "store.db"), encoding="utf-8")
        (tmp_path / "static" / "refdb.css").write_text(style, encoding="utf-8")
        editions.add(edition_of(tmp_path / "store.db", tmp_path / "static"))
    assert len(editions) == 3
    html = '<link href="/static/refdb.css?v=0"><a href="/about">x</a>'
    told = rewritten(html, "suits/a.html", PLACES, (), "12")
    assert told == '<link href="../static/refdb.css?v=12"><a href="../about.html">x</a>'


def test_metals_that_are_not_there_cannot_be_chosen():
    html = '<select name="metal"><option value="b">B</option><option value="c">C</option></select>'
    assert rewritten(html, "index.html", PLACES, {"b"}) == '<select name="metal"><option value="b">B</option></select>'
    assert rewritten(html, "index.html", PLACES) == html
    of_glass = html.replace('"metal"', '"glass"')
    assert rewritten(of_glass, "index.html", PLACES, {"b"}) == of_glass


@pytest.mark.parametrize("place", ["index.html", "suits/x.html", "a/b/c.html"])
def test_the_way_between_two_files(place):
    assert (Path(place).parent / leads(place, "static/refdb.css")).as_posix().count("static/refdb.css") == 1
    assert not leads(place, "static/refdb.css").startswith("/")


def test_a_folder_that_holds_other_things_is_left_alone(refdb, tmp_path):
    (tmp_path / "mine.txt").write_text("kept")
    for given_folder in (tmp_path, tmp_path / "mine.txt"):
        ran = refdb("browse", "--export", str(given_folder))
        assert ran.status == 2
        assert len(ran.err.splitlines()) == 1
    assert [p.name for p in tmp_path.iterdir()] == ["mine.txt"]
    assert refdb("browse", "--export", " ").status == 2
    assert refdb("browse", "--maps").status == 2
    assert refdb("browse", "--on", "copper").status == 2
    assert refdb("browse", "--export", str(tmp_path / "new"), "--on", "unobtainium").status == 3
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize(
    ("on", "shown"),
    [
        ((), "fine silver clay"),
        (("copper-sheet", "fine-silver-clay"), "fine silver clay"),
        (("copper-sheet", "gold-24k"), "copper sheet"),
    ],
)
def test_the_question_of_an_export_stands_at_a_metal_that_is_there(store, on, shown):
    """So does the picture of melting leaf beneath it."""
    site = _opened(store, on)
    body = _body(site, "/clears")
    site.close()
    assert f"Leaf on {shown} against the kiln" in body
    assert on == () or "fine-silver-clay" in on or "on fine silver clay" not in rewritten(body, "clears.html", (), on)


@pytest.fixture(scope="module")
def folder(store, tmp_path_factory):
    found = tmp_path_factory.mktemp("export") / "pages of a school"
    told = []
    export(store, found, lambda done, total: told.append((done, total)), on=("copper-sheet",))
    assert told[-1][0] == told[-1][1]
    return found


@pytest.mark.slow
def test_every_link_of_an_export_leads_somewhere(folder):
    files = list(folder.rglob("*.html"))
    parts = {f.resolve(): set(re.findall(r'\bid="([^"]*)"', f.read_text(encoding="utf-8"))) for f in files}
    told = json.loads((folder / "refdb-export.json").read_text(encoding="utf-8"))
    assert len(files) == told["pages"] > 500
    led = {file.resolve(): set() for file in files}
    for file in files:
        for link in map(unescape, re.findall(r'(?:href|src|action)="([^"]*)"', file.read_text(encoding="utf-8"))):
            assert not link.startswith("/"), (file, link)
            if link.startswith(("http:", "https:", "data:")):
                continue
            path, _, part = link.partition("#")
            asked = path.partition("?")[2] if "find.html?q=" in path else ""
            path = path.removesuffix(f"?{asked}") if asked else path
            target = (file.parent / path.partition("?")[0]).resolve() if path else file.resolve()
            assert target.is_file(), (file, link)
            # What pages share may be kept for good, so its address says which store and which files it is of.
            shared = "/static/" in f"/{path}"
            assert path.partition("?")[2] == (f"v={told['edition']}" if shared else ""), (file, link)
            assert not part or target.suffix != ".html" or part in parts[target], (file, link)
            led[file.resolve()].add(target)
    # Every page is come to by links alone, without a script.
    seen, waiting = set(), [(folder / "index.html").resolve()]
    while waiting:
        file = waiting.pop()
        if file not in seen:
            seen.add(file)
            waiting += led.get(file, ())
    assert {f.resolve() for f in files} <= seen


@pytest.mark.slow
def test_an_exported_verdict_says_what_the_view_says(folder, store):
    def squeezed(text):
        return "".join(text.split())

    with Reference(store) as ref:
        metals = {lower_first(m.label) for m in ref.materials("metal")}
    asking = Asking(store)
    for glass in ("clear-hard-lead-free", "window-soda-lime"):
        address = f"/suits?glass={glass}&metal=copper-sheet"
        body = asking.get(address).body
        # Names of parts that are not there, and what only the view can do.
        spans = re.findall(r"<span data-live>(.*?)</span>", body)
        live = {"Piece", "Compare", *(word for span in spans for word in Outline(span).words)}
        shown = Outline(body)
        written = Outline((folder / place_of(address)).read_text(encoding="utf-8"))
        text = squeezed(" ".join(written.words))
        gone = {w for w in shown.words if squeezed(w) not in text}
        # All but the parts of the view that are not there, and the metals that cannot be chosen.
        assert not {w for w in gone if lower_first(w) not in metals} - live, gone
        assert len(text) > 2000
    asking.close()


@pytest.mark.slow
def test_an_export_works_from_a_folder(folder):
    with Browser() as browser:

        def told(expression):
            found = browser.send("Runtime.evaluate", expression=expression, returnByValue=True)
            return found["result"].get("value")

        browser.open((folder / "find.html").as_uri() + "?q=gold%20foil")
        assert "gold foil" in told("document.getElementById('main').innerText").lower()
        link = told("document.querySelector('#main ol.plain a').href")
        assert link.startswith(folder.as_uri())
        browser.open((folder / "suits.html").as_uri())
        told(
            "(function(){var f=document.forms[0];f.elements.glass.value='opal-lead-free';"
            "f.elements.metal.value='copper-sheet';f.requestSubmit()})()"
        )
        for _ in range(50):
            if "glass-opal" in told("location.href"):
                break
            told("new Promise(done => setTimeout(done, 100))")
        assert told("location.href") == (folder / place_of("/suits?glass=opal-lead-free&metal=copper-sheet")).as_uri()
        assert not browser.console


def test_the_files_for_web_servers_show_no_shelf(refdb):
    """A view behind a proxy is asked from this computer, so it must be started without own records."""
    folder = Path(__file__).resolve().parent.parent / "scripts" / "serve"
    for name in ("nginx.conf", "Caddyfile"):
        line = next(x for x in (folder / name).read_text().splitlines() if "browse --no-open" in x)
        assert "--workshop /var/empty/none.db" in line
    assert 'CMD ["refdb", "browse"' in (folder / "Containerfile").read_text()


KILLED = """
import os, sys
from pathlib import Path
from refdb.browse.export import written
folder, at = Path(sys.argv[1]), int(sys.argv[2])
def new(store, beside, *rest):
    (beside / "index.html").write_text("new")
    (beside / written.MANIFEST).write_text("{}")
    return written.Exported(1, 3)
written._written = new
steps = 0
for name in ("mkdir", "write_text", "rename"):
    def killed(self, *given, done=getattr(Path, name), **named):
        global steps
        steps += 1
        if steps == at:
            os._exit(9)
        return done(self, *given, **named)
    setattr(Path, name, killed)
written.export(Path("none"), folder, lambda done, total: None)
"""


def test_an_export_that_is_killed_leaves_the_old_one_or_the_new_one(tmp_path):
    """Killed before it is whole, between the two renamings, and not at all.

    Where the folder has lost its name, the next export gives it back first.
    """
    folder, left = tmp_path / "pages", set()
    for at in (3, 5, 6):
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir()
        (folder / "index.html").write_text("old")
        (folder / MANIFEST).write_text("{}")
        ran = subprocess.run([sys.executable, "-c", KILLED, str(folder), str(at)], cwd=ROOT, check=False)
        left.add((ran.returncode, folder.exists()))
        _tidied(folder)
        assert [p.name for p in tmp_path.iterdir()] == ["pages"]
        assert (folder / "index.html").read_text() == ("new" if ran.returncode == 0 else "old")
    assert left == {(9, True), (9, False), (0, True)}


def test_an_export_that_cannot_take_its_name_leaves_the_old_one(tmp_path, monkeypatch):
    folder, beside = tmp_path / "pages", tmp_path / "new"
    for made in (folder, beside):
        made.mkdir()
        (made / "index.html").write_text(made.name)
    done = Path.rename

    def refused(self, target):
        if self == beside:
            raise OSError("no")
        return done(self, target)

    monkeypatch.setattr(Path, "rename", refused)
    with pytest.raises(OSError, match="no"):
        _put_in_place(beside, folder)
    assert (folder / "index.html").read_text() == "pages"
