"""The address by which others open the view: taken as it is typed, refused in a line, checked with every question."""

from __future__ import annotations

import http.client
import re
import socket
from pathlib import Path

import pytest
from browse_client import Asking
from test_browse_server import browsing, free_port

from refdb.browse.server.public_address import read_address
from refdb.cli.browse import _writer
from refdb.errors import BadInput


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("http://bench.local", "http://bench.local:8733"),
        ("bench.local:9000", "http://bench.local:9000"),
        ("HTTP://Bench.Local./", "http://bench.local:8733"),
        ("192.0.2.7", "http://192.0.2.7:8733"),
        ("http://[2001:db8::7]:80", "http://[2001:db8::7]:80"),
        ("https://kiln.example.org", "https://kiln.example.org"),
        ("https://kiln.example.org:444/", "https://kiln.example.org:444"),
    ],
)
def test_an_address_is_taken_as_it_is_typed(text, told):
    assert read_address(text).at(8733) == told


@pytest.mark.parametrize(
    "text",
    [
        *("", " ", "http://", "ftp://bench.local", "javascript://bench.local", "file:///etc/passwd", "http:///x"),
        *("http://bench.local/path", "http://bench.local?x=1", "http://bench.local#x", "http://a:b@bench.local"),
        *("http://bench.local:0", "http://bench.local:70000", "http://bench.local:x", "http://bench local"),
        *(
            "http://bench_local",
            "http://-bench",
            "http://bench..local",
            "http://999.1.2.3",
            "http://1234",
            "http://[::1",
        ),
        *("http://bench.local\r\nx: y", "http://b\u00e9nch", "http://<script>", "http://" + "a" * 64, "a." * 140 + "b"),
        *("http://bench.local\\@x", "http://\u202ebench"),
    ],
)
def test_what_is_none_is_one_line(refdb, text):
    with pytest.raises(BadInput):
        read_address(text)
    ran = refdb("browse", "--no-open", "--host", "0.0.0.0", "--address", text)
    assert (ran.status, ran.out) == (2, "")
    assert "--address" in ran.err
    assert "Traceback" not in ran.err


def test_it_is_of_use_only_where_others_are_let_in(refdb):
    ran = refdb("browse", "--no-open", "--address", "http://bench.local")
    assert ran.status == 2
    assert "add --host 0.0.0.0" in ran.err


def test_the_start_tells_it_and_only_that_name_is_answered(store):
    port = free_port()
    with browsing(store, "--host", "0.0.0.0", "--port", str(port), "--address", "http://kiln-bench.test") as (
        process,
        _,
    ):
        assert process.stdout.readline() == f"On the network it is http://kiln-bench.test:{port}/\n"
        for host, status in (
            (f"kiln-bench.test:{port}", 200),
            ("KILN-BENCH.TEST", 200),
            (f"127.0.0.1:{port}", 200),
            ("kiln-bench.test.evil.example", 400),
            ("evil.example", 400),
        ):
            asked = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
            asked.request("GET", "/about", headers={"Host": host})
            assert asked.getresponse().status == status, host
            asked.close()


@pytest.mark.parametrize(
    ("host", "text", "over_https"),
    [
        ("0.0.0.0", "https://kiln-bench.test", True),
        ("0.0.0.0", "http://kiln-bench.test", False),
        ("0.0.0.0", None, False),
        ("127.0.0.1", None, False),
    ],
)
def test_who_writes_where_the_view_is_opened_over_https_alone_is_known_over_nothing_else(host, text, over_https):
    writer = _writer(host, None if text is None else read_address(text))
    assert (writer.over_https, bool(writer.token)) == (over_https, host == "0.0.0.0")


def test_the_code_of_the_bench_sheet_leads_there(store):
    """The square code is that of the whole address, as the library of codes makes it."""
    from refdb.browse.server.square_code import FINEST_VERSION, code_rows
    from refdb.pictures.square import square_code

    asking = Asking(Path(store))
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        port = listening.getsockname()[1]
    asking.application.refdb_site.network_address = read_address("http://kiln-bench.test").at(port)
    body = asking.get("/piece/bench?example=moth").body
    asking.close()
    there = f"http://kiln-bench.test:{port}/piece?example=moth"
    drawn = square_code(code_rows(there, "l", FINEST_VERSION), "back", "Square code: the address of this piece")
    assert re.sub(r"\s+", " ", drawn) in re.sub(r"\s+", " ", body)
