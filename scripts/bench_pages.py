"""The measures of the pages in `bench`: our server beside plain Datasette on the same file, in the same run."""

from __future__ import annotations

import http.client
import itertools
import os
import socket
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import parse_qsl, urlencode, urlsplit

ROOT = Path(__file__).resolve().parent.parent
STORE = ROOT / "refdb" / "reference.db"
TABLE = "/reference/property_values?_size=50"
MATERIAL = "/material/copper-sheet"
SUITS = "/suits?glass=clear-hard-lead-free&metal=copper-sheet"
UNKNOWN = "/nowhere/at/all"
#: Both servers answer in a process with one thread a calculation, as elsewhere here.
_CLIENTS = 2


class Server(NamedTuple):
    """A server at work: its port, its process, and how long it took to its first answer [s]."""

    port: int
    process: subprocess.Popen[bytes]
    started_s: float

    @property
    def resident_mb(self) -> float:
        """Memory that the process holds [MB]; RuntimeError where the system does not tell."""
        try:
            text = Path(f"/proc/{self.process.pid}/status").read_text(encoding="ascii")
        except OSError as error:
            raise RuntimeError("this system does not tell the memory of a process") from error
        return int(next(line for line in text.splitlines() if line.startswith("VmRSS")).split()[1]) / 1024


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def running(command: list[str], first: str) -> Iterator[Server]:
    """A server from start to its first answer, stopped in the end."""
    port = _free_port()
    begun = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, *command, "--port", str(port)],
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        while True:
            try:
                status, _ = got(http.client.HTTPConnection("127.0.0.1", port, timeout=30), first)
                break
            except OSError:
                if process.poll() is not None or time.perf_counter() - begun > 60:
                    raise RuntimeError(f"{' '.join(command)[:60]} does not answer") from None
                time.sleep(0.005)
        if status != 200:
            raise RuntimeError(f"{first}: {status}")
        yield Server(port, process, time.perf_counter() - begun)
    finally:
        process.terminate()
        process.wait(20)


def got(connection: http.client.HTTPConnection, path: str) -> tuple[int, bytes]:
    """Status and body of one page."""
    connection.request("GET", path)
    answer = connection.getresponse()
    return answer.status, answer.read()


#: Pages that are longer, or take longer, the more materials there are.
FIRST_ASKED = ("/", "/materials", "/find?q=copper", MATERIAL, f"{SUITS}&kiln=801C")


def first_answers(store: Path) -> list[float]:
    """Seconds to the first answer of each of `FIRST_ASKED` on a store, none of which was kept."""
    taken = []
    with running(["-m", "refdb", "--store", str(store), "browse", "--no-open"], "/about") as server:
        connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=300)
        got(connection, SUITS)
        for page in FIRST_ASKED:
            begun = time.perf_counter()
            status, _ = got(connection, page)
            taken.append(time.perf_counter() - begun)
            if status != 200:
                raise RuntimeError(f"{page}: {status}")
        connection.close()
    return taken


def rate(
    server: Server, paths: Callable[[], str], long_s: float, clients: int = _CLIENTS, wanted: int = 200
) -> tuple[float, int]:
    """Answers a second over so many connections kept open, and how many of them failed."""
    counts, failed = [0] * clients, [0] * clients
    ends = time.perf_counter() + long_s

    def ask(k: int) -> None:
        connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60)
        while time.perf_counter() < ends:
            try:
                status, _ = got(connection, paths())
            except (OSError, http.client.HTTPException):
                connection.close()
                status = 0
            counts[k] += 1
            failed[k] += status != wanted

    threads = [threading.Thread(target=ask, args=(k,)) for k in range(clients)]
    begun = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return sum(counts) / (time.perf_counter() - begun), sum(failed)


def always(path: str) -> Callable[[], str]:
    """The same page every time."""
    return lambda: path


def in_turn(*paths: str) -> Callable[[], str]:
    """One page after another, round and round, whoever asks."""
    turn, lock = itertools.cycle(paths), threading.Lock()

    def following() -> str:
        with lock:
            return next(turn)

    return following


def another_kiln(turn: int) -> str:
    """A setting of the kiln in tenths of a millikelvin: the plates are those of the standard build."""
    return f"&kiln={800 + turn * 1e-4:.4f}C"


