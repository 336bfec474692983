"""The long mode of `bench`: one abuser who does everything that is not meant, beside one polite reader.

The abuser is a process of its own with one thread for each kind of abuse; the reader opens a page that is kept, twenty
times a second, and every answer is timed.
"""

from __future__ import annotations

import http.client
import socket
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple
from urllib.parse import quote

sys.path[:0] = [str(Path(__file__).resolve().parent)]
from bench_pages import MATERIAL, SUITS, Server, got, running  # noqa: E402

#: Between two questions of the reader [s], and the most that one in a hundred of them may wait [ms].
PAUSE_S, SLOWEST_MS = 0.05, 50.0
#: Memory at the end over that after the first third: more is taken for growth.
MOST_GROWTH = 1.10
_HEADS = 60
#: Coats, each with its fire, of which the page still works out a piece.
HEAVIEST = 28


class Sample(NamedTuple):
    """What was seen: seconds of each answer to the reader, its failures, memory [MB] once a second."""

    taken_s: list[float]
    failed: int
    memory_mb: list[float]


def heavy_piece(turn: int, coats: int) -> str:
    """A piece of so many coats and fires, another in every turn."""
    steps = "".join(
        '\n[[step]]\ndo = "coat"\nface = "{}"\nglass = "clear-hard-lead-free"\nthickness = "{:.5f} mm"\n'
        '\n[[step]]\ndo = "fire"\nkiln = "805 C"\n'.format(("front", "back")[k % 2], 0.01 + turn % 1000 * 1e-5)
        for k in range(coats)
    )
    return (
        '[piece]\ntitle = "Heavy"\nwidth = "30 mm"\nheight = "30 mm"\n'
        f'\n[base]\nmetal = "copper-sheet"\nthickness = "0.8 mm"\n{steps}'
    )


