"""A look-up starts fast because the heavy packages stay out of it."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

HEAVY = ("pint", "rich", "pydantic", "sqlite_utils", "datasette", "numpy", "scipy", "uvicorn", "jinja2")
#: What reads all that can be typed and what it loads, and Python's own module of dataclasses with `inspect`: of no
#: use to a plain question, and as long to load as all else.
SLOW = ("typer", "click", "dataclasses", "inspect", "platform", "subprocess")
PROGRAM = """
import sys
from refdb.cli.main import main
status = main(sys.argv[1:])
print(status, *sorted({m.partition(".")[0] for m in sys.modules}), file=sys.stderr)
"""


def loaded(store, *arguments: str) -> tuple[int, set[str]]:
    """The exit status and the packages loaded after one run in a process of its own."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("REFDB")}
    # A workshop of whoever runs this is a file more to open.
    environment |= {"REFDB_STORE": str(store), "REFDB_WORKSHOP": str(store.with_name("none.db"))}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, *arguments],
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    status, *names = done.stderr.splitlines()[-1].split()
    return int(status), set(names)


@pytest.mark.parametrize(
    "arguments",
    [
        ("metals",),
        ("glasses", "--lead-free"),
        ("leaf",),
        ("show", "copper-sheet"),
        ("show", "clear-hard-lead-free"),
        ("find", "foil"),
        ("sources",),
        ("practice", "drying"),
        ("fault", "cracked"),
        ("cautions", "copper-clay"),
        ("piece", "schema"),
        ("suits", "clear-hard-lead-free", "copper-sheet"),
        ("suits", "clear-hard-lead-free", "copper-sheet", "--metal-thickness", "0.8mm", "--front", "0.3 mm"),
        ("--help",),
    ],
)
def test_a_look_up_loads_nothing_heavy(answered_store, arguments):
    status, names = loaded(answered_store, *arguments)
    assert status == 0
    assert "refdb" in names
    assert names & set(HEAVY) == set()
    if arguments != ("--help",):
        assert names & set(SLOW) == set()


def test_what_is_not_plain_is_read_by_typer(answered_store):
    status, names = loaded(answered_store, "metals", "--famly", "copper")
    assert status == 2
    assert "typer" in names


def test_a_build_that_is_not_precomputed_does_load_numpy(answered_store):
    status, names = loaded(answered_store, "suits", "clear-hard-lead-free", "copper-sheet", "--metal-thickness", "1 mm")
    assert status == 0
    assert "numpy" in names
    assert "pint" not in names


def test_importing_the_command_loads_nothing_heavy():
    done = subprocess.run(
        [sys.executable, "-c", "import sys, refdb.cli.main; print(*sys.modules)"],
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert {m.partition(".")[0] for m in done.stdout.split()} & set(HEAVY) == set()


def test_a_look_up_beside_own_records_loads_nothing_that_writes(answered_store, tmp_path):
    own = tmp_path / "own.db"
    jar = ("mine", "add", "glass", "--name", "Jar 1", "--basis", "guess")
    assert loaded(answered_store, *jar, "--workshop", str(own))[0] == 0
    for words in (("find", "jar"), ("show", "my:jar-1")):
        status, names = loaded(answered_store, *words, "--workshop", str(own))
        assert status == 0
        assert names & {*SLOW, "random", "shutil", "tempfile", "zlib"} == set()
