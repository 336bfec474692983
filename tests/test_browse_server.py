"""The server of the browse view as a process of its own: where it listens, what it says, how it ends."""

from __future__ import annotations

import http.client
import os
import re
import resource
import signal
import socket
import sqlite3
import subprocess
import sys
import urllib.error
import urllib.request
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path

import pytest

from refdb.browse.server.application import is_loopback, open_socket
from refdb.errors import BadInput

ROOT = Path(__file__).resolve().parent.parent


@contextmanager
def browsing(store, *options, files=None):
    """The command, and the address it tells; it may have so many files open."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("REFDB")} | {
        "REFDB_STORE": str(store),
        "REFDB_WORKSHOP": str(store.with_name("no-workshop.db")),
    }
    process = subprocess.Popen(
        [sys.executable, "-m", "refdb", "browse", "--no-open", *options],
        cwd=ROOT,
        env=environment,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=None if files is None else lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (files, files)),
    )
    try:
        line = process.stdout.readline()
        found = re.search(r"http://\S+", line)
        assert found, line + process.stderr.read()
        yield process, found[0]
    finally:
        if process.poll() is None:
            process.kill()
        process.wait(20)
        process.stdout.close()
        process.stderr.close()


def free_port():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return taken.getsockname()[1]


def test_it_answers_where_it_says_and_ctrl_c_is_quiet(store):
    port = free_port()
    with browsing(store, "--port", str(port)) as (process, address):
        assert address == f"http://127.0.0.1:{port}/"
        with urllib.request.urlopen(f"{address}suits?glass=clear-hard-lead-free&metal=copper-sheet") as answer:
            assert b"on copper sheet, 0.8" in answer.read()
            assert answer.headers["content-security-policy"]
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=20)
        assert (process.returncode, out, err) == (0, "", "")


def test_a_request_to_end_leaves_no_log_of_the_workshop(store, tmp_path):
    from refdb.cli.main import main

    path = tmp_path / "workshop.db"
    assert main(["--workshop", str(path), "mine", "add", "glass", "--name", "A", "--basis", "guess"]) == 0
    with browsing(store, "--port", str(free_port()), "--workshop", str(path)) as (process, address):
        with urllib.request.urlopen(f"{address}material/my:a") as answer:
            assert answer.status == 200
        assert main(["--workshop", str(path), "mine", "edit", "my:a", "--note", "changed"]) == 0
        with urllib.request.urlopen(f"{address}workshop/glasses.csv") as answer:
            assert answer.status == 200
        process.send_signal(signal.SIGTERM)
        assert process.communicate(timeout=20)[1] == ""
        assert process.returncode == 0
    assert sorted(p.name for p in tmp_path.glob("workshop*")) == ["workshop.db"]


def test_a_head_too_long_is_answered_in_words(store):
    with browsing(store, "--port", str(free_port())) as (process, address):
        with pytest.raises(urllib.request.HTTPError) as caught:
            urllib.request.urlopen(f"{address}find?q={'a' * 1_000_000}")
        assert caught.value.code == 414
        assert b"What to do" in caught.value.read()
        caught.value.close()
        with urllib.request.urlopen(address) as answer:
            assert answer.status == 200
        process.send_signal(signal.SIGINT)
        assert process.communicate(timeout=20)[1] == ""


#: What one sends who never says the rest, or never takes what is answered.
HALF_OPEN = (
    b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX",
    b"",
    b"POST /piece HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 500\r\n\r\ntext=",
    b"GET /about HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" * 2,
)


@pytest.mark.slow
def test_more_connections_than_files_keep_nobody_out_and_tell_nothing(store):
    """150 are held open at a time, where the system lets the server have 128 files open."""
    with browsing(store, "--port", str(free_port()), files=128) as (process, address):
        read(f"{address}about")
        port = int(address.rstrip("/").rpartition(":")[2])
        for said in HALF_OPEN:
            with ExitStack() as held:
                for _ in range(150):
                    one = held.enter_context(socket.create_connection(("127.0.0.1", port), timeout=20))
                    one.sendall(said)
                with urllib.request.urlopen(f"{address}about", timeout=15) as answer:
                    assert answer.status == 200
        process.send_signal(signal.SIGINT)
        assert process.communicate(timeout=20)[1] == ""


def test_wrong_addresses_leave_no_trace_in_the_log(store):
    with browsing(store, "--port", str(free_port())) as (process, address):
        of_tables = ("reference/glass_groups?key__isblank=1", "reference/contacts?_through=0", "reference/nosuch")
        for path in ("nosuch", "suits?glass=x&metal=y", "reference?sql=select+1", "-/patterns", *of_tables):
            with pytest.raises(urllib.request.HTTPError) as caught:
                urllib.request.urlopen(address + path)
            caught.value.close()
        process.send_signal(signal.SIGINT)
        assert process.communicate(timeout=20)[1] == ""


def test_another_host_says_what_it_means(store):
    with browsing(store, "--host", "0.0.0.0", "--port", str(free_port())) as (process, _):
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=20)
        assert "can read these pages" in err
        assert err.count("\n") == 1


@pytest.mark.parametrize(("option", "status"), [((), 404), (("--shelf",), 200)])
def test_on_the_network_the_own_shelf_is_left_out_unless_it_is_said(store, tmp_path, option, status):
    from refdb.cli.main import main

    path = tmp_path / "workshop.db"
    assert main(["--workshop", str(path), "mine", "add", "glass", "--name", "A", "--basis", "guess"]) == 0
    where = ("--host", "0.0.0.0", "--port", str(free_port()), "--workshop", str(path))
    with browsing(store, *where, *option) as (_, address):
        for page in ("material/my:a", "workshop/glasses.json"):
            asked = http.client.HTTPConnection("127.0.0.1", int(address.rstrip("/").rpartition(":")[2]), timeout=20)
            asked.request("GET", f"/{page}")
            assert asked.getresponse().status == status, page
            asked.close()


def test_the_usual_port_gives_way_and_one_that_was_asked_for_does_not(monkeypatch):
    from refdb.browse.server import application as server

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        monkeypatch.setattr(server, "USUAL_PORT", port)
        with open_socket("127.0.0.1", None) as other:
            assert other.getsockname()[1] not in (0, port)
        with pytest.raises(BadInput, match=f"port {port} cannot be used"):
            open_socket("127.0.0.1", port)
    with open_socket("127.0.0.1", None) as usual:
        assert usual.getsockname()[1] == port


@pytest.mark.parametrize(
    ("host", "alone"),
    [
        ("127.0.0.1", True),
        ("localhost", True),
        ("::1", True),
        ("[::1]", True),
        ("127.8.8.8", True),
        ("0.0.0.0", False),
        ("::", False),
        ("bench", False),
    ],
)
def test_which_hosts_are_this_computer_alone(host, alone):
    assert is_loopback(host) is alone


@pytest.mark.parametrize(
    "options", [("--port", "0"), ("--port", "70000"), ("--host", "no.such.host.invalid"), ("--host", "a" * 300)]
)
def test_a_port_or_host_that_cannot_be_is_one_line(refdb, options):
    ran = refdb("browse", "--no-open", *options)
    assert ran.status == 2
    assert ran.out == ""
    assert "Traceback" not in ran.err


def test_a_missing_store_is_one_line(refdb, tmp_path):
    ran = refdb("browse", "--no-open", on=tmp_path / "none.db")
    assert ran.status == 4
    assert ran.err.count("\n") == 1


def mine(store, workshop, *arguments):
    """Change a workshop in a process of its own."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("REFDB")} | {"REFDB_STORE": str(store)}
    done = subprocess.run(
        [sys.executable, "-m", "refdb", "--workshop", str(workshop), "mine", *arguments],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr


def read(address):
    with urllib.request.urlopen(address) as answer:
        return answer.read().decode()


def test_a_workshop_stands_beside_the_store_and_another_process_may_change_it(store, tmp_path):
    workshop = tmp_path / "shop.db"
    mine(store, workshop, "add", "glass", "--name", "First jar", "--like", "opal-lead-free", "--basis", "guess")
    with browsing(store, "--workshop", str(workshop), "--port", str(free_port())) as (process, address):
        assert "First jar" in read(f"{address}materials?kind=glass")
        assert "First jar on copper sheet" in read(f"{address}suits?glass=my:first-jar&metal=copper-sheet")
        mine(store, workshop, "add", "glass", "--name", "Second jar", "--like", "opal-lead-free", "--basis", "guess")
        assert "Second jar" in read(f"{address}materials?kind=glass")
        assert "Second jar" in read(f"{address}workshop/glasses")
        mine(store, workshop, "remove", "my:first-jar")
        assert "First jar" not in read(f"{address}materials?kind=glass")
        process.send_signal(signal.SIGINT)
        assert process.communicate(timeout=20) == ("", "")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["shop.db"], "no log is left behind"


@pytest.mark.parametrize("spoilt", [b"no workshop at all " * 500, b"SQLite format 3\0" + b"\xff" * 8000])
def test_a_workshop_that_cannot_be_read_is_one_line_and_the_store_is_shown(store, tmp_path, spoilt):
    workshop = tmp_path / "shop.db"
    workshop.write_bytes(spoilt)
    with browsing(store, "--workshop", str(workshop), "--port", str(free_port())) as (process, address):
        assert "left out just now" in read(address)
        assert "copper sheet" in read(f"{address}material/copper-sheet").lower()
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=20)
    assert err.count("\n") == 1
    assert "your own shelf is left out" in err
    assert workshop.read_bytes() == spoilt


