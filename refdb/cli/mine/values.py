"""From the options of own materials and tiles to rows of the workshop, checked."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from refdb.cli.common import opened, say_taken, store_path, typed
from refdb.errors import Ambiguous, BadInput, NotFound
from refdb.plan.own.tiles import option, own_column, today
from refdb.quantities import expansion_per_k, span_c
from refdb.quantities.band import Band
from refdb.store.workshop.attributes import ABOUT, ATTRIBUTES, Attribute, Figure, attributes_of
from refdb.store.workshop.cells import choice, iso_date, plain
from refdb.store.workshop.columns import MOST_NAME, MOST_TEXT, nine_digits
from refdb.store.workshop.measures import MEASURES
from refdb.store.workshop.rows import bounded, checked
from refdb.store.workshop.schema import OWN, Own

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


def known_keys() -> dict[str, Collection[str]]:
    """Keys of the reference by kind: those of metals with a `ClassMetal` each, those of leaf with its symbols."""
    from refdb.store.workshop.alloy import ClassMetal

    with opened(making=True) as ref:
        glasses = {r["key"] for r in ref.rows("SELECT key FROM materials WHERE kind = 'glass'")}
        metals = ref.rows(
            "SELECT m.key, m.family, d.form, d.alloy, z.value, z.low, z.high FROM materials m "
            "JOIN metal_details d ON d.material = m.key LEFT JOIN property_values z ON z.material = m.key "
            "AND z.property = 'zinc_content' AND z.preferred"
        )
        leaf = ref.rows("SELECT m.key, d.metal FROM materials m JOIN leaf_details d ON d.material = m.key")
    classes = {r["key"]: ClassMetal(r["key"], r["family"], r["form"], r["alloy"] or "", _zinc(r)) for r in metals}
    return {"glass": glasses, "metal": classes, "leaf": {r["key"]: r["metal"] or "" for r in leaf}}


def class_named(kind: str, texts: dict[str, str]) -> dict[str, str]:
    """What was typed, with the key of the class that was named with --like; never one of the person's own."""
    text = texts.get("like", "")
    if not text.strip() or text.strip().lower() == NONE:
        return texts
    from refdb.judge.naming import Taking
    from refdb.store.reference import Reference

    with Reference(store_path()) as ref:
        names = Taking(ref)
        try:
            key = names.key(typed(text), kind, "--like")
        except Ambiguous as error:
            raise BadInput(error.what, "--like", error.todo) from None
        except NotFound as error:
            raise NotFound(error.what, "--like", error.todo, error.near) from None
    say_taken(names)
    return texts | {"like": key}


def _zinc(row: Row) -> tuple[float, float] | None:
    low, high = (row["value"] if row[n] is None else row[n] for n in ("low", "high"))
    return None if low is None or high is None else (low, high)


def class_alike(kind: str, texts: Mapping[str, str], known: Collection[str]) -> str:
    """Key of the class that follows from what was typed of a material; "" where one was typed, or none follows.

    A jar of clear by its hardness and lead, a metal by its composition, leaf by its metals. BadInput for a
    composition that cannot be read.
    """
    if texts.get("like"):
        return ""
    if kind != "glass":
        return _metal_alike(kind, texts, known) if isinstance(known, Mapping) else ""
    return _clear_alike(texts, known)


def _metal_alike(kind: str, texts: Mapping[str, str], known: Mapping[str, Any]) -> str:
    from refdb.store.workshop.alloy import class_of
    from refdb.store.workshop.composition import content_of
    from refdb.store.workshop.leaf_metals import leaf_class, leaf_symbols

    text = texts.get("alloy" if kind == "metal" else "metal", NONE)
    if text.strip().lower() == NONE:
        return ""
    if kind == "leaf":
        return leaf_class(leaf_symbols(typed(text), "--metal"), known)
    return class_of(content_of(typed(text), "--alloy"), known, texts.get("form", "sheet").strip().lower())


def _clear_alike(texts: Mapping[str, str], glasses: Collection[str]) -> str:
    if texts.get("optical", "transparent").lower() != "transparent":
        return ""
    lead = {"free": "lead-free", "lead-free": "lead-free", "leaded": "leaded", "contains": "leaded"}.get(
        texts.get("lead", "").lower(), ""
    )
    key = f"clear-{texts.get('hardness', '').lower()}-{lead}"
    return key if key in glasses else ""


