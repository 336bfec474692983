"""Measure how fast and how lean refdb is, as ratios to yardsticks taken in the same run.

    python scripts/bench.py            everything, some minutes
    python scripts/bench.py --quick    under a minute
    python scripts/bench.py --long 60  the view under hostile load for so many minutes, and nothing else
    python scripts/bench.py --json now.json --against before.json    keeps the figures; tells what moved since

The yardsticks are a bare Python process that imports sqlite3, the import of numpy, and the laminate package
lamfail. A measure whose yardstick or subject is absent prints "not measured" and is counted; one that fails or
misses its goal makes the exit status 1. Each measure is one function in MEASURES.
"""

from __future__ import annotations

import argparse
import compileall
import csv
import json
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from refdb.judge.piece.steps import Piece

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "scripts"), str(ROOT / "tests")]
# Measured as a person has it: no limit of threads, and no setting of ours.
for _name in [name for name in os.environ if name.startswith("REFDB_") or name.endswith("_NUM_THREADS")]:
    del os.environ[_name]

SOURCES = ROOT / "data_sources"
ROUNDS = 15
#: Of the figures that verdicts use, no more than this may rest on memory alone [%].
MOST_RECALLED = 20.0
BARE = ("-c", "import sqlite3")
PAIR = ("clear-hard-lead-free", "copper-sheet")
BENT = (
    "--metal",
    "copper-sheet",
    "--metal-thickness",
    "0.5mm",
    "--glass-thickness",
    "0.3mm",
    "--length",
    "100mm",
    "--bow",
    "4.4mm",
)
FREE_BUILD = ("--metal-thickness", "0.7-0.9mm", "--front", "0.25mm", "--back", "0.2mm")
#: A build that wants care, so that changes are tried.
CHANGED_BUILD = ("--metal-thickness", "0.5mm", "--front", "0.3mm", "--back", "0.3mm")
COMPONENTS = ("SiO2", "B2O3", "Al2O3", "Na2O", "K2O", "CaO", "ZnO", "TiO2")
FIRST = ("SiO2", "55"), ("B2O3", "10"), ("Na2O", "14"), ("K2O", "9"), ("CaO", "5"), ("ZnO", "4"), ("TiO2", "3")


@dataclass(frozen=True)
class Row:
    """One line of the table; `goal` is the most (or, where `at_least`, the least) that is wanted."""

    what: str
    found: float | None
    unit: str = "x"
    goal: float | None = None
    at_least: bool = False
    note: str = ""
    failed: bool = False

    @property
    def verdict(self) -> str:
        """Whether the goal is met, where there is one and something was measured."""
        if self.failed:
            return "FAILED"
        if self.found is None:
            return "not measured"
        if self.goal is None:
            return "shown"
        return "ok" if (self.found >= self.goal if self.at_least else self.found <= self.goal) else "MISS"

    def text(self) -> str:
        """The line as printed."""
        found = "-" if self.found is None else f"{self.found:,.4g} {self.unit}"
        goal = "" if self.goal is None else f"{'>=' if self.at_least else '<='} {self.goal:g} {self.unit}"
        return f"{self.what:<52} {found:>13} {goal:>10}  {self.verdict:<12} {self.note}".rstrip()


def seconds(arguments: Sequence[str]) -> float:
    """Wall time of one Python process; RuntimeError when it fails."""
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, *arguments],
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
    )
    taken = time.perf_counter() - begun
    if done.returncode not in (0, 1):
        raise RuntimeError(f"{' '.join(arguments)[:80]}: {done.stderr.strip()[-200:]}")
    return taken


def medians(*commands: Sequence[str], rounds: int = ROUNDS) -> list[float]:
    """Median wall time of each command, all of them run in turn so that a slow spell falls on all alike."""
    for command in commands:
        seconds(command)  # Fills the caches of the system and of compiled files.
    taken = [[seconds(command) for command in commands] for _ in range(rounds)]
    return [statistics.median(column) for column in zip(*taken, strict=True)]


def refdb(*words: str) -> tuple[str, ...]:
    """The arguments that run the command: the script beside the interpreter, or the module where there is none."""
    script = Path(sys.executable).with_name("refdb")
    return (str(script), *words) if script.is_file() else ("-m", "refdb", *words)


