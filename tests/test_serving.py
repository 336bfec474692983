"""The files in scripts/serve: two web servers before a view and an export, asked as a reader asks, and a container.

The outside judges are the web servers themselves, nginx and Caddy, where they are found.
"""

from __future__ import annotations

import http.client
import os
import re
import shlex
import shutil
import socket
import subprocess
import time
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

import pytest
from test_browse_server import browsing, free_port

from refdb.browse.pages.piece import example
from refdb.browse.server.query import LONGEST_PIECE_ADDRESS
from refdb.browse.server.upload import LONGEST_BODY

ROOT = Path(__file__).resolve().parent.parent
SERVE = ROOT / "scripts" / "serve"
SIZES = {"k": 1024, "m": 1024**2}


def bytes_of(text):
    return int(text[:-1]) * SIZES[text[-1]]


# Containers


def instructions():
    lines = (SERVE / "Containerfile").read_text(encoding="utf-8").replace("\\\n", " ").splitlines()
    return [tuple(line.split(None, 1)) for line in lines if line and not line.startswith("#")]


def test_a_container_is_made_of_what_is_there(tmp_path):
    """Each line: what is copied is there, and is all that a wheel is made of; who runs it is nobody in particular."""
    words = [word for word, _ in instructions()]
    assert set(words) <= {"FROM", "WORKDIR", "COPY", "RUN", "USER", "EXPOSE", "CMD"}
    first = [rest.split() for word, rest in instructions()[: words.index("FROM", 1)] if word == "COPY"]
    for *sources, target in first:
        for source in sources:
            assert (ROOT / source).exists(), source
            # A folder is copied to its own name, for what it holds would otherwise lie about in the target.
            assert target == (source if (ROOT / source).is_dir() else "./")
    copied = {source for *sources, _ in first for source in sources}
    project = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    needed = {Path(p).parts[0] for p in re.findall(r'"((?:refdb|data_sources|scripts)/[^"]*|README\.md)"', project)}
    assert needed | {"pyproject.toml", "README.md", "refdb"} == copied
    from_ = {rest for word, rest in instructions() if word == "FROM"}
    tested = re.search(r'^TESTED="([^"]*)"', (ROOT / "scripts" / "environment.sh").read_text(), re.M)[1].split()
    assert {re.search(r"python:3\.(\d+)-slim", one)[1] for one in from_} <= set(tested)
    assert words.index("USER") < words.index("CMD")
    assert dict(instructions())["USER"] not in ("root", "0")


def test_a_container_runs_a_command_that_there_is(refdb):
    told = dict(instructions())
    command = [text.strip('"') for text in re.findall(r'"[^"]*"', told["CMD"])]
    assert command[:2] == ["refdb", "browse"]
    assert command[command.index("--port") + 1] == told["EXPOSE"]
    said = refdb("browse", "--help").out
    assert [word for word in command if word.startswith("--") and f"{word} " not in said] == []
    # From outside the container, and without a shelf: none is there, and none would be shown.
    assert command[command.index("--host") + 1] == "0.0.0.0"
    assert not {"--shelf", "--write"} & set(command)


# Web servers


def test_what_the_view_takes_gets_through():
    told = (SERVE / "nginx.conf").read_text(encoding="utf-8")
    assert bytes_of(re.search(r"client_max_body_size (\w+);", told)[1]) > LONGEST_BODY
    for name in ("large_client_header_buffers 4", "proxy_buffer_size"):
        assert bytes_of(re.search(rf"{name} (\w+);", told)[1]) > LONGEST_PIECE_ADDRESS + 1000
    # Its own bound is a refusal without a word, which has been an error of a server in the eyes of a reader.
    assert "max_size" not in (SERVE / "Caddyfile").read_text(encoding="utf-8")


def set_up(name, place, pages, ports):
    """A configuration with other ports and places, and the command that serves it."""
    text = (SERVE / ("nginx.conf" if name == "nginx" else "Caddyfile")).read_text(encoding="utf-8")
    for old, new in {"/srv/refdb": str(pages), "8080": ports[0], "8081": ports[1], "8001": ports[2]}.items():
        text = text.replace(old, str(new))
    file = place / name
    if name == "nginx":
        temporary = "".join(
            f"{kind}_temp_path {place / kind};" for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
        )
        text = text.replace("rate=5r/s", "rate=500r/s").replace("http {", f"http {{ access_log off; {temporary}", 1)
        user = "user root;" if os.getuid() == 0 else ""
        file.write_text(f"{user} daemon off; pid {place / 'pid'}; error_log {place / 'log'};\n{text}", encoding="utf-8")
        return ["-p", str(place), "-c", str(file)]
    assert text.count("\tservers {") == 1
    file.write_text(text.replace("\tservers {", "\tadmin off\n\tservers {"), encoding="utf-8")
    return ["run", "--adapter", "caddyfile", "--config", str(file)]


