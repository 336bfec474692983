"""A sentence that asks: what kind of answer it wants, and that answer, made by the judge or read from the store.

A small grammar over the things a sentence names; what it does not understand is left to the search.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cached_property
from typing import TYPE_CHECKING

from refdb.ask.spans import Sentence, Span, is_over_leaf, taken_apart
from refdb.errors import RefdbError
from refdb.store.search_words import IDLE, tokens

if TYPE_CHECKING:
    from refdb.ask.answers import Answered
    from refdb.store.reference import Reference

_LONGEST = 200


class _Said:
    """Words looked for in a sentence; made ready when they are first looked for, as most searches ask nothing."""

    def __init__(self, words: str) -> None:
        self.words = words

    @cached_property
    def _ready(self) -> re.Pattern[str]:
        return re.compile(self.words)

    def search(self, text: str) -> bool:
        """Whether they stand in a text."""
        return self._ready.search(text) is not None

    def gone(self, text: str) -> str:
        """A text without them."""
        return self._ready.sub(" ", text)

    def fullmatch(self, text: str) -> bool:
        """Whether a text is one of them."""
        return self._ready.fullmatch(text) is not None


_ASKS = _Said(
    r"^(doe|does|do|did|can|could|will|would|is|are|may|should|which|what|whats|any|how|must|has|have|am|was|why|where|when|my|"
    r"(density|expansion|coe|shrinkage|softening point) of)\b|\?"
)
_WRONG = _Said(
    r"\b(why|wrong|problem|happened|ruined|went|came|gone|keeps?|cracked|crazed|chipped|bubbl\w+|crack(s|ing)?|pop(s|ped)?|"
    r"peel(s|ed)?|flak\w+|turned|cloudy|pitted|warped|fell|lifted|blister\w*|craz\w+|stain\w*|spots?|faded)\b"
)
_HURTS = _Said(
    r"\b(safe|safely|unsafe|safety|danger\w*|toxic|poison\w*|harm\w*|hurt\w*|fumes?|breath\w*|inhale\w*|hazard\w*|"
    r"risks?|mask|respirator|ventilat\w*|pregnan\w*|health|caution\w*|explode|indoors?|kitchen|at home|gloves)\b"
)
#: Asks for them by their name, alone or before what they are of.
_CAUTIONS = _Said(
    r"\b(cautions?|precautions?|hazards?|dangers?|risks?|safety)( (of|for|with|about|in|on)( (a|an|the|my))?)?\b"
)
_EYES = _Said(
    r"\b(goggles|eyewear|eyesight|eye protection|eyes|(glasses|shades?) (for|to) (look|see|watch|protect)\w*)\b"
)
#: Asks whether one thing spoils another, not a person.
_SPARES = _Said(
    r"\b(safe|unsafe|harm(s|ful)?|hurts?|damages?|dangerous) ?(for|on|with|to|over|under|in)? (my |the |a )?$"
)
_LONG = _Said(r"\b(how long|schedule|programme|program|ramp|hold time|minutes|hours)\b")
_THICK = _Said(r"\b(how (thick|thin)|thickness|gau?ge)\b")
_FITS = _Said(
    r"\b(suits?|fits?|work(s|ing)?|go(es)?|use[ds]?|stick|sticks|hold|holds|adheres?|bonds?|compatible|put|fire[ds]?|match|"
    r"ok|okay|good|enamel(led|ing|ling)?|on|over|apply|take[ns]?|possible)\b"
)
_WHICH = _Said(r"\b(which|what|whats|best|any|recommend\w*|choose|list)\b")
_GLASS = _Said(
    r"\b(glass(es)?|enamels?|clears?|flux(es)?|colours?|opaques?|transparents?|frit|powder|enamelling|enamelled)\b"
)
_CLEAR = _Said(r"\b(clear|flux|fondant|transparent|glass|enamel|cover|coat|go)\b")
_BENEATH = _Said(r"\b(under|underneath|beneath|below)\b")
_HOT = _Said(
    r"\b(how hot|how high|temperature|temp|degree|celsius|fahrenheit|kiln setting|heat|set the kiln|setting)\b"
)
_MELTS = _Said(r"\b(melt(s|ing|ed)?|solidus|liquidus)\b")
_HOW = _Said(
    r"^(how (do|to|should|can|would|long|much|many|often|thick|thin)|when|should|do i|must|what is the best way)\b"
)
_TOUCH = _Said(r"\b(on|melt\w*|touch\w*|meet\w*|contact|eutectic|bare|directly|with|and|to)\b")
_WHAT_IS = _Said(r"^(what|whats|tell me about|explain)( is| are)?( a| an| the)?\b")
_FLAME = _Said(r"\b(torch\w*|blow ?torch\w*|flames?|headpins?)\b")
_LOAD = _Said(r"\bhow many\b.*\b(kiln|load|batch|at once|one firing)\b")
_POWDER = _Said(r"\bhow (much|many grams( of)?) (enamel|powder|glass|frit)\b(?!.*\b(shrink|hold|holding|weigh)\b)")
#: What is done with a flame and is not enamelling.
_OTHER_FLAME = _Said(r"\b(solder\w*|braz\w*|anneal\w*|clay|melt\w*|sinter\w*)\b")
#: Asks for a size, a number or a way, of a thing that food or a child might meet.
_OF_MAKING = _Said(r"\b(how (much|many|big|large|thick|thin|hot|long|do|to)|thickness|gau?ge|which|support|trivet)\b")
#: What share of a sentence the names of a subject of practice have to be: of one that asks how, and of any other.
_LEAST_SHARE, _ALONE = 0.5, 0.6
#: Small words as they are folded.
_FOLDED = frozenset(("doe", "goe"))
#: What a figure may be asked with beside its own name and that of a thing.
_OF_FIGURES = frozenset(
    ("enamel", "enamels", "enamelling", "enameling", "glass", "metal", "sheet", "point", "value", "figure", "number",
     "thermal", "linear", "minimum", "least", "thin", "thick", "size", "temperature", "does", "much", "percent", "rate")
)  # fmt: skip
_USES = (
    ("food", _Said(r"\b(food|eat|drink\w*|cup|bowl|tableware|dinner\w*|dishwasher|plate for|spoon)\b")),
    ("child", _Said(r"\b(child|children|kid|kids|baby|toddler|years? olds?)\b")),
)
_EATEN = _Said(r"\b(food|eat|drink\w*)\b")


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
    low = clean.lower()
    sentence = taken_apart(ref, low)
    if not (_ASKS.search(low) or _is_all(sentence) or _FITS.search(sentence.rest) or _CAUTIONS.search(low)):
        return None if sentence.spans else _practice(ref, low, sentence)
    for wanted in _ORDER:
        try:
            found = wanted(ref, low, sentence)
        except RefdbError:
            found = None  # what the judge refuses here is refused in its own words where it is asked outright
        if found is not None:
            return found
    return None


def _is_all(sentence: Sentence) -> bool:
    """Whether a sentence says nothing but a glass and a metal."""
    left = [w for w in tokens(sentence.rest) if w not in IDLE]
    return not left and bool(sentence.of_kind("glass")) and bool(sentence.of_kind("metal"))


def _hurts(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    eyes = _EYES.search(low)
    if not (_HURTS.search(low) or eyes) or _spares(sentence):
        return None
    use = next((name for name, said in _USES if said.search(low)), "")
    named = next(iter(sentence.spans), None)
    from refdb.ask import answers

    left = " ".join(_CAUTIONS.gone(low).replace("?", " ").split())
    words = "infrared light looking into the kiln" if eyes and not use else left or low
    return answers.of_cautions(ref, sentence, None if eyes else named, use, words)


def _spares(sentence: Sentence) -> bool:
    """Whether a sentence asks what is safe for a material: "is ferric chloride safe for silver"."""
    words = sentence.words
    return any(_SPARES.search(f"{' '.join(words[: s.start])} ") for s in sentence.spans if s.start > 2)


def _spared(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """What a bath or a way does to a material is told by the subject of practice."""
    if not _spares(sentence):
        return None
    from refdb.store.topics import topic_meant

    wanted = topic_meant(ref, _HURTS.gone(low))
    if wanted is None:
        return None
    from refdb.ask import answers

    return answers.of_practice(ref, wanted.topic, low)


def _uses(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    use = next((name for name, said in _USES if said.search(low)), "")
    if not use or not _ASKS.search(low) or (_OF_MAKING.search(low) and not _EATEN.search(low)):
        return None
    from refdb.ask import answers

    return answers.of_cautions(ref, sentence, None, use, low)


def _faults(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    asks = re.search(r"\b(why|wrong|problem|happened|ruined)\b", low)
    if not (asks or (_WRONG.search(low) and not _WHICH.search(low) and not low.startswith(("can", "how", "should")))):
        return None
    from refdb.ask import answers

    return answers.of_faults(ref, low)


def _verdict(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    glass, metal = _pair(sentence)
    if (
        glass is None
        or metal is None
        or _names_leaf(sentence)
        or _WHICH.search(sentence.before(glass, 6))
        or _HOT.search(low)
    ):
        return None
    if _HOW.search(low) and not _is_all(sentence):
        return None
    from refdb.ask import answers

    return answers.of_verdict(ref, glass, metal, sentence.thickness)


def _pair(sentence: Sentence) -> tuple[Span | None, Span | None]:
    """The glass and the metal of a sentence, where it names one of each."""
    glasses = [s for s in sentence.of_kind("glass") if "metal" not in s.kinds]
    metals = [s for s in sentence.of_kind("metal") if not is_over_leaf(sentence, s) or "leaf" not in s.kinds]
    metals = [s for s in metals if s not in glasses]
    return (glasses[0] if len(glasses) == 1 else None), (metals[-1] if len(metals) == 1 else None)


def _names_leaf(sentence: Sentence) -> bool:
    """Whether a leaf is named, which the questions of a glass and a metal alone would pass over."""
    return any(span.kinds <= {"leaf"} for span in sentence.spans)


def _clears(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    leaf = next((s for s in sentence.of_kind("leaf") if is_over_leaf(sentence, s)), None)
    if leaf is None or _HOT.search(low):
        return None
    before = sentence.before(leaf, 4)
    metal = next((s for s in sentence.of_kind("metal") if s is not leaf), None)
    from refdb.ask import answers

    if _BENEATH.search(before) and _WHICH.search(low):
        return answers.of_bed(ref, leaf, metal)
    if not _CLEAR.search(low) or not re.search(r"\b(over|on top of|above|cover\w*|on|for|with)\b", before):
        return None
    return answers.of_clears(ref, leaf, metal)


def _contact(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    metals = [s for s in sentence.spans if {"metal", "leaf"} & s.kinds and "glass" not in s.kinds]
    if len(metals) != 2 or not _TOUCH.search(low):
        return None
    from refdb.ask import answers

    return answers.of_contact(ref, metals[0], metals[1])


def _hot(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    glass, metal = _pair(sentence)
    of_clay = metal is not None and glass is None and "clay" in metal.words and bool(_LONG.search(low))
    if not _HOT.search(low) and not (_MELTS.search(low) and "when" in low) and not of_clay:
        return None
    if of_clay and not re.search(r"\b(fire[ds]?|firing|sinter\w*|kiln|schedule|program\w*|ramp|burn\w*)\b", low):
        return None
    from refdb.ask import answers

    if _MELTS.search(low) and metal is not None and glass is None:
        return answers.of_melting(ref, metal)
    if glass is None and metal is None:
        return None
    return answers.of_heat(ref, glass, metal)


def _ranked(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    glass, metal = _pair(sentence)
    if metal is None or _HOW.search(low) or _names_leaf(sentence):
        return None
    known = (_WHICH, _FITS, _GLASS)
    # A word that the grammar does not know may be what the sentence is about.
    words = [w for w in tokens(sentence.rest) if w not in IDLE and w not in _FOLDED]
    left = [w for w in words if not any(k.fullmatch(w) for k in known)]
    if left or _WHAT_IS.fullmatch(sentence.rest) or not (_WHICH.search(low) or _FITS.search(sentence.rest)):
        return None
    if not (_GLASS.search(low) or _ASKS.search(low)):
        return None
    from refdb.ask import answers

    return answers.of_ranking(ref, metal, glass)


def _figure(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """A figure of the one thing that is named, how thick it has to be for glass, or a gauge in millimetres."""
    from refdb.ask import figures

    if sentence.thickness and not sentence.spans:
        left = " ".join(w for w in tokens(sentence.rest) if w not in IDLE)
        return figures.of_gauge(low, sentence.thickness) if figures.asks_gauge_alone(left) else None
    if len(sentence.spans) != 1:
        return None
    named, wanted = sentence.spans[0], figures.figures_meant(sentence.rest)
    thick = not wanted and "metal" in named.kinds and bool(_THICK.search(sentence.rest))
    rest = _THICK.gone(figures.words_left(sentence.rest))
    # A word that is not known may be what the sentence is about: a wire, a bowl, an earring.
    unknown = {w for w in tokens(rest) if w not in IDLE and w not in _FOLDED} - _OF_FIGURES
    if unknown or sentence.thickness or not (wanted or thick):
        return None
    return figures.of_figure(ref, named, wanted) if wanted else figures.of_thickness(ref, named)


def _record(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    if len(sentence.spans) != 1 or not _WHAT_IS.search(low):
        return None
    left = [w for w in tokens(sentence.rest) if w not in IDLE]
    from refdb.ask import answers

    return None if left else answers.of_record(ref, sentence.spans[0])


def _torch(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """A flame is asked about before any verdict, since none is for it."""
    if not _FLAME.search(low):
        return None
    found = _practice(ref, low, sentence)
    if found is not None or _OTHER_FLAME.search(low):
        return found
    from refdb.ask import answers
    from refdb.store.topics import topic_of

    return answers.of_practice(ref, topic_of(ref, "torch"), low)


def _counted(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """How many pieces a kiln takes, or how much powder so many take: the rule of thumb and the command that counts."""
    from refdb.ask import answers

    if _LOAD.search(low):
        return answers.of_load(ref)
    return answers.of_amounts(ref) if _POWDER.search(low) else None


def _practice(ref: Reference, low: str, sentence: Sentence) -> Answered | None:
    """How something is done, where a subject of practice is meant and little else."""
    from refdb.store.topics import topic_meant

    wanted = topic_meant(ref, low)
    if wanted is None:
        return None
    if wanted.share < (_LEAST_SHARE if _HOW.search(low) else _ALONE) and not _FLAME.search(low):
        return None
    from refdb.ask import answers

    return answers.of_practice(ref, wanted.topic, low)


#: In this order a sentence is tried; what may hurt comes first.
_ORDER: tuple[Callable[[Reference, str, Sentence], Answered | None], ...] = (
    _hurts,
    _spared,
    _faults,
    _torch,
    _figure,
    _hot,
    _clears,
    _verdict,
    _ranked,
    _contact,
    _uses,
    _counted,
    _record,
    _practice,
)