def commands_exist(*names: str) -> bool:
    """Whether this refdb has the commands."""
    from refdb.cli.commands import COMMANDS

    return all(name in COMMANDS for name in names)


def answers_at_once(quick: bool) -> Iterator[Row]:
    """Look-ups and verdicts as a person waits for them, against a bare process."""
    estimate = refdb("estimate", ", ".join(f"{name} {amount}" for name, amount in FIRST))
    wanted: list[tuple[str, Sequence[str], float | None]] = [
        ("import numpy", ("-c", "import numpy"), None),
        ("look-up: show copper-sheet", refdb("show", "copper-sheet"), 5),
        ("look-up: metals", refdb("metals"), 5),
        ("look-up: find foil", refdb("find", "foil"), 5),
        ("suits, standard build", refdb("suits", *PAIR), 6),
        ("suits, a build of one's own, with its band", refdb("suits", *PAIR, *FREE_BUILD), 12),
        ("suits, a build of which changes are tried", refdb("suits", *PAIR, *CHANGED_BUILD), 25),
        ("suits, the same domed", refdb("suits", *PAIR, *CHANGED_BUILD, "--shape", "domed"), 25),
    ]
    folder = tempfile.TemporaryDirectory()
    demo = Path(folder.name, "piece.toml")
    seconds(refdb("piece", "new", str(demo)))
    wanted.append(("piece check, the piece that piece new writes", refdb("piece", "check", str(demo)), 16))
    if commands_exist("estimate"):
        wanted.append(("estimate, one composition", estimate, 10))
    if commands_exist("mine"):
        wanted.append(("mine strip, with its interval", refdb("mine", "strip", *BENT), 15))
    bare, *taken = medians(BARE, *(command for _, command, _ in wanted), rounds=ROUNDS if quick else 2 * ROUNDS)
    yield Row("bare process: import sqlite3", bare * 1e3, "ms")
    for (what, _, goal), time_ in zip(wanted, taken, strict=True):
        yield Row(what, time_ / bare, goal=goal)
    for what, words in (("show copper-sheet", ("show", "copper-sheet")), ("suits", ("suits", *PAIR))):
        cold = []
        for k in range(2 if quick else 5):
            # Nothing is compiled there yet, of Python's own library neither.
            nothing = ("-X", f"pycache_prefix={Path(folder.name, f'{words[0]}-{k}')}")
            cold.append(seconds((*nothing, "-m", "refdb", *words)) / seconds((*nothing, *BARE)))
        yield Row(f"{what}, cold: the first time after it was installed", statistics.median(cold))
    folder.cleanup()
    if not commands_exist("estimate"):
        yield Row("estimate, one composition", None, goal=10, note="no such command")


def memory(quick: bool) -> Iterator[Row]:
    """Peak memory of a look-up; a small process stands between, since a child inherits its parent's peak."""
    for words in (("show", "copper-sheet"), ("metals",)):
        between = (
            "import resource, subprocess, sys; subprocess.run(sys.argv[1:], check=True, "
            "stdout=subprocess.DEVNULL); print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
        )
        done = subprocess.run(
            [sys.executable, "-S", "-c", between, sys.executable, *refdb(*words)],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        )
        unit = 1.0 if sys.platform == "darwin" else 1024.0
        yield Row(f"peak memory: {' '.join(words)}", float(done.stdout) * unit / 1e6, "MB", 40)


