"""The server under a guest who means ill: nonsense asked of tables, foreign names, heads never ended, long queues."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import os
import shutil
import socket
import sqlite3
import threading
import time

import pytest
from browse_client import Asking, Outline, served

from refdb.browse import plugin, views
from refdb.browse.pages.piece import example
from refdb.browse.server import application, timed, upload
from refdb.browse.server.application import _server, build, open_socket
from refdb.browse.server.packed import packed
from refdb.browse.server.query import Busy
from refdb.plan.sketch import Sketch


@pytest.mark.parametrize(
    "path",
    [
        "/reference.csv",
        "/reference/contacts/Ag",
        "/reference/contacts/1.json",
        "/reference/metals?_through=x",
        "/reference/compositions?_through=0",
        "/reference/compositions?_through=%5B%5D",
        "/reference/compositions.json?_through=%7B%7D",
        "/reference/metals?_next=x",
        "/reference/contacts?_timelimit=x",
        "/reference/contacts.json?_json_infinity=x",
        "/reference/contacts?_size=x",
        "/reference/contacts?_col=nosuch",
        "/reference/nosuch",
        "/workshop.csv",
    ],
)
def test_no_question_of_a_table_breaks_the_server(asking, caplog, path):
    answer = asking.get(path)
    assert 400 <= answer.status < 500, path
    assert "Traceback" not in answer.body
    assert "select " not in answer.body.lower()
    # Nothing of it stands in the terminal as an error of ours.
    assert [r for r in caplog.records if r.name == "refdb.browse"] == []


def test_tables_of_a_store_that_is_cut_short_beneath_the_view_cannot_be_had_just_now(store, tmp_path, caplog):
    path = tmp_path / "reference.db"
    shutil.copyfile(store, path)
    asked = Asking(path)
    assert asked.get("/reference/materials?_size=5").status == 200
    os.truncate(path, 10 * 4096)
    for address in ("/reference/property_values?_size=7", "/reference/contacts.json"):
        answer = asked.get(address)
        assert answer.status == 503, address
        assert "cannot be read" in answer.body
        assert str(tmp_path) not in answer.body
    assert [r for r in caplog.records if r.name == "refdb.browse"] == []
    asked.close()


def test_an_error_of_our_own_page_is_still_one(asking, monkeypatch, caplog):
    def broken(site, query):
        raise KeyError("x")

    monkeypatch.setattr("refdb.browse.pages.reading.about", broken)
    status, fault = plugin.told(KeyError("x"))
    assert (status, plugin.told(KeyError("x"), of_tables=True)[0]) == (500, 400)
    # A slip of our own is one on a page of tables too.
    assert plugin.told(TypeError("x"), of_tables=True)[0] == 500
    assert "could not be made" in fault.line


@pytest.mark.parametrize(
    ("host", "local", "names", "status"),
    [
        (b"localhost:8733", True, (), 200),
        (b"127.0.0.1", True, (), 200),
        (b"127.0.0.2:80", True, (), 200),
        (b"evil.example", True, (), 400),
        (b"192.0.2.7", True, (), 400),
        (b"192.0.2.7:8733", False, (), 200),
        (b"[2001:db8::1]:80", False, (), 200),
        (b"evil.example", False, (), 400),
        (b"bench.local", False, ("bench.local",), 200),
        (b"bench.local.", False, ("bench.local",), 200),
        (b"", False, (), 400),
    ],
)
def test_it_answers_to_its_own_names_alone(store, host, local, names, status):
    asked = Asking(store, local=local)
    asked.application = build(store, local=local, names=frozenset(names))
    asked.asgi = asked.application.client.app
    assert asked.raw(b"/about", host=host).status == status
    asked.close()


@pytest.mark.parametrize(
    ("site", "mode", "status"),
    [
        (b"cross-site", b"no-cors", 403),
        (b"cross-site", b"navigate", 200),
        (b"same-origin", b"cors", 200),
        (b"none", b"navigate", 200),
    ],
)
def test_a_page_is_no_part_of_another_site(asking, site, mode, status):
    headers = ((b"sec-fetch-site", site), (b"sec-fetch-mode", mode))
    assert asking.raw(b"/suits", b"glass=opal-lead-free&metal=gold-24k", headers=headers).status == status


def test_only_so_many_wait_and_who_is_gone_is_not_waited_for(store, monkeypatch):
    monkeypatch.setattr(views, "MOST_WAITING", 3)
    site = build(store).refdb_site
    go, done = threading.Event(), []

    def work(n):
        go.wait(20)
        done.append(n)
        return n

    async def asked():
        async def stays():
            await asyncio.Event().wait()

        async def leaves():
            return {"type": "http.disconnect"}

        first = [asyncio.ensure_future(views._worked_out(site, lambda n=n: work(n), stays)) for n in range(2)]
        await asyncio.sleep(0.05)
        with pytest.raises(Busy, match="gone"):
            await views._worked_out(site, lambda: work("gone"), leaves)
        third = asyncio.ensure_future(views._worked_out(site, lambda: work(3), stays))
        await asyncio.sleep(0.05)
        with pytest.raises(Busy, match="many questions"):
            await views._worked_out(site, lambda: work(4), stays)
        go.set()
        assert await asyncio.gather(*first, third) == [0, 1, 3]

    asyncio.run(asked())
    assert done == [0, 1, 3]
    assert site.waiting == 0


def test_the_busy_server_says_so_and_when_to_come_back(store, monkeypatch):
    monkeypatch.setattr(views, "MOST_WAITING", 0)
    asked = Asking(store)
    answer = asked.get("/suits?glass=opal-lead-free&metal=copper-sheet&metal_thickness=0.77+mm")
    assert (answer.status, answer.headers["retry-after"]) == (503, "5")
    assert "Too much is asked just now" in Outline(answer.body).text
    # What is not calculated is still answered.
    assert asked.get("/about").status == 200
    asked.close()


def test_a_piece_that_takes_too_long_is_refused_before_it_is_begun(asking):
    sketch = Sketch.of(example())
    for _ in range(40):
        sketch = sketch.copied(3).with_step(99, {"do": "fire", "kiln": "800 C"})
    begun = time.process_time()
    answer = asking.get(f"/piece?p={packed(sketch.text)}")
    assert answer.status == 400
    assert "take too long for a page" in Outline(answer.body).text
    assert time.process_time() - begun < 5


#: A wire lies on the front; 180 coats in 4 fires around it are judged for minutes, and 8 coats for seconds.
WIRED = """
[piece]
width = "30 mm"
height = "20 mm"
[base]
metal = "copper-sheet"
thickness = "2 mm"
[[step]]
do = "wire"
metal = "fine-silver-sheet"
thickness = "0.2 mm"
height = "0.8 mm"
"""


@pytest.mark.parametrize(("coats", "status"), [(4, 200), (40, 400), (180, 400)])
def test_coats_around_a_wire_count_as_many_fires(asking, coats, status):
    coat = '[[step]]\ndo = "coat"\nglass = "clear-hard-lead-free"\nthickness = "0.01 mm"\n'
    text = WIRED + (coat * (coats // 4) + '[[step]]\ndo = "fire"\nkiln = "800 C"\n') * 4
    begun = time.process_time()
    answer = asking.get(f"/piece?p={packed(text)}")
    assert answer.status == status
    if status == 400:
        assert f"4 fires of {coats} coats around 1 wire take too long for a page" in Outline(answer.body).text
        assert time.process_time() - begun < 5


def test_sql_is_bounded_in_memory(store):
    site = build(store, sql=True)
    connection = sqlite3.connect(":memory:")
    plugin.prepare_connection(connection, "reference", site)
    for query in ("select randomblob(1000000000)", "select zeroblob(6000000)", "select " + "1+" * 300 + "1"):
        with pytest.raises((sqlite3.OperationalError, sqlite3.DataError)):
            connection.execute(query).fetchall()
    assert connection.execute("select length(zeroblob(1000))").fetchone() == (1000,)


def test_a_connection_that_is_idle_or_never_sends_its_body_is_given_up(store, monkeypatch):
    monkeypatch.setattr(application, "IDLE_S", 1)
    monkeypatch.setattr(upload, "_PATIENCE_S", 0.6)
    with served(build(store)) as address:
        port = int(address.rpartition(":")[2])
        for question, status in (
            (b"GET /about HTTP/1.1\r\nHost: localhost\r\n\r\n", b"200"),
            (b"POST /piece HTTP/1.1\r\nHost: localhost\r\nContent-Length: 99\r\n\r\ntext=", b"400"),
        ):
            with socket.create_connection(("127.0.0.1", port), timeout=20) as connection:
                connection.sendall(question)
                begun, found = time.monotonic(), b""
                while more := connection.recv(65536):
                    found += more
                assert found.split()[1] == status
                assert 0.3 < time.monotonic() - begun < 10
            assert (b"took too long" in found) is (status == b"400")


def test_a_head_that_is_never_ended_is_given_up(store, monkeypatch):
    monkeypatch.setattr(timed, "HEAD_S", 0.6)
    listening = open_socket("127.0.0.1", None)
    ready = threading.Event()
    server = _server(build(store), ready.set)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    assert ready.wait(30)
    port = listening.getsockname()[1]

    def said(*parts):
        with socket.create_connection(("127.0.0.1", port), timeout=20) as connection:
            for part in parts:
                connection.sendall(part)
            begun, found = time.monotonic(), b""
            while more := connection.recv(65536):
                found += more
                if b"</html>" in found:
                    break
            return found, time.monotonic() - begun

    try:
        for head in (b"GET / HTTP/1.1\r\nHost: localhost\r\n", b"G", b""):
            found, waited = said(head)
            assert b"200 OK" not in found
            assert 0.3 < waited < 10
        found, _ = said(b"GET /about HTTP/1.1\r\nHost: localhost\r\n\r\n")
        assert b"200 OK" in found
        # A second head on the same connection is timed as well.
        with socket.create_connection(("127.0.0.1", port), timeout=20) as connection:
            connection.sendall(b"GET /about HTTP/1.1\r\nHost: localhost\r\n\r\n")
            found = b""
            while b"</html>" not in found:
                found += connection.recv(65536)
            connection.sendall(b"GET /ab")
            begun = time.monotonic()
            while connection.recv(65536):
                pass
            assert 0.3 < time.monotonic() - begun < 10
    finally:
        server.should_exit = True
        thread.join(20)
        listening.close()


class Slow:
    """An application that answers /wait when it is let, and all else at once."""

    def __init__(self):
        self.go = threading.Event()

    def app(self):
        async def answer(scope, receive, send):
            if scope["type"] == "lifespan":
                for kind in ("startup", "shutdown"):
                    await receive()
                    await send({"type": f"lifespan.{kind}.complete"})
                return
            while scope["path"] == "/wait" and not self.go.is_set():
                await asyncio.sleep(0.01)
            await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]})
            await send({"type": "http.response.body", "body": b"ok"})

        return answer


def heard(connection):
    """All that comes until the other side has closed, or let go in the middle."""
    found = b""
    try:
        while more := connection.recv(65536):
            found += more
    except ConnectionError:
        pass
    return found


def test_one_connection_too_many_takes_the_place_of_the_one_waited_for_longest(monkeypatch):
    monkeypatch.setattr(application, "MOST_CONNECTIONS", 5)
    slow = Slow()
    with served(slow) as address, contextlib.ExitStack() as stack:
        where = ("127.0.0.1", int(address.rpartition(":")[2]))

        def said(text):
            connection = stack.enter_context(socket.create_connection(where, timeout=20))
            connection.sendall(text)
            return connection

        ask = b"GET %s HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
        at_work = said(ask % b"/wait")
        oldest, *others = [said(b"GET / HT") for _ in range(4)]
        time.sleep(0.2)
        assert b"200 OK" in heard(said(ask % b"/"))
        # Only that one has made room, and what is worked out is never dropped for others.
        assert heard(oldest) == b""
        for other in others:
            other.sendall(b"TP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
            assert b"200 OK" in heard(other)
        # Who never sends the rest of a form is waited for, too.
        for _ in range(4):
            said(b"POST /wait HTTP/1.1\r\nHost: localhost\r\nContent-Length: 9\r\n\r\ntext=")
        time.sleep(0.2)
        assert b"200 OK" in heard(said(ask % b"/"))
        many = [at_work, *(said(ask % b"/wait") for _ in range(4))]
        time.sleep(0.2)
        told = heard(said(ask % b"/"))
        assert told.startswith(b"HTTP/1.1 503 ")
        assert b"retry-after: 5" in told
        slow.go.set()
        assert all(b"200 OK" in heard(one) for one in many)
        assert b"200 OK" in heard(said(ask % b"/"))


@pytest.mark.parametrize(
    ("files", "room", "asked_for"),
    [
        ((1024, 4096), 200, None),
        ((256, 4096), 200, 304),
        ((256, -1), 200, 304),
        ((256, 256), 152, None),
        ((30, 30), 16, None),
    ],
)
def test_there_are_no_more_connections_than_the_system_has_files_for(monkeypatch, files, room, asked_for):
    resource = pytest.importorskip("resource")
    now = list(files)
    monkeypatch.setattr(resource, "RLIM_INFINITY", -1)
    monkeypatch.setattr(resource, "getrlimit", lambda _: tuple(now))
    monkeypatch.setattr(resource, "setrlimit", lambda _, both: now.__setitem__(slice(None), both))
    assert application.room_for() == room
    assert now == [asked_for or files[0], files[1]]


def test_a_connection_that_the_system_has_no_file_for_is_no_line_in_the_terminal():
    told = []

    class Loop:
        default_exception_handler = staticmethod(told.append)

    timed.on_fault(Loop(), {"message": "x", "exception": OSError(errno.EMFILE, "too many")})
    assert told == []
    timed.on_fault(Loop(), {"message": "y", "exception": OSError(errno.EIO, "other")})
    timed.on_fault(Loop(), {"message": "z"})
    assert [context["message"] for context in told] == ["y", "z"]
