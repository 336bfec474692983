"""A jar, a metal or a leaf as it is typed: the row of the workshop that it makes, checked."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from typing import TYPE_CHECKING, Any

from refdb.errors import BadInput
from refdb.plan.own.tiles import option, own_column, today
from refdb.quantities import expansion_per_k, span_c
from refdb.quantities.band import Band
from refdb.store.workshop.attributes import ABOUT, ATTRIBUTES, Attribute, Figure, attributes_of
from refdb.store.workshop.cells import choice, past_date, plain
from refdb.store.workshop.columns import MOST_NAME, MOST_TEXT, nine_digits
from refdb.store.workshop.measures import MEASURES
from refdb.store.workshop.rows import bounded, checked
from refdb.store.workshop.schema import OWN, Own

if TYPE_CHECKING:
    from refdb.store.reference import Reference

Where = Callable[[str], str]
Row = dict[str, Any]
#: Typed for a value that is to be forgotten.
NONE = "none"
#: Options that say more of an expansion.
_OF_EXPANSION = ("span", "cubical")


def options_of(kind: str) -> tuple[str, ...]:
    """Names of the options that a kind understands."""
    attributes = [a for a in attributes_of(kind) if a.option]
    words = [a.option for a in attributes if a.is_word]
    figures = [a.option for a in attributes if a.figure is not None]
    return (*words, *figures, *(_OF_EXPANSION if "expansion" in figures else ()), *ABOUT)


def known_keys(ref: Reference) -> dict[str, Collection[str]]:
    """Keys of the reference by kind: those of metals with a `ClassMetal` each, those of leaf with its symbols."""
    from refdb.store.workshop.alloy import ClassMetal

    glasses = {r["key"] for r in ref.rows("SELECT key FROM materials WHERE kind = 'glass'")}
    metals = ref.rows(
        "SELECT m.key, m.family, d.form, d.alloy, z.value, z.low, z.high FROM materials m "
        "JOIN metal_details d ON d.material = m.key LEFT JOIN property_values z ON z.material = m.key "
        "AND z.property = 'zinc_content' AND z.preferred"
    )
    leaf = ref.rows("SELECT m.key, d.metal FROM materials m JOIN leaf_details d ON d.material = m.key")
    classes = {r["key"]: ClassMetal(r["key"], r["family"], r["form"], r["alloy"] or "", _zinc(r)) for r in metals}
    return {"glass": glasses, "metal": classes, "leaf": {r["key"]: r["metal"] or "" for r in leaf}}


def _zinc(row: Row) -> tuple[float, float] | None:
    low, high = (row["value"] if row[n] is None else row[n] for n in ("low", "high"))
    return None if low is None or high is None else (low, high)


def clear_alike(texts: Mapping[str, str], glasses: Collection[str]) -> str:
    """Key of the class that a jar of clear is by its hardness and lead; "" where none follows."""
    if texts.get("optical", "transparent").lower() != "transparent":
        return ""
    lead = {"free": "lead-free", "lead-free": "lead-free", "leaded": "leaded", "contains": "leaded"}.get(
        texts.get("lead", "").lower(), ""
    )
    key = f"clear-{texts.get('hardness', '').lower()}-{lead}"
    return key if key in glasses else ""


def material_row(
    kind: str,
    texts: Mapping[str, str],
    known: Mapping[str, Collection[str]],
    old: Row | None = None,
    where: Where = option,
) -> Row:
    """The checked row of a material.

    Parameters
    ----------
    kind : str
        glass, metal or leaf.
    texts : mapping
        What was typed, by option; empty ones are passed over, "none" forgets a value.
    known : mapping
        Keys of the reference by kind.
    old : dict, optional
        The row as it stands, when it is changed: a new basis and date then hold for the figures given with it.
    where : callable
        How a name is called where it was typed, for messages.

    Raises
    ------
    BadInput
        An option is not one of the kind, cannot be read, or does not go with another.
    """
    own = OWN[kind]
    given = _given(kind, texts, where)
    row = {k: v for k, v in (old or {}).items() if k != "key"}
    basis = _one_of(given["basis"], own_column(own, "basis"), where("basis")) if "basis" in given else None
    day = past_date(given["date"], where("date")) if "date" in given else today()
    row |= _words_row(own, given, where)
    figures = [a for a in attributes_of(kind) if a.figure is not None and a.option in given]
    if old is None:
        row |= {"basis": basis or "guess", "date": day}
    elif not figures:
        row |= {k: v for k, v in (("basis", basis), ("date", day if "date" in given else None)) if v is not None}
    for one in figures:
        _put_figure(own, row, one, given, old is not None, basis, day, where)
    if not row.get("name"):
        raise BadInput("it has no name", where("name"), f'give one, such as {where("name")} "Jar 12"')
    try:
        bounded(own, row)
        return checked(own, row, known)
    except BadInput as error:
        raise BadInput(error.what, _option_of(error.where, where), error.todo) from None


def _given(kind: str, texts: Mapping[str, str], where: Where) -> dict[str, str]:
    """What was typed, without empty texts; BadInput for an option that the kind does not have, or that hangs alone."""
    given = {n: t.strip() for n, t in texts.items() if t.strip()}
    for name in given:
        if name not in options_of(kind):
            raise BadInput(f"a {kind} has no such figure", where(name), f"it has {_listed(options_of(kind), where)}")
    for name in _OF_EXPANSION:
        if name in given and "expansion" not in given:
            raise BadInput(
                "there is no figure for it to belong to",
                where(name),
                f'give {where("expansion")} too, such as "12.4 ppm/K"',
            )
    return given


def _words_row(own: Own, given: Mapping[str, str], where: Where) -> Row:
    """The columns of words and the note that were typed, None where they are to be forgotten."""
    row: Row = {}
    for name in (a.option for a in attributes_of(own.kind) if a.is_word):
        if name in given:
            row[name] = None if given[name].lower() == NONE and name != "name" else _word(own, name, given[name], where)
    if "note" in given:
        row["note"] = None if given["note"].lower() == NONE else plain(given["note"], where("note"))
    return row


def _put_figure(
    own: Own,
    row: Row,
    one: Attribute,
    given: Mapping[str, str],
    is_change: bool,
    basis: str | None,
    day: str,
    where: Where,
) -> None:
    """Put a typed figure into a row in the place of the one there was, with what it rests on where it is a change."""
    figure = one.figure
    assert figure is not None
    forget(own, figure.stem, row)
    if given[one.option].lower() == NONE:
        return
    row |= _figure_columns(one, given, where)
    if not is_change:
        if basis is None:
            _widen(own, row, figure)
        return
    if basis is None:
        raise BadInput(
            "nothing says what the new figure rests on", where("basis"), 'give "maker\'s sheet", "own test" or guess'
        )
    row |= {f"{figure.stem}_basis": basis, f"{figure.stem}_date": day}


def _figure_columns(one: Attribute, given: Mapping[str, str], where: Where) -> Row:
    """The columns of a typed figure."""
    figure = one.figure
    assert figure is not None
    if figure.stem == "expansion":
        return _expansion(figure, given, where)
    band = MEASURES[figure.unit].band(given[one.option], where(one.option))
    if figure.is_range:
        return {
            f"{figure.stem}_low_{figure.suffix}": nine_digits(band.low),
            f"{figure.stem}_high_{figure.suffix}": nine_digits(band.high),
        }
    return _three(figure, band)


def _widen(own: Own, row: Row, figure: Figure) -> None:
    """Give a single figure of which nothing says what it rests on the width of a guess."""
    column, low, high = (f"{figure.stem}{end}_{figure.suffix}" for end in ("", "_low", "_high"))
    if not figure.guess or row[low] is not None:
        return
    bounds, value = own_column(own, column), row[column]
    row[low] = min(max(round(value - figure.guess, 6), bounds.low), value)
    row[high] = max(min(round(value + figure.guess, 6), bounds.high), value)


def _listed(names: Collection[str], where: Where) -> str:
    return ", ".join(where(n) for n in names)


def forget(own: Own, stem: str, row: Row) -> None:
    """Take a figure out of a row, with all that belongs to it."""
    for column in own.names:
        if column.startswith(f"{stem}_"):
            row[column] = None


def _option_of(column: str, where: Where) -> str:
    if column.startswith(("expansion_from", "expansion_to")):
        return where("span")
    stems = ((a.option, a.figure.stem) for a in ATTRIBUTES if a.figure is not None)
    return where(next((name for name, stem in stems if column.startswith(f"{stem}_")), column))


def _word(own: Own, name: str, text: str, where: Where) -> str:
    column = own_column(own, name)
    if column.choices:
        return _one_of(text, column, where(name))
    return plain(text, where(name), MOST_NAME if name == "name" else MOST_TEXT)


def _one_of(text: str, column: Any, where: str) -> str:
    try:
        return choice(text, column)
    except BadInput as error:
        raise BadInput(error.what, where, error.todo) from None


def _expansion(figure: Figure, given: Mapping[str, str], where: Where) -> Row:
    if "span" not in given:
        raise BadInput(
            "an expansion says little without its span of temperature",
            where("expansion"),
            f"add the maker's span in {where('span')}, such as 20-400C",
        )
    band = expansion_per_k(given["expansion"], cubical="cubical" in given, where=where("expansion")).scaled(1e6)
    low, high = span_c(given["span"], where=where("span"))
    return {
        **_three(figure, band),
        "expansion_from_c": low,
        "expansion_to_c": high,
        "expansion_as_given": " ".join(given["expansion"].split()) + (", cubical" if "cubical" in given else ""),
    }


def _three(figure: Figure, band: Band) -> Row:
    value, low, high = (nine_digits(x) for x in (band.value, band.low, band.high))
    ends = (None, None) if band.is_exact else (low, high)
    return {
        f"{figure.stem}{end}_{figure.suffix}": x for end, x in zip(("", "_low", "_high"), (value, *ends), strict=True)
    }