def other_thicknesses(turn: int) -> str:
    """Thicknesses of which no plate was ever cooled, in millionths of a millimetre."""
    return f"&metal_thickness={0.7 + turn * 1e-6:.6f}mm&front={0.3 + turn * 1e-6:.6f}mm"


def never_twice(more: Callable[[int], str], count: int = 100_000) -> Callable[[], str]:
    """Verdicts that were not asked before, so that none is kept."""
    turn, lock = itertools.count(1), threading.Lock()

    def following() -> str:
        with lock:
            return SUITS + more(next(turn) % count)

    return following


def built_from_nothing(server: Server, turn: int) -> list[float]:
    """A moth brooch put together on the page, form by form: seconds of each form with the page that it leads to.

    It is a little wider in every turn, and with it the dome another, so that no step was ever asked before.
    """
    from refdb.browse.pages.piece import example
    from refdb.plan.sketch import Sketch

    wanted, taken = Sketch.of(example()), list[float]()
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60)
    filled: list[dict[str, object]] = [{}, {"do": "body", **wanted.piece, **wanted.base}]
    filled[1]["width"] = f"{float(str(wanted.piece['width']).removesuffix('mm')) + turn / 100:.2f} mm"
    for step in wanted.steps:
        told: dict[str, object] = {k: v for k, v in step.items() if k != "do"}
        filled.append({"do": "step", "add": step["do"], **told})
    piece = ""
    for form in filled:
        words = {True: "yes", False: "no"}
        body = urlencode(
            {k: words[v] if isinstance(v, bool) else v for k, v in form.items()} | ({"p": piece} if piece else {})
        )
        begun = time.perf_counter()
        connection.request("POST", "/piece/build", body, {"content-type": "application/x-www-form-urlencoded"})
        answer = connection.getresponse()
        answer.read()
        there = answer.getheader("location", "")
        if answer.status != 303:
            raise RuntimeError(f"a step of the builder: {answer.status}")
        status, _ = got(connection, there.partition("#")[0])
        taken.append(time.perf_counter() - begun)
        if status != 200:
            raise RuntimeError(f"the page after a step of the builder: {status}")
        piece = dict(parse_qsl(urlsplit(there).query))["p"]
    connection.close()
    return taken


def measured(quick: bool) -> Iterator[tuple[str, float, str, float | None, bool, str]]:
    """What was measured: name, figure, unit, goal, whether the goal is the least wanted, and a note."""
    os.environ["NO_COLOR"] = "1"
    plain = ["-m", "datasette", "serve", "-i", str(STORE), "--host", "127.0.0.1"]
    ours = ["-m", "refdb", "browse", "--no-open"]
    starts: list[tuple[float, float]] = []
    for _ in range(3 if quick else 7):
        with running(plain, TABLE) as one:
            theirs = one.started_s
        with running(ours, MATERIAL) as one:
            starts.append((one.started_s, theirs))
    yield ("pages: start to first answer", *_ratio(starts), 1.5, False, "over plain Datasette on the same file")
    long_s = 1.0 if quick else 4.0
    with running(plain, TABLE) as yardstick, running(ours, MATERIAL) as server:
        yield (
            "pages: memory after the first answer",
            server.resident_mb / yardstick.resident_mb,
            "x",
            1.5,
            False,
            f"{server.resident_mb:.0f} and {yardstick.resident_mb:.0f} MB",
        )
        connection, cold = http.client.HTTPConnection("127.0.0.1", server.port, timeout=60), list[float]()
        for turn in range(20):
            begun = time.perf_counter()
            got(connection, SUITS + other_thicknesses(200_000 + turn))
            cold.append(time.perf_counter() - begun)
        connection.close()
        yield (
            "pages: first verdict after the start, cold over warm",
            cold[0] / statistics.median(cold[5:]),
            "x",
            None,
            False,
            f"{cold[0] * 1e3:.0f} and {statistics.median(cold[5:]) * 1e3:.0f} ms",
        )
        bare = statistics.mean(rate(yardstick, always(TABLE), long_s)[0] for _ in range(2))
        for name, paths, goal, status in (
            ("/material/KEY", always(MATERIAL), 8, 200),
            ("/suits, standard build", always(SUITS), 8, 200),
            ("/suits, another setting of the kiln", never_twice(another_kiln), 3, 200),
            ("/suits, never asked before", never_twice(other_thicknesses), 3, 200),
            ("/grid", always("/grid"), 1, 200),
            ("an unknown address", always(UNKNOWN), 8, 404),
        ):
            # What a page takes when nobody asked for it yet is told by rows of its own.
            with closing(http.client.HTTPConnection("127.0.0.1", server.port, timeout=60)) as first:
                got(first, paths())
            got_, failed = rate(server, paths, long_s, wanted=status)
            if failed:
                raise RuntimeError(f"{name}: {failed} answers were not {status}")
            yield (
                f"pages: {name}",
                got_ / bare,
                "x",
                goal,
                True,
                f"{got_:,.0f} a second, the 50-row table {bare:,.0f}",
            )
        steps = [s for turn in range(2 if quick else 5) for s in built_from_nothing(server, turn)]
        yield (
            "pages: a step of the builder, never asked before",
            statistics.median(steps) * 1e3,
            "ms",
            150,
            False,
            f"{max(steps) * 1e3:.0f} ms the longest of {len(steps)}",
        )
        paths = in_turn("/", MATERIAL, SUITS, "/grid", "/faults", "/sources", "/reference/contacts", "/find?q=foil")
        for_s = 5.0 if quick else 60.0
        many, failed = rate(server, paths, for_s, clients=16)
        yield (
            f"pages: failures of 16 connections in {for_s:.0f} s",
            float(failed),
            "",
            0,
            False,
            f"{many:,.0f} a second, {server.resident_mb:.0f} MB after",
        )


