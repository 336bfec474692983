"""The shelf on a page: what it shows is what the commands say, and nothing is written but by who may, whole or not."""

from __future__ import annotations

import json
import re
import sqlite3
from datetime import date, timedelta
from urllib.parse import urlencode

import pytest
from browse_client import Asking, Outline, as_typed
from own_words import BOW, COPPER_STRIP

from refdb.browse.pages.shelf import LOOKS
from refdb.browse.pages.shelf_forms import LABELS, SECRET
from refdb.browse.server.writing import COOKIE, LONGEST_FORM, Writer, new_token
from refdb.cli.main import main
from refdb.pictures.looks import drawings
from refdb.store.workshop.file import Workshop
from refdb.store.workshop.schema import TILE_OUTCOMES

EVIL = "<script>alert(1)</script> \"q\" & 'x'"
SHELF = (
    (
        *("add", "glass", "--name", "Jar 3", "--like", "clear-hard-lead-free", "--expansion", "12.4 ppm/K"),
        *("--span", "20-400C", "--basis", "maker's sheet"),
    ),
    ("add", "glass", "--name", EVIL, "--like", "opal-lead-free", "--basis", "guess"),
    ("add", "metal", "--name", "Thin copper", "--like", "copper-sheet", "--basis", "own test"),
    ("stock", "my:jar-3", "50g"),
    ("stock", "my:jar-3", "8g"),
    ("tile", "my:jar-3", "copper-sheet", "--outcome", "crazed", "--showed", "within-a-day", "--note", EVIL),
)
TILE = {"glass": "my:jar-3", "metal": "copper-sheet", "outcome": "sound", "kiln": "790", "front": "0,25", "back": "0"}
STRIP = {
    "glass": "my:jar-3",
    "metal": "copper-sheet",
    "metal_thickness": "0.5",
    "glass_thickness": "0.3",
    "length": "100",
    "bow": "4.4",
}
FIRING = {"glass": "my:jar-3", "metal": "copper-sheet", "kiln": "815", "minutes": "3", "metal_thickness": "0.75"}
JAR = {
    "name": "Sea green",
    "like": "green-transparent-lead-free",
    "expansion": "12,6",
    "span": "20-400",
    "fuses": "780-815",
    "lead": "free",
    "basis": "maker's sheet",
}
FORMS = {"tile": TILE, "strip": STRIP, "firing": FIRING | {"result": "gloss"}, "glass": JAR}
#: Fields in which any text that can be printed may stand.
FREE = ("note", "name")
HOSTILE = (
    "<script>alert(1)</script>",
    "'; DROP TABLE tiles; --",
    "../../../etc/passwd",
    "a" * 300,
    "\x00",
    "\u202e",
    "nan",
    "1e999",
    "{{ 7*7 }}",
    "=1+1",
    "my:nosuch",
    '"><img src=x onerror=alert(1)>',
)


@pytest.fixture
def shop(tmp_path):
    path = tmp_path / "workshop.db"
    for arguments in SHELF:
        assert main(["--workshop", str(path), "mine", *arguments]) == 0
    return path


@pytest.fixture(scope="module")
def lasting(store, tmp_path_factory):
    """One shelf and its pages for many forms, of which none rests on another."""
    path = tmp_path_factory.mktemp("lasting") / "workshop.db"
    for arguments in SHELF:
        assert main(["--workshop", str(path), "mine", *arguments]) == 0
    asked = Asking(store, True, path, Writer(path))
    yield asked, path
    asked.application.refdb_site.leave_workshop()
    asked.close()


@pytest.fixture
def opened(store):
    held = []

    def open_on(path, local=True, token="", writes=True):
        asked = Asking(store, local, path, Writer(path, token) if writes else None)
        held.append(asked)
        return asked

    yield open_on
    for asked in held:
        asked.application.refdb_site.leave_workshop()
        asked.close()


