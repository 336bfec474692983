"""What contributors are told: every file and name is there, the example runs, the keys of JSON are those given out."""

from __future__ import annotations

import doctest
import re
from collections.abc import Iterable, Iterator
from dataclasses import fields, replace
from importlib import import_module
from importlib.util import find_spec
from typing import Any

import pytest
from conftest import ROOT
from techniques import TECHNIQUES

import refdb
from refdb.judge.own.tiles import AGREES, TileSeen
from refdb.judge.reason import OUTCOMES, Subject
from refdb.judge.verdict import Verdict
from refdb.records import OwnTile

TEXT = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
SUFFIXES = ("csv", "css", "db", "html", "json", "md", "py", "sha256", "svg", "toml")
#: Names of the form of JSON look like paths.
NO_PATH = re.compile(r"refdb/\d")
PIECE = """
[piece]
title = "pendant"
width = "20 mm"
height = "30 mm"
[base]
metal = "fine-silver-sheet"
thickness = "0.8 mm"
[[step]]
do = "coat"
glass = "clear-hard-lead-free"
thickness = "0.2 mm"
[[step]]
do = "fire"
kiln = "800 C"
"""


def section(title: str) -> str:
    """The text under a heading, up to the next of its rank or a higher one."""
    found = re.search(rf"^(#+) {re.escape(title)}\n(.*?)(?=^#{{1,3}} |\Z)", TEXT, re.MULTILINE | re.DOTALL)
    assert found, title
    return found[2]


KEYS = section("JSON, refdb/2")
QUOTED = re.findall(r"`([^`\n]+)`", re.sub(r"```.*?```", "", TEXT.replace(KEYS, ""), flags=re.DOTALL))


def is_path(quoted: str) -> bool:
    """Whether it is a file or folder of the project rather than an address of a page or a command."""
    name = "/" in quoted or quoted.rpartition(".")[2] in SUFFIXES
    return name and " " not in quoted and not quoted.startswith("/") and not NO_PATH.fullmatch(quoted)


PATHS = sorted(set(filter(is_path, QUOTED)))
NAMES = sorted({q for q in QUOTED if re.fullmatch(r"\w+(\.\w+)+", q) and not is_path(q)})


def test_there_are_paths_and_names_to_look_for():
    assert len(PATHS) > 60
    assert len(NAMES) > 40


@pytest.mark.parametrize("path", PATHS)
def test_every_path_exists(path):
    made_by_the_build = path == "reference.db.sha256"
    assert made_by_the_build or any((base / path).exists() for base in (ROOT, ROOT / "refdb")), path


def thing(name: str) -> Any:
    """What a dotted name below `refdb` stands for; a field of a dataclass for itself.

    Raises
    ------
    AttributeError
    """
    parts = name.removeprefix("refdb.").split(".")
    module, at = "refdb", 0
    while at < len(parts) and find_spec(f"{module}.{parts[at]}") is not None:
        module, at = f"{module}.{parts[at]}", at + 1
        if not hasattr(import_module(module), "__path__"):
            break
    found: Any = import_module(module)
    for part in parts[at:]:
        found = part if part in getattr(found, "__dataclass_fields__", ()) else getattr(found, part)
    return found


@pytest.mark.parametrize("name", NAMES)
def test_every_name_exists(name):
    assert thing(name) is not None


@pytest.mark.parametrize("name", ["judge.decision.no_such", "refdb.no_such", "nothing.at.all", "judge.Verdict.told"])
def test_a_name_that_is_gone_is_found_out(name):
    with pytest.raises(AttributeError):
        thing(name)


def test_the_example_runs():
    examples = "\n".join(re.findall(r"```python\n(.*?)```", TEXT, re.DOTALL))
    test = doctest.DocTestParser().get_doctest(examples, {}, "DEVELOPERS.md", None, 0)
    assert len(test.examples) > 4
    said: list[str] = []
    assert doctest.DocTestRunner().run(test, out=said.append).failed == 0, "".join(said)


def test_the_commands_of_the_start_are_there():
    for line in section("1. Start").splitlines():
        if line.startswith("    ") and (found := re.match(r" {4}(?:\.venv/bin/python )?((?:scripts|\.ci)/\S+)", line)):
            assert (ROOT / found[1]).is_file(), line


def test_the_picture_fits_a_terminal():
    picture = [line for line in section("2. The house").splitlines() if line.startswith("    ")]
    assert len(picture) > 9
    assert max(map(len, picture)) <= 80


