"""What the browse view does with bad questions: an answer in its own look, no trace, and nothing carried out."""

from __future__ import annotations

import gc
import logging
import re
import tracemalloc
from urllib.parse import quote

import pytest
from browse_client import Asking, Outline

from refdb.browse.plugin import ROUTES

HOSTILE = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "' OR 1=1 --",
    "'; DROP TABLE materials; --",
    "../../../etc/passwd",
    "..%2f..%2fetc%2fpasswd",
    "{{ 7*7 }}",
    "${7*7}",
    "%00",
    "\x00",
    "\u202e",
    "a" * 3000,
    "3 kg",
    "-1 mm",
    "1e999 mm",
    "nan",
    "NaN mm",
    "🙂",
    "copper-sheet\nx: y",
    "()" * 90,
    "9" * 190 + " mm",
)
QUESTION = "glass=clear-hard-lead-free&metal=copper-sheet"
#: What else is asked where one parameter is spoilt, so that the page is built as far as it can be.
ASKED = {"/suits": QUESTION, "/builds": QUESTION, "/clears": "leaf=gold-foil-24k&metal=copper-sheet"}


@pytest.fixture(scope="module")
def abroad(store):
    asked = Asking(store, local=False)
    yield asked
    asked.close()


def in_our_look(answer):
    outline = Outline(answer.body)
    assert outline.faults == []
    assert len(outline.all("h1")) == 1
    assert "What to do" in outline.text
    assert "Traceback" not in answer.body
    assert "site-packages" not in answer.body
    return outline


@pytest.mark.parametrize("text", HOSTILE)
@pytest.mark.parametrize("route", ROUTES, ids=lambda r: r.address)
def test_every_parameter_bears_every_text(asking, caplog, route, text):
    for name in (*route.parameters, "nosuch"):
        asked = [part for part in ASKED.get(route.address, "").split("&") if part and part.partition("=")[0] != name]
        base = "".join(f"{part}&" for part in asked)
        with caplog.at_level(logging.WARNING):
            answer = asking.get(f"{route.address}?{base}{name}={quote(text)}")
        assert answer.status in (200, 400, 404), (name, answer.status)
        if answer.status != 200:
            in_our_look(answer)
        elif name not in ("q", "words"):
            assert text.strip() == "", f"{name} was taken"
        assert "<script>alert" not in answer.body
        assert "<img src=x" not in answer.body
        assert ">49<" not in answer.body
    assert caplog.records == []


@pytest.mark.parametrize("query", ["front=0", "front=none&wish=no+glass+on+the+back", "back=0", "wish=front+bare"])
def test_builds_of_one_face_or_of_none_are_answered_or_refused(asking, query):
    answer = asking.get(f"/builds?{QUESTION}&{query}")
    if "none" in query:
        assert answer.status == 400
        in_our_look(answer)
    else:
        assert answer.status == 200
        assert "bare" in Outline(answer.body).text


@pytest.mark.parametrize("text", HOSTILE)
def test_a_key_in_the_path_bears_every_text(asking, text):
    answer = asking.get(f"/material/{quote(text, safe='')}")
    assert answer.status == 404 or (answer.status == 400 and not text.isprintable())
    in_our_look(answer)


@pytest.mark.parametrize(
    "query",
    [
        "metal_thickness=3+kg",
        "front=-1+mm",
        "shape=round",
        "rise=2+mm",
        "expansion=12.4+ppm/K",
        "span=20-400C",
        "expansion=37+ppm/K&span=20-400C",
        "front=0+mm&back=0+mm",
        "first=9+m",
        "cubical=no",
        "metal_thickness=0+mm",
    ],
)
def test_a_build_that_cannot_be_is_refused_with_what_to_do(asking, query):
    answer = asking.get(f"/suits?{QUESTION}&{query}")
    assert answer.status == 400
    in_our_look(answer)


def test_a_parameter_twice_unknown_or_too_many_is_refused(asking):
    for query in (f"{QUESTION}&metal=copper-clay", f"{QUESTION}&colour=red", "&".join(f"a{n}=1" for n in range(99))):
        assert asking.get(f"/suits?{query}").status == 400


def test_a_megabyte_is_refused(asking):
    for path, query in (
        (b"/suits", b"glass=" + b"a" * 1_000_000),
        (b"/" + b"a" * 1_000_000, b""),
        (b"/material/" + b"%41" * 300_000, b""),
    ):
        answer = asking.raw(path, query)
        assert answer.status == 414
        in_our_look(answer)


@pytest.mark.parametrize(
    "path",
    [
        b"/../etc/passwd",
        b"/static/../../refdb/records/__init__.py",
        b"/static/refdb.css/../x",
        b"//evil.example/",
        b"/\\evil.example",
        b"/%2e%2e/%2e%2e/etc/passwd",
        b"/static/%2e%2e/x",
        b"/-/static/../app.py",
        b"/-/patterns",
        b"/-/permissions",
        b"/-/allow-debug",
        b"/-/messages",
        b"/-/static/app.css",
        b"/\xff\xfe",
        b"/-/auth-token",
        b"/_internal",
        b"/_memory",
        b"/reference.db",
        b"/reference/nosuch",
        b"/reference/materials/nosuch",
        b"/nosuch/",
    ],
)
def test_no_path_leads_out_or_in(asking, path):
    answer = asking.raw(path)
    if answer.status == 302:
        assert answer.headers["location"] == "/nosuch"
        return
    assert answer.status in (403, 404), path
    in_our_look(answer)


