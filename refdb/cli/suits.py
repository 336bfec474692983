"""Does this glass suit this metal: the question as typed, and the verdict as a page."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import (
    JsonOption,
    PoolOption,
    Units,
    UnitsOption,
    chosen_from,
    complete_glass,
    complete_metal,
    names_in,
    opened,
    typed,
)
from refdb.cli.options import Argument, Option, Parameter, with_parameters
from refdb.cli.output import complain
from refdb.errors import BadInput, NotFound

if TYPE_CHECKING:
    from refdb.judge.naming import Taking
    from refdb.records import Glass, Metal

#: What may be said of a build: name, what stands for a value, and help; a flag has no such word.
BUILD_OPTIONS = (
    ("metal_thickness", "LENGTH", '0.8mm, 0.6-0.7mm, "20 ga", or "3 cards" of unfired clay; 0.8 mm.'),
    ("front", "LENGTH", "Glass on the front, 0 for none; 0.3 mm."),
    ("back", "LENGTH", "Glass on the back, 0 for none; 0.3 mm."),
    ("first", "LENGTH", "The most laid as a first coat; 0.2 mm."),
    ("order", "WORD", "front-first, back-first, or together: both first coats in one fire."),
    ("between", "TIME", "How long a coat waits for the next fire; 24 h."),
    ("shape", "flat|domed", "The middle of a dome resists bending, its rim does not; flat."),
    ("rise", "LENGTH", "Height of the dome over its rim; 1 to 3 mm."),
    ("kiln", "TEMP", "Kiln setting, 815C or 1500F."),
    ("kiln_offset", "DIFF", 'How much hotter the kiln is than it shows: "10 K" or "5-11 K"; else what mine kiln has.'),
    ("kiln_most", "TEMP", "The hottest that the kiln goes; 950 °C."),
    ("expansion", "FIGURE", 'The maker\'s own figure, "12.4 ppm/K" or 124e-7/K; needs --span.'),
    ("span", "SPAN", "Span of that figure, such as 20-400C."),
    ("cubical", "", "That figure is cubical: divide it by three."),
)
#: The same as `suits` is given them, each under its name.
_BUILD = [
    Parameter(
        name,
        str | None if metavar else bool,
        Option(f"--{name.replace('_', '-')}", help=words, **({"metavar": metavar} if metavar else {})),
        None if metavar else False,
    )
    for name, metavar, words in BUILD_OPTIONS
]
_WORDS = {"shape": ("flat", "domed"), "order": ("front-first", "back-first", "together")}


@with_parameters(_BUILD)
def suits(
    glass: Annotated[str, Argument(autocompletion=complete_glass, help="A glass, by name or key.")],
    metal: Annotated[str, Argument(autocompletion=complete_metal, help="A metal, by name or key.")],
    full: Annotated[bool, Option("--full", help="Everything: every reason, number, caution and source.")] = False,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    pool: PoolOption = None,
    schedule: Annotated[
        str | None, Option("--schedule", metavar="NAME", help='How a clay was fired, "high heat"; else all ways.')
    ] = None,
    **build: str | bool | None,
) -> int:
    """Tell whether a glass suits a metal, and why.

    Thicknesses are those after firing. This is for the kiln; the torch is outside it.

    \b
    Examples:
      refdb suits clear-hard-lead-free copper-sheet
      refdb suits clear-hard-lead-free copper-clay --metal-thickness "3 cards"
      refdb suits opal-lead-free gold-24k --expansion 124e-7/K --span 20-400C

    Exit status: 0 suits or suits with care, 1 does not suit, 5 cannot say.
    """
    from refdb.judge.clay import as_sintered, sintered_of
    from refdb.judge.fit.glass_on_metal import judge_question
    from refdb.judge.fit.question import asked

    texts = _texts(build)
    with opened(pool=pool) as ref:
        kept = ref.kiln_offset() if "kiln" in texts else None
        names = names_in(ref)
        pair = _pair(names, typed(glass), typed(metal))
        if schedule is not None:
            pair = pair[0], as_sintered(pair[1], sintered_of(ref, pair[1], typed(schedule), "--schedule"))
        question = asked(*pair, texts, _option, kept, names)
        verdict = judge_question(ref, question)
    _tell(verdict, question.note, full, units, as_json)
    return verdict.exit_status


def _pair(names: Taking, glass: str, metal: str) -> tuple[Glass, Metal]:
    """The glass and the metal, given in either order."""
    try:
        return names.glass(glass), names.sheet(metal)
    except NotFound as error:
        names.taken.clear()
        try:
            pair = names.glass(metal), names.sheet(glass)
        except NotFound:
            raise error from None
        complain("taken the other way round: the glass comes first, then the metal")
        return pair


def _texts(build: dict[str, Any]) -> dict[str, str]:
    """What was typed of a build, by name; a flag counts as yes."""
    texts = {name: "yes" if text is True else typed(text) for name, text in build.items() if text}
    for name, text in build.items():
        if isinstance(text, str) and not text.strip():
            raise BadInput("nothing was typed", _option(name), "give a value, or leave the option away")
    for name, words in _WORDS.items():
        if name in texts:
            texts[name] = chosen_from(texts[name], words, _option(name))
    return texts


def _tell(verdict: Any, note: str, full: bool, units: Units, as_json: bool) -> None:
    if as_json:
        from refdb.cli.output import emit_json

        emit_json(verdict.as_dict())
    elif full:
        from refdb.cli.verdict_page import verdict_page

        verdict_page(verdict, units, note).show()
    else:
        from refdb.cli.short_page import short_page

        short_page(verdict, units, note).show()


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"