def test_a_workshop_that_is_named_and_not_there_is_one_line_and_taken_up_once_it_is(store, tmp_path):
    workshop = tmp_path / "shop.db"
    with browsing(store, "--workshop", str(workshop), "--port", str(free_port())) as (process, address):
        assert "your own" not in read(f"{address}materials?kind=glass").lower()
        mine(store, workshop, "add", "glass", "--name", "First jar", "--like", "opal-lead-free", "--basis", "guess")
        assert "First jar" in read(f"{address}materials?kind=glass")
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=20)
    assert err.count("\n") == 1
    assert "no workshop here" in err


def test_a_workshop_of_an_older_version_is_brought_up_to_date_as_by_every_command(store, tmp_path):
    from refdb.store.workshop.file import Workshop
    from refdb.store.workshop.schema import APPLICATION_ID, MIGRATIONS, VERSION

    workshop = tmp_path / "shop.db"
    with closing(sqlite3.connect(workshop)) as db:
        for statement in MIGRATIONS[0]:
            db.execute(statement)
        db.execute("INSERT INTO glasses (key, name, basis, date) VALUES ('old-jar', 'Old jar', 'guess', '2020-01-01')")
        db.execute(f"PRAGMA application_id={APPLICATION_ID}")
        db.execute("PRAGMA user_version=1")
        db.commit()
    with browsing(store, "--workshop", str(workshop), "--port", str(free_port())) as (process, address):
        assert "Old jar" in read(f"{address}materials?kind=glass")
        process.send_signal(signal.SIGINT)
        assert process.communicate(timeout=20)[1] == ""
    with Workshop(workshop) as shop:
        assert shop.rows("PRAGMA user_version")[0]["user_version"] == VERSION
    assert (tmp_path / "shop.db.version-1").is_file()


