"""Reading what is typed plainly: known options by their whole names, each with its value, and words.

`cli.application` reads all that can be typed, and is loaded only where this gives up: for help and completion, and for
whatever is no plain question, faults above all. What is read here is read as there; `tests/test_cli_plain.py` holds the
two to each other.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin

from refdb.cli.options import REQUIRED, Argument, Parameter


class _NotPlain(Exception):
    """What was typed is for the other reader."""


def read(parameters: Iterable[Parameter], words: Sequence[str]) -> dict[str, Any] | None:
    """The values of all parameters by name, or None where the words are not plain.

    Parameters
    ----------
    parameters : iterable of Parameter
        What the command takes.
    words : sequence of str
        What follows its name.
    """
    parameters = list(parameters)
    try:
        given, loose = _given(parameters, words)
        _give_words([p for p in parameters if isinstance(p.declared, Argument)], loose, given)
        return {p.name: _value(p, given.get(p.name)) for p in parameters}
    except _NotPlain:
        return None


def _given(parameters: Iterable[Parameter], words: Sequence[str]) -> tuple[dict[str, list[Any]], list[str]]:
    """The values of the options that were typed, by the name of the parameter, and the words beside them."""
    options = {name: (p, flag) for p in parameters for name, flag in _names(p)}
    given: dict[str, list[Any]] = {}
    loose = []
    at = 0
    while at < len(words):
        word = words[at]
        at += 1
        if not word.startswith("-"):
            loose.append(word)
            continue
        name, equals, text = word.partition("=")
        if name not in options or (equals and options[name][1] is not None):
            raise _NotPlain
        parameter, flag = options[name]
        if flag is None and not equals:
            if at == len(words) or words[at].startswith("-"):
                raise _NotPlain
            text = words[at]
            at += 1
        given.setdefault(parameter.name, []).append(text if flag is None else flag)
    return given, loose


def _names(parameter: Parameter) -> Iterable[tuple[str, bool | None]]:
    """Each name of an option as it is typed, with what a flag then means, None for an option that takes a value."""
    flag = _bare(parameter.kind) is bool
    for names in parameter.declared.names:
        yes, no_too, no = names.partition("/")
        yield yes, True if flag else None
        if no_too:
            yield no, False


def _give_words(arguments: Sequence[Parameter], loose: Sequence[str], given: dict[str, list[Any]]) -> None:
    """Give the words to the arguments, one to each, and what is left to one that takes several."""
    if any(_takes_several(p) for p in arguments[:-1]):
        raise _NotPlain
    left = list(loose)
    for parameter in arguments:
        taken, left = (left, []) if _takes_several(parameter) else (left[:1], left[1:])
        if taken:
            given[parameter.name] = taken
    if left:
        raise _NotPlain


def _takes_several(parameter: Parameter) -> bool:
    return get_origin(_bare(parameter.kind)) is list


def _bare(kind: Any) -> Any:
    """A type without the None beside it."""
    if get_origin(kind) in (UnionType, Union):
        (kind,) = (one for one in get_args(kind) if one is not NoneType)
    return kind


def _value(parameter: Parameter, given: list[Any] | None) -> Any:
    """The value of one parameter, from what was typed, the environment, or its default."""
    kind = _bare(parameter.kind)
    set_there = os.environ.get(parameter.declared.said.get("envvar", ""), "")
    if given is None and set_there:
        if kind is bool or get_origin(kind) is list:
            raise _NotPlain
        given = [set_there]
    if given is None:
        if parameter.default is REQUIRED:
            raise _NotPlain
        return parameter.default
    if get_origin(kind) is list:
        return [_one(get_args(kind)[0], text) for text in given]
    if len(given) > 1:
        raise _NotPlain
    return _one(kind, given[0])


def _one(kind: Any, given: Any) -> Any:
    if kind is bool or (kind is str and given):
        return given
    if kind is Path and given:
        return Path(given)
    if kind is int and given.isascii() and given.isdecimal():
        return int(given)
    if get_origin(kind) is Literal and given in get_args(kind):
        return given
    raise _NotPlain
