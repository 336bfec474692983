"""What is typed of own materials and tiles, as values of the workshop's columns."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from datetime import date
from typing import Any

from refdb.cli.common import opened, typed
from refdb.errors import BadInput
from refdb.quantities import duration_min, expansion_per_k, fraction_band, span_c, temperature_c, thickness
from refdb.quantities.band import Band
from refdb.store.workshop.rows import bounded, checked, choice, iso_date, outcomes, plain
from refdb.store.workshop.schema import MOST_NAME, MOST_TEXT, OWN, Own

Row = dict[str, Any]
#: Options that give a figure, and the stem of its columns.
FIGURES = {
    "expansion": "expansion",
    "fuses": "fuse",
    "set_point": "set_point",
    "solidus": "solidus",
    "shrinkage": "shrinkage",
    "thickness": "leaf_thickness",
}
#: The options of each kind besides its figures.
_WORDS = {
    "glass": ("name", "like", "optical", "hardness", "lead", "cadmium", "colourant"),
    "metal": ("name", "like", "form", "alloy"),
    "leaf": ("name", "like", "metal", "fineness", "form"),
}
_FIGURES = {
    "glass": ("expansion", "fuses", "set_point"),
    "metal": ("expansion", "solidus", "shrinkage"),
    "leaf": ("thickness",),
}
_ABOUT = ("basis", "date", "note")
#: How far a figure may be off of which nothing says what it rests on: the widths that classes have (from memory).
_GUESSED = {
    "expansion_ppm_per_k": 1.5,
    "set_point_c": 40.0,
    "solidus_c": 30.0,
    "shrinkage_percent": 3.0,
    "leaf_thickness_um": 1.0,
}
#: Typed for a value that is to be forgotten.
NONE = "none"


def options_of(kind: str) -> tuple[str, ...]:
    """Names of the options that a kind understands."""
    more = ("span", "cubical") if "expansion" in _FIGURES[kind] else ()
    return (*_WORDS[kind], *_FIGURES[kind], *more, *_ABOUT)


def option(name: str) -> str:
    """How an option is typed."""
    return f"--{name.replace('_', '-')}"


def known_keys() -> dict[str, Collection[str]]:
    """Keys of the reference by kind; those of metals and leaf with what these are made of."""
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


def _zinc(row: Row) -> tuple[float, float] | None:
    low, high = (row["value"] if row[n] is None else row[n] for n in ("low", "high"))
    return None if low is None or high is None else (low, high)


def today() -> str:
    """The date of this day."""
    return date.today().isoformat()


def class_alike(kind: str, texts: Mapping[str, str], known: Collection[str]) -> str:
    """The class that a material is like by what is told of it; empty where one is named, or does not follow.

    A jar of clear by its hardness and lead, a metal by its composition, leaf by its metals. BadInput for a
    composition that cannot be read.
    """
    if texts.get("like"):
        return ""
    if kind != "glass":
        return _metal_alike(kind, texts, known) if isinstance(known, Mapping) else ""
    return _clear_alike(texts, known)


def _metal_alike(kind: str, texts: Mapping[str, str], known: Mapping[str, Any]) -> str:
    from refdb.store.workshop.alloy import class_of, content_of, leaf_class, leaf_symbols

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
    """
    own = OWN[kind]
    given = {n: t.strip() for n, t in texts.items() if t.strip()}
    for name in given:
        if name not in options_of(kind):
            raise BadInput(f"a {kind} has no such figure", option(name), f"it has {_listed(options_of(kind))}")
    row = {k: v for k, v in (old or {}).items() if k != "key"}
    figures = [n for n in _FIGURES[kind] if n in given]
    for name in ("span", "cubical"):
        if name in given and "expansion" not in given:
            raise BadInput(
                "there is no figure for it to belong to", option(name), 'give --expansion too, such as "12.4 ppm/K"'
            )
    basis = choice(given["basis"], own_column(own, "basis")) if "basis" in given else None
    day = iso_date(given["date"], option("date")) if "date" in given else today()
    for name in _WORDS[kind]:
        if name in given:
            row[name] = None if given[name].lower() == NONE and name != "name" else _word(own, name, given[name])
    if "note" in given:
        row["note"] = None if given["note"].lower() == NONE else plain(given["note"], option("note"))
    if old is None:
        row |= {"basis": basis or "guess", "date": day}
    elif not figures:
        row |= {k: v for k, v in (("basis", basis), ("date", day if "date" in given else None)) if v is not None}
    for name in figures:
        stem = FIGURES[name]
        forget(own, stem, row)
        if given[name].lower() == NONE:
            continue
        row |= _READERS[name](given)
        if old is None and basis is None:
            _widen(own, row, stem)
        if old is not None:
            if basis is None:
                raise BadInput(
                    "nothing says what the new figure rests on", "--basis", 'give "maker\'s sheet", "own test" or guess'
                )
            row |= {f"{stem}_basis": basis, f"{stem}_date": day}
    if not row.get("name"):
        raise BadInput("it has no name", "--name", 'give one, such as --name "Jar 12"')
    try:
        bounded(own, row)
        return checked(own, row, known)
    except BadInput as error:
        raise BadInput(error.what, _option_of(error.where), error.todo) from None


def _widen(own: Own, row: Row, stem: str) -> None:
    """Give a single figure of which nothing says what it rests on the width of a guess."""
    for column, width in _GUESSED.items():
        unit = column.removeprefix(f"{stem}_")
        if unit == column or row[f"{stem}_low_{unit}"] is not None:
            continue
        bounds, value = own_column(own, column), row[column]
        row[f"{stem}_low_{unit}"] = min(max(round(value - width, 6), bounds.low), value)
        row[f"{stem}_high_{unit}"] = max(min(round(value + width, 6), bounds.high), value)