def rows(path):
    """All that stands in the workshop."""
    with sqlite3.connect(path) as db:
        tables = [r[0] for r in db.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")]
        return {t: db.execute(f"SELECT * FROM {t}").fetchall() for t in tables}


def listed(path, kind):
    """The rows of a kind by column."""
    with Workshop(path) as held:
        return held.listed(kind)


def secret_of(asked):
    return asked.application.refdb_site.writer.secret


def send(asked, kind, form, *, secret=None, body=None, **headers):
    given = {"sec-fetch-site": "same-origin", "content-type": "application/x-www-form-urlencoded"} | headers
    full = form if secret == "" else form | {SECRET: secret_of(asked) if secret is None else secret}
    told = urlencode(full).encode() if body is None else body
    pairs = [(k.replace("_", "-").encode(), v.encode()) for k, v in given.items() if v is not None]
    pairs.append((b"content-length", str(len(told)).encode()))
    return asked.raw(f"/shelf/{kind}".encode(), b"", "POST", headers=pairs, body=(told,))


def in_our_look(answer):
    outline = Outline(answer.body)
    assert outline.faults == []
    assert len(outline.all("h1")) == 1
    assert "Traceback" not in answer.body
    assert "<script>alert" not in answer.body
    assert "<img src=x" not in answer.body
    return outline


def test_every_outcome_of_a_tile_has_its_drawing():
    assert set(LOOKS) == set(TILE_OUTCOMES)
    assert set(LOOKS.values()) <= set(drawings())


def test_the_shelf_shows_what_the_commands_say(opened, shop, refdb):
    outline = in_our_look(opened(shop).get("/shelf"))
    for metal in ("my:thin-copper", "copper-sheet", "fine-silver-sheet", "sterling-sheet"):
        told = json.loads(refdb("--workshop", str(shop), "suits", "my:jar-3", metal, "--json").out)
        cell = next(
            given
            for tag, given in outline.tags
            if tag == "a" and given.get("href") == f"/suits?glass=my:jar-3&metal={metal}"
        )
        assert told["verdict"] in cell["aria-label"]
    assert "8 of 50 g left, low" in outline.text
    tile = json.loads(refdb("--workshop", str(shop), "suits", "my:jar-3", "copper-sheet", "--json").out)["tiles"][0]
    assert f"it {tile['stands']}" in outline.text
    assert "crazed, within a day" in outline.text
    assert "2 jars, 1 metal of your own, 1 tile." in outline.text


def test_without_the_option_there_is_no_form_and_no_way_to_send_one(opened, shop):
    before = rows(shop)
    asked = opened(shop, writes=False)
    outline = Outline(asked.get("/shelf").body)
    assert outline.all("form") == []
    for kind in (*FORMS, "undo"):
        answer = send(asked, kind, {}, secret="x")
        assert answer.status == 405
        assert answer.headers["allow"] == "GET, HEAD"
        in_our_look(answer)
    assert rows(shop) == before


def test_a_tile_is_kept_as_the_command_keeps_it(opened, shop):
    asked = opened(shop)
    answer = send(asked, "tile", TILE | {"showed": "later", "minutes": "2.5", "note": "x", "date": "2024-05-20"})
    assert (answer.status, answer.headers["location"]) == (303, "/shelf?kept=tile%3A2")
    words = ("--kiln", "790C", "--front", "0.25mm", "--back", "0", "--minutes", "2.5", "--note", "x")
    mine = ["tile", "my:jar-3", "copper-sheet", "--outcome", "sound", "--showed", "later", "--date", "2024-05-20"]
    assert main(["--workshop", str(shop), "mine", *mine, *words]) == 0
    kept = rows(shop)["tiles"]
    assert kept[-1][1:] == kept[-2][1:]
    # It is on the page at once, and beside the verdict.
    assert "Kept as tile:2." in Outline(asked.get("/shelf?kept=tile:2").body).text
    assert "tile:2, 2024-05-20: sound" in asked.get("/suits?glass=my:jar-3&metal=copper-sheet").body


def test_a_strip_is_kept_with_its_result_as_the_command_does(opened, shop, refdb, tmp_path):
    answer = send(opened(shop), "strip", STRIP)
    assert answer.status == 303, Outline(answer.body).text
    other = tmp_path / "other.db"
    for arguments in SHELF[:1]:
        assert main(["--workshop", str(other), "mine", *arguments]) == 0
    ran = refdb("--workshop", str(other), "mine", "strip", *COPPER_STRIP, *BOW, "--save", "my:jar-3")
    assert ran.status == 0, ran.err
    assert rows(shop)["strips"] == rows(other)["strips"]
    with Workshop(shop) as one, Workshop(other) as two:
        assert one.row("glass", "jar-3") == two.row("glass", "jar-3")


def test_a_firing_is_kept_once(opened, shop):
    asked = opened(shop)
    assert send(asked, "firing", FORMS["firing"]).status == 303
    again = send(asked, "firing", FORMS["firing"])
    assert again.status == 400
    assert "stands there already" in in_our_look(again).text
    held = listed(shop, "firing")
    assert len(held) == 1
    told = {n: held[0][n] for n in ("glass", "kiln_c", "minutes", "metal", "metal_mm", "result")}
    wanted = {"glass": "my:jar-3", "kiln_c": 815.0, "minutes": 3.0, "metal": "copper-sheet", "metal_mm": 0.75}
    assert told == wanted | {"result": "gloss"}


def test_the_last_can_be_undone_and_only_the_last(opened, shop):
    asked = opened(shop)
    assert send(asked, "tile", TILE).status == 303
    before = rows(shop)
    for number in ("1", "9", "x", "-2", "2; DROP TABLE tiles", ""):
        assert send(asked, "undo", {"kind": "tile", "number": number}).status == 400
    assert send(asked, "undo", {"kind": "leaf", "number": "2"}).status == 400
    assert rows(shop) == before
    assert send(asked, "undo", {"kind": "tile", "number": "2"}).status == 303
    assert [t[0] for t in rows(shop)["tiles"]] == [1]
    # It can come back.
    assert main(["--workshop", str(shop), "mine", "restore", "tile:2"]) == 0


def test_a_jar_is_kept_as_the_command_keeps_it(opened, shop, tmp_path):
    asked = opened(shop)
    answer = send(asked, "glass", JAR | {"note": "x"})
    assert (answer.status, answer.headers["location"]) == (303, "/shelf?kept=glass%3Asea-green"), answer.body[-900:]
    other = tmp_path / "other.db"
    typed = ("--expansion", "12.6 ppm/K", "--span", "20-400 C", "--fuses", "780-815 C", "--lead", "free", "--note", "x")
    mine = ("add", "glass", "--name", "Sea green", "--like", "green-transparent-lead-free", "--basis", "maker's sheet")
    assert main(["--workshop", str(other), "mine", *mine, *typed]) == 0
    with Workshop(shop) as one, Workshop(other) as two:
        assert one.row("glass", "sea-green") == two.row("glass", "sea-green")
    text = Outline(asked.get("/shelf?kept=glass:sea-green").body).text
    assert "Kept as Sea green." in text
    assert "Sea green" in asked.get("/suits").body


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("name", "", "Is missing. Give one, such as Jar 12."),
        ("name", "Jar 3", "The name is taken by a glass of yours. Give another."),
        ("span", "", "An expansion says little without its span."),
        ("expansion", "124", 'It may be cubical (tick "cubical" to divide it by 3)'),
        ("like", "my:jar-3", "Is a jar of yours, not a class of the store."),
        ("like", "nosuch", "No glass is called 'nosuch'. Choose one."),
        ("fuses", "very hot", "very hot"),
        ("lead", "some", "some"),
        ("basis", "hearsay", "hearsay"),
    ],
)
def test_a_jar_that_cannot_be_kept_comes_back_with_its_fault_at_the_field(opened, shop, field, typed, words):
    asked, before = opened(shop), rows(shop)
    answer = send(asked, "glass", JAR | {field: typed})
    assert answer.status == 400
    outline = in_our_look(answer)
    wrong = [given["id"] for _, given in outline.tags if given.get("aria-invalid") == "true"]
    assert wrong == [f"glass-{field}"]
    assert words in outline.text
    assert " --" not in outline.text
    assert [g["value"] for g in outline.all("input") if g.get("id") == "glass-fuses"] == [
        typed if field == "fuses" else "780-815"
    ]
    assert rows(shop) == before


