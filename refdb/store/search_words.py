"""Words of a search: how a text is cut into them, which of them say nothing, and which mean the same."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

MOST_LENGTH = 200
_MOST_WORDS = 24
_WORD = re.compile(r"[^\W_]+")
_NOT = re.compile(r"n['’]t\b|\bcannot\b")
#: The same, as it is typed in haste.
_NT = re.compile(r"\b(do|does|did|is|are|was|were|has|have|ca|wo|could|should|would)nt\b")
_OWNED = re.compile(r"['’]s\b")
#: Words that name nothing, as people put them round what they mean.
_IDLE = """a about after again all also always am an and any anyone anything are as at be became because been
before
being best better between both but by came can come comes could did didn do does doesn doing don done down during
each either else even ever every for from get gets getting give go goes going gone got had happened happening has have
having he help hers his how i if in into is isn it its just keeps kept kind know let like look looking looks made
make makes making many may me mean means meant might mine more most much must my need needed needs new no not now
of often ok okay on onto once one ones only or other our out over own please possible put puts really right said say
says see seem seems shall she should since so some someone something sort still such supposed take taken tell than
that the their them then there these they thing things this those though time to together too tried try
trying turn turned turning turns under until up us use used uses using very want wanted wants was way we well went
were what whats when where whether which while who why will with within without won work works would yet you your
ca wo"""
IDLE = frozenset(_IDLE.split())
#: Words that any record of this trade may be told with; they tell nothing beside others.
EVERYWHERE = frozenset(
    (
        "enamel",
        "enamels",
        "enamelled",
        "enamelling",
        "enameling",
        "glass",
        "piece",
        "pieces",
        "coat",
        "caution",
        "cautions",
        "precaution",
        "precautions",
        "contain",
        "contains",
    )
)
#: Words by which harm is asked of; they do not tell of what.
OF_HARM = frozenset(
    ("harm", "harmful", "hurt", "hurts", "damage", "damages", "spoil", "spoils", "ruin", "ruins", "dangerous", "danger",
     "safe", "safely", "unsafe", "toxic", "bad")
)  # fmt: skip
#: What says that something is not so; the next word that says something is taken together with it.
_NEGATIONS = frozenset(("not", "no", "never", "without"))
#: Small words between a negation and what it denies.
_BETWEEN = frozenset(("to", "the", "a", "any", "it", "be", "very", "really", "get", "go", "fully", "quite", "well"))
#: So many letters at its beginning a word keeps without its ending.
_START = 2
#: Small words that name a thing after an article.
_NOUNS = frozenset(("can", "may", "might", "mine", "must", "well", "will"))
ARTICLES = ("a", "an", "the", "my", "your")
#: Endings that are taken off before two words are held for the same.
_ENDINGS = ("ing", "es", "ed", "s")
_VOWELS = frozenset("aeiouy")
#: Letters that are doubled before an ending alone: chip, chipped; of dull and glass they belong to the word.
_DOUBLED = frozenset("bdgmnprt")
#: Forms that no ending tells: each with the word it is of.
_FORMS = {
    form: of
    for of, *made in map(
        str.split,
        (
            "break broke broken", "bend bent", "burn burnt", "blow blew blown", "bite bit bitten", "creep crept",
            "draw drew drawn", "eat ate eaten", "fall fell fallen", "fly flew flown", "freeze froze frozen",
            "grow grew grown", "hang hung", "hold held", "lay laid", "lose lost", "melt molten", "rise rose risen",
            "run ran", "shake shook shaken", "shrink shrank shrunk", "sink sank sunk", "slide slid", "spill spilt",
            "spit spat", "spoil spoilt", "stand stood", "stick stuck", "sweep swept", "swell swollen", "swim swam",
            "tear tore torn", "wear wore worn", "big bigger biggest", "coarse coarser", "dark darker",
            "deep deeper deepest", "fast faster", "fine finer finest", "hard harder hardest", "high higher",
            "hot hotter", "quick quicker quickly", "slow slower slowly", "small smaller", "soft softer",
            "thick thicker", "leaf leaves", "half halves",
        ),
    )
    for form in made
}  # fmt: skip


def plain(text: str) -> str:
    """The text in small letters, accents off, cut to what a search looks at."""
    return unaccented(text[:MOST_LENGTH].lower())


def unaccented(text: str) -> str:
    """The text without accents."""
    if text.isascii():
        return text
    return "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))


def tokens(text: str) -> list[str]:
    """All words of a text, in order; "won't" is two, the second of them "not"."""
    return list(_tokens(text))


@lru_cache(4096)
def _tokens(text: str) -> tuple[str, ...]:
    # The names of all subjects and records that come near are cut up for each question, some of them twice.
    low = plain(text)
    owned = _OWNED.sub(" ", low) if "'" in low or "’" in low else low
    return tuple(_WORD.findall(_with_not(owned))[:_MOST_WORDS])


@lru_cache(8192)
def root(word: str) -> str:
    """A word without its ending: broke, breaks and breaking are one, as are baked and baking."""
    word = _FORMS.get(word, word)
    if len(word) > 4 and word.endswith(("ies", "ied")):
        return f"{word[:-3]}y"
    for ending in _ENDINGS:
        stem = word[: -len(ending)]
        if word.endswith(ending) and len(stem) >= 3 and not word.endswith("ss") and not _VOWELS.isdisjoint(stem):
            word = stem
            break
    if len(word) > 3:
        word = word.removesuffix("e")
    return word[:-1] if len(word) > 3 and word[-1] == word[-2] and word[-1] in _DOUBLED else word


@lru_cache(8192)
def forms(word: str) -> tuple[str, ...]:
    """The other forms of a word that no ending tells: of sank sink and sunk, of most words none."""
    base = _FORMS.get(word, word)
    return tuple(form for form in (base, *(f for f, of in _FORMS.items() if of == base)) if form != word)


@lru_cache(1)
def _starts_of_forms() -> dict[str, frozenset[str]]:
    """By root, how words begin that no ending tells to be of it: ate and eaten of eat."""
    found: dict[str, set[str]] = {}
    for form, of in _FORMS.items():
        found.setdefault(root(of), set()).update((form[:_START], of[:_START]))
    return {of: frozenset(starts) for of, starts in found.items()}


def starts_of(roots: Iterable[str]) -> frozenset[str]:
    """How words of these roots may begin."""
    known = _starts_of_forms()
    return frozenset(start for one in roots for start in (one[:_START], *known.get(one, ())))


def may_stand(name: str, starts: frozenset[str]) -> bool:
    """Whether a name may be made of words that begin so, and of small ones; told without cutting it into words."""
    low = name.lower()
    if not low.isascii() or "not" in low or "'" in low:
        return True
    return all(w[:_START] in starts or w in IDLE or not w[:_START].isalnum() for w in low.split())


def denied(words: Sequence[str]) -> list[tuple[int, int, str]]:
    """What is denied in these words: from where to where, and the one word made of it, such as "notstick"."""
    found = []
    for at, word in enumerate(words):
        if word in _NEGATIONS:
            to = at + 1
            while to < len(words) and words[to] in _BETWEEN:
                to += 1
            if to < len(words) and words[to] not in IDLE:
                found.append((at, to + 1, f"not{words[to]}"))
    return found


def nouns(words: Sequence[str]) -> set[int]:
    """Where a small word is the name of a thing, as in "a will" and "the can": after an article."""
    return {at for at in range(1, len(words)) if words[at] in _NOUNS and words[at - 1] in ARTICLES}


def with_denials(text: str) -> str:
    """The text, followed by the words made of what it denies: how it is kept in the index."""
    made = [word for part in text.split(";") for _, _, word in denied(_WORD.findall(plain_all(part)))]
    return " ".join((text, *made)) if made else text


def plain_all(text: str) -> str:
    """A text of the store in small letters, with "not" for what ends in it."""
    return _with_not(text.lower())


def _with_not(text: str) -> str:
    # Hardly any text has these: to look for their letters takes a tenth of the time.
    if "cannot" in text or "'" in text or "’" in text:
        text = _NOT.sub(" not ", text)
    return _NT.sub(r"\1 not ", text) if "nt" in text else text


class Synonyms:
    """Which words mean the same, from the rows of the table of synonyms."""

    def __init__(self, rows: Iterable[Mapping[str, object]]) -> None:
        self._groups: list[tuple[str, ...]] = []
        self._of: dict[tuple[str, ...], list[int]] = {}
        self._apart: dict[str, frozenset[str]] = {}
        self.longest = 1
        for row in rows:
            words = tuple(w.strip() for w in str(row["words"]).split(";") if w.strip())
            self._groups.append(words)
            for word in words:
                parts = tuple(root(w) for w in tokens(word))
                self.longest = max(self.longest, len(parts))
                self._of.setdefault(parts, []).append(len(self._groups) - 1)
            if apart := str(row["apart"] or ""):
                unlike = frozenset(_WORD.findall(apart.lower()))
                for word in words:
                    if len(tokens(word)) == 1:
                        self._apart[word] = unlike

    def of(self, words: Sequence[str]) -> list[str]:
        """All words for what these words together mean; none where the list has nothing."""
        groups = self._of.get(tuple(root(w) for w in words), ())
        return list(dict.fromkeys(word for n in groups for word in self._groups[n]))

    def apart(self, word: str) -> frozenset[str]:
        """Words of the same stem that this one does not mean."""
        return self._apart.get(word, frozenset())
