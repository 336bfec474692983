"""From findings to words: the one place where a rule, its case and its numbers become sentences.

Pages, terminal and bench sheet all print what stands here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import Any

from refdb.frozen import dataclass, field
from refdb.judge.reason import NOT, SUITS, ZONES, Measure, Reason, Subject
from refdb.judge.rules import RULES, Rule
from refdb.records.named import small
from refdb.words import NEARLY_ALL, lower_first, tenths


@dataclass(frozen=True)
class Context:
    """What the findings of one verdict name: rules made by rows of the store, records, steps and firings.

    `steps` and `firings` give the titles by number; `is_question` where only a glass, a metal and thicknesses were
    asked about, so that nothing need be told apart by glass or step.
    """

    records: Mapping[str, Any] = field(default_factory=dict)
    rules: Mapping[str, Rule] = field(default_factory=dict)
    steps: Mapping[int, str] = field(default_factory=dict)
    firings: Mapping[int, str] = field(default_factory=dict)
    is_question: bool = False

    def rule(self, key: str) -> Rule:
        """The rule of a key; KeyError for one that neither we nor the rows in question have."""
        return RULES.get(key) or self.rules[key]


class _Named:
    """A record in a sentence: its label in running text, or as it stands; its other fields by name."""

    def __init__(self, record: Any, running: bool) -> None:
        self._record, self._running = record, running

    def __format__(self, spec: str) -> str:
        label = str(self._record.label)
        return small(str(self._record.key), label) if self._running else label

    def __getattr__(self, name: str) -> Any:
        return getattr(self._record, name)


class _Facts(dict[str, Any]):
    """Values of a finding by name; those that are keys of records stand for the records."""

    def __init__(self, reason: Reason, context: Context) -> None:
        rule = context.rule(reason.rule)
        limits = {} if rule.limit is None else {"fine": rule.limit.fine, "care": rule.limit.care}
        super().__init__(limits | vars(reason.subject) | dict(reason.values))
        self._records = context.records

    def __missing__(self, name: str) -> Any:
        if name[:1].isupper() and name.lower() in self:
            return self._named(name.lower(), running=False)
        raise KeyError(name)

    def __getitem__(self, name: str) -> Any:
        return self._named(name, running=True) if name in self else self.__missing__(name)

    def _named(self, name: str, *, running: bool) -> Any:
        value = super().__getitem__(name)
        record = self._records.get(value) if isinstance(value, str) else None
        if record is not None:
            return _Named(record, running)
        if isinstance(value, Spoken):
            return value.told(self._records)
        return value


class Spoken:
    """A value that needs the labels of records to be said."""

    def told(self, records: Mapping[str, Any]) -> Any:
        """What stands in the sentence."""
        raise NotImplementedError


@dataclass(frozen=True)
class Told:
    """A finding in words, ready to be laid out.

    `found` is a `Measure` or a sentence; `where` names its step, firing or the base in full and `place` in two words,
    each empty where that is plain; `head` says it at the head of a verdict; `reason` is the finding itself.
    """

    reason: Reason
    rule: Rule
    title: str
    where: str
    found: Measure | str
    limit: str
    why: str
    remedy: str
    head: str
    place: str

    @property
    def key(self) -> str:
        """The key of the rule."""
        return self.reason.rule

    @property
    def fault_key(self) -> str:
        """The key by which faults name the rule in this case."""
        return self.rule.fault_key_of(self.reason.case)

    @property
    def outcome(self) -> str:
        """Its outcome, one of the four."""
        return self.reason.outcome

    @property
    def source(self) -> str:
        """Key of the source."""
        return self.reason.source or self.rule.source

    @property
    def step(self) -> int | None:
        """Number of the step that it is about."""
        return self.reason.subject.step

    @cached_property
    def share_words(self) -> str:
        """In how many draws it holds; empty for a rule that is not sampled, and where every draw came out plainly."""
        split = self.reason.split
        return "" if split is None or split[0] > NEARLY_ALL else split_words(split)


def told(reason: Reason, context: Context) -> Told:
    """A finding in words.

    Parameters
    ----------
    reason : Reason
    context : Context
        Of the verdict that it belongs to.

    Raises
    ------
    KeyError
        The finding lacks a value that its rule's words need, or the rule is not known.
    """
    rule = context.rule(reason.rule)
    words, facts = rule.words_of(reason.case), _Facts(reason, context)
    # What decided a verdict together with others is a doubt, though it holds by itself.
    fine = reason.outcome == SUITS and not reason.deciding

    def say(template: str) -> str:
        return template.format_map(facts)

    found = say(words.found) if words.found or reason.found is None else reason.found
    subject = "" if context.is_question else say(rule.subject)
    head = words.head_not or words.head_care if reason.outcome == NOT else words.head_care
    running = _running(words.found)
    return Told(
        reason,
        rule,
        rule.title + subject,
        where_of(reason.subject, context),
        found,
        say(words.limit),
        say(rule.fine if fine and rule.fine and not rule.only_good else words.why),
        "" if fine and (rule.fine or reason.split is not None) else say(words.remedy),
        "" if fine else say(head) if head else say(running) if running else clause(found),
        place_of(reason.subject, context),
    )


def where_of(subject: Subject, context: Context) -> str:
    """The step, the firing or the base that a finding is about; empty where only the whole could be meant."""
    if subject.step is not None and subject.step in context.steps:
        return (
            f"{context.steps[subject.step]}, at {ZONES[subject.zone]}" if subject.zone else context.steps[subject.step]
        )
    if subject.fire is not None and subject.fire in context.firings:
        return context.firings[subject.fire]
    base = f"the base, {subject.metal}" if subject.metal and context.steps else ""
    return f"{base}, at {ZONES[subject.zone]}" if base and subject.zone else base


def place_of(subject: Subject, context: Context) -> str:
    """The step or the base in two words; empty where only the whole could be meant, as in a question."""
    if subject.step in context.steps:
        return f"step {subject.step}, {subject.zone}" if subject.zone else f"step {subject.step}"
    return "the base" if subject.metal and context.steps else ""


def _running(template: str) -> str:
    """A sentence that begins with a record as half of one, in which its name is small or as one gave it; else empty."""
    return "" if template[:1] != "{" else template[:1] + template[1:2].lower() + template[2:].rstrip(".")


def clause(found: Measure | str) -> str:
    """What a rule found, as half a sentence."""
    return lower_first(str(found).rstrip("."))


def split_words(shares: Sequence[float]) -> str:
    """In how many of ten draws it holds, plainly and with care, and in how many not: "holds in 9 of 10, plainly in 5".

    Parameters
    ----------
    shares : sequence of float
        Of the draws at each of `reason.OUTCOMES`.
    """
    holds, fine = tenths(shares[0] + shares[1]), tenths(shares[0])
    if not holds:
        return "holds in none of 10 draws"
    plainly = "" if fine == holds else f", plainly in {fine}" if fine else ", always with care"
    return f"holds in {holds} of 10 draws{plainly}"
