"""One row of a person's own, checked: what a column may hold, and what holds between the columns of a row."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from operator import itemgetter
from typing import Any

from refdb.errors import Ambiguous, BadInput, NotFound
from refdb.quantities.schedules import phases_of, schedule_text
from refdb.store.schema import ColumnSpec
from refdb.store.workshop.alloy import checked_metal
from refdb.store.workshop.attributes import figures_of
from refdb.store.workshop.cells import (
    bounds_told,
    choice,
    number_reader,
    numbers_of,
    numbers_text,
    outcomes,
    past_date,
    plain,
    text_of,
    whole_number,
)
from refdb.store.workshop.columns import MOST_NAME, MOST_TEXT, MOST_TILES, nine_digits
from refdb.store.workshop.keys import NAMED, key_of
from refdb.store.workshop.leaf_metals import checked_leaf, leaf_symbols
from refdb.store.workshop.schema import NUMBERED, OWN, PREFIX, Own
from refdb.words import shortened

Row = dict[str, Any]
_MOST_REMEMBERED = 500
#: By kind, the columns of each figure: value, low, high and what it rests on.
_BAND_COLUMNS = {
    kind: tuple(
        (f"{f.stem}_{f.suffix}", f"{f.stem}_low_{f.suffix}", f"{f.stem}_high_{f.suffix}", f"{f.stem}_basis")
        for f in figures_of(kind)
    )
    for kind in NAMED
}


#: Columns that are held against no other.
_FREE = frozenset(("name", "note", "date"))


class Cells:
    """Reads rows of text cells of one kind.

    Parameters
    ----------
    own : Own
        The kind.
    header : sequence of str
        Names of the cells, in order; "cubical" may stand beside the columns of the kind.
    defaults : mapping
        What stands where a cell is empty, such as a basis or a date.
    known : mapping
        Keys of the reference by kind of material.
    named : callable, optional
        From a kind and a name to the key of the reference; raises Ambiguous and NotFound. Without it keys are needed.
    """

    def __init__(
        self,
        own: Own,
        header: Sequence[str],
        known: Mapping[str, Collection[str]],
        defaults: Mapping[str, str] | None = None,
        named: Callable[[str, str], str] | None = None,
    ) -> None:
        self.own, self.known, self.defaults, self.named = own, known, dict(defaults or {}), named
        columns = {c.name: c for c in own.columns}
        if "cubical" in header:
            # Three times as much, until it is divided.
            columns |= {n: c._replace(high=90.0) for n, c in columns.items() if c.unit == "ppm/K"}
        # Cells repeat down a column, and what was read once needs no second reading.
        self._readers: list[tuple[str, Callable[[str], Any], dict[str, Any]]] = [
            (name, self._reader(columns.get(name)), {}) for name in header
        ]
        self._required = [c.name for c in own.columns if c.required]
        # So do those that are held against each other; what is free of them is read for every row.
        self._free = [k for k, name in enumerate(header) if name in _FREE]
        bound = [k for k in range(len(header)) if k not in self._free] if own.kind == "glass" else []
        # With one place more it gives a tuple of whatever places.
        self._bound = itemgetter(*bound, bound[0]) if bound else None
        self._required_free = [name for name in self._required if name in _FREE]
        self._defaults_of_free = {name: value for name, value in self.defaults.items() if name in _FREE}
        self._checked: dict[tuple[str, ...], Row] = {}

    def _reader(self, column: ColumnSpec | None) -> Callable[[str], Any]:
        if column is None:
            return lambda text: text
        if column.type == "INTEGER":
            return whole_number
        if column.type == "REAL":
            return number_reader(column)
        name = column.name
        if column.choices:
            return lambda text: choice(text, column)
        if name.endswith("date"):
            return lambda text: past_date(text, name)
        most = {"name": MOST_NAME, "tiles": MOST_TILES, "expansion_tiles": MOST_TILES}.get(name, MOST_TEXT)
        kind = self.own.kind if name == "like" else name if self.own.kind in NUMBERED else ""
        if self.named is not None and kind in self.known:
            return lambda text: self._key_of(plain(text_of(text, name), name, most), kind, name)
        return lambda text: plain(text_of(text, name), name, most)

    def _key_of(self, text: str, kind: str, column: str) -> str:
        """The key of a name, as everywhere; what is a key, the person's own, or no name at all is left as it is."""
        assert self.named is not None
        if text.lower() in self.known[kind] or text.lower().startswith(PREFIX):
            return text
        try:
            return self.named(kind, text)
        except (Ambiguous, BadInput) as error:
            raise BadInput(error.what, column, error.todo) from None
        except NotFound:
            return text

    def row(self, cells: Sequence[str]) -> Row:
        """The checked values of one row; BadInput names the column in `where`."""
        if self._bound is None:
            return checked(self.own, self._read(range(len(cells)), cells, self.defaults), self.known, self._required)
        bound = self._bound(cells)
        common = self._checked.get(bound)
        if common is None:
            whole = checked(self.own, self._read(range(len(cells)), cells, self.defaults), self.known, self._required)
            common = {name: value for name, value in whole.items() if name not in _FREE and name != "key"}
            common |= self._defaults_of_free
            if len(self._checked) < _MOST_REMEMBERED:
                self._checked[bound] = common
        row = self._read(self._free, cells, common)
        for name in self._required_free:
            if row.get(name) is None:
                raise BadInput("the cell is blank", name, "it is needed")
        row["key"] = _slug(row["name"])
        return row

    def _read(self, places: Iterable[int], cells: Sequence[str], defaults: Mapping[str, str]) -> Row:
        """The values of some cells, and what stands for those that are empty."""
        row: Row = dict(defaults)
        for k in places:
            cell = cells[k]
            if cell:
                name, read, memory = self._readers[k]
                value = memory.get(cell)
                if value is None:
                    value = read(cell)
                    if len(memory) < _MOST_REMEMBERED and name != "name":
                        memory[cell] = value
                row[name] = value
        return row


