"""Tests of many studios as they are shared: one row a tile, strip or firing, without a name of anybody or anything."""

from __future__ import annotations

from refdb.frozen import dataclass
from refdb.records.rules import OwnTile

TILE, STRIP, FIRING = "tile", "strip", "firing"


@dataclass(frozen=True)
class SharedRow:
    """One test of a studio.

    `studio`, `jar` and `row` are random signs: of the studio, of one of its jars, and of this test, each the same
    whenever the studio shares again. `glass` and `metal` are keys of the reference; thicknesses, length and bows in
    mm, `kiln_c` as set [°C], `month` as 2026-11. What was not written down is None.
    """

    kind: str
    studio: str
    jar: str
    row: str
    glass: str
    metal: str
    metal_mm: float | None
    front_mm: float | None
    back_mm: float | None
    kiln_c: float | None
    minutes: float | None
    outcome: str | None
    showed: str | None
    month: str
    length_mm: float | None = None
    bow_mm: float | None = None
    bow_before_mm: float | None = None
    bow_error_mm: float | None = None

    @property
    def tile(self) -> OwnTile:
        """A tile as the update of one's own tiles takes it."""
        return OwnTile(
            0,
            self.glass,
            self.metal,
            self.metal_mm,
            self.front_mm,
            self.back_mm,
            self.kiln_c,
            self.minutes,
            self.outcome or "",
            self.showed,
            f"{self.month}-01",
            None,
        )
