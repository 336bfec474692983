"""How much powder and holding agent so many pieces take, without a piece file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from refdb.cli.common import CsvOption, JsonOption, names_in, one_form, opened, say_taken, tell_taken, typed
from refdb.cli.output import Page, emit_csv, emit_json

if TYPE_CHECKING:
    from refdb.judge.piece.steps import Piece
    from refdb.plan.amounts import Amounts

_HEADER = ("what", "key", "needed", "low", "value", "high", "unit", "how")


def amounts(
    pieces: Annotated[list[str], typer.Argument(metavar="PIECES...", help='How many of what: "12 pendants".')],
    size: Annotated[str, typer.Option("--size", metavar="SIZE", help='"30x24 mm", "30 mm round", "1 in square".')],
    coats: Annotated[
        str, typer.Option("--coats", metavar="COATS", help='"hard clear 0.2 mm both; opaque white 60 % front".')
    ],
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Tell how much powder so many pieces take.

    What falls beside and goes with the washing is counted too.
    Thicknesses are those after firing, in mm unless said; a coat of which none is said is one sifted coat. Pieces are
    oval unless square or rectangle is said. Leaf, clay and carbon are in refdb piece plan.

    \b
    Example:
      refdb amounts 12 pendants --size "30x24 mm" --coats "hard clear both"
    """
    from refdb.plan.amounts import amounts_of
    from refdb.plan.asked_amounts import coats_of, count_of, piece_of, size_of

    one_form(as_json, as_csv)
    title = typed(" ".join(pieces))
    count, area, laid = count_of(title), size_of(typed(size)), coats_of(typed(coats))
    with opened() as ref:
        names = names_in(ref)
        piece = piece_of(title, count, area, laid, lambda name: names.glass(name, "--coats").key)
        found = amounts_of(ref, piece)
        short = ref.source_names()
    rows = [_row(a.as_dict()) for a in found.rows]
    if as_json:
        question = {**_question(piece), "coats": [_coat(s) for s in piece.steps], **names.question}
        emit_json({"question": question, "rows": [a.as_dict() for a in found.rows], "missing": list(found.missing)})
    elif as_csv:
        emit_csv(rows, _HEADER)
        say_taken(names)
    else:
        _page(piece, found, short, names.question).show()


def _page(piece: Piece, found: Amounts, short: dict[str, str], question: dict[str, Any]) -> Page:
    from refdb.cli.piece_page import amounts_table

    page = Page()
    form = "square-cornered" if piece.area_given_m2 else "oval"
    wide, high = piece.width_m * 1e3, piece.height_m * 1e3
    what = "piece" if piece.quantity == 1 else "pieces"
    page.paragraph(
        f"{piece.quantity:,} {what} of {wide:.3g} x {high:.3g} mm, {form}: {piece.area_m2 * 1e4:.3g} cm² each"
    )
    tell_taken(page, question)
    page.line()
    amounts_table(page, found, short)
    page.line()
    page.paragraph("Weigh out the high end for a first batch, and fire a test tile from it.")
    return page


def _question(piece: Piece) -> dict[str, Any]:
    return {
        "pieces": piece.title,
        "quantity": piece.quantity,
        "width_mm": round(piece.width_m * 1e3, 3),
        "height_mm": round(piece.height_m * 1e3, 3),
        "area_mm2": round(piece.area_m2 * 1e6, 2),
    }


def _coat(step: Any) -> dict[str, Any]:
    from refdb.judge.piece.steps import in_mm

    return {"glass": step.glass, "face": step.face, "cover": step.coverage, "thickness_mm": in_mm(step.thickness_m)}


def _row(told: dict[str, Any]) -> dict[str, Any]:
    return told | {"needed": told["needed"]["value"] if "needed" in told else None}
