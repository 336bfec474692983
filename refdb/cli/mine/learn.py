"""What own tiles teach, shown as belief before, what was seen, and belief after."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import JsonOption, complete_glass, names_in, opened, say_taken, typed, workshop_path
from refdb.cli.options import Argument, Option
from refdb.errors import BadInput, NotFound
from refdb.records.named import is_own

if TYPE_CHECKING:
    from refdb.cli.output import Page
    from refdb.judge.own.tile_update import Learnt
    from refdb.store.workshop.beside_reference import Shelf

#: Typed in place of a jar's key.
KILN = "kiln"
#: More times than this are no number to tell.
MOST_TIMES = 20


def learn(
    glass: Annotated[str, Argument(metavar="KEY", autocompletion=complete_glass, help="Key of the jar, or kiln.")],
    keep: Annotated[bool, Option("--keep", help="Write the belief after down, for the jar or for your kiln.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Tell what your tiles teach of a jar, or of your kiln.

    Belief before, what the tiles showed, and belief after. With --keep the belief after becomes the jar's expansion,
    or the kiln's offset; mine restore brings the former one back. Tiles that were counted are not counted again.

    \b
    Examples:
      refdb mine learn my:jar-12
      refdb mine learn kiln --keep
    """
    from refdb.judge.own.tile_update import expansion_learnt, kiln_learnt

    wanted = typed(glass).strip()
    with opened(of_own=True) as ref:
        before = _row(ref, wanted) if keep else None
        if wanted.lower() == KILN:
            learnt = kiln_learnt(ref, ref.all_tiles(), ref.kiln_offset())
            key, title, unit, scale = KILN, "How much hotter the kiln is than it shows", "K", 1.0
        else:
            names = names_in(ref)
            jar = names.glass(wanted)
            say_taken(names)
            if keep and not jar.is_own:
                raise BadInput(
                    "what is learnt can be kept only for a jar of your own",
                    jar.key,
                    "refdb mine add glass --like KEY makes one",
                )
            tiles = [t for t in ref.all_tiles() if t.glass == jar.key]
            if not tiles:
                raise NotFound(f"no tile of {jar.key} is written down", todo="refdb mine tile writes one down")
            learnt = expansion_learnt(ref, jar, tiles, ref.learnt_from(jar.key))
            key, title = jar.key, f"Effective expansion of {jar.label}, mean over 20 to 400 °C"
            unit, scale = "ppm/K", 1e6
    if keep:
        _keep(key, learnt, before)
    if as_json:
        from refdb.cli.output import emit_json

        emit_json({"quantity": title, "unit": unit, "kept": keep} | _plain(learnt, scale) | _of_expansion(learnt, key))
        return
    _page(learnt, key, title, unit, scale, keep)


def _row(ref: Shelf, wanted: str) -> dict[str, Any] | None:
    """The row that the posterior will replace, as it is before the tiles are weighed."""
    return ref.shop.row(*_place(wanted)) if ref.shop is not None else None


def _place(key: str) -> tuple[str, str]:
    """Kind and bare key of what is learnt."""
    from refdb.store.workshop.keys import own_key

    return (KILN, KILN) if key.lower() == KILN else ("glass", own_key(key))


def _keep(key: str, learnt: Learnt, before: dict[str, Any] | None) -> None:
    """Write the belief after down; nothing changes where no new tile tells anything, or another was quicker."""
    from refdb.plan.own.tiles import today
    from refdb.store.workshop.cells import numbers_text
    from refdb.store.workshop.file import Workshop

    if not learnt.tiles:
        raise BadInput(
            "no tile that was not counted before tells anything of it",
            key,
            "fire more; refdb mine tile writes them down",
        )
    kind, bare = _place(key)
    told, tiles = len(learnt.rests_on), numbers_text(learnt.rests_on)
    with Workshop(workshop_path(), write=True) as shop, shop.change():
        old = shop.row(kind, bare)
        if old != before:
            raise BadInput("it was changed while the tiles were weighed", key, "learn again")
        if key == KILN:
            value, low, high = (round(x, 1) for x in _summed(learnt, "posterior"))
            shop.add(
                KILN,
                {
                    "key": KILN,
                    "offset_k": value,
                    "offset_low_k": low,
                    "offset_high_k": high,
                    "tiles": tiles,
                    "basis": learnt.basis,
                    "date": today(),
                    "note": None,
                },
            )
            return
        if old is None:
            raise shop.not_found(bare)
        value, low, high = (round(x * 1e6, 4) for x in _summed(learnt, "posterior"))
        shop.edit(
            kind,
            bare,
            {
                **old,
                "expansion_ppm_per_k": value,
                "expansion_low_ppm_per_k": low,
                "expansion_high_ppm_per_k": high,
                "expansion_from_c": 20.0,
                "expansion_to_c": 400.0,
                "expansion_tiles": tiles,
                "expansion_as_given": f"{value:.2f} ppm/K, by {told} tile{'s' if told > 1 else ''}",
                "expansion_basis": learnt.basis,
                "expansion_date": today(),
            },
        )


def _plain(learnt: Learnt, scale: float) -> dict[str, Any]:
    return {
        "before": _three(learnt, "prior", scale),
        "after": _three(learnt, "posterior", scale),
        "told": [t.number for t in learnt.tiles],
        "silent": [t.number for t in learnt.silent],
        "counted_before": [t.number for t in learnt.counted],
        "no_longer_there": list(learnt.gone),
        "left_out": list(learnt.left_out),
        "basis": learnt.basis,
    }


