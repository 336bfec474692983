"""Faults by a person's words: which symptoms they may mean, and how those are told apart."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from refdb.frozen import dataclass
from refdb.store.search import search
from refdb.store.search_words import EVERYWHERE, IDLE, root, tokens

if TYPE_CHECKING:
    from collections.abc import Iterable

    from refdb.records import Fault, Symptom
    from refdb.store.reference import Reference

_EITHER = re.compile(r"[,;/?!.]| or | and ")
#: Of symptoms that hold only some of the words, those stay that weigh at least this share of the best.
_NEARLY_AS_GOOD = 0.7
_MOST = 12
_IDLE = """appear appeared cooled cooling day days enamelling fire fired fires firing firings kiln last later noticed
showed shown up week weeks"""
#: What every fault is told with; when it showed is asked for apart.
IDLE_OF_FAULTS = EVERYWHERE | frozenset(_IDLE.split())


@dataclass(frozen=True)
class Meant:
    """The symptoms that words may mean, the likeliest first.

    `named` where the words are the name of the first; `said` tells how they were found where not every word was met as
    it was typed; `near` are symptoms to offer where there are none.
    """

    symptoms: tuple[Symptom, ...]
    named: bool = False
    said: str = ""
    near: tuple[Symptom, ...] = ()


def meant(ref: Reference, text: str) -> Meant:
    """The symptoms meant by words: a symptom's key or name alone, or words for each thing seen."""
    every = {s.key: s for s in ref.symptoms()}
    key = "-".join(tokens(text))
    if key in every:
        also = [every[k] for k in _of_one(ref, text)[0] if k != key and same_words(every[k], text)]
        return Meant((every[key], *also), True)
    found: dict[str, int] = {}
    told: list[str] = []
    near: dict[str, None] = {}
    for one in _parts(ref, text):
        keys, said, others = _of_one(ref, one)
        found |= {key: found.get(key, 0) + 1 for key in keys}
        near |= dict.fromkeys(others)
        told += [said] if said else []
    # What most of the things named are seen on comes first.
    symptoms = tuple(every[k] for k in sorted(found, key=lambda k: -found[k]))
    named = bool(symptoms) and (_is_name(symptoms[0], text) or len(symptoms) == 1) and not told
    return Meant(symptoms, named, "; ".join(told), () if symptoms else tuple(every[k] for k in near)[:3])


def _parts(ref: Reference, text: str) -> list[str]:
    """The things named between commas, "or" and "and"; all in one where some symptom is called by all of it."""
    parts = [p for p in _EITHER.split(f" {text.lower()} ") if any(w not in IDLE for w in tokens(p))]
    if len(parts) > 1 and search(ref, text, ("symptoms",), 1, body=False).whole:
        return [text, *parts]
    return parts or ([text] if tokens(text) else [])


def _of_one(ref: Reference, text: str) -> tuple[list[str], str, list[str]]:
    """The symptoms of one thing seen, how they were found, and those to offer otherwise."""
    if all(w in IDLE for w in tokens(text)):
        return [], "", []
    strict = search(ref, text, ("symptoms",), _MOST, body=False, idle=IDLE_OF_FAULTS)
    if strict.whole:
        held = [h.key for h in strict.hits if h.whole]
        asked = {_roots(tokens(text)), _roots(_telling(text))}
        called = {s.key for s in ref.symptoms() if asked & {_roots(tokens(w)) for w in split(s.words)}}
        return sorted(held, key=lambda k: k not in called), strict.said("fault"), []
    # Words that stand only in the causes say less than what a fault is called by, so both are offered.
    found = search(ref, text, ("symptoms",), _MOST, idle=IDLE_OF_FAULTS)
    if not found.hits:
        near = [h.key for w in found.near for h in search(ref, w, ("symptoms",), 3).hits]
        return [], "", near
    best = max(h.worth for h in found.hits)
    kept = [h for h in found.hits if h.whole or h.worth >= _NEARLY_AS_GOOD * best]
    kept.sort(key=lambda h: (not h.whole, -h.share * h.worth))
    return [h.key for h in kept], found.said("fault") or strict.said("fault"), []


def _telling(text: str) -> tuple[str, ...]:
    """The words of a text that tell something."""
    return tuple(w for w in tokens(text) if w not in IDLE and w not in IDLE_OF_FAULTS)


def _roots(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(root(w) for w in words)


def _is_name(symptom: Symptom, text: str) -> bool:
    """Whether a text is what a symptom is called, word for word: the head of its label, up to a colon."""
    head = set(_telling(symptom.label.partition(":")[0]))
    return bool(head) and set(_telling(text)) == head


def causes_of(ref: Reference, symptoms: tuple[Symptom, ...] | list[Symptom]) -> list[Fault]:
    """The causes of symptoms, in the order of these and the likeliest first."""
    place = {s.key: at for at, s in enumerate(symptoms)}
    held = [f for f in ref.faults() if f.symptom in place]
    return sorted(held, key=lambda f: (place[f.symptom], f.rank))


def narrowed(symptoms: list[Symptom], stage: str = "", part: str = "", beneath: str = "") -> list[Symptom]:
    """The symptoms seen at a stage, in a part and over a ground, each where it is given."""
    return [
        s
        for s in symptoms
        if (not stage or stage in split(s.stages))
        and (not part or part == s.part)
        and (not beneath or not s.beneath or beneath in split(s.beneath))
    ]


def split(words: str) -> list[str]:
    """The words between semicolons."""
    return [w.strip() for w in words.split(";") if w.strip()]


def same_words(symptom: Symptom, text: str) -> list[str]:
    """What this symptom is also called that holds a word of the question."""
    asked = {root(w) for w in tokens(text)} - {root(w) for w in IDLE}
    return [w for w in split(symptom.words) if asked & {root(t) for t in tokens(w)}]
