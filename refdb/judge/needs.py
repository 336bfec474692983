"""What a verdict needs to know of a glass and a metal, and what of it is missing."""

from __future__ import annotations

from collections.abc import Iterator

from refdb.records import Glass, Metal

GLASS_NEEDS = ("expansion", "set_point", "youngs_modulus", "poisson_ratio", "fuse_low", "fuse_high")
METAL_NEEDS = (
    "expansion",
    "youngs_modulus",
    "poisson_ratio",
    "flow_stress",
    "hardening",
    "flow_ratio_500c",
    "solidus",
    "least_thickness",
)
_HOW_TO_GET = {
    "expansion": "ask the maker for it with its temperature span, or bend a test strip",
    "set_point": "ask the maker for the softening or transition temperature",
}
#: What people call a property whose key is a term of mechanics.
_PLAINLY = {"youngs_modulus": "stiffness", "poisson_ratio": "narrowing when stretched"}


def missing_figures(glass: Glass, metal: Metal) -> tuple[str, ...]:
    """What a verdict needs and the store does not have, in words with how to get it."""
    gone: list[str] = []
    for record, needs in ((glass, GLASS_NEEDS), (metal, METAL_NEEDS)):
        lacking = [name for name in needs if record.value(name) is None]
        if lacking and record.is_own and not record.like:
            named = ", ".join(_PLAINLY.get(name, name.replace("_", " ")) for name in lacking)
            alloyed = ", if one is of its alloy" if getattr(record, "alloy", "") else ""
            gone.append(
                f"{named} of {record.label} (say what class it is like{alloyed}: refdb mine edit {record.key} "
                "--like KEY)"
            )
            continue
        for name in lacking:
            how = _HOW_TO_GET.get(name, "ask the maker")
            gone.append(f"{_PLAINLY.get(name, name.replace('_', ' '))} of {record.small} ({how})")
    if len(metal.points) < 2 and not (metal.is_own and not metal.like):
        gone.append(f"expansion curve of {metal.small} (no measured points)")
    return tuple(gone)


def sources_of_needs(glass: Glass, metal: Metal) -> Iterator[str]:
    """Keys of the sources of every figure that a verdict on this pair needs."""
    for record, needs in ((glass, GLASS_NEEDS), (metal, METAL_NEEDS)):
        for name in needs:
            row = record.value(name)
            if row is not None:
                yield row.source
