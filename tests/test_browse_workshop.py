"""The person's own workshop in the pages: beside the reference, marked, never written, and never stale."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import re
import shutil
import sqlite3
import threading
from pathlib import Path
from urllib.parse import quote

import pytest
from browse_client import Asking, Outline, numbers_not_told, printed
from own_words import ADD_JAR

from refdb.browse.server.query import address
from refdb.browse.server.watched_workshop import ReadOnly
from refdb.cli.main import main
from refdb.judge.fit.glass_on_metal import STANDARD
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.schema import VERSION

EVIL = "Tin <script>alert(1)</script> \"quoted\" & 'single'"
SHELF = (
    ADD_JAR,
    ("add", "glass", "--name", "Blé vert", "--like", "green-transparent-lead-free", "--basis", "guess"),
    ("add", "glass", "--name", EVIL, "--like", "opal-lead-free", "--basis", "guess", "--note", "<b>loose</b>"),
    (
        "add",
        "metal",
        "--name",
        "Thin copper",
        "--like",
        "copper-sheet",
        "--expansion",
        "17.0 ppm/K",
        "--expansion-span",
        "20-300C",
        "--basis",
        "own test",
    ),
    ("add", "leaf", "--name", "Book 3", "--like", "gold-foil-24k", "--basis", "guess"),
    (
        "tile",
        "my:jar-12",
        "copper-sheet",
        "--outcome",
        "crazed",
        "--showed",
        "within-a-day",
        "--kiln",
        "815C",
        "--metal-thickness",
        "0.8mm",
        "--front",
        "0.3mm",
        "--back",
        "0.3mm",
        "--note",
        "<i>edge</i>",
    ),
    ("tile", "my:jar-12", "copper-sheet", "--outcome", "sound", "--metal-thickness", "0.5mm"),
    ("kiln", "12 K"),
)
PIECE = (
    '[piece]\ntitle = "Leaf pin"\nwidth = "30 mm"\nheight = "20 mm"\n[base]\nmetal = "copper-sheet"\n'
    'thickness = "0.8 mm"\n[[step]]\ndo = "coat"\nglass = "my:jar-12"\nthickness = "0.2 mm"\n[[step]]\n'
    'do = "fire"\nkiln = "800 C"\n[[step]]\ndo = "clean"\nface = "back"\n[[step]]\ndo = "coat"\nface = "back"\n'
    'glass = "my:jar-12"\nthickness = "0.2 mm"\n[[step]]\ndo = "fire"\nkiln = "800 C"\n'
)
PAGES = (
    "/",
    "/materials",
    "/materials?kind=glass&family=your+own",
    "/materials?kind=metal&sort=expansion",
    "/material/my:jar-12",
    "/material/my:thin-copper",
    "/material/my:book-3",
    f"/material/{quote('my:blé-vert')}",
    "/suits",
    "/suits?glass=my:jar-12&metal=copper-sheet",
    "/suits?glass=my:jar-12&metal=my:thin-copper&kiln=800+C",
    "/suits?glass=my:jar-12",
    "/suits?metal=my:thin-copper",
    "/suits?metal=copper-sheet",
    "/clears",
    "/clears?leaf=my:book-3&metal=my:thin-copper&under=my:jar-12",
    "/grid",
    "/grid?glasses=your+own",
    "/grid?metals=your+own",
    "/grid?glasses=your+own&metals=your+own",
    "/find?q=jar",
    f"/piece?text={quote(PIECE)}",
    "/cautions?material=my:jar-12",
    "/sources",
    "/about",
    "/workshop",
    "/workshop/glasses",
    "/workshop/tiles",
    f"/workshop/glasses/{'jar-12'}",
    "/workshop/past",
    "/workshop/kilns",
)


def mine(path: Path, *arguments: str) -> None:
    """Change a workshop as the command does."""
    assert main(["--workshop", str(path), "mine", *arguments]) == 0, arguments


def add_jar(path: Path, name: str) -> None:
    with Workshop(path, write=True) as shop:
        shop.add("glass", {"name": name, "like": "opal-lead-free", "basis": "guess", "date": "2024-01-01"})


@pytest.fixture(scope="module")
def shelf(store, tmp_path_factory):
    """A workshop that the tests of this file read and do not change."""
    path = tmp_path_factory.mktemp("own") / "shelf.db"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("REFDB_STORE", str(store))
        for arguments in SHELF:
            mine(path, *arguments)
    return path


@pytest.fixture(scope="module")
def asking(store, shelf):
    found = Asking(store, workshop=shelf)
    yield found
    found.close()


@pytest.fixture
def own(shelf, tmp_path):
    """A copy of it that a test may change."""
    path = tmp_path / "own.db"
    with Workshop(shelf) as shop:
        shop.backup(path)
    return path


@pytest.fixture
def browsing(store):
    """Open the pages on a workshop."""
    opened = []

    def at(path, **more):
        opened.append(Asking(store, workshop=path, **more))
        return opened[-1]

    yield at
    for found in opened:
        found.close()


@pytest.mark.parametrize("address", PAGES)
def test_a_page_with_own_records_is_well_formed_and_safe(asking, shelf, address):
    answer = asking.get(address)
    assert answer.status == 200
    outline = Outline(answer.body)
    assert outline.faults == []
    assert len(outline.ids) == len(set(outline.ids))
    assert len(outline.all("h1")) == 1
    labelled = {given["for"] for given in outline.all("label")}
    for name in ("input", "select", "textarea"):
        for given in outline.all(name):
            assert given.get("type") == "hidden" or given.get("aria-label") or given["id"] in labelled
    assert "b onclick" not in {tag for tag, _ in outline.tags}
    # Our own script, and nothing that a name brought in.
    assert [str(given["src"]).partition("?")[0] for given in outline.all("script")] == ["/static/refdb.js"]
    assert answer.body.count("<script") == 1
    assert "<i>edge" not in answer.body
    assert "<b>loose" not in answer.body
    assert str(shelf.parent) not in answer.body


def test_every_address_reachable_from_own_records_answers(asking):
    seen, waiting = set(), ["/", "/material/my:jar-12", "/grid?glasses=your+own", "/workshop", "/find?q=tin"]
    while waiting:
        address = waiting.pop()
        seen.add(address)
        outline = Outline(asking.get(address).body)
        found = {link.partition("#")[0] for link in outline.links}
        mine = {
            link for link in found if re.search(r"my:|my%3A|^/workshop", link) and not link.endswith((".json", ".csv"))
        }
        for link in mine - seen:
            answer = asking.get(link)
            assert answer.status == 200, (address, link)
            seen.add(link)
            if re.fullmatch(r"/material/[^?]*|/workshop/[^?]*", link):
                waiting.append(link)
    assert len(seen) > 60


def test_own_records_stand_in_lists_searches_and_choices_with_a_word(asking):
    for kind, name in (("glass", "Jar 12"), ("metal", "Thin copper"), ("leaf", "Book 3")):
        text = Outline(asking.get(f"/materials?kind={kind}").body).text
        assert "Your own" in text
        assert name in text
    # Hits stand under what they are, one's own under a heading of their own.
    assert re.search("Glass, your own\\s*Jar 12", Outline(asking.get("/find?q=jar+12").body).text)
    assert "glass, your own" in Outline(asking.get("/material/my:jar-12").body).text
    for page, names in (("/suits", ("glass", "metal")), ("/clears", ("leaf", "under", "metal")), ("/", ("glass",))):
        body = asking.get(page).body
        for name in names:
            choices = re.search(rf'<select[^>]*name="{name}".*?</select>', body, re.S)[0]
            assert '<optgroup label="your own">' in choices
            assert "my:" in choices
    for order in ("name", "expansion&down=1"):
        assert 'Jar 12</a> <i class="soft">yours</i>' in asking.get(f"/materials?kind=glass&sort={order}").body
    ranked = asking.get("/suits?metal=copper-sheet").body
    assert re.search(r'my:jar-12&amp;metal=copper-sheet">Jar 12</a> <i class="soft">yours</i>', ranked)
    assert re.search(
        r'my:jar-12">Jar 12</a> <i class="soft">yours</i>',
        asking.get("/clears?leaf=gold-foil-24k&metal=copper-sheet").body,
    )


def test_the_reference_counts_its_own_alone(asking, browsing):
    without = browsing(None)
    counted = r"(?:Glasses|Metals and metal clays|Leaf and foil|of the)\s*(\d+)"
    for page in ("/", "/about"):
        ours, plain = (re.findall(counted, Outline(found.get(page).body).text) for found in (asking, without))
        assert plain
        assert ours[: len(plain)] == plain


QUESTIONS = (
    ("my:jar-12", "copper-sheet", {}, ()),
    (
        "my:jar-12",
        "copper-sheet",
        {"metal_thickness": "0.5 mm", "back": "0 mm"},
        ("--metal-thickness", "0.5 mm", "--back", "0 mm"),
    ),
    ("my:jar-12", "my:thin-copper", {"kiln": "815 C"}, ("--kiln", "815 C")),
    ("my:blé-vert", "fine-silver-sheet", {}, ()),
    ("clear-hard-lead-free", "my:thin-copper", {}, ()),
    (
        "my:jar-12",
        "titanium-sheet",
        {"expansion": "9 ppm/K", "span": "20-400 C"},
        ("--expansion", "9 ppm/K", "--span", "20-400 C"),
    ),
)


@pytest.mark.parametrize(("glass", "metal", "more", "options"), QUESTIONS)
def test_the_numbers_of_own_records_are_those_of_the_command(asking, refdb, shelf, glass, metal, more, options):
    """Every number that `suits --json` gives stands on the page, rounded as the page rounds."""
    told = json.loads(refdb("--workshop", str(shelf), "suits", glass, metal, *options, "--json").out)
    for _ in range(2):
        text = Outline(asking.get(address("/suits", glass=glass, metal=metal, **more)).body).text
        assert numbers_not_told(told, text) == []
    tiles = [f"tile:{t['number']}" for t in told.get("tiles", [])]
    assert re.findall(r"tile:\d+", text) == tiles
    assert bool(tiles) == (glass == "my:jar-12" and metal == "copper-sheet")


def test_the_kilns_offset_is_taken_where_a_setting_is_asked_about(asking, refdb, shelf):
    told = json.loads(
        refdb("--workshop", str(shelf), "suits", "my:jar-12", "copper-sheet", "--kiln", "815 C", "--json").out
    )
    assert told["question"]["kiln_offset_k"] == 12
    question = "/suits?glass=my:jar-12&metal=copper-sheet"
    text = Outline(asking.get(f"{question}&kiln=815+C").body).text
    assert "The kiln runs 12 K hotter than it shows, as you wrote it down" in text
    assert "hotter than it shows" not in Outline(asking.get(question).body).text
    assert "shows, as you wrote it down" not in Outline(asking.get(f"{question}&kiln=815+C&kiln_offset=3+K").body).text


def test_own_tiles_stand_beside_the_verdict_as_the_command_tells_them(asking, refdb, shelf):
    lines = refdb("--workshop", str(shelf), "suits", "my:jar-12", "copper-sheet", "--full").out
    told = " ".join(lines.partition("Your own tiles")[2].partition("Cautions")[0].split())
    text = Outline(asking.get("/suits?glass=my:jar-12&metal=copper-sheet").body).text
    for line in re.findall(r"tile:\d.*?(?= tile:|$)", told):
        assert line in text
    assert told.count("tile:") == 2
    first = re.findall(r"Your own tiles? comes? before this verdict: [^.]*\.", " ".join(lines.split()))
    assert re.findall(r"Your own tiles? comes? before this verdict: [^.]*\.", text) == first
    assert len(first) == 1


def test_rankings_grids_and_pieces_of_own_records_are_those_of_the_command(asking, refdb, shelf, tmp_path):
    def told(*arguments):
        return json.loads(refdb("--workshop", str(shelf), *arguments, "--json").out)

    order = {"suits": 0, "suits with care": 1, "cannot say": 2, "does not suit": 3}
    rows = told("glasses", "--on", "copper-sheet")["rows"]
    found = Outline(asking.get("/suits?metal=copper-sheet").body).links
    links = [x for x in found if x.startswith("/suits?glass=") and "&metal=" in x]
    assert [re.search("glass=([^&]*)", x)[1] for x in links] == [
        quote(r["key"], safe=":") for r in sorted(rows, key=lambda r: order[r["verdict"]])
    ]
    cells = {
        g["href"]: g["aria-label"]
        for g in Outline(asking.get("/grid?glasses=your+own&metals=every+metal").body).all("a")
        if g.get("aria-label")
    }
    for metal in ("copper-sheet", "fine-silver-sheet", "titanium-sheet"):
        found = told("suits", "my:jar-12", metal)["verdict"]
        assert f": {found}" in cells[f"/suits?glass=my:jar-12&metal={metal}"]
    clears = told("clears", "my:book-3", "--on", "copper-sheet")["rows"]
    body = asking.get("/clears?leaf=my:book-3&metal=copper-sheet").body
    places = [body.index(f'/material/{quote(r.get("glass") or r["key"], safe=":")}"') for r in clears]
    assert places == sorted(places)
    file = tmp_path / "pin.toml"
    file.write_text(PIECE, encoding="utf-8")
    judged = told("piece", "check", str(file))
    text = Outline(asking.get(f"/piece?text={quote(PIECE)}").body).text
    assert judged["sentence"] in text
    assert "Your kiln runs 12 K hotter than it shows" in text
    for stage in judged["numbers"]["stages"]:
        for layer in stage["layers"]:
            assert printed(layer["mean_mpa"]["value"], 0, signed=True) in text
    assert re.findall(r"tile:\d+", text) == [f"tile:{t['number']}" for t in judged["tiles"]]


def test_own_glasses_come_first_in_a_grid_without_a_wish_and_are_bounded(asking, monkeypatch):
    from refdb.browse.pages import grid as grid_page

    def asked(address):
        asking.application.refdb_site._built.clear()
        body = asking.get(address).body
        return body, [x.partition("&")[0][13:] for x in Outline(body).links if x.startswith("/suits?glass=")]

    body, glasses = asked("/grid")
    every = list(dict.fromkeys(glasses))
    assert [g.startswith("my:") for g in every[:4]] == [True, True, True, False]
    assert not any(g.startswith("my:") for g in every[3:])
    assert "more of" not in body
    monkeypatch.setattr(grid_page, "FIRST_OWN", 2)
    body, glasses = asked("/grid")
    assert len({g for g in glasses if g.startswith("my:")}) == 2
    assert '1 more of <a href="/grid?glasses=your+own">' in body
    assert not any(g.startswith("my:") for g in asked("/grid?metals=every+metal")[1])
    assert not any(g.startswith("my:") for g in asked("/grid?glasses=clears")[1])
    monkeypatch.setattr(grid_page, "MOST_OWN", 40)
    body = asking.get("/grid?glasses=your+own&metals=your+own").body
    assert "pairs with your own are left out" not in body
    asking.application.refdb_site._built.clear()
    body = asking.get("/grid?glasses=your+own&metals=every+metal").body
    cells = [x for x in Outline(body).links if x.startswith("/suits?glass=my:")]
    assert 0 < len(cells) <= 40
    assert "pairs with your own are left out" in body
    asking.application.refdb_site._built.clear()


# Changes


def names_on(found: Asking) -> str:
    return Outline(found.get("/materials?kind=glass").body).text


def test_a_change_is_seen_at_once_and_no_page_outlives_it(browsing, own):
    """Pages are asked for while another connection, in another thread, holds the file open and writes."""
    found = browsing(own)
    held = (
        "/materials?kind=glass",
        "/suits?glass=my:jar-12&metal=copper-sheet",
        "/find?q=newest",
        "/suits",
        "/workshop/glasses",
        "/material/my:jar-12",
    )
    before = {page: found.get(page).body for page in held}
    assert {page: found.get(page).body for page in held} == before
    with Workshop(own, write=True) as writer:
        log = Path(f"{own}-wal")
        for n in range(3):
            writer.add(
                "glass", {"name": f"Newest {n}", "like": "opal-lead-free", "basis": "guess", "date": "2024-01-01"}
            )
            assert log.stat().st_size > 0
            assert f"Newest {n}" in names_on(found)
            assert f"Newest {n}" in found.get(f"/find?q=newest+{n}").body
            assert f"Newest {n}" in found.get("/workshop/glasses").body
        row = writer.row("glass", "jar-12")
        writer.edit("glass", "jar-12", {**row, "expansion_ppm_per_k": 5.0})
        assert found.get(held[1]).body != before[held[1]]
        assert "5" in re.search(r"glass expands</dt><dd>([^<]*)", found.get(held[1]).body)[1]
        with writer.change():
            writer.remove("glass", "newest-0")
            assert "Newest 0" in names_on(found), "what is not finished is not shown"
        assert "Newest 0" not in names_on(found)
        assert found.get("/material/my:newest-0").status == 404
    assert "Newest 1" in names_on(found)


def test_a_workshop_that_comes_is_replaced_and_goes_is_seen(browsing, own, tmp_path):
    path = tmp_path / "later" / "shop.db"
    found = browsing(path)
    assert "your own" not in names_on(found).lower()
    assert found.get("/workshop").status == 404
    add_jar(path, "First jar")
    assert "First jar" in names_on(found)
    assert "First jar" in found.get("/workshop/glasses").body
    # Another file in its place, as when a backup is brought back.
    os.replace(own, path)
    for log in (f"{path}-wal", f"{path}-shm"):
        Path(log).unlink(missing_ok=True)
    assert "First jar" not in names_on(found)
    assert "Jar 12" in names_on(found)
    assert "Jar 12" in found.get("/workshop/glasses").body
    assert "First jar" not in found.get("/workshop/glasses").body
    path.unlink()
    assert "Jar 12" not in names_on(found)
    assert found.get("/workshop/glasses").status == 404
    assert found.get("/reference/contacts").status == 200
    add_jar(path, "Second jar")
    assert "Second jar" in found.get("/workshop/glasses").body


def test_a_page_begun_before_a_change_is_not_kept(browsing, own):
    found = browsing(own)
    site = found.application.refdb_site
    state = site.state
    site.keep("/x", "", b"old", state)
    assert site.kept("/x", "") == b"old"
    add_jar(own, "Between")
    site.look()
    assert site.kept("/x", "") is None
    site.keep("/x", "", b"old", state)
    assert site.kept("/x", "") is None


def test_the_file_is_never_written_and_nobody_is_kept_waiting(browsing, own):
    found = browsing(own)

    def digest():
        return hashlib.sha256(own.read_bytes()).hexdigest()

    before = digest(), own.stat().st_mtime_ns
    for page in PAGES:
        assert found.get(page).status == 200
    assert (digest(), own.stat().st_mtime_ns) == before
    with pytest.raises(Exception, match="only read here"):
        found.application.databases["workshop"].connect(write=True)
    for connection in (ReadOnly(own).connection, found.application.databases["workshop"].connect()):
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            connection.execute("DELETE FROM glasses")
        connection.close()
    statuses = []

    def write():
        with Workshop(own, write=True, patience_s=5.0) as shop:
            for n in range(40):
                shop.add("glass", {"name": f"Busy {n}", "basis": "guess", "date": "2024-01-01"})

    writer = threading.Thread(target=write)
    writer.start()
    while writer.is_alive():
        statuses.append(found.get("/materials?kind=glass").status)
        statuses.append(found.get("/workshop/glasses").status)
    writer.join()
    assert set(statuses) == {200}
    assert "Busy 39" in names_on(found)


def newer(path: Path) -> None:
    with sqlite3.connect(path) as db:
        db.execute(f"PRAGMA user_version={VERSION + 1}")
    db.close()


def older(path: Path) -> None:
    with sqlite3.connect(path) as db:
        db.execute(f"PRAGMA user_version={VERSION - 1}")
    db.close()


def foreign(path: Path) -> None:
    path.unlink()
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE letters (a)")
    db.close()


def noise(path: Path) -> None:
    path.write_bytes(b"no workshop at all " * 500)


def holed(path: Path) -> None:
    """The head and the list of tables stay whole; everything behind is noise."""
    data = path.read_bytes()
    path.write_bytes(data[:4096] + b"\xab" * (len(data) - 4096))


def folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


SPOILT = (newer, older, foreign, noise, holed, folder)


@pytest.mark.parametrize("spoil", SPOILT, ids=lambda f: f.__name__)
@pytest.mark.parametrize("when", ["before", "meanwhile"])
def test_a_workshop_that_cannot_be_read_is_one_note_and_hinders_nothing(browsing, own, caplog, spoil, when):
    if when == "before":
        spoil(own)
    found = browsing(own)
    if when == "meanwhile":
        assert "Jar 12" in names_on(found)
        spoil(own)
    # The first pages may be those that find it out.
    for page in ("/workshop/glasses", "/suits?glass=my:jar-12&metal=copper-sheet", "/reference/contacts"):
        assert found.get(page).status in (200, 404, 503)
    for page in (
        "/",
        "/materials",
        "/suits?glass=clear-hard-lead-free&metal=copper-sheet",
        "/suits?metal=copper-sheet",
        "/grid?metals=copper",
        "/find?q=jar",
        "/piece?example=moth",
        "/material/copper-sheet",
        "/reference/contacts",
        "/reference/metals",
    ):
        answer = found.get(page)
        assert answer.status == 200, page
        assert Outline(answer.body).faults == []
        assert Outline(answer.body).text.count("Your own shelf is left out just now") == 1
        assert str(own.parent) not in answer.body
    assert found.get("/workshop/glasses").status == 404
    assert found.get("/material/my:jar-12").status == 404
    assert not [r for r in caplog.records if r.exc_info]


def test_tables_that_prove_damaged_are_taken_away_and_those_of_the_store_stay(browsing, own, caplog):
    """Only Datasette's own pages are asked for, which read the file by themselves."""
    found = browsing(own)
    assert found.get("/workshop/glasses").status == 200
    holed(own)
    answer = found.get("/workshop/tiles")
    assert answer.status in (404, 503)
    assert Outline(answer.body).faults == []
    assert str(own.parent) not in answer.body
    assert found.get("/workshop/glasses").status == 404
    assert found.get("/reference/contacts").status == 200
    assert not [r for r in caplog.records if r.exc_info]


