"""The command `refdb`: its commands, and how faults become one line and an exit status."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, NoReturn

import typer
from typer.core import TyperGroup

from refdb import __version__
from refdb.cli.common import choose_store, say_what_waits
from refdb.cli.output import OutputClosedError, complain, emit
from refdb.errors import BadInput, RefdbError, StoreUnusable

_LONGEST_FAULT = 240
CLOSED, INTERRUPTED = 141, 130
#: The program itself failed (EX_SOFTWARE of sysexits.h); no verdict ends so.
FAILED = 70
#: Typer's own base of every fault of usage, which it does not export.
_UsageError: type[Exception] = typer.BadParameter.__mro__[1]


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


class Root(TyperGroup):
    """The group of all commands; --store and --workshop may also stand after the name of a command."""

    def parse_args(self, ctx: typer.Context, args: list[str]) -> list[str]:  # type: ignore[override]
        """Bring --store and --workshop to the front, where they belong."""
        return super().parse_args(ctx, hoisted(args))


#: Options of the whole command that may stand anywhere.
_ANYWHERE = ("--store", "--workshop")


def hoisted(arguments: Sequence[str]) -> list[str]:
    """The arguments with the options of `_ANYWHERE` and their values first; what follows `--` is left alone."""
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
    return front + rest


def _anywhere(arguments: Sequence[str]) -> int:
    """How many of the hoisted arguments belong to the options of `_ANYWHERE`."""
    front = hoisted(arguments)
    at = 0
    while at < len(front) and front[at].partition("=")[0] in _ANYWHERE:
        at += 2 if front[at] in _ANYWHERE else 1
    return at


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


def _root(
    context: typer.Context,
    store: Annotated[
        Path | None, typer.Option("--store", envvar="REFDB_STORE", metavar="PATH", help="The store to look into.")
    ] = None,
    workshop: Annotated[
        Path | None,
        typer.Option("--workshop", envvar="REFDB_WORKSHOP", metavar="PATH", help="The file of your own shelf."),
    ] = None,
    version: Annotated[
        bool, typer.Option("--version", help="Print the versions of code and data, and the data's fingerprint.")
    ] = False,
) -> None:
    """Look up metals, glasses and leaf for enamelling, and tell whether a glass suits a metal.

    \b
    Example:
      refdb suits clear-hard-lead-free copper-sheet

    Exit status: 0 answered, suits, or suits with care; 1 does not suit; 2 bad input; 3 no such record;
    4 the store is missing or unusable; 5 cannot say.
    """
    source = context.get_parameter_source("workshop")
    choose_store(store, workshop, source is not None and source.name == "COMMANDLINE")
    if version:
        _tell_versions()
        raise typer.Exit
    if context.invoked_subcommand is None:
        emit(context.get_help() + "\n")
        raise typer.Exit


def application(only: str | None = None, part: str | None = None) -> typer.Typer:
    """The commands as one application: all of them, or one alone (of a group, one of its own), which starts sooner."""
    from importlib import import_module

    app = typer.Typer(
        cls=Root,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        add_completion=True,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback(invoke_without_command=True)(_root)
    for name, room in COMMANDS.items():
        if only in (None, name):
            found = getattr(import_module(f"refdb.cli.{room}"), name)
            if isinstance(found, typer.Typer):
                app.add_typer(_narrowed(found, part), name=name)
            else:
                app.command(name)(found)
    return app


def _narrowed(group: typer.Typer, part: str | None) -> typer.Typer:
    """A group with one of its commands alone; the whole group where it has none of that name."""
    if all(c.name != part for c in group.registered_commands):
        return group
    from copy import copy

    narrow = copy(group)
    narrow.registered_commands = [c for c in group.registered_commands if c.name == part]
    narrow.registered_groups = []
    return narrow


def commands_in(arguments: Sequence[str]) -> tuple[str | None, str | None]:
    """The command that the arguments name, where that is beyond doubt, and what follows it; None asks for all."""
    if "_REFDB_COMPLETE" in os.environ:
        return None, None
    rest = hoisted(arguments)[_anywhere(arguments) :]
    if not rest or rest[0] not in COMMANDS:
        return None, None
    return rest[0], rest[1] if len(rest) > 1 else None


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit status; every fault of a person's becomes one line.

    Parameters
    ----------
    arguments : sequence of str, optional
        What follows the name of the command; by default that of the process.
    """
    given = list(sys.argv[1:] if arguments is None else arguments)
    out = sys.stdout
    try:
        command = typer.main.get_command(application(*commands_in(given)))
        say_what_waits(False)
        status = command.main(given, prog_name="refdb", standalone_mode=False)
        say_what_waits(True)
        if sys.stdout is not None:
            sys.stdout.flush()
        return status if isinstance(status, int) else 0
    except RefdbError as error:
        for line in error.line.split("\n"):
            complain(line)
        return error.exit_status
    except _UsageError as error:
        complain(usage_fault(error, given).line)
        return BadInput.exit_status
    except (KeyboardInterrupt, typer.Abort):
        return INTERRUPTED
    except (OutputClosedError, BrokenPipeError):
        return CLOSED
    except SystemExit as leaving:
        # Typer leaves so after completion, and, with stdout wrapped, when the pipe of a help page is closed.
        if sys.stdout is not out:
            sys.stdout = out
            return CLOSED
        return leaving.code if isinstance(leaving.code, int) else 0
    except OSError as error:
        complain(BadInput((error.strerror or "the system refuses").lower(), str(error.filename or "")).line)
        return BadInput.exit_status
    except Exception as error:
        return _failed(error)


