"""The reference and the person's shelf with the bands of classes as a pool has them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, Self

from refdb.records import POOLED, Material, PropertyValue, Source
from refdb.store.workshop.beside_reference import Shelf

SOURCE = "pooled-tiles"
_SOURCE = Source(
    SOURCE, "Pooled test tiles", "dataset", "", None, "Test tiles of many studios, pooled beside your workshop"
)


def with_figure(material: Material, figure: PropertyValue) -> Material:
    """The record with a figure in the place of the one that was preferred; the latter stays, beside it."""
    kept = (replace(v, preferred=False) if v.property == figure.property else v for v in material.values)
    return replace(material, values=(*kept, figure))


class PooledShelf(Shelf):
    """A `Shelf` whose classes, and the jars that are like them, have the expansions that a pool taught.

    Parameters
    ----------
    figures : mapping
        By key of a class its expansion. `refdb.judge.own.pooling.figure_of` makes them.
    """

    def __init__(
        self,
        path: Path,
        workshop: Path | None = None,
        figures: Mapping[str, PropertyValue] | None = None,
        *,
        lenient: bool = False,
    ) -> None:
        super().__init__(path, workshop, lenient=lenient)
        self.figures: Mapping[str, PropertyValue] = figures or {}

    def opening(self) -> Callable[[], Self]:
        """What opens the same stores again in another process, with what the pool taught."""
        return partial(type(self), self.path, self.workshop_path, self.figures, lenient=self.lenient)

    def _records(self, kind: str, rows: list[dict[str, Any]]) -> list[Material]:
        return [
            with_figure(one, self.figures[one.key]) if one.key in self.figures else one
            for one in super()._records(kind, rows)
        ]

    def answer(self, glass: str, metal: str, build: str) -> str | None:
        """Numbers worked out before hold for the class's own band alone."""
        return None if glass in self.figures else super().answer(glass, metal, build)

    def answers(self, build: str, glass: str | None = None, metal: str | None = None) -> list[dict[str, Any]]:
        """The same of several."""
        return [row for row in super().answers(build, glass, metal) if row["glass"] not in self.figures]

    def builds(self, metal: str, glass: str | None = None) -> list[dict[str, Any]]:
        """Ratios worked out before hold for the class's own band alone too."""
        return [row for row in super().builds(metal, glass) if row["glass"] not in self.figures]

    def source(self, key: str) -> Source:
        """The source of this key, the pool too."""
        return next((s for s in self.pool_sources() if s.key == key), None) or super().source(key)

    def sources(self) -> list[Source]:
        """All sources, the pool too."""
        return [*super().sources(), *self.pool_sources()]

    def source_names(self) -> dict[str, str]:
        """The short name of every source by its key, the pool too."""
        return super().source_names() | {s.key: s.name for s in self.pool_sources()}

    def pool_sources(self) -> list[Source]:
        """What the figures of the pool rest on; nothing where it taught none."""
        return [_SOURCE] if any(figure.basis == POOLED for figure in self.figures.values()) else []