def test_a_workshop_that_is_mended_is_taken_up_again(browsing, own, tmp_path):
    whole = tmp_path / "whole.db"
    shutil.copyfile(own, whole)
    found = browsing(own)
    holed(own)
    assert "left out just now" in names_on(found)
    assert "left out just now" in names_on(found)
    os.replace(whole, own)
    text = names_on(found)
    assert "left out just now" not in text
    assert "Jar 12" in text
    assert "Jar 12" in found.get("/workshop/glasses").body


def test_tables_of_ones_own_have_our_look_and_words(asking):
    outline = Outline(asking.get("/workshop").body)
    assert "Your own shelf" in outline.text
    assert "past" not in [x.rpartition("/")[2] for x in outline.links]
    text = Outline(asking.get("/workshop/glasses").body).text
    assert "thermal expansion, ppm/K" in text
    assert "thermal expansion, low, ppm/K" in text
    assert "/workshop/glasses/jar-12" in Outline(asking.get("/workshop/glasses").body).links
    rows = json.loads(asking.get("/workshop/glasses.json?_shape=array").body)
    assert {r["key"] for r in rows} >= {"jar-12", "blé-vert"}
    assert asking.get("/workshop/glasses.csv").body.startswith("key,name,like")
    assert asking.get("/workshop/glasses.json").headers.get("cache-control") in (None, "no-cache")
    assert asking.get("/workshop?sql=select+1").status == 403
    assert asking.get("/workshop.db").status in (403, 404)


