"""Subjects of practice by the words people have for them."""

from __future__ import annotations

import re
from difflib import get_close_matches
from typing import TYPE_CHECKING

from refdb.errors import NotFound
from refdb.frozen import dataclass
from refdb.records.rules import Topic
from refdb.store.search_words import EVERYWHERE, IDLE, plain, root, tokens
from refdb.words import shortened

if TYPE_CHECKING:
    from refdb.store.reference import Reference

#: Metal that is cleaned and that glass is still to go on is bare.
_CLEAN = re.compile(r"\b(?:clean|degreas|wash|prepar)", re.IGNORECASE)
_BEFORE = re.compile(
    r"\b(?:before|prior to) (?:i |we |you |the )?(?:enamel\w*|glass|first (?:coat|firing|fire))\b", re.IGNORECASE
)
#: What a size is said with; it does not tell what a text is about.
_MEASURES = frozenset(("mm", "cm", "inch", "in", "disc", "disk", "circle", "square"))
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


def topic_of(ref: Reference, text: str) -> Topic:
    """The subject of this key or name, or the one that the words mean; NotFound with the nearest otherwise."""
    wanted = None if (named := named_topic(ref, text)) else topic_meant(ref, text.replace("-", " "))
    found = named or (wanted.topic if wanted is not None and wanted.share == 1.0 else None)
    if found is not None:
        return found
    every = {t.key: t.topic for t in topics(ref)}
    near = get_close_matches(plain(text), every, 3, 0.5) or ["torch", "cloisonne"]
    raise NotFound(
        f"no subject of practice is called '{shortened(text, 40)}'",
        todo=f"did you mean {' or '.join(every[k] for k in near if k in every)}? the page of practice lists all",
    )


def of_fault(ref: Reference) -> dict[str, list[Topic]]:
    """The subjects whose rules prevent a fault, by the key of its symptom, those with most such rules first."""
    by_name = {t.topic: t for t in topics(ref)}
    counts: dict[str, dict[str, int]] = {}
    for row in ref.rows("SELECT topic, faults FROM practice_rules WHERE faults IS NOT NULL ORDER BY topic, key"):
        for symptom in str(row["faults"]).split(";"):
            held = counts.setdefault(symptom.strip(), {})
            held[row["topic"]] = held.get(row["topic"], 0) + 1
    return {
        symptom: [by_name[name] for name in sorted(held, key=lambda n: (-held[n], n))]
        for symptom, held in counts.items()
    }


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
    counts that has the longest name in it, and of these the one whose names hold most of the text.
    """
    said = _BEFORE.sub(" bare", text) if _CLEAN.search(text) else text
    asked = [root(w) for w in tokens(said) if w not in IDLE]
    telling = {w for w in asked if w not in _ANYWHERE and w not in _MEASURES and not w.isdigit()}
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
