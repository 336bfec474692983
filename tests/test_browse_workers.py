"""The view by several processes: they answer on one port, end when asked to, and leave nothing behind."""

from __future__ import annotations

import http.client
import os
import re
import signal
import sys
import threading
import time
import urllib.request
from urllib.parse import urlencode

import pytest
from child_processes import children_of, gone
from test_browse_server import browsing, free_port

from refdb.browse.pages.shelf_forms import SECRET
from refdb.store.workshop.file import Workshop

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="a port is not shared there")


def page(address):
    with urllib.request.urlopen(address, timeout=20) as answer:
        return answer.read().decode()


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="tells processes by /proc")
def test_two_workers_answer_are_replaced_and_end_without_leftovers(store, tmp_path):
    from refdb.cli.main import main

    shop = tmp_path / "workshop.db"
    assert main(["--workshop", str(shop), "mine", "add", "glass", "--name", "A", "--basis", "guess"]) == 0
    with browsing(store, "--port", str(free_port()), "--workers", "2", "--write", "--workshop", str(shop)) as (
        process,
        address,
    ):
        workers = children_of(process.pid)
        assert len(workers) == 2
        # Either alone answers, and forms of one are forms of the other.
        secrets = set()
        for asleep in workers:
            os.kill(asleep, signal.SIGSTOP)
            try:
                assert "my:a" in page(f"{address}material/my:a")
                secrets.update(re.findall(f'name="{SECRET}" value="([^"]+)"', page(f"{address}shelf")))
            finally:
                os.kill(asleep, signal.SIGCONT)
        assert len(secrets) == 1
        os.kill(workers[0], signal.SIGKILL)
        line = process.stderr.readline()
        assert re.fullmatch(r"refdb: a worker ended \(status -9\); another is begun\n", line)
        assert gone(workers[:1])
        assert "my:a" in page(f"{address}material/my:a")
        until = time.monotonic() + 20.0
        while len(now := children_of(process.pid)) < 2 and time.monotonic() < until:
            time.sleep(0.05)
        assert len(now) == 2
        process.send_signal(signal.SIGTERM)
        assert process.communicate(timeout=30)[1] == ""
        assert process.returncode == 0
        assert gone(now)
    assert sorted(p.name for p in tmp_path.glob("workshop*")) == ["workshop.db"]


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="tells processes by /proc")
def test_workers_do_not_outlive_whoever_looks_after_them(store):
    with browsing(store, "--port", str(free_port()), "--workers", "1") as (process, _):
        workers = children_of(process.pid)
        assert len(workers) == 1
        process.kill()
        process.wait(20)
        assert gone(workers)


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="tells processes by /proc")
def test_two_who_write_through_two_workers_at_once_lose_nothing(store, tmp_path):
    """Each worker is asked by one of two connections; every form is answered, and stands in the workshop once."""
    from refdb.cli.main import main

    shop, each = tmp_path / "workshop.db", 12
    assert main(["--workshop", str(shop), "mine", "add", "glass", "--name", "A", "--basis", "guess"]) == 0
    with browsing(store, "--port", str(free_port()), "--workers", "2", "--write", "--workshop", str(shop)) as (
        process,
        address,
    ):
        secret = re.search(f'name="{SECRET}" value="([^"]+)"', page(f"{address}shelf"))[1]
        two = connections_to_each(process.pid, int(address.rpartition(":")[2].strip("/")))
        begin = threading.Barrier(2)
        found = [[], []]

        def write(who):
            begin.wait(20)
            for k in range(each):
                form = {"glass": "my:a", "metal": "copper-sheet", "outcome": "sound", "note": f"{who}-{k}"}
                body = urlencode(form | {SECRET: secret})
                head = {"content-type": "application/x-www-form-urlencoded", "sec-fetch-site": "same-origin"}
                two[who].request("POST", "/shelf/tile", body, head)
                answer = two[who].getresponse()
                answer.read()
                found[who].append(answer.status)

        threads = [threading.Thread(target=write, args=(who,)) for who in (0, 1)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(60)
        for one in two:
            one.close()
        assert found == [[303] * each] * 2
        process.send_signal(signal.SIGTERM)
        assert process.communicate(timeout=30)[1] == ""
    with Workshop(shop) as held:
        notes = [row["note"] for row in held.listed("tile")]
    assert sorted(notes) == sorted(f"{who}-{k}" for who in (0, 1) for k in range(each))


def connections_to_each(pid, port):
    """Connections that stay open to either worker: while one sleeps the other takes what comes."""
    found = []
    workers = children_of(pid)
    for asleep in workers:
        os.kill(asleep, signal.SIGSTOP)
        try:
            one = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
            one.request("GET", "/about")
            answer = one.getresponse()
            assert (answer.status, answer.read()[:1]) == (200, b"<")
            found.append(one)
        finally:
            os.kill(asleep, signal.SIGCONT)
    return found


@pytest.mark.parametrize("count", ["0", "-1", "65", "two", "１", "1.5"])
def test_no_number_of_workers_is_no_number_of_workers(refdb, count):
    ran = refdb("browse", "--no-open", f"--workers={count}")
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert "--workers" in ran.err


def test_where_a_port_cannot_be_shared_one_line_says_so(refdb, monkeypatch):
    monkeypatch.setattr("refdb.browse.server.workers.sys.platform", "win32")
    ran = refdb("browse", "--no-open", "--workers", "2")
    assert (ran.status, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert "leave it away" in ran.err
