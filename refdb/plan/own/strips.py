"""A strip test as it is typed: what was measured, what it and earlier strips of the jar tell, and how it is kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from refdb.errors import BadInput
from refdb.plan.own.tiles import option, today
from refdb.quantities.band import Band
from refdb.store.workshop.connection import PATIENCE_S

if TYPE_CHECKING:
    from refdb.judge.own.strip_test import Measured
    from refdb.records import Glass, Metal
    from refdb.science.inference.strip import Strip, StripReading
    from refdb.store.workshop.beside_reference import Shelf

#: The class whose stiffness and set point stand in where nothing says what the glass is like.
STAND_IN = "clear-medium-lead-free"
#: So many of the last strips of a jar are read together with the new one.
MOST_TOGETHER = 6


def measured_of(texts: Mapping[str, str], where: Callable[[str], str] = option) -> Measured:
    """What was measured on a strip.

    Parameters
    ----------
    texts : mapping
        By name: metal_thickness, glass_thickness, length, bow or radius; bow_before, bow_error, width, set_point.
    where : callable
        How a name is called where it was typed, for messages.

    Raises
    ------
    BadInput
    """
    from refdb.judge.own.strip_test import BOW_ERROR_M, Measured
    from refdb.quantities import length_m, temperature_band_c, thickness

    for name in ("metal_thickness", "glass_thickness", "length"):
        if name not in texts:
            raise BadInput("is not given", where(name), "measure it, and give it in mm")
    if ("bow" in texts) == ("radius" in texts):
        raise BadInput(
            "both bow and radius were given" if "bow" in texts else "neither bow nor radius was given",
            where("bow"),
            f"give one of them, such as {where('bow')} 4.4mm",
        )
    straight = length_m(texts["length"], where=where("length"))
    if "bow" in texts:
        rise = length_m(texts["bow"], where=where("bow"), signed=True)
    else:
        from refdb.science.inference.strip_table import bow_of_radius

        try:
            rise = bow_of_radius(length_m(texts["radius"], where=where("radius"), signed=True), straight)
        except BadInput as fault:
            raise BadInput(fault.what, where("radius"), fault.todo) from None
    before, width, error, set_point = (texts.get(n) for n in ("bow_before", "width", "bow_error", "set_point"))
    return Measured(
        thickness(texts["metal_thickness"], where=where("metal_thickness")).band,
        thickness(texts["glass_thickness"], where=where("glass_thickness")).band,
        straight,
        rise,
        0.0 if before is None else length_m(before, where=where("bow_before"), signed=True),
        None if width is None else length_m(width, where=where("width")),
        BOW_ERROR_M if error is None else length_m(error, where=where("bow_error")),
        None if set_point is None else temperature_band_c(set_point, where=where("set_point")),
    )


def read_with_earlier(
    ref: Shelf, measured: Measured, metal: Metal, jar: Glass | None, of: Glass | None, alone: bool = False
) -> tuple[StripReading, tuple[str, ...], int]:
    """What a strip tells, read together with the earlier ones of a jar.

    Parameters
    ----------
    ref : Shelf
        The open store with the workshop beside it.
    measured, metal
        The strip.
    jar : Glass, optional
        The glass on it, or a class that it is like.
    of : Glass, optional
        Whose earlier strips are read with it.
    alone : bool
        Whether they are left out.

    Returns
    -------
    tuple
        The reading, what was taken for it, and how many strips it rests on.
    """
    from refdb.judge.own.strip_test import same_glass, strip_of
    from refdb.science.inference.strip import read_strips

    stand_in = ref.glass(STAND_IN)
    new, notes = strip_of(jar, metal, measured, stand_in)
    # The value of a jar rests on the strips of that jar, whatever class stood in for it.
    together = same_glass([*([] if alone else _earlier(ref, of, stand_in)), new])
    return read_strips(together), notes, len(together)


def _earlier(ref: Shelf, jar: Glass | None, stand_in: Glass) -> list[Strip]:
    """The stored strips of a jar whose metals are still known."""
    from refdb.errors import NotFound
    from refdb.judge.own.strip_test import BOW_ERROR_M, Measured, strip_of
    from refdb.store.workshop.schema import PREFIX

    shop = ref.shop
    if jar is None or not jar.key.startswith(PREFIX) or shop is None:
        return []
    rows = shop.rows("SELECT * FROM strips WHERE glass = ? ORDER BY number DESC LIMIT ?", jar.key, MOST_TOGETHER - 1)
    found = []
    for row in reversed(rows):
        try:
            sheet = ref.metal(row["metal"])
        except NotFound:
            continue
        measured = Measured(
            _band_of(row, "metal"),
            _band_of(row, "glass"),
            row["length_mm"] / 1e3,
            row["bow_mm"] / 1e3,
            (row["bow_before_mm"] or 0.0) / 1e3,
            row["width_mm"] / 1e3 if row["width_mm"] else None,
            BOW_ERROR_M if row["bow_error_mm"] is None else row["bow_error_mm"] / 1e3,
        )
        found.append(strip_of(jar, sheet, measured, stand_in)[0])
    return found


def _band_of(row: dict[str, Any], stem: str) -> Band:
    """A thickness of a stored strip [m]."""
    value, low, high = (row[f"{stem}_{end}mm"] for end in ("", "low_", "high_"))
    return Band(value / 1e3, (value if low is None else low) / 1e3, (value if high is None else high) / 1e3)


def disagreement(jar: Glass, triple: tuple[float, float, float]) -> str:
    """A sentence where the expansion written down of a jar and that of its strip have no value in common; else ""."""
    from refdb.judge.own.effective import effective_20_400, is_effective
    from refdb.store.workshop.sources import SOURCES

    row = jar.value("expansion")
    if row is None or row.source not in SOURCES or row.temp_low_c is None or row.temp_high_c is None:
        # The range of a class is not a figure of this jar.
        return ""
    # Like is held against like: a dilatometer's figure with what the transition adds to it.
    band = effective_20_400(row).scaled(1e6)
    old, low, high = band.value, band.low, band.high
    added = "" if is_effective(row) else ", with the transition's contraction added"
    value, least, most = (x * 1e6 for x in triple)
    if least <= high and low <= most:
        return ""
    return (
        f"The strip and the figure that stood with {jar.key} ({old:.2f} ppm/K over 20 to 400 °C{added}, "
        f"{row.locator}) "
        f"disagree by {abs(value - old):.2f} ppm/K, and their ranges do not meet. Before you trust either, check "
        "which side of the bow the glass lay on (a bow with the glass inside is below zero), the bow before "
        "firing, the set point, both thicknesses, and that the maker's figure is linear and of this jar."
    )


def _rounded(value: float) -> float:
    return float(f"{value:.6g}")


def strip_row(
    glass: str, metal: str, measured: Measured, triple: tuple[float, float, float], note: str | None
) -> dict[str, Any]:
    """The row of a strip, with the expansion that it gave [1/K]."""
    per_k = dict(
        zip(
            ("expansion_ppm_per_k", "expansion_low_ppm_per_k", "expansion_high_ppm_per_k"),
            (_rounded(x * 1e6) for x in triple),
            strict=True,
        )
    )
    return {
        "glass": glass,
        "metal": metal,
        **_thickness_row("metal", measured.metal_m),
        **_thickness_row("glass", measured.glass_m),
        "length_mm": _rounded(measured.length_m * 1e3),
        "width_mm": _rounded(measured.width_m * 1e3) if measured.width_m else None,
        "bow_mm": _rounded(measured.bow_m * 1e3),
        "bow_before_mm": _rounded(measured.bow_before_m * 1e3) if measured.bow_before_m else None,
        "bow_error_mm": _rounded(measured.bow_error_m * 1e3),
        "set_point_c": _rounded(measured.set_c.value) if measured.set_c else None,
        **per_k,
        "date": today(),
        "note": note,
    }


def _thickness_row(stem: str, band: Band) -> dict[str, Any]:
    ends = (None, None) if band.is_exact else (_rounded(band.low * 1e3), _rounded(band.high * 1e3))
    return {f"{stem}_mm": _rounded(band.value * 1e3), f"{stem}_low_mm": ends[0], f"{stem}_high_mm": ends[1]}


def keep_strip(
    path: Path,
    row: dict[str, Any],
    jar: Glass,
    count: int,
    where: Callable[[str], str] = option,
    patience_s: float = PATIENCE_S,
) -> dict[str, Any]:
    """Keep the strip and put its result in the jar, both or neither; the row of the strip with its number."""
    from refdb.store.workshop.file import Workshop
    from refdb.store.workshop.rows import bounded
    from refdb.store.workshop.schema import OWN, PREFIX

    slug = jar.key.removeprefix(PREFIX)
    told = f"by {count} strips" if count > 1 else "by a strip"
    try:
        bounded(OWN["strip"], row)
    except BadInput as bad:
        stem = bad.where.removesuffix("_mm").removesuffix("_low").removesuffix("_high")
        name = {"metal": "metal-thickness", "glass": "glass-thickness", "set_point_c": "set-point"}.get(stem, stem)
        raise BadInput(
            bad.what, where("save" if name.startswith("expansion") else name.replace("-", "_")), bad.todo
        ) from None
    with Workshop(path, write=True, patience_s=patience_s) as shop, shop.change():
        full = shop.add("strip", row)
        old = shop.row("glass", slug)
        if old is None:
            raise shop.not_found(slug)
        shop.edit(
            "glass",
            slug,
            {
                **old,
                **{k: v for k, v in row.items() if k.startswith("expansion_")},
                "expansion_tiles": None,
                "expansion_from_c": 20.0,
                "expansion_to_c": 400.0,
                "expansion_as_given": f"{row['expansion_ppm_per_k']:.2f} ppm/K, {told}",
                "expansion_basis": "own test",
                "expansion_date": row["date"],
            },
        )
    return full
