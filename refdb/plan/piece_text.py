"""The text of a piece file as something that can be changed in one place and left alone in all others."""

from __future__ import annotations

import re
from collections.abc import Mapping

from refdb.errors import BadInput
from refdb.frozen import dataclass

_HEADER = re.compile(r"\s*\[\[?\s*([A-Za-z_]+)\s*\]\]?\s*(#.*)?$")
#: A value up to a remark that may follow it; the texts of a piece file hold no # that is not quoted.
_VALUE = re.compile(r'(?P<head>\s*{key}\s*=\s*)(?P<value>"[^"]*"|[^#]*?)(?P<tail>\s*(?:#.*)?)$')


@dataclass(frozen=True)
class PieceText:
    """Lines of a piece file whose steps are `[[step]]` tables, each key on a line of its own.

    Raises
    ------
    BadInput
        The steps stand in another form of TOML.
    """

    lines: tuple[str, ...]

    @classmethod
    def of(cls, text: str, steps: int) -> PieceText:
        """The text of a file in which so many steps were read."""
        found = cls(tuple(text.split("\n")))
        if len(found._places("step")) != steps or len(found._places("base")) != 1:
            raise BadInput("its tables cannot be told apart", "piece", "write each step as a [[step]] table")
        return found

    @property
    def text(self) -> str:
        """The whole text."""
        return "\n".join(self.lines)

    def with_value(self, table: str, number: int, key: str, value: str) -> PieceText:
        """The text with a value of a table set, written as TOML has it; `number` counts tables of the name from 1."""
        at, end = self._span(table, number)
        pattern = re.compile(_VALUE.pattern.replace("{key}", re.escape(key)))
        for k in range(at + 1, end):
            found = pattern.match(self.lines[k])
            if found:
                return self._with(k, k + 1, (f"{found['head']}{value}{found['tail']}",))
        return self._with(at + 1, at + 1, (f"{key} = {value}",))

    def with_step(self, number: int, values: Mapping[str, str]) -> PieceText:
        """The text with a step put in so that it is the one of this number."""
        places = self._places("step")
        block = ("[[step]]", *(f"{key} = {value}" for key, value in values.items()), "")
        if number > len(places):
            gap = () if not self.lines[-1].strip() else ("",)
            return self._with(len(self.lines), len(self.lines), (*gap, *block[:-1], ""))
        return self._with(places[number - 1], places[number - 1], block)

    def _places(self, table: str) -> list[int]:
        return [k for k, line in enumerate(self.lines) if (m := _HEADER.match(line)) and m[1] == table]

    def _span(self, table: str, number: int) -> tuple[int, int]:
        at = self._places(table)[number - 1]
        end = next((k for k in range(at + 1, len(self.lines)) if _HEADER.match(self.lines[k])), len(self.lines))
        return at, end

    def _with(self, first: int, last: int, new: tuple[str, ...]) -> PieceText:
        return PieceText((*self.lines[:first], *new, *self.lines[last:]))
