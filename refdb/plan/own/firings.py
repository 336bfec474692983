"""A firing that was watched, as it is typed: the row of the workshop that it makes, and how firings are kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from refdb.errors import BadInput
from refdb.plan.observed import firing_seen
from refdb.plan.own.tiles import option, today
from refdb.quantities import duration_min, length_m, temperature_c
from refdb.quantities.firings import RESULTS, FiringText, bounded_firing
from refdb.store.workshop.cells import past_date
from refdb.store.workshop.columns import nine_digits
from refdb.store.workshop.rows import bounded
from refdb.store.workshop.schema import FIRING

if TYPE_CHECKING:
    from refdb.judge.naming import Taking
    from refdb.records import Glass, ObservedFiring
    from refdb.store.reference import Reference
    from refdb.store.workshop.file import Workshop

Row = dict[str, Any]
_NEEDED = ("kiln", "minutes", "metal", "metal_thickness")


def row_of_firing(firing: ObservedFiring, glass: str, day: str, where: str) -> Row:
    """The row of a firing of the jar of this key; BadInput where a figure is out of bounds."""
    row = {
        "glass": glass,
        "kiln_c": nine_digits(firing.kiln_c),
        "minutes": nine_digits(firing.minutes),
        "metal": firing.metal,
        "metal_mm": None if firing.metal_mm is None else nine_digits(firing.metal_mm),
        "result": firing.result,
        "date": day,
        "note": None,
    }
    try:
        bounded(FIRING, row)
    except BadInput as bad:
        raise BadInput(f"{bad.where.partition('_')[0]} {bad.what}", where, bad.todo) from None
    return row


def firing_row(
    ref: Reference, jar: Glass, texts: Mapping[str, str], names: Taking, where: Callable[[str], str] = option
) -> Row:
    """The row of a firing typed field by field.

    Parameters
    ----------
    ref : Reference
        The open store.
    jar : Glass
        The person's own.
    texts : mapping
        By name: kiln, minutes, metal, metal_thickness; result and date.
    names : Taking
        Looks the metal up.
    where : callable
        How a name is called where it was typed, for messages.

    Raises
    ------
    BadInput, NotFound
    """
    for name in _NEEDED:
        if name not in texts:
            raise BadInput("is not given", where(name), "all four are needed, for they tell how the piece took up heat")
    thick = texts["metal_thickness"]
    if "card" in thick.lower():
        from refdb.judge.fit.question import metal_thickness

        band = metal_thickness(thick, names.metal(texts["metal"], where("metal")), where("metal_thickness")).band
        thick = f"{nine_digits(band.value * 1e3):g} mm"
    result = texts.get("result", RESULTS[0])
    if result not in RESULTS:
        raise BadInput("is not known", where("result"), f"give one of {', '.join(RESULTS)}")
    day = past_date(texts["date"], where("date")) if "date" in texts else today()
    said = FiringText(
        temperature_c(texts["kiln"], where=where("kiln")),
        duration_min(texts["minutes"], where=where("minutes")),
        texts["metal"],
        length_m(thick, where=where("metal_thickness")),
        result,
    )
    bounded_firing(said, where, "check the figures")
    return row_of_firing(firing_seen(ref, jar, said, names, where("kiln")), jar.key, day, where("kiln"))


def keep_firings(
    shop: Workshop, glass: str, forget: bool, rows: Sequence[Row], where: str = option("observed")
) -> list[Row]:
    """Write firings of a jar down, or forget those there were; the rows with their numbers."""
    there = shop.rows("SELECT * FROM firings WHERE glass = ? ORDER BY number", glass)
    for old in there if forget else ():
        shop.remove("firing", str(old["number"]))
    kept = [] if forget else there
    added: list[Row] = []
    for row in rows:
        same = next(
            (
                k
                for k in [*kept, *added]
                if all(k[n] == row[n] for n in ("kiln_c", "minutes", "metal", "metal_mm", "result"))
            ),
            None,
        )
        if same is not None:
            raise BadInput(
                f"that firing stands there already, as firing:{same['number']}", where, "give another, or leave it away"
            )
        added.append(shop.add("firing", row))
    return added
