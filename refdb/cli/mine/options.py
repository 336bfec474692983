"""The options by which own materials are described, made from their attributes."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from typing import Annotated, Any, TypeVar

import typer

from refdb.cli.common import complete_material
from refdb.errors import BadInput
from refdb.store.workshop.attributes import ATTRIBUTES, Attribute, attribute
from refdb.store.workshop.keys import NAMED

Text = str | None
_Command = TypeVar("_Command", bound=Callable[..., None])


def _option(one: Attribute) -> Any:
    return typer.Option(f"--{one.option.replace('_', '-')}", metavar=one.metavar, help=one.help)


Basis = Annotated[Text, _option(attribute("basis"))]
Date = Annotated[Text, _option(attribute("date"))]
Note = Annotated[Text, _option(attribute("note"))]
Kind = Annotated[str, typer.Argument(metavar="[KIND]", help="glass, metal, leaf, tile, strip, stock, firing or kiln.")]
OwnKey = Annotated[
    str,
    typer.Argument(metavar="KEY", autocompletion=complete_material, help="my:NAME, tile:N, strip:N, firing:N or kiln."),
]
_LeadFree = Annotated[bool, typer.Option("--lead-free", help="The same as --lead free.")]
_Span = Annotated[
    Text, typer.Option("--expansion-span", "--span", metavar="SPAN", help="Span of the expansion: 20-400C.")
]
_Cubical = Annotated[bool, typer.Option("--cubical", help="That figure is cubical: divide it by three.")]
_Observed = Annotated[
    list[str] | None,
    typer.Option(
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

    def decorated(command: _Command) -> _Command:
        own = [p for p in inspect.signature(command, eval_str=True).parameters.values() if p.kind is not p.VAR_KEYWORD]
        ahead = [p for p in own if p.default is p.empty]
        parameters = [*ahead, *_parameters(kinds or NAMED), *(p for p in own if p.default is not p.empty)]
        command.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
            [p.replace(kind=p.KEYWORD_ONLY) for p in parameters]
        )
        command.__annotations__ = {p.name: p.annotation for p in parameters}
        return command

    return decorated


def _parameters(kinds: tuple[str, ...]) -> Iterator[inspect.Parameter]:
    seen: set[str] = set()
    for one in ATTRIBUTES:
        if not one.option or one.option in seen or not set(kinds) & set(one.kinds):
            continue
        seen.add(one.option)
        for name, annotation, default in (
            (one.option, Annotated[Text, _option(one)], None),
            *_BEHIND.get(one.option, ()),
        ):
            yield inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=annotation)


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
