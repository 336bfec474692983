"""Does this glass suit this metal: the question as typed, and the verdict as a page."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from refdb.cli.common import JsonOption, Units, UnitsOption, chosen_from, complete_glass, complete_metal, opened, typed
from refdb.errors import BadInput

_STANDARD_METAL, _STANDARD_FACE = "0.8 mm", "0.3 mm"


def suits(
    glass: Annotated[str, typer.Argument(autocompletion=complete_glass, help="Key of a glass.")],
    metal: Annotated[str, typer.Argument(autocompletion=complete_metal, help="Key of a metal.")],
    metal_thickness: Annotated[
        str,
        typer.Option(
            "--metal-thickness", metavar="LENGTH", help='0.8mm, 0.6-0.7mm, "20 ga", or "3 cards" of unfired clay.'
        ),
    ] = _STANDARD_METAL,
    front: Annotated[
        str, typer.Option("--front", metavar="LENGTH", help="Glass on the front; 0 for none.")
    ] = _STANDARD_FACE,
    back: Annotated[
        str, typer.Option("--back", metavar="LENGTH", help="Glass on the back; 0 for none.")
    ] = _STANDARD_FACE,
    first: Annotated[
        str | None, typer.Option("--first", metavar="LENGTH", help="The most laid as a first coat; 0.2mm.")
    ] = None,
    shape: Annotated[str, typer.Option("--shape", metavar="flat|domed", help="A dome resists bending.")] = "flat",
    rise: Annotated[
        str | None, typer.Option("--rise", metavar="LENGTH", help="Height of the dome over its rim; 1 to 3 mm.")
    ] = None,
    kiln: Annotated[str | None, typer.Option("--kiln", metavar="TEMP", help="Kiln setting, 815C or 1500F.")] = None,
    kiln_offset: Annotated[
        str | None,
        typer.Option(
            "--kiln-offset",
            metavar="DIFF",
            help='How much hotter the kiln is than it shows: "10 K" or "5-11 K"; else what mine kiln has.',
        ),
    ] = None,
    expansion: Annotated[
        str | None,
        typer.Option(
            "--expansion", metavar="FIGURE", help='The maker\'s own figure, "12.4 ppm/K" or 124e-7/K; needs --span.'
        ),
    ] = None,
    span: Annotated[
        str | None, typer.Option("--span", metavar="SPAN", help="Span of that figure, such as 20-400C.")
    ] = None,
    cubical: Annotated[bool, typer.Option("--cubical", help="That figure is cubical: divide it by three.")] = False,
    brief: Annotated[bool, typer.Option("--brief", help="Only the verdict and its two worst reasons.")] = False,
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
    from refdb.judge.fit.glass_on_metal import judge_question
    from refdb.judge.fit.question import asked

    given = {
        "metal_thickness": metal_thickness,
        "front": front,
        "back": back,
        "first": first,
        "shape": chosen_from(shape, ("flat", "domed"), "--shape"),
        "rise": rise,
        "kiln": kiln,
        "kiln_offset": kiln_offset,
        "expansion": expansion,
        "span": span,
        "cubical": "yes" if cubical else None,
    }
    texts = {name: typed(text) for name, text in given.items() if text is not None}
    for name, text in texts.items():
        if not text.strip():
            raise BadInput("nothing was typed", _option(name), "give a value, or leave the option away")
    with opened() as ref:
        kept = ref.kiln_offset() if "kiln" in texts else None
        question = asked(ref.glass(typed(glass)), ref.metal(typed(metal)), texts, _option, kept)
        verdict = judge_question(ref, question)
    _tell(verdict, question.note, brief, units, as_json)
    raise typer.Exit(verdict.exit_status)


def _tell(verdict: Any, note: str, brief: bool, units: Units, as_json: bool) -> None:
    if as_json:
        from refdb.cli.output import emit_json

        emit_json(verdict.as_dict())
        return
    from refdb.cli.verdict_page import brief_page, verdict_page

    (brief_page(verdict, units) if brief else verdict_page(verdict, units, note)).show()


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"
