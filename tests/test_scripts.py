"""The scripts that set up and run: what they make anew and when, and what they say when they cannot."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from conftest import ROOT

RECORDING = """#!/bin/sh
echo "$@" >> "$(dirname "$0")/calls"
"""


@pytest.fixture
def project(tmp_path):
    """A project whose Python only writes down what it is asked to do, already set up."""
    root = tmp_path / "a project"
    for folder in ("data_sources", "refdb/curate", "refdb/store", ".venv/bin"):
        (root / folder).mkdir(parents=True)
    shutil.copytree(ROOT / "scripts", root / "scripts")
    for name in ("pyproject.toml", "data_sources/metals.csv", "refdb/__init__.py", "refdb/reference.db",
                 "refdb/reference.db.sha256", "refdb/curate/build.py"):
        (root / name).write_text("as it was\n")
    python = root / ".venv/bin/python"
    python.write_text(RECORDING)
    python.chmod(0o755)
    before = time.time() - 100
    for path in root.rglob("*"):
        os.utime(path, (before, before))
    stamp = root / ".venv/refdb-setup"
    stamp.write_text(f"none {root}\n")
    os.utime(stamp, (before, before))
    (root / "stubs").mkdir()
    for name in ("ccx",):  # Nothing shall be installed from here.
        (root / "stubs" / name).write_text("#!/bin/sh\n")
        (root / "stubs" / name).chmod(0o755)
    return root


def ran(root: Path, *words: str, script: str = "run", path: str | None = None) -> tuple[int, list[str], str]:
    """Exit status, what Python was asked to do, and what was said."""
    calls = root / ".venv/bin/calls"
    calls.unlink(missing_ok=True)
    environment = {"PATH": path or f"{root}/stubs:{os.environ['PATH']}", "HOME": str(root)}
    done = subprocess.run([shutil.which("bash") or "bash", str(root / "scripts" / script), *words], cwd=root.parent,
                          env=environment, capture_output=True, text=True, timeout=60, check=False)
    return done.returncode, calls.read_text().splitlines() if calls.exists() else [], done.stderr


def test_a_project_that_is_set_up_is_left_alone(project):
    status, calls, said = ran(project, "show", "copper-sheet")
    assert (status, said) == (0, "")
    assert calls == [f"{project}/.venv/bin/refdb show copper-sheet"]


@pytest.mark.parametrize("name", ["data_sources/metals.csv", "refdb/__init__.py", "refdb/curate/build.py"])
def test_the_store_is_built_anew_once_when_what_it_rests_on_changed(project, name):
    (project / name).write_text("changed\n")
    _, calls, said = ran(project, "metals")
    assert calls[0] == f"{project}/scripts/build_store.py"
    assert len(calls) == 2
    assert said.count("\n") == 1
    assert ran(project, "metals")[1:] == ([f"{project}/.venv/bin/refdb metals"], "")


def test_a_row_file_taken_away_and_a_missing_store_count_as_changes(project):
    (project / "data_sources/metals.csv").unlink()
    assert "build_store" in ran(project, "metals")[1][0]
    (project / "refdb/reference.db").unlink()
    assert "build_store" in ran(project, "metals")[1][0]


@pytest.mark.parametrize("change", ["packages", "moved"])
def test_the_packages_are_installed_again_when_asked_for_otherwise_or_moved(project, change):
    if change == "packages":
        (project / "pyproject.toml").touch()
    else:
        project = project.rename(project.with_name("moved"))
    status, calls, said = ran(project, "metals")
    assert status == 0
    assert any(call.startswith("-m pip install") and call.endswith(f"--editable {project}") for call in calls)
    assert said.count("\n") == 1


def test_the_tests_bring_their_own_packages_and_those_stay_for_a_plain_run(project):
    _, calls, _ = ran(project, "tests/test_plate.py", script="test")
    assert any(call.endswith(f"--editable {project}[dev]") for call in calls)
    assert calls[-1].startswith("-m pytest -n 2")
    assert calls[-1].endswith("-rs tests/test_plate.py")
    assert ran(project, "metals")[1:] == ([f"{project}/.venv/bin/refdb metals"], "")


@pytest.mark.parametrize("there", ["nothing", "an old one"])
def test_without_a_new_enough_python_there_is_one_clear_line(project, tmp_path, there):
    shutil.rmtree(project / ".venv")
    tools = tmp_path / "tools"
    tools.mkdir()
    for name in ("bash", "sh", "find", "head", "mktemp", "readlink", "dirname", "tail", "grep", "rm", "touch"):
        (tools / name).symlink_to(shutil.which(name) or pytest.fail(f"{name} is not installed"))
    if there == "an old one":
        (tools / "python3").write_text("#!/bin/sh\nexit 1\n")
        (tools / "python3").chmod(0o755)
    status, calls, said = ran(project, "metals", path=str(tools))
    assert status == 4
    assert calls == []
    assert said.count("\n") == 1
    assert "Python 3.11 or newer" in said


@pytest.mark.parametrize(("setting", "status"), [("true", 1), ("false", 0)])
def test_a_skipped_check_that_must_run_fails_under_ci_only(tmp_path, setting, status):
    (tmp_path / "test_one.py").write_text(
        "import pytest\n\n@pytest.mark.solver\ndef test_a():\n    pytest.skip('no solver')\n\n"
        "def test_b():\n    pytest.skip('not needed')\n")
    words = ("-c", str(ROOT / "pyproject.toml"), "--rootdir", str(tmp_path), "-p", "conftest", "-p", "no:cacheprovider")
    surroundings = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST_")}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *words, str(tmp_path / "test_one.py")], cwd=tmp_path,
        env=surroundings | {"CI": setting, "PYTHONPATH": str(ROOT / "tests")}, capture_output=True, text=True,
        timeout=60, check=False)
    assert done.returncode == status, done.stdout
    assert ("1 failed, 1 skipped" if status else "2 skipped") in done.stdout
