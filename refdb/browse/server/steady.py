"""How a process that answers one question after another for a long time looks after its memory and its turns."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager

#: How long a calculation goes on before the loop that answers gets its turn [s]; of Python's own 5 ms several add up.
SWITCHES_S = 0.0005
#: How often what nobody holds any more is looked for while pages are answered: as `gc.set_threshold` takes it.
COLLECTS = (5_000, 5, 5)
#: A block of this size, given back at once, has the C library keep twice as much of what is given back later, where it
#: goes by what it has seen (mallopt(3), M_MMAP_THRESHOLD). A verdict takes 2 MB that else come anew from the system.
_KEPT_BYTES = 8 * 1024 * 1024


@contextmanager
def steady() -> Iterator[None]:
    """Answer for long from here on, with what is loaded now."""
    # What is loaded now is never freed; frozen, it is not scanned again. What a request leaves behind goes in circles,
    # some of it as large as the request: at the rate at which a command looks for it, a gigabyte gathers in minutes.
    gc.collect()
    gc.freeze()
    collects, switches = gc.get_threshold(), sys.getswitchinterval()
    gc.set_threshold(*COLLECTS)
    bytes(_KEPT_BYTES)
    sys.setswitchinterval(SWITCHES_S)
    try:
        yield
    finally:
        sys.setswitchinterval(switches)
        gc.set_threshold(*collects)