def test_a_clear_finds_its_class_by_hardness_and_lead(opened, shop):
    given = {"name": "Plain", "hardness": "hard", "lead": "free"}
    assert send(opened(shop), "glass", given).status == 303
    with Workshop(shop) as held:
        assert held.row("glass", "plain")["like"] == "clear-hard-lead-free"
        assert held.row("glass", "plain")["basis"] == "guess"


def test_a_jar_is_undone_while_nothing_rests_on_it(opened, shop):
    asked, before = opened(shop), rows(shop)
    assert send(asked, "glass", JAR).status == 303
    for key in ("jar-3", "nosuch", "x'; DROP TABLE glasses; --"):
        assert send(asked, "undo", {"kind": "glass", "number": key}).status == 400
    assert send(asked, "tile", TILE | {"glass": "my:sea-green"}).status == 303
    refused = send(asked, "undo", {"kind": "glass", "number": "sea-green"})
    assert refused.status == 400
    assert "something rests on it" in Outline(refused.body).text
    assert send(asked, "undo", {"kind": "tile", "number": "2"}).status == 303
    assert send(asked, "undo", {"kind": "glass", "number": "sea-green"}).status == 303
    assert {k: v for k, v in rows(shop).items() if k != "past"} == {k: v for k, v in before.items() if k != "past"}
    assert main(["--workshop", str(shop), "mine", "restore", "my:sea-green"]) == 0


