"""The lock of the tested packages: it fits pyproject.toml, every file is held to a hash, and what does not fit is told.

Whether pip takes it is tried by scripts/run itself, which installs from it, and by scripts/smoke.
"""

from __future__ import annotations

import re
import sys

import pytest
from conftest import ROOT

sys.path.insert(0, str(ROOT / "scripts"))
import make_lock

TEXT = (ROOT / "scripts/lock.txt").read_text(encoding="utf-8")


def told(text: str) -> str:
    return "\n".join(make_lock.problems(text, make_lock.project()))


def test_the_lock_fits_the_project():
    assert told(TEXT) == ""
    assert TEXT.count("\n") > 20
    assert "//" not in TEXT  # no address of any index


def test_what_pip_must_read_has_a_hash_on_every_line():
    assert all(re.search(r"--hash=sha256:[0-9a-f]{64}$", line) for line in TEXT.splitlines()[1:])


@pytest.mark.parametrize(
    ("old", "new", "word"),
    [
        (r"typer==[\d.]+", "typer==0.99", "not within typer"),
        (r"typer==[\d.]+", "typer==0.1", "not within typer"),
        (r"segno==.*\n", "", "segno is missing for Python 3.11"),
        (r'numpy==2\S* ; python_version in "3.12 3.13".*\n', "", "numpy is missing for Python 3.13"),
        (r"(segno==\S+) .*", r"\1", "not of the form"),
        (r"3\.11 3\.12 3\.13\.", "3.11.", "not for Python"),
        (r"(rich==\S+)( .*)", r"\1\2\nrich==1.0\2", "two versions"),
    ],
)
def test_what_does_not_fit_is_told(old, new, word):
    spoilt, count = re.subn(old, new, TEXT, count=1)
    assert count == 1
    assert word in told(spoilt)


def test_what_is_written_is_what_is_read():
    mark, other = "a" * 64, "b" * 64
    lock = {
        "numpy": {"3.11": ("2.4", {other, mark}), "3.12": ("2.5", {mark})},
        "abc": {"3.11": ("1", {mark}), "3.12": ("1", {mark})},
    }
    lines = make_lock.written(lock, ["3.11", "3.12"]).splitlines()
    assert lines[1:] == [
        f"abc==1 --hash=sha256:{mark}",
        f'numpy==2.4 ; python_version in "3.11" --hash=sha256:{mark} --hash=sha256:{other}',
        f'numpy==2.5 ; python_version in "3.12" --hash=sha256:{mark}',
    ]
