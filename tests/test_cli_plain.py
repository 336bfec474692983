"""What is typed plainly is read without Typer, and just as Typer reads it."""

from __future__ import annotations

import os
import random
from typing import Any, get_args

import pytest
import typer

from refdb.cli.application import readable
from refdb.cli.commands import COMMANDS, command_of, plainly, root
from refdb.cli.options import REQUIRED, Argument, Group, Parameter, parameters_of
from refdb.cli.plain import read

#: Values of all kinds, among them such as no command takes, and words that look like options.
VALUES = (
    "copper",
    "20 ga",
    "0.8mm",
    "a=b",
    "metric",
    "studio",
    "Metric",
    "3",
    "-3",
    "",
    " ",
    "É",
    "--",
    "-",
    "-x",
    "--x",
)


def commands() -> list[Any]:
    """Every command, those of groups too, each with whether it takes words with a hyphen."""
    found = []
    waiting = [(name, command_of(name), False) for name in COMMANDS]
    while waiting:
        name, command, hyphens = waiting.pop()
        if isinstance(command, Group):
            waiting += [(f"{name} {n}", c, n in command.with_hyphens) for n, c in command.commands.items()]
        else:
            found.append(pytest.param(command, hyphens, id=name))
    return sorted([*found, pytest.param(root, False, id="refdb")], key=lambda p: str(p.id))


def by_typer(command: Any, hyphens: bool) -> Any:
    """A function that gives the values that Typer calls a command with, or None where it refuses the words."""
    called: list[dict[str, Any]] = []

    def keeping(**values: Any) -> None:
        called.append(values)

    told = readable(command)
    keeping.__signature__, keeping.__annotations__ = told.__signature__, told.__annotations__
    app = typer.Typer(add_completion=False, rich_markup_mode=None)
    app.command(context_settings={"ignore_unknown_options": True} if hyphens else None)(keeping)
    reader = typer.main.get_command(app)

    def values_of(words: list[str]) -> dict[str, Any] | None:
        called.clear()
        try:
            reader.main(list(words), prog_name="refdb", standalone_mode=False)
        except Exception:
            return None
        return dict(called[0]) if called else None

    return values_of


def some_words(parameters: list[Parameter], draw: random.Random) -> list[str]:
    """Words as they may be typed after a command, more often right than wrong."""
    words = []
    for p in parameters:
        if draw.random() > (0.95 if p.default is REQUIRED else 2 / len(parameters)):
            continue
        right = (*get_args(p.kind), "2") if p.kind is int else (*get_args(p.kind), "copper", "gold leaf", "12.4")
        value = draw.choice(VALUES if draw.random() < 0.2 else [one for one in right if isinstance(one, str)])
        if isinstance(p.declared, Argument):
            words.append([value])
            continue
        name = draw.choice([n for both in p.declared.names for n in both.split("/")])
        takes = p.kind not in (bool, bool | None)
        if draw.random() < 0.1:
            takes = not takes
        words.append([f"{name}={value}"] if takes and draw.random() < 0.3 else [name, value] if takes else [name])
    if draw.random() < 0.1:
        words.append([draw.choice(VALUES)])
    if words and draw.random() < 0.1:
        words.append(draw.choice(words))
    draw.shuffle(words)
    return [word for some in words for word in some]


@pytest.mark.parametrize(("command", "hyphens"), commands())
def test_what_is_plain_is_read_as_typer_reads_it(monkeypatch, command, hyphens):
    for name in [n for n in os.environ if n.startswith("REFDB_")]:
        monkeypatch.delenv(name)
    typer_reads, parameters = by_typer(command, hyphens), parameters_of(command)
    draw = random.Random(command.__name__)
    plain = 0
    for _ in range(150):
        words = some_words(parameters, draw)
        found = read(parameters, words)
        if found is not None:
            assert found == typer_reads(words), words
            plain += 1
    # Whoever gives up on everything is right too, but of no use.
    assert plain >= 30, plain


def test_settings_of_the_environment_are_read_alike(monkeypatch):
    command = command_of("suits")
    typer_reads, parameters = by_typer(command, False), parameters_of(command)
    pair, plain = ["clear", "copper"], 0
    for name in ("REFDB_UNITS", "REFDB_POOL"):
        for text in ("", "studio", "Studio", "1", "no"):
            monkeypatch.setenv(name, text)
            found = read(parameters, pair)
            assert found is None or found == typer_reads(pair), (name, text)
            plain += found is not None
        monkeypatch.delenv(name)
    assert plain == 3  # of units an empty text and one of the words, of the pool an empty text


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["-h"],
        ["--version"],
        ["metals", "--help"],
        ["metals", "--famly", "copper"],
        ["metals", "--family"],
        ["metals", "--units", "imperial"],
        ["metals", "copper"],
        ["suits", "clear"],
        ["no-such-command"],
        ["mine"],
        ["mine", "add"],
        ["find", "--", "foil"],
        ["--store"],
    ],
)
def test_all_else_is_left_to_typer(words):
    assert plainly(words) is None


@pytest.mark.parametrize(
    "words", [["metals"], ["suits", "a", "b", "--full"], ["mine", "list"], ["piece", "check", "a"]]
)
def test_a_plain_question_is_read_at_once(monkeypatch, words):
    monkeypatch.delenv("REFDB_POOL", raising=False)
    assert plainly([*words, "--store=x.db"]) is not None


def test_completion_is_left_to_typer(monkeypatch):
    monkeypatch.setenv("_REFDB_COMPLETE", "complete_bash")
    assert plainly(["metals"]) is None


def test_help_on_the_own_shelf_begins_with_how_to_add(refdb):
    """Whoever has nothing yet reads first how to write a jar down, and last how to erase one for good."""
    names = [line.split()[0] for line in refdb("mine", "--help").out.partition("Commands:")[2].splitlines() if line]
    assert names[0] == "add"
    assert {"list", "tile", "strip", "forget"} < set(names)