def _failed(error: Exception) -> int:
    """One line for a failure of the program itself; REFDB_TRACEBACK=1 shows where it happened.

    Damage of the store or of the workshop may bring any code to a fall, so they are looked over first.
    """
    damage = _damage()
    if damage is not None:
        complain(damage.line)
        return damage.exit_status
    more = os.environ.get("REFDB_TRACEBACK", "") not in ("", "0")
    if more:
        import traceback

        traceback.print_exception(error)
    complain(
        RefdbError(
            f"refdb itself failed ({type(error).__name__}: {error})"[:_LONGEST_FAULT],
            todo="nothing was decided, and your question may be sound"
            + ("" if more else "; REFDB_TRACEBACK=1 shows more"),
        ).line
    )
    return FAILED


def _damage() -> StoreUnusable | None:
    """What is wrong with the store or the workshop of this run, or None where they are sound or there is none."""
    from refdb.cli.common import store_path, workshop_path
    from refdb.curate.dump import verify
    from refdb.curate.seal import is_as_built
    from refdb.store.workshop.aside import REPAIR
    from refdb.store.workshop.file import Workshop

    try:
        if store_path().is_file() and not is_as_built(store_path()):
            for found in verify(store_path()):
                return found
    except StoreUnusable as fault:
        return fault
    except Exception as error:
        return StoreUnusable(f"the store cannot be read ({type(error).__name__})", str(store_path()))
    own = workshop_path()
    try:
        if own.is_file() and own.stat().st_size:
            with Workshop(own) as shop:
                for what in shop.findings():
                    return StoreUnusable(f"your own shelf is damaged ({what})", str(own), REPAIR)
    except StoreUnusable as fault:
        return fault
    except Exception as error:
        return StoreUnusable(f"your own shelf cannot be read ({type(error).__name__})", str(own), REPAIR)
    return None


def usage_fault(error: Exception, arguments: Sequence[str] = ()) -> BadInput:
    """A fault of usage as one line that says what was probably meant, or names the help page."""
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "refdb"
    what = " ".join(str(error.format_message()).split()).rstrip(".")  # type: ignore[attr-defined]
    if len(what) > _LONGEST_FAULT:
        what = what[: _LONGEST_FAULT - 3] + "..."
    todo = f"try {path} --help"
    if "unexpected extra argument" in what:
        from refdb.cli.meant import with_quotes

        meant = with_quotes(hoisted(arguments)[_anywhere(arguments) :])
        todo = (
            f"did you mean: {meant}"
            if meant
            else f'put a name of several words in quotes, such as "hard clear", or {todo}'
        )
    return BadInput(what[:1].lower() + what[1:] if not what.startswith("--") else what, todo=todo)


def run() -> NoReturn:
    """The entry point: run, and leave with the exit status and no noise."""
    status = main()
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except OSError:
        pass
    if status == CLOSED or status == BadInput.exit_status:
        _silence_exit()
    # All that is left goes with the process; looking through it for garbage first takes a twentieth of a look-up.
    gc.freeze()
    sys.exit(status)


def _silence_exit() -> None:
    """Keep the interpreter from complaining when it flushes what could not be written."""
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
    except (OSError, ValueError, AttributeError):
        pass
