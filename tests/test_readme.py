"""What a newcomer is shown first: it must be what the program prints and what the store holds."""

from __future__ import annotations

import doctest
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


def test_the_example_in_python_runs():
    test = doctest.DocTestParser().get_doctest(README, {}, "README.md", None, 0)
    assert len(test.examples) == 3
    said: list[str] = []
    assert doctest.DocTestRunner().run(test, out=said.append).failed == 0, "".join(said)


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


_MEASURED = "v.basis IN ('measured', 'published', 'standard')"
#: A maker's data sheet counts with these, though it does not say how it was measured.
_FIRM = "v.basis NOT IN ('estimate', 'analogue', 'no evidence', 'computed')"


@pytest.mark.parametrize(
    ("words", "about", "known"),
    [
        (
            "the expansion of cadmium reds and yellows, of rubies and of glass for titanium",
            "m.key GLOB '*-cadmium' OR m.key GLOB 'ruby-*' OR m.key GLOB 'titanium-low*'",
            _MEASURED,
        ),
        ("leaded enamels: they rest on likeness", "m.key GLOB '*-leaded'", _MEASURED),
        (
            "opaque black and painting white rest on likeness",
            "m.key IN ('black-opaque-lead-free', 'white-painting')",
            _MEASURED,
        ),
        (
            "painting black, painting red-brown and antimony yellow have no figure at all",
            "m.key IN ('painting-black', 'red-brown-painting', 'yellow-opaque-antimony')",
            "1",
        ),
        (
            "the expansion of brass, bronze, gilding metal and nickel silver above 300 °C",
            "m.family IN ('brass', 'bronze', 'gilding metal', 'nickel silver')",
            f"{_FIRM} AND v.temp_high_c > 300",
        ),
        ("of carat golds at any heat", "m.family = 'gold' AND m.key != 'gold-24k'", _FIRM),
    ],
)
def test_no_expansion_that_is_said_to_be_unknown_is_in_the_store(store, words, about, known):
    """Were one of these measured and taken up, the list would have to say so."""
    assert words in " ".join(README.split())
    with closing(sqlite3.connect(store)) as database:
        subjects = database.execute(f"SELECT key FROM materials m WHERE {about}").fetchall()
        found = database.execute(
            "SELECT v.material FROM property_values v JOIN materials m ON m.key = v.material "
            f"WHERE v.property = 'expansion' AND ({about}) AND {known}"
        ).fetchall()
    assert len(subjects) > 1
    assert found == []


def test_no_enamel_has_a_measured_stiffness_and_none_with_lead_was_published_as_one(store):
    assert "stiffness of a copper enamel: it is computed" in README
    assert "none of them published as an enamel" in README
    with closing(sqlite3.connect(store)) as database:
        measured = database.execute(
            "SELECT for_metal FROM reference_values r JOIN reference_glasses g ON g.key = r.glass "
            "WHERE r.property = 'youngs_modulus'"
        ).fetchall()
        firm = database.execute(
            "SELECT v.material FROM property_values v JOIN reference_glasses g ON g.material = v.material "
            f"WHERE v.property = 'youngs_modulus' AND g.for_metal = 'copper' AND {_FIRM}"
        ).fetchall()
        leaded = database.execute(
            "SELECT key, published_as FROM reference_glasses WHERE material GLOB '*-leaded'"
        ).fetchall()
    assert measured
    assert set(measured) == {(None,)}
    assert firm == []
    assert leaded
    assert not [key for key, published_as in leaded if "enamel" in published_as]


#: What a reader puts in the place of the large words, in the order in which the commands stand.
FILLED = {
    "GLASS": "clear-hard-lead-free",
    "METAL": "copper-sheet",
    "FILE": "moth.toml",
    "NAME": "jar 12",
    "TEXT": "foil",
    "WORDS": "drying",
}


def test_every_command_of_the_table_is_answered(refdb, monkeypatch, tmp_path):
    """In their order, each with its large words filled in; `browse` would go on and `build` belongs to the sources."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("REFDB_WORKSHOP", str(tmp_path / "mine.db"))
    rows = [line for line in README.splitlines() if line.startswith("| ") and "`refdb" in line]
    commands = [c for row in rows for c in re.findall(r"`refdb ([^`]+)`", row)]
    asked = [c for c in commands if not c.startswith(("browse", "build"))]
    assert len(asked) > 20
    for command in asked:
        words = [
            filled(word, "my:jar-12" if command.startswith("mine") else "copper-sheet") for word in shlex.split(command)
        ]
        ran = refdb(*words)
        assert ran.status == 0, (words, ran.err)


def filled(word: str, key: str) -> str:
    """A word of a command with what a reader puts in the place of a large one at its head."""
    head, colon, rest = word.partition(":")
    return {**FILLED, "KEY": key}.get(head, head) + colon + rest
