"""A fired tile as it is typed: the row of the workshop that it makes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from refdb.errors import BadInput
from refdb.quantities import duration_min, temperature_c, thickness
from refdb.store.workshop import cells
from refdb.store.workshop.cells import choice, outcomes, past_date, plain
from refdb.store.workshop.columns import nine_digits
from refdb.store.workshop.rows import bounded
from refdb.store.workshop.schema import OWN, Own

if TYPE_CHECKING:
    from refdb.records import Metal

Row = dict[str, Any]
#: More glass than a tile carries on a face [mm]: a figure above it is in another unit.
MOST_GLASS_MM = 10.0


def option(name: str) -> str:
    """A name as an option at the terminal: metal_thickness gives --metal-thickness."""
    return f"--{name.replace('_', '-')}"


def today() -> str:
    """Today as an ISO date."""
    return cells.today().isoformat()


def own_column(own: Own, name: str) -> Any:
    """The column of a kind by its name."""
    return next(c for c in own.columns if c.name == name)


_NAMES = {"metal_mm": "metal_thickness", "front_mm": "front", "back_mm": "back", "kiln_c": "kiln"}


def tile_row(texts: Mapping[str, str], glass: str, metal: Metal, where: Callable[[str], str] = option) -> Row:
    """The row of a tile from what was typed.

    Parameters
    ----------
    texts : mapping
        By name: outcome, showed, metal_thickness, front, back, kiln, minutes, date, note.
    glass : str
        A key that exists.
    metal : Metal
        Cards of a clay are counted before firing, so that its shrinkage is taken off them.
    where : callable
        How a name is called where it was typed, for messages.

    Raises
    ------
    BadInput
    """
    given = {n: t.strip() for n, t in texts.items() if t.strip()}
    if "outcome" not in given:
        raise BadInput("nothing says what came of it", where("outcome"), f"give {where('outcome')}, such as sound")
    row: Row = {"glass": glass, "metal": metal.key, "date": past_date(given.get("date", today()), where("date"))}
    try:
        row["outcome"] = outcomes(given["outcome"])
        if "showed" in given:
            row["showed"] = choice(given["showed"], own_column(OWN["tile"], "showed"))
    except BadInput as error:
        raise BadInput(error.what, where(error.where), error.todo) from None
    if "metal_thickness" in given:
        row["metal_mm"] = nine_digits(_of_metal(given["metal_thickness"], metal, where("metal_thickness")) * 1e3)
    for name in ("front", "back"):
        if name in given:
            row[f"{name}_mm"] = _of_glass(given[name], where(name))
    if "kiln" in given:
        row["kiln_c"] = nine_digits(temperature_c(given["kiln"], where=where("kiln")))
    if "minutes" in given:
        text = given["minutes"]
        bare = text.replace(".", "", 1).isdigit()
        row["minutes"] = nine_digits(duration_min(f"{text} min" if bare else text, where=where("minutes")))
    if "note" in given:
        row["note"] = plain(given["note"], where("note"))
    try:
        bounded(OWN["tile"], row)
    except BadInput as error:
        raise BadInput(error.what, where(_NAMES.get(error.where, error.where)), error.todo) from None
    if row.get("front_mm") == 0 and row.get("back_mm") == 0:
        raise BadInput("there is no glass on either face", f"{where('front')} and {where('back')}", "give one of them")
    return row


def _of_metal(text: str, metal: Metal, where: str) -> float:
    """The thickness of the metal after firing [m]."""
    from refdb.judge.fit.question import metal_thickness

    return metal_thickness(text, metal, where).band.value


def _of_glass(text: str, where: str) -> float:
    """The thickness of glass on a face [mm]."""
    found = nine_digits(thickness(text, where=where, zero_ok=True).band.value * 1e3)
    if found > MOST_GLASS_MM:
        raise BadInput(
            f"{found:g} mm of glass is more than a tile carries", where, "check the unit; write for example 0.3 mm"
        )
    return found
