"""What was probably meant where a command cannot be read: names of several words without quotes."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.errors import Ambiguous, NotFound, RefdbError
from refdb.words import typeable

#: More words are no glass and metal.
_MOST_WORDS = 12


def with_quotes(arguments: Sequence[str]) -> str:
    """The command with its names in quotes, such as `refdb suits "hard clear" copper`; "" where it is not plain.

    Only `suits` takes two names one after the other; any other command takes all its words as one.
    """
    words: list[str] = []
    if arguments and arguments[0] == "suits":
        for word in arguments[1:]:
            if word.startswith("-"):
                break
            words.append(word)
    if not 2 < len(words) <= _MOST_WORDS:
        return ""
    try:
        glass, metal = _parted(words)
    except RefdbError:
        return ""
    return f"refdb suits {typeable(glass)} {typeable(metal)}" if glass else ""


def _parted(words: Sequence[str]) -> tuple[str, str]:
    """The glass and the metal that these words name in this order; two empty texts where they name none."""
    from refdb.cli.common import opened
    from refdb.store.reference import Reference

    def doubt(ref: Reference, text: str, kind: str) -> int:
        try:
            return len(ref.named(text, kind).also)
        except Ambiguous:
            return 10
        except NotFound:
            return 100

    ways = [(" ".join(words[:at]), " ".join(words[at:])) for at in range(1, len(words))]
    with opened() as ref:
        doubts = {way: doubt(ref, way[0], "glass") + doubt(ref, way[1], "metal") for way in ways}
    best = min(ways, key=lambda way: doubts[way])
    return best if doubts[best] < 100 else ("", "")
