"""The scripts that set up and run: what they make anew and when, and what they say when they cannot."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import time
import tomllib
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
    for name in (
        "pyproject.toml",
        "data_sources/metals.csv",
        "refdb/__init__.py",
        "refdb/reference.db",
        "refdb/reference.db.sha256",
        "refdb/curate/build.py",
    ):
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


def ran(
    root: Path, *words: str, script: str = "run", path: str | None = None, **more: str
) -> tuple[int, list[str], str]:
    """Exit status, what Python was asked to do, and what was said."""
    calls = root / ".venv/bin/calls"
    calls.unlink(missing_ok=True)
    environment = {"PATH": path or f"{root}/stubs:{os.environ['PATH']}", "HOME": str(root)} | more
    done = subprocess.run(
        [shutil.which("bash") or "bash", str(root / "scripts" / script), *words],
        cwd=root.parent,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    return done.returncode, calls.read_text().splitlines() if calls.exists() else [], done.stdout + done.stderr


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


#: As pip says it, of a package whose hash is another than the locked one (pip 23 to 26).
CHANGED = "ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE. If you have updated the package\n"
#: An interpreter of a minor version: it answers what it is asked, and makes environments that write down their calls
#: and fail to install, or to test, where a file beside the interpreter says so.
INTERPRETER = """#!/bin/sh
case "$1 $2" in
"-c import sys; sys.exit"*) [ {minor} -ge 11 ] ;;
"-c import sys, sqlite3"*) [ ! -e "{tools}/broken-{minor}" ] && echo {minor} ;;
"-m venv")
    mkdir -p "$4/bin"
    cat > "$4/bin/python" <<'END'
#!/bin/sh
echo "{minor} $*" >> "$(dirname "$0")/calls"
case "$*" in
"-c import sys; print"*) echo {minor} ;;
*"--require-hashes"*) [ ! -e "{tools}/locks-not-{minor}" ] || {{ cat "{tools}/locks-not-{minor}"; exit 1; }} ;;
*"pip install"*) [ ! -e "{tools}/installs-not-{minor}" ] || {{ cat "{tools}/installs-not-{minor}"; exit 1; }} ;;
*"-m pytest"*) [ ! -e "{tools}/tests-not-{minor}" ] || exit 1 ;;
esac
END
    chmod +x "$4/bin/python" ;;
