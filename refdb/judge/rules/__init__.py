"""The rules of the judge, one entry each, and those that rows of the store make.

A new rule or threshold is one entry in `of_fit`, `of_leaf`, `of_order`, `of_laying`, `of_cells` or `of_late`, and its
test.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from types import MappingProxyType

from refdb.judge.rules import of_cells, of_cooling, of_fit, of_late, of_laying, of_leaf, of_order
from refdb.judge.rules.of_leaf import FULL_COVERAGE
from refdb.judge.rules.typed import Limit, Rule, Words
from refdb.records import FitRule, Reaction

__all__ = ["FULL_COVERAGE", "RULES", "Limit", "Rule", "Words", "limit_of", "of_fit_row", "of_reaction"]

_EVERY = (
    *of_fit.RULES,
    *of_leaf.RULES,
    *of_order.RULES,
    *of_laying.RULES,
    *of_cells.RULES,
    *of_late.RULES,
    *of_cooling.RULES,
)
#: Words of a fault's rules where nothing in a piece file can tell of its cause.
NOT_IN_FILE = "not in a piece file"
#: Every rule of our own by its key.
RULES: Mapping[str, Rule] = MappingProxyType({rule.key: rule for rule in _EVERY})
if len(RULES) != len(_EVERY):
    raise ValueError("two rules have one key")

#: How often a colour that burns out may be fired, for the rows of fit that say that it does.
COLOUR_FIRES = 2
MANY_FIRES_CASE = "many-fires"


def limit_of(key: str) -> Limit:
    """The limit of a rule; KeyError for a rule that is not there, ValueError for one without a limit."""
    limit = RULES[key].limit
    if limit is None:
        raise ValueError(f"rule {key} has no limit")
    return limit


def _plain(text: str) -> str:
    """Text of a row as a template that says just this."""
    return text.replace("{", "{{").replace("}", "}}")


@cache
def of_fit_row(row: FitRule) -> Rule:
    """The rule that a row of surface or use makes; the case `many-fires` says how many it gets."""
    found = _plain(row.found)
    words = Words(found, _plain(row.limit_text), _plain(row.why), _plain(row.remedy))
    return Rule(
        row.key,
        row.rule,
        "pair",
        row.source,
        "common practice",
        words,
        of_question=True,
        cases={MANY_FIRES_CASE: Words(f"{found} Here it gets {{fires}}.")},
    )


@cache
def of_reaction(row: Reaction) -> Rule:
    """The rule that a row of the colour reactions makes."""
    words = Words(_plain(row.change), "a colour that stays as meant", _plain(row.why), _plain(row.remedy))
    return Rule(
        row.key,
        "Colour on this ground",
        "pair",
        row.source,
        "common practice",
        words,
        fine="" if row.remedy else words.why,
    )


def keys_known(fit_rules: Iterable[str], reactions: Iterable[str]) -> set[str]:
    """Every key that a fault may name, from the keys of the rules of fit and of the colour reactions."""
    own = {rule.fault_key_of(case) for rule in _EVERY for case in ("", *rule.cases)}
    return own | {*fit_rules, *reactions}