def _listed(names: Collection[str]) -> str:
    return ", ".join(option(n) for n in names)


def own_column(own: Own, name: str) -> Any:
    """The column of a kind by its name."""
    return next(c for c in own.columns if c.name == name)


def forget(own: Own, stem: str, row: Row) -> None:
    """Take a figure out of a row, with all that belongs to it."""
    for column in own.names:
        if column.startswith(f"{stem}_"):
            row[column] = None


def _option_of(column: str) -> str:
    if column.startswith(("expansion_from", "expansion_to")):
        return "--span"
    stem = next((n for n, s in FIGURES.items() if column.startswith(f"{s}_")), column)
    return option(stem)


def _word(own: Own, name: str, text: str) -> str:
    column = own_column(own, name)
    if column.choices:
        try:
            return choice(text, column)
        except BadInput as error:
            raise BadInput(error.what, option(name), error.todo) from None
    return plain(text, option(name), MOST_NAME if name == "name" else MOST_TEXT)


def _expansion(given: Mapping[str, str]) -> Row:
    if "span" not in given:
        raise BadInput(
            "an expansion says little without its span of temperature",
            "--expansion",
            "add the maker's span in --span, such as 20-400C",
        )
    band = expansion_per_k(given["expansion"], cubical="cubical" in given, where="--expansion").scaled(1e6)
    low, high = span_c(given["span"], where="--span")
    return {
        **_three("expansion", "ppm_per_k", band),
        "expansion_from_c": low,
        "expansion_to_c": high,
        "expansion_as_given": " ".join(given["expansion"].split()) + (", cubical" if "cubical" in given else ""),
    }


def _three(stem: str, suffix: str, band: Band) -> Row:
    short = [float(f"{x:.9g}") for x in (band.value, band.low, band.high)]
    low, high = (None, None) if band.is_exact else short[1:]
    return {f"{stem}_{suffix}": short[0], f"{stem}_low_{suffix}": low, f"{stem}_high_{suffix}": high}


def temperatures(text: str, where: str) -> Band:
    """One temperature or a range [°C]."""
    try:
        return Band.exact(temperature_c(text, where=where))
    except BadInput as single:
        try:
            low, high = span_c(text, where=where)
        except BadInput as span:
            if "rise" in span.what:
                raise BadInput(
                    "the range runs from high to low", where, "put the lower temperature first, such as 780-815C"
                ) from None
            raise single from None
        return Band((low + high) / 2, low, high)


def _fuses(given: Mapping[str, str]) -> Row:
    band = temperatures(given["fuses"], "--fuses")
    return {"fuse_low_c": float(f"{band.low:.9g}"), "fuse_high_c": float(f"{band.high:.9g}")}


_READERS: dict[str, Callable[[Mapping[str, str]], Row]] = {
    "expansion": _expansion,
    "fuses": _fuses,
    "set_point": lambda g: _three("set_point", "c", temperatures(g["set_point"], "--set-point")),
    "solidus": lambda g: _three("solidus", "c", temperatures(g["solidus"], "--solidus")),
    "shrinkage": lambda g: _three(
        "shrinkage", "percent", fraction_band(g["shrinkage"], where="--shrinkage").scaled(100)
    ),
    "thickness": lambda g: _three(
        "leaf_thickness", "um", thickness(g["thickness"], where="--thickness").band.scaled(1e6)
    ),
}


_TILE_OPTIONS = {
    "metal_mm": "--metal-thickness",
    "front_mm": "--front",
    "back_mm": "--back",
    "kiln_c": "--kiln",
    "minutes": "--minutes",
}


def tile_row(texts: Mapping[str, str], glass: str, metal: str) -> Row:
    """The row of a tile from what was typed; glass and metal are keys that exist."""
    given = {n: t.strip() for n, t in texts.items() if t.strip()}
    if "outcome" not in given:
        raise BadInput("nothing says what came of it", "--outcome", "give a word, such as --outcome sound")
    row: Row = {"glass": glass, "metal": metal, "date": iso_date(given.get("date", today()), "--date")}
    try:
        row["outcome"] = outcomes(given["outcome"])
        if "showed" in given:
            row["showed"] = choice(given["showed"], own_column(OWN["tile"], "showed"))
    except BadInput as error:
        raise BadInput(error.what, option(error.where), error.todo) from None
    for name, column in (("metal_thickness", "metal_mm"), ("front", "front_mm"), ("back", "back_mm")):
        if name in given:
            row[column] = _mm(given[name], option(name), zero_ok=name != "metal_thickness")
    if "kiln" in given:
        row["kiln_c"] = float(f"{temperature_c(given['kiln'], where='--kiln'):.9g}")
    if "minutes" in given:
        text = given["minutes"]
        bare = text.replace(".", "", 1).isdigit()
        row["minutes"] = float(f"{duration_min(f'{text} min' if bare else text, where='--minutes'):.9g}")
    if "note" in given:
        row["note"] = plain(given["note"], "--note")
    try:
        bounded(OWN["tile"], row)
    except BadInput as error:
        raise BadInput(error.what, _TILE_OPTIONS.get(error.where, error.where), error.todo) from None
    if row.get("front_mm") == 0 and row.get("back_mm") == 0:
        raise BadInput("there is no glass on either face", "--front and --back", "give one of them")
    return row


def _mm(text: str, where: str, zero_ok: bool) -> float:
    return float(f"{thickness(text, where=where, zero_ok=zero_ok).band.value * 1e3:.9g}")
