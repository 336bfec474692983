"""Ratios of coat to metal as they are stored; what is not stored is worked out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from refdb.errors import NotFound
from refdb.frozen import dataclass
from refdb.judge.fit.one_face import FIRST_COATS_MM, Ratio, inputs_of, one_face_ratio
from refdb.judge.selectors import words_of
from refdb.records import Glass, Material, Metal

if TYPE_CHECKING:
    from refdb.store.reference import Reference


def ratios_on(ref: Reference, metal: Metal, glass: Glass | None = None) -> dict[str, Ratio]:
    """The ratio of each glass on a metal by its key, or of one glass; what lacks a figure is left out.

    Raises
    ------
    StoreUnusable
    """
    stored = {}
    if _as_stored(ref, metal):
        stored = {
            row["glass"]: Ratio(
                row["first_ratio"], row["first_even"], row["bare_ratio"], row["bare_even"], row["refused_by"] or ""
            )
            for row in ref.builds(metal.key, glass.key if glass is not None else None)
        }
    known: dict[Any, Ratio | None] = {}
    found = {}
    for one in [glass] if glass is not None else ref.materials("glass"):
        assert isinstance(one, Glass)
        ratio = stored.get(one.key) if _as_stored(ref, one) else None
        if ratio is None:
            alike = inputs_of(one)
            if alike not in known:
                known[alike] = one_face_ratio(ref, one, metal)
            ratio = known[alike]
        if ratio is not None:
            found[one.key] = ratio
    return found


def _as_stored(ref: Reference, record: Glass | Metal) -> bool:
    """Whether a record is one of the reference, just as it is stored."""
    try:
        return ref.material(record.key) == record
    except NotFound:
        return False


@dataclass(frozen=True)
class Fold:
    """Classes that nearly share one map: the range of their ratios, and the least metal of the most demanding."""

    glasses: tuple[Glass, ...]
    ratios: tuple[Ratio, ...]

    @property
    def first(self) -> tuple[float, float]:
        """Lowest and highest ratio of a first coat."""
        return _span([r.first for r in self.ratios])

    @property
    def bare(self) -> tuple[float, float]:
        """Lowest and highest ratio of a coat that leaves the other face bare."""
        return _span([r.bare for r in self.ratios])

    @property
    def least_metal_mm(self) -> tuple[float, ...]:
        """The least metal [mm] for the first coats of `FIRST_COATS_MM`, that all of them hold on."""
        return tuple(max(r.least_metal_mm(mm) or 0.0 for r in self.ratios) for mm in FIRST_COATS_MM)


def _span(values: Sequence[float | None]) -> tuple[float, float]:
    known = [v for v in values if v is not None]
    return (min(known), max(known)) if known else (0.0, 0.0)


def folded(glasses: Sequence[Glass], ratios: dict[str, Ratio]) -> list[Fold]:
    """Classes with one map in one row, the most forgiving first.

    Parameters
    ----------
    glasses : sequence of Glass
        Those without a ratio, and those refused at every thickness, are left out.
    ratios : dict
        By key.
    """
    known = [(ratios[g.key], g) for g in glasses if g.key in ratios and ratios[g.key].first is not None]
    known.sort(key=lambda row: (-(row[0].first or 0.0), row[1].key))
    groups: list[list[tuple[Ratio, Glass]]] = []
    for ratio, glass in known:
        top = groups[-1][0][0].least_metal_mm(FIRST_COATS_MM[0]) if groups else None
        if top is not None and ratio.least_metal_mm(FIRST_COATS_MM[0]) == top:
            groups[-1].append((ratio, glass))
        else:
            groups.append([(ratio, glass)])
    return [Fold(tuple(g for _, g in rows), tuple(r for r, _ in rows)) for rows in groups]


def made_for(ref: Reference, metal: Metal) -> list[Glass]:
    """The classes that the trade makes for a metal's family, in order of key."""
    return [
        glass
        for glass in ref.materials("glass")
        if isinstance(glass, Glass) and metal.family in words_of(glass, "made_for")
    ]


def standing_for(classes: Sequence[Glass], ratios: dict[str, Ratio]) -> tuple[Glass, int] | None:
    """The class that stands for a metal's: of the largest fold the most usual ratio, and how many are in it."""
    folds = folded(classes, ratios)
    if not folds:
        return None
    largest = max(folds, key=lambda fold: len(fold.glasses))
    counts = [sum(r == other for other in largest.ratios) for r in largest.ratios]
    return largest.glasses[counts.index(max(counts))], len(largest.glasses)


def ratio_rows(glasses: Sequence[Material], metal: Metal, ratios: dict[str, Ratio]) -> list[dict[str, Any]]:
    """One flat row a glass: whether it is made for the metal, its ratios, and the least metal [mm]."""
    return [
        {
            "glass": glass.key,
            "metal": metal.key,
            "made_for": "yes" if metal.family in words_of(glass, "made_for") else "no",
            **ratios[glass.key].row(),
        }
        for glass in glasses
        if isinstance(glass, Glass) and glass.key in ratios
    ]
