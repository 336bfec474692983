"""Does this glass suit this metal: the question as typed, and the verdict as a page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from refdb.cli.common import (
    JsonOption,
    Units,
    UnitsOption,
    chosen_from,
    complete_glass,
    complete_metal,
    opened,
    typed,
)
from refdb.errors import BadInput

if TYPE_CHECKING:
    from refdb.quantities import Thickness
    from refdb.records import Glass, Metal

_STANDARD_METAL, _STANDARD_FACE = "0.8 mm", "0.3 mm"


def suits(
    glass: Annotated[str, typer.Argument(autocompletion=complete_glass, help="Key of a glass.")],
    metal: Annotated[str, typer.Argument(autocompletion=complete_metal, help="Key of a metal.")],
    metal_thickness: Annotated[
        str,
        typer.Option(
            "--metal-thickness",
            metavar="LENGTH",
            help='0.8mm, 0.6-0.7mm, "20 ga", or "3 cards" of unfired clay.',
        ),
    ] = _STANDARD_METAL,
    front: Annotated[
        str,
        typer.Option(
            "--front",
            metavar="LENGTH",
            help="Glass on the front; 0 for none.",
        ),
    ] = _STANDARD_FACE,
    back: Annotated[
        str,
        typer.Option(
            "--back",
            metavar="LENGTH",
            help="Glass on the back; 0 for none.",
        ),
    ] = _STANDARD_FACE,
    first: Annotated[
        str | None, typer.Option("--first", metavar="LENGTH", help="The most laid as a first coat; 0.2mm.")
    ] = None,
    shape: Annotated[
        str, typer.Option("--shape", metavar="flat|domed", help="A dome resists bending.")
    ] = "flat",
    rise: Annotated[
        str | None,
        typer.Option("--rise", metavar="LENGTH", help="Height of the dome over its rim; 1 to 3 mm."),
    ] = None,
    kiln: Annotated[
        str | None, typer.Option("--kiln", metavar="TEMP", help="Kiln setting, 815C or 1500F.")
    ] = None,
    kiln_offset: Annotated[
        str | None,
        typer.Option(
            "--kiln-offset", metavar="DIFF", help='How much hotter the kiln is than it shows: "10 K".'
        ),
    ] = None,
    expansion: Annotated[
        str | None,
        typer.Option(
            "--expansion",
            metavar="FIGURE",
            help='The maker\'s own figure, "12.4 ppm/K" or 124e-7/K; needs --span.',
        ),
    ] = None,
    span: Annotated[
        str | None, typer.Option("--span", metavar="SPAN", help="Span of that figure, such as 20-400C.")
    ] = None,
    cubical: Annotated[
        bool, typer.Option("--cubical", help="That figure is cubical: divide it by three.")
    ] = False,
    brief: Annotated[
        bool, typer.Option("--brief", help="Only the verdict and its two worst reasons.")
    ] = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """Tell whether a glass suits a metal, and why.

    Thicknesses are those after firing. This is for the kiln; the torch is outside it.

    \b
    Examples:
      refdb suits clear-hard-lead-free copper-sheet
      refdb suits clear-hard-lead-free copper-clay --metal-thickness "3 cards"
      refdb suits opal-lead-free gold-24k --expansion 124e-7/K --span 20-400C

    Exit status: 0 suits or suits with care, 1 does not suit, 5 cannot say.
    """
    from refdb.judge.glass_on_metal import suits as judged
    from refdb.quantities import length_m, temperature_c, temperature_difference_k
    from refdb.quantities import thickness as thickness_of

    shape = chosen_from(shape, ("flat", "domed"), "--shape")
    with opened() as ref:
        the_glass, the_metal = ref.glass(typed(glass)), ref.metal(typed(metal))
        sheet = _metal_thickness(metal_thickness, the_metal)
        faces = [
            thickness_of(typed(text), where=where, zero_ok=True)
            for text, where in ((front, "--front"), (back, "--back"))
        ]
        if all(face.band.value == 0 for face in faces):
            raise BadInput(
                "there is no glass on either face", "--front and --back", "give one of them, such as 0.3mm"
            )
        more: dict[str, Any] = {}
        if first is not None:
            more["first_m"] = thickness_of(typed(first), where="--first").band.value
        if rise is not None:
            if shape == "flat":
                raise BadInput("a flat piece has no rise", "--rise", "add --shape domed")
            more["rise_m"] = length_m(typed(rise), where="--rise")
        if kiln is not None:
            more["kiln_c"] = temperature_c(typed(kiln), where="--kiln")
        if kiln_offset is not None:
            more["kiln_offset_k"] = temperature_difference_k(typed(kiln_offset), where="--kiln-offset")
        the_glass = _with_own_figure(the_glass, expansion, span, cubical)
        verdict = judged(
            ref,
            the_glass,
            the_metal,
            metal_thickness_m=sheet.band,
            front_m=faces[0].band,
            back_m=faces[1].band,
            shape=shape,
            **more,
        )
    _tell(verdict, sheet.note, brief, units, as_json)
    raise typer.Exit(verdict.exit_status)


def _tell(verdict: Any, note: str, brief: bool, units: Units, as_json: bool) -> None:
    if as_json:
        from refdb.cli.output import emit_json

        emit_json(verdict.as_dict())
        return
    from refdb.cli.verdict_page import brief_page, verdict_page

    (brief_page(verdict, units) if brief else verdict_page(verdict, units, note)).show()


def _metal_thickness(text: str, metal: Metal) -> Thickness:
    """The thickness after firing; cards of a clay shrink by what the store knows of it."""
    from refdb.quantities import thickness as thickness_of

    where = "--metal-thickness"
    if metal.form != "clay":
        return thickness_of(typed(text), where=where)
    shrinkage = metal.band("shrinkage")
    if shrinkage is None:
        if "card" in text.lower():
            raise BadInput(
                "the shrinkage of this clay is not known, so cards cannot be counted",
                where,
                "give the thickness after firing, such as 0.7mm",
            )
        return thickness_of(typed(text), where=where)
    return thickness_of(typed(text), where=where, shrinkage=shrinkage.scaled(0.01))


def _with_own_figure(glass: Glass, expansion: str | None, span: str | None, cubical: bool) -> Glass:
    """The glass with the expansion that was typed, or as it is when none was."""
    if expansion is None:
        for given, option in ((span is not None, "--span"), (cubical, "--cubical")):
            if given:
                raise BadInput(
                    "there is no figure for it to belong to",
                    option,
                    'give --expansion too, such as "12.4 ppm/K"',
                )
        return glass
    if span is None:
        raise BadInput(
            "an expansion says little without its span of temperature",
            "--expansion",
            "add the maker's span, such as --span 20-400C",
        )
    from refdb.quantities import expansion_per_k, span_c

    band = expansion_per_k(typed(expansion), cubical=cubical, where="--expansion")
    return glass.with_expansion(band.scaled(1e6), span_c(typed(span), where="--span"))
