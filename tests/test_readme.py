"""What a newcomer is shown first: it must be what the program prints and what the store holds."""

from __future__ import annotations

import re
import shlex
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")


def test_the_answer_shown_is_the_one_printed(refdb):
    shown = re.search(r"^    \$ refdb (suits .*)\n((?:    .*\n|\n)+)", README, re.MULTILINE)
    assert shown
    lines = [line[4:].rstrip() for line in shown[2].rstrip().splitlines()]
    assert len(lines) > 10
    assert lines == [line.rstrip() for line in refdb(*shlex.split(shown[1])).out.rstrip().splitlines()]


@pytest.mark.parametrize(
    ("words", "table"),
    [
        ("base metals and metal clays", "metal_details"),
        ("classes of glass", "glass_details"),
        ("published glasses", "reference_glasses"),
        ("kinds of leaf", "leaf_details"),
        ("figures,", "property_values"),
        ("contacts of metals", "contacts"),
        ("solders", "solders"),
        ("reactions of colour", "colour_reactions"),
        ("causes of faults", "faults"),
        ("rules of practice", "practice_rules"),
        ("sources.", "sources"),
    ],
)
def test_what_is_said_to_be_in_the_store_is_there(store, words, table):
    told = re.search(rf"(\d+) {re.escape(words)}", README)
    assert told, words
    with closing(sqlite3.connect(store)) as database:
        assert int(told[1]) == database.execute(f"SELECT count(*) FROM {table}").fetchone()[0]


def test_commands_of_the_table_are_understood(refdb, monkeypatch, tmp_path):
    """Each whole command between backticks in the table of questions is answered, with no bad input."""
    monkeypatch.chdir(tmp_path)
    rows = [line for line in README.splitlines() if line.startswith("| ") and "`refdb" in line]
    commands = [c for row in rows for c in re.findall(r"`refdb ([^`]+)`", row)]
    whole = [c for c in commands if not re.search(r"\b[A-Z]{3,}\b", c) and not c.startswith(("browse", "build"))]
    assert len(whole) > 8
    for command in whole:
        assert refdb(*shlex.split(command)).status == 0, command
