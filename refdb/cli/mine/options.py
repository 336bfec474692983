"""The options by which own materials are described, each once."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from refdb.cli.common import complete_material
from refdb.errors import BadInput

Text = str | None
Name = Annotated[Text, typer.Option("--name", metavar="NAME", help='How you call it, such as "Jar 12".')]
Like = Annotated[
    Text, typer.Option("--like", metavar="KEY", help="The class that stands in for what is not known of it.")
]
Optical = Annotated[Text, typer.Option("--optical", metavar="WORD", help="transparent, opaque or opalescent.")]
Hardness = Annotated[Text, typer.Option("--hardness", metavar="CLASS", help="soft, medium, hard or very hard.")]
Lead = Annotated[Text, typer.Option("--lead", metavar="WORD", help="free, contains or unknown.")]
LeadFree = Annotated[bool, typer.Option("--lead-free", help="The same as --lead free.")]
Cadmium = Annotated[Text, typer.Option("--cadmium", metavar="WORD", help="free, contains or unknown.")]
Colourant = Annotated[Text, typer.Option("--colourant", metavar="TEXT", help="What colours it.")]
Expansion = Annotated[
    Text, typer.Option("--expansion", metavar="FIGURE", help='"12.4 ppm/K", 124e-7/K or "12-13 ppm/K"; needs a span.')
]
Span = Annotated[
    Text, typer.Option("--expansion-span", "--span", metavar="SPAN", help="Span of the expansion: 20-400C.")
]
Cubical = Annotated[bool, typer.Option("--cubical", help="That figure is cubical: divide it by three.")]
Fuses = Annotated[Text, typer.Option("--fuses", metavar="RANGE", help="Kiln settings it is fired at: 780-815C.")]
SetPoint = Annotated[Text, typer.Option("--set-point", metavar="TEMP", help="Where it turns rigid: 520C or 500-540C.")]
Form = Annotated[Text, typer.Option("--form", metavar="FORM", help="sheet, clay or cast; leaf or foil.")]
Alloy = Annotated[Text, typer.Option("--alloy", metavar="TEXT", help='Composition, such as "Cu 95, Zn 5".')]
Solidus = Annotated[Text, typer.Option("--solidus", metavar="TEMP", help="Where it begins to melt: 900C.")]
Shrinkage = Annotated[Text, typer.Option("--shrinkage", metavar="SHARE", help='Of a clay in firing: "10-12 %".')]
OfMetal = Annotated[Text, typer.Option("--metal", metavar="SYMBOLS", help="Of a leaf: Au, or Ag.")]
Fineness = Annotated[Text, typer.Option("--fineness", metavar="TEXT", help="Parts in a thousand, as sold.")]
Thickness = Annotated[Text, typer.Option("--thickness", metavar="LENGTH", help='Of a leaf: "3 um" or 2-4um.')]
Basis = Annotated[
    Text,
    typer.Option("--basis", metavar="WORDS", help='"maker\'s sheet", "own test" or guess (a guess needs a range).'),
]
Date = Annotated[Text, typer.Option("--date", metavar="DATE", help="Of the figures, as 2024-05-31; today.")]
Note = Annotated[Text, typer.Option("--note", metavar="TEXT", help="Whatever else.")]
Kind = Annotated[str, typer.Argument(metavar="[KIND]", help="glass, metal, leaf, tile, strip, stock, firing or kiln.")]
Observed = Annotated[
    list[str] | None,
    typer.Option(
        "--observed",
        metavar="SEEN",
        help='A firing you watched until it shone: "815C 3min copper 0.75mm"; may be given again.',
    ),
]
OwnKey = Annotated[
    str,
    typer.Argument(metavar="KEY", autocompletion=complete_material, help="my:NAME, tile:N, strip:N, firing:N or kiln."),
]


def texts_of(given: dict[str, Any]) -> dict[str, str]:
    """What was typed by option; a flag counts as yes."""
    texts = {n: v for n, v in given.items() if isinstance(v, str) and n != "key"}
    if given.get("lead_free"):
        if texts.get("lead", "free").strip().lower() != "free":
            raise BadInput("--lead and --lead-free exclude each other", todo="give one of them")
        texts["lead"] = "free"
    if given.get("cubical"):
        texts["cubical"] = "yes"
    for name, text in texts.items():
        if not text.strip():
            raise BadInput("nothing was typed", f"--{name.replace('_', '-')}", "give a value, or leave the option away")
    return texts
