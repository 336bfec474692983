"""Several glasses on one metal, or several metals under one glass, side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from refdb.cli.common import (
    JsonOption,
    PoolOption,
    Units,
    UnitsOption,
    complete_glass,
    complete_metal,
    names_in,
    opened,
    tell_taken,
    typed,
)
from refdb.cli.options import Argument, Option
from refdb.cli.output import SCREEN, Column, Page, emit_json

if TYPE_CHECKING:
    from refdb.judge.fit.compared import Comparison


def compare(
    glasses: Annotated[
        list[str], Argument(metavar="GLASS...", autocompletion=complete_glass, help="Two to four glasses, or one.")
    ],
    on: Annotated[
        list[str], Option("--on", metavar="METAL", autocompletion=complete_metal, help="The metal; up to four of them.")
    ],
    metal_thickness: Annotated[
        str, Option("--metal-thickness", metavar="LENGTH", help='0.8mm, "20 ga", or "3 cards" of unfired clay.')
    ] = "",
    front: Annotated[str, Option("--front", metavar="LENGTH", help="Glass on the front; 0.3 mm.")] = "",
    back: Annotated[str, Option("--back", metavar="LENGTH", help="Glass on the back, 0 for none.")] = "",
    first: Annotated[str, Option("--first", metavar="LENGTH", help="The most laid as a first coat.")] = "",
    shape: Annotated[str, Option("--shape", metavar="flat|domed", help="Shape of the piece; flat.")] = "",
    pool: PoolOption = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """Lay glasses on one metal side by side, or metals under one.

    Two to four of them. Each verdict is that of refdb suits.

    \b
    Examples:
      refdb compare "hard clear" opal-lead-free window-soda-lime --on copper-clay
      refdb compare opal-lead-free --on copper-sheet --on fine-silver-sheet
    """
    from refdb.judge.fit.compared import compare as compared

    given = {"metal_thickness": metal_thickness, "front": front, "back": back, "first": first, "shape": shape}
    texts = {name: typed(text) for name, text in given.items() if text}
    with opened(pool=pool) as ref:
        names = names_in(ref)
        found_glasses = [names.glass(typed(text), f"glass {n}") for n, text in enumerate(glasses, 1)]
        found_metals = [names.metal(typed(text), f"metal {n}") for n, text in enumerate(on, 1)]
        found = compared(ref, found_glasses, found_metals, texts, lambda name: f"--{name.replace('_', '-')}")
    if as_json:
        emit_json(found.as_dict(names.taken))
    else:
        _page(found, names.question, units).show()


def _page(found: Comparison, question: dict[str, object], units: Units) -> Page:
    """All on one screen: what does not fit is told in fewer rows."""
    page = Page()
    for ranges, tail in ((True, True), (False, True), (False, False)):
        page = _laid_out(found, question, units, ranges, tail)
        if len(page.lines) <= SCREEN:
            break
    return page


def _laid_out(found: Comparison, question: dict[str, object], units: Units, ranges: bool, tail: bool) -> Page:
    from refdb.cli.short_page import build_told
    from refdb.judge.fit.compared import together_words
    from refdb.judge.verdict import TEST_TILE

    one = found.rows[0].question
    shared = one.metal if found.of == "glass" else one.glass
    head = f"{len(found.rows)} {'glasses on' if found.of == 'glass' else 'metals under'}"
    page = Page(fahrenheit=units == "studio")
    page.clipped(f"{head} {shared.small}: {build_told(found.rows[0].verdict, units)}")
    if question:
        tell_taken(page, question)
    page.paragraph(found.sentence)
    page.line()
    names = [page.cut(row.name, 2 * _width(page, found)) for row in found.rows]
    columns = [Column(""), *(Column("", wraps=True) for _ in found.rows)]
    widths = [_LABEL, *(_width(page, found) for _ in found.rows)]
    page.rows(columns, [["", *names], *_rows(found, units, ranges)], widths, 0)
    page.line()
    if tail:
        page.paragraph("After each fire: the glass where it is most stretched.")
    for words in together_words(found) if tail else []:
        page.paragraph(words)
    page.paragraph(f"{TEST_TILE} The whole of one: refdb suits GLASS METAL")
    return page


_LABEL = 11


def _width(page: Page, found: Comparison) -> int:
    return (page.width - _LABEL) // len(found.rows) - 2


def _rows(found: Comparison, units: Units, ranges: bool) -> list[list[str]]:
    from refdb.cli.verdict_page import kiln_window, measure_text
    from refdb.judge.fit.compared import worst_of
    from refdb.records.printed import holding

    verdicts = [row.verdict for row in found.rows]

    def told(measure: object) -> str:
        text = measure_text(measure, units) if measure is not None else "not known"  # type: ignore[arg-type]
        return text if ranges else text.partition(" (")[0]

    rows = [
        ["place", *(f"{row.place}{'=' if row.tied else ''}" for row in found.rows)],
        ["verdict", *(v.outcome for v in verdicts)],
        ["holds", *(holding(v.holds) for v in verdicts)],
        ["rests on", *(v.evidence.grade if v.evidence else "-" for v in verdicts)],
        ["gap", *(told(v.measures.get("gap_ppm")) for v in verdicts)],
    ]
    stages = max((v.stages for v in verdicts), key=len)
    for n, stage in enumerate(stages):
        cells = [worst_of(v.stages[n]) if n < len(v.stages) else None for v in verdicts]
        rows.append([f"fire {stage.fire}", *(told(cell) for cell in cells)])
    windows = [kiln_window(v, units).partition(";")[0] or "not known" for v in verdicts]
    return [*rows, ["kiln", *windows], ["decided by", *(row.decided_by for row in found.rows)]]
