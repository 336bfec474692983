"""The one search over the store: all words first, then the most of them, then the nearest spelling; it says which."""

from __future__ import annotations

import re
from itertools import pairwise
from math import log
from typing import TYPE_CHECKING, Any

from refdb.errors import BadInput
from refdb.frozen import dataclass, field
from refdb.store.called import is_called, is_named, meant_by
from refdb.store.hits import in_a_row
from refdb.store.search_words import ARTICLES, IDLE, MOST_LENGTH, Synonyms, denied, forms, nouns, tokens
from refdb.store.spelling import meant_word, nearest_words
from refdb.words import shortened

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from refdb.store.reference import Reference

#: How much a kind of record weighs among others that hold the same words.
_WEIGHT = {
    "metal": 1.25, "glass": 1.2, "leaf": 1.2, "symptoms": 1.0, "practice_rules": 1.05, "hazards": 1.05,
    "firing_phases": 0.9, "colour_reactions": 0.85, "fit_rules": 0.85, "contacts": 0.8, "solders": 0.9,
    "exposure_limits": 0.7, "observed_firings": 0.6, "known_pairs": 0.6, "sources": 0.35, "reference_glasses": 0.4,
}  # fmt: skip
#: Kinds of which those that are called by all the words come before what only speaks of them.
_THINGS = ("metal", "glass", "leaf")
#: Words by which a question tells what kind of record it wants; they count for that kind alone.
_CUES = (
    (("symptoms",), re.compile(r"\b(why|wrong|problem|happen\w*|ruined|after firing|came out|my \w+ (is|has|went))\b")),
    (
        ("practice_rules",),
        re.compile(r"\b(how (do|to|should|can|long|much|many|often)|(should|do|can|may|must) i|when do)\b"),
    ),
    (("hazards", "exposure_limits"), re.compile(r"\b(safe|unsafe|safely|danger\w*|toxic|poison\w*|fumes?|harm\w*)\b")),
    (("metal", "glass", "leaf"), re.compile(r"^\s*(what is|whats|what are|tell me about)\b")),
)
_CUED = 1.3
#: Kinds of a lesser weight never come first because they are called so: limits, sources, firings seen.
_LEADING = 0.7
#: What a question asks of a thing: worth something where a record has it, and needed in none.
_ASKED_FOR = ("how long", "how much")
#: So many records more than are wanted are looked through for those that are called just so.
_MORE = 20
#: So many small words may stand beside what a question is about: what is it.
_LITTLE = 2
#: What a word in the body of a record is worth, beside one in its title or among its words.
_IN_BODY = 0.4
_IN_WORDS = 0.9
#: What two words are worth that stand side by side in the question and among the words of a record, beside each.
_SIDE_BY_SIDE = 0.8
#: What a word is worth that was reached by another for the same thing.
_BY_SYNONYM = 0.9


@dataclass(frozen=True)
class Hit:
    """One record that a search found.

    `whole` where it holds every word; `worth` is its weight against the others; `share` is how much of what was asked
    stands in it, rare words weighing more and words of its body less, nothing for a mere beginning of a word.
    """

    key: str
    kind: str
    title: str
    line: str
    whole: bool
    worth: float
    share: float = 1.0


