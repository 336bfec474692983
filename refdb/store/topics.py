"""Subjects of practice by the words people have for them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from refdb.frozen import dataclass
from refdb.records.rules import Topic
from refdb.store.search_words import EVERYWHERE, IDLE, root, tokens

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: A subject is meant where its words are at least this share of what the text tells.
_SHARE = 0.5


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


def topic_meant(ref: Reference, text: str) -> Wanted | None:
    """The one subject that a text means; None where it means none, or two as much.

    Every name of a subject is held against the words of the text, their order and small words aside. The subject
    counts that has the longest name in it, and of these the one whose names hold most of the text.
    """
    asked = [root(w) for w in tokens(text) if w not in IDLE]
    telling = {w for w in asked if w not in _ANYWHERE}
    held: list[tuple[int, float, Topic]] = []
    for topic in topics(ref):
        names = [{root(w) for w in tokens(name) if w not in IDLE} for name in (topic.topic, *topic.words.split(";"))]
        found = [name for name in names if name and name <= {*asked}]
        if found:
            covered = set().union(*found)
            share = len(covered & telling) / len(telling) if telling else 1.0
            held.append((max(len(name) for name in found), share, topic))
    if not held:
        return None
    held.sort(key=lambda h: (-h[0], -h[1]))
    if len(held) > 1 and held[0][:2] == held[1][:2]:
        return None
    words, share, topic = held[0]
    return Wanted(topic, words, share) if share >= _SHARE or words > 1 else None


_ANYWHERE = frozenset(root(w) for w in EVERYWHERE)
