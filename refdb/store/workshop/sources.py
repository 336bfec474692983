"""The sources that own records name; apart from the records, since every look-up tells them and few meet a record."""

from __future__ import annotations

from refdb.records import Source

#: Sources of own records, by key; those of figures by what they rest on.
SHELF = "own-shelf"
#: The source of a figure by the word for what it rests on.
SOURCE_OF = {"maker's sheet": "own-makers-sheet", "own test": "own-test", "guess": "own-guess"}
SOURCES = {
    SHELF: "Your own shelf, as you wrote it down",
    "own-makers-sheet": "The maker's sheet of your own material, as you wrote it down",
    "own-test": "A test of your own, as you wrote it down",
    "own-guess": "Your own guess",
}
#: What people are shown in place of the keys.
SOURCE_NAMES = {
    SHELF: "Your own shelf",
    "own-makers-sheet": "Your maker's sheet",
    "own-test": "Your own test",
    "own-guess": "Your own guess",
}


def own_sources() -> list[Source]:
    """The sources that own records name."""
    return [Source(key, SOURCE_NAMES[key], "own shelf", "", None, title) for key, title in SOURCES.items()]
