"""Fixtures that several test files share: a store built once from the sources, and runs of the command."""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from browse_client import Asking

from refdb.store.reference import Reference

ROOT = Path(__file__).resolve().parent.parent
SOURCES = ROOT / "data_sources"
_OWN_SETTINGS = ("REFDB_STORE", "REFDB_WORKSHOP", "REFDB_UNITS", "REFDB_POOL", "LC_ALL", "COLUMNS", "_REFDB_COMPLETE")


@dataclass(frozen=True)
class Ran:
    """What one run of the command gave."""

    status: int
    out: str
    err: str


@contextmanager
def _held(lock: Path) -> Iterator[None]:
    """Hold a lock between test processes, where the system has such locks."""
    with lock.open("w") as handle:
        try:
            import fcntl
        except ImportError:
            yield
            return
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield


def _shared(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], None]) -> Path:
    """A file that the first test process makes and all others find."""
    base = factory.getbasetemp()
    folder = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    target = folder / name
    with _held(folder / f"{name}.lock"):
        if not target.exists():
            make(target)
    return target


@pytest.fixture(scope="session")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The store built from `data_sources/`; to be read, not written."""

    def make(target: Path) -> None:
        from refdb.curate.build import build

        build(SOURCES, target)

    return _shared(tmp_path_factory, "reference.db", make)


@pytest.fixture(scope="session")
def unanswered_store(store: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The store without its precomputed answers, so that every verdict is calculated; to be read, not written."""

    def make(target: Path) -> None:
        bare = target.with_suffix(".bare")
        shutil.copyfile(store, bare)
        with closing(sqlite3.connect(bare)) as database, database:
            database.execute("DELETE FROM answers")
        bare.rename(target)

    return _shared(tmp_path_factory, "unanswered.db", make)


@pytest.fixture(scope="session")
def answered_store(store: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The store with the answer for one pair at the standard build, worked out here when it lacks it."""

    def make(target: Path) -> None:
        from refdb.judge.fit.answer import STANDARD, answer_of
        from refdb.judge.fit.question import Question

        shutil.copyfile(store, target)
        with Reference(store) as ref:
            glass, metal = ref.glass("clear-hard-lead-free"), ref.metal("copper-sheet")
            if ref.answer(glass.key, metal.key, STANDARD) is not None:
                return
            found = answer_of(Question(glass, metal))
            assert found is not None
            numbers = json.dumps(found.to_plain())
        database = sqlite3.connect(target)
        with database:
            database.execute(
                "INSERT INTO answers (glass, metal, build, numbers) VALUES (?, ?, ?, ?)",
                (glass.key, metal.key, STANDARD, numbers),
            )
        database.close()

    return _shared(tmp_path_factory, "answered.db", make)


@pytest.fixture(scope="module")
def ref(store: Path) -> Iterator[Reference]:
    """The shared store, open."""
    with Reference(store) as opened:
        yield opened


@pytest.fixture(scope="module")
def asking(store: Path) -> Iterator[Asking]:
    """The view of the shared store, without a workshop, to be asked in this process."""
    opened = Asking(store)
    yield opened
    opened.close()


@pytest.fixture
def plain_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No setting and no workshop of the person who runs the tests reaches the command."""
    for name in _OWN_SETTINGS:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("REFDB_WORKSHOP", str(tmp_path / "workshop.db"))


@pytest.fixture
def refdb(store: Path, plain_environment: None, capsys: pytest.CaptureFixture[str]) -> Callable[..., Ran]:
    """Run the command in this process on the shared store (or on `on`) and give what it printed."""
    from refdb.cli.main import main

    def run(*arguments: str, on: Path | str | None = store) -> Ran:
        capsys.readouterr()
        status = main([*(() if on is None else ("--store", str(on))), *arguments])
        return Ran(status, *capsys.readouterr())

    return run


@pytest.fixture
def refdb_process(store: Path) -> Callable[..., subprocess.CompletedProcess[bytes]]:
    """Run the command as a process of its own, with settings in its environment (None takes one away)."""

    def run(
        *arguments: str, settings: dict[str, str | None] | None = None, stdout: int = subprocess.PIPE
    ) -> subprocess.CompletedProcess[bytes]:
        environment = {k: v for k, v in os.environ.items() if k not in _OWN_SETTINGS} | {
            "REFDB_STORE": str(store),
            "REFDB_WORKSHOP": str(store.with_name("no-workshop.db")),
        }
        for name, value in (settings or {}).items():
            environment.pop(name, None)
            if value is not None:
                environment[name] = value
        return subprocess.run(
            [sys.executable, "-m", "refdb", *arguments],
            cwd=ROOT,
            env=environment,
            stdout=stdout,
            stderr=subprocess.PIPE,
            timeout=60,
            check=False,
        )

    return run


@pytest.fixture
def mine(refdb, tmp_path):
    """Run a command on a workshop of its own, whose file is `mine.path`."""
    path = tmp_path / "mine.db"

    def run(*arguments: str):
        return refdb(*arguments, "--workshop", str(path))

    run.path = path
    return run


#: Marks of tests that may be skipped at home, for want of a program, but never where changes are checked.
MUST_RUN_UNDER_CI = ("solver", "spreadsheet", "browser", "compiler")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Iterator[None]:
    """Under CI, make a failure of a skipped test that must run."""
    report = yield
    marked = [name for name in MUST_RUN_UNDER_CI if item.get_closest_marker(name)]
    if marked and report.skipped and os.environ.get("CI", "").lower() not in ("", "0", "false"):
        report.outcome = "failed"
        why = report.longrepr[-1] if isinstance(report.longrepr, tuple) else report.longrepr
        report.longrepr = f"what is marked {marked[0]} must run under CI, but was skipped: {why}"
    return report