def plates(quick: bool) -> Iterator[Row]:
    """Plates a second: ours yield and cool in steps, those of lamfail are elastic and solved one by one."""
    import numpy as np

    from refdb import open_reference
    from refdb.science.expansion import glass_strain
    from refdb.science.plate import ByPlate, HardeningYield, Plates, cool_many

    try:
        from laminate_plate import Sheet, cooled
    except ImportError as missing:
        yield Row("cool_many against lamfail, plates a second", None, goal=30, at_least=True, note=str(missing))
        return
    n, calls = (5_000, 1_000) if quick else (100_000, 5_000)
    draw = np.random.default_rng(20)

    def of(low: float, high: float) -> np.ndarray:
        return draw.uniform(low, high, n)

    back, metal, front = of(1e-4, 4e-4), of(6e-4, 1.2e-3), of(1e-4, 4e-4)
    glass_e, metal_e, set_c, per_k = of(60e9, 75e9), of(110e9, 125e9), of(470, 560), of(10e-6, 14e-6)
    with open_reference() as ref:
        curve = ref.metal("copper-sheet").curve
    glass, even = ByPlate(glass_strain, (per_k,)), np.ones(n)
    batch = Plates(
        ("back", "metal", "front"),
        np.stack((back, metal, front), 1),
        np.stack((glass_e, metal_e, glass_e), 1),
        np.stack((0.22 * even, 0.34 * even, 0.22 * even), 1),
        (glass, curve, glass),
        np.stack((set_c, np.nan * even, set_c), 1),
        (None, HardeningYield(of(28e6, 65e6), of(1.5e9, 2.5e9), of(0.6, 0.8)), None),
    )

    def outside(first: int) -> float:
        begun = time.perf_counter()
        for k in range(first, first + calls):
            cooled(
                [
                    Sheet(back[k], glass_e[k], 0.22, per_k[k]),
                    Sheet(metal[k], metal_e[k], 0.34, 17.8e-6),
                    Sheet(front[k], glass_e[k], 0.22, per_k[k]),
                ],
                20.0 - set_c[k],
            )
        return calls / (time.perf_counter() - begun)

    def inside() -> float:
        begun = time.perf_counter()
        cool_many(batch)
        return n / (time.perf_counter() - begun)

    # The first call of either finds its memory cold.
    outside(0)
    many = cool_many(batch)
    # In turn, so that a slow spell falls on both.
    pairs = [(inside(), outside(k * calls % n)) for k in range(3)]
    ours, theirs = (statistics.median(column) for column in zip(*pairs, strict=True))
    force = np.abs((many.mean_pa * batch.thickness_m).sum(axis=1))
    size = np.maximum(np.abs(many.bottom_pa), np.abs(many.top_pa)).max(axis=1) * batch.thickness_m.sum(axis=1)
    yield Row(
        f"cool_many on {n:,} plates against lamfail",
        ours / theirs,
        goal=30,
        at_least=True,
        note=f"{ours:,.0f} and {theirs:,.0f} a second",
    )
    yield Row("  worst force left over, from the mean stresses", float((force / size).max()), "", 1e-6)
    for count in (1, 100, 10_000) if quick else (1, 100, 10_000, 1_000_000):
        turns = np.arange(count) % n
        some = batch.rows(turns)
        taken = []
        for _ in range(1 if count > n else 5):
            begun = time.perf_counter()
            cool_many(some)
            taken.append(time.perf_counter() - begun)
        each = statistics.median(taken) / count * 1e6
        yield Row(f"  cool_many on {count:,} plates, each", each, "us", note=f"{statistics.median(taken):.3g} s in all")


def maps(quick: bool) -> Iterator[Row]:
    """A map of 900 builds, 128 draws of each, flat and domed; one process."""
    from refdb import open_reference
    from refdb.judge.fit.build import Build
    from refdb.judge.fit.build_map import build_map

    fronts, backs = tuple(k / 50 for k in range(1, 31)), tuple(k / 50 for k in range(30))
    with open_reference() as ref:
        glass, metal = ref.glass(PAIR[0]), ref.metal(PAIR[1])
        for shape, goal in (("flat", 3.0), ("domed", None)):
            taken = []
            for _ in range(2 if quick else 5):
                begun = time.perf_counter()
                build_map(ref, glass, metal, Build(shape=shape), fronts, backs)
                taken.append(time.perf_counter() - begun)
            yield Row(f"map of 900 builds, {shape}", statistics.median(taken), "s", goal)


