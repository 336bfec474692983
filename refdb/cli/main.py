"""The command `refdb`, and how faults become one line and an exit status."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence
from functools import partial
from typing import NoReturn

from refdb.cli.commands import plainly
from refdb.cli.common import say_what_waits
from refdb.cli.output import LONGEST_FAULT, OutputClosedError, complain
from refdb.cli.prompts import Stopped
from refdb.errors import BadInput, RefdbError, StoreUnusable

CLOSED, INTERRUPTED = 141, 130
#: The program itself failed (EX_SOFTWARE of sysexits.h); no verdict ends so.
FAILED = 70


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
        say_what_waits(False)
        asked = plainly(given)
        if asked is None:
            from refdb.cli.application import read_and_run

            asked = partial(read_and_run, given)
        status = asked()
        say_what_waits(True)
        if sys.stdout is not None:
            sys.stdout.flush()
        return status if isinstance(status, int) else 0
    except RefdbError as error:
        for line in error.line.split("\n"):
            complain(line)
        return error.exit_status
    except (KeyboardInterrupt, EOFError, Stopped):
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
            f"refdb itself failed ({type(error).__name__}: {error})"[:LONGEST_FAULT],
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
