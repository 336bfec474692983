"""The strip test: the expansion of a jar of glass from the bow of a coated strip of metal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

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
from refdb.cli.options import Option
from refdb.errors import BadInput

if TYPE_CHECKING:
    from refdb.judge.own.strip_test import Measured
    from refdb.records import Glass
    from refdb.store.workshop.beside_reference import Shelf

_Text = str | None


_Metal = Annotated[
    str, Option("--metal", metavar="KEY", autocompletion=complete_metal, help="Key of the strip's metal.")
]
_MetalThickness = Annotated[str, Option("--metal-thickness", metavar="LENGTH", help="0.5mm.")]
_GlassThickness = Annotated[str, Option("--glass-thickness", metavar="LENGTH", help="Fired coat: 0.3mm.")]
_Length = Annotated[str, Option("--length", metavar="LENGTH", help="Straight from end to end: 100mm.")]
_Bow = Annotated[
    _Text, Option("--bow", metavar="LENGTH", help="Gap under the middle: 4.4mm; below zero with the glass inside.")
]
_Radius = Annotated[_Text, Option("--radius", metavar="LENGTH", help="In place of the bow: 285mm.")]
_BowBefore = Annotated[_Text, Option("--bow-before", metavar="LENGTH", help="Bow before firing, in the same sense.")]
_BowError = Annotated[
    str, Option("--bow-error", metavar="LENGTH", help="How far the bow may be off, as a standard deviation.")
]
_Width = Annotated[_Text, Option("--width", metavar="LENGTH", help="Width of the strip: 10mm.")]
_SetPoint = Annotated[_Text, Option("--set-point", metavar="TEMP", help="Where the glass sets: 510C or 500-530C.")]
_Glass = Annotated[
    _Text, Option("--glass", metavar="KEY", autocompletion=complete_glass, help="Your jar, or a class it is like.")
]
_Save = Annotated[
    _Text,
    Option(
        "--save",
        metavar="KEY",
        autocompletion=complete_glass,
        help="Keep the strip, and its result as the expansion of this jar of yours.",
    ),
]
_Alone = Annotated[bool, Option("--alone", help="Leave earlier strips of the jar out.")]
_Note = Annotated[_Text, Option("--note", metavar="TEXT", help="Whatever else.")]


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
    from refdb.plan.own.strips import measured_of

    texts = {
        "metal_thickness": metal_thickness,
        "glass_thickness": glass_thickness,
        "length": length,
        "bow": bow,
        "radius": radius,
        "bow_before": bow_before,
        "bow_error": bow_error,
        "width": width,
        "set_point": set_point,
    }
    measured = measured_of({name: typed(text) for name, text in texts.items() if text is not None})
    shown = _answer(measured, typed(metal), glass, save, alone, _note(note))
    if as_json:
        from refdb.cli.output import emit_json

        emit_json(strip_json(**shown))
    else:
        strip_page(**shown).show()


def _answer(measured: Measured, metal: str, glass: _Text, save: _Text, alone: bool, note: _Text) -> dict[str, Any]:
    """The arguments of `strip_page` and `strip_json`; the strip is stored where `save` names a jar."""
    from refdb.plan.own.strips import disagreement, keep_strip, read_with_earlier, strip_row

    with opened() as ref:
        target = _own_jar(ref, save) if save is not None else None
        names = names_in(ref)
        jar = names.glass(typed(glass)) if glass is not None else target
        sheet = names.metal(metal, instead="give it with --metal-thickness")
        say_taken(names)
        reading, notes, together = read_with_earlier(ref, measured, sheet, jar, target or jar, alone)
    saved = None
    if target is not None:
        row = strip_row(target.key, sheet.key, measured, reading.triple, note)
        saved = keep_strip(workshop_path(), row, target, together)
    return {
        "reading": reading,
        "measured": measured,
        "metal": sheet,
        "glass": target or jar,
        "notes": notes,
        "together": together,
        "saved": saved,
        "disagrees": disagreement(target, reading.triple) if target is not None else "",
    }


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