@contextmanager
def running(program, words, place, port):
    with (place / "said").open("wb") as said:
        process = subprocess.Popen(
            [program, *words], stdout=said, stderr=said, env={**os.environ, "HOME": str(place), "XDG_DATA_HOME": ""}
        )
        try:
            until = time.monotonic() + 20
            while True:
                try:
                    socket.create_connection(("127.0.0.1", port), 1).close()
                    break
                except OSError:
                    there = process.poll() is None and time.monotonic() < until
                    assert there, (place / "said").read_text(encoding="utf-8")
                    time.sleep(0.05)
            yield
        finally:
            process.terminate()
            process.wait(20)


def asked(port, way, path, body=None, kind="application/x-www-form-urlencoded", **headers):
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    try:
        connection.request(way, path, body, headers | ({"Content-Type": kind} if body is not None else {}))
        answer = connection.getresponse()
        return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read().decode(errors="replace")
    finally:
        connection.close()


def long_text():
    return example() + "# ½ a card — and more\n" * ((7900 - len(example().encode())) // 25)


@pytest.mark.slow
def test_web_servers_pass_on_what_the_view_says(store, tmp_path):
    """Each that is found: refusals in the view's words, pieces in addresses, shared files kept for good."""
    path = os.pathsep.join([os.environ.get("PATH", ""), "/usr/sbin", "/usr/local/sbin"])
    found = {name: there for name in ("nginx", "caddy") if (there := shutil.which(name, path=path))}
    pages = tmp_path / "pages of a school"
    (pages / "static").mkdir(parents=True)
    (pages / "index.html").write_text("<h1>front</h1>", encoding="utf-8")
    # A page, and a folder of the same name.
    (pages / "faults").mkdir()
    for page in ("faults.html", "faults/look-craze.html"):
        (pages / page).write_text(f"<h1>{page}</h1>" * 100, encoding="utf-8")
    (pages / "static" / "refdb.css").write_text("p {}", encoding="utf-8")
    with browsing(store, "--port", str(free_port()), "--workshop", str(tmp_path / "none.db")) as (_, address):
        view = int(address.rstrip("/").rpartition(":")[2])
        for name, program in found.items():
            place = tmp_path / name
            place.mkdir()
            ports = free_port(), free_port(), view
            quoted = Path(shlex.quote(str(pages)) if name == "nginx" else f'"{pages}"')
            with running(program, set_up(name, place, quoted, ports), place, ports[1]):
                behind_a_web_server(name, ports)


def behind_a_web_server(name, ports):
    """What a reader of the export and of the view is told."""
    status, headers, body = asked(ports[0], "GET", "/")
    assert (status, body, headers["cache-control"]) == (200, "<h1>front</h1>", "max-age=600"), name
    assert "default-src 'none'" in headers["content-security-policy"]
    status, headers, _ = asked(ports[0], "GET", "/static/refdb.css?v=0123456789ab")
    assert (status, headers["cache-control"]) == (200, "public, max-age=31536000, immutable"), name
    assert headers["x-content-type-options"] == "nosniff"
    assert asked(ports[0], "GET", "/static/refdb.css")[1]["cache-control"] == "max-age=600"
    assert asked(ports[0], "GET", "/nosuch")[0] == 404
    # As people type it, without the ending.
    for path in ("faults", "faults.html", "faults/look-craze"):
        status, _, body = asked(ports[0], "GET", f"/{path}")
        assert (status, body[:30].partition(".")[0]) == (200, f"<h1>{path.partition('.')[0]}"), (name, path)
    assert asked(ports[0], "GET", "/faults/")[0] == 404
    for port, path in ((ports[0], "/faults.html"), (ports[1], "/about")):
        told = asked(port, "GET", path, **{"Accept-Encoding": "gzip"})[1]
        assert told.get("content-encoding") == "gzip", (name, path)
    assert asked(ports[1], "GET", "/about")[0] == 200
    # Two megabytes are refused by the view, in words; what it takes goes through to the last byte.
    for size, status in ((LONGEST_BODY + 1, 413), (2_000_000, 413), (990_000, 400)):
        answer = asked(ports[1], "POST", "/piece", b"text=" + b"%" * (size - 5))
        assert answer[0] == status, (name, size)
        assert "What to do" in answer[2], (name, size)
    # A text that has an address of its own: the way there, and the address.
    status, headers, _ = asked(ports[1], "POST", "/piece", f"text={quote(long_text(), safe='')}".encode())
    assert status == 303, name
    assert len(headers["location"]) > 8200
    status, _, body = asked(ports[1], "GET", headers["location"])
    assert status == 200, name
    assert "Moth brooch</h1>" in body
    assert asked(ports[1], "GET", "/shelf")[0] in (200, 404)