def pieces(quick: bool) -> Iterator[Row]:
    """Variations of a piece judged in one call, against one call for each in the same process, and against processes.

    What a process costs is mostly its start, so that row has no goal: it tells what a script saves that calls no
    command for each piece. What judging together earns, by cooling together and looking up once, is the first row.
    """
    from refdb import open_reference
    from refdb.judge.piece.verdict import judge_piece, judge_pieces
    from refdb.plan.piecefile import read_piece

    count, few = (100, 10) if quick else (400, 40)
    with tempfile.TemporaryDirectory() as folder, open_reference() as ref:
        path = Path(folder, "piece.toml")
        seconds(refdb("piece", "new", str(path)))
        varied = varied_in_turn(read_piece(path, ref), count)
        judge_pieces(ref, varied[:3])
        one = medians(refdb("piece", "check", str(path)), rounds=5 if quick else 10)[0]
        alone, taken = [], []
        # In turn, so that a slow spell falls on both.
        for k in range(3):
            begun = time.perf_counter()
            for piece in varied[k * few : (k + 1) * few]:
                judge_piece(ref, piece)
            alone.append((time.perf_counter() - begun) / few)
            begun = time.perf_counter()
            judge_pieces(ref, varied)
            taken.append((time.perf_counter() - begun) / count)
        together, each = statistics.median(taken), statistics.median(alone)
        begun = time.perf_counter()
        judge_pieces(ref, varied, os.cpu_count() or 1)
        shared = (time.perf_counter() - begun) / count
    yield Row(
        f"{count:,} variations of a piece in one call, against one by one",
        each / together,
        goal=1.3,
        at_least=True,
        note=f"{together * 1e3:.1f} and {each * 1e3:.1f} ms a piece",
    )
    yield Row(
        f"  by {os.cpu_count()} processors, against processes of piece check",
        one / shared,
        note=f"{shared * 1e3:.1f} ms a piece, {one * 1e3:.0f} ms a process",
    )


def varied_in_turn(piece: Piece, count: int) -> list[Piece]:
    """A piece so many times, each with another value of one input: metal, a coat's thickness, or a kiln setting."""
    from dataclasses import replace

    inputs = [None, *(k for k, s in enumerate(piece.steps) if s.thickness_m is not None or s.kiln_c is not None)]
    varied = []
    for k in range(count):
        factor, at = 1 + 0.5 * (k + 1) / count, inputs[k % len(inputs)]
        if at is None:
            base = replace(piece.base, thickness_m=piece.base.thickness_m.scaled(factor))
            varied.append(replace(piece, base=base))
            continue
        step = piece.steps[at]
        step = (
            replace(step, thickness_m=step.thickness_m.scaled(factor))
            if step.thickness_m is not None
            else replace(step, kiln_c=step.kiln_c + 20 * (factor - 1))
        )
        varied.append(replace(piece, steps=(*piece.steps[:at], step, *piece.steps[at + 1 :])))
    return varied


def store(quick: bool) -> Iterator[Row]:
    """Build of the store and its size, and how both and a look-up grow with the number of materials."""
    bare = medians(BARE, rounds=5)[0]
    with tempfile.TemporaryDirectory() as folder:
        first = Path(folder, "1.db")
        taken = seconds(("scripts/build_store.py", "--to", str(first)))
        yield Row("store: build", taken, "s", 20)
        yield Row("store: size", first.stat().st_size / 1e6, "MB", 8)
        for times in () if quick else (10, 30, 100):
            sources, target = Path(folder, str(times)), Path(folder, f"{times}.db")
            multiplied(SOURCES, sources, times)
            seconds(("scripts/format_data.py", "--in", str(sources)))
            taken = seconds(("scripts/build_store.py", "--from", str(sources), "--to", str(target)))
            size = target.stat().st_size / 1e6
            look_up, listed = (
                t / bare
                for t in medians(
                    refdb("--store", str(target), "show", "copper-sheet"),
                    refdb("--store", str(target), "metals"),
                    rounds=5,
                )
            )
            yield Row(f"store: build, {times} x the materials", taken, "s", note="without the answers of each pair")
            yield Row(f"store: size, {times} x the materials", size, "MB")
            yield Row(f"look-up: show copper-sheet, {times} x the materials", look_up)
            yield Row(f"look-up: metals, {times} x the materials", listed)
            from bench_pages import FIRST_ASKED, first_answers

            for page, grown, plain in zip(FIRST_ASKED, first_answers(target), first_answers(first), strict=True):
                note = f"{grown * 1e3:.0f} and {plain * 1e3:.0f} ms"
                yield Row(
                    f"pages: {page.partition('?')[0]} first asked, {times} x the materials", grown / plain, note=note
                )