def test_an_address_of_two_slashes_never_leads_elsewhere(asking):
    for path in (b"//evil.example/..", b"///evil.example/", b"/%5cevil.example/"):
        answer = asking.raw(path)
        assert answer.status == 404
        assert "location" not in answer.headers


def test_sql_is_off(asking):
    assert asking.get("/reference?sql=select+1").status == 403
    assert asking.get("/reference.json?sql=select+1").status == 403
    assert asking.get("/reference/materials?_where=1=1").status in (400, 403)


@pytest.mark.parametrize(
    "query",
    [
        "_sort=nosuch",
        "_sort_desc=nosuch",
        "_size=x",
        "_sort=key&_sort_desc=key",
        "_col=nosuch",
        "_next=%00",
        "nosuch__exact=1",
        "_search=x",
    ],
)
def test_a_table_asked_for_what_it_has_not_is_a_bad_question(asking, caplog, query):
    answer = asking.get(f"/reference/materials?{query}")
    assert answer.status in (200, 400, 404)
    assert "Traceback" not in answer.body
    assert caplog.records == []


def test_only_reading_is_answered(asking):
    for method in ("POST", "PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"):
        answer = asking.raw(b"/suits", method=method)
        assert answer.status == 405
        assert answer.headers["allow"] == "GET, HEAD"
    assert asking.raw(b"/suits", method="HEAD").status == 200


@pytest.mark.parametrize(
    "address",
    [
        "/",
        "/nosuch",
        "/suits?x=1",
        "/static/refdb.css",
        "/reference/contacts",
        "/reference/contacts.json",
        "/reference?sql=x",
    ],
)
def test_every_answer_carries_the_headers(asking, address):
    headers = asking.get(address).headers
    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "script-src 'self';" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"
    assert "server" not in headers


def test_what_the_server_is_made_of_is_told_to_its_own_computer_alone(asking, abroad):
    for name in ("databases", "versions", "settings", "plugins", "metadata"):
        assert asking.get(f"/-/{name}.json").status == 200
        answer = abroad.get(f"/-/{name}.json")
        assert answer.status == 404
        in_our_look(answer)


def test_no_page_tells_where_the_store_lies(abroad, store):
    for address in (
        "/",
        "/about",
        "/reference",
        "/reference/contacts",
        "/nosuch",
        "/.json",
        "/reference.json",
        "/reference/nosuch.json",
    ):
        body = abroad.get(address).body
        assert str(store) not in body
        assert str(store.parent) not in body


def test_a_foreign_name_for_this_computer_is_refused(asking, abroad):
    for host in (b"evil.example", b"evil.example:8733", b"127.0.0.1.evil.example", b""):
        assert asking.raw(b"/", host=host).status == 400
    for host in (b"localhost:8733", b"127.0.0.1:1", b"[::1]:8733", b"LOCALHOST"):
        assert asking.raw(b"/", host=host).status == 200
    # From elsewhere it is asked for by its number; a name could be pointed at it by anyone.
    assert abroad.raw(b"/", host=b"192.0.2.7:8733").status == 200
    assert abroad.raw(b"/", host=b"bench.example").status == 400
    for two in (b"bench.example", b"192.0.2.7:8733"):
        assert abroad.raw(b"/", host=b"192.0.2.7:8733", headers=[(b"host", two)]).status == 400


def test_a_wrong_address_that_ends_in_json_is_answered_in_json(asking):
    answer = asking.get("/reference/nosuch.json")
    assert answer.status == 404
    assert answer.headers["content-type"].startswith("application/json")


def test_a_fault_of_ours_shows_no_trace_and_is_logged(asking, caplog, monkeypatch):
    from refdb.browse.pages import reading as plain_pages

    def broken(*_):
        raise ZeroDivisionError("secret")

    site = asking.application.refdb_site
    monkeypatch.setattr(type(site), "written_broken", broken, raising=False)
    monkeypatch.setattr(plain_pages, "practice", broken)
    monkeypatch.setattr(site, "kept", broken)
    answer = asking.get("/practice")
    assert answer.status == 500
    assert "secret" not in answer.body
    assert any("secret" in str(r.exc_info) for r in caplog.records)


def test_a_thousand_bad_questions_leave_nothing_behind(asking):
    def bad(first, last):
        for n in range(first, last):
            assert asking.raw(b"/suits", b"glass=no-%d&metal=copper-sheet&front=%d+kg" % (n, n)).status == 404
            assert asking.raw(b"/material/no-such-%d" % n).status == 404
        gc.collect()
        return tracemalloc.get_traced_memory()[0]

    tracemalloc.start()
    before = bad(0, 100)
    after = bad(100, 600)
    tracemalloc.stop()
    assert after - before < 100_000


def test_pages_kept_are_counted(asking):
    site = asking.application.refdb_site
    for n in range(400):
        site.keep("/x", f"n={n}", b"x" * 100_000)
    assert sum(map(len, site._built.values())) <= 3_000_000
    assert site.kept("/x", "n=0") is None
    assert site.kept("/x", "n=399") is not None
    site.keep("/x", "y" * 401, b"x")
    assert site.kept("/x", "y" * 401) is None


def test_errors_name_the_nearest_keys_as_links(asking):
    outline = in_our_look(asking.get("/suits?glass=clear-hard-laed-fee&metal=copper-sheet"))
    assert "/suits?glass=clear-hard-lead-free&metal=copper-sheet" in outline.links
    assert outline.text.count("Did you mean") == 2, "at the field, and where a link asks the question again"
    assert not re.search(r"refdb (metals|glasses|find)", outline.text)
