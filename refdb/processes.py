"""Processes that help another: none goes on when the one that began it is gone."""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from typing import Any


def end_with_parent() -> None:
    """Have this process end when the one that began it has ended, however that came; the person's own goes on.

    Those of a ProcessPoolExecutor hold both ends of what they wait at, so that they would wait for ever.
    """
    parent: Any = multiprocessing.parent_process()
    if parent is None:
        return

    def follow() -> None:
        parent.join()
        os.kill(os.getpid(), signal.SIGTERM)

    threading.Thread(target=follow, daemon=True).start()