#: Columns that name a material, in the files that grow with the materials.
_NAMING = {
    "metals.csv": ("key", "label"),
    "glasses.csv": ("key", "label"),
    "leaf.csv": ("key", "label"),
    "aliases.csv": ("alias", "record"),
    "property_values.csv": ("material",),
    "glass_groups.csv": ("glass_group", "glass"),
    "expansion_points.csv": ("material",),
}
#: What is worked out of every pair, thus grows with the square, and need not be there; it stays out of the copies.
_OF_PAIRS = ("answers.csv", "builds.csv")
#: Columns in which no two materials may say the same, and what a copy says there after the words of the first.
_SAYING = {
    "summary": " This is copy {k}.",
    "preparation": " As copy {k}.",
    "colourant": ", copy {k}",
    "why": " Copy {k}.",
}


#: Bounds that are wide since few figures lie between them; the same figures many times over want them nearer.
_NEARER = {"tensile_strength": {"widest": "15"}, "tin_content": {"most": "18"}}


def multiplied(sources: Path, target: Path, times: int) -> None:
    """Write the sources again with every material standing there so many times, under names of its own.

    A copy says of itself that it is one, for the build refuses two rows that say the same; and what no figure was
    found of is named for the copies too.
    """
    for path in sorted(p for p in sources.rglob("*") if p.is_file()):
        copy = target / path.relative_to(sources)
        if path.name in _OF_PAIRS:
            continue
        copy.parent.mkdir(parents=True, exist_ok=True)
        if path.name not in (*_NAMING, "property_bounds.csv"):
            copy.write_bytes(path.read_bytes())
            continue
        with path.open(encoding="utf-8", newline="") as file:
            header, *rows = csv.reader(file)
        at = {name: k for k, name in enumerate(header)}
        repeated = rows
        if path.name == "property_bounds.csv":
            repeated = []
            for row in rows:
                gone = [key.strip() for key in row[at["none_found"]].split(";") if key.strip()]
                for name, nearer in _NEARER.get(row[at["property"]], {}).items():
                    row[at[name]] = nearer
                row[at["none_found"]] = "; ".join(
                    [*gone, *(f"{key}-copy{k}" for k in range(2, times + 1) for key in gone)]
                )
        elif path.name == "aliases.csv":
            repeated = [row for row in rows if row[at["kind"]] in ("glass", "leaf", "metal")]
        with copy.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(header)
            writer.writerows(rows)
            for k in range(2, times + 1):
                writer.writerows(_copied(path.name, header, row, k) for row in repeated)


def _copied(file: str, header: list[str], row: list[str], k: int) -> list[str]:
    """A row of the `k`-th copy of a material."""
    cells = dict(zip(header, row, strict=True))
    for name in _NAMING[file]:
        # A label has few letters, and must be the name of nothing else.
        cells[name] += f" n{k}" if name == "label" else f"-copy{k}"
    for name in cells.keys() & _SAYING.keys():
        cells[name] = (cells[name] + _SAYING[name].format(k=k)).lstrip(" ,")
    return list(cells.values())


_ESTIMATE = """import csv, sys, numpy
from refdb.science.glass import estimate_many
with open(sys.argv[1]) as file:
    names = next(csv.reader(file))
    print(estimate_many(numpy.loadtxt(file, delimiter=","), names).expansion_ppm_per_k.sum())
"""
_MULTIPLY = """import sys, numpy
table = numpy.loadtxt(sys.argv[1], delimiter=",", skiprows=1)
print((table @ numpy.arange(table.shape[1])).sum())
"""