@dataclass(frozen=True)
class Found:
    """What a search found: the words it looked for, how each was read, and the records, the best first.

    `begun` are words that stand nowhere but as the beginning of others.
    """

    text: str
    words: tuple[str, ...]
    hits: tuple[Hit, ...] = ()
    read_as: dict[str, str] = field(default_factory=dict)
    nowhere: tuple[str, ...] = ()
    near: tuple[str, ...] = ()
    begun: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether some record holds every word."""
        return any(hit.whole for hit in self.hits)

    @property
    def lone(self) -> bool:
        """Whether of a sentence no more than one thing was looked for, which is not yet what it asks."""
        return len(self.words) == 1 and len(tokens(self.text)) - len(tokens(self.words[0])) > _LITTLE

    def said(self, what: str = "record") -> str:
        """How the records were found, in a sentence; empty where they hold all words as they were typed."""
        told = []
        words, nowhere = (self._as_typed(some) for some in (self.words, self.nowhere))
        if self.read_as:
            told.append("; ".join(f"“{a}” is not in the store, read as “{b}”" for a, b in self.read_as.items()))
        if self.begun:
            told.append(f"“{'”, “'.join(self.begun)}” is only the beginning of words that were found")
        if self.hits and not self.whole:
            none = f", and none speaks of “{shortened('” or “'.join(nowhere), 80)}”" if nowhere else ""
            told.append(f"no {what} holds all of: {shortened(', '.join(words), 120)}{none}; the nearest")
        elif self.hits and self.nowhere:
            told.append(f"nothing holds: {shortened(', '.join(nowhere), 80)}")
        return "; ".join(told)

    def said_of_all(self) -> str:
        """The same of a search over all that there is: of a sentence that one thing alone was looked for, too."""
        lone = f"only “{shortened(self.words[0], 80)}” of it was looked for" if self.hits and self.lone else ""
        return self.said() or lone

    def _as_typed(self, words: Sequence[str]) -> list[str]:
        """Words as they were typed, not as one with what denies them."""
        typed = set(tokens(self.text))
        return [f"not {w[3:]}" if w.startswith("not") and w not in typed and w[3:] in typed else w for w in words]


class Term:
    """One thing that is looked for: the word as typed, what stands for it, and the rows found so far."""

    def __init__(self, word: str, same: tuple[str, ...], start: bool = False) -> None:
        self.word, self.same, self.start = word, same, start
        self.strong: dict[int, float] = {}
        self.rows: dict[int, float] = {}


def search(
    ref: Reference,
    text: str,
    kinds: Iterable[str] = (),
    most: int = 50,
    body: bool = True,
    idle: frozenset[str] = frozenset(),
    lines: bool = False,
) -> Found:
    """Records of some kinds, or of all, that hold the words of a text.

    Parameters
    ----------
    text : str
        Words or a sentence; small words that name nothing are passed over.
    kinds : iterable of str
        metal, glass, leaf or tables; all where empty.
    most : int
        So many records at most.
    body : bool
        Whether words count that stand only in the body of a record.
    idle : frozenset of str
        More words that say nothing here, where others do.
    lines : bool
        Whether each record comes with the line of its body that holds the words.

    Raises
    ------
    BadInput
        There is no word in the text.
    """
    looker = Looker(ref, text, tuple(kinds), body, idle)
    if not looker.every:
        raise BadInput("nothing to look for", todo="give a word, such as: refdb find foil")
    terms, read_as, nowhere = looker.terms()
    words = tuple(t.word for t in terms) + tuple(nowhere)
    shown = text.strip()[:MOST_LENGTH]
    own = looker.own(shown)
    if not any(t.rows for t in terms):
        near = tuple(n for w in nowhere for n in nearest_words(ref, w, 4, 3) if n != w)[:3]
        return Found(shown, words, tuple(own), read_as, tuple(nowhere), near)
    begun = tuple(t.word for t in terms if t.start)
    hits = looker.hits(terms, len(nowhere), _cued(text), most, lines)
    return Found(shown, words, (*own, *hits)[:most], read_as, tuple(nowhere), begun=begun)


def synonyms_of(ref: Reference, every: Sequence[str]) -> Synonyms:
    """What means the same as any of these words."""
    wanted = " OR ".join(f'"{form}"' for word in dict.fromkeys(every) for form in (word, *forms(word)))
    return Synonyms(
        ref.rows(
            "SELECT s.words, s.apart FROM search JOIN synonyms AS s ON s.key = search.key "
            "WHERE search MATCH ? AND kind = 'synonyms' ORDER BY s.key",
            f"words : ({wanted})",
        )
    )


def _cued(text: str) -> set[str]:
    lower = text[:MOST_LENGTH].lower()
    return {kind for kinds, cue in _CUES if cue.search(lower) for kind in kinds}


class Looker:
    """What one search asks of the store: a text cut into words, of which some say nothing here."""

    def __init__(
        self, ref: Reference, text: str, kinds: tuple[str, ...] = (), body: bool = True, idle: frozenset[str] = IDLE
    ) -> None:
        self.ref, self.kinds, self.body, self.idle = ref, kinds, body, IDLE | idle
        self.every = tokens(text)
        self.synonyms = synonyms_of(ref, self.every) if self.every else Synonyms(())
        marks = ", ".join("?" for _ in kinds)
        self._of_kinds = f" AND kind IN ({marks})" if kinds else " AND kind <> 'synonyms'"

    def own(self, text: str) -> list[Hit]:
        """Own records that hold all words."""
        return [
            Hit(str(r["key"]), str(r["kind"]), str(r["title"]), str(r["line"]), True, 9.0)
            for r in self.ref.own_hits(text, self.kinds)
        ]

    def terms(self) -> tuple[list[Term], dict[str, str], list[str]]:
        """What is looked for, which words were read as others, and which stand nowhere."""
        every = self.every
        terms: list[Term] = []
        read_as: dict[str, str] = {}
        nowhere: list[str] = []
        at = 0
        pairs = {start: (end, word) for start, end, word in denied(every)}
        named = nouns(every)
        # Of "enamel" alone something is meant, of "and or not" nothing.
        idle_too = all(w in self.idle for w in every) and not all(w in IDLE for w in every)
        while at < len(every):
            if at in pairs and (term := self._looked_up(Term(pairs[at][1], (pairs[at][1],)))).rows:
                terms.append(term)
                at = pairs[at][0]
                continue
            if at in named:
                self._named(every[at], terms, nowhere)
                at += 1
                continue
            size, same = self._phrase(every, at)
            if size == 1 and every[at] in self.idle and (not idle_too or every[at] in IDLE):
                at += 1
                continue
            word = " ".join(every[at : at + size])
            at += size
            if any(t.word == word for t in terms) or word in nowhere:
                continue
            term = self._term(word, same, read_as)
            if word in read_as and read_as[word] in self.idle:
                continue
            if term.rows:
                terms.append(term)
            elif not (word.isdigit() and len(every) > 1):
                nowhere.append(word)
        return terms, read_as, nowhere

    def _named(self, word: str, terms: list[Term], nowhere: list[str]) -> None:
        """Look for a small word as the name of a thing: with the article that makes it one."""
        term = self._looked_up(Term(word, tuple(f"{article} {word}" for article in ARTICLES)))
        if term.rows:
            terms.append(term)
        else:
            nowhere.append(word)

    def _phrase(self, every: Sequence[str], at: int) -> tuple[int, list[str]]:
        """How many words from here mean one thing together, and all words for it."""
        for size in range(min(self.synonyms.longest, len(every) - at), 0, -1):
            same = self.synonyms.of(every[at : at + size])
            if same and (size > 1 or every[at] not in self.idle):
                return size, same
        return 1, []

    def _term(self, word: str, same: Sequence[str], read_as: dict[str, str]) -> Term:
        """A word with what stands for it: as it is, one with its neighbour, its beginning, the nearest spelling."""
        every = self.every
        joined = [a + b for a, b in pairwise(every) if word in (a, b)]
        term = self._looked_up(Term(word, (word, *forms(word), *same, *joined)))
        if not term.rows and " " not in word:
            term = self._looked_up(Term(word, tuple(self._split(word)))) if len(word) > 5 else term
        # Of three letters a search may begin; in a sentence they are a word: a cat, no catch.
        if not term.rows and " " not in word and len(word) > (2 if len(every) == 1 else 3):
            term = self._looked_up(Term(word, (word,), start=True))
        if not term.rows and " " not in word and (near := meant_word(self.ref, word)) and near not in IDLE:
            self.synonyms = synonyms_of(self.ref, (*every, near))
            same = self.synonyms.of([near])
            term = self._looked_up(Term(word, (near, *same)))
            if term.rows:
                read_as[word] = near
        return term

    def _split(self, word: str) -> list[str]:
        """A word as two that stand side by side somewhere."""
        return [f"{word[:at]} {word[at:]}" for at in range(3, len(word) - 2)]

    def _looked_up(self, term: Term) -> Term:
        """The term with the rows that hold it."""
        for number, same in enumerate(dict.fromkeys(term.same)):
            phrase = " ".join(tokens(same))
            if not phrase:
                continue
            match = f'"{phrase}"' + ("*" if term.start else "")
            worth = 1.0 if number == 0 else _BY_SYNONYM
            for column, into, factor in (
                ("{key title} : ", term.strong, 1.0),
                ("words : ", term.strong, _IN_WORDS),
                ("", term.rows, _IN_BODY),
            ):
                if not column and not self.body:
                    continue
                for row in self._matching(column + match, phrase):
                    into[row] = max(into.get(row, 0.0), worth * factor)
        for row, worth in term.strong.items():
            term.rows[row] = max(term.rows.get(row, 0.0), worth)
        return term

    def _matching(self, match: str, phrase: str) -> list[int]:
        apart = self.synonyms.apart(phrase)
        more = ", title, words, body" if apart else ""
        rows = self.ref.rows(
            f"SELECT rowid{more} FROM search WHERE search MATCH ? {self._of_kinds}", match, *self.kinds
        )
        if apart:
            means = meant_by(phrase, apart)
            rows = [r for r in rows if means(f"{r['title']} {r['words']} {r['body']}")]
        return [int(r["rowid"]) for r in rows]

    def side_by_side(self) -> dict[int, float]:
        """What records are worth more because they hold words of the question side by side, such as "came off"."""
        more: dict[int, float] = {}
        for a, b in dict.fromkeys(pairwise(self.every)):
            rows = self._matching(f'{{title words}} : "{a} {b}"', f"{a} {b}")
            for row in rows:
                more[row] = more.get(row, 0.0) + _SIDE_BY_SIDE * log(1.0 + 200 / len(rows))
        return more

    def hits(self, terms: Sequence[Term], nowhere: int, cued: set[str], most: int, lines: bool) -> list[Hit]:
        """The records that hold these terms: those that hold all first, of these those that are called so."""
        needed = [t for t in terms if t.word not in _ASKED_FOR] or terms
        due = len(needed) + nowhere
        count = int(self.ref.rows("SELECT max(rowid) AS n FROM search")[0]["n"])
        worth: dict[int, float] = {}
        held: dict[int, int] = {}
        share: dict[int, float] = {}
        asked = nowhere * log(1.0 + count)
        for term in terms:
            rare = log(1.0 + count / len(term.rows))
            asked += rare
            for row, factor in term.rows.items():
                worth[row] = worth.get(row, 0.0) + rare * factor
                held[row] = held.get(row, 0) + (term in needed)
                share[row] = share.get(row, 0.0) + (0.0 if term.start else rare * factor)
        more = self.side_by_side()
        for r in self._of_rows("rowid, kind", worth):
            row, kind = int(r["rowid"]), str(r["kind"])
            worth[row] = (worth[row] + more.get(row, 0.0)) * _WEIGHT.get(kind, 1.0) * (_CUED if kind in cued else 1.0)
        in_title = {row for row in worth if all(t.strong.get(row, 0.0) >= _IN_WORDS for t in needed)}
        order = sorted(worth, key=lambda r: (held[r] < due, r not in in_title, -worth[r], r))[: most + _MORE]
        heads = {int(r["rowid"]): r for r in self._of_rows("rowid, key, kind, title, words", order)}
        leading = {row for row in order if _WEIGHT.get(heads[row]["kind"], 1.0) > _LEADING}
        called = {row for row in leading if is_called(heads[row], [t.word for t in needed])}
        # A question how something is done wants no thing that is only called so.
        wanted = () if cued - {*_THINGS} else _THINGS
        things = {row for row in order if row in in_title and heads[row]["kind"] in wanted}
        own = {row for row in called if is_named(heads[row], [t.word for t in needed])}
        order = sorted(order, key=lambda r: (held[r] < due, r not in own, r not in called and r not in things))[:most]
        told = self._lines(order, terms) if lines else {}
        return [
            Hit(
                str(heads[row]["key"]),
                str(heads[row]["kind"]),
                str(heads[row]["title"]),
                told.get(row, ""),
                held[row] >= due,
                round(worth[row] * (_CUED if row in called else 1.0), 3),
                round(share[row] / asked, 3),
            )
            for row in order
        ]

    def _of_rows(self, columns: str, rows: Iterable[int]) -> list[dict[str, Any]]:
        wanted = tuple(rows)
        marks = ", ".join("?" for _ in wanted)
        return self.ref.rows(f"SELECT {columns} FROM search WHERE rowid IN ({marks})", *wanted)

    def _lines(self, order: Sequence[int], terms: Sequence[Term]) -> dict[int, str]:
        """The line of the body of each row that holds the words."""
        marks = ", ".join("?" for _ in order)
        wanted = [f'"{p}"' + ("*" if t.start else "") for t in terms for s in t.same if (p := " ".join(tokens(s)))]
        rows = self.ref.rows(
            "SELECT rowid, snippet(search, 4, '', '', ' … ', 18) AS line FROM search "
            f"WHERE search MATCH ? AND rowid IN ({marks})",
            " OR ".join(dict.fromkeys(wanted)),
            *order,
        )
        return {int(r["rowid"]): in_a_row(str(r["line"]).splitlines()) for r in rows}
