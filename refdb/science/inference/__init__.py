"""Calculations run backwards: what a bent strip and test tiles tell of a glass."""

from __future__ import annotations

from typing import TYPE_CHECKING

from refdb.science.lazy import exported

if TYPE_CHECKING:
    from refdb.science.inference.strip import Errors, Strip, StripReading, expansion_from_bow, read_strips

__all__ = ["Errors", "Strip", "StripReading", "expansion_from_bow", "read_strips"]

__getattr__, __dir__ = exported(__name__, dict.fromkeys(__all__, "strip"))
