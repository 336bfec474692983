"""What own tiles teach, shown as belief before, what was seen, and belief after."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from refdb.cli.common import JsonOption, complete_glass, opened, typed
from refdb.errors import NotFound

if TYPE_CHECKING:
    from refdb.judge.tile_update import Learnt


def learn(
    glass: Annotated[str, typer.Argument(autocompletion=complete_glass, help="Key of the jar, or `kiln`.")],
    as_json: JsonOption = False,
) -> None:
    """Tell what your tiles teach of a jar's expansion, or of the kiln.

    Belief before, what the tiles showed, and belief after; nothing is changed. `refdb mine edit` writes a figure
    down, and `--kiln-offset` of `refdb suits` takes the kiln's.

    \b
    Example:
      refdb mine learn kiln
    """
    from refdb.judge.tile_update import expansion_learnt, kiln_learnt

    with opened() as ref:
        if typed(glass).strip().lower() == "kiln":
            learnt, title = kiln_learnt(ref, ref.all_tiles()), "How much hotter the kiln is than it shows"
            unit, scale = "K", 1.0
        else:
            jar = ref.glass(typed(glass))
            tiles = [t for t in ref.all_tiles() if t.glass == jar.key]
            if not tiles:
                raise NotFound(f"no tile of {jar.key} is written down", todo="refdb mine tile writes one down")
            learnt, title = expansion_learnt(ref, jar, tiles), f"Expansion of {jar.label}, mean over 20 to 400 °C"
            unit, scale = "ppm/K", 1e6
    if as_json:
        from refdb.cli.output import emit_json

        emit_json({"schema": "refdb/1", "quantity": title, "unit": unit} | _plain(learnt, scale))
        return
    _page(learnt, title, unit, scale)


def _plain(learnt: Learnt, scale: float) -> dict[str, Any]:
    return {
        "before": _three(learnt, "prior", scale), "after": _three(learnt, "posterior", scale),
        "told": [t.number for t in learnt.tiles], "silent": [t.number for t in learnt.silent]}


def _three(learnt: Learnt, which: str, scale: float) -> dict[str, float]:
    from refdb.science.tiles import summary

    found = summary(learnt.update.grid, getattr(learnt.update, which))
    return dict(zip(("value", "low", "high"), (round(x * scale, 3) for x in found), strict=True))


def _page(learnt: Learnt, title: str, unit: str, scale: float) -> None:
    from refdb.cli.output import Page

    digits = 1 if unit == "ppm/K" else 0

    def words(which: str) -> str:
        three = _three(learnt, which, scale)
        return (f"{three['value']:.{digits}f} {unit}, {three['low']:.{digits}f} to {three['high']:.{digits}f} "
                "in nine of ten")

    page = Page()
    page.paragraph(title)
    page.line()
    count = len(learnt.tiles)
    page.pairs([("before", f"{words('prior')} ({learnt.prior_words})"),
                ("seen", "1 tile that tells something of it" if count == 1 else
                 f"{count} tiles that tell something of it"),
                ("after", words("posterior"))])
    for tile in learnt.tiles:
        heat = f", kiln at {tile.kiln_c:.0f} °C" if tile.kiln_c is not None else ""
        page.paragraph(f"tile:{tile.number}, {tile.date}: {tile.outcome}, {tile.glass} on {tile.metal}{heat}", 2, 4)
    if learnt.silent:
        page.paragraph(f"{len(learnt.silent)} more tell nothing of it.", 2)
    page.heading("How likely a tile crazes or chips at a tension and a gap, or fails at a heat, is common practice and "
                 "from memory, and one tile in twenty may fail for reasons of its own. A strip tells more.")
    page.show()