def test_no_page_or_list_tells_where_the_workshop_lies(browsing, shelf):
    for local in (True, False):
        found = browsing(shelf, local=local)
        for page in (
            "/",
            "/workshop",
            "/workshop.json",
            "/workshop/glasses.json",
            "/workshop/nosuch",
            "/.json",
            "/workshop/glasses/nosuch",
            "/-/databases.json",
            "/-/metadata.json",
            "/workshop/nosuch.json",
        ):
            assert str(shelf.parent) not in found.get(page).body, page


def test_those_who_enable_sql_ask_the_judge_of_own_records_too(browsing, own, refdb, store):
    from refdb.browse.server.application import build

    found = browsing(own)
    found.application = build(store, workshop=own, sql=True)
    told = json.loads(refdb("--workshop", str(own), "suits", "my:jar-12", "copper-sheet", "--json").out)
    sql = "select verdict('my:jar-12', 'copper-sheet') as v, expansion_gap_ppm('my:jar-12', 'copper-sheet') as gap"
    for database in ("reference", "workshop"):
        row = json.loads(found.get(f"/{database}.json?sql={quote(sql)}&_shape=array").body)[0]
        assert row["v"] == told["verdict"]
        assert row["gap"] == pytest.approx(told["numbers"]["gap_ppm"]["value"], rel=1e-5)


