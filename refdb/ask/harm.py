"""Questions of harm: to a person, to a material, and from what a piece is used for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from refdb.ask.said import ASKS, CAUTIONS, EATEN, HURTS, ILL, OF_MAKING, OF_THE_PERSON, SPARES, SPOILS, SWALLOWED, USES
from refdb.frozen import replace

if TYPE_CHECKING:
    from refdb.ask.answers import Answered
    from refdb.ask.spans import Sentence
    from refdb.store.reference import Reference


def has_hurt(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """What to do where somebody, or an animal, has swallowed something or feels ill; that comes before all else."""
    from refdb.ask import answers

    if SWALLOWED.search(low):
        return answers.of_cautions(ref, sentence, None, "", "swallowed powder")
    if not ILL.search(low):
        return None
    ill, named = answers.of_cautions(ref, sentence, None, "", "feeling ill in workshop"), by_name(ref, low, sentence)
    if ill is None or named is None:
        return ill
    lines, keys = (*ill.lines[:1], *named.lines), (*ill.keys, *named.keys)
    return replace(ill, lines=tuple(dict.fromkeys(lines)), keys=tuple(dict.fromkeys(keys)))


def hurts(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    whose = next((words for said, words in OF_THE_PERSON if said.search(low)), "")
    if not (HURTS.search(low) or whose) or spares(sentence):
        return None
    use = next((name for name, said in USES if said.search(low)), "")
    named = next(iter(sentence.spans), None)
    from refdb.ask import answers

    left = " ".join(CAUTIONS.gone(low).replace("?", " ").split())
    return answers.of_cautions(ref, sentence, None if whose else named, use, (not use and whose) or left)


def spares(sentence: Sentence) -> bool:
    """Whether a sentence asks what is safe for a material: "is ferric chloride safe for silver"."""
    if SPOILS.search(" ".join(sentence.words)):
        return True
    return any(SPARES.search(f"{' '.join(sentence.words[: s.start])} ") for s in sentence.spans if s.start > 2)


def spared(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """What a bath or a way does to a material is told by the subject of practice."""
    if not spares(sentence):
        return None
    from refdb.store.topics import topic_meant

    wanted = topic_meant(ref, HURTS.gone(low))
    if wanted is None:
        return None
    from refdb.ask import practices

    return practices.of_practice(ref, wanted.topic, low)


def uses(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    use = next((name for name, said in USES if said.search(low)), "")
    if not use or not ASKS.search(low) or (OF_MAKING.search(low) and not EATEN.search(low)):
        return None
    from refdb.ask import answers

    return answers.of_cautions(ref, sentence, None, use, low)


def by_name(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """The caution that people ask for in just such words: acid in my eye, copper dust."""
    from refdb.ask import answers, cautions

    asked = cautions.asked_for(ref, low)
    found = answers.of_cautions(ref, sentence, None, "", low) if asked else None
    return found if found is None else replace(found, more=found.more | {"called": max(asked.values())})