def estimates(quick: bool) -> Iterator[Row]:
    """Ten thousand compositions from a file, against numpy that loads the same file and multiplies it once."""
    import random

    draw = random.Random(5)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "glasses.csv")
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(COMPONENTS)
            for _ in range(10_000):
                rest = [draw.uniform(*span) for span in ((4, 15), (0, 4), (6, 16), (0, 8), (0, 8), (0, 5), (0, 5))]
                writer.writerow([f"{x:.2f}" for x in (100 - sum(round(r, 2) for r in rest), *rest)])
        wanted: list[tuple[str, Sequence[str], float | None]] = [
            ("estimate_many, 10,000 compositions of a file", ("-c", _ESTIMATE, str(path)), 3)
        ]
        if commands_exist("estimate"):
            # The command also writes two dozen columns a glass, which the yardstick does not; so no goal.
            wanted.append(
                ("estimate --from-csv --csv, the same file", refdb("estimate", "--from-csv", str(path), "--csv"), None)
            )
        plain, *taken = medians(("-c", _MULTIPLY, str(path)), *(c for _, c, _ in wanted), rounds=5 if quick else ROUNDS)
        yield Row("numpy loads and multiplies that file", plain * 1e3, "ms")
        for (what, _, goal), time_ in zip(wanted, taken, strict=True):
            yield Row(what, time_ / plain, goal=goal)
        if not commands_exist("estimate"):
            yield Row("estimate --from-csv --csv, the same file", None, note="no such command")


_BULK = """import csv, os, sqlite3, sys
if os.path.exists(sys.argv[2]):
    os.remove(sys.argv[2])
with open(sys.argv[1], newline="") as file, sqlite3.connect(sys.argv[2]) as store:
    rows = csv.reader(file)
    head = next(rows)
    store.execute(f"CREATE TABLE glasses ({', '.join(head)})")
    store.executemany(f"INSERT INTO glasses VALUES ({', '.join('?' * len(head))})", rows)
"""
_IMPORT = """import os, sys
from refdb.cli.main import main
for end in ("", "-wal", "-shm"):
    if os.path.exists(sys.argv[2] + end):
        os.remove(sys.argv[2] + end)
sys.exit(main(["mine", "import", sys.argv[1], "--workshop", sys.argv[2]]))
"""


def shelf(quick: bool) -> Iterator[Row]:
    """A hundred thousand own glasses: their import against csv and sqlite3 alone, and look-ups beside them."""
    if not commands_exist("mine"):
        yield Row("mine import, 100,000 glasses", None, goal=6, note="no such command")
        return
    with tempfile.TemporaryDirectory() as folder:
        path, full, none = Path(folder, "glasses.csv"), Path(folder, "full.db"), Path(folder, "none.db")
        write_jars(path, 100_000)
        bulk, taken = medians(
            ("-c", _BULK, str(path), str(Path(folder, "bulk.db"))),
            ("-c", _IMPORT, str(path), str(full)),
            rounds=3 if quick else 7,
        )
        yield Row("csv and sqlite3 take in that file", bulk * 1e3, "ms")
        yield Row("mine import, 100,000 glasses", taken / bulk, goal=6)
        # A workshop that is named here alone and is not there stands in nobody's way.
        os.environ["REFDB_WORKSHOP"] = str(none)
        for words in (("suits", *PAIR), ("show", "copper-sheet"), ("find", "foil")):
            # Held against a bare process: as a share of the look-up it would grow where that gets faster. As much as
            # three tenths of a look-up that took 4.7 bare processes.
            bare, without, beside = medians(BARE, refdb(*words), refdb(*words, "--workshop", str(full)), rounds=ROUNDS)
            yield Row(f"{words[0]} beside 100,000 own glasses, longer by", (beside - without) / bare, goal=1.4)
        for count in () if quick else (1_000, 10_000):
            fewer, shop = Path(folder, f"{count}.csv"), Path(folder, f"{count}.db")
            write_jars(fewer, count)
            (taken,) = medians(("-c", _IMPORT, str(fewer), str(shop)), rounds=3)
            yield Row(f"mine import, {count:,} glasses, each", taken / count * 1e6, "us", note=f"{taken:.2f} s in all")
            suits = refdb("suits", *PAIR)
            bare, without, beside = medians(BARE, suits, (*suits, "--workshop", str(shop)), rounds=5)
            yield Row(f"suits beside {count:,} own glasses, longer by", (beside - without) / bare, goal=1.4)


