"""How much of one thing a piece takes."""

from __future__ import annotations

import math
from typing import Any

from refdb.frozen import dataclass
from refdb.quantities.typed import Band


@dataclass(frozen=True)
class Amount:
    """How much of one thing, for all pieces together.

    `key` is that of the material, empty for carbon and holding agent; `band` is in `unit`; `how` says in words what
    was multiplied; `needed` is what ends up on or in the piece, where more than that is weighed out; `left` is what
    the person's own stock holds of it, where that is written down.
    """

    what: str
    key: str
    band: Band
    unit: str
    how: str
    sources: tuple[str, ...]
    steps: tuple[int, ...] = ()
    needed: Band | None = None
    note: str = ""
    left: float | None = None

    @property
    def short(self) -> str:
        """Whether the stock falls short, in words; empty when it is enough or not written down."""
        if self.left is None or self.left >= self.band.high:
            return ""
        sure = "is short" if self.left < self.band.low else "may be short"
        return f"{self.what} {sure}: {self.left:g} {self.unit} left, {self.band.low:.3g} to {self.band.high:.3g} wanted"

    def as_dict(self) -> dict[str, Any]:
        """The amount ready for JSON."""
        found: dict[str, Any] = {
            "what": self.what,
            "key": self.key,
            **_plain(self.band),
            "unit": self.unit,
            "how": self.how,
            "steps": list(self.steps),
            "sources": list(self.sources),
        }
        if self.needed is not None:
            found["needed"] = _plain(self.needed)
        if self.left is not None:
            found |= {"left": self.left, "short": self.left < self.band.high}
        return found | ({"note": self.note} if self.note else {})


def product(*factors: Band | float) -> Band:
    """Bands above zero multiplied, low with low and high with high."""
    bands = [f if isinstance(f, Band) else Band.exact(f) for f in factors]
    return Band(math.prod(b.value for b in bands), math.prod(b.low for b in bands), math.prod(b.high for b in bands))


def _plain(band: Band) -> dict[str, float]:
    return {k: float(f"{getattr(band, k):.6g}") for k in ("value", "low", "high")}