def material_row(
    kind: str, texts: Mapping[str, str], known: Mapping[str, Collection[str]], old: Row | None = None
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

    Raises
    ------
    BadInput
        An option is not one of the kind, cannot be read, or does not go with another.
    """
    own = OWN[kind]
    given = _given(kind, texts)
    row = {k: v for k, v in (old or {}).items() if k != "key"}
    basis = choice(given["basis"], own_column(own, "basis")) if "basis" in given else None
    day = iso_date(given["date"], option("date")) if "date" in given else today()
    row |= _words_row(own, given)
    figures = [a for a in attributes_of(kind) if a.figure is not None and a.option in given]
    if old is None:
        row |= {"basis": basis or "guess", "date": day}
    elif not figures:
        row |= {k: v for k, v in (("basis", basis), ("date", day if "date" in given else None)) if v is not None}
    for one in figures:
        _put_figure(own, row, one, given, old is not None, basis, day)
    if not row.get("name"):
        raise BadInput("it has no name", "--name", 'give one, such as --name "Jar 12"')
    try:
        bounded(own, row)
        return checked(own, row, known)
    except BadInput as error:
        raise BadInput(error.what, _option_of(error.where), error.todo) from None


def _given(kind: str, texts: Mapping[str, str]) -> dict[str, str]:
    """What was typed, without empty texts; BadInput for an option that the kind does not have, or that hangs alone."""
    given = {n: t.strip() for n, t in texts.items() if t.strip()}
    for name in given:
        if name not in options_of(kind):
            raise BadInput(f"a {kind} has no such figure", option(name), f"it has {_listed(options_of(kind))}")
    for name in _OF_EXPANSION:
        if name in given and "expansion" not in given:
            raise BadInput(
                "there is no figure for it to belong to", option(name), 'give --expansion too, such as "12.4 ppm/K"'
            )
    return given


def _words_row(own: Own, given: Mapping[str, str]) -> Row:
    """The columns of words and the note that were typed, None where they are to be forgotten."""
    row: Row = {}
    for name in (a.option for a in attributes_of(own.kind) if a.is_word):
        if name in given:
            row[name] = None if given[name].lower() == NONE and name != "name" else _word(own, name, given[name])
    if "note" in given:
        row["note"] = None if given["note"].lower() == NONE else plain(given["note"], option("note"))
    return row


def _put_figure(
    own: Own, row: Row, one: Attribute, given: Mapping[str, str], is_change: bool, basis: str | None, day: str
) -> None:
    """Put a typed figure into a row in the place of the one there was, with what it rests on where it is a change."""
    figure = one.figure
    assert figure is not None
    forget(own, figure.stem, row)
    if given[one.option].lower() == NONE:
        return
    row |= _figure_columns(one, given)
    if not is_change:
        if basis is None:
            _widen(own, row, figure)
        return
    if basis is None:
        raise BadInput(
            "nothing says what the new figure rests on", "--basis", 'give "maker\'s sheet", "own test" or guess'
        )
    row |= {f"{figure.stem}_basis": basis, f"{figure.stem}_date": day}


def _figure_columns(one: Attribute, given: Mapping[str, str]) -> Row:
    """The columns of a typed figure."""
    figure = one.figure
    assert figure is not None
    if figure.stem == "expansion":
        return _expansion(figure, given)
    band = MEASURES[figure.unit].band(given[one.option], option(one.option))
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


def _listed(names: Collection[str]) -> str:
    return ", ".join(option(n) for n in names)


def forget(own: Own, stem: str, row: Row) -> None:
    """Take a figure out of a row, with all that belongs to it."""
    for column in own.names:
        if column.startswith(f"{stem}_"):
            row[column] = None


def _option_of(column: str) -> str:
    if column.startswith(("expansion_from", "expansion_to")):
        return "--span"
    stems = ((a.option, a.figure.stem) for a in ATTRIBUTES if a.figure is not None)
    return option(next((name for name, stem in stems if column.startswith(f"{stem}_")), column))


def _word(own: Own, name: str, text: str) -> str:
    column = own_column(own, name)
    if column.choices:
        try:
            return choice(text, column)
        except BadInput as error:
            raise BadInput(error.what, option(name), error.todo) from None
    return plain(text, option(name), MOST_NAME if name == "name" else MOST_TEXT)


def _expansion(figure: Figure, given: Mapping[str, str]) -> Row:
    if "span" not in given:
        raise BadInput(
            "an expansion says little without its span of temperature",
            "--expansion",
            "add the maker's span in --span, such as 20-400C",
        )
    band = expansion_per_k(given["expansion"], cubical="cubical" in given, where="--expansion").scaled(1e6)
    low, high = span_c(given["span"], where="--span")
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
