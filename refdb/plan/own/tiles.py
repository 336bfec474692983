"""A fired tile as it is typed: the row of the workshop that it makes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any

from refdb.errors import BadInput
from refdb.quantities import duration_min, temperature_c, thickness
from refdb.store.workshop.cells import choice, outcomes, past_date, plain
from refdb.store.workshop.columns import nine_digits
from refdb.store.workshop.rows import bounded
from refdb.store.workshop.schema import OWN, Own

Row = dict[str, Any]


def option(name: str) -> str:
    """A name as an option at the terminal: metal_thickness gives --metal-thickness."""
    return f"--{name.replace('_', '-')}"


def today() -> str:
    """Today as an ISO date."""
    return date.today().isoformat()


def own_column(own: Own, name: str) -> Any:
    """The column of a kind by its name."""
    return next(c for c in own.columns if c.name == name)


_NAMES = {"metal_mm": "metal_thickness", "front_mm": "front", "back_mm": "back", "kiln_c": "kiln"}


def tile_row(texts: Mapping[str, str], glass: str, metal: str, where: Callable[[str], str] = option) -> Row:
    """The row of a tile from what was typed.

    Parameters
    ----------
    texts : mapping
        By name: outcome, showed, metal_thickness, front, back, kiln, minutes, date, note.
    glass, metal : str
        Keys that exist.
    where : callable
        How a name is called where it was typed, for messages.

    Raises
    ------
    BadInput
    """
    given = {n: t.strip() for n, t in texts.items() if t.strip()}
    if "outcome" not in given:
        raise BadInput(
            "nothing says what came of it", where("outcome"), f"give a word, such as {where('outcome')} sound"
        )
    row: Row = {"glass": glass, "metal": metal, "date": past_date(given.get("date", today()), where("date"))}
    try:
        row["outcome"] = outcomes(given["outcome"])
        if "showed" in given:
            row["showed"] = choice(given["showed"], own_column(OWN["tile"], "showed"))
    except BadInput as error:
        raise BadInput(error.what, where(error.where), error.todo) from None
    for name, column in (("metal_thickness", "metal_mm"), ("front", "front_mm"), ("back", "back_mm")):
        if name in given:
            row[column] = _mm(given[name], where(name), zero_ok=name != "metal_thickness")
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


def _mm(text: str, where: str, zero_ok: bool) -> float:
    return nine_digits(thickness(text, where=where, zero_ok=zero_ok).band.value * 1e3)
