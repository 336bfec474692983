"""The form of a question that could not be answered: every field with what was typed, the wrong one with why."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qsl

from refdb.browse.pages import builds, compare, grid, lists, reading, suits
from refdb.browse.pages.fields import Field
from refdb.browse.pages.printed import on_a_page, upper_first, without_options
from refdb.browse.pages.suits import EXAMPLES, LABELS, field_of
from refdb.browse.server.named import UnknownInQuery
from refdb.errors import RefdbError

if TYPE_CHECKING:
    from refdb.browse.site import Site

_NAMES = {"glass": "glass", "metal": "metal", "leaf": "leaf", "under": "what lies under the leaf", "wish": "wish"}
_EXAMPLE = (Field("example", "example", (("moth", "a moth brooch"),), "none"),)
_MOST_FIELDS, _LONGEST = 20, 200


def _of(names: tuple[str, ...], *always: str) -> tuple[Field, ...]:
    """Fields in which names and builds are typed, those that are always there first."""
    labels = _NAMES | LABELS
    rest = [name for name in names if name not in always]
    return tuple(
        Field(name, labels[name], always=name in always, example=EXAMPLES.get(name, "")) for name in (*always, *rest)
    )


#: The fields of every page that takes a question, by its address.
FIELDS: dict[str, Callable[[Site, dict[str, str]], tuple[Field, ...]]] = {
    "/suits": lambda site, query: _of(suits.PARAMETERS, "glass", "metal"),
    "/clears": lambda site, query: _of(("under",), "leaf", "metal"),
    "/builds": lambda site, query: _of(builds.PARAMETERS, "metal"),
    "/compare": lambda site, query: _of(compare.PARAMETERS, "glass", "metal"),
    "/pool": lambda site, query: _of((), "glass"),
    "/cautions": lambda site, query: reading.fields_of_cautions(),
    "/faults": lambda site, query: reading.fields_of_faults(),
    "/practice": lambda site, query: reading.fields_of_practice(site),
    "/sources": lambda site, query: (Field("key", "source, by its key or name", always=True),),
    "/find": lambda site, query: (Field("q", "words, or a question", always=True),),
    "/grid": lambda site, query: grid.fields(site),
    "/materials": lists.fields,
    **dict.fromkeys(("/piece", "/piece/sheet", "/piece/bench"), lambda site, query: _EXAMPLE),
}


def form_again(site: Site, path: str, query: str, fault: RefdbError) -> dict[str, Any] | None:
    """Where a form is sent, its fields, and what is wrong with one of them; None for a page without a form.

    Parameters
    ----------
    site : Site
    path, query : str
        Of the address that was asked.
    fault : RefdbError
        Why it was not answered.
    """
    if path not in FIELDS:
        return None
    try:
        pairs = parse_qsl(query, max_num_fields=_MOST_FIELDS)
    except ValueError:
        return None
    typed = [(name, "".join(c for c in value if c.isprintable())[:_LONGEST]) for name, value in pairs]
    try:
        fields = {field.name: field for field in FIELDS[path](site, dict(typed))}
    except RefdbError:
        return None
    wrong, number = _place_of(fault, fields)
    held: list[tuple[str, str]] = []
    for name, value in typed:
        if name in fields and (path in _SEVERAL or name not in dict(held)):
            held.append((name, value))
    held += [(n, "") for n, field in fields.items() if (field.always or n == wrong) and n not in dict(held)]
    if not held:
        return None
    held.sort(key=lambda one: list(fields).index(one[0]))
    places = [n for n, (name, _) in enumerate(held) if name == wrong]
    at = places[min(number, len(places) - 1)] if places else -1
    return {
        "path": path,
        "label": fields[wrong].label if wrong in fields else "",
        "button": "Show" if path in ("/grid", "/materials") else "Find" if path in _LOOKED_UP else "Ask",
        "why": _why(fault, fields.get(wrong)),
        "placed": at >= 0,
        "takes_words": any(name in _NAMES or name in ("on", "material") for name, _ in held),
        "fields": [fields[name].filled(value, n, n == at) for n, (name, value) in enumerate(held)],
    }


#: Pages whose fields may be given several times, and those on which something is looked up.
_SEVERAL = ("/compare",)
_LOOKED_UP = ("/cautions", "/faults", "/practice", "/sources", "/find")


def _place_of(fault: RefdbError, fields: dict[str, Field]) -> tuple[str, int]:
    """The parameter at which an error stands, and the how manieth of that name; empty where it is none of these."""
    if isinstance(fault, UnknownInQuery):
        wrong, _, times = fault.field.partition(" ")
        return wrong, int(times or 1) - 1
    if fault.where in fields:
        return fault.where, 0
    return field_of(fault, {name: field.label for name, field in fields.items()}), 0


def _why(fault: RefdbError, field: Field | None) -> str:
    """What is wrong, and what to do; where a field has its words to choose from these are not told again."""
    todo = without_options(on_a_page(fault.todo)[0])
    if isinstance(fault, UnknownInQuery) and fault.links:
        todo = f"Did you mean {' or '.join(label for label, _ in fault.links)}?"
    elif field is not None and field.choices and todo.startswith("Use one of"):
        todo = "Choose one"
    return " ".join(_sentence(text) for text in (fault.what, todo) if text)


def _sentence(text: str) -> str:
    return upper_first(text) if text.endswith(("?", ".")) else f"{upper_first(text)}."
