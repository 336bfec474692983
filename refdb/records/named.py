"""What a name was taken to mean, and how it was taken."""

from __future__ import annotations

from typing import Any, NamedTuple

from refdb.frozen import dataclass
from refdb.words import lower_first

#: How a name was taken: it is the record's key or label, another name of it, some of its words, or nearly one of these.
BY_KEY, BY_NAME, BY_WORDS, BY_SPELLING = "key", "name", "words", "spelling"


#: Keys of the person's own records begin so, so that neither store can hide a record of the other.
PREFIX = "my:"


def is_own(key: str) -> bool:
    """Whether the key is that of a record of the person's own."""
    return key.startswith(PREFIX)


def small(key: str, label: str) -> str:
    """The label of a record within a sentence; a name of the person's own stays as it is."""
    return label if is_own(key) else lower_first(label)


class Meaning(NamedTuple):
    """One record a name may mean: its kind (metal, glass, leaf or solder), key and label."""

    kind: str
    key: str
    label: str

    @property
    def small(self) -> str:
        """The label within a sentence."""
        return small(self.key, self.label)


@dataclass(frozen=True)
class Named:
    """A name that was taken: what was typed, what it means, how it was taken, and what else it may mean.

    `said` is false where there is nothing to say: the key or the label itself was typed. `thickness` is that of a metal
    which was named with it.
    """

    typed: str
    meaning: Meaning
    how: str
    also: tuple[Meaning, ...] = ()
    said: bool = True
    thickness: str = ""

    @property
    def key(self) -> str:
        """The key of the record."""
        return self.meaning.key

    @property
    def taken_as(self) -> str:
        """How it was taken, as "lead-free hard clear; also: leaded hard clear", or nothing."""
        if not self.said:
            return ""
        also = f"; also: {', '.join(one.small for one in self.also)}" if self.also else ""
        thick = f", {self.thickness}" if self.thickness else ""
        return f"{self.meaning.small}{thick}{also}"

    def as_dict(self) -> dict[str, Any]:
        """What an answer repeats: typed, key, label, how, and what else it may mean."""
        return {
            "typed": self.typed,
            "key": self.key,
            "label": self.meaning.label,
            "how": self.how,
            "also": [{"key": one.key, "label": one.label} for one in self.also],
            **({"thickness": self.thickness} if self.thickness else {}),
        }
