"""From what people call a thing to its record: keys, labels, other names, some of the words, slips of spelling.

`resolve` is the one way from words to a key. In this order it tries the key itself, the person's own names, labels and
other names in any spelling that `words.folded` makes alike, the same words in another order or written together,
words that only one record has, and one letter lost, doubled, swapped or wrong. Digits are never taken for others.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any, NamedTuple

from refdb.errors import Ambiguous, BadInput, NotFound
from refdb.frozen import replace
from refdb.records.named import BY_KEY, BY_NAME, BY_SPELLING, BY_WORDS, Meaning, Named
from refdb.store.name_tables import CHOICE, NAMED_KINDS, ONLY
from refdb.store.slips import SHORTEST, apart_by_one, near_words
from refdb.words import TURNED, folded, shortened

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: Longer text is no name.
LONGEST = 200
#: At most so many choices are told.
MOST_TOLD = 8
_OWN = "my:"
_QUOTES = "\"'‘’“”«»„"
_KEY = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)+")
#: Words that say of which kind a thing is, and those that say nothing.
_OF_KIND = {
    "glass": frozenset(("enamel", "glass", "email", "emaille", "powder", "frit", "vitreou")),
    "metal": frozenset(("sheet", "metal", "plate", "blank", "base")),
    "leaf": frozenset(),
    "solder": frozenset(("solder",)),
}
_SAY_NOTHING = frozenset(("a", "an", "the", "of", "for", "and", "with", "my", "some", "in", "type", "grade"))
_PLAIN = (frozenset[str](), _SAY_NOTHING)
#: Words whose beginnings mean something else: "lead" is not the beginning of what is free of it.
_WHOLE = frozenset(("leadfree",))
WHAT = {"metal": "base metal", "glass": "glass", "leaf": "leaf", "solder": "solder"}
_LISTED = {"metal": "refdb metals", "glass": "refdb glasses", "leaf": "refdb leaf"}


class _Name(NamedTuple):
    """One name of a record, folded; `standing` as in the table of aliases."""

    folded: str
    meaning: Meaning
    standing: str
    place: int


def resolve(ref: Reference, text: str, kind: str | None = None) -> Named:
    """What a name means.

    Parameters
    ----------
    ref : Reference
        The store; with a person's own shelf its records are known by their names too, and come first.
    text : str
        A key, a label, another name in English, French or German, some of the words of one, or nearly one of these.
    kind : str, optional
        metal, glass, leaf or solder; by default any of these.

    Returns
    -------
    Named
        The one meaning, or one that is far the commonest, with what else it may mean. Of a metal that was named with
        its thickness, as in "18 gauge copper", the thickness too.

    Raises
    ------
    BadInput
        It is no text.
    Ambiguous
        It may mean several things, which are its `choices` (exit status 2).
    NotFound
        It means nothing; `near` holds the nearest keys, nearest first.
    """
    if not isinstance(text, str):
        raise BadInput("is no name", str(kind or "material"), "give the name or the key of a record, as text")
    if len(text) > LONGEST:
        raise _nothing(ref, text, kind)
    clean = " ".join(text.split())
    # No name begins with a sign, and none holds one that steers a terminal.
    if not clean.lstrip(_QUOTES)[:1].isalnum() or not clean.isprintable():
        raise _nothing(ref, clean, kind)
    exact = _by_key(ref, clean.lower(), kind)
    if exact is not None:
        return Named(clean, exact, BY_KEY, said=False)
    wanted = folded(clean)
    own = _own(ref, clean, kind)
    found = _exact(ref, wanted, kind)
    if own is not None or found:
        return _taken(clean, own, found, BY_NAME)
    if kind == "metal":
        from refdb.quantities.spoken import parted

        said, rest = parted(clean)
        if said:
            return replace(resolve(ref, rest, kind), typed=clean, thickness=said, said=True)
    return _Loose(ref, clean, wanted, kind).named()


def nearest(ref: Reference, text: str, kind: str | None = None, most: int = 3) -> list[Meaning]:
    """The records whose names are nearest to a text, nearest first; for "did you mean"."""
    clean = " ".join(text.split()) if len(text) <= LONGEST else ""
    return _Loose(ref, clean, folded(clean), kind).near(most) if clean else []


def names_beginning(ref: Reference, start: str, kind: str | None = None, most: int = 40) -> list[tuple[str, Meaning]]:
    """Labels and other names that begin so, in any case and accent, with what each means first; for completion."""
    wanted = folded(start) if len(start) <= LONGEST else ""
    found = [n for n in _names(ref, kind, as_written=True) if n.folded and folded(n.folded).startswith(wanted)]
    told: dict[str, Meaning] = {}
    for name in sorted(found, key=lambda n: (n.folded.casefold(), n.place)):
        told.setdefault(name.folded, name.meaning)
    return list(told.items())[:most]


# Exactly


def _by_key(ref: Reference, key: str, kind: str | None) -> Meaning | None:
    for table in ("materials", "solders"):
        columns = "kind, key, label" if table == "materials" else "'solder' AS kind, key, label"
        for row in ref.rows(f"SELECT {columns} FROM {table} WHERE key = ?", key):
            if kind in (None, row["kind"]):
                return Meaning(**row)
    if key.startswith(_OWN):
        return ref.own_named(key, kind)
    return None


def _own(ref: Reference, clean: str, kind: str | None) -> Meaning | None:
    return ref.own_named(clean, kind) if kind != "solder" else None


def _exact(ref: Reference, wanted: str, kind: str | None) -> list[_Name]:
    """The names that are this one when folded; of a name that is a label and an alias the alias decides."""
    if not wanted:
        return []
    found = [
        Meaning(row["kind"], row["key"], row["label"])
        for row in _labelled(ref, kind)
        # Folding leaves the first letter of a label or key, and tells most apart without more.
        if any(name[0].lower() == wanted[0] and folded(name) == wanted for name in (row["label"], row["key"]))
    ]
    names = [_Name(wanted, one, ONLY, 1) for one in found]
    for row in ref.rows(
        "SELECT a.kind, a.record AS key, coalesce(m.label, s.label) AS label, a.standing, a.place FROM aliases a "
        "LEFT JOIN materials m ON m.key = a.record LEFT JOIN solders s ON s.key = a.record "
        "WHERE a.folded = ? AND a.kind = ifnull(?, a.kind)",
        wanted,
        kind,
    ):
        names.append(_Name(wanted, Meaning(row["kind"], row["key"], row["label"]), row["standing"], row["place"]))
    return names


def _labelled(ref: Reference, kind: str | None) -> list[dict[str, Any]]:
    return ref.rows(
        "SELECT kind, key, label FROM materials WHERE kind = ifnull(?, kind) "
        "UNION ALL SELECT 'solder', key, label FROM solders WHERE ifnull(?, 'solder') = 'solder'",
        kind,
        kind,
    )


def _names(ref: Reference, kind: str | None, as_written: bool = False) -> list[_Name]:
    """Every name of the reference of a kind, or of all: keys, labels and aliases."""
    names: list[_Name] = []
    labels: dict[tuple[str, str], str] = {}
    fold: Callable[[str], str] = str if as_written else folded
    for row in _labelled(ref, kind):
        one = Meaning(row["kind"], row["key"], row["label"])
        labels[one.kind, one.key] = one.label
        names += [_Name(fold(name), one, ONLY, 1) for name in (one.label, *(() if as_written else (one.key,)))]
    column = "alias" if as_written else "folded"
    for row in ref.rows(
        f"SELECT {column} AS name, kind, record, standing, place FROM aliases WHERE kind = ifnull(?, kind)", kind
    ):
        one = Meaning(row["kind"], row["record"], labels[row["kind"], row["record"]])
        names.append(_Name(row["name"], one, row["standing"], row["place"]))
    return names


def _taken(clean: str, own: Meaning | None, found: Iterable[_Name], how: str) -> Named:
    """The one meaning of these names; Ambiguous where there are several and none is far the commonest."""
    # Of several kinds the first decides: "gold" alone is the metal before it is a leaf.
    ordered = sorted(found, key=lambda n: (NAMED_KINDS.index(n.meaning.kind), n.standing == CHOICE, n.place))
    several = list(dict.fromkeys(n.meaning for n in ordered))
    if own is not None:
        is_plain = folded(clean) == folded(own.label) and not several
        return Named(clean, own, how, tuple(several[:MOST_TOLD]), said=not is_plain)
    first = {n.meaning for n in ordered if n.standing != CHOICE and n.meaning.kind == several[0].kind}
    if len(several) == 1 or len(first) == 1:
        chosen = several[0] if len(several) == 1 else next(iter(first))
        rest = tuple(m for m in several if m != chosen)[:MOST_TOLD]
        return Named(clean, chosen, how, rest, said=folded(clean) != folded(chosen.label) or bool(rest))
    raise ambiguous(clean, several)


def ambiguous(clean: str, several: list[Meaning]) -> Ambiguous:
    """The fault that tells the choices."""
    told = several[:MOST_TOLD]
    shown = ", ".join(m.small for m in told) + (f" and {len(several) - len(told)} more" if several[len(told) :] else "")
    return Ambiguous(
        f"'{shortened(clean, 60)}' may be: {shown}",
        todo="say which, by name or key",
        choices=tuple((m.key, m.label) for m in several),
    )


# Nearly


class _Loose:
    """The looser ways to read one text, tried in turn."""

    def __init__(self, ref: Reference, clean: str, wanted: str, kind: str | None) -> None:
        self.ref, self.clean, self.wanted, self.kind = ref, clean, wanted, kind
        own = ref.own_names(clean, kind) if kind != "solder" else []
        self.names = [_Name(folded(m.label), m, ONLY, 0) for m in own] + _names(ref, kind)
        self.words = wanted.split()
        self.of: dict[Meaning, set[str]] = {}
        #: Names by their letters without blanks, and by their words in order of the alphabet.
        self.spelt: dict[str, list[_Name]] = {}
        for name in self.names:
            parts = name.folded.split()
            self.of.setdefault(name.meaning, set()).update(parts)
            for form in {"".join(parts), " ".join(sorted(parts))}:
                self.spelt.setdefault(form, []).append(name)
        self.known: set[str] = set().union(*self.of.values()) if self.of else set()

    def named(self) -> Named:
        found = self._alike(self.words, _PLAIN)
        elsewhere = None if found else self._of_another_kind()
        if elsewhere is not None:
            raise self._not_found(elsewhere)
        found = found or self._alike(self.words)
        if found:
            return _taken(self.clean, None, found, BY_NAME)
        # A key is given by programs too: nearly one, or the beginning of one, is not one.
        is_key = _KEY.fullmatch(self.clean) is not None
        nearly = [] if is_key or self.known.issuperset(self.words) else self._one_slip_away()
        if nearly:
            return _taken(self.clean, None, nearly, BY_SPELLING)
        if self.words and (some := self._having(self.words, whole=is_key)):
            return self._one_of(some, BY_WORDS)
        alike, having = ([], []) if is_key else self._misspelt()
        if alike:
            return _taken(self.clean, None, alike, BY_SPELLING)
        if having:
            return self._one_of(having, BY_SPELLING)
        raise self._not_found(None)

    def near(self, most: int) -> list[Meaning]:
        """The nearest meanings: slips of one letter first, then by words in common, then by spelling."""
        slips = self._one_slip_away() or self._one_slip_away(digits=True)
        found = [n.meaning for n in sorted(slips, key=lambda n: (n.standing == CHOICE, n.place))]
        alike, having = self._misspelt()
        found += [*(n.meaning for n in alike), *having]
        found += [n.meaning for n in self._alike([w for w in self.words if w in self.known])]
        # What is spelt very like it comes before what has words in common, and that before the rest.
        for least in (0.8, None, 0.6):
            if len(set(found)) < most:
                found += self._in_common() if least is None else self._spelt_like(most, least)
        near = list(dict.fromkeys(found))[:most]
        # Who types an own key means an own record, where there is one like it.
        own = [m for m in near if m.key.startswith(_OWN)] if self.clean.lower().startswith(_OWN) else []
        return own or near

    def _alike(self, words: list[str], ways: tuple[frozenset[str], ...] = ()) -> list[_Name]:
        """Names of the same words in any order, written together or apart, with or without the word of their kind."""
        for idle in ways or (*_PLAIN, _SAY_NOTHING | _OF_KIND.get(self.kind or "", frozenset())):
            kept = [w for w in words if w not in idle]
            if not kept:
                continue
            found = self.spelt.get("".join(kept)) or self.spelt.get(" ".join(sorted(kept)))
            if found:
                return found
        return []

    def _of_another_kind(self) -> Meaning | None:
        """What the text names exactly that is of another kind."""
        if self.kind is None:
            return None
        key = _by_key(self.ref, self.clean.lower(), None)
        if key is not None:
            return key
        others = [n for n in _exact(self.ref, self.wanted, None) if n.meaning.kind != "solder"]
        return min(others, key=lambda n: NAMED_KINDS.index(n.meaning.kind)).meaning if others else None

    def _having(self, words: list[str], whole: bool = False) -> list[Meaning]:
        """Records that have every word that says something, whole or, unless `whole`, by its first three letters."""
        idle = _SAY_NOTHING | _OF_KIND.get(self.kind or "", frozenset())
        wanted = [w for w in words if w not in idle]
        found = []
        if not any(len(w) > 1 or w.isdigit() for w in wanted):
            return []
        for meaning, of in self.of.items():
            if all(w in of or (not whole and len(w) > 2 and any(o.startswith(w) for o in of - _WHOLE)) for w in wanted):
                label = set(folded(meaning.label).split())
                found.append((not meaning.key.startswith(_OWN), -len(label & set(wanted)), len(label), meaning))
        return [one[-1] for one in sorted(found)]

    def _one_slip_away(self, digits: bool = False) -> list[_Name]:
        """Names that one slip makes of the whole text, however it is parted into words."""
        whole = self.wanted.replace(" ", "")
        if len(whole) < (SHORTEST - 1 if digits else SHORTEST):
            return []
        return [n for form, some in self.spelt.items() if apart_by_one(whole, form, digits) for n in some]

    def _misspelt(self) -> tuple[list[_Name], list[Meaning]]:
        """What the words mean with the slips in them put right: names of these words, else records that have all."""
        if not self.words or len(self.words) > 12:
            return [], []
        known = self.known.union(TURNED)
        corrected = [[w] if self._is_known(w) else near_words(w, known)[:4] for w in self.words]
        idle = _SAY_NOTHING | _OF_KIND.get(self.kind or "", frozenset())
        kept = [c for c, w in zip(corrected, self.words, strict=True) if c or w not in idle]
        if not kept or not all(kept) or all(len(c) == 1 and c[0] in self.words for c in kept):
            return [], []
        found = []
        ways = [folded(" ".join(words)).split() for words in _combined(kept)]
        for words in ways:
            found += self._alike(words)
        # A short word put right and only part of a name would be too much of a guess.
        if found or any(w not in c and len(w) <= SHORTEST + 1 for c, w in zip(corrected, self.words, strict=True)):
            return found, []
        return [], list(dict.fromkeys(m for words in ways for m in self._having(words)))

    def _is_known(self, word: str) -> bool:
        return word in self.known or (len(word) > 2 and any(k.startswith(word) for k in self.known - _WHOLE))

    def _in_common(self) -> list[Meaning]:
        """Records by how many of the words, put right, they have."""
        idle = _SAY_NOTHING | _OF_KIND.get(self.kind or "", frozenset())
        words = {
            w for one in self.words if one not in idle and len(one) > 1 for w in (one, *near_words(one, self.known))
        }
        counted = [(-len(words & of), len(m.label), m.key, m) for m, of in self.of.items() if words & of]
        return [one[-1] for one in sorted(counted)]

    def _spelt_like(self, most: int, least: float) -> list[Meaning]:
        from difflib import get_close_matches

        first: dict[str, Meaning] = {}
        for name in self.names:
            first.setdefault(name.folded, name.meaning)
        return [first[n] for n in get_close_matches(self.wanted[:60], list(first), most, least)]

    def _one_of(self, several: list[Meaning], how: str) -> Named:
        if len(several) == 1:
            return Named(self.clean, several[0], how)
        raise ambiguous(self.clean, several)

    def _not_found(self, elsewhere: Meaning | None) -> NotFound:
        return _nothing(self.ref, self.clean, self.kind, elsewhere, self.near(3))


def _combined(choices: list[list[str]]) -> list[list[str]]:
    """The ways to take one of each, the first few of them."""
    ways: list[list[str]] = [[]]
    for some in choices:
        ways = [[*way, one] for way in ways for one in some][:8]
    return ways


def _nothing(
    ref: Reference, clean: str, kind: str | None, elsewhere: Meaning | None = None, near: Iterable[Meaning] = ()
) -> NotFound:
    what = WHAT.get(kind or "", "record")
    lists = f"{_LISTED.get(kind or '', 'refdb find WORD')} lists them"
    if not clean:
        return NotFound(f"no {what} is named", todo=f"give a name or a key; {lists}")
    shown = shortened(clean, 60)
    keys = tuple(m.key for m in near)
    if elsewhere is not None:
        return NotFound(f"'{shown}' is a {WHAT[elsewhere.kind]}, not a {what}", todo=lists, near=keys)
    todo = f"did you mean {' or '.join(keys)}?" if keys else lists
    return NotFound(f"no {what} is called '{shown}'", todo=todo, near=keys)
