"""Records to choose from in a form, by family: most pages show the same long lists."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from typing import Any

from markupsafe import Markup, escape

#: Lists that are remembered, some ten kilobytes each.
_MOST = 32
_Rows = tuple[tuple[str, tuple[tuple[str, str], ...]], ...]


def options(groups: Iterable[tuple[str, Sequence[Any]]], picked: str, named: Callable[[Any], str]) -> Markup:
    """The options of a select.

    Parameters
    ----------
    groups : iterable of tuple
        A family and its records.
    picked : str
        The key of the one that is chosen; empty where none is.
    named : callable
        What a record is called inside a sentence.
    """
    rows = tuple((family, tuple((r.key, named(r)) for r in records)) for family, records in groups)
    text = _written(rows)
    one = f'<option value="{escape(picked)}"'
    return Markup(text.replace(f"{one}>", f"{one} selected>") if picked else text)


@lru_cache(maxsize=_MOST)
def _written(rows: _Rows) -> str:
    return "".join(
        f'\n<optgroup label="{escape(family)}">\n'
        + "".join(f'<option value="{escape(key)}">{escape(name)}</option>\n' for key, name in records)
        + "</optgroup>"
        for family, records in rows
    )
