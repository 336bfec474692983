"""All commands by name, and what is asked of one where that is typed plainly."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Annotated, Any

from refdb.cli.common import choose_store
from refdb.cli.options import Group, Option, parameters_of
from refdb.cli.plain import read

#: Every command in the order of the help page, and the file here that holds the function (or group) of its name.
COMMANDS = {
    "suits": "suits",
    "metals": "lists",
    "glasses": "lists",
    "leaf": "lists",
    "compare": "compare",
    "builds": "builds",
    "clears": "clears",
    "piece": "piece",
    "amounts": "amounts",
    "kiln": "kiln",
    "estimate": "estimate",
    "show": "show",
    "find": "find",
    "sources": "find",
    "fault": "fault",
    "practice": "practice",
    "cautions": "cautions",
    "mine": "mine.commands",
    "pool": "pool",
    "browse": "browse",
    "build": "store",
    "verify": "store",
}


#: Options of the whole command that may stand anywhere.
_ANYWHERE = ("--store", "--workshop")


def apart(arguments: Sequence[str]) -> tuple[list[str], list[str]]:
    """The options of `_ANYWHERE` with their values, and the other arguments; what follows `--` is left alone."""
    front: list[str] = []
    rest = list(arguments)
    at = 0
    while at < len(rest) and rest[at] != "--":
        if rest[at] in _ANYWHERE:
            front += rest[at : at + 2]
            del rest[at : at + 2]
        elif rest[at].startswith(tuple(f"{option}=" for option in _ANYWHERE)):
            front.append(rest.pop(at))
        else:
            at += 1
    return front, rest


def hoisted(arguments: Sequence[str]) -> list[str]:
    """The arguments with the options of `_ANYWHERE` and their values first."""
    front, rest = apart(arguments)
    return front + rest


# That a file cannot be read is said by whoever opens it; a look-up of the reference stands it.
def root(
    store: Annotated[
        Path | None,
        Option("--store", envvar="REFDB_STORE", metavar="PATH", readable=False, help="The store to look into."),
    ] = None,
    workshop: Annotated[
        Path | None,
        Option(
            "--workshop", envvar="REFDB_WORKSHOP", metavar="PATH", readable=False, help="The file of your own shelf."
        ),
    ] = None,
    version: Annotated[
        bool, Option("--version", help="Print the versions of code and data, and the data's fingerprint.")
    ] = False,
) -> None:
    """Look up metals, glasses and leaf for enamelling, and tell whether a glass suits a metal.

    \b
    Example:
      refdb suits clear-hard-lead-free copper-sheet

    Exit status: 0 answered, suits, or suits with care; 1 does not suit; 2 bad input; 3 no such record;
    4 the store is missing or unusable; 5 cannot say.
    """
    raise NotImplementedError("these are the options of the whole; cli.application does what they say")


def command_of(name: str) -> Callable[..., Any] | Group:
    """The command of a name in `COMMANDS`, from its file."""
    found: Callable[..., Any] | Group = getattr(import_module(f"refdb.cli.{COMMANDS[name]}"), name)
    return found


def plainly(arguments: Sequence[str]) -> Callable[[], Any] | None:
    """What is asked for, ready to be done, or None where it is not typed plainly."""
    if "_REFDB_COMPLETE" in os.environ:
        return None
    front, rest = apart(arguments)
    whole = read(parameters_of(root), front)
    if whole is None or not rest or rest[0] not in COMMANDS:
        return None
    found = command_of(rest.pop(0))
    while isinstance(found, Group):
        if not rest or rest[0] not in found.commands:
            return None
        found = found.commands[rest.pop(0)]
    values = read(parameters_of(found), rest)
    if values is None:
        return None
    choose_store(whole["store"], whole["workshop"], any(word.startswith("--workshop") for word in front))
    return partial(found, **values)