def write_jars(path: Path, count: int) -> None:
    """So many own glasses as a person may list them."""
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(
            "name,like,hardness,lead,expansion_ppm_per_k,expansion_from_c,expansion_to_c,fuse_low_c,"
            "fuse_high_c,basis,date,note\n"
        )
        file.writelines(
            f"Jar {n},{PAIR[0]},medium,free,{11 + n % 30 / 10:.1f},20,400,780,{815 + n % 20},"
            f"maker's sheet,2024-05-{1 + n % 28:02d},shelf {n % 50}\n"
            for n in range(count)
        )


def pages(quick: bool) -> Iterator[Row]:
    """The pages beside plain Datasette's own."""
    from bench_pages import measured, painted

    for what, found, unit, goal, at_least, note in chain(measured(quick), painted(quick)):
        yield Row(what, found, unit, goal, at_least, note)


def abuse(minutes: float) -> Iterator[Row]:
    """The view under mixed hostile load for so long, beside one polite reader."""
    from bench_long import measured

    for what, found, unit, goal, at_least, note in measured(minutes):
        yield Row(what, found, unit, goal, at_least, note)


def recalled(quick: bool) -> Iterator[Row]:
    """Of the figures that verdicts use, the share that is only remembered, as `refdb verify` counts it."""
    from refdb.curate.shares import shares, together

    found = list(shares(ROOT / "refdb" / "reference.db"))
    for share in (*found, together(found)):
        note = f"{share.remembered} of {share.facts}"
        yield Row(f"figures of {share.kind} from memory", share.recalled_share * 100, "%", MOST_RECALLED, note=note)


_POOL = """
import sys
sys.path.insert(0, "scripts")
import numpy as np, resource, time
import simulate_pool as made
from refdb.judge.own.pooling import class_learnt
from refdb.store.reference import Reference, default_path
with Reference(default_path()) as ref:
    glass = ref.glass("clear-hard-lead-free")
    rows = made.studios(
        ref, glass.key, made.Truth(), int(sys.argv[1]), 50, made.DESIGNS["mixed"], np.random.default_rng(3)
    )
    began = time.perf_counter()
    class_learnt(ref, glass, rows)
    taken = time.perf_counter() - began
try:
    # What the system tells of a process counts the memory of whoever started it, where this file does not.
    peak = next(int(line.split()[1]) for line in open("/proc/self/status") if line.startswith("VmHWM"))
except (OSError, StopIteration):
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(taken, peak / 1024)
"""


def pool(quick: bool) -> Iterator[Row]:
    """A class learnt from the tiles of many studios: seconds and memory, and that time grows with studios alone."""
    taken = {}
    for count in (500, 1000):
        done = subprocess.run(
            [sys.executable, "-c", _POOL, str(count)], cwd=ROOT, capture_output=True, text=True, check=False
        )
        if done.returncode:
            raise RuntimeError(done.stderr.strip().splitlines()[-1])
        taken[count] = [float(x) for x in done.stdout.split()]
    yield Row("pool learn, 1,000 studios of 50 tiles", taken[1000][0], "s", goal=20)
    yield Row("  its memory", taken[1000][1], "MB", goal=500)
    yield Row("  against half as many studios", taken[1000][0] / taken[500][0], goal=2.5)


MEASURES: list[Callable[[bool], Iterator[Row]]] = [
    answers_at_once,
    memory,
    plates,
    maps,
    pieces,
    estimates,
    pool,
    store,
    shelf,
    pages,
    recalled,
]


#: A figure that moved by less than this is taken for the same: so much does a machine waver by itself.
MOVED = 0.10


def kept(rows: Sequence[Row]) -> dict[str, Any]:
    """The rows as they are written down, with the machine they hold for."""
    machine = {"system": platform.platform(), "python": platform.python_version(), "processors": os.cpu_count()}
    return {"machine": machine, "rows": [vars(row) | {"verdict": row.verdict} for row in rows]}