def test_a_strip_is_undone_with_what_it_did_to_its_jar(opened, shop):
    asked = opened(shop)
    with Workshop(shop) as held:
        jar = held.row("glass", "jar-3")
    assert send(asked, "strip", STRIP).status == 303
    with Workshop(shop) as held:
        assert held.row("glass", "jar-3") != jar
    assert send(asked, "undo", {"kind": "strip", "number": "2"}).status == 400
    assert send(asked, "undo", {"kind": "strip", "number": "1"}).status == 303
    with Workshop(shop) as held:
        assert held.row("glass", "jar-3") == jar
        assert held.count("strip") == 0


def test_a_strip_whose_jar_was_changed_since_stays(opened, shop):
    """Neither half of the undoing is then done."""
    asked = opened(shop)
    assert send(asked, "strip", STRIP).status == 303
    assert main(["--workshop", str(shop), "mine", "edit", "my:jar-3", "--note", "new"]) == 0
    before = rows(shop)
    refused = send(asked, "undo", {"kind": "strip", "number": "1"})
    assert refused.status == 400
    assert "Its jar was changed since" in Outline(refused.body).text
    assert rows(shop) == before


@pytest.mark.parametrize("kind", FORMS)
def test_a_form_that_is_wrong_comes_back_filled_with_its_fault_at_the_field(opened, shop, kind):
    asked, before = opened(shop), rows(shop)
    field = {"tile": "kiln", "strip": "bow", "firing": "minutes", "glass": "expansion"}[kind]
    answer = send(asked, kind, FORMS[kind] | {field: "very much"})
    assert answer.status == 400
    outline = in_our_look(answer)
    wrong = [given for _, given in outline.tags if given.get("aria-invalid") == "true"]
    assert [(g["id"], g["value"]) for g in wrong] == [(f"{kind}-{field}", "very much")]
    assert "wrong" in outline.ids
    assert rows(shop) == before