def checked(own: Own, row: Row, known: Mapping[str, Collection[str]], required: Sequence[str] | None = None) -> Row:
    """Check what must hold between the columns of a row, and fill in what follows from others.

    Parameters
    ----------
    own : Own
        Its kind.
    row : dict
        Values by column; columns without a value may be absent or None. "cubical" says that an expansion is one of
        volume.
    known : mapping
        Keys of the reference by kind of material. Where those of metals are the keys of a mapping to `ClassMetal`,
        and those of leaf to chemical symbols, what a material is said to be like is held to its composition.

    Returns
    -------
    dict
        The row, "cubical" worked in, and for a material its key without prefix.

    Raises
    ------
    BadInput
        `where` is the column.
    """
    for name in [c.name for c in own.columns if c.required] if required is None else required:
        if row.get(name) is None:
            raise BadInput("the cell is blank", name, "it is needed")
    if own.named:
        _material(own.kind, row, known)
        if row.get("schedule"):
            row["schedule"] = schedule_text(phases_of(row["schedule"]))
    elif own.kind == "tile":
        row["outcome"] = outcomes(row["outcome"])
        if row.get("front_mm") == 0 and row.get("back_mm") == 0:
            raise BadInput("there is no glass on either face", "front_mm", "give one of them")
    elif own.kind == "strip":
        for stem in ("metal", "glass"):
            _band((f"{stem}_mm", f"{stem}_low_mm", f"{stem}_high_mm", ""), row)
    elif own.kind == "kiln":
        _band(("offset_k", "offset_low_k", "offset_high_k", "basis"), row)
    if own.kind in NUMBERED:
        for name in ("glass", "metal"):
            _key(name, row, known[name])
    elif own.kind == "stock":
        _key("key", row, [k for keys in known.values() for k in keys])
    if own.kind == "firing" and not row["glass"].startswith(PREFIX):
        raise BadInput(f"'{shortened(row['glass'])}' is no jar of your own", "glass", "write my: and its name")
    for name in ("expansion_tiles", "tiles"):
        if row.get(name) is not None:
            row[name] = numbers_text(numbers_of(row[name], name))
    return row


def _slug(name: str) -> str:
    """The key of a material by its name."""
    if not (slug := key_of(name)) or len(slug) > MOST_NAME:
        raise BadInput(f"'{shortened(name, 20)}' makes no key", "name", "use letters or digits")
    return slug


def _material(kind: str, row: Row, known: Mapping[str, Collection[str]]) -> None:
    """Check the columns of a material against each other, work "cubical" in, and put its key into the row."""
    slug = _slug(row["name"])
    _like(kind, row, known[kind])
    cubical = str(row.pop("cubical", "no") or "no").lower()
    if cubical not in ("no", "yes"):
        raise BadInput(f"'{shortened(cubical, 20)}' is neither yes nor no", "cubical", "say yes or no")
    row["key"] = slug
    for columns in _BAND_COLUMNS[kind]:
        _band(columns, row)
    if kind != "leaf":
        _expansion(row, cubical == "yes")
    if kind == "glass":
        _fuse(row)
    elif kind == "metal" and row.get("alloy") is not None:
        checked_metal(row["alloy"], row.get("like"), row.get("form"), _classes(known["metal"]))
    elif kind == "leaf" and row.get("metal") is not None:
        row["metal"] = leaf_symbols(row["metal"])
        checked_leaf(row["metal"], row.get("like"), _classes(known["leaf"]))