def moved(rows: Sequence[Row], before: dict[str, Any]) -> Iterator[str]:
    """What moved since another run, in lines: figures by `MOVED` and more, verdicts, and rows that came or went."""
    if before["machine"] != kept(())["machine"]:
        yield "that run was on another machine or Python, so only ratios can be held against it"
    then, now = {row["what"]: row for row in before["rows"]}, {row.what: row for row in rows}
    for what, row in now.items():
        old = then.get(what)
        if old is None:
            yield f"{what}: new"
            continue
        told = [f"{old['verdict']}, now {row.verdict}"] if old["verdict"] != row.verdict else []
        was, found = old["found"], row.found
        if was is not None and found is not None and abs(found - was) > MOVED * abs(was):
            share = f", {(found / was - 1) * 100:+.0f} %" if was else ""
            told.insert(0, f"{was:,.4g} to {found:,.4g} {row.unit}".rstrip() + share)
        if told:
            yield f"{what}: {'; '.join(told)}"
    yield from (f"{what}: not measured in this run" for what in then if what not in now)


def minutes_of(text: str) -> float:
    """Minutes as typed, from a few seconds to a week."""
    minutes = float(text)
    if not 0.05 <= minutes <= 10_080:
        raise argparse.ArgumentTypeError("give minutes, from 0.05 to 10080")
    return minutes


def run_before(path: Path | None) -> dict[str, Any]:
    """A run that was written down; ValueError with one clear line where the file is none."""
    if path is None:
        return {}
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
        ok = isinstance(found["machine"], dict) and all({"what", "found", "verdict"} <= {*r} for r in found["rows"])
    except (OSError, ValueError, KeyError, TypeError):
        ok = False
    if not ok:
        raise ValueError(f"{path}: no run that --json wrote; give the file of one")
    return dict(found)


def main() -> int:
    """Measure, print the table, and return 1 when a goal is missed."""
    parser = argparse.ArgumentParser(description="Measure refdb against yardsticks taken in the same run.")
    parser.add_argument("--quick", action="store_true", help="fewer plates and no growth of the store")
    parser.add_argument(
        "--only",
        metavar="NAME",
        choices=[m.__name__ for m in MEASURES],
        help=f"one of: {', '.join(m.__name__ for m in MEASURES)}",
    )
    parser.add_argument(
        "--long", metavar="MINUTES", type=minutes_of, help="nothing but the view under hostile load, for so long"
    )
    parser.add_argument("--json", metavar="OUT", type=Path, help="write the figures into this file")
    parser.add_argument("--against", metavar="FILE", type=Path, help="a file of --json: tell what moved since")
    options = parser.parse_args()
    try:
        before = run_before(options.against)
    except ValueError as wrong:
        print(wrong, file=sys.stderr)
        return 2
    if not (ROOT / "refdb" / "reference.db").is_file():
        print("refdb/reference.db: no store here; build it with: python scripts/build_store.py", file=sys.stderr)
        return 4
    # As an installer does; without compiled files a process spends its time compiling.
    compileall.compile_dir(ROOT / "refdb", quiet=1)
    rows: list[Row] = []
    wanted = [(m.__name__, partial(m, options.quick)) for m in MEASURES if options.only in (None, m.__name__)]
    if options.long is not None:
        wanted = [(abuse.__name__, partial(abuse, options.long))]
    for name, measure in wanted:
        try:
            for row in measure():
                rows.append(row)
                print(row.text(), flush=True)
        except RuntimeError as failed:
            rows.append(Row(name, None, note=str(failed), failed=True))
            print(rows[-1].text(), flush=True)
    missed = [row.what.strip() for row in rows if row.verdict in ("MISS", "FAILED")]
    absent = sum(row.verdict == "not measured" for row in rows)
    print(f"\n{sum(row.verdict == 'ok' for row in rows)} ok, {len(missed)} missed, {absent} not measured")
    if missed:
        print(f"missed: {'; '.join(missed)}")
    if options.json is not None:
        options.json.write_text(json.dumps(kept(rows), indent=1) + "\n", encoding="utf-8")
    if before:
        lines = list(moved(rows, before))
        print("\n".join(("moved since:", *lines)) if lines else "nothing moved since")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
