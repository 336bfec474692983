"""A piece that is still being put together: its tables, changed one step at a time, and the file they make."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping

from refdb.errors import BadInput
from refdb.frozen import dataclass, field, replace
from refdb.quantities import forgiving

Value = str | int | float | bool
Table = Mapping[str, Value]
#: The tables of a piece that stand once, in the order in which they are written.
_TABLES = ("piece", "base", "kiln")
#: What a bare number is taken for, by the name of its field.
_UNITS = {
    "thickness": "mm",
    "width": "mm",
    "height": "mm",
    "rise": "mm",
    "area": "cm2",
    "coverage": "%",
    "kiln": "C",
    "minutes": "min",
    "cooling": "min",
    **dict.fromkeys(("depth", "floor", "height", "length", "size", "frame"), "mm"),
}


def completed(name: str, text: str) -> str:
    """What was typed into a field, with the unit that a bare number leaves out."""
    return forgiving.completed(text, _UNITS[name]) if name in _UNITS else text.strip()


@dataclass(frozen=True)
class Sketch:
    """The tables of a piece file. `steps` are in the order in which they are done, and numbered from 1."""

    piece: Table = field(default_factory=dict)
    base: Table = field(default_factory=dict)
    kiln: Table = field(default_factory=dict)
    steps: tuple[Table, ...] = ()

    @classmethod
    def of(cls, text: str) -> Sketch:
        """The tables of a piece file; BadInput for what is none. Their values are not looked at."""
        try:
            data = tomllib.loads(text)
        except (ValueError, RecursionError):
            raise BadInput("this is no piece file", "piece", "begin from a template, or send a file") from None
        (piece, base, kiln), steps = (data.get(name, {}) for name in _TABLES), data.get("step", [])
        tables = [piece, base, kiln, *(steps if isinstance(steps, list) else [None])]
        if set(data) - {*_TABLES, "step"} or not all(map(_is_plain, tables)):
            raise BadInput("this piece file holds more than a form can show", "piece", "paste its text instead")
        return cls(piece, base, kiln, tuple(steps))

    @property
    def text(self) -> str:
        """The piece file."""
        whole = zip(_TABLES, (self.piece, self.base, self.kiln), strict=True)
        tables = [(f"[{name}]", table) for name, table in whole if table or name != "kiln"]
        tables += [("[[step]]", step) for step in self.steps]
        return "\n".join(
            f"{head}\n" + "".join(f"{k} = {_toml(v)}\n" for k, v in table.items()) for head, table in tables
        )

    @property
    def fired(self) -> Sketch:
        """As far as it has been fired: the steps up to the last fire, of which there may be none."""
        last = max((n for n, step in enumerate(self.steps, 1) if step.get("do") == "fire"), default=0)
        return replace(self, steps=self.steps[:last])

    def with_body(self, piece: Table, base: Table) -> Sketch:
        """The same steps on another body; what a table does not say is left away."""
        return replace(self, piece=dict(piece), base=dict(base))

    def with_step(self, at: int, step: Table) -> Sketch:
        """With one more step, which gets the number `at`; beyond the end it is the last."""
        before = min(max(at, 1), len(self.steps) + 1) - 1
        return self._with((*self.steps[:before], dict(step), *self.steps[before:]))

    def with_changed(self, number: int, step: Table) -> Sketch:
        """With another step in the place of one; BadInput for a number that there is not."""
        self._there(number)
        return self._with((*self.steps[: number - 1], dict(step), *self.steps[number:]))

    def without(self, number: int) -> Sketch:
        """Without a step; BadInput for a number that there is not."""
        self._there(number)
        return self._with((*self.steps[: number - 1], *self.steps[number:]))

    def moved(self, number: int, by: int) -> Sketch:
        """With a step so many places later, or earlier where `by` is below zero; not beyond either end."""
        self._there(number)
        rest = self.without(number)
        return rest.with_step(min(max(number + by, 1), len(self.steps)), self.steps[number - 1])

    def copied(self, number: int) -> Sketch:
        """With a step a second time, at the end; BadInput for a number that there is not."""
        self._there(number)
        return self._with((*self.steps, self.steps[number - 1]))

    def _with(self, steps: tuple[Table, ...]) -> Sketch:
        return replace(self, steps=steps)

    def _there(self, number: int) -> None:
        if not 1 <= number <= len(self.steps):
            raise BadInput(f"there is no step {number}", "step", f"name one from 1 to {len(self.steps)}")


def _is_plain(table: object) -> bool:
    return isinstance(table, dict) and all(isinstance(v, str | int | float | bool) for v in table.values())


def _toml(value: Value) -> str:
    if isinstance(value, str):
        # A string of JSON is one of TOML too, but for a control character that JSON lets stand.
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")
    return json.dumps(value)
