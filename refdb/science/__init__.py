"""Pure functions on SI floats and numpy arrays: no database, no screen, no files."""

from __future__ import annotations

from refdb.science.lazy import exported

__all__ = ["expansion", "firing", "glass", "inference", "melting", "plate", "sampling"]

__getattr__, __dir__ = exported(__name__, dict.fromkeys(__all__, ""))