def test_a_file_is_taken_by_a_real_server_and_ten_megabytes_are_refused_in_words(store):
    import http.client

    from refdb.browse.pages.piece import example

    def post(address, size):
        text = example().encode() + b"# more\n" * (size // 7)
        body = (
            b'--x\r\nContent-Disposition: form-data; name="file"; filename="a.toml"\r\n\r\n' + text + b"\r\n--x--\r\n"
        )
        asked = http.client.HTTPConnection("127.0.0.1", int(address.rstrip("/").rpartition(":")[2]), timeout=60)
        asked.request("POST", "/piece", body, {"Content-Type": "multipart/form-data; boundary=x"})
        answer = asked.getresponse()
        told = answer.status, answer.read().decode()
        asked.close()
        return told

    with browsing(store, "--port", str(free_port())) as (process, address):
        status, body = post(address, 100)
        assert status == 200
        assert "Moth brooch</h1>" in body
        status, body = post(address, 10_000_000)
        assert status == 413
        assert "What to do" in body
        assert read(address)
        process.send_signal(signal.SIGINT)
        assert process.communicate(timeout=20)[1] == ""


def resident_mb(process):
    status = Path(f"/proc/{process.pid}/status").read_text(encoding="ascii")
    return int(re.search(r"VmRSS:\s+(\d+) kB", status)[1]) / 1024


@pytest.mark.slow
def test_what_refused_questions_leave_behind_is_given_back(store):
    """A page that says no leaves circles behind; at the rate a command looks for them, 700 pages leave 17 MB."""
    paths = ("suits?glass=%FF&metal=%00", "material/none", "reference/property_values?_sort=nothing", "nowhere/at/all")
    with browsing(store, "--port", str(free_port())) as (process, address):

        def refused(count):
            for turn in range(count):
                with pytest.raises(urllib.error.HTTPError):
                    urllib.request.urlopen(f"{address}{paths[turn % len(paths)]}&turn={turn}")

        refused(300)
        settled = resident_mb(process)
        refused(800)
        assert resident_mb(process) - settled < 6