esac
"""


@pytest.fixture
def tools(project, tmp_path):
    """A PATH with no Python on it, for a project that was never set up."""
    shutil.rmtree(project / ".venv")
    folder = tmp_path / "tools"
    folder.mkdir()
    for name in (
        "bash",
        "sh",
        "find",
        "head",
        "mktemp",
        "readlink",
        "dirname",
        "tail",
        "grep",
        "rm",
        "touch",
        "mkdir",
        "cat",
        "chmod",
        "id",
    ):
        (folder / name).symlink_to(shutil.which(name) or pytest.fail(f"{name} is not installed"))
    return folder


def put(tools, minor, name=None, folder=None):
    """An interpreter of that minor version, under its own name or another; where it lies."""
    path = (folder or tools) / (name or f"python3.{minor}")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(INTERPRETER.format(minor=minor, tools=tools))
    path.chmod(0o755)
    return path


def made_with(calls):
    """The minor version of the Python that made the environment in which refdb was run, if it was."""
    return int(calls[-1].split()[0]) if calls and calls[-1].endswith("bin/refdb metals") else None


@pytest.mark.parametrize("there", ["nothing", "an old one"])
def test_without_a_new_enough_python_there_is_one_clear_line(project, tools, there):
    if there == "an old one":
        put(tools, 10, "python3")
    status, calls, said = ran(project, "metals", path=str(tools))
    assert status == 4
    assert calls == []
    assert said.count("\n") == 1
    assert "Python 3.11 or newer" in said


@pytest.mark.parametrize(
    ("plain", "others", "taken"),
    [(11, (12, 13), 13), (12, (11,), 12), (13, (), 13), (10, (11, 12), 12), (14, (11, 15), 11), (15, (14,), 14)],
)
def test_the_newest_tested_python_is_taken_and_a_newer_one_only_where_there_is_no_other(
    project, tools, plain, others, taken
):
    put(tools, plain, "python3")
    for minor in others:
        put(tools, minor)
    status, calls, said = ran(project, "metals", path=str(tools))
    assert (status, made_with(calls)) == (0, taken), said
    assert ("newer than those refdb is tested on" in said) == (taken > 13)


def test_a_python_that_cannot_make_environments_is_passed_over(project, tools):
    for minor in (12, 13):
        put(tools, minor)
    (tools / "broken-13").touch()
    assert made_with(ran(project, "metals", path=str(tools))[1]) == 12


def test_where_the_newest_cannot_be_set_up_an_older_one_is_tried(project, tools):
    for minor in (11, 12, 13):
        put(tools, minor)
    for minor in (12, 13):
        (tools / f"installs-not-{minor}").write_text("ERROR: nothing for this Python\n")
    status, calls, said = ran(project, "metals", path=str(tools))
    assert (status, made_with(calls)) == (0, 11)
    assert said.count("cannot be set up with Python") == 2
    assert ran(project, "metals", path=str(tools))[2] == ""


def test_where_none_can_be_set_up_one_line_tells_why_and_the_next_call_begins_anew(project, tools):
    put(tools, 12)
    (tools / "installs-not-12").write_text("ERROR: nothing for this Python\n")
    status, calls, said = ran(project, "metals", path=str(tools))
    assert (status, made_with(calls)) == (4, None)
    assert "nothing for this Python" in said.splitlines()[-1]
    put(tools, 13)
    assert made_with(ran(project, "metals", path=str(tools))[1]) == 13


def test_without_a_network_no_other_python_is_tried(project, tools):
    for minor in (12, 13):
        put(tools, minor)
    (tools / "installs-not-13").write_text("WARNING: Retrying (Retry(total=4)) after connection broken\nERROR: none\n")
    status, calls, _ = ran(project, "metals", path=str(tools))
    assert status == 4
    assert {call.split()[0] for call in calls} == {"13"}


@pytest.mark.parametrize(
    ("minor", "trouble"),
    [(12, ""), (12, "ERROR: no matching distribution\n"), (12, "WARNING: Retrying (1)\n"), (12, CHANGED), (14, "")],
)
def test_the_tested_versions_are_installed_by_their_hashes_where_they_fit(project, tools, minor, trouble):
    put(tools, minor)
    if trouble:
        (tools / f"locks-not-{minor}").write_text(trouble)
    status, calls, said = ran(project, "metals", path=str(tools))
    installs = [call for call in calls if "pip install" in call]
    locked = f"--require-hashes --requirement {project}/scripts/lock.txt"
    assert [call.endswith(locked) for call in installs[:1]] == [minor == 12]
    ends = "Retrying" in trouble or trouble == CHANGED
    assert status == (4 if ends else 0)
    assert [call.endswith(f"--editable {project}") for call in installs[minor == 12 :]] == [True] * (not ends)
    assert said.count("do not fit here") == ("no matching" in trouble)
    assert said.count("not the one that was tested") == (trouble == CHANGED)


def test_a_package_that_was_changed_is_taken_by_no_python(project, tools):
    for minor in (12, 13):
        put(tools, minor)
        (tools / f"locks-not-{minor}").write_text(CHANGED)
    status, calls, said = ran(project, "metals", path=str(tools))
    assert status == 4
    assert {call.split()[0] for call in calls} == {"13"}
    assert "lock.txt" in said.splitlines()[-1]


def test_another_lock_is_installed_again(project):
    (project / "scripts/lock.txt").touch()
    assert any("--editable" in call for call in ran(project, "metals")[1])
    assert ran(project, "metals")[1:] == ([f"{project}/.venv/bin/refdb metals"], "")


def test_the_python_that_is_named_is_taken_or_refused_and_no_other(project, tools):
    put(tools, 13)
    named = put(tools, 11, folder=tools.with_name("else where"))
    assert made_with(ran(project, "metals", path=str(tools), PYTHON=str(named))[1]) == 11
    shutil.rmtree(project / ".venv")
    old = put(tools, 10)
    for wrong in (str(old), "no-such-python"):
        status, calls, said = ran(project, "metals", path=str(tools), PYTHON=wrong)
        assert (status, calls, said.count("\n")) == (4, [], 1)
        assert wrong in said


def test_pyenvs_folder_serves_where_path_has_no_python(project, tools):
    pyenv = tools.with_name("pyenv")
    put(tools, 12, "python3", pyenv / "versions/3.12.1/bin")
    assert made_with(ran(project, "metals", path=str(tools), PYENV_ROOT=str(pyenv))[1]) == 12


def test_the_suite_is_run_on_every_python_found_and_fails_where_one_does(project, tools):
    pyenv = tools.with_name("pyenv")
    put(tools, 11, "python3")
    put(tools, 10)
    put(tools, 12, "python3", pyenv / "versions/3.12.1/bin")

    def all_of_them():
        return ran(project, "--all-pythons", "-k", "plate", script="test", path=str(tools), PYENV_ROOT=str(pyenv))

    for bad in (None, 12):
        if bad:
            (tools / f"tests-not-{bad}").touch()
        status, _, said = all_of_them()
        assert status == (1 if bad else 0), said
        for minor in (11, 12):
            calls = (project / f".venvs/3.{minor}/bin/calls").read_text().splitlines()
            assert calls[-1].startswith(f"{minor} -m pytest -n 2")
            assert calls[-1].endswith("-k plate")
            line = next(line for line in said.splitlines() if line.startswith(f"Python 3.{minor} "))
            assert ("FAILED" in line) == (minor == bad)
            assert ("passed" in line) == (minor != bad)
        assert "not tested: 3.13" in said
    assert not (project / ".venvs/3.10").exists()
    assert not (project / ".venv").exists()


def test_the_pythons_that_are_told_to_be_tested_are_those_that_are():
    tested = re.search(r'^TESTED="([\d ]+)"', (ROOT / "scripts/environment.sh").read_text(), re.MULTILINE)
    names = sorted(f"3.{minor}" for minor in tested[1].split())
    pyproject = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert names == re.findall(r"Python :: (3\.\d+)", " ".join(pyproject["classifiers"]))
    assert pyproject["requires-python"] == f">={names[0]}"
    told = re.search(r"Python 3\.11 or newer; ([^;]*?) are tested", (ROOT / "README.md").read_text(encoding="utf-8"))
    assert re.findall(r"3\.\d+", told[1]) == names


def test_every_package_is_bounded_on_both_sides():
    pyproject = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    project = pyproject["project"]
    for text in (
        *pyproject["build-system"]["requires"],
        *project["dependencies"],
        *project["optional-dependencies"]["dev"],
    ):
        assert re.fullmatch(r"[\w.-]+(>=[\d.]+,<[\d.]+|==[\d.]+)", text), text


@pytest.mark.parametrize(("setting", "status"), [("true", 1), ("false", 0)])
def test_a_skipped_check_that_must_run_fails_under_ci_only(tmp_path, setting, status):
    (tmp_path / "test_one.py").write_text(
        "import pytest\n\n@pytest.mark.solver\ndef test_a():\n    pytest.skip('no solver')\n\n"
        "def test_b():\n    pytest.skip('not needed')\n"
    )
    words = ("-c", str(ROOT / "pyproject.toml"), "--rootdir", str(tmp_path), "-p", "conftest", "-p", "no:cacheprovider")
    surroundings = {k: v for k, v in os.environ.items() if not k.startswith("PYTEST_")}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", *words, str(tmp_path / "test_one.py")],
        cwd=tmp_path,
        env=surroundings | {"CI": setting, "PYTHONPATH": str(ROOT / "tests")},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == status, done.stdout
    assert ("1 failed, 1 skipped" if status else "2 skipped") in done.stdout
