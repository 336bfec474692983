"""Questions of heat, thickness and other figures of what a sentence names."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from refdb.ask.said import GLASS_LIES, HOT, LONG, MELTS, THICK
from refdb.ask.spans import FOLDED, Sentence, Span, is_over_leaf
from refdb.frozen import replace
from refdb.store.search_words import IDLE, tokens

if TYPE_CHECKING:
    from refdb.ask.answers import Answered
    from refdb.store.reference import Reference

#: What a figure may be asked with beside its own name and that of a thing.
_OF_FIGURES = frozenset(
    ("kiln", "fire", "many", "coat", "coats", "layer", "layers", "fired", "enamel", "enamels", "enamelling",
     "enameling", "glass", "metal", "sheet", "point", "value", "figure", "number", "thermal", "linear", "minimum",
     "least", "thin", "thick", "size", "temperature", "does", "much", "percent", "rate")
)  # fmt: skip
#: What the time of a fire may be asked with.
_OF_FIRING = frozenset(
    ("c", "f", "degrees", "degree", "celsius", "fahrenheit", "leave", "firing", "piece", "small", "usual")
)


def pair(sentence: Sentence) -> tuple[Span | None, Span | None]:
    """The glass and the metal of a sentence, where it names one of each."""
    glasses = [s for s in sentence.of_kind("glass") if "metal" not in s.kinds]
    metals = [s for s in sentence.of_kind("metal") if not is_over_leaf(sentence, s) or "leaf" not in s.kinds]
    metals = [s for s in metals if s not in glasses]
    return (glasses[0] if len(glasses) == 1 else None), (metals[-1] if len(metals) == 1 else None)


def hot(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    glass, metal = pair(sentence)
    if LONG.search(low) and re.search(r"\b(kiln|fire[ds]?|firing)\b", low) and not sentence.spans:
        from refdb.ask import practices

        left = {w for w in tokens(LONG.gone(low)) if w not in IDLE and not w.isdigit()} - _OF_FIGURES - _OF_FIRING
        if not left:
            return practices.of_usual_fire(ref)
    of_clay = metal is not None and glass is None and "clay" in metal.words and bool(LONG.search(low))
    if not HOT.search(low) and not (MELTS.search(low) and "when" in low) and not of_clay:
        return None
    if of_clay and not re.search(r"\b(fire[ds]?|firing|sinter\w*|kiln|schedule|program\w*|ramp|burn\w*)\b", low):
        return None
    from refdb.ask import answers

    if MELTS.search(low) and metal is not None and glass is None:
        return answers.of_melting(ref, metal)
    both = sentence.of_kind("metal")
    if glass is None and metal is None and len(both) == 2:
        one, two = (answers.of_heat(ref, None, m) for m in both)
        return one if one is None or two is None else replace(one, then=two)
    if glass is None and metal is None:
        from refdb.ask import practices

        left = {w for w in tokens(HOT.gone(low)) if w not in IDLE} - _OF_FIGURES
        return None if left or sentence.spans else practices.of_usual_fire(ref)
    return answers.of_heat(ref, glass, metal)


def figure(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """A figure of the one thing that is named, how thick it has to be for glass, or a gauge in millimetres."""
    from refdb.ask import figures

    if sentence.thickness and not sentence.spans:
        left = " ".join(w for w in tokens(sentence.rest) if w not in IDLE)
        return figures.of_gauge(low, sentence.thickness) if figures.asks_gauge_alone(left) else None
    wanted = figures.figures_meant(sentence.rest)
    if not sentence.spans and not wanted and THICK.search(low) and GLASS_LIES.search(low):
        from refdb.ask import practices

        more = {w for w in tokens(THICK.gone(low)) if w not in IDLE} - _OF_FIGURES
        return None if more else practices.of_coats(ref)
    if len(sentence.spans) == 2 and (wanted or MELTS.search(low)) and figures.compares(sentence.rest):
        both = figures.of_two(ref, *sentence.spans, wanted or figures.MELTING)
        if both is not None:
            return both
    if len(sentence.spans) == 2 and wanted:
        return figures.of_both(ref, *sentence.spans, wanted)
    if len(sentence.spans) != 1:
        return None
    named = sentence.spans[0]
    thick = not wanted and "metal" in named.kinds and bool(THICK.search(sentence.rest))
    rest = THICK.gone(figures.words_left(sentence.rest))
    # A word that is not known may be what the sentence is about: a wire, a bowl, an earring.
    unknown = {w for w in tokens(rest) if w not in IDLE and w not in FOLDED} - _OF_FIGURES
    if unknown or sentence.thickness or not (wanted or thick):
        return None
    if wanted:
        return figures.of_figure(ref, named, wanted)
    # What is asked of a metal is its own thickness, what is asked on one is that of its glass.
    on_it = re.search(r"\b(on|over|onto)( \w+)?$", sentence.before(named, 2)) is not None
    return figures.of_coat(ref, named) if on_it else figures.of_thickness(ref, named)