def test_no_word_of_the_glossary_stands_twice():
    rows = [line for line in section("6. Words of the house").splitlines() if line.startswith("| ")][1:]
    words = [word.strip().casefold() for row in rows for word in row.split("|")[1].split(",")]
    assert len(words) >= 30
    assert len(words) == len(set(words))


# The keys of JSON


def flat(value: Any, at: str = "") -> Iterator[str]:
    """Paths of all keys of a JSON value; a band is one, and what stands beside its numbers another."""
    if isinstance(value, list):
        for part in value if all(isinstance(p, dict) for p in value) else []:
            yield from flat(part, f"{at}[]")
        if not value or not isinstance(value[0], dict):
            yield at
        return
    if not isinstance(value, dict):
        yield at
        return
    if at.rpartition(".")[2] in ("shares", "split", "sources"):
        yield from {f"{at}.KEY" for _ in value}
        return
    if at.rpartition(".")[2] == "taken":
        for part in value.values():
            yield from flat(part, f"{at}.KEY")
        return
    if {"value", "low", "high"} <= set(value) or set(value) == {"text"}:
        yield at
        value = {key: part for key, part in value.items() if key not in ("value", "low", "high")}
    for key, part in value.items():
        yield from flat(part, f"{at}.{key}".removeprefix("."))


@pytest.fixture(scope="module")
def verdicts() -> list[Verdict]:
    """Verdicts that have between them all that a verdict can hold."""
    with refdb.open_reference() as ref:
        plain = refdb.suits(ref, "clear-hard-lead-free", "copper-sheet")
        shapely = refdb.suits(
            ref,
            "clear-hard-lead-free",
            "copper-sheet",
            shape="domed",
            rise_m="2 mm",
            kiln_c=815.0,
            kiln_offset_k="5-11 K",
            kiln_rests_on="own test",
        )
        weak = refdb.suits(ref, "painting-black", "copper-sheet")
        thin = {"metal_thickness_m": 0.4e-3, "order": "back-first"}
        changed = refdb.suits(ref, "clear-for-silver", "fine-silver-sheet", **thin)
        unknown = refdb.suits(ref, "yellow-opaque-antimony", "copper-sheet")
        piece = refdb.check_piece(ref, PIECE)
        named = refdb.suits(ref, "hard clear", "18 gauge copper")
        cells = refdb.check_piece(ref, TECHNIQUES["champlevé"].piece.text)
    values = {f.name: f.default for f in fields(OwnTile)} | {"number": 1, "outcome": "sound"}
    tile = TileSeen(OwnTile(**values), AGREES, another_build=False)
    return [plain, shapely, weak, changed, unknown, piece, named, cells, replace(plain, tiles=(tile,))]


def documented() -> dict[str, bool]:
    """The keys of the table, and whether each is always there."""
    rows = [line for line in KEYS.splitlines() if line.startswith("| `")]
    found = [key for row in rows for key in re.findall(r"`([^`]+)`", row.split(" | ")[0])]
    assert len(found) == len(set(found))
    return {key.removesuffix("?"): not key.endswith("?") for key in found}


def test_the_keys_of_json_are_those_of_a_verdict(verdicts):
    given = {key for verdict in verdicts for key in flat(verdict.as_dict())}
    # A list of nothing is known by its parts where another verdict has some.
    given -= {key for key in given if any(other.startswith(f"{key}[]") for other in given)}
    # What a finding may be about is more than these verdicts show.
    given |= {f"reasons[].subject.{f.name}" for f in fields(Subject)}
    assert set(documented()) == given - {"reasons[].subject"}


def test_keys_that_are_always_there_are(verdicts):
    always = [key for key, fixed in documented().items() if fixed]
    assert len(always) > 25
    for verdict in verdicts:
        told = verdict.as_dict()
        for key in always:
            assert all(holds(told, key.split("."))), key


def holds(value: Any, parts: list[str]) -> Iterable[bool]:
    """Whether a key is there, in every part of every list on the way; one below a list that is left out is."""
    if not parts:
        return [True]
    name, rest = parts[0], parts[1:]
    if name == "KEY":
        return [bool(value)]
    if name.endswith("[]"):
        return [h for part in value.get(name[:-2], []) for h in holds(part, rest)]
    return holds(value[name], rest) if name in value else [False]


def test_the_shares_of_a_verdict_are_named_by_outcome(verdicts):
    assert all(set(v.as_dict()["shares"]) in (set(OUTCOMES), set()) for v in verdicts)
