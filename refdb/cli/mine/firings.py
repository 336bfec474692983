"""Firings that were watched, and the kiln's own offset, as they are typed and kept."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import JsonOption, names_in, opened, say_taken, seen_workshop, typed, workshop_path
from refdb.cli.mine.options import Date, Note
from refdb.cli.options import Argument
from refdb.errors import BadInput, NotFound

if TYPE_CHECKING:
    pass

Row = dict[str, Any]
OBSERVED = "--observed"
#: Typed to forget all firings of a jar.
NONE = "none"
_FORM = '"815C 3min copper 0.75mm"'


def firing_rows(row: Row, texts: Sequence[str], day: str | None) -> list[Row]:
    """The rows of firings typed with a jar.

    Parameters
    ----------
    row : dict
        The jar, with its key; columns may be absent.
    texts : sequence of str
        Each a kiln setting, minutes, a metal and its thickness, and what was seen where that was not gloss.
    day : str, optional
        ISO date they were seen on; today otherwise.

    Raises
    ------
    BadInput, NotFound
    """
    if not texts:
        return []
    from refdb.plan.observed import observed_firing
    from refdb.plan.own.firings import row_of_firing
    from refdb.plan.own.tiles import today
    from refdb.store.workshop.cells import past_date
    from refdb.store.workshop.records import own_record
    from refdb.store.workshop.schema import GLASS, PREFIX

    on = past_date(typed(day).strip(), "--date") if day else today()
    with opened(making=True) as ref:
        like = ref.glass(row["like"]) if row.get("like") else None
        jar: Any = own_record("glass", {**dict.fromkeys(GLASS.names), **row}, like)
        names = names_in(ref)
        seen = [observed_firing(ref, jar, typed(text), names, _FORM) for text in texts]
        say_taken(names)
    return [row_of_firing(f, PREFIX + row["key"], on, OBSERVED) for f in seen]


def texts_of_firings(observed: Sequence[str] | None) -> tuple[bool, list[str]]:
    """Whether all firings are to be forgotten, and those typed."""
    texts = [text.strip() for text in observed or ()]
    if any(not text for text in texts):
        raise BadInput("nothing was typed", OBSERVED, f"write it as {_FORM}")
    told = [text for text in texts if text.lower() != NONE]
    return len(told) < len(texts), told


def kiln(
    offset: Annotated[
        list[str] | None,
        Argument(
            metavar="[OFFSET]", help='How much hotter it is than it shows: "12 K", "8 to 16 K" or 20F; none forgets it.'
        ),
    ] = None,
    date: Date = None,
    note: Note = None,
    as_json: JsonOption = False,
) -> None:
    """Show how far your kiln is off, or write it down.

    The figure is below zero for a kiln that is cooler than it shows. Where refdb suits or refdb piece judges a kiln
    setting, or reads a firing that you watched, it counts in the figure that stands here, with its range.

    \b
    Examples:
      refdb mine kiln 12 K
      refdb mine kiln -10 to -4 K
    """
    from refdb.cli.mine.pages import show_page, told_row
    from refdb.store.workshop.file import Workshop

    if not offset:
        with Workshop(seen_workshop()) as shop:
            if shop.row("kiln", "kiln") is None:
                raise NotFound(
                    "nothing is written down of your kiln",
                    todo='refdb mine kiln "12 K" writes it, refdb mine learn kiln tells it from tiles',
                )
            show_page(shop, "kiln", "kiln", as_json)
        return
    text = typed(" ".join(offset)).strip()
    if text.lower() == NONE:
        with Workshop(workshop_path(), write=workshop_path().is_file()) as shop:
            row = shop.row("kiln", "kiln")
            if row is None:
                raise NotFound("nothing is written down of your kiln")
            shop.remove("kiln", "kiln")
        told_row("Removed", "kiln", row, as_json, "refdb mine restore kiln brings it back.")
        return
    row = _kiln_row(text, date, note)
    with Workshop(seen_workshop(making=True), write=True) as shop:
        row = shop.add("kiln", row)
    told_row("Written down", "kiln", row, as_json)


def _kiln_row(text: str, date: str | None, note: str | None) -> Row:
    import re

    from refdb.plan.own.tiles import today
    from refdb.quantities import temperature_difference_k
    from refdb.store.workshop.cells import past_date, plain
    from refdb.store.workshop.rows import bounded
    from refdb.store.workshop.schema import KILN

    # Two ends share the unit that stands behind the second.
    ends = re.fullmatch(r"\s*([+-]?[\d.]+)\s*(?:to|–|-)\s*([+-]?[\d.]+)\s*(\S+)\s*", text)
    texts = [f"{ends[1]} {ends[3]}", f"{ends[2]} {ends[3]}"] if ends else [text]
    found = sorted(round(temperature_difference_k(t, where="OFFSET"), 6) for t in texts)
    row: Row = {
        "key": "kiln",
        "offset_k": round(sum(found) / len(found), 6),
        "basis": "own test",
        "offset_low_k": found[0] if ends else None,
        "offset_high_k": found[1] if ends else None,
        "date": past_date(typed(date), "--date") if date else today(),
        "note": plain(note, "--note") if note else None,
    }
    try:
        bounded(KILN, row)
    except BadInput as bad:
        raise BadInput(bad.what, "OFFSET", bad.todo) from None
    return row
