"""Write scripts/lock.txt: the tested versions of all that refdb needs to run, with the hashes of their files.

python scripts/make_lock.py            ask the package index, by the pip of every tested Python that is found
python scripts/make_lock.py --check    only tell whether the file fits pyproject.toml; needs no network

`scripts/run` installs from it. Hashes are those of the files for this system and, where the index has them, for the
other systems in SYSTEMS. Packages of the tests and of the build are not in it.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
LOCK = ROOT / "scripts" / "lock.txt"
HEAD = "# Written by scripts/make_lock.py: what refdb was tested with, on Python {}. Any other takes pyproject.toml.\n"
SYSTEMS = (
    "manylinux_2_28_x86_64",
    "manylinux_2_28_aarch64",
    "macosx_11_0_arm64",
    "macosx_14_0_arm64",
    "macosx_11_0_x86_64",
)
_LINE = re.compile(
    r"([a-z0-9-]+)==([\w.]+)(?: ; python_version (==|in) [\"']([\d. ]+)[\"'])?((?: --hash=sha256:[0-9a-f]{64})+)"
)
_BOUND = re.compile(r"([\w.-]+)>=([\d.]+),<([\d.]+)")
#: Version and hashes by package and Python.
Lock = dict[str, dict[str, tuple[str, set[str]]]]


def plain(name: str) -> str:
    """A package's name in its normal form."""
    return re.sub(r"[-_.]+", "-", name).lower()


def number(version: str) -> tuple[int, ...]:
    """A release as numbers, without zeros at its end; what follows them (as in 1.0.post1) is left out."""
    found = re.match(r"\d+(?:\.\d+)*", version)
    parts = [int(part) for part in found[0].split(".")] if found else []
    while parts and not parts[-1]:
        parts.pop()
    return tuple(parts)


def project() -> dict[str, Any]:
    """What pyproject.toml says of the project."""
    found: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return found


def tested(about: dict[str, Any]) -> list[str]:
    """The tested Pythons, such as "3.12", the oldest first."""
    return re.findall(r"Python :: (3\.\d+)", "\n".join(about["classifiers"]))


def pythons(versions: list[str]) -> Iterator[tuple[str, str]]:
    """Each of these Pythons that is found on PATH or in pyenv's folder."""
    home = Path(os.environ.get("PYENV_ROOT") or Path.home() / ".pyenv") / "versions"
    for version in versions:
        found = [str(p) for p in sorted(home.glob(f"{version}.*/bin/python3"))] + [
            shutil.which(f"python{version}") or ""
        ]
        if any(found):
            yield version, next(filter(None, found))


def reported(python: str, *words: str) -> list[dict[str, Any]]:
    """What pip would install; raises CalledProcessError where it cannot."""
    done = subprocess.run(
        [python, "-m", "pip", "install", "--quiet", "--dry-run", "--ignore-installed", "--report", "-", *words],
        capture_output=True,
        text=True,
        check=True,
    )
    installed: list[dict[str, Any]] = json.loads(done.stdout)["install"]
    return installed


def made(about: dict[str, Any]) -> Lock:
    """The lock of all tested Pythons; raises SystemExit where one is missing or the index cannot be asked."""
    lock: Lock = defaultdict(dict)
    found = dict(pythons(tested(about)))
    if missing := set(tested(about)) - found.keys():
        raise SystemExit(f"make_lock: not found: Python {', '.join(sorted(missing))}")
    for version, python in found.items():
        systems = []
        for one in reported(python, *about["dependencies"]):
            hashes = {one["download_info"]["archive_info"]["hashes"]["sha256"]}
            name, release = plain(one["metadata"]["name"]), one["metadata"]["version"]
            lock[name][version] = (release, hashes)
            file = one["download_info"]["url"]
            if file.endswith(".whl") and not file.endswith("-none-any.whl"):
                systems.append(name)
        for name in systems:
            for system in SYSTEMS:
                lock[name][version][1].update(elsewhere(python, f"{name}=={lock[name][version][0]}", version, system))
    return lock


def elsewhere(python: str, package: str, version: str, system: str) -> set[str]:
    """The hash of a package's file for another system, where the index has one."""
    with tempfile.TemporaryDirectory() as folder:
        words = ("--target", folder, "--only-binary=:all:", "--no-deps", "--python-version", version)
        try:
            found = reported(python, package, *words, "--platform", system)
        except subprocess.CalledProcessError:
            print(f"make_lock: no file of {package} for {system}, Python {version}", file=sys.stderr)
            return set()
    return {one["download_info"]["archive_info"]["hashes"]["sha256"] for one in found}


def written(lock: Lock, versions: list[str]) -> str:
    """The text of the lock: a line for each package and each of its versions, hashes sorted."""
    lines = [HEAD.format(" ".join(versions))]
    for name in sorted(lock):
        releases: dict[str, list[str]] = defaultdict(list)
        for version, (release, _) in lock[name].items():
            releases[release].append(version)
        for release, for_these in releases.items():
            hashes = sorted(set().union(*(lock[name][version][1] for version in for_these)))
            marker = "" if for_these == versions else f' ; python_version in "{" ".join(for_these)}"'
            lines.append(f"{name}=={release}{marker} {' '.join(f'--hash=sha256:{mark}' for mark in hashes)}\n")
    return "".join(lines)


def problems(text: str, about: dict[str, Any]) -> Iterator[str]:
    """What in a lock does not fit the project: a line of another form, a missing package, a version out of bounds."""
    head, *lines = text.splitlines(keepends=True) or [""]
    versions = tested(about)
    if head != HEAD.format(" ".join(versions)):
        yield f"it is not for Python {', '.join(versions)}"
    held: dict[tuple[str, str], str] = {}
    for line in lines:
        found = _LINE.fullmatch(line.rstrip("\n"))
        if found is None:
            yield f"not of the form of a lock: {line.strip()[:60]}"
            continue
        for version in found[4].split() if found[4] else versions:
            if held.setdefault((found[1], version), found[2]) != found[2]:
                yield f"{found[1]} has two versions for Python {version}"
    for bound in about["dependencies"]:
        parts = _BOUND.fullmatch(bound)
        assert parts, bound
        for version in versions:
            release = held.get((plain(parts[1]), version))
            if release is None:
                yield f"{parts[1]} is missing for Python {version}"
            elif not number(parts[2]) <= number(release) < number(parts[3]):
                yield f"{parts[1]} {release} is not within {bound}"


def main(words: list[str]) -> int:
    """Write the lock, or check it; 1 where it does not fit."""
    if words not in ([], ["--check"]):
        print(__doc__, file=sys.stderr)
        return 2
    about = project()
    if not words:
        LOCK.write_text(written(made(about), tested(about)), encoding="utf-8")
    wrong = list(problems(LOCK.read_text(encoding="utf-8"), about)) if LOCK.is_file() else ["there is none"]
    for line in wrong:
        print(f"scripts/lock.txt: {line}; write it anew with scripts/make_lock.py", file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