TAKEN = [
    ("tile", "kiln", "790,5", {"kiln_c": 790.5}),
    ("tile", "kiln", "1450 F", {"kiln_c": 787.777778}),
    ("tile", "minutes", "2½", {"minutes": 2.5}),
    ("tile", "minutes", "three minutes", {"minutes": 3.0}),
    ("tile", "back", "bare", {"back_mm": 0.0}),
    ("tile", "metal_thickness", "18g", {"metal_mm": 1.02368734}),
    ("tile", "glass", "hard clear", {"glass": "clear-hard-lead-free"}),
    ("strip", "bow", "\N{MINUS SIGN}4,4", {"bow_mm": -4.4}),
    ("strip", "length", "10 cm", {"length_mm": 100.0}),
    ("firing", "metal_thickness", "1/2 mm", {"metal_mm": 0.5}),
    ("glass", "span", "68-752 F", {"expansion_from_c": 20.0, "expansion_to_c": 400.0}),
    ("glass", "name", 'O\'Hara "blue" <b>', {"name": 'O\'Hara "blue" <b>'}),
]
REFUSED = [
    ("tile", "front", "0.3 mn", "a unit that does not fit"),
    ("tile", "front", "30", "more than a tile carries"),
    ("tile", "back", "thick", "does not start with a number"),
    ("tile", "metal_thickness", "0", "thinner than"),
    ("tile", "kiln", "1450", "does not say which degrees"),
    ("tile", "note", "x" * 5000, "Is longer than 200 letters. Shorten it."),
    ("tile", "note", "one\r\ntwo", "cannot be read"),
    ("tile", "glass", "my:nosuch", "No glass is called 'my:nosuch'. Choose one."),
    ("strip", "bow_before", "none", "does not start with a number"),
    ("strip", "bow", "", "Is not given. Measure it"),
    ("strip", "metal", "unobtainium", "No base metal is called 'unobtainium'. Choose one."),
    ("firing", "minutes", "600", "Give 0.05 to 60 minutes."),
    ("firing", "metal_thickness", "20 mm", "Give 0.1 to 10 mm."),
    ("firing", "metal", "gold", "'gold' may be"),
    ("glass", "name", "x" * 300, "Is longer than 200 letters. Shorten it."),
]


@pytest.mark.parametrize(("kind", "field", "text", "stored"), TAKEN)
def test_what_people_type_is_taken_as_it_was_meant(lasting, kind, field, text, stored):
    asked, shop = lasting
    before = listed(shop, kind)
    assert send(asked, kind, FORMS[kind] | {field: text}).status == 303
    new = [row for row in listed(shop, kind) if row not in before]
    assert [{name: row[name] for name in stored} for row in new] == [stored]


@pytest.mark.parametrize(("kind", "field", "text", "why"), REFUSED)
def test_what_cannot_be_meant_stands_in_its_field_again_with_why(lasting, kind, field, text, why):
    asked, shop = lasting
    before = rows(shop)
    answer = send(asked, kind, FORMS[kind] | {field: text})
    assert answer.status == 400
    outline = in_our_look(answer)
    at = [(tag, given) for tag, given in outline.tags if given.get("aria-invalid") == "true"]
    assert [given["id"] for _, given in at] == [f"{kind}-{field}"]
    assert "autofocus" in at[0][1]
    if at[0][0] == "input":
        assert at[0][1]["value"] == text.replace("\r\n", "  ")
    told = as_typed(answer.body.partition('class="err" id="wrong">')[2].partition("</span>")[0])
    assert why in told
    # A page says nothing of commands, and the rest of the form is as it was.
    assert "refdb " not in told.lower()
    rest = {
        given["id"]: given["value"] for given in outline.all("input") if given.get("type") not in ("radio", "hidden")
    }
    typed = {n: v for n, v in FORMS[kind].items() if n != field and f"{kind}-{n}" in rest}
    assert {n: rest[f"{kind}-{n}"] for n in typed} == typed
    assert rows(shop) == before


