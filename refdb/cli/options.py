"""What a command takes, written down without the package that reads it.

Typer reads everything that can be typed, and takes two thirds of a look-up's time to be loaded. So a command tells its
options and arguments in the classes here, as `Annotated[str, Option("--form", help="...")]`. `cli.plain` reads what is
typed plainly; for all else `cli.application` hands them to Typer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar, get_args, get_type_hints

from refdb.frozen import dataclass

_Command = TypeVar("_Command", bound=Callable[..., Any])


class Option:
    """An option of a command: its names as they are typed, and what else is said of it in Typer's own words."""

    def __init__(self, *names: str, **said: Any) -> None:
        self.names, self.said = names, said


class Argument:
    """What is typed without a name, and what is said of it in Typer's own words."""

    names: tuple[str, ...] = ()

    def __init__(self, **said: Any) -> None:
        self.said = said


@dataclass(frozen=True)
class Parameter:
    """One thing that a command takes: its name there, its type, what is said of it, and its default."""

    name: str
    kind: Any
    declared: Option | Argument
    #: `REQUIRED` where it must be given.
    default: Any


REQUIRED: Any = object()


class Group:
    """A command that holds others.

    Parameters
    ----------
    help : str
        The text of its help page.
    alone : callable, optional
        What is done where no command of it is named; by default its help page is printed.
    """

    def __init__(self, help: str, alone: Callable[[], None] | None = None) -> None:
        self.help, self.alone = help, alone
        self.commands: dict[str, Callable[..., Any] | Group] = {}
        #: Those that take a word with a hyphen in front, such as a figure below zero, for no option.
        self.with_hyphens: set[str] = set()

    def command(self, name: str, with_hyphens: bool = False) -> Callable[[_Command], _Command]:
        """A decorator that takes a command up under a name."""

        def taken_up(command: _Command) -> _Command:
            self.commands[name] = command
            if with_hyphens:
                self.with_hyphens.add(name)
            return command

        return taken_up


def with_parameters(more: Sequence[Parameter]) -> Callable[[_Command], _Command]:
    """A decorator that gives a command further parameters in place of its `**others`, ahead of its own options."""

    def decorated(command: _Command) -> _Command:
        command.more_parameters = tuple(more)  # type: ignore[attr-defined]
        return command

    return decorated


def parameters_of(command: Callable[..., Any]) -> list[Parameter]:
    """What a command takes, in the order of its help page."""
    code = command.__code__
    # `inspect.signature` says the same, and takes as long to load as all else here.
    names = code.co_varnames[: code.co_argcount + code.co_kwonlyargcount]
    positional = command.__defaults__ or ()
    defaults = dict(zip(names[code.co_argcount - len(positional) : code.co_argcount], positional, strict=True))
    defaults |= command.__kwdefaults__ or {}
    hints = get_type_hints(command, include_extras=True)
    own = [_parameter(name, hints[name], defaults.get(name, REQUIRED)) for name in names]
    more = getattr(command, "more_parameters", ())
    return [p for p in own if p.default is REQUIRED] + [*more] + [p for p in own if p.default is not REQUIRED]


def _parameter(name: str, hint: Any, default: Any) -> Parameter:
    kind, declared = get_args(hint)
    return Parameter(name, kind, declared, default)