def test_without_a_workshop_there_is_none(browsing, monkeypatch, shelf):
    """A workshop that the environment names is the command's to open, not the application's."""
    monkeypatch.setenv("REFDB_WORKSHOP", str(shelf))
    found = browsing(None)
    assert "Jar 12" not in found.get("/materials?kind=glass").body
    assert found.get("/workshop").status == 404
    assert "own shelf" not in found.get("/").body.partition("<footer")[2]


def test_many_jars_are_listed_within_bounds_and_found_beyond_them(browsing, own):
    with Workshop(own, write=True) as shop, shop.change():
        for n in range(330):
            shop.add(
                "glass", {"name": f"Shelf {n:03}", "like": "opal-lead-free", "basis": "guess", "date": "2024-01-01"}
            )
    found = browsing(own)
    text = names_on(found)
    assert "33 more of your own stand only in your tables" in text
    assert found.get("/material/my:shelf-329").status == 200
    assert "Shelf 329" in found.get("/find?q=shelf+329").body
    # Asked again, the same jar is asked about, though the list of choices does not hold it otherwise.
    for page in (
        "/suits?glass=my:shelf-329&metal=copper-sheet",
        "/clears?leaf=gold-foil-24k&metal=copper-sheet&under=my:shelf-329",
    ):
        body = found.get(page).body
        assert 'value="my:shelf-329" selected' in body
        assert body.count("my:shelf-328") == 0
    assert "33 more of your own are left out here" in body


