"""What a rule of the judge is: a key, its limits, its source, and every word that is ever said of it."""

from __future__ import annotations

import string
from collections.abc import Mapping

from refdb.frozen import dataclass, field

#: What a rule can speak of; a finding names the one it is about.
SUBJECTS = ("piece", "metal", "face", "step", "firing", "glass", "pair", "leaf", "join")
#: How the limit of a rule is known.
BASES = ("standard", "computed", "common practice")

_TEMPLATES = string.Formatter()


@dataclass(frozen=True)
class Limit:
    """Thresholds of a rule in `unit`: up to `fine` is good, up to `care` wants care, beyond that does not suit.

    `care` is None for a rule that never refuses. Where small is bad (`falling`), read "down to".
    """

    fine: float
    care: float | None
    unit: str
    falling: bool = False


@dataclass(frozen=True)
class Words:
    """What is said of a rule in one case.

    Each is a template for `str.format`, filled from the values of a finding; `{fine}` and `{care}` are the rule's own
    limits, `{glass}` the label of a record in running text and `{Glass}` the same at the head of a sentence. An empty
    `found` prints the number that was found. `head_care` and `head_not` say it at the head of a verdict as half a
    sentence, for the two worse outcomes; where they are empty the head says what was found.
    """

    found: str = ""
    limit: str = ""
    why: str = ""
    remedy: str = ""
    head_care: str = ""
    head_not: str = ""

    def __post_init__(self) -> None:
        # A template that cannot be read is found when it is written down, not when it is first filled.
        for text in vars(self).values():
            if "{" in text or "}" in text:
                list(_TEMPLATES.parse(text))


@dataclass(frozen=True)
class Rule:
    """One rule, whole.

    Parameters
    ----------
    key : str
        By which findings, faults, tiles and JSON name it.
    title : str
        Its name in words.
    speaks_of : str
        One of `SUBJECTS`.
    source, basis : str
        Key of the source, and one of `BASES`; a finding that rests on a row of the store names that row's source.
    words : Words
        What is said when it wants care or refuses.
    fine : str
        Why it is well, where a finding of it can be so; empty for a rule that only ever objects.
    limit : Limit, optional
        Its thresholds.
    cases : mapping
        Other words by the name of a case; what a case leaves empty is taken from `words`.
    of_question : bool
        Whether it speaks where only a glass, a metal and thicknesses are asked about.
    fault_key : str
        The key by which `faults` name it, where that is another; `fault_keys` by case.
    limit_plainly : str
        The limit said of no glass and no metal in particular, where its words name one.
    subject : str
        What follows the title to tell which glass or pair it is about, as a template.
    cause : bool
        Whether it names what others are a consequence of, and so stands before them at the head of a verdict.

    Raises
    ------
    ValueError
        A text is forgotten.
    """

    key: str
    title: str
    speaks_of: str
    source: str
    basis: str
    words: Words
    fine: str = ""
    limit: Limit | None = None
    cases: Mapping[str, Words] = field(default_factory=dict)
    of_question: bool = False
    fault_key: str = ""
    fault_keys: Mapping[str, str] = field(default_factory=dict)
    subject: str = ""
    limit_plainly: str = ""
    cause: bool = False

    def __post_init__(self) -> None:
        missing = [name for name in ("key", "title", "source") if not getattr(self, name)]
        for name, words in ({"": self.words} | dict(self.cases)).items():
            told = self.words_of(name)
            gone = [part for part in ("limit", "why") if not getattr(told, part)]
            missing += [f"{part} of case '{name}'" for part in gone]
            if not told.remedy and not self.only_good:
                missing.append(f"remedy of case '{name}'")
            if not words.found and not told.found and self.limit is None:
                missing.append(f"found of case '{name}'")
            if not told.found and not told.head_care:
                missing.append(f"head_care of case '{name}', which prints a number")
        try:
            _ = self.limit_words
        except KeyError as needed:
            missing.append(f"limit_plainly, for its limit names {needed}")
        if missing:
            raise ValueError(f"rule {self.key or '?'} says nothing of: {', '.join(missing)}")
        if self.speaks_of not in SUBJECTS or self.basis not in BASES:
            raise ValueError(f"rule {self.key} speaks of '{self.speaks_of}' on the basis '{self.basis}'")

    @property
    def only_good(self) -> bool:
        """Whether a finding of this rule always tells that something is well."""
        return bool(self.fine) and not self.words.remedy

    @property
    def limit_words(self) -> str:
        """Its limit in words, said of no glass and no metal in particular; empty for a rule without one."""
        if self.limit is None:
            return ""
        return (self.limit_plainly or self.words.limit).format(fine=self.limit.fine, care=self.limit.care)

    @property
    def why_plainly(self) -> str:
        """Why it matters, said of no finding in particular."""
        return self.words.why.replace("{flow}", "")

    def words_of(self, case: str) -> Words:
        """The words of a case, what it leaves empty from the rule's own; KeyError for one that the rule has not."""
        own = self.words
        if not case:
            return own
        words = self.cases[case]
        return Words(*(getattr(words, name) or getattr(own, name) for name in Words.__match_args__))

    def fault_key_of(self, case: str) -> str:
        """The key by which faults name this rule in a case."""
        return self.fault_keys.get(case) or self.fault_key or self.key
