"""Headers of the columns of Datasette's tables: what they hold in words, with the unit."""

from __future__ import annotations

from collections.abc import Callable

from markupsafe import Markup

from refdb.browse.site import OWN_TABLES, Site
from refdb.records.printed import unit_of
from refdb.store.schema import TABLE
from refdb.store.workshop.schema import OWN

_VIEWS = {"metals": "metal_details", "glasses": "glass_details", "leaf": "leaf_details"}
_BARE = frozenset({"low", "high", "from", "to"})


def _own_heads() -> dict[str, dict[str, str]]:
    """Headers of the workshop's tables, by table and column.

    Columns labelled "low", "high", "from" or "to" follow the column they bound, and get its name before their own.
    """
    heads: dict[str, dict[str, str]] = {}
    for own in OWN.values():
        of = ""
        for column in own.columns:
            label = column.label or column.name.replace("_", " ")
            if label in _BARE:
                label = f"{of}, {label}"
            elif column.unit:
                of = label
            heads.setdefault(own.table, {})[column.name] = f"{label}, {column.unit}" if column.unit else label
    return heads


_OWN = _own_heads()


def head_of(site: Site) -> Callable[..., str]:
    """A function from table and column to the header: "begins to melt, °C" for what the store calls solidus_c.

    A third argument names the database; tables of the person's own may be called as those of the store.
    """
    units = sorted(((p.key, p.label, unit_of(p)) for p in site.ref.properties()), key=lambda p: -len(p[0]))

    def head(table: str, column: str, database: str = "") -> str:
        if database == OWN_TABLES.strip("/"):
            return _OWN.get(table, {}).get(column) or column.replace("_", " ")
        for name in (table, "materials", _VIEWS.get(table, "")):
            known = TABLE.get(name)
            if known is None or (name != table and table not in _VIEWS):
                continue
            for found in known.columns:
                if found.name == column:
                    return f"{found.label or found.name}, {found.unit}" if found.unit else found.label or found.name
        if table in _VIEWS:
            for key, label, unit in units:
                if column == key or column.startswith(f"{key}_"):
                    return f"{label}, {unit}" if unit else label
        return column.replace("_", " ")

    return head


#: How a column may be compared, in words; what Datasette knows besides is shown only where an address asks for it.
WAYS = {
    "contains": "contains",
    "exact": "is",
    "not": "is not",
    "startswith": "begins with",
    "endswith": "ends with",
    "gt": "is more than",
    "gte": "is at least",
    "lt": "is less than",
    "lte": "is at most",
    "isnull": "is empty",
    "notnull": "is not empty",
}
_ALONE = frozenset({"isnull", "notnull"})


def ways_of(picked: str) -> Markup:
    """The ways to compare as options, one of them picked."""
    known = WAYS if picked in WAYS else {**WAYS, picked: picked}
    option = Markup('<option value="{}"{}>{}</option>')
    chosen = Markup(" selected")
    return Markup("").join(
        option.format(f"{key}__1" if key in _ALONE else key, chosen if key == picked else "", words)
        for key, words in known.items()
    )
