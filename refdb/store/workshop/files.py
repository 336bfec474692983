"""Files that appear complete or not at all: parts beside them, folders synced, parts of killed processes cleaned."""

from __future__ import annotations

import errno
import os
import re
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import tempfile

_PART = re.compile(r"\.([0-9]{1,9})\.part(?:-journal|-wal|-shm)?")
_PASSING = re.compile(r"refdb-([0-9]{1,9})-[a-z0-9_]+")


def part_of(target: Path) -> Path:
    """The unfinished file (or folder) of this process that will get the name of the target."""
    return target.with_name(f"{target.name}.{os.getpid()}.part")


def remove_stale(target: Path) -> None:
    """Delete what processes that are no longer there have left unfinished beside a target."""
    with suppress(OSError):
        for found in target.parent.iterdir():
            mark = _PART.fullmatch(found.name[len(target.name) :]) if found.name.startswith(target.name) else None
            if mark and (int(mark[1]) == os.getpid() or not runs(int(mark[1]))):
                if found.is_dir() and not found.is_symlink():
                    _remove_folder(found)
                else:
                    with suppress(OSError):
                        found.unlink()


def _remove_folder(path: Path) -> None:
    # A look-up opens a workshop too, and does not wait for what it has no use for.
    import shutil

    shutil.rmtree(path, ignore_errors=True)


def passing_folder() -> tempfile.TemporaryDirectory[str]:
    """A folder for what this process alone needs for a while; `remove_passed` finds it where the process is ended."""
    import tempfile

    return tempfile.TemporaryDirectory(prefix=f"refdb-{os.getpid()}-")


def remove_passed() -> None:
    """Delete what stopped processes have left in folders of `passing_folder`."""
    import tempfile

    with suppress(OSError):
        for found in Path(tempfile.gettempdir()).iterdir():
            mark = _PASSING.fullmatch(found.name)
            if mark and not runs(int(mark[1])) and found.is_dir() and not found.is_symlink():
                _remove_folder(found)


def runs(process: int) -> bool:
    """Whether a process of this number runs here; where that cannot be told, it is taken to."""
    if os.name != "posix":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        pass
    return True


def sync(path: Path) -> None:
    """Have the disk hold what was written to a file."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folder(folder: Path) -> None:
    """Have the disk hold the names in a folder, where the system can."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        with suppress(OSError):
            os.fsync(handle)
    finally:
        os.close(handle)


def write_whole(target: Path, text: str, *, over: bool = False) -> None:
    """Write a text file that appears complete or not at all.

    Parameters
    ----------
    target : Path
        Its name; a folder that is there.
    text : str
        What it holds, written as it is.
    over : bool
        Whether it may take the place of a file of this name.

    Raises
    ------
    FileExistsError
        There is such a file, and it may not be replaced.
    OSError
        It cannot be written; then whatever was there is as it was.
    """
    if over:
        target = Path(os.path.realpath(target))
    elif os.path.lexists(target):
        raise _there_already(target)
    remove_stale(target)
    part = part_of(target)
    try:
        with part.open("x", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if over:
            os.replace(part, target)
        else:
            _named(part, target)
        sync_folder(target.parent)
    finally:
        with suppress(OSError):
            part.unlink()


def _named(part: Path, target: Path) -> None:
    """Give a file its name unless another has it by now."""
    try:
        os.link(part, target)
    except FileExistsError:
        raise
    except (OSError, NotImplementedError):
        # Not every system of files lets one file have two names.
        if os.path.lexists(target):
            raise _there_already(target) from None
        os.replace(part, target)


def _there_already(target: Path) -> FileExistsError:
    return FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target))
