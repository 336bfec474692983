"""A piece sent to its page: what is taken, what is refused and in which words, and that nothing of it stays."""

from __future__ import annotations

import json
import re
import tracemalloc
from contextlib import suppress
from urllib.parse import quote, unquote

import pytest
from browse_client import Outline
from hypothesis import given, settings
from hypothesis import strategies as st

from refdb.browse.pages.piece import example
from refdb.browse.server.upload import LONGEST_BODY, fields_of
from refdb.errors import RefdbError

MARK = b"----refdb-test-boundary"
KIND = b"multipart/form-data; boundary=" + MARK


def form(*parts, end=b"--"):
    """The body of a form: (name, content) for a field, (name, content, file name) for a file."""
    body = b""
    for name, content, *file in parts:
        head = f'Content-Disposition: form-data; name="{name}"' + (f'; filename="{file[0]}"' if file else "")
        head += "\r\nContent-Type: application/octet-stream" if file else ""
        body += b"--" + MARK + b"\r\n" + head.encode() + b"\r\n\r\n" + content + b"\r\n"
    return body + b"--" + MARK + end + b"\r\n"


def post(asking, body, path=b"/piece", kind=KIND, told=None, **more):
    """The answer to a form that is sent; a body in one piece tells its length."""
    whole = isinstance(body, bytes)
    length = str(told if told is not None else len(body)).encode() if whole or told is not None else None
    headers = [
        (b"content-type", kind),
        *([(b"content-length", length)] if length else []),
        *((k.replace("_", "-").encode(), v.encode()) for k, v in more.items()),
    ]
    return asking.raw(path, method="POST", headers=headers, body=[body] if whole else body)


def in_our_look(answer, status):
    assert answer.status == status
    outline = Outline(answer.body)
    assert outline.faults == []
    assert len(outline.all("h1")) == 1
    assert "What to do" in outline.text
    assert "Traceback" not in answer.body
    return outline.text


def textarea(body):
    found = re.search(r"<textarea[^>]*>\n(.*?)</textarea>", body, re.S)[1]
    return (
        found.replace("&#34;", '"')
        .replace("&#39;", "'")
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&amp;", "&")
    )


def long_piece():
    """The example with remarks, too long for an address."""
    return example() + "# a remark that only makes it longer\n" * 400


def test_a_file_gives_the_verdict_of_the_command(asking, refdb, tmp_path):
    """Outcome, sentence and firings equal `piece check --json` for the same file."""
    file = tmp_path / "moth.toml"
    file.write_text(example(), encoding="utf-8")
    told = json.loads(refdb("piece", "check", str(file), "--json").out)
    answer = post(asking, form(("file", file.read_bytes(), "moth.toml")))
    assert answer.status == 200
    assert answer.headers["cache-control"] == "no-store"
    text = Outline(answer.body).text
    assert told["verdict"][:1].upper() + told["verdict"][1:] in text
    assert told["sentence"] in text
    assert len(told["numbers"]["stages"]) > 3
    for stage in told["numbers"]["stages"]:
        assert stage["name"][1:] in text
    assert textarea(answer.body) == example()


def test_a_file_is_planned_and_its_sheet_comes_from_the_form_of_the_answer(asking):
    text = long_piece()
    answer = post(asking, form(("file", text.encode(), "moth.toml")))
    outline = Outline(answer.body)
    assert "At the kiln" in outline.text
    button = next(g for g in outline.all("button") if g.get("name") == "as")
    assert next(g for g in outline.all("form") if g.get("id") == button["form"])["action"] == "/piece"
    # As a browser sends it: every line end of a field is two bytes.
    sheet = post(
        asking, form(("text", textarea(answer.body).replace("\n", "\r\n").encode()), ("as", button["value"].encode()))
    )
    assert sheet.status == 200
    assert "<h1" in sheet.body
    assert "/static/sheet.css" in sheet.body
    assert sheet.body == asking.get(f"/piece/sheet?text={quote(example())}").body


def test_a_short_text_gets_an_address_of_its_own_and_a_long_one_is_answered(asking):
    answer = post(asking, form(("text", example().replace("\n", "\r\n").encode())))
    assert answer.status == 303
    where = answer.headers["location"]
    assert unquote(where.removeprefix("/piece?text=")) == example()
    assert asking.get(where).body == asking.get(f"/piece?text={quote(example())}").body
    sheet = post(asking, form(("text", example().encode()), ("as", b"sheet")))
    assert sheet.headers["location"].startswith("/piece/sheet?text=")
    answer = post(asking, form(("text", long_piece().encode())))
    assert answer.status == 200
    assert textarea(answer.body) == long_piece()


def test_a_form_without_parts_is_read_too(asking):
    body = f"text={quote(example(), safe='')}".encode()
    answer = post(asking, body, kind=b"application/x-www-form-urlencoded")
    assert answer.status == 303
    assert unquote(answer.headers["location"].removeprefix("/piece?text=")) == example()


