"""Pure functions on SI floats and numpy arrays: no database, no screen, no files."""

from __future__ import annotations

from importlib import import_module
from importlib.util import find_spec
from typing import Any


def __getattr__(name: str) -> Any:
    if not name.startswith("_") and find_spec(f"{__name__}.{name}"):
        return import_module(f"{__name__}.{name}")
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
