"""Several piece files one after another: which of them is at work, and what to do about the faults of each."""

from __future__ import annotations

import re
import shlex
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from refdb.cli.common import typed
from refdb.cli.output import complain
from refdb.errors import RefdbError


def shown_path(path: Path) -> str:
    """A path as it can be printed, whatever bytes it holds."""
    return "".join(c if c.isprintable() else "?" for c in typed(str(path)))


#: What may stand in a command as it is, and what may stand there between double quotes.
_BARE, _QUOTED = re.compile(r"[\w@%+=:,./-]+"), re.compile(r"[\w@%+=:,./ ()&;'-]+")


def as_argument(path: Path) -> str:
    """A path as it is typed in a command: in quotes where its name holds a space or what a shell would read."""
    name = shown_path(path)
    return name if _BARE.fullmatch(name) else f'"{name}"' if _QUOTED.fullmatch(name) else shlex.quote(name)


class _Progress:
    """One line on a terminal that says which of several files is at work; nothing in a pipe or for one file."""

    def __init__(self, count: int, doing: str) -> None:
        self.count, self.doing = count, doing
        self.shown = count > 1 and sys.stderr is not None and sys.stderr.isatty()

    def say(self, number: int, name: str) -> None:
        """Say what is at work."""
        if self.shown:
            self._write(f"\r\x1b[K{self.doing} {number} of {self.count}: {name[:50]}")

    def clear(self) -> None:
        """Take the line away."""
        if self.shown:
            self._write("\r\x1b[K")

    def _write(self, text: str) -> None:
        try:
            sys.stderr.write("".join(c if c.isprintable() or c in "\r\x1b" else "?" for c in text))
            sys.stderr.flush()
        except (OSError, UnicodeEncodeError):
            self.shown = False


def each_file(files: Sequence[Path], doing: str) -> Iterator[tuple[Path, Any]]:
    """Each file with what to do about its faults: raised for a single file, told in one line among several."""
    progress = _Progress(len(files), doing)

    def fault(error: RefdbError) -> None:
        if len(files) == 1:
            raise error
        progress.clear()
        complain(error.line)

    for number, file in enumerate(files, 1):
        progress.say(number, file.name)
        yield file, fault
    progress.clear()
