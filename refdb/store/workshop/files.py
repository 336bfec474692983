"""Files that appear complete or not at all: parts beside them, folders synced, parts of killed processes cleaned."""

from __future__ import annotations

import os
import re
import shutil
from contextlib import suppress
from pathlib import Path

_PART = re.compile(r"\.([0-9]{1,9})\.part(?:-journal|-wal|-shm)?")


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
                    shutil.rmtree(found, ignore_errors=True)
                else:
                    with suppress(OSError):
                        found.unlink()


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
