#!/usr/bin/env python3
"""Change constants and operators of the science and the judge at random, and tell which changes no test notices.

Each change (a mutant) is made in a copy of the package, never in the working tree, and the tests nearest to the changed
file are run on the copy. A mutant is killed when one of them fails; what survives is printed, with the share killed.
Only tests that pass on the unchanged copy count. See DeMillo, Lipton & Sayward, Computer 11 (1978) 34.

    python scripts/mutate.py --count 150 --seed 1 --workers 2
"""

from __future__ import annotations

import argparse
import ast
import os
import queue
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).resolve().parent))

from mutate_changes import changed, places
from mutate_equivalents import EQUIVALENTS

ROOT = Path(__file__).resolve().parent.parent
MUTATED = ("refdb/science", "refdb/judge")
#: Written by a script, and held to what it writes by a test of its own.
GENERATED = ("refdb/science/glass/coefficients.py",)
COPIED = ("refdb", "tests", "scripts", "data_sources", "pyproject.toml", "README.md", "DEVELOPERS.md")
#: Run on every mutant after the nearest ones: they go the whole way from what is asked to the verdict.
ALWAYS = (
    "test_limits.py", "test_judge.py", "test_trade_facts.py", "test_plate.py", "test_maturing.py",
    "test_layered_piece.py", "test_layered_practice.py", "test_clear_over_leaf.py", "test_piece_steps.py",
    "test_sampled.py", "test_judge_tiles.py",
)  # fmt: skip
#: These read the source as text or hold stored answers to what is now computed: they notice a change, not an error.
NEVER = (
    "test_answers.py", "test_every_pair.py", "test_floors.py", "test_readme.py", "test_science_files.py",
    "test_scripts.py", "test_scripts_mutate.py", "test_hostile_input.py", "test_workshop_storms.py",
)  # fmt: skip
#: Faces and sources: slow, and nothing of the science is held there that is not held nearer.
_FAR = ("test_browse_", "test_curate_", "test_pictures_")
#: A test that alone takes longer than this [s] is left out.
LONGEST_S = 5.0


class NothingPasses(Exception):
    """No test file passes on the unchanged copy, so nothing could be killed."""


class Mutant(NamedTuple):
    """One change of one file: `place` counts the nodes of its tree, `change` what may become of that node."""

    path: str
    place: int
    change: int
    line: int
    text: str
    before: str
    after: str

    @property
    def told(self) -> str:
        """Where it is, what became of what, and the line it stands in."""
        return f"{self.path}:{self.line}: {self.before} -> {self.after}    | {self.text}"


@dataclass(frozen=True)
class Tests:
    """Which tests pass on the unchanged copy, by the seconds each file takes, and which are near each source file."""

    seconds: dict[str, float]
    nearest: dict[str, list[str]]
    slow: tuple[str, ...] = ()

    def of(self, path: str) -> list[str]:
        """The test files to run for a source file, the nearest first, and those that pass alone."""
        return [name for name in dict.fromkeys((*self.nearest[path], *ALWAYS)) if name in self.seconds]


def sources(root: Path, only: str = "") -> list[str]:
    """The files that may be changed, below `only` where that is given."""
    found = sorted(p.relative_to(root).as_posix() for top in MUTATED for p in (root / top).rglob("*.py"))
    return [p for p in found if p not in GENERATED and (not only or p == only or p.startswith(only.rstrip("/") + "/"))]


def mutants(root: Path, paths: Sequence[str]) -> list[list[Mutant]]:
    """Every change that may be made, of each place its own list, without those declared equivalent."""
    every = []
    for path in paths:
        source = (root / path).read_text(encoding="utf-8")
        lines = source.splitlines()
        for place, line, before, afters in places(source):
            text = lines[line - 1].strip()
            row = [Mutant(path, place, k, line, text, before, after) for k, after in enumerate(afters)]
            row = [m for m in row if (path, text, before, m.after) not in EQUIVALENTS]
            every += [row] if row else []
    return every


def chosen(every: Sequence[list[Mutant]], count: int, seed: int) -> list[Mutant]:
    """So many mutants at random, each in another place; the same, and more with a greater count, for the same seed."""
    draw = random.Random(seed)
    shuffled = draw.sample(every, len(every))
    return [draw.choice(row) for row in shuffled[:count]]


