"""The fields of a page's question, for its own form and for the form that comes back where a word was wrong."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from refdb.frozen import dataclass


@dataclass(frozen=True)
class Field:
    """One field: its parameter, what it is called, and the words it takes where these are few.

    Attributes
    ----------
    name, label : str
    choices : tuple of tuple of str
        Each word it takes, and how that is called; none where anything may be typed.
    empty : str
        What an empty choice is called.
    always : bool
        Whether it stands in a form that comes back even where it was not given.
    example : str
        What may be typed; empty for a name in words, which takes more room.
    """

    name: str
    label: str
    choices: tuple[tuple[str, str], ...] = ()
    empty: str = "any"
    always: bool = False
    example: str = ""

    @property
    def words(self) -> tuple[str, ...]:
        """The words it takes."""
        return tuple(word for word, _ in self.choices)

    def filled(self, value: str, number: int, wrong: bool = False) -> dict[str, Any]:
        """The field as a template shows it; a word that it does not take is there to be seen and changed."""
        choices = self.choices
        if choices and value and value not in self.words:
            choices = ((value, value), *choices)
        return {
            "id": f"f-{number}",
            "name": self.name,
            "label": self.label,
            "value": value,
            "choices": choices,
            "empty": self.empty,
            "long": not self.example if not self.choices else any(len(label) > 14 for _, label in choices),
            "example": self.example,
            "wrong": wrong,
        }


def each_as_it_is(words: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Choices that are called as they are written."""
    return tuple((word, word) for word in words)


def all_filled(fields: Iterable[Field], query: Mapping[str, str]) -> list[dict[str, Any]]:
    """Every field with what an address says."""
    return [field.filled(query.get(field.name, ""), number) for number, field in enumerate(fields)]
