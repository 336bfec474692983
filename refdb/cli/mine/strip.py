"""The strip test: the expansion of a jar of glass from the bow of a coated strip of metal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from refdb.cli.common import (
    JsonOption,
    complete_glass,
    complete_metal,
    names_in,
    opened,
    say_taken,
    typed,
    workshop_path,
)
from refdb.errors import BadInput

if TYPE_CHECKING:
    from refdb.judge.own.strip_test import Measured
    from refdb.quantities.band import Band
    from refdb.records import Glass
    from refdb.science.inference.strip import Strip
    from refdb.store.workshop.beside_reference import Shelf

#: The class whose stiffness and set point stand in where nothing says what the glass is like.
STAND_IN = "clear-medium-lead-free"
#: So many of the last strips of a jar are read together with the new one.
MOST_TOGETHER = 6
_Text = str | None


_Metal = Annotated[
    str, typer.Option("--metal", metavar="KEY", autocompletion=complete_metal, help="Key of the strip's metal.")
]
_MetalThickness = Annotated[str, typer.Option("--metal-thickness", metavar="LENGTH", help="0.5mm.")]
_GlassThickness = Annotated[str, typer.Option("--glass-thickness", metavar="LENGTH", help="Fired coat: 0.3mm.")]
_Length = Annotated[str, typer.Option("--length", metavar="LENGTH", help="Straight from end to end: 100mm.")]
_Bow = Annotated[
    _Text,
    typer.Option("--bow", metavar="LENGTH", help="Gap under the middle: 4.4mm; below zero with the glass inside."),
]
_Radius = Annotated[_Text, typer.Option("--radius", metavar="LENGTH", help="In place of the bow: 285mm.")]
_BowBefore = Annotated[
    _Text, typer.Option("--bow-before", metavar="LENGTH", help="Bow before firing, in the same sense.")
]
_BowError = Annotated[
    str, typer.Option("--bow-error", metavar="LENGTH", help="How far the bow may be off, as a standard deviation.")
]
_Width = Annotated[_Text, typer.Option("--width", metavar="LENGTH", help="Width of the strip: 10mm.")]
_SetPoint = Annotated[
    _Text, typer.Option("--set-point", metavar="TEMP", help="Where the glass sets: 510C or 500-530C.")
]
_Glass = Annotated[
    _Text,
    typer.Option("--glass", metavar="KEY", autocompletion=complete_glass, help="Your jar, or a class it is like."),
]
_Save = Annotated[
    _Text,
    typer.Option(
        "--save",
        metavar="KEY",
        autocompletion=complete_glass,
        help="Keep the strip, and its result as the expansion of this jar of yours.",
    ),
]
_Alone = Annotated[bool, typer.Option("--alone", help="Leave earlier strips of the jar out.")]
_Note = Annotated[_Text, typer.Option("--note", metavar="TEXT", help="Whatever else.")]


def strip(
    metal: _Metal,
    metal_thickness: _MetalThickness,
    glass_thickness: _GlassThickness,
    length: _Length,
    bow: _Bow = None,
    radius: _Radius = None,
    bow_before: _BowBefore = None,
    bow_error: _BowError = "0.1 mm",
    width: _Width = None,
    set_point: _SetPoint = None,
    glass: _Glass = None,
    save: _Save = None,
    alone: _Alone = False,
    note: _Note = None,
    as_json: JsonOption = False,
) -> None:
    """Tell a glass's expansion from a strip of metal that it bent.

    Coat one face of a thin strip, fire it, let it cool, and measure how far its middle stands off a flat plate.
    Earlier strips of the same jar that were kept are read together with this one.

    \b
    Example:
      refdb mine strip --metal copper-sheet --metal-thickness 0.5mm
        --glass-thickness 0.3mm --length 100mm --bow 4.4mm --save my:jar-12
    """
    from refdb.cli.mine.strip_page import strip_json, strip_page

    measured = _measured(metal_thickness, glass_thickness, length, bow, radius, bow_before, bow_error, width, set_point)
    shown = _answer(measured, typed(metal), glass, save, alone, _note(note))
    if as_json:
        from refdb.cli.output import emit_json

        emit_json(strip_json(**shown))
    else:
        strip_page(**shown).show()


def _answer(measured: Measured, metal: str, glass: _Text, save: _Text, alone: bool, note: _Text) -> dict[str, Any]:
    """The arguments of `strip_page` and `strip_json`; the strip is stored where `save` names a jar."""
    from refdb.judge.own.strip_test import same_glass, strip_of
    from refdb.science.inference.strip import read_strips

    with opened() as ref:
        target = _own_jar(ref, save) if save is not None else None
        names = names_in(ref)
        jar = names.glass(typed(glass)) if glass is not None else target
        sheet, stand_in = names.metal(metal, instead="give it with --metal-thickness"), ref.glass(STAND_IN)
        say_taken(names)
        new, notes = strip_of(jar, sheet, measured, stand_in)
        # The value of a jar rests on the strips of that jar, whatever class stood in for it.
        earlier = [] if alone else _earlier(ref, target or jar, stand_in)
    together = same_glass([*earlier, new])
    reading = read_strips(together)
    saved = None
    if target is not None:
        saved = _saved(_strip_row(target.key, sheet.key, measured, reading.triple, note), target, len(together))
    return {
        "reading": reading,
        "measured": measured,
        "metal": sheet,
        "glass": target or jar,
        "notes": notes,
        "together": len(together),
        "saved": saved,
        "disagrees": _disagreement(target, reading.triple) if target is not None else "",
    }


def _measured(
    metal: str,
    glass: str,
    length: str,
    bow: _Text,
    radius: _Text,
    before: _Text,
    error: str,
    width: _Text,
    set_point: _Text,
) -> Measured:
    from refdb.judge.own.strip_test import Measured
    from refdb.quantities import length_m, thickness

    if (bow is None) == (radius is None):
        raise BadInput(
            "both bow and radius were given" if bow is not None else "neither bow nor radius was given",
            "--bow",
            "give one of them, such as --bow 4.4mm",
        )
    straight = length_m(typed(length), where="--length")
    if bow is not None:
        rise = length_m(typed(bow), where="--bow", signed=True)
    else:
        from refdb.science.inference.strip_table import bow_of_radius

        try:
            rise = bow_of_radius(length_m(typed(radius or ""), where="--radius", signed=True), straight)
        except BadInput as fault:
            raise BadInput(fault.what, "--radius", fault.todo) from None
    band = None
    if set_point is not None:
        from refdb.quantities import temperature_band_c

        band = temperature_band_c(typed(set_point), where="--set-point")
    return Measured(
        thickness(typed(metal), where="--metal-thickness").band,
        thickness(typed(glass), where="--glass-thickness").band,
        straight,
        rise,
        0.0 if before is None else length_m(typed(before), where="--bow-before", signed=True),
        None if width is None else length_m(typed(width), where="--width"),
        length_m(typed(error), where="--bow-error"),
        band,
    )


def _note(note: _Text) -> _Text:
    if not note:
        return None
    from refdb.store.workshop.cells import plain

    return plain(note, "--note")


def _own_jar(ref: Shelf, key: str) -> Glass:
    from refdb.store.workshop.schema import PREFIX

    if not typed(key).strip().lower().startswith(PREFIX):
        raise BadInput(
            "the result can be kept only for a jar of your own",
            "--save",
            f"give its key, {PREFIX}NAME; refdb mine add glass makes one",
        )
    return ref.glass(typed(key))


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
    from refdb.quantities.band import Band

    value, low, high = (row[f"{stem}_{end}mm"] for end in ("", "low_", "high_"))
    return Band(value / 1e3, (value if low is None else low) / 1e3, (value if high is None else high) / 1e3)


def _disagreement(jar: Glass, triple: tuple[float, float, float]) -> str:
    """A sentence where the expansion written down of a jar and that of its strip have no value in common; else ""."""
    from refdb.judge.own.effective import effective_20_400, is_effective
    from refdb.store.workshop.records import SOURCES

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


def _strip_row(
    glass: str, metal: str, measured: Measured, triple: tuple[float, float, float], note: _Text
) -> dict[str, Any]:
    from refdb.cli.mine.values import today

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


def _saved(row: dict[str, Any], jar: Glass, count: int) -> dict[str, Any]:
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
            bad.what, "--save" if name.startswith("expansion") else f"--{name.replace('_', '-')}", bad.todo
        ) from None
    with Workshop(workshop_path(), write=True) as shop, shop.change():
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