# Which tests are near


def _module(path: Path, root: Path) -> str:
    return ".".join(path.relative_to(root).with_suffix("").parts).removesuffix(".__init__")


def _imports(path: Path, known: set[str]) -> set[str]:
    """The modules of `known` that a file imports anywhere; all of it is absolute imports."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found |= {node.module} | {f"{node.module}.{a.name}" for a in node.names}
    return found & known


def nearest_tests(root: Path, paths: Sequence[str], most: int) -> dict[str, list[str]]:
    """For each source file the test files that reach it by the fewest imports, the most specific first."""
    files = {_module(p, root): p for p in (root / "refdb").rglob("*.py")}
    files |= {p.stem: p for p in (root / "tests").glob("*.py") if p.stem != "conftest"}
    graph = {name: _imports(p, set(files)) for name, p in files.items()}
    wanted = {path: _module(root / path, root) for path in paths}
    found: dict[str, list[tuple[int, int, str]]] = {path: [] for path in paths}
    for test in sorted((root / "tests").glob("test_*.py")):
        if test.name in NEVER or test.name.startswith(_FAR):
            continue
        direct = _imports(test, set(files))
        far, edge, steps = dict.fromkeys(direct, 1), direct, 1
        while edge:
            steps += 1
            edge = {m for name in edge for m in graph[name]} - far.keys()
            far |= dict.fromkeys(edge, steps)
        for path, module in wanted.items():
            if module in far:
                found[path].append((far[module], len(direct), test.name))
    return {path: [name for _, _, name in sorted(rows)[:most]] for path, rows in found.items()}


# Running


def copy(root: Path, folder: Path) -> Path:
    """Copy what tests need, each file that may change as it is written back from its tree."""
    for name in COPIED:
        if (root / name).is_dir():
            shutil.copytree(root / name, folder / name, ignore=shutil.ignore_patterns("__pycache__", ".*"))
        elif (root / name).exists():
            shutil.copyfile(root / name, folder / name)
    for path in sources(folder):
        write(folder / path, ast.unparse(ast.parse((folder / path).read_text(encoding="utf-8"))))
    return folder


def write(path: Path, text: str) -> None:
    """Write a module, and forget what was compiled of it: two changes within a second look alike to Python."""
    for compiled in (path.parent / "__pycache__").glob(f"{path.stem}.*.pyc"):
        compiled.unlink()
    path.write_text(text + "\n", encoding="utf-8")


def run_tests(folder: Path, names: Sequence[str], limit_s: float, *options: str) -> int | None:
    """Exit status of the tests on a copy; None when they took too long."""
    # Under this name of a worker, the store that the tests share outlives a run.
    settings = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "PYTEST_XDIST_WORKER": "mutate"}
    (folder / "kept").mkdir(exist_ok=True)
    running = subprocess.Popen(
        [
            sys.executable,
            "-m",
            "pytest",
            "-q",
            "-m",
            "not slow",
            "-p",
            "no:cacheprovider",
            "--basetemp=kept/run",
            *options,
        ]
        + [f"tests/{name}" for name in names],
        cwd=folder,
        env=os.environ | settings | {"PYTHONPATH": str(folder)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )
    try:
        return running.wait(limit_s)
    except subprocess.TimeoutExpired:
        os.killpg(running.pid, signal.SIGKILL)
        running.wait()
        return None


def passing(folder: Path, names: Sequence[str], limit_s: float) -> tuple[dict[str, float], tuple[str, ...]]:
    """The test files of which nothing fails on the unchanged copy by the seconds each takes, and the slow tests."""
    report = folder / "report.xml"
    options = (f"--junitxml={report}", "-o", "junit_family=xunit1", "--continue-on-collection-errors")
    run_tests(folder, names, limit_s, *options)
    seconds: dict[str, float] = {}
    failed: set[str] = set()
    slow = []
    for case in ElementTree.parse(report).iter("testcase") if report.exists() else ():
        # A file that cannot be collected is a case without a class, whose name is the file's.
        file = (case.get("classname") or case.get("name") or "").removeprefix("tests.").split(".")[0] + ".py"
        spent = float(case.get("time", 0.0))
        if spent > LONGEST_S:
            slow.append(f"tests/{file}::{case.get('name')}")
        else:
            seconds[file] = seconds.get(file, 0.0) + spent
        failed |= {file} if any(case.find(tag) is not None for tag in ("failure", "error")) else set()
    return {name: spent for name, spent in seconds.items() if name in names and name not in failed}, tuple(slow)


def killed(folder: Path, mutant: Mutant, tests: Tests) -> bool:
    """Whether a test of the copy notices a mutant; one that hangs is noticed."""
    names = tests.of(mutant.path)
    path = folder / mutant.path
    before = path.read_text(encoding="utf-8")
    write(path, changed(before, mutant.place, mutant.change))
    limit_s = 60.0 + 4.0 * sum(tests.seconds[n] for n in names)
    try:
        # Pytest ends with 1 where a test fails and with 2 where a module cannot even be imported.
        return run_tests(folder, names, limit_s, "-x", *(f"--deselect={t}" for t in tests.slow)) in (1, 2, None)
    finally:
        write(path, before.rstrip("\n"))


def survivors(root: Path, picked: Sequence[Mutant], workers: int, most: int, say: bool = True) -> Iterator[Mutant]:
    """Give every mutant that no test notices, as it is found; the mutants are shared among the workers."""
    nearest = nearest_tests(root, sorted({m.path for m in picked}), most)
    names = sorted({n for row in nearest.values() for n in row} | {n for n in ALWAYS if (root / "tests" / n).exists()})
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as top, ThreadPoolExecutor(workers) as pool:
        free: queue.SimpleQueue[Path] = queue.SimpleQueue()
        folders = [copy(root, Path(top) / str(k)) for k in range(workers)]
        halves = list(pool.map(lambda k: passing(folders[k], names[k::workers], 1800.0), range(workers)))
        seconds = {name: s for half, _ in halves for name, s in half.items()}
        tests = Tests(seconds, nearest, tuple(t for _, slow in halves for t in slow))
        if not tests.seconds:
            raise NothingPasses
        if say:
            left_out = [*(n for n in names if n not in seconds), *tests.slow]
            spent = sum(seconds.values())
            print(
                f"{len(seconds)} test files pass in {spent:.0f} s; left out: {', '.join(left_out) or 'none'}",
                flush=True,
            )
        for folder in folders:
            free.put(folder)

        def alive(mutant: Mutant) -> bool:
            folder, begun = free.get(), time.monotonic()
            try:
                dead = bool(tests.of(mutant.path)) and killed(folder, mutant, tests)
            finally:
                free.put(folder)
            if say:
                spent = time.monotonic() - begun
                print(f"{'killed' if dead else 'SURVIVED'} in {spent:.0f} s: {mutant.told}", flush=True)
            return not dead

        yield from (m for m, lives in zip(picked, pool.map(alive, picked), strict=True) if lives)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run; 0 whatever survives, 2 when nothing could be run."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    asked.add_argument("--count", type=int, default=150, help="how many mutants")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--workers", type=int, default=2)
    asked.add_argument("--most", type=int, default=8, help="how many of the nearest test files are run")
    asked.add_argument("--only", default="", metavar="PATH", help="a file or folder below refdb/")
    asked.add_argument("--root", type=Path, default=ROOT, help=argparse.SUPPRESS)
    given = asked.parse_args(arguments)
    every = mutants(given.root, sources(given.root, given.only))
    if not every:
        print(f"nothing to change below '{given.only or ' and '.join(MUTATED)}'", file=sys.stderr)
        return 2
    picked = chosen(every, given.count, given.seed)
    try:
        alive = list(survivors(given.root, picked, given.workers, given.most))
    except NothingPasses:
        print("no test file passes on the unchanged sources; make the tests pass first", file=sys.stderr)
        return 2
    print("\nSurvivors:" if alive else "\nNo survivors.")
    for mutant in alive:
        print(mutant.told)
    print(f"{len(picked) - len(alive)} of {len(picked)} killed (seed {given.seed}, {len(every)} places)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
