"""The processes that another began, by what the system tells of them (`/proc`)."""

from __future__ import annotations

import os
import time


def children_of(pid):
    """The processes that another began, lowest number first, but for what multiprocessing has keep its books."""
    found = []
    for name in filter(str.isdigit, os.listdir("/proc")):
        try:
            with open(f"/proc/{name}/stat") as file:
                parent = int(file.read().rpartition(")")[2].split()[1])
            with open(f"/proc/{name}/cmdline") as file:
                words = file.read()
        except OSError:
            continue
        if parent == pid and "resource_tracker" not in words:
            found.append(int(name))
    return sorted(found)


def gone(pids, within=20.0):
    """Whether all of these have ended by then [s]."""
    until = time.monotonic() + within
    while time.monotonic() < until:
        if not any(os.path.exists(f"/proc/{pid}") for pid in pids):
            return True
        time.sleep(0.05)
    return False
