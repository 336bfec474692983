"""Glass from its composition: `estimate({"SiO2": 48, …})` gives its properties, each with a 90 % band."""

from __future__ import annotations

from typing import TYPE_CHECKING

from refdb.science.lazy import exported

if TYPE_CHECKING:
    from refdb.science.glass.estimated import GlassEstimate, GlassEstimates
    from refdb.science.glass.properties import estimate, estimate_many

__all__ = ["GlassEstimate", "GlassEstimates", "estimate", "estimate_many"]

__getattr__, __dir__ = exported(
    __name__,
    {
        "GlassEstimate": "estimated",
        "GlassEstimates": "estimated",
        "estimate": "properties",
        "estimate_many": "properties",
    },
)