def test_the_page_of_a_jar_has_its_tiles(opened, shop):
    asked = opened(shop)
    outline = in_our_look(asked.get("/material/my:jar-3"))
    assert "Your own tiles" in outline.text
    assert "Crazed, within a day: Jar 3 on copper sheet." in outline.text
    assert "/suits?glass=my:jar-3&metal=copper-sheet" in outline.links
    assert "Your own tiles" not in asked.get("/material/copper-sheet").body


def test_a_day_still_to_come_is_no_day_of_a_firing(opened, shop):
    ahead = (date.today() + timedelta(days=40)).isoformat()
    for kind in ("tile", "firing"):
        answer = send(opened(shop), kind, FORMS[kind] | {"date": ahead})
        assert (answer.status, f"{ahead} is in the future" in answer.body) == (400, True)
        assert send(opened(shop), kind, FORMS[kind] | {"date": date.today().isoformat()}).status == 303


def test_cards_of_a_clay_are_counted_before_firing_here_as_in_a_verdict(opened, shop, refdb):
    told = refdb("suits", "clear-hard-lead-free", "copper-clay", "--metal-thickness", "3 cards", "--json")
    fired = json.loads(told.out)["question"]["metal_thickness_mm"]["value"]
    for kind in ("tile", "firing"):
        form = FORMS[kind] | {"metal": "copper-clay", "metal_thickness": "three cards"}
        assert send(opened(shop), kind, form).status == 303
        assert listed(shop, kind)[-1]["metal_mm"] == pytest.approx(fired, abs=0.005)
    command = ("--metal-thickness", "3 cards", "--outcome", "sound")
    refdb("--workshop", str(shop), "mine", "tile", "my:jar-3", "copper-clay", *command)
    assert listed(shop, "tile")[-1]["metal_mm"] == listed(shop, "tile")[-2]["metal_mm"]


def test_a_jar_written_down_again_can_be_undone_again(opened, shop):
    asked, before = opened(shop), listed(shop, "glass")
    for _ in range(2):
        key = send(asked, "glass", JAR).headers["location"].rpartition("%3A")[2]
        assert send(asked, "undo", {"kind": "glass", "number": key}).status == 303
        assert listed(shop, "glass") == before


@pytest.mark.parametrize("text", HOSTILE)
@pytest.mark.parametrize("kind", FORMS)
def test_every_field_bears_every_text(opened, shop, kind, text):
    asked, before = opened(shop), rows(shop)
    for name in LABELS[kind]:
        if name in FREE:
            continue
        answer = send(asked, kind, FORMS[kind] | {name: text})
        assert 400 <= answer.status < 500, (name, answer.status)
        in_our_look(answer)
        assert rows(shop) == before
    note = send(asked, "tile", TILE | {"note": text})
    if note.status == 303:
        # What may stand in a note is shown as what it is.
        in_our_look(asked.get("/shelf"))
        assert listed(shop, "tile")[-1]["note"] == text
    else:
        assert rows(shop) == before


@pytest.mark.parametrize(
    "headers",
    [
        {"sec_fetch_site": "cross-site"},
        {"sec_fetch_site": "same-site"},
        {"sec_fetch_site": "none"},
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"sec_fetch_site": None, "origin": "https://localhost.evil.example"},
        {"content_type": "text/plain"},
        {"content_type": "application/json"},
    ],
)
def test_what_comes_from_elsewhere_is_refused(opened, shop, headers):
    asked, before = opened(shop), rows(shop)
    given = {"sec-fetch-site": "same-origin"} | {k.replace("_", "-"): v for k, v in headers.items()}
    answer = send(asked, "tile", TILE, **given)
    assert answer.status in (400, 403)
    in_our_look(answer)
    assert rows(shop) == before


@pytest.mark.parametrize("secret", ["", "x", "é" * 10, "a" * 190])
def test_without_the_secret_of_this_start_nothing_is_written(opened, shop, secret):
    asked, before = opened(shop), rows(shop)
    other = opened(shop)
    for word in (secret, secret_of(other)):
        answer = send(asked, "tile", TILE, secret=word)
        assert answer.status == 403
        in_our_look(answer)
    assert rows(shop) == before


