"""Rows of the workshop as records, with the class that each is said to be like standing in for what is not known."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from refdb.errors import BadInput
from refdb.frozen import replace
from refdb.quantities.schedules import CARBON, phases_of
from refdb.records import WEAK_BASES, Glass, Leaf, Material, Metal, ObservedFiring, PropertyValue
from refdb.store.schema import CONTENT
from refdb.store.workshop.alloy import ClassMetal, family_of, is_like, poison_of
from refdb.store.workshop.attributes import RECORD_UNITS, attributes_of, figures_of
from refdb.store.workshop.columns import OWN_BASES
from refdb.store.workshop.composition import Content, content_of, said_of
from refdb.store.workshop.keys import PREFIX
from refdb.store.workshop.leaf_metals import SPOILT_LEAF, leaf_is_like, spoils_leaf
from refdb.store.workshop.sources import SHELF, SOURCE_OF

Row = dict[str, Any]
FAMILY = "my own"


def figures(kind: str, row: Row) -> Iterator[PropertyValue]:
    """The figures that stand in a row."""
    if kind != "leaf" and row["expansion_ppm_per_k"] is not None:
        value, low, high = (row[f"expansion_{n}ppm_per_k"] for n in ("", "low_", "high_"))
        figure = _value(
            "expansion",
            "expansion",
            row,
            value,
            low,
            high,
            row["expansion_as_given"] or f"{value:g}",
            "ppm/K",
            (row["expansion_from_c"], row["expansion_to_c"]),
        )
        learnt = row.get("expansion_tiles")
        if learnt:
            # A test's result, however little it says: a guess that tiles have narrowed is no dilatometer's figure.
            figure = replace(
                figure, source=SOURCE_OF["own test"], locator=f"{figure.locator}, learnt from tiles {learnt}"
            )
        yield figure
    if kind == "glass" and row["fuse_low_c"] is not None:
        printed = f"{row['fuse_low_c']:g}-{row['fuse_high_c']:g}"
        for name in ("fuse_high", "fuse_low"):
            yield _value(name, "fuse", row, row[f"{name}_c"], None, None, printed, "degC")
    for stem, suffix, unit, name, *_ in figures_of(kind):
        given = [row[f"{stem}{end}_{suffix}"] for end in ("", "_low", "_high")]
        if given[0] is not None and name != "expansion":
            printed_unit, factor = RECORD_UNITS[unit]
            value, low, high = (None if v is None else v / factor for v in given)
            yield _value(name, stem, row, value, low, high, f"{given[0]:g}", printed_unit)


def _value(
    name: str,
    stem: str,
    row: Row,
    value: float | None,
    low: float | None,
    high: float | None,
    printed: str,
    unit: str,
    span: tuple[float | None, float | None] = (None, None),
) -> PropertyValue:
    basis = row[f"{stem}_basis"] or row["basis"]
    day = row[f"{stem}_date"] or row["date"]
    return PropertyValue(
        name, value, low, high, printed, unit, *span, OWN_BASES[basis], "read", SOURCE_OF[basis], f"{basis}, {day}"
    )


def own_firing(row: Row) -> ObservedFiring:
    """A watched firing of a jar as the reference has those of its classes."""
    return ObservedFiring(
        f"firing:{row['number']}",
        row["glass"],
        row["kiln_c"],
        row["minutes"],
        row["metal"],
        row["metal_mm"],
        row["result"],
        "measured",
        SOURCE_OF["own test"],
        row["note"] or "",
    )


def own_record(kind: str, row: Row, like: Material | None) -> Material:
    """The record of a row.

    Parameters
    ----------
    kind : str
        metal, glass or leaf.
    row : dict
        The whole row of the workshop.
    like : Material, optional
        The class of the reference that it is said to be like; None where none is named or it is no longer there.

    Returns
    -------
    Material
        Own figures are preferred; the class's stand in for the others, with their bands, and say so. Lead and
        cadmium are never taken to be absent because a class is free of them.
    """
    content = _content(row) if kind == "metal" else {}
    named, like = like, None if like is not None and not _alike(like, row, content) else like
    own = (*figures(kind, row), *_zinc(row, content))
    mine = {v.property for v in own}
    taken = () if like is None else tuple(_taken(v, like, mine) for v in like.values)
    family = like.family if like else (content and family_of(content)) or FAMILY
    shared: dict[str, Any] = {
        "key": PREFIX + row["key"],
        "label": row["name"],
        "source": SHELF,
        "family": family,
        "summary": _summary(row, like, named, content),
        "values": (*own, *taken),
    }
    if kind == "glass":
        return _glass(row, like if isinstance(like, Glass) else None, shared)
    if kind == "metal":
        return _metal(row, like if isinstance(like, Metal) else None, shared, content)
    return _leaf(row, like if isinstance(like, Leaf) else None, shared)


def _content(row: Row) -> Content:
    """The contents of a metal; empty where none are written down, or (rows of earlier versions) cannot be read."""
    try:
        return content_of(row["alloy"]) if row["alloy"] else {}
    except BadInput:
        return {}


def _alike(like: Material, row: Row, content: Content) -> bool:
    """Whether the class that a row names may stand in for it; rows of earlier versions were not checked for that."""
    if isinstance(like, Metal) and content:
        zinc = like.band("zinc_content")
        known = ClassMetal(
            like.key, like.family, like.form, like.alloy, None if zinc is None else (zinc.low, zinc.high)
        )
        return is_like(content, known, {like.key: known})
    if isinstance(like, Leaf) and row["metal"]:
        return leaf_is_like(row["metal"], like.metal)
    return True


def _zinc(row: Row, content: Content) -> tuple[PropertyValue, ...]:
    """The zinc content [per cent] as a figure of its own, since zinc fumes; none where there is no zinc."""
    if "Zn" not in content:
        return ()
    low, high = content["Zn"]
    basis = row["basis"]
    return (
        PropertyValue(
            "zinc_content",
            (low + high) / 2,
            low,
            high,
            row["alloy"],
            "percent",
            None,
            None,
            OWN_BASES[basis],
            "read",
            SOURCE_OF[basis],
            f"{basis}, {row['date']}",
        ),
    )


def _taken(value: PropertyValue, like: Material, mine: set[str]) -> PropertyValue:
    """A figure of the class for a record without one of its own; an analogue where it is the expansion of a jar."""
    weak = isinstance(like, Glass) and value.property == "expansion" and value.basis not in WEAK_BASES
    return replace(
        value,
        preferred=value.preferred and value.property not in mine,
        note=_as(like, value.note),
        taken_from=like.key,
        basis="analogue" if weak else value.basis,
    )


def _leaf(row: Row, like: Leaf | None, shared: Row) -> Leaf:
    base = like or Leaf("", "", "", "", "", why="Not known: nothing of the reference is named that it is like.")
    metal = row["metal"] or base.metal
    spoils = "" if like else spoils_leaf(metal)
    if spoils:
        base = replace(base, suited="does not suit", why=f"It holds {spoils}, which {SPOILT_LEAF}.")
    return replace(base, **shared, **_words("leaf", row, base))


def _words(kind: str, row: Row, base: Material) -> Row:
    """The fields of a record that words fill: of the class where the row says nothing.

    That a class is free of lead or cadmium says nothing of a jar.
    """
    fields: Row = {}
    for one in attributes_of(kind):
        if one.record:
            said, of_class = row[one.option], getattr(base, one.record)
            claim = one.columns[0].choices == CONTENT and of_class == "free"
            fields[one.record] = said or ("unknown" if claim else of_class)
    return fields


def _as(like: Material, note: str) -> str:
    return f"taken from {like.key}{f'; {note}' if note else ''}"


def _summary(row: Row, like: Material | None, named: Material | None, content: Content) -> str:
    told = [
        row["note"] or "",
        f"Where nothing of its own is known, figures of {like.small} stand in."
        if like
        else f"It was said to be like {named.key}, which is of another metal: "
        f"{said_of(content) or row['metal']}. So nothing stands in."
        if named
        else f"It was said to be like {row['like']}, which the reference does not have."
        if row["like"]
        else "",
        poison_of(content),
    ]
    return " ".join(t if t.endswith(".") else f"{t}." for t in told if t) or "From your own shelf."


def _glass(row: Row, like: Glass | None, shared: Row) -> Glass:
    base = like or Glass("", "", "", "", "", wash="optional")
    return replace(base, **shared, like=like.key if like else "", **_words("glass", row, base))


def _metal(row: Row, like: Metal | None, shared: Row, content: Content) -> Metal:
    base = like or Metal("", "", "", "", "")
    points = base.points
    if row["expansion_ppm_per_k"] is not None and len(points) > 1:
        points = _scaled(points, row["expansion_ppm_per_k"], row["expansion_from_c"], row["expansion_to_c"])
    words = _words("metal", row, base)
    words["alloy"] = _alloy(content) or words["alloy"]
    in_carbon = base.fired_in_carbon
    if words["schedule"]:
        # What the packet says of carbon goes before what the class does: its fumes are warned of.
        in_carbon = any(p.atmosphere == CARBON for p in phases_of(words["schedule"]))
    return replace(base, **shared, **words, like=like.key if like else "", points=points, fired_in_carbon=in_carbon)


def _alloy(content: Content) -> str:
    """A composition as the reference writes it: symbols, the most first."""
    return ", ".join(f"{s} {low:g}" if low == high else f"{s} {low:g}-{high:g}" for s, (low, high) in content.items())


def _scaled(
    points: tuple[tuple[float, float], ...], ppm_per_k: float, low_c: float, high_c: float
) -> tuple[tuple[float, float], ...]:
    """The class's curve stretched so that its mean over the span is the own figure."""
    low_c, high_c = max(low_c, points[0][0]), min(high_c, points[-1][0])
    if low_c >= high_c:
        return points
    mean = (_strain(points, high_c) - _strain(points, low_c)) / (high_c - low_c)
    return tuple((t, s * ppm_per_k / mean) for t, s in points)


def _strain(points: tuple[tuple[float, float], ...], temp_c: float) -> float:
    """Strain by straight lines between the points; the points stand closer than a span's error."""
    for (t0, s0), (t1, s1) in pairwise(points):
        if temp_c <= t1:
            return s0 + (s1 - s0) * (temp_c - t0) / (t1 - t0)
    return points[-1][1]
