"""A sentence that asks: what kind of answer it wants, and that answer, made by the judge or read from the store.

A small grammar over the things a sentence names; what it does not understand is left to the search.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

from refdb.ask import harm, measures
from refdb.ask.measures import pair
from refdb.ask.nearest import measured
from refdb.ask.parts import in_two
from refdb.ask.said import (
    ASKS,
    AVOIDS,
    BENEATH,
    CAUSED,
    CAUTIONS,
    CHILD,
    CLEAR,
    EYES,
    FITS,
    FLAME,
    GLASS,
    HOT,
    HOW,
    HURTS,
    LOAD,
    MELTS,
    NO_FAULT,
    OTHER_FLAME,
    OUTRIGHT,
    POWDER,
    RELATES,
    SO_HOW,
    SUITS,
    TELLS,
    TOUCH,
    WHAT_IS,
    WHICH,
    WHY,
    WORN,
    WRONG,
)
from refdb.ask.spans import FOLDED, Sentence, is_of_materials, is_over_leaf, taken_apart
from refdb.errors import RefdbError
from refdb.frozen import replace
from refdb.store.search_words import IDLE, tokens

if TYPE_CHECKING:
    from refdb.ask.answers import Answered
    from refdb.store.reference import Reference

_LONGEST = 200
#: What share of a sentence the names of a subject of practice have to be: of one that asks how, and of any other.
_LEAST_SHARE, _ALONE = 0.5, 0.6
#: From here on two metals that touch stand every kiln for enamel, °C.
_STANDS_C = 900.0


def answered(ref: Reference, text: str) -> Answered | None:
    """The answer that a sentence wants, with how it was understood; None where the search has to do.

    Parameters
    ----------
    ref : Reference
        The open store.
    text : str
        What was typed; of more than 200 characters nothing is understood.
    """
    # Halves of signs stand in no address.
    clean = " ".join(text.encode("utf-8", "replace").decode().split())
    if not any(c.isalnum() for c in clean) or len(clean) > _LONGEST:
        return None
    from refdb.ask.respelt import respelt

    low, put_right = respelt(ref, clean.lower())
    sentence = taken_apart(ref, low)
    if (hurt := harm.has_hurt(ref, low, sentence)) is not None:
        told = measured(ref, low, hurt)
        return replace(hurt, unknown=told.unknown) if told is not None else hurt
    hurts = HURTS.search(low) or EYES.search(low)
    if not (
        hurts
        or ASKS.search(low)
        or WRONG.search(low)
        or _is_all(sentence)
        or FITS.search(sentence.rest)
        or CAUTIONS.search(low)
    ):
        hurt = harm.by_name(ref, low, sentence) if len(sentence.words) > 1 else None
        if hurt is not None and (told := measured(ref, low, hurt)) is not None and not told.unknown:
            return told
        told = (None if sentence.spans else _practice(ref, low, sentence)) or _rules(ref, low, sentence)
        return told if told is None else measured(ref, low, told)
    found = _of_two(ref, low, sentence) or _first(ref, low, sentence)
    if found is None:
        # Of a question in two parts that nothing answers whole, its first part is answered.
        seen, asked, _ = SO_HOW.parted(low)
        found = _first(ref, seen, taken_apart(ref, seen)) if asked and len(seen.split()) > 1 else None
    read = "; ".join(f"“{a}” read as “{b}”" for a, b in put_right.items())
    return found if found is None or not read else replace(found, understood=f"{found.understood}; {read}")


def _of_two(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """The answers to a sentence that asks two things, where both have one and they are not the same."""
    parts = in_two(low, sentence)
    if parts is None:
        return None
    one, two = (_first(ref, part, taken_apart(ref, part)) for part in parts)
    return None if one is None or two is None or one.lines == two.lines else replace(one, then=two)


def _first(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """The first answer that one is wanted of."""
    for wanted in _ORDER:
        try:
            found = wanted(ref, low, sentence)
        except RefdbError:
            found = None  # what the judge refuses here is refused in its own words where it is asked outright
        if found is not None and (told := measured(ref, low, found)) is not None:
            return told
    return None


def _is_all(sentence: Sentence) -> bool:
    """Whether a sentence says nothing but a glass and a metal."""
    left = [w for w in tokens(sentence.rest) if w not in IDLE]
    return not left and bool(sentence.of_kind("glass")) and bool(sentence.of_kind("metal"))


def _faults(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    if NO_FAULT.search(low):
        return None
    asks = re.search(r"\b(why|wrong|problem|happened|ruined)\b", low) or AVOIDS.search(low)
    if CAUSED.search(low):
        from refdb.ask.practices import of_fault

        return of_fault(ref, CAUSED.gone(low), None, 1)
    if not OUTRIGHT.search(low) and TELLS.search(low) and not is_of_materials(sentence) and not asks:
        from refdb.ask.practices import of_fault

        if (told := of_fault(ref, low, None)) is not None:
            return told
    if not (asks or (WRONG.search(low) and not WHICH.search(low) and not low.startswith(("can", "how", "should")))):
        return None
    from refdb.ask import answers

    # "It warped, how do I flatten it" asks two things.
    seen, asked, deed = SO_HOW.parted(low)
    found = answers.of_faults(ref, seen)
    if found is not None and found.apart and WHY.search(low) and (rules := _rules(ref, low, sentence)) is not None:
        # Of what is so of itself a rule that holds more of it tells why.
        from refdb.ask.practices import of_fault

        return of_fault(ref, low, rules) or rules
    rules = _rules(ref, deed, sentence) if asked else None
    return found if found is None or rules is None else replace(found, lines=(*rules.lines[:1], *found.lines))


def _verdict(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    glass, metal = pair(sentence)
    if (
        glass is None
        or metal is None
        or _names_leaf(sentence)
        or WHICH.search(sentence.before(glass, 6))
        or HOT.search(low)
    ):
        return None
    if HOW.search(low) and not _is_all(sentence):
        return None
    from refdb.ask import answers

    return answers.of_verdict(ref, glass, metal, sentence.thickness)


def _names_leaf(sentence: Sentence) -> bool:
    """Whether a leaf is named, which the questions of a glass and a metal alone would pass over."""
    return any(span.kinds <= {"leaf"} for span in sentence.spans)


def _clears(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    leaf = next((s for s in sentence.of_kind("leaf") if is_over_leaf(sentence, s)), None)
    if leaf is None or HOT.search(low):
        return None
    before = sentence.before(leaf, 4)
    metal = next((s for s in sentence.of_kind("metal") if s is not leaf), None)
    from refdb.ask import answers

    if BENEATH.search(before) and WHICH.search(low):
        return answers.of_bed(ref, leaf, metal)
    if not CLEAR.search(low) or not re.search(r"\b(over|on top of|above|cover\w*|on|for|with)\b", before):
        return None
    return answers.of_clears(ref, leaf, metal)


def _contact(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    metals = [s for s in sentence.spans if {"metal", "leaf"} & s.kinds and "glass" not in s.kinds]
    between = "" if len(metals) != 2 else " ".join(sentence.words[metals[0].end : metals[1].start])
    if len(metals) != 2 or not TOUCH.search(low) or re.search(r"\bor\b", between):
        return None
    from refdb.ask import answers

    found = answers.of_contact(ref, metals[0], metals[1])
    if found is None or not _asks_more(sentence):
        return found
    # Of two metals that stand the kiln together something else is asked; of two that do not, that comes first.
    if float(found.more["melts"]) >= _STANDS_C:
        return None
    rules = _rules(ref, low, sentence)
    return (
        found if rules is None else replace(found, lines=(*found.lines, *rules.lines), keys=(*found.keys, *rules.keys))
    )


def _asks_more(sentence: Sentence) -> bool:
    """Whether words are left beside those of touching and melting."""
    words = [w for w in tokens(sentence.rest) if w not in IDLE and w not in FOLDED]
    return any(not TOUCH.fullmatch(w) and not MELTS.fullmatch(w) for w in words)


def _ranked(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    glass, metal = pair(sentence)
    if metal is None or HOW.search(low) or _names_leaf(sentence):
        return None
    known = (WHICH, FITS, GLASS)
    # A word that the grammar does not know may be what the sentence is about.
    words = [w for w in tokens(sentence.rest) if w not in IDLE and w not in FOLDED]
    left = [w for w in words if w not in WORN and not any(k.fullmatch(w) for k in known)]
    if left or WHAT_IS.fullmatch(sentence.rest) or not (WHICH.search(low) or FITS.search(sentence.rest)):
        return None
    if not (GLASS.search(low) or ASKS.search(low)):
        return None
    from refdb.ask import answers

    return answers.of_ranking(ref, metal, glass)


def _record(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    if len(sentence.spans) != 1 or not WHAT_IS.search(low):
        return None
    left = [w for w in tokens(sentence.rest) if w not in IDLE]
    from refdb.ask import answers

    return None if left else answers.of_record(ref, sentence.spans[0])


def _torch(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """A flame is asked about before any verdict, since none is for it."""
    if not FLAME.search(low) or CHILD.search(low):
        return None
    found = _practice(ref, low, sentence)
    if found is not None or OTHER_FLAME.search(low):
        return found
    from refdb.ask import practices
    from refdb.store.topics import topic_of

    return practices.of_practice(ref, topic_of(ref, "torch"), low)


def _counted(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """How many pieces a kiln takes, or how much powder so many take: the rule of thumb and the command that counts."""
    from refdb.ask import practices

    if LOAD.search(low):
        return practices.of_load(ref)
    return practices.of_amounts(ref) if POWDER.search(low) else None


def _practice(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """How something is done, where a subject of practice is meant and little else."""
    from refdb.store.topics import topic_meant

    wanted = topic_meant(ref, low)
    if wanted is None:
        return None
    if wanted.share < (_LEAST_SHARE if HOW.search(low) else _ALONE) and not FLAME.search(low):
        return None
    from refdb.ask import practices

    return practices.of_practice(ref, wanted.topic, low)


def _called(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """The caution or rule that people ask for in just such words, whatever else they may be; with the fault, if one."""
    from refdb.ask import practices

    if (hurt := harm.by_name(ref, low, sentence)) is not None:
        # How a kiln shelf is cleaned is asked for in more of these words than a kiln under a shelf.
        deed = practices.of_called(ref, low, not sentence.spans) if HOW.search(low) and not HURTS.search(low) else None
        return deed if deed is not None and deed.more.get("called", 0.0) > hurt.more["called"] else hurt
    if HURTS.search(low) and (hurt := harm.hurts(ref, low, sentence)) is not None and not hurt.apart:
        # A question of harm that cautions answer whole is not one of how it is done.
        told = measured(ref, low, hurt)
        if told is not None and told.sure:
            return told
    of_materials = is_of_materials(sentence)
    asked = HURTS.gone(low) if harm.spares(sentence) else low
    rules = None if of_materials or SUITS.search(low) else practices.of_called(ref, asked, not sentence.spans)
    if rules is not None and TELLS.search(low) and not OUTRIGHT.search(low):
        return practices.of_fault(ref, low, rules) or rules
    if rules is None or not WRONG.search(low):
        return rules
    fault = _faults(ref, low, sentence)
    if fault is None or fault.apart:
        return rules
    # What was seen comes first where it is told, what to do where it is asked.
    parts = (rules.lines[:1], fault.lines) if OUTRIGHT.search(low) else (fault.lines, rules.lines[:1])
    return replace(fault, lines=(*parts[0], *parts[1]), keys=(*fault.keys, *rules.keys))


def _rules(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """The rules of practice that hold most of a sentence that no other answer is for."""
    from refdb.ask import practices

    sure = ASKS.search(low) and not (FLAME.search(low) and OTHER_FLAME.search(low))
    rules = practices.of_rules(ref, low, sure, 2 if RELATES.search(low) else 3)
    if OUTRIGHT.search(low) or (rules is None and is_of_materials(sentence)):
        return rules
    fault = practices.of_fault(ref, low, rules)
    return fault if fault is not None else rules


#: In this order a sentence is tried; what may hurt comes first.
_ORDER: tuple[Callable[[Reference, str, Sentence], Answered | None], ...] = (
    _called,
    harm.hurts,
    harm.spared,
    _faults,
    _torch,
    measures.figure,
    measures.hot,
    _clears,
    _verdict,
    _ranked,
    _contact,
    harm.uses,
    _counted,
    _record,
    _practice,
    _rules,
)
