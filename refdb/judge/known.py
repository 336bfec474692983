"""What the store knows of one record besides its figures, and what it lacks."""

from __future__ import annotations

from typing import TYPE_CHECKING

from refdb.judge.selectors import matches
from refdb.records import FitRule, Glass, Material, Metal, Property

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: What a record of each kind should have; what of it is missing is said.
EXPECTED = {
    "metal": (
        "expansion",
        "youngs_modulus",
        "poisson_ratio",
        "density",
        "solidus",
        "flow_stress",
        "hardening",
        "flow_ratio_500c",
        "least_thickness",
    ),
    "glass": ("expansion", "set_point", "youngs_modulus", "poisson_ratio", "density", "fuse_low", "fuse_high"),
    "leaf": ("solidus", "leaf_thickness"),
}
#: What a record tells first, for it decides most; all else follows in the order of the list.
_FIRST = (
    "expansion",
    "leaf_thickness",
    "flow_stress",
    "solidus",
    "liquidus",
    "fuse_low",
    "fuse_high",
    "gloss_setting",
    "set_point",
    "least_thickness",
    "shrinkage",
    "youngs_modulus",
)
#: Fields that every record has, and those that stand in tables of their own.
_NOT_A_DETAIL = {*Material.__match_args__} | {"points", "fired_in_carbon", "like", "schedule", "fired_by"}
EXPECTED_OF_CLAY = ("shrinkage", "relative_density")


def kind_of(record: Material) -> str:
    """The kind of a record: metal, glass or leaf."""
    return str(getattr(record, "kind"))  # noqa: B009 - a class attribute of each kind, which the base does not have


def details_of(record: Material) -> dict[str, str]:
    """What is known of a record besides figures: the columns of its own table."""
    names = [name for name in record.__match_args__ if name not in _NOT_A_DETAIL]
    return {name: str(getattr(record, name)) for name in names}


def in_order(properties: list[Property]) -> list[Property]:
    """Properties as a record tells them: expansion, strength and melting first."""
    places = {key: place for place, key in enumerate(_FIRST)}
    return sorted(properties, key=lambda p: places.get(p.key, len(_FIRST)))


def missing_of(record: Material) -> list[str]:
    """Keys of the properties that a record of this kind should have and does not; "expansion curve" for a metal's."""
    wanted = EXPECTED[kind_of(record)]
    if getattr(record, "form", "") == "clay":
        wanted += EXPECTED_OF_CLAY
    gone = [name for name in wanted if record.value(name) is None]
    if isinstance(record, Metal) and len(record.points) < 2:
        gone.append("expansion curve")
    return gone


def not_known(ref: Reference, record: Material) -> list[str]:
    """The same as labels."""
    labels = {p.key: p.label for p in ref.properties()}
    return [labels.get(name, name.replace("_", " ")) for name in missing_of(record)]


def rules_naming(rules: list[FitRule], record: Material) -> list[FitRule]:
    """Rules of surface and use that pick this glass or metal out, not those that hold for any."""
    if isinstance(record, Glass):
        return [r for r in rules if r.glass != "any" and matches(r.glass, record)]
    if isinstance(record, Metal):
        return [r for r in rules if r.metal != "any" and matches(r.metal, record)]
    return []
