"""The form of a question that could not be answered: every field with what was typed, the wrong one with why."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qsl

from refdb.browse.pages.printed import on_a_page, upper_first, without_options
from refdb.browse.pages.suits import EXAMPLES, LABELS, field_of
from refdb.browse.server.named import UnknownInQuery

if TYPE_CHECKING:
    from refdb.errors import RefdbError

#: Pages that take a question in several fields, with those that are always there.
ASKED_AT = {
    "/suits": ("glass", "metal"),
    "/clears": ("leaf", "metal"),
    "/builds": ("metal",),
    "/compare": ("glass", "metal"),
    "/cautions": ("material",),
}
_LABELS = LABELS | {
    "glass": "glass",
    "metal": "metal",
    "leaf": "leaf",
    "under": "what lies under the leaf",
    "material": "material",
    "wish": "wish",
}
_MOST_FIELDS, _LONGEST = 20, 200


def form_again(path: str, query: str, fault: RefdbError) -> dict[str, Any] | None:
    """Where a form is sent, its fields, and what is wrong with one of them; None for a page without a form.

    Parameters
    ----------
    path, query : str
        Of the address that was asked.
    fault : RefdbError
        Why it was not answered.
    """
    always = ASKED_AT.get(path)
    if always is None:
        return None
    try:
        pairs = parse_qsl(query, max_num_fields=_MOST_FIELDS)
    except ValueError:
        return None
    typed = [(name, "".join(c for c in value if c.isprintable())[:_LONGEST]) for name, value in pairs]
    held = [(name, value) for name, value in typed if name in _LABELS]
    held += [(name, "") for name in always if name not in dict(held)]
    held.sort(key=lambda one: one[0] not in always)
    number = 0
    if isinstance(fault, UnknownInQuery):
        wrong, _, times = fault.field.partition(" ")
        number = int(times or 1) - 1
    else:
        wrong = field_of(fault, _LABELS) or (held[0][0] if len(held) == 1 else "")
    places = [n for n, (name, _) in enumerate(held) if name == wrong]
    at = places[min(number, len(places) - 1)] if places else -1
    todo = without_options(on_a_page(fault.todo)[0])
    if isinstance(fault, UnknownInQuery) and fault.links:
        todo = f"Did you mean {' or '.join(label for label, _ in fault.links)}?"
    return {
        "path": path,
        "why": " ".join(_sentence(text) for text in (fault.what, todo) if text),
        "fields": [
            {
                "id": f"f-{n}",
                "name": name,
                "label": _LABELS[name],
                "value": value,
                "example": EXAMPLES.get(name, ""),
                "wrong": n == at,
            }
            for n, (name, value) in enumerate(held)
        ],
    }


def _sentence(text: str) -> str:
    return upper_first(text) if text.endswith(("?", ".")) else f"{upper_first(text)}."