def test_a_megabyte_too_many_fields_and_broken_forms_are_refused(opened, shop):
    asked, before = opened(shop), rows(shop)
    bodies = (
        (b"note=" + b"a" * 1_000_000, 413),
        (b"a=" + b"x" * (LONGEST_FORM + 1), 413),
        (b"&".join(b"a%d=1" % n for n in range(99)), 400),
        (b"glass=a&glass=b", 400),
        (b"nosuch=1", 400),
        (b"\xff\xfe", 400),
    )
    for body, status in bodies:
        answer = send(asked, "tile", {}, body=body)
        assert answer.status == status, body[:20]
        in_our_look(answer)
    broken = send(asked, "tile", {}, body=b"--x\r\n", content_type="multipart/form-data; boundary=x")
    assert broken.status == 400
    gone = asked.raw(
        b"/shelf/tile",
        method="POST",
        headers=[(b"sec-fetch-site", b"same-origin"), (b"content-type", b"application/x-www-form-urlencoded")],
        body=(b"glass=", None),
    )
    assert gone.status == 400
    assert rows(shop) == before


@pytest.mark.parametrize("path", ["/shelf/..%2ftile", "/shelf/tile/", "/shelf/jar", "/shelf/tile%00", "/shelf//tile"])
def test_no_other_address_takes_a_form(opened, shop, path):
    asked, before = opened(shop), rows(shop)
    answer = asked.raw(path.encode(), method="POST", headers=[(b"sec-fetch-site", b"same-origin")])
    assert answer.status in (404, 405)
    assert rows(shop) == before


def test_on_the_network_the_word_of_the_terminal_opens_the_forms(opened, shop):
    token = new_token()
    asked, before = opened(shop, local=False, token=token), rows(shop)
    host = {"host": "192.0.2.7"}

    def page(path, **headers):
        return asked.raw(
            path.partition("?")[0].encode(),
            path.partition("?")[2].encode(),
            host=b"192.0.2.7",
            headers=[(k.encode(), v.encode()) for k, v in headers.items()],
        )

    closed = page("/shelf")
    assert secret_of(asked) not in closed.body
    assert [f["action"] for f in Outline(closed.body).all("form")] == ["/shelf"]
    for wrong in ("x", token[:-1], token + "a", "é"):
        assert page(f"/shelf?{urlencode({'token': wrong})}").status == 400
    answer = page(f"/shelf?token={token}")
    assert (answer.status, answer.headers["location"]) == (303, "/shelf")
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    # Opened by the number of the computer it has no https, over which alone a browser would then send it.
    assert "Secure" not in cookie
    assert Writer(shop, token, over_https=True).cookie == f"{cookie}; Secure"
    opened_page = page("/shelf", cookie=f"{COOKIE}={token}")
    assert secret_of(asked) in opened_page.body
    assert "no-store" in opened_page.headers["cache-control"]
    assert token not in opened_page.body
    # The secret alone does not do, nor a wrong cookie.
    for held in (None, f"{COOKIE}=x", "nonsense;;;=", f"{COOKIE}"):
        refused = send(asked, "tile", TILE, **({"cookie": held} if held else {}))
        assert refused.status == 403
    assert rows(shop) == before
    assert send(asked, "tile", TILE, cookie=f"{COOKIE}={token}").status == 303
    assert len(rows(shop)["tiles"]) == len(before["tiles"]) + 1
    assert host


def test_words_of_the_terminal_cannot_be_guessed():
    found = {new_token() for _ in range(200)}
    assert len(found) == 200
    assert {len(word) for word in found} == {20}


def test_the_first_record_makes_the_shelf(opened, tmp_path):
    path = tmp_path / "deep" / "workshop.db"
    asked = opened(path)
    assert asked.get("/shelf").status == 200
    assert not path.exists()
    assert send(asked, "tile", TILE | {"glass": "opal-lead-free"}).status == 303
    assert "1 tile." in Outline(asked.get("/shelf").body).text