def _ratio(pairs: list[tuple[float, float]]) -> tuple[float, str]:
    ours, theirs = (statistics.median(column) for column in zip(*pairs, strict=True))
    return ours / theirs, "x"


_PAINTED = "performance.getEntriesByName('first-contentful-paint').map(e => e.startTime)[0] || 0"


#: Whether the page on show came through the file that keeps pages.
_HELD = "Boolean(navigator.serviceWorker && navigator.serviceWorker.controller)"
#: What a page is asked with: its script, and the file that keeps pages between it and the view.
_WAYS = {"neither": (False, False), "the script": (True, False), "script and worker": (True, True)}


def painted(quick: bool) -> Iterator[tuple[str, float | None, str, float | None, bool, str]]:
    """How long until a browser first paints a page, with script and worker over without; as `measured` has it."""
    from chromium_pipe import PROGRAM, Browser

    if PROGRAM is None:
        yield ("pages: first paint with the script over without", None, "x", 1.2, False, "no chromium here")
        return
    rounds, pages = (8, (SUITS,)) if quick else (20, (SUITS, "/grid", "/piece?example=moth"))
    with running(["-m", "refdb", "browse", "--no-open"], MATERIAL) as server, Browser() as browser:
        browser.size(360, 640)
        host = f"http://127.0.0.1:{server.port}"
        held = _held(browser, host)
        for page in pages:
            taken = _paints(browser, f"{host}{page}", rounds, held)
            name = page.partition("?")[0]
            for way in [way for way in _WAYS if way != "neither"]:
                what = f"pages: first paint of {name} with {way} over without"
                if way not in taken:
                    yield (what, None, "x", 1.2, False, "the worker did not start")
                    continue
                note = f"{taken[way]:.0f} and {taken['neither']:.0f} ms at a width of 360"
                yield (what, taken[way] / taken["neither"], "x", 1.2, False, note)


def _held(browser: Any, host: str) -> bool:
    """Whether the file that keeps pages stands before the view in this browser, after some seconds at most."""
    for _ in range(20):
        browser.open(f"{host}{MATERIAL}")
        if browser.ask(_HELD):
            return True
        time.sleep(0.25)
    return False


def _paints(browser: Any, address: str, rounds: int, held: bool) -> dict[str, float]:
    """The median until the first paint [ms] by each way, in turn so that a slow spell falls on all."""
    ways = {way: how for way, how in _WAYS.items() if held or not how[1]}
    taken: dict[str, list[float]] = {way: [] for way in ways}
    for k in range(rounds + 1):
        for way, (script, worker) in ways.items():
            browser.scripts(script)
            browser.send("Network.setBypassServiceWorker", bypass=not worker)
            browser.open(address)
            found = 0.0
            while not found:
                found = float(browser.ask(_PAINTED))
            if worker and not browser.ask(_HELD):
                raise RuntimeError("the worker did not answer")
            # The first of each fills what the browser keeps.
            if k:
                taken[way].append(found)
    return {way: statistics.median(times) for way, times in taken.items()}