def _of_expansion(learnt: Learnt, key: str) -> dict[str, Any]:
    """What is told of a jar alone: that its expansion is effective, and which tile would tell most."""
    if key == KILN:
        return {}
    from refdb.judge.own.effective import EFFECTIVE
    from refdb.judge.own.tile_advice import which_tile

    best = which_tile(learnt)
    return {
        "effective": True,
        "mind": EFFECTIVE,
        "next_tile": None
        if best is None
        else {
            "metal": best.metal,
            "metal_mm": best.metal_mm,
            "front_mm": best.front_mm,
            "back_mm": best.back_mm,
            "information_bit": round(best.gain_bit, 4),
            "one_more_of_the_last_bit": round(best.last_bit, 4),
            "worth_it": best.worth_it,
        },
    }


def _next_tile(learnt: Learnt) -> str:
    """A sentence on the build of tile that would tell most; empty where nothing can be foretold."""
    from refdb.judge.own.tile_advice import which_tile

    best = which_tile(learnt)
    if best is None:
        return ""
    if not best.tells:
        return f"No build of tile of {best.metal} would tell much more; a strip would: refdb mine strip --help."
    if not best.worth_it:
        return f"One more tile like the last on {best.metal} tells as much as any other build of it, or nearly."
    faces = (
        f"{best.front_mm:g} mm of glass on one face"
        if best.back_mm == 0
        else f"{best.front_mm:g} mm of glass in front and {best.back_mm:g} mm behind"
    )
    times = best.gain_bit / best.last_bit if best.last_bit > 0 else float("inf")
    few = times < MOST_TIMES
    than = (
        f"about {times:.0f} times as much as one more like the last"
        if few
        else "one more like the last tells next to nothing"
    )
    return (
        f"Tiles of {best.metal_mm:g} mm {best.metal} with {faces} would tell most, whether they craze or not; {than}."
    )


def _summed(learnt: Learnt, which: str) -> tuple[float, float, float]:
    from refdb.science.inference.tiles import summary

    return summary(learnt.update.grid, getattr(learnt.update, which))


def _three(learnt: Learnt, which: str, scale: float) -> dict[str, float]:
    return dict(zip(("value", "low", "high"), (round(x * scale, 3) for x in _summed(learnt, which)), strict=True))


def _page(learnt: Learnt, key: str, title: str, unit: str, scale: float, kept: bool) -> None:
    from refdb.cli.output import Page

    digits = 1 if unit == "ppm/K" else 0

    def words(which: str) -> str:
        three = _three(learnt, which, scale)
        return (
            f"{three['value']:.{digits}f} {unit}, {three['low']:.{digits}f} to {three['high']:.{digits}f} "
            "in nine of ten"
        )

    page = Page()
    page.paragraph(title)
    page.line()
    count = len(learnt.tiles)
    new = " new" if learnt.counted or learnt.gone else ""
    tells = "1{} tile that tells" if count == 1 else f"{count or 'no'}{{}} tiles that tell"
    page.pairs(
        [
            ("before", f"{words('prior')} ({learnt.prior_words})"),
            ("seen", f"{tells.format(new)} something of it"),
            ("after", words("posterior")),
        ]
    )
    _add_tiles(page, learnt, key)
    if key != KILN:
        from refdb.judge.own.effective import EFFECTIVE

        page.heading("What would tell more")
        page.paragraph(_next_tile(learnt) or "A tile that comes out sound, crazed or chipped.", 2)
        page.heading(EFFECTIVE)
    how = "fails at a heat" if key == KILN else "crazes or chips at a tension and a gap"
    page.heading(
        f"How likely a tile {how} is common practice and from memory, and one tile in twenty may fail for "
        f"reasons of its own.{'' if key == KILN else ' A strip tells more: refdb mine strip --help.'}"
    )
    if kept:
        whose = "your kiln's" if key == KILN else f"the expansion of {key}"
        basis = "a guess still, for the tiles have narrowed it little" if learnt.basis == "guess" else learnt.basis
        page.heading(
            f"Kept as {whose}{' offset' if key == KILN else ''} (basis: {basis}); refdb mine restore {key} "
            "brings the former one back."
        )
    elif learnt.tiles and (key == KILN or is_own(key)):
        page.heading(f"Nothing was changed. To keep it: refdb mine learn {key} --keep")
    page.show()


def _add_tiles(page: Page, learnt: Learnt, key: str) -> None:
    """The tiles that were counted, those that were not, and why."""
    for tile in learnt.tiles:
        heat = f", kiln at {tile.kiln_c:.0f} °C" if tile.kiln_c is not None else ""
        page.paragraph(f"tile:{tile.number}, {tile.date}: {tile.outcome}, {tile.glass} on {tile.metal}{heat}", 2, 4)
    for line in learnt.left_out:
        page.paragraph(f"{line}.", 2, 4)
    if learnt.silent:
        page.paragraph(f"{len(learnt.silent)} more tell nothing of it.", 2)
    if learnt.counted:
        page.paragraph(f"Counted before, and not again: {', '.join(f'tile:{t.number}' for t in learnt.counted)}.", 2, 4)
    if learnt.gone:
        page.paragraph(
            "What is believed before rests on tiles too that are no longer there: "
            f"{', '.join(f'tile:{n}' for n in learnt.gone)}. refdb mine restore {key} goes back.",
            2,
            4,
        )
    if not learnt.tiles and not learnt.counted:
        page.paragraph(
            "A tile tells of the kiln when its --kiln is written down, the range of its glass is known, and "
            "it came out sound, under-fired or burnt."
            if key == KILN
            else "A tile tells of the expansion when it came out sound, crazed, cracked or chipped.",
            2,
        )
