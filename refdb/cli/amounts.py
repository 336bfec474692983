"""How much powder and holding agent so many pieces take, without a piece file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import CsvOption, JsonOption, names_in, one_form, opened, say_taken, tell_taken, typed
from refdb.cli.options import Argument, Option
from refdb.cli.output import Page, emit_csv, emit_json

if TYPE_CHECKING:
    from refdb.judge.piece.steps import Base, Piece, Step
    from refdb.plan.amounts import Amounts

_HEADER = ("what", "key", "needed", "low", "value", "high", "unit", "how")


def amounts(
    pieces: Annotated[list[str], Argument(metavar="PIECES...", help='How many of what: "12 pendants".')],
    size: Annotated[str, Option("--size", metavar="SIZE", help='"30x24 mm", "30 mm round", "1 in square".')],
    coats: Annotated[
        str, Option("--coats", metavar="COATS", help='"hard clear 0.2 mm both; opaque white 60 % front".')
    ],
    metal: Annotated[str, Option("--metal", metavar="METAL", help='What it lies on: "copper 1.2 mm".')] = "",
    recess: Annotated[str, Option("--recess", metavar="DEPTH", help='"0.2-0.4 mm, 60 % front".')] = "",
    opening: Annotated[str, Option("--opening", metavar="SIZE", help='Openings through: "5 mm, 40 %".')] = "",
    wire: Annotated[str, Option("--wire", metavar="WIRE", help='In each: "fine silver 0.15x0.8 mm, 120 mm".')] = "",
    inset: Annotated[str, Option("--inset", metavar="INSET", help='In each: "3 opaque white 4x0.8 mm".')] = "",
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Tell how much powder so many pieces take.

    What falls beside and goes with the washing is counted too.
    Thicknesses are those after firing, in mm unless said; a coat of which none is said is one sifted coat. Pieces are
    oval unless square or rectangle is said. A coat in the recess or in openings fills them unless its thickness is
    said. Several of one kind are parted by semicolons. Leaf is in refdb piece plan.

    \b
    Example:
      refdb amounts 12 pendants --size "30x24 mm" --coats "hard clear both"
      refdb amounts 6 --size 30 --coats "hard clear" --wire "24k gold 0.1x1, 9 cm"
    """
    from refdb.plan.amounts import amounts_of
    from refdb.plan.asked_amounts import coats_of, count_of, piece_of, size_of

    one_form(as_json, as_csv)
    title = typed(" ".join(pieces))
    count, area, laid = count_of(title), size_of(typed(size)), coats_of(typed(coats))
    with opened() as ref:
        names = names_in(ref)
        base: Base | None = None
        cells: tuple[Step, ...] = ()
        if metal or recess or opening or wire or inset:
            from refdb.plan.asked_cells import cells_of, metal_of

            base = metal_of(typed(metal), names)
            cells = cells_of(typed(recess), typed(opening), typed(wire), typed(inset), base, names)
        piece = piece_of(title, count, area, laid, lambda name: names.glass(name, "--coats").key, cells, base)
        found = amounts_of(ref, piece)
        short = ref.source_names()
    rows = [_row(a.as_dict()) for a in found.rows]
    if as_json:
        question = {**_question(piece), "coats": [_coat(s) for s in piece.steps_of("coat")], **names.question}
        if base is not None:
            question |= {"metal": base.metal, "metal_mm": _mm(base.thickness_m)}
        if cells:
            question["cells"] = [_cell(s) for s in cells]
        emit_json({"question": question, "rows": [a.as_dict() for a in found.rows], "missing": list(found.missing)})
    elif as_csv:
        emit_csv(rows, _HEADER)
        say_taken(names)
    else:
        _page(piece, found, short, names.question).show()


def _page(piece: Piece, found: Amounts, short: dict[str, str], question: dict[str, Any]) -> Page:
    from refdb.cli.piece_page import amounts_table

    page = Page()
    form = "square-cornered" if piece.area_given_m2 else "round" if piece.width_m == piece.height_m else "oval"
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


def _coat(step: Step) -> dict[str, Any]:
    told: dict[str, Any] = {
        "glass": step.glass,
        "face": step.face,
        "cover": step.coverage,
        "thickness_mm": _mm(step.thickness_m),
    }
    return told | ({"within": step.within} if step.within else {})


def _cell(step: Step) -> dict[str, Any]:
    """What is said of a recess, openings, a wire or an inset."""
    told: dict[str, Any] = {"do": step.do, "glass": step.glass, "metal": step.metal, "cover": step.coverage}
    sizes = {n: _mm(getattr(step, f"{n}_m")) for n in ("depth", "size", "thickness", "height")}
    told |= {f"{n}_mm": size for n, size in sizes.items() if size}
    if step.length_m is not None:
        told["length_mm"] = round(step.length_m * 1e3, 3)
    if step.do == "inset":
        told["count"] = step.count
    return {k: v for k, v in told.items() if v != ""}


def _mm(band: Any) -> dict[str, float] | None:
    from refdb.judge.piece.steps import in_mm

    return in_mm(band) if band is not None else None


def _row(told: dict[str, Any]) -> dict[str, Any]:
    return told | {"needed": told["needed"]["value"] if "needed" in told else None}
