"""Records to choose from in a form, by family: most pages show the same long lists."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from markupsafe import Markup, escape

from refdb.judge.remembered import Remembered

#: Lists that are remembered, some ten kilobytes each.
_MOST = 32
_lists = Remembered[str](_MOST)


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
    shown = tuple(groups)
    records = tuple(record for _, held in shown for record in held)
    families = tuple((family, len(held)) for family, held in shown)
    text = _lists.of(records, lambda: _written(shown, named), families)
    one = f'<option value="{escape(picked)}"'
    return Markup(text.replace(f"{one}>", f"{one} selected>") if picked else text)


def _written(groups: Iterable[tuple[str, Sequence[Any]]], named: Callable[[Any], str]) -> str:
    return "".join(
        f'\n<optgroup label="{escape(family)}">\n'
        + "".join(f'<option value="{escape(r.key)}">{escape(named(r))}</option>\n' for r in records)
        + "</optgroup>"
        for family, records in groups
    )
