"""What a glass is like, from its composition: one glass as a page, or many from a CSV file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import (
    CsvOption,
    JsonOption,
    Units,
    UnitsOption,
    chosen_from,
    complete_metal,
    names_in,
    one_form,
    opened,
    typed,
)
from refdb.cli.options import Argument, Option
from refdb.errors import BadInput

if TYPE_CHECKING:
    from collections.abc import Mapping

    from refdb.science.glass.estimated import GlassEstimate

_CANNOT_SAY = 5


def estimate(
    composition: Annotated[
        list[str] | None,
        Argument(metavar="[COMPOSITION]", help='Oxides with their per cents: "SiO2 48, Na2O 13.6, ...".'),
    ] = None,
    basis: Annotated[str, Option("--basis", metavar="wt|mol", help="Weight per cent, or mole per cent.")] = "wt",
    from_csv: Annotated[
        Path | None, Option("--from-csv", metavar="FILE", help="One glass a line; the header names the oxides.")
    ] = None,
    check: Annotated[bool, Option("--check", help="With --from-csv: only tell which lines are bad.")] = False,
    keep_good: Annotated[
        bool, Option("--keep-good", help="With --from-csv: bad lines are told, yet no failure.")
    ] = False,
    on: Annotated[
        str | None,
        Option("--on", metavar="METAL", autocompletion=complete_metal, help="Also judge the glass on this metal."),
    ] = None,
    metal_thickness: Annotated[
        str | None, Option("--metal-thickness", metavar="LENGTH", help="With --on: 0.8mm.")
    ] = None,
    front: Annotated[
        str | None, Option("--front", metavar="LENGTH", help="With --on: glass on the front; 0.3mm.")
    ] = None,
    back: Annotated[str | None, Option("--back", metavar="LENGTH", help="With --on: glass on the back; 0.3mm.")] = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> int:
    """Estimate what a glass is like from its composition.

    Each figure comes with the range that holds nine measurements in ten. A measured figure is better.
    A file has one glass a line under a header such as name,SiO2,Na2O,CaO; an empty cell means none.

    \b
    Examples:
      refdb estimate "SiO2 55, Na2O 14, K2O 9, B2O3 8, Al2O3 4, CaO 6, TiO2 4"
      refdb estimate "SiO2 50, PbO 30, K2O 12, Na2O 8" --on copper-sheet

    Exit status: 0 estimated; 2 bad input, or a bad line of the file; 5 nothing can be said of such a glass.
    With --on it is that of the verdict.
    """
    one_form(as_json, as_csv)
    basis = chosen_from(basis, ("wt", "mol"), "--basis")
    texts = _build_texts({"metal_thickness": metal_thickness, "front": front, "back": back}, on)
    text = typed(" ".join(composition or ()))
    if from_csv is not None:
        if composition:
            raise BadInput("a composition and a file exclude each other", "--from-csv", "give one of them")
        from refdb.cli.estimate_table import estimate_table

        return estimate_table(from_csv, basis, on, texts, check, keep_good, units, as_json, as_csv)
    for asked_for, option in ((check, "--check"), (keep_good, "--keep-good"), (as_csv, "--csv")):
        if asked_for:
            raise BadInput("it goes with a file", option, "add --from-csv FILE")
    return _one(text, basis, on, texts, units, as_json)


def _build_texts(given: Mapping[str, str | None], on: str | None) -> dict[str, str]:
    """What was typed of the build, by option; BadInput where there is no metal for it, or nothing was typed."""
    texts = {name: typed(text) for name, text in given.items() if text is not None}
    if texts and on is None:
        name = next(iter(texts))
        raise BadInput("there is no metal for it", _option(name), "add --on METAL, such as --on copper-sheet")
    for name, text in texts.items():
        if not text.strip():
            raise BadInput("nothing was typed", _option(name), "give a value, or leave the option away")
    return texts


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"


def _one(text: str, basis: str, on: str | None, texts: Mapping[str, str], units: Units, as_json: bool) -> int:
    from refdb.cli.estimate_page import add_estimate, estimate_dict
    from refdb.cli.output import Page, emit_json
    from refdb.science.glass.composition import parse_composition

    found = silicate(parse_composition(text), basis)
    with opened() as ref:
        verdict: Any = None
        note = ""
        if on is not None:
            from refdb.judge.fit.from_composition import glass_of, suits_estimated
            from refdb.judge.fit.question import asked

            names = names_in(ref)
            question = asked(glass_of(found), names.sheet(typed(on), "on"), texts, _option, names=names)
            verdict, note = suits_estimated(ref, question), question.note
        if as_json:
            body = {"question": {"composition": text.strip(), "basis": basis}, **estimate_dict(found, ref)}
            emit_json(body if verdict is None else body | {"on": verdict.as_dict()})
        else:
            page = Page()
            add_estimate(page, found, basis, ref, units)
            if verdict is not None:
                from refdb.cli.verdict_page import verdict_page

                page.line()
                page.lines.extend(verdict_page(verdict, units, note).lines)
            page.show()
    if verdict is not None:
        return int(verdict.exit_status)
    return 0 if something(found) else _CANNOT_SAY


def silicate(amounts: Mapping[str, float], basis: str) -> GlassEstimate:
    """The estimate of a composition; BadInput when it is malformed or holds no silica."""
    from refdb.science.glass.composition import normalise

    if normalise(amounts, basis).amounts.get("SiO2", 0.0) == 0.0:
        raise BadInput("the composition has no SiO2", "composition", "only silicate glasses can be estimated")
    from refdb.science.glass import estimate as estimated

    return estimated(amounts, basis)


def something(found: GlassEstimate) -> bool:
    """Whether anything that depends on the composition could be estimated."""
    kept = (found.expansion_ppm_per_k, found.tg_c, found.littleton_c, found.youngs_modulus_pa, found.density_kg_m3)
    return any(value is not None for value in kept)
