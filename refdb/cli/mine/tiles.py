"""Own tiles, and what is left of a material."""

from __future__ import annotations

from typing import Annotated, Any

from refdb.cli.common import (
    JsonOption,
    complete_glass,
    complete_material,
    complete_metal,
    names_in,
    opened,
    say_taken,
    seen_workshop,
    typed,
    workshop_path,
)
from refdb.cli.mine.options import Note, Text, texts_of
from refdb.cli.options import Argument, Option
from refdb.errors import BadInput, NotFound


def stock(
    key: Annotated[str | None, Argument(metavar="[KEY]", autocompletion=complete_material, help="Of what.")] = None,
    left: Annotated[str | None, Argument(metavar="[MASS]", help="What is left of it: 45g.")] = None,
    note: Note = None,
    as_json: JsonOption = False,
) -> None:
    """List what is left, or write down how much is.

    \b
    Example:
      refdb mine stock my:jar-12 45g
    """
    from refdb.cli.mine.listing import list_page
    from refdb.cli.mine.pages import told_row
    from refdb.plan.own.tiles import today
    from refdb.quantities import mass_kg
    from refdb.store.workshop.cells import plain
    from refdb.store.workshop.columns import nine_digits
    from refdb.store.workshop.file import Workshop
    from refdb.store.workshop.rows import bounded
    from refdb.store.workshop.schema import STOCK

    if key is None:
        list_page(("stock",), False, as_json)
        return
    with opened(making=left is not None) as ref:
        names = names_in(ref)
        record = names.material(typed(key))
        say_taken(names)
    if left is None:
        with Workshop(seen_workshop()) as shop:
            if shop.row("stock", record.key) is None:
                raise NotFound(f"nothing is written down of {record.key}", todo=f"refdb mine stock {record.key} 45g")
            from refdb.cli.mine.pages import show_page

            show_page(shop, "stock", record.key, as_json)
        return
    text = typed(left).strip()
    empty = text.lower().replace(" ", "") in ("0", "0g")
    grams = 0.0 if empty else nine_digits(mass_kg(text, where="MASS") * 1e3)
    row: dict[str, Any] = {
        "key": record.key,
        "grams": grams,
        "date": today(),
        "note": plain(note, "--note") if note else None,
    }
    try:
        bounded(STOCK, row)
    except BadInput as bad:
        raise BadInput(bad.what, "MASS", bad.todo) from None
    with Workshop(workshop_path(), write=True) as shop:
        row = shop.add("stock", row)
    told_row("Written down", "stock", row, as_json)


def tile(
    glass: Annotated[str, Argument(autocompletion=complete_glass, help="Key of the glass.")],
    metal: Annotated[str, Argument(autocompletion=complete_metal, help="Key of the metal.")],
    outcome: Annotated[
        Text,
        Option(
            "--outcome",
            metavar="WORDS",
            help="sound, crazed, chipped, cracked, cloudy, pulled-through, "
            "burnt, crawled, bubbled or under-fired; several joined by commas.",
        ),
    ] = None,
    showed: Annotated[
        Text, Option("--showed", metavar="WHEN", help="in-the-kiln, on-cooling, within-a-day, within-a-month, later.")
    ] = None,
    metal_thickness: Annotated[Text, Option("--metal-thickness", metavar="LENGTH", help="0.8mm.")] = None,
    front: Annotated[Text, Option("--front", metavar="LENGTH", help="Glass on the front, fired.")] = None,
    back: Annotated[Text, Option("--back", metavar="LENGTH", help="Glass on the back; 0 for none.")] = None,
    kiln: Annotated[Text, Option("--kiln", metavar="TEMP", help="Kiln setting: 815C.")] = None,
    minutes: Annotated[Text, Option("--minutes", metavar="TIME", help="Time in the kiln: 2.5 min.")] = None,
    date: Annotated[Text, Option("--date", metavar="DATE", help="When it was fired; today.")] = None,
    note: Note = None,
    as_json: JsonOption = False,
) -> None:
    """Write down a fired tile and what came of it.

    Verdicts on the pair show it from then on.

    \b
    Example:
      refdb mine tile my:jar-12 copper-sheet --outcome crazed
        --showed within-a-day --kiln 815C
    """
    from refdb.cli.mine.pages import told_row
    from refdb.plan.own.tiles import tile_row
    from refdb.store.workshop.file import Workshop

    texts = texts_of({n: v for n, v in locals().items() if n not in ("glass", "metal")})
    with opened(making=True) as ref:
        names = names_in(ref)
        records = names.glass(typed(glass)).key, names.sheet(typed(metal))
        say_taken(names)
    if names.thickness:
        texts.setdefault("metal_thickness", names.thickness)
    row = tile_row(texts, *records)
    with Workshop(workshop_path(), write=True) as shop:
        row = shop.add("tile", row)
    told_row("Written down", "tile", row, as_json)


def tiles(as_json: JsonOption = False) -> None:
    """List your tiles.

    \b
    Example:
      refdb mine tiles
    """
    from refdb.cli.mine.listing import list_page

    list_page(("tile",), False, as_json)
