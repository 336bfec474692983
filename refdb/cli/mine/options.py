"""The options by which own materials are described, made from their attributes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Annotated, Any, TypeVar, get_args

from refdb.cli.common import complete_material
from refdb.cli.options import Argument, Option, Parameter, with_parameters
from refdb.errors import BadInput
from refdb.store.workshop.attributes import ATTRIBUTES, Attribute, attribute
from refdb.store.workshop.keys import NAMED

Text = str | None
_Command = TypeVar("_Command", bound=Callable[..., None])


def _option(one: Attribute) -> Option:
    return Option(f"--{one.option.replace('_', '-')}", metavar=one.metavar, help=one.help)


Basis = Annotated[Text, _option(attribute("basis"))]
Date = Annotated[Text, _option(attribute("date"))]
Note = Annotated[Text, _option(attribute("note"))]
Kind = Annotated[str, Argument(metavar="[KIND]", help="glass, metal, leaf, tile, strip, stock, firing or kiln.")]
OwnKey = Annotated[
    str, Argument(metavar="KEY", autocompletion=complete_material, help="my:NAME, tile:N, strip:N, firing:N or kiln.")
]
_LeadFree = Annotated[bool, Option("--lead-free", help="The same as --lead free.")]
_Span = Annotated[Text, Option("--expansion-span", "--span", metavar="SPAN", help="Span of the expansion: 20-400C.")]
_Cubical = Annotated[bool, Option("--cubical", help="That figure is cubical: divide it by three.")]
_Observed = Annotated[
    list[str] | None,
    Option(
        "--observed",
        metavar="SEEN",
        help='A firing you watched until it shone: "815C 3min copper 0.75mm"; may be given again.',
    ),
]
#: Options that fill no column of their own, by the attribute that they stand behind: name, annotation and default.
_BEHIND: dict[str, tuple[tuple[str, Any, Any], ...]] = {
    "lead": (("lead_free", _LeadFree, False),),
    "expansion": (("span", _Span, None), ("cubical", _Cubical, False)),
    "set_point": (("observed", _Observed, None),),
}


def with_options(*kinds: str) -> Callable[[_Command], _Command]:
    """A decorator that gives a command the options of some kinds of material, in place of its `**given`.

    What the command is called with besides its own parameters is then by option: a text or None, a flag as bool, and
    the firings that were watched as a list of texts or None.
    """

    return with_parameters(list(_parameters(kinds or NAMED)))


def _parameters(kinds: tuple[str, ...]) -> Iterator[Parameter]:
    seen: set[str] = set()
    for one in ATTRIBUTES:
        if not one.option or one.option in seen or not set(kinds) & set(one.kinds):
            continue
        seen.add(one.option)
        yield Parameter(one.option, Text, _option(one), None)
        for name, annotation, default in _BEHIND.get(one.option, ()):
            kind, told = get_args(annotation)
            yield Parameter(name, kind, told, default)


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
