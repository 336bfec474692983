"""What planning allows for losses, gaps and time: each figure once, read from its row of practice in the store."""

from __future__ import annotations

from typing import Any

from refdb.errors import StoreUnusable
from refdb.frozen import dataclass
from refdb.quantities.typed import Band
from refdb.store.reference import Reference

#: Each allowance is the row of practice of this key; the number turns the row's unit into that of the allowance.
SCALES: dict[str, float] = {
    "sift-loss": 1.0,  # share of the powder that falls beside the piece
    "wash-loss": 0.01,  # share of the powder that washes away
    "foil-overlap": 0.01,  # extra leaf over the area it covers
    "agent-volume": 0.01,  # thinned holding agent [m³/m²]; the row has ml/cm²
    "agent-sifting": 1.0,  # parts of water to one of holding agent
    "line-cover": 0.01,  # share of a face that line work covers
    "cloisonne-offcut": 0.01,  # wire cut off or bent wrongly, over the length in the piece
    "clay-binder": 0.01,  # share of water and binder in fresh clay, by mass
    "carbon-depth": 1e-3,  # carbon above, below and between layers [m]
    "carbon-spacing": 1e-3,  # between pieces, and to the wall [m]
    "carbon-loss": 0.01,  # share of the carbon that a fire burns
    "fire-short-hot": 1.0,  # a fire of jewellery [min]
    "kiln-gap": 1e-3,  # between pieces on the floor of a kiln, and to its wall [m]
    "kiln-recovery": 1.0,  # until the kiln is back at its setting [min]
    "kiln-heat-up": 1.0,  # of a cold kiln [min]
    "kiln-cool-down": 60.0,  # of a hot kiln left closed, until what is in it is cold [min]; the row has hours
    "cool-time": 1.0,  # until a small piece is cold to the hand [min]
    "dry-time": 1.0,  # of a coat, before the fire [min]
}
#: Side of the leaves in which leaf is counted [m]; the row gives the area of 25 of them [cm²].
LEAF_BOOK, LEAVES_IN_BOOK = "leaf-book", 25


@dataclass(frozen=True)
class Allowance:
    """A figure of practice with its band, the row it stands in, and that row's source."""

    key: str
    band: Band
    source: str
    statement: str


class Allowances:
    """The rows of practice that planning rests on, read once."""

    def __init__(self, ref: Reference) -> None:
        self._path = str(ref.path)
        self._rows = {row["key"]: row for row in ref.rows("SELECT * FROM practice_rules")}

    def row(self, key: str) -> dict[str, Any]:
        """The row of practice of this key.

        Raises
        ------
        StoreUnusable
            The store has no such row, so that what is planned would have no source.
        """
        if key not in self._rows:
            raise StoreUnusable(
                f"the store has no rule of practice '{key}'",
                self._path,
                "build it again with: refdb build --from data_sources",
            )
        return self._rows[key]

    def __getitem__(self, key: str) -> Allowance:
        row, scale = self.row(key), SCALES[key]
        low, high = row["low"], row["high"]
        if low is None and high is None:
            raise StoreUnusable(
                f"the rule of practice '{key}' has no figure",
                self._path,
                "build it again with: refdb build --from data_sources",
            )
        low, high = (high if low is None else low) * scale, (low if high is None else high) * scale
        return Allowance(key, Band((low + high) / 2, low, high), row["source"], row["statement"])

    def leaf_area_m2(self) -> tuple[float, str]:
        """The area of one leaf of a book [m²], and the source of it."""
        row = self.row(LEAF_BOOK)
        return row["low"] * 1e-4 / LEAVES_IN_BOOK, row["source"]
