"""The commands as Typer reads them: help, completion, faults, and all that is not as plain as `cli.plain` wants it."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Sequence
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from refdb import __version__
from refdb.cli.commands import COMMANDS, apart, command_of, hoisted, root
from refdb.cli.common import choose_store
from refdb.cli.options import REQUIRED, Argument, Group, Parameter, parameters_of
from refdb.cli.output import LONGEST_FAULT, emit
from refdb.cli.prompts import Stopped
from refdb.errors import BadInput, StoreUnusable
from refdb.words import lower_first

#: Typer's own base of every fault of usage, which it does not export.
_UsageError: type[Exception] = typer.BadParameter.__mro__[1]
_SETTINGS: dict[str, Any] = {"rich_markup_mode": None, "pretty_exceptions_enable": False}


class Root(TyperGroup):
    """The group of all commands; --store and --workshop may also stand after the name of a command."""

    def parse_args(self, ctx: typer.Context, args: list[str]) -> list[str]:  # type: ignore[override]
        """Bring --store and --workshop to the front, where they belong."""
        return super().parse_args(ctx, hoisted(args))


class InOrder(TyperGroup):
    """A group of commands whose help tells first how to add, and then what lists, changes and removes."""

    def list_commands(self, ctx: typer.Context) -> list[str]:  # type: ignore[override]
        """The names, groups before single commands."""
        return sorted(super().list_commands(ctx), key=lambda name: not isinstance(self.commands[name], TyperGroup))


def read_and_run(arguments: Sequence[str]) -> Any:
    """Read the arguments by Typer, do what they ask, and return what the command does.

    Raises
    ------
    BadInput
        They are none of this command.
    Stopped
        Whoever was asked something gave no answer.
    """
    try:
        command = typer.main.get_command(application(*_named(arguments)))
        return command.main(list(arguments), prog_name="refdb", standalone_mode=False)
    except _UsageError as error:
        raise usage_fault(error, arguments) from None
    except typer.Abort:
        raise Stopped from None


def _named(arguments: Sequence[str]) -> Sequence[str]:
    """The command that the arguments name, and of a group the one of its own; empty asks for all."""
    import os

    _, rest = apart(arguments)
    return rest[:2] if rest and rest[0] in COMMANDS and "_REFDB_COMPLETE" not in os.environ else ()


def application(only: str | None = None, part: str | None = None) -> typer.Typer:
    """The commands as one application: all of them, or one alone (of a group, one of its own), which starts sooner."""
    app = typer.Typer(
        cls=Root, add_completion=True, context_settings={"help_option_names": ["-h", "--help"]}, **_SETTINGS
    )
    app.callback(invoke_without_command=True)(_whole())
    for name in COMMANDS:
        if only in (None, name):
            _take_up(app, name, command_of(name), part)
    return app


def _take_up(
    app: typer.Typer, name: str, found: Callable[..., Any] | Group, part: str | None = None, hyphens: bool = False
) -> None:
    if not isinstance(found, Group):
        app.command(name, context_settings={"ignore_unknown_options": True} if hyphens else None)(readable(found))
        return
    group = typer.Typer(help=found.help, cls=InOrder, **_SETTINGS)
    group.callback(invoke_without_command=True)(_alone(found))
    for own, command in found.commands.items():
        if part not in found.commands or own == part:
            _take_up(group, own, command, hyphens=own in found.with_hyphens)
    app.add_typer(group, name=name)


def _alone(group: Group) -> Callable[[typer.Context], None]:
    """What is done where no command of a group is named."""

    def alone(context: typer.Context) -> None:
        if context.invoked_subcommand is None:
            if group.alone is not None:
                group.alone()
            emit(context.get_help() + "\n")
            raise typer.Exit

    return alone


def _whole() -> Callable[..., None]:
    """What is done with the options of the whole."""

    def whole(context: typer.Context, **given: Any) -> None:
        source = context.get_parameter_source("workshop")
        choose_store(given["store"], given["workshop"], source is not None and source.name == "COMMANDLINE")
        if given["version"]:
            _tell_versions()
            raise typer.Exit
        if context.invoked_subcommand is None:
            emit(context.get_help() + "\n")
            raise typer.Exit

    whole.__doc__ = root.__doc__
    return _signed(
        whole,
        parameters_of(root),
        inspect.Parameter("context", inspect.Parameter.KEYWORD_ONLY, annotation=typer.Context),
    )


def readable(command: Callable[..., Any]) -> Callable[..., Any]:
    """A command with its parameters told as Typer wants them told."""

    def called(**values: Any) -> Any:
        return command(**values)

    called.__doc__, called.__name__ = command.__doc__, command.__name__
    return _signed(called, parameters_of(command))


def _signed(
    function: Callable[..., Any], parameters: Iterable[Parameter], *ahead: inspect.Parameter
) -> Callable[..., Any]:
    told = [
        *ahead,
        *(
            inspect.Parameter(
                p.name,
                inspect.Parameter.KEYWORD_ONLY,
                default=inspect.Parameter.empty if p.default is REQUIRED else p.default,
                annotation=Annotated[
                    p.kind,
                    typer.Argument(**p.declared.said)
                    if isinstance(p.declared, Argument)
                    else typer.Option(*p.declared.names, **p.declared.said),
                ],
            )
            for p in parameters
        ),
    ]
    function.__signature__ = inspect.Signature(told)  # type: ignore[attr-defined]
    function.__annotations__ = {p.name: p.annotation for p in told}
    return function


def _tell_versions() -> None:
    """Of the code, and of the data: the fingerprint is that of the rows as they are now."""
    from refdb.cli.common import store_path
    from refdb.curate.dump import fingerprint
    from refdb.store.edition import edition_of

    emit(f"refdb {__version__}\n")
    try:
        emit(f"data of {edition_of(store_path()).day or 'an unknown day'}\nfingerprint {fingerprint(store_path())}\n")
    except OSError as error:
        why = (error.strerror or "unknown reason").lower()
        raise StoreUnusable(f"the store cannot be read ({why})", str(store_path())) from None


def usage_fault(error: Exception, arguments: Sequence[str] = ()) -> BadInput:
    """A fault of usage as one line that says what was probably meant, or names the help page."""
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "refdb"
    what = " ".join(str(error.format_message()).split()).rstrip(".")  # type: ignore[attr-defined]
    if len(what) > LONGEST_FAULT:
        what = what[: LONGEST_FAULT - 3] + "..."
    todo = f"try {path} --help"
    if "unexpected extra argument" in what:
        from refdb.cli.meant import with_quotes

        meant = with_quotes(apart(arguments)[1])
        todo = (
            f"did you mean: {meant}"
            if meant
            else f'put a name of several words in quotes, such as "hard clear", or {todo}'
        )
    return BadInput(lower_first(what) if not what.startswith("--") else what, todo=todo)
