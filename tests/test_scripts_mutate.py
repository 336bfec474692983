"""The script that changes constants and operators: what it changes, and that it tells killed from alive."""

from __future__ import annotations

import ast
import sys

import pytest
from conftest import ROOT

sys.path.insert(0, str(ROOT / "scripts"))

import mutate
import mutate_changes
from mutate_equivalents import EQUIVALENTS

MODULE = '''
"""A wall of 3 m, and what it carries; 7 is a number of this text."""

__all__ = ["WALL_M"]
WALL_M: float = 3.0
SOME_RULES = (len, sum)


def carried(load: float, band: float = 2.0, firm: bool = True) -> float:
    """At most 9."""
    if load < 0.0:
        return 0.0
    if not firm and load > 1:
        raise ValueError(f"{load:.1f} of {WALL_M + 4}")
    return min(load * band.low + 1.0, WALL_M)
'''


def changes(source: str) -> dict[str, list[str]]:
    return {before: afters for _, _, before, afters in mutate_changes.places(source)}


def test_what_may_change_is_numbers_operators_bands_rules_and_guards():
    found = changes(MODULE)
    assert found == {
        "3.0": ["3.4499999999999997", "2.55"],
        "(len, sum)": ["(sum,)", "(len,)"],
        "2.0": ["2.3", "1.7"],
        "True": ["False"],
        "guard load < 0.0": ["no guard"],
        "load < 0.0": ["load <= 0.0", "load > 0.0"],
        "0.0": ["0.001"],
        "guard not firm and load > 1": ["no guard"],
        "not firm and load > 1": ["not firm or load > 1"],
        "not firm": ["firm"],
        "load > 1": ["load >= 1", "load < 1"],
        "1": ["2"],
        "min": ["max"],
        "load * band.low + 1.0": ["load * band.low - 1.0"],
        "load * band.low": ["load / band.low"],
        "band.low": ["band.high", "band.value"],
        "1.0": ["1.15", "0.85"],
    }


def test_every_change_of_the_package_parses_and_changes_one_thing():
    mutants = mutate.chosen(mutate.mutants(ROOT, mutate.sources(ROOT)), 60, 5)
    assert len(mutants) == 60
    for one in mutants:
        source = (ROOT / one.path).read_text(encoding="utf-8")
        after = mutate_changes.changed(source, one.place, one.change)
        compile(after, one.path, "exec")
        before = ast.unparse(ast.parse(source)).splitlines()
        assert sum(a != b for a, b in zip(before, after.splitlines(), strict=True)) == 1, one


def test_a_seed_gives_the_same_changes_again_and_another_seed_others():
    every = mutate.mutants(ROOT, mutate.sources(ROOT, "refdb/science/plate"))
    assert mutate.chosen(every, 20, 1) == mutate.chosen(every, 30, 1)[:20] != mutate.chosen(every, 20, 2)


def test_generated_files_are_left_alone():
    assert "refdb/science/glass/coefficients.py" not in mutate.sources(ROOT)
    assert (ROOT / "refdb/science/glass/coefficients.py").exists()


def test_every_change_declared_equivalent_is_one_that_could_be_made():
    for (path, line, before, after), why in EQUIVALENTS.items():
        source = (ROOT / path).read_text(encoding="utf-8")
        lines = source.splitlines()
        made = {(lines[at - 1].strip(), b, a) for _, at, b, afters in mutate_changes.places(source) for a in afters}
        assert (line, before, after) in made, (path, line, before, after)
        assert len(why) > 15


@pytest.fixture
def project(tmp_path):
    """A made-up package: its tests hold the one constant and not the other, and one of them fails as it is."""
    root = tmp_path / "project"
    for folder in ("refdb/science", "refdb/judge", "tests"):
        (root / folder).mkdir(parents=True)
        (root / folder / "__init__.py").write_text("")
    (root / "tests/__init__.py").unlink()
    (root / "refdb/__init__.py").write_text("")
    (root / "refdb/science/wall.py").write_text("HELD = 3.0\nLOOSE = 4.0\n")
    (root / "pyproject.toml").write_text('[tool.pytest.ini_options]\nmarkers = ["slow: long"]\n')
    (root / "tests/test_wall.py").write_text(
        "from refdb.science.wall import HELD\n\n\ndef test_it(): assert HELD == 3\n"
    )
    (root / "tests/test_broken.py").write_text(
        "from refdb.science.wall import LOOSE\n\n\ndef test_it(): assert LOOSE == 5\n"
    )
    return root


def test_what_a_test_notices_is_killed_and_what_none_notices_is_told(project, capsys):
    before = {p: p.read_bytes() for p in project.rglob("*.py")}
    assert mutate.main(["--root", str(project), "--count", "9", "--workers", "1"]) == 0
    said = capsys.readouterr().out
    survivors = said[said.index("Survivors:") :]
    assert "refdb/science/wall.py:2: 4.0 -> " in survivors
    assert "HELD" not in survivors
    assert "1 of 2 killed" in survivors
    assert "left out: test_broken.py" in said
    assert {p: p.read_bytes() for p in project.rglob("*.py")} == before


def test_without_a_test_that_passes_nothing_counts_as_killed(project, capsys):
    (project / "tests/test_wall.py").write_text("from refdb.science.wall import GONE\n")
    assert mutate.main(["--root", str(project), "--count", "2", "--workers", "1"]) == 2
    assert "no test file passes" in capsys.readouterr().err


def test_where_there_is_nothing_to_change_it_says_so(project, capsys):
    assert mutate.main(["--root", str(project), "--only", "refdb/science/gone.py"]) == 2
    assert "refdb/science/gone.py" in capsys.readouterr().err
