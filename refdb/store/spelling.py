"""Words of the store spelt most like one that it does not hold: found by trigrams, held against it letter by letter."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from refdb.store.reference_file import ReferenceFile

_SHORTEST, _LONGEST = 4, 24
_MOST_LOOKED_AT = 600
_AS_NEAR = 4
#: Words so short have many neighbours.
_SHORT = 5
_VOWELS = frozenset("aeiou")
#: Rows of keys, and those that stand above one another.
_KEYS = ("qwertyuiop", "asdfghjkl", "zxcvbnm", "qaz", "wsx", "edc", "rfv", "tgb", "yhn", "ujm", "ik", "ol")
#: Letters that are heard or typed alike, beside vowels.
_ALIKE = tuple(map(set, ("ck", "cs", "sz", "mn", "fv", "gj", "bv", "dt", "iy")))


def nearest_words(ref: ReferenceFile, word: str, most: int = 1, slips: int | None = None) -> list[str]:
    """The words of the store within some slips of the pen of this one, the nearest and then the commonest first.

    One slip is a letter added, left out, changed, or swapped with its neighbour. By default a short word may have one
    and a longer one two.
    """
    if not _SHORTEST <= len(word) <= _LONGEST or not word.isalpha():
        return []
    allowed = slips if slips is not None else 1 if len(word) < 7 else 2
    trigrams = " OR ".join(f'"{word[at : at + 3]}"' for at in range(len(word) - 2))
    found = ref.rows(
        "SELECT word, uses FROM spelling WHERE spelling MATCH ? AND length(word) BETWEEN ? AND ? LIMIT ?",
        trigrams,
        len(word) - allowed,
        len(word) + allowed,
        _MOST_LOOKED_AT,
    )
    near = _within(word, found, allowed)
    if not near:
        # Two letters swapped in the middle of a short word leave no trigram as it was.
        near = _within(
            word,
            ref.rows(
                "SELECT word, uses FROM spelling WHERE substr(word, 1, 1) = ? AND length(word) BETWEEN ? AND ?",
                word[0],
                len(word) - 1,
                len(word) + 1,
            ),
            allowed,
        )
    return [one for _, _, one in sorted(near)[:most]]


def meant_word(ref: ReferenceFile, word: str) -> str:
    """The word of the store that this one is likely a slip of: the nearest, or of several one slip away the first."""
    near = nearest_words(ref, word, _AS_NEAR)
    by_one = [n for n in near if slips_between(word, n, 1) <= 1]
    return next((n for n in by_one or near[:1] if likely_slip(word, n)), "")


def likely_slip(word: str, other: str) -> bool:
    """Whether a short word is likely a slip of another: of a brand no band was meant, nor of a price a prick.

    In a word of five letters and fewer a letter may be doubled or single, swapped with its neighbour, or changed for
    one that sounds like it, and a letter may be left over at its end; the first stays. In longer words a letter may
    also be changed for its neighbour on the keys, left out or one too many: to charge is not to change, nor does a
    chicken thicken. Of two slips none is in the first letter, and no two are left out: a dentist makes no dents.
    """
    if len(word) > _SHORT:
        if slips_between(word, other, 1) <= 1:
            unlike = [(a, b) for a, b in zip(word, other, strict=False) if a != b]
            return len(word) != len(other) or len(unlike) > 1 or all(_likely(a, b) for a, b in unlike)
        return word[0] == other[0] and abs(len(word) - len(other)) < 2
    if word[0] != other[0]:
        return False
    if len(word) != len(other):
        return word.startswith(other) or _undoubled(word).rstrip("e") == _undoubled(other).rstrip("e")
    unlike = [(a, b) for a, b in zip(word, other, strict=True) if a != b]
    return sorted(word) == sorted(other) or all({a, b} <= _VOWELS or {a, b} in _ALIKE for a, b in unlike)


def _likely(a: str, b: str) -> bool:
    """Whether one letter is easily typed for another."""
    return {a, b} <= _VOWELS or {a, b} in _ALIKE or any(a + b in row or b + a in row for row in _KEYS)


def _undoubled(word: str) -> str:
    return "".join(a for a, b in zip(word, word[1:] + " ", strict=True) if a != b)


def _within(word: str, rows: list[dict[str, object]], allowed: int) -> list[tuple[int, int, str]]:
    near = []
    for row in rows:
        other = str(row["word"])
        if (away := slips_between(word, other, allowed)) <= allowed:
            near.append((away, -int(str(row["uses"])), other))
    return near


def slips_between(a: str, b: str, most: int) -> int:
    """Slips of the pen that make one word of the other; `most` + 1 where there are more."""
    if abs(len(a) - len(b)) > most:
        return most + 1
    before: list[int] = []
    line = list(range(len(b) + 1))
    for i, one in enumerate(a, 1):
        before, last, line = line, before, [i]
        for j, other in enumerate(b, 1):
            least = min(before[j] + 1, line[j - 1] + 1, before[j - 1] + (one != other))
            if i > 1 and j > 1 and one == b[j - 2] and a[i - 2] == other:
                least = min(least, last[j - 2] + 1)
            line.append(least)
        if min(line) > most:
            return most + 1
    return line[-1]