def _asked(port: int, method: str, path: str, body: bytes = b"", kind: str = "") -> int:
    """The status of an answer, of the page to which it leads where it leads on."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        connection.request(method, path, body or None, {"content-type": kind} if kind else {})
        answer = connection.getresponse()
        on = answer.getheader("location", "")
    finally:
        connection.close()
    return _asked(port, "GET", on) if answer.status == 303 and on.startswith("/") else answer.status


def _slow_heads(port: int, turn: int, held: list[socket.socket]) -> None:
    """Questions of which a few letters are said, and never the end."""
    for one in held[: len(held) - _HEADS + 1] if len(held) >= _HEADS else []:
        one.close()
        held.remove(one)
    one = socket.create_connection(("127.0.0.1", port), 10)
    one.sendall(b"GET /suits?glass=x HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ")
    held.append(one)
    for each in held[-10:]:
        try:
            each.sendall(b"a")
        except OSError:
            held.remove(each)
    time.sleep(0.1)


def _huge_query(port: int, turn: int, held: list[socket.socket]) -> int:
    return _asked(port, "GET", f"/find?q={'a' * 60_000}{turn}")


def _forms(port: int, turn: int, held: list[socket.socket]) -> int:
    kinds = ("application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "text/plain", "")
    return _asked(port, "POST", "/piece", b"text=" + b"%00" * (100_000 + turn % 7), kinds[turn % 4])


def _bad_paths(port: int, turn: int, held: list[socket.socket]) -> int:
    paths = (
        f"/nowhere/{turn}",
        "/reference/property_values?_sort=nothing",
        f"/material/{quote('<script>')}{turn}",
        "/suits?glass=%FF&metal=%00",
        "/reference/contacts?_next=x&_size=max",
        "/%2e%2e/%2e%2e/etc/passwd",
        f"/suits?glass=clear-hard-lead-free&metal=copper-sheet&metal_thickness={turn}km",
        "/-/databases.json?x=y",
        "/reference?sql=select+1",
    )
    return _asked(port, "GET", paths[turn % len(paths)])


def _abandoned(port: int, turn: int, held: list[socket.socket]) -> None:
    """Verdicts that are asked for by someone who has gone before they are worked out."""
    with socket.create_connection(("127.0.0.1", port), 10) as one:
        path = f"{SUITS}&metal_thickness={0.4 + turn % 10_000 / 1e5:.5f}mm"
        one.sendall(f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
    time.sleep(0.05)


def _heavy(port: int, turn: int, held: list[socket.socket]) -> int:
    """Pieces as long as a page works them out, and one in five that is longer."""
    body = f"text={quote(heavy_piece(turn, 90 if turn % 5 == 4 else HEAVIEST))}".encode()
    return _asked(port, "POST", "/piece", body, "application/x-www-form-urlencoded")


ABUSES: tuple[Callable[[int, int, list[socket.socket]], int | None], ...] = (
    _slow_heads,
    _huge_query,
    _forms,
    _bad_paths,
    _abandoned,
    _heavy,
)


def abuse(port: int, long_s: float) -> dict[str, int]:
    """Do all of it for so long; how often each status came, and how often a connection was refused or cut."""
    ends, counts, lock = time.monotonic() + long_s, dict[str, int](), threading.Lock()

    def keep_on(one: Callable[[int, int, list[socket.socket]], int | None]) -> None:
        turn, held = 0, list[socket.socket]()
        while time.monotonic() < ends:
            try:
                told = str(one(port, turn, held) or "none")
            except (OSError, http.client.HTTPException):
                told = "cut"
                time.sleep(0.05)
            with lock:
                counts[told] = counts.get(told, 0) + 1
            turn += 1
        for each in held:
            each.close()

    threads = [threading.Thread(target=keep_on, args=(one,)) for one in ABUSES]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return counts


def read_politely(server: Server, long_s: float) -> Sample:
    """Open one kept page again and again, over one connection that is opened anew where it was cut."""
    taken: list[float] = []
    memory: list[float] = []
    failed, begun, seen = 0, time.monotonic(), -1
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=30)
    while (now := time.monotonic() - begun) < long_s:
        first = time.perf_counter()
        try:
            status, _ = got(connection, MATERIAL)
        except (OSError, http.client.HTTPException):
            connection.close()
            status = 0
        taken.append(time.perf_counter() - first)
        failed += status != 200
        if int(now) > seen:
            seen = int(now)
            memory.append(server.resident_mb)
        time.sleep(PAUSE_S)
    connection.close()
    return Sample(taken, failed, memory)


def measured(minutes: float) -> Iterator[tuple[str, float, str, float | None, bool, str]]:
    """What was measured, as `bench_pages.measured` has it; RuntimeError where the server or the abuser gave up."""
    long_s = minutes * 60.0
    with running(["-m", "refdb", "browse", "--no-open"], MATERIAL) as server:
        quiet = read_politely(server, min(5.0, long_s / 3))
        command = [sys.executable, __file__, str(server.port), str(long_s)]
        abuser = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        beside = read_politely(server, long_s)
        told, _ = abuser.communicate(timeout=120)
        if server.process.poll() is not None or abuser.returncode:
            raise RuntimeError("the server or the abuser ended before its time")
        counts = {word: int(n) for word, n in (pair.split("=") for pair in told.split())}
        after = read_politely(server, min(5.0, long_s / 3))
    broken = sum(n for status, n in counts.items() if status.startswith("5") and status != "503")
    settled = statistics.median(beside.memory_mb[len(beside.memory_mb) // 3 :][:10])
    late = statistics.median(beside.memory_mb[-10:])
    each = [sorted(s.taken_s)[int(0.99 * (len(s.taken_s) - 1))] * 1e3 for s in (beside, quiet, after)]
    name = f"abuse for {minutes:g} min"
    yield f"{name}: p99 of a kept page", each[0], "ms", SLOWEST_MS, False, f"{each[1]:.0f} before, {each[2]:.0f} after"
    yield f"{name}: failures of the reader", float(beside.failed + after.failed), "", 0, False, f"{len(beside.taken_s)}"
    yield f"{name}: answers 500 and above but 503", float(broken), "", 0, False, told.strip()
    yield f"{name}: memory at the end over the first third", late / settled, "x", MOST_GROWTH, False, f"{late:.0f} MB"


if __name__ == "__main__":
    print(*(f"{word}={n}" for word, n in sorted(abuse(int(sys.argv[1]), float(sys.argv[2])).items())))
