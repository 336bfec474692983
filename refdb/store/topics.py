"""Subjects of practice by the words people have for them."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

from refdb.errors import NotFound
from refdb.frozen import dataclass
from refdb.records.rules import Topic
from refdb.store.search import synonyms_of
from refdb.store.search_words import EVERYWHERE, IDLE, Synonyms, may_stand, plain, plain_all, root, starts_of, tokens
from refdb.words import shortened

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: Metal that is cleaned and that glass is still to go on is bare.
_CLEAN = re.compile(r"\b(?:clean|degreas|wash|prepar)", re.IGNORECASE)
_BEFORE = re.compile(
    r"\b(?:before|prior to) (?:i |we |you |the )?(?:enamel\w*|glass|first (?:coat|firing|fire))\b", re.IGNORECASE
)
_WORDS = re.compile(r"[^\W_]+")
#: What a size is said with; it does not tell what a text is about.
_MEASURES = frozenset(("mm", "cm", "inch", "in", "disc", "disk", "circle", "square"))
#: A subject is meant where its words are at least this share of what the text tells.
_SHARE = 0.5
#: How much it weighs for a fault that all of a subject prevents it, that it is called by the subject, and how much of
#: its causes counts for a subject of these parts.
_PREVENTS, _CALLED, _SPECIAL_COUNTS = 0.4, 0.5, 0.5
#: A subject none of whose rules prevents a fault is near where it tells of so much of its causes.
_OF_CAUSES = 0.5
_SPECIAL = frozenset(("ways of working", "bench and people", "after the last fire"))


@dataclass(frozen=True)
class Wanted:
    """A subject that a text means: the most words of one of its names that the text holds, and the share of all."""

    topic: Topic
    words: int
    share: float


def topics(ref: Reference) -> list[Topic]:
    """All subjects, in order of key."""
    rows = ref.rows("SELECT * FROM practice_topics ORDER BY key")
    return [Topic(**{k: v or "" for k, v in row.items()}) for row in rows]


def named_topic(ref: Reference, text: str) -> Topic | None:
    """The subject of this key or name, accents or not."""
    asked = tokens(text)
    return next((t for t in topics(ref) if asked and asked in (tokens(t.topic), tokens(t.key))), None)


def topic_of(ref: Reference, text: str) -> Topic:
    """The subject of this key or name, or the one that the words mean; NotFound with the nearest otherwise."""
    wanted = None if (named := named_topic(ref, text)) else topic_meant(ref, text.replace("-", " "))
    found = named or (wanted.topic if wanted is not None and wanted.share == 1.0 else None)
    if found is not None:
        return found
    from difflib import get_close_matches

    every = {t.key: t.topic for t in topics(ref)}

    near = get_close_matches(plain(text), every, 3, 0.5) or ["torch", "cloisonne"]
    raise NotFound(
        f"no subject of practice is called '{shortened(text, 40)}'",
        todo=f"did you mean {' or '.join(every[k] for k in near if k in every)}? the page of practice lists all",
    )


def of_fault(ref: Reference) -> dict[str, list[Topic]]:
    """The subjects that tell how a fault does not come about, by the key of its symptom, the nearest first.

    A subject is near where it tells the remedy of the rules that foresee a cause, the more so the likelier the cause,
    where most of what it says prevents the fault, and where the fault is called by it. A way of working, or what holds
    only of some glass or after the last fire, counts half by its causes: few who have the fault work so.
    """
    causes: dict[str, list[tuple[int, set[str]]]] = {}
    named: dict[str, set[str]] = {s.key: _roots(s.label) for s in ref.symptoms()}
    for fault in ref.faults():
        causes.setdefault(fault.symptom, []).append((fault.rank, _parted(fault.rules)))
    said: dict[str, int] = {}
    prevents: dict[tuple[str, str], int] = {}
    for row in ref.rows("SELECT topic, faults FROM practice_rules"):
        said[row["topic"]] = said.get(row["topic"], 0) + 1
        for symptom in _parted(row["faults"] or ""):
            prevents[row["topic"], symptom] = prevents.get((row["topic"], symptom), 0) + 1
    every = [(t, _parted(t.rules), _roots(t.topic)) for t in topics(ref)]
    found: dict[str, list[Topic]] = {}
    for key, label in named.items():
        near: list[tuple[float, int, Topic]] = []
        for topic, rules, name in every:
            count = prevents.get((topic.topic, key), 0)
            by_cause = sum(len(rules & held) / len(held) / rank for rank, held in causes.get(key, ()) if held)
            if by_cause >= _OF_CAUSES or count:
                called = _CALLED if name <= label else 0.0
                special = _SPECIAL_COUNTS if topic.part in _SPECIAL and not called else 1.0
                share = count / said[topic.topic] if count else 0.0
                near.append((by_cause * special + share * _PREVENTS + called, count, topic))
        if near:
            found[key] = [t for *_, t in sorted(near, key=lambda n: (-round(n[0], 6), -n[1], n[2].key))]
    return found


def _parted(words: str) -> set[str]:
    return {w.strip() for w in words.split(";") if w.strip()}


def _roots(words: str) -> set[str]:
    return {root(w) for w in tokens(words)}


def of_rule(ref: Reference) -> dict[str, list[Topic]]:
    """The subjects that tell the remedy of a rule of the judge, by the key of the rule."""
    found: dict[str, list[Topic]] = {}
    for topic in topics(ref):
        for rule in topic.rules.split(";"):
            if rule.strip():
                found.setdefault(rule.strip(), []).append(topic)
    return found


def topic_meant(ref: Reference, text: str) -> Wanted | None:
    """The one subject that a text means; None where it means none, or two as much.

    Every name of a subject is held against the words of the text, their order and small words aside. The subject
    counts that has the longest name in it, of these the one whose names hold most of the text, and of these the one
    that has a name in it as it is written: after stoning is of stoning, not of stones.
    """
    said = _BEFORE.sub(" bare", text) if _CLEAN.search(text) else text
    asked = telling(said)
    tells = {w for w in asked if w not in _ANYWHERE and w not in _MEASURES and not w.isdigit()}
    written = {*tokens(text)}
    held: list[tuple[int, float, bool, Topic]] = []
    for topic, found in _named(ref, asked):
        covered = frozenset().union(*found)
        share = len(covered & tells) / len(tells) if tells else 1.0
        as_written = any({*tokens(name)} <= written for name in (topic.topic, *topic.words.split(";")))
        held.append((max(len(name) for name in found), share, as_written, topic))
    if not held:
        return None
    held.sort(key=lambda h: (-h[0], -h[1], not h[2]))
    if len(held) > 1 and held[0][:3] == held[1][:3]:
        return None
    words, share, _, topic = held[0]
    return Wanted(topic, words, share) if share >= _SHARE or words > 1 else None


def named_within(ref: Reference, text: str) -> set[str]:
    """The names of all subjects of which a text holds a name, whatever else it tells."""
    return {topic.topic for topic, _ in _named(ref, telling(text))}


@lru_cache(4096)
def telling(text: str) -> frozenset[str]:
    """The words of a text that tell something, without their endings."""
    return frozenset(root(w) for w in tokens(text) if w not in IDLE)


def telling_all(text: str) -> frozenset[str]:
    """The same of a text of any length, as a store holds it."""
    return frozenset(root(w) for w in _WORDS.findall(plain_all(text)) if w not in IDLE)


class Called:
    """A text that may hold names by which people ask for something, in its own words or, if wide, in like ones.

    Idle words of it tell nothing, unless it has no others.
    """

    def __init__(self, ref: Reference, text: str, wide: bool = True, idle: frozenset[str] = frozenset()) -> None:
        every = tokens(text) if wide else []
        said = telling(text) - _ANYWHERE
        self._said = said - {root(w) for w in idle} or said
        self._written = frozenset(tokens(text))
        #: Which words of the text stand for a word: itself, or those of which it is a synonym.
        self._of: dict[str, set[str]] = {word: {word} for word in telling(text)}
        same = synonyms_of(ref, every) if every else Synonyms(())
        for size in range(min(same.longest, len(every)), 0, -1):
            for at in range(len(every) - size + 1):
                words = every[at : at + size]
                stands_for = {root(w) for w in words if w not in IDLE}
                for other in same.of(words) if stands_for else ():
                    if len(parts := telling(other)) == 1:
                        self._of.setdefault(min(parts), stands_for)
        self._starts = starts_of(self._of)

    def share(self, names: str) -> float:
        """The share of the text that these names, parted by semicolons, tell; 0 where none is in it.

        A name is in it where all its words are; of several that are, each counts by the words it has more. Words that
        any text of this trade may be told with count in neither. Of a name of several words that tells but one, such as
        "look into kiln", the small words have to be there too.
        """
        if not self._said:
            return 0.0
        held = [
            name
            for one in names.split(";")
            if may_stand(one, self._starts)
            and (name := telling(one))
            and name <= self._of.keys()
            and (len(name) > 1 or self._as_written(one))
        ]
        told = {word for name in held for one in name for word in self._of[one]}
        return len(told & self._said) / len(self._said)

    def _as_written(self, name: str) -> bool:
        words = tokens(name)
        return len(words) == 1 or self._written.issuperset(words)


#: What was found last in each open store: a sentence is held against the subjects several times over.
_last: WeakKeyDictionary[Reference, tuple[frozenset[str], list[tuple[Topic, list[frozenset[str]]]]]]
_last = WeakKeyDictionary()


def _named(ref: Reference, asked: frozenset[str]) -> list[tuple[Topic, list[frozenset[str]]]]:
    """The subjects of which a name stands among these words with all of its own, and all such names of each."""
    last = _last.get(ref)
    if last is None or last[0] != asked:
        starts = starts_of(asked)
        last = _last[ref] = asked, [(t, found) for t in topics(ref) if (found := _names_in(t, asked, starts))]
    return last[1]


def _names_in(topic: Topic, asked: frozenset[str], starts: frozenset[str]) -> list[frozenset[str]]:
    names = (telling(name) for name in (topic.topic, *topic.words.split(";")) if may_stand(name, starts))
    return [name for name in names if name and name <= asked]


_ANYWHERE = frozenset(root(w) for w in EVERYWHERE)