def test_sampled_numbers_of_own_records_are_bounded(shelf, store):
    from refdb.browse.server import cached_reference as kept
    from refdb.browse.server.watched_workshop import Watch

    watch = Watch(shelf)
    with pytest.MonkeyPatch.context() as patch, kept.Kept(store, shelf) as ref:
        patch.setattr(kept, "MOST_ANSWERS", 2)
        ref.renew(watch.state(), ref.figures)
        first = ref.answer("my:jar-12", "copper-sheet", STANDARD)
        for metal in ("fine-silver-sheet", "gold-24k", "titanium-sheet"):
            ref.answer("my:jar-12", metal, STANDARD)
        assert len(ref._answers) == 2
        assert ref.answer("my:jar-12", "copper-sheet", STANDARD) == first
    watch.close()


def test_csv_of_the_tables_is_safe_in_a_spreadsheet(browsing, tmp_path):
    """Text that begins like a formula gets a ' before it, which an import takes away again; numbers stay numbers."""
    path = tmp_path / "own.db"
    with Workshop(path, write=True) as shop:
        for note in ("=1+1", "+a", "-b", "@c", "'d", "plain"):
            shop.add("glass", {"name": f"Jar {note}", "basis": "guess", "date": "2024-01-01", "note": note})
        shop.add("kiln", {"key": "kiln", "offset_k": -5.0, "basis": "guess", "date": "2024-01-01"})
    asking = browsing(path)
    body = asking.get("/workshop/glasses.csv?_size=max").body
    notes = {row["note"] for row in csv.DictReader(io.StringIO(body))}
    assert notes == {"'=1+1", "'+a", "'-b", "'@c", "''d", "plain"}
    (kiln,) = csv.DictReader(io.StringIO(asking.get("/workshop/kilns.csv").body))
    assert float(kiln["offset_k"]) == -5.0