@pytest.mark.parametrize("text", [example(), long_piece()], ids=["short", "long"])
@pytest.mark.parametrize("way", ["file", "text"])
def test_a_text_that_cannot_be_read_stays_on_the_page_with_one_line(asking, text, way):
    broken = text.replace("fine-silver-clay", "fine-silver-cly")
    answer = post(asking, form((way, broken.encode(), *(["wings.toml"] if way == "file" else []))))
    if answer.status == 303:
        answer = asking.get(answer.headers["location"])
    told = in_our_look(answer, 400)
    assert "no base metal is called 'fine-silver-cly'" in told
    assert "Did you mean fine-silver-clay" in told
    assert textarea(answer.body) == broken


def test_a_fault_names_the_file_and_the_step(asking):
    broken = example().replace('do = "fire"', 'do = "burn"', 1).encode()
    told = in_our_look(post(asking, form(("file", broken, "C:\\pieces\\wings.toml"))), 400)
    assert re.search(r"Wings\.toml, step \d+", told)
    assert "C:" not in told


HOSTILE = {
    "no file": ([("file", b"", "")], 400, "There is no piece"),
    "nothing at all": ([], 400, "There is no piece"),
    "an empty file": ([("file", b"", "a.toml")], 400, ""),
    "blanks": ([("text", b" \r\n ")], 400, "There is no piece"),
    "two files": ([("file", b"a=1", "a"), ("file", b"a=1", "b")], 400, "given twice"),
    "a file and a text": ([("file", b"a=1", "a"), ("text", b"a=1")], 400, "both given"),
    "a wrong field": ([("photo", b"a=1", "a")], 400, "this page takes no 'photo'"),
    "a wrong wish": ([("text", b"a=1"), ("as", b"pdf")], 400, "not known here"),
    "not UTF-8": ([("file", b'title = "\xff\xfe"', "a.toml")], 400, "not text in UTF-8"),
    "a picture": ([("file", b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40, "a.png")], 400, "not text in UTF-8"),
    "zeroes": ([("file", b"\0" * 5000, "a.toml")], 400, "not TOML"),
    "a byte too many": ([("file", b"#" * 1_000_001, "a.toml")], 413, "larger than 1 MB"),
    "many parts": ([(f"a{n}", b"x") for n in range(60)], 400, "too many parts"),
    "a key of many parts": ([("file", b"a" + b".a" * 200_000 + b" = 1", "a.toml")], 400, "more than 200 dots"),
    "a long number": ([("file", b"a = 1" + b"0" * 100_000, "a.toml")], 400, "too many digits"),
    "deep brackets": ([("file", b"a = " + b"[" * 100_000, "a.toml")], 400, "not TOML"),
}


@pytest.mark.parametrize(("parts", "status", "words"), HOSTILE.values(), ids=HOSTILE)
def test_what_cannot_be_a_piece_is_refused_in_one_line(asking, parts, status, words):
    told = in_our_look(post(asking, form(*parts)), status)
    assert words.lower() in told.lower()


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        (b"multipart/form-data", form(("text", b"a=1"))),
        (b"multipart/form-data; boundary=", form(("text", b"a=1"))),
        (b"multipart/form-data; boundary=other", form(("text", b"a=1"))),
        (b"multipart/form-data; boundary=" + b"x" * 4000, form(("text", b"a=1"))),
        (KIND, b"\xff" * 500),
        (KIND, form(("text", b"a=1"), end=b"")),
        (KIND, form(("text", b"a=1"))[:-20]),
        (KIND, b"before" + form()),
        (KIND, b"\r\nbefore\r\n" + form(("text", b"a=1"))),
        (KIND, form(("text", b"a=1")) + b"behind"),
        (KIND, form(("text", b"a=1")).replace(b"\r\n\r\n", b"\r\nContent-Transfer-Encoding: base64\r\n\r\n!")),
        (KIND, b"--" + MARK + b"\r\nno head\r\n--" + MARK + b"--\r\n"),
        (b"application/json", b'{"text": "a=1"}'),
        (KIND, b"--" + MARK + b"\r\nContent-Type: text/plain\r\n\r\nno name\r\n--" + MARK + b"--\r\n"),
        (b"", b"text=a"),
        (b"application/x-www-form-urlencoded", b"text=\xff"),
        (b"application/x-www-form-urlencoded", b"&text=a" * 60),
        (b"application/x-www-form-urlencoded", b"text=%ff%fe"),
    ],
)
def test_a_broken_form_is_refused_in_our_look_and_fills_no_log(asking, kind, body, caplog):
    in_our_look(post(asking, body, kind=kind), 400)
    assert caplog.records == []


def test_ten_megabytes_are_refused_by_what_they_say_and_while_they_are_read(asking):
    def sent():
        for n in range(100):
            yield (b"#%d" % n) * 40_000

    tracemalloc.start()
    assert "larger than 1 MB" in in_our_look(post(asking, sent()), 413)
    assert "larger than 1 MB" in in_our_look(post(asking, sent(), told=10_000_000), 413)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert most < 3_000_000
    # What says that it is far too long is not read at all.
    assert in_our_look(post(asking, [None], told=10**12), 413)


