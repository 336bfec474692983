"""refdb: does this glass suit this metal, at this thickness, and why.

The public interface is small: `open_reference()` gives the store, `suits(ref, glass, metal, …)` a verdict, and
`refdb.science` the pure functions below them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"
__all__ = ["__version__", "open_reference", "suits"]

if TYPE_CHECKING:
    from refdb.judge.fit.glass_on_metal import suits
    from refdb.store.reference import open_reference

_HOMES = {"open_reference": "refdb.store.reference", "suits": "refdb.judge.fit.glass_on_metal"}


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        from importlib import import_module

        return getattr(import_module(_HOMES[name]), name)
    if name == "science":
        from importlib import import_module

        return import_module("refdb.science")
    raise AttributeError(f"module 'refdb' has no attribute {name!r}")
