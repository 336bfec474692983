"""Which builds hold: how thick the coats may be on a metal, a map of both faces, and builds for a wish."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import (
    CsvOption,
    JsonOption,
    PoolOption,
    Units,
    UnitsOption,
    complete_glass,
    complete_metal,
    names_in,
    one_form,
    opened,
    tell_taken,
    typed,
)
from refdb.cli.options import Argument, Option
from refdb.cli.output import Page, emit_csv, emit_json
from refdb.errors import BadInput

if TYPE_CHECKING:
    from refdb.judge.fit.builds import Builds
    from refdb.judge.fit.wishes import Wishes
    from refdb.judge.naming import Taking
    from refdb.records import Glass, Metal
    from refdb.store.workshop.beside_reference import Shelf


def builds(
    metal: Annotated[
        list[str], Argument(metavar="METAL...", autocompletion=complete_metal, help="A metal, by name or key.")
    ],
    glass: Annotated[
        str, Option("--glass", metavar="GLASS", autocompletion=complete_glass, help="A glass, for a map.")
    ] = "",
    metal_thickness: Annotated[
        str, Option("--metal-thickness", metavar="LENGTH", help='For a map: 0.8mm, "20 ga", "3 cards" of clay.')
    ] = "",
    front: Annotated[str, Option("--front", metavar="LENGTH", help="Glass on the front.")] = "",
    back: Annotated[str, Option("--back", metavar="LENGTH", help="Glass on the back, 0 for none.")] = "",
    first: Annotated[str, Option("--first", metavar="LENGTH", help="The most laid as a first coat.")] = "",
    shape: Annotated[str, Option("--shape", metavar="flat|domed", help="Shape of the piece; flat.")] = "",
    order: Annotated[
        str, Option("--order", metavar="WORD", help="front-first, back-first, or together in one fire.")
    ] = "",
    kiln_most: Annotated[str, Option("--kiln-most", metavar="TEMP", help="The hottest that the kiln goes.")] = "",
    wish: Annotated[
        list[str] | None,
        Option("--wish", metavar="TEXT", help='Such as "front at least 0.5 mm" or "two fires at most".'),
    ] = None,
    full: Annotated[bool, Option("--full", help="Every class, and every build that was found.")] = False,
    pool: PoolOption = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Tell which thicknesses of metal and glass hold.

    Of a metal alone: how thick one coat may be over it. With a glass or a thickness: a map of front and back.
    With --front, --back or --wish: builds that hold, the thinnest metal first.

    \b
    Examples:
      refdb builds copper-sheet
      refdb builds copper-sheet --glass "hard clear" --metal-thickness 0.6mm
      refdb builds copper-clay --wish "front at least 0.5 mm, clay of four cards"
    """
    from refdb.judge.fit.question import thickness_once
    from refdb.judge.fit.wanted import wishes_from
    from refdb.judge.fit.wishes import Wishes

    one_form(as_json, as_csv)
    options = {
        "metal_thickness": metal_thickness,
        "front": front,
        "back": back,
        "first": first,
        "shape": shape,
        "order": order,
        "kiln_most": kiln_most,
    }
    texts = {name: typed(text) for name, text in options.items()}
    wanted = [typed(text) for text in wish or ()]
    wishes_from(wanted, texts, _option)
    with opened(pool=pool) as ref:
        names = names_in(ref)
        the_metal = names.sheet(typed(" ".join(metal)))
        the_glass = names.glass(typed(glass)) if glass else None
        where = _option("metal_thickness")
        texts["metal_thickness"] = thickness_once(names, texts["metal_thickness"], the_metal, where)
        wishes = wishes_from(wanted, texts, _option)
        if not wishes.are_open:
            _found(ref, the_metal, the_glass, wishes, full, units, as_json, as_csv, names)
        elif the_glass is not None or wishes != Wishes():
            _mapped(ref, the_metal, the_glass, wishes, as_json, as_csv, names)
        else:
            _ratios(ref, the_metal, full, as_json, as_csv, names)


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def _ratios(ref: Shelf, metal: Metal, full: bool, as_json: bool, as_csv: bool, names: Taking) -> None:
    from refdb.cli.builds_page import ratios_page
    from refdb.judge.fit.ratios import made_for, ratio_rows, ratios_on

    ratios = ratios_on(ref, metal)
    rows = ratio_rows(ref.materials("glass"), metal, ratios)
    if as_json:
        emit_json({"question": {"metal": metal.key, **names.question}, "rows": rows})
    elif as_csv:
        emit_csv(rows, list(rows[0]) if rows else ["glass"])
    else:
        _shown(ratios_page(metal, made_for(ref, metal), ratios, full), names)


def _mapped(
    ref: Shelf, metal: Metal, glass: Glass | None, wishes: Wishes, as_json: bool, as_csv: bool, names: Taking
) -> None:
    from refdb.cli.builds_page import map_page
    from refdb.judge.fit.build_map import build_map
    from refdb.judge.fit.ratios import made_for, ratios_on, standing_for
    from refdb.judge.fit.wanted import build_of

    classes = made_for(ref, metal)
    stands_for = 0
    if glass is None:
        fold = standing_for(classes, ratios_on(ref, metal))
        if fold is None:
            raise BadInput(f"no glass of the store is made for {metal.small}", "--glass", "name one")
        glass, stands_for = fold
    found = build_map(ref, glass, metal, build_of(metal, wishes))
    ratio = ratios_on(ref, metal, glass).get(glass.key)
    if as_json:
        emit_json(
            {
                "question": {"metal": metal.key, "glass": glass.key, **names.question},
                "ratio": None if ratio is None else ratio.row(),
                "rows": [] if found is None else found.rows(),
            }
        )
    elif as_csv:
        emit_csv([] if found is None else found.rows(), ["front_mm", "back_mm", "holds", "verdict"])
    else:
        _shown(map_page(glass, metal, found, ratio, (stands_for, len(classes)), wishes.metal_text), names)


def _found(
    ref: Shelf,
    metal: Metal,
    glass: Glass | None,
    wishes: Wishes,
    full: bool,
    units: Units,
    as_json: bool,
    as_csv: bool,
    names: Taking,
) -> None:
    from refdb.cli.builds_page import found_page
    from refdb.judge.fit.builds import search

    found: Builds = search(ref, metal, glass, wishes)
    rows: list[dict[str, Any]] = found.rows()
    if as_json:
        question = {"metal": metal.key, "glass": glass.key if glass is not None else None, "wishes": wishes.as_dict()}
        emit_json({"question": question | names.question, "rows": rows})
    elif as_csv:
        emit_csv(rows, _COLUMNS)
    else:
        _shown(found_page(metal, glass, wishes, found, full, units), names)


def _shown(page: Page, names: Taking) -> None:
    """Write a page with how the names were taken under its title."""
    head, page.lines = page.lines[:1], page.lines[1:]
    rest, page.lines = page.lines, head
    tell_taken(page, names.question)
    page.lines += rest
    page.show()


_COLUMNS = (
    "glass",
    "metal",
    "metal_mm",
    "first_mm",
    "front_mm",
    "back_mm",
    "order",
    "shape",
    "fires",
    "verdict",
    "holds",
    "alike",
    "command",
)