def test_who_writes_at_the_same_time_is_waited_for_or_told(opened, shop, monkeypatch):
    monkeypatch.setattr("refdb.browse.pages.shelf_forms.PATIENCE_S", 0.2)
    asked = opened(shop)
    asked.get("/shelf")
    with sqlite3.connect(shop, isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = send(asked, "tile", TILE)
        assert (answer.status, answer.headers["retry-after"]) == (503, "5")
        other.execute("ROLLBACK")
    assert send(asked, "tile", TILE).status == 303


def test_a_hostile_name_of_a_jar_stays_text(opened, shop):
    body = opened(shop).get("/shelf").body
    assert "<script>alert" not in body
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in body


def test_a_shelf_that_is_not_shown_says_so(store):
    asked = Asking(store, local=False)
    answer = asked.get("/shelf", host="192.0.2.7")
    assert answer.status == 200
    assert "is not shown to others" in Outline(answer.body).text
    asked.close()


def test_writing_on_the_network_needs_the_shelf(refdb):
    ran = refdb("browse", "--host", "0.0.0.0", "--write")
    assert ran.status == 2
    assert "add --shelf" in ran.err


def test_a_verdict_leads_to_a_tile_with_its_build_filled_in(opened, shop, store):
    """The tile that is then sent is of the very build that was judged; without writing there is the way in words."""
    asked = opened(shop)
    verdict = "/suits?glass=my:jar-3&metal=copper-clay-open&metal_thickness=3+cards&front=0.25+mm&back=0&kiln=800+C"
    (link,) = [href for href in Outline(asked.get(verdict).body).links if href.endswith("#add-tile")]
    page = Outline(asked.get(link.partition("#")[0]).body)
    typed = {given["id"][5:]: given["value"] for given in page.all("input") if str(given.get("id")).startswith("tile-")}
    assert (typed["front"], typed["back"], typed["kiln"]) == ("0.25", "0", "800")
    picked = [given["value"] for given in page.all("option") if "selected" in given]
    assert picked == ["my:jar-3", "copper-clay-open"]
    # The thickness is the fired one, which the verdict tells.
    fired = re.search(r"([\d.]+) \([\d. to]+\) mm of metal", Outline(asked.get(verdict).body).text)[1]
    assert f"{float(typed['metal_thickness']):.2f}" == fired
    assert len(listed(shop, "tile")) == 1
    form = {name: text for name, text in typed.items() if text} | {"glass": picked[0], "metal": picked[1]}
    assert send(asked, "tile", form | {"outcome": "sound"}).status == 303
    assert listed(shop, "tile")[-1]["front_mm"] == pytest.approx(0.25)
    assert "#add-tile" not in opened(shop, writes=False).get(verdict).body


@pytest.mark.parametrize("evil", HOSTILE)
def test_what_a_link_fills_in_stays_text_and_writes_nothing(opened, shop, evil):
    asked = opened(shop)
    before = rows(shop)
    answer = asked.get(f"/shelf?{urlencode(dict.fromkeys(('glass', 'metal', 'front', 'kiln'), evil))}")
    assert answer.status in (200, 400)
    in_our_look(answer)
    assert "<script>alert" not in answer.body
    assert "<img" not in answer.body
    assert rows(shop) == before


def test_the_word_of_the_terminal_does_not_lose_what_was_filled_in(opened, shop):
    token = new_token()
    asked = opened(shop, local=False, token=token)
    filled = urlencode({"glass": "opal-lead-free", "front": "0.3"})
    body = asked.get(f"/shelf?{filled}", host="192.0.2.7").body
    assert '<input type="hidden" name="front" value="0.3">' in body
    answer = asked.get(f"/shelf?{filled}&token={token}", host="192.0.2.7")
    assert (answer.status, answer.headers["location"]) == (303, f"/shelf?{filled}")
