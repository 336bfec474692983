"""Where the command begins: what has to be set before anything large is imported."""

from __future__ import annotations

import gc
import os
from typing import NoReturn

#: The plates are many and small: threads of a linear-algebra library cost more than they save, and start slowly.
_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")


def run() -> NoReturn:
    """The entry point of `refdb` and of `python -m refdb`."""
    # A look-up is over before anything it made is garbage; looking for some all the while costs a twentieth of it.
    gc.set_threshold(100_000, 20, 20)
    for name in _THREADS:
        os.environ.setdefault(name, "1")
    from refdb.cli.main import run as run_command

    run_command()