def bounded(own: Own, row: Row) -> None:
    """Raise BadInput for a number outside the bounds of its column; cells of a file are checked as they are read."""
    for column in own.columns:
        value = row.get(column.name)
        if (
            isinstance(value, float)
            and column.low is not None
            and column.high is not None
            and not column.low <= value <= column.high
        ):
            raise BadInput(
                f"{value:g} {column.unit}".rstrip() + " is out of bounds", column.name, bounds_told(column, value)
            )


def _like(kind: str, row: Row, known: Collection[str]) -> None:
    like = row.get("like")
    if like is None:
        return
    row["like"] = like = like.lower()
    if like not in known:
        from difflib import get_close_matches

        near = get_close_matches(like[:80], list(known), 2, 0.5)
        raise BadInput(
            f"the reference has no {kind} '{shortened(like)}'",
            "like",
            f"did you mean {' or '.join(near)}?" if near else "give a key of the reference",
        )


def _classes(known: Collection[str]) -> Mapping[str, Any]:
    """What is known of classes by key: contents or symbols; an empty mapping where only keys were given."""
    return known if isinstance(known, Mapping) else {}


def _key(name: str, row: Row, known: Collection[str]) -> None:
    text = row[name].strip()
    if text.lower().startswith(PREFIX):
        slug = key_of(text[len(PREFIX) :])
        if not slug:
            raise BadInput(f"'{shortened(text)}' is no key", name, "write my: and a name")
        row[name] = PREFIX + slug
        return
    row[name] = text.lower()
    if row[name] not in known:
        from difflib import get_close_matches

        near = get_close_matches(row[name][:80], list(known), 2, 0.5)
        raise BadInput(
            f"no record has the key '{shortened(text)}'",
            name,
            f"did you mean {' or '.join(near)}?" if near else "give a key of the reference, or my:NAME",
        )


def _band(columns: tuple[str, str, str, str], row: Row) -> None:
    """Fill a missing value with the middle of its range; BadInput for a wrong order, one end alone, a guess without."""
    at, at_low, at_high, at_basis = columns
    value, low, high = row.get(at), row.get(at_low), row.get(at_high)
    if value is None:
        if low is None and high is None:
            return
        if low is None or high is None:
            raise BadInput("one end of a range is missing", at, "give both, or the value")
        value = row[at] = round((low + high) / 2, 9)
    if (low is not None and low > value) or (high is not None and high < value):
        raise BadInput("low, value and high are out of order", at, "give low <= value <= high")
    if (row.get(at_basis) or row.get("basis")) == "guess" and (low is None or high is None or low == high):
        raise BadInput("a guess without a range", at, "say how low and how high it may be")


def _expansion(row: Row, cubical: bool) -> None:
    low, high, value = (row.get(f"expansion_{n}") for n in ("from_c", "to_c", "ppm_per_k"))
    if value is None:
        if low is not None or high is not None:
            raise BadInput("a span without its expansion", "expansion_ppm_per_k", "give the figure too")
        return
    if low is None or high is None:
        raise BadInput(
            "an expansion says little without its span of temperature",
            "expansion_from_c",
            "give the span, such as 20 to 400 °C",
        )
    if low >= high:
        raise BadInput("the span does not rise", "expansion_from_c", "put the lower temperature first")
    if not cubical and max(value, row.get("expansion_high_ppm_per_k") or 0.0) > 30:
        column = next(c for c in OWN["glass"].columns if c.name == "expansion_ppm_per_k")
        raise BadInput(f"{value:g} is out of bounds", column.name, bounds_told(column, 31.0))
    if cubical:
        row.setdefault("expansion_as_given", f"{value:g} ppm/K, cubical")
        for name in ("expansion_ppm_per_k", "expansion_low_ppm_per_k", "expansion_high_ppm_per_k"):
            if row.get(name) is not None:
                row[name] = nine_digits(row[name] / 3)


def _fuse(row: Row) -> None:
    low, high = row.get("fuse_low_c"), row.get("fuse_high_c")
    if (low is None) != (high is None):
        raise BadInput("one end of the firing range is missing", "fuse_low_c", "give both")
    if low is not None and high is not None and low > high:
        raise BadInput("the firing range runs from high to low", "fuse_low_c", "put the lower temperature first")


def own_of(kind: str) -> Own:
    """The kind called by this word or by the name of its table; BadInput for any other word."""
    kind = next((own.kind for own in OWN.values() if kind == own.table), kind)
    if kind not in OWN:
        raise BadInput(f"no kind is called '{shortened(kind, 20)}'", "kind", f"use one of: {', '.join(OWN)}")
    return OWN[kind]
