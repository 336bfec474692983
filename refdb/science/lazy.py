"""Names of a package that are imported when they are first used, so that the package itself stays light."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def exported(package: str, homes: Mapping[str, str]) -> tuple[Callable[[str], Any], Callable[[], list[str]]]:
    """Return `__getattr__` and `__dir__` of a package (PEP 562).

    Parameters
    ----------
    package : str
        Full name of the package.
    homes : mapping of str to str
        Exported name to the module of the package that holds it; an empty string for a module itself.

    Returns
    -------
    tuple of two functions
        `__getattr__` raises AttributeError for every other name.
    """

    def get(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        found: Any = import_module(f"{package}.{homes[name] or name}")
        if homes[name]:
            found = getattr(found, name)
        setattr(sys.modules[package], name, found)
        return found

    def names() -> list[str]:
        return sorted({*vars(sys.modules[package]), *homes})

    return get, names