def test_a_sender_who_goes_away_leaves_no_trace(asking, caplog):
    answer = post(asking, [form(("text", b"a=1"))[:40], None])
    assert "broke off" in in_our_look(answer, 400)
    assert caplog.records == []


def test_a_script_in_a_title_or_a_file_name_is_text(asking):
    text = example().replace("Moth brooch", "<script>alert(1)</script>").encode()
    answer = post(asking, form(("file", text, "<img src=x>.toml")))
    assert answer.status == 200
    broken = post(asking, form(("file", text.replace(b"[base]", b"[bas]"), "<img src=x onerror=alert(1)>.toml")))
    assert broken.status == 400
    for body in (answer.body, broken.body):
        assert "<script>" not in body
        assert "<img" not in body
        assert "&lt;script&gt;" in body
    assert "default-src 'none'" in broken.headers["content-security-policy"]


@pytest.mark.parametrize("site", ["cross-site", "same-site", "Cross-Site", "anything"])
def test_a_form_from_another_site_is_refused(asking, site):
    answer = post(asking, form(("text", b"a=1")), sec_fetch_site=site)
    assert "another site" in in_our_look(answer, 403)


@pytest.mark.parametrize("site", ["same-origin", "none"])
def test_a_form_of_this_site_is_taken(asking, site):
    assert post(asking, form(("text", b"a=1")), sec_fetch_site=site, cookie="ds_csrftoken=x").status == 303


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/piece/sheet",
        "/suits",
        "/clears",
        "/piece/",
        "/workshop",
        "/reference",
        "/reference/contacts",
        "/-/logout",
        "/nosuch",
    ],
)
def test_no_other_page_takes_a_form(asking, path):
    answer = post(asking, form(("text", b"a=1")), path=path.encode())
    in_our_look(answer, 405)
    assert answer.headers["allow"] == "GET, HEAD"


def test_other_ways_of_asking_are_refused_and_told_which_are_not(asking):
    for method in ("PUT", "DELETE", "OPTIONS", "PATCH"):
        answer = asking.raw(b"/piece", method=method)
        assert answer.status == 405
        assert answer.headers["allow"] == "GET, HEAD, POST"


def test_a_form_to_an_address_with_a_question_or_a_foreign_name_is_refused(asking):
    headers = [(b"content-type", KIND)]
    body = [form(("text", b"a=1"))]
    in_our_look(asking.raw(b"/piece", b"example=moth", "POST", headers=headers, body=body), 400)
    in_our_look(asking.raw(b"/piece", b"", "POST", host=b"evil.example", headers=headers, body=body), 400)


def test_nothing_that_was_sent_is_kept(asking):
    site = asking.application.refdb_site
    before = dict(site._built)
    text = long_piece().replace("Moth brooch", "Nobody else’s business")
    assert "Nobody else’s business" in post(asking, form(("file", text.encode(), "a.toml"))).body
    assert site._built == before
    assert "Nobody else’s business" not in asking.get("/piece").body


NAMES = st.sampled_from(["file", "text", "as"])
CONTENT = st.binary(max_size=300).filter(lambda b: MARK not in b)


@given(st.dictionaries(NAMES, CONTENT))
def test_a_form_is_read_as_it_was_written(fields):
    body = form(
        *((name, content, "a b.toml") if name == "file" else (name, content) for name, content in fields.items())
    )
    found = fields_of(KIND.decode(), body, ("file", "text", "as"))
    assert {name: sent.content for name, sent in found.items()} == fields
    assert all((sent.file_name == "a b.toml") is (name == "file") for name, sent in found.items())


@given(st.text(max_size=80), st.binary(max_size=400))
def test_any_bytes_are_a_form_or_an_error_of_ours(kind, body):
    for head in (kind, f"multipart/form-data; boundary={kind}", KIND.decode(), "application/x-www-form-urlencoded"):
        for whole in (body, b"--" + MARK + b"\r\n" + body + b"\r\n--" + MARK + b"--\r\n"):
            with suppress(RefdbError):
                assert set(fields_of(head, whole, ("file", "text", "as"))) <= {"file", "text", "as"}


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 3 * LONGEST_BODY))
def test_only_a_body_within_its_bounds_is_read(length):
    """The bound is the only thing that decides; a body just within it comes back whole."""
    import asyncio

    from refdb.browse.server.query import TooLarge
    from refdb.browse.server.upload import body_of

    pieces = [b"x" * min(400_000, length - n) for n in range(0, length, 400_000)] or [b""]
    waiting = iter(pieces)
    left = len(pieces)

    async def receive():
        nonlocal left
        left -= 1
        return {"type": "http.request", "body": next(waiting), "more_body": left > 0}

    if length <= LONGEST_BODY:
        assert len(asyncio.run(body_of(receive, None))) == length
    else:
        with pytest.raises(TooLarge):
            asyncio.run(body_of(receive, None))
