"""Keys of the rules of a piece, by which faults name them: those of limits and of fit have keys of their own."""

from __future__ import annotations

import re
from collections.abc import Iterable

from refdb.judge import limits
from refdb.judge.verdict import Reason
from refdb.records import FitRule, Reaction

#: Words of a fault's rules where nothing in a piece file can tell of its cause.
NOT_IN_FILE = "not in a piece file"

#: Rules of order, surface and handling, by the words with which their reasons begin.
OF_PIECE = {
    "never-fired": "Never fired", "leaf-in-fire": "Leaf in the fire", "leaf-on-powder": "Leaf on fused glass",
    "leaf-on-metal": "Leaf on bare metal", "leaf-left-bare": "Leaf left bare", "leaf-hidden": "Leaf hidden",
    "leaf-part-covered": "Clear over the whole face", "leaf-uneven-cover": "An even coat over leaf",
    "leaf-unwashed-cover": "Clarity over leaf", "leaf-melts": "Leaf melts", "leaf-bed": "Bed under the leaf",
    "leaf-many-fires": "Silver leaf on copper", "foil-unpricked": "Foil pricked",
    "line-on-leaf": "Line work on bare leaf", "line-covered": "Line work covered",
    "lead-order": "Leaded over lead-free only", "bare-face-scale": "Scale on the bare face",
    "scale-under-glass": "Scale under the glass", "clean-metal": "Clean metal", "join-after-glass": "Join after glass",
    "join-in-fire": "Join in the fire", "stoned-and-left": "Stoned and left", "many-fires": "Number of fires",
    "long-fire": "Long fire", "short-fire": "Minutes in the fire", "damp-coat": "Dry before the fire",
    "unwashed": "Washed glass", "uneven-coat": "Even coat", "thin-first-coat": "First coat thin",
    "thin-over-colour": "Thin over another colour", "thin-opal": "Opal thin", "thick-at-once": "Thick at once",
    "bare-beside-glass": "Bare metal beside glass", "soft-back": "Back softer than the front",
    "set-before-fire": "Set before the fire", "made-for-use": "Made for", "lead-for-use": "Lead for",
    "cadmium-for-use": "Cadmium for",
}  # fmt: skip
#: Rules whose reasons tell that something is well, so that no fault comes of them.
GOOD_ONLY = ("Stoned and fired again", "Fired again", "The join holds")
#: Reasons of these rules are about a row of the colour reactions.
COLOUR_RULE = "Colour on this ground"
#: What judging a piece calls these limits.
_OTHER_NAMES = {
    "Metal in the fire": "kiln",
    "Kiln setting for what is fused": "setting",
    "Evidence for the expansion": "evidence",
}
#: A kiln setting is off to one side, and the two sides do not cause the same.
HOT, COOL = "kiln-hot", "kiln-cool"
_NUMBER = re.compile(r"\d+")


def keys_known(fit_rules: Iterable[str], reactions: Iterable[str]) -> set[str]:
    """Every key that a fault may name, from the keys of the rules of fit and of the colour reactions."""
    return {HOT, COOL, *limits.BY_KEY, *OF_PIECE, *_OTHER_NAMES.values(), *fit_rules, *reactions}


class RuleKeys:
    """Finds the key of the rule behind a reason.

    Parameters
    ----------
    fit_rules : iterable of FitRule
    reactions : iterable of Reaction
        Of the store that the verdict comes from.
    """

    def __init__(self, fit_rules: Iterable[FitRule], reactions: Iterable[Reaction]) -> None:
        # Several rows of fit share one name and differ in what they found.
        self._fit = {(rule.rule, rule.found): rule.key for rule in fit_rules}
        self._changes = {reaction.change: reaction.key for reaction in reactions}
        heads = {limit.rule: limit.key for limit in limits.ALL_LIMITS} | _OTHER_NAMES
        heads |= {words: key for key, words in OF_PIECE.items()}
        self._heads = sorted(heads.items(), key=lambda item: -len(item[0]))

    def of(self, reason: Reason) -> str | None:
        """The key of the rule of a reason; None where it has none."""
        if isinstance(reason.found, str):
            if reason.rule == COLOUR_RULE:
                return self._changes.get(reason.found)
            for (rule, found), key in self._fit.items():
                if reason.rule == rule and reason.found.startswith(found):
                    return key
        limit = next((key for words, key in self._heads if reason.rule.startswith(words)), None)
        return _side(reason) if limit == limits.SETTING.key else limit


def _side(reason: Reason) -> str:
    """Whether a kiln setting is nearer to the hot or to the cool end of the range of its glass."""
    if reason.rule != limits.SETTING.rule:
        return HOT
    heat = float(_NUMBER.findall(str(reason.found))[0])
    low, high = (float(x) for x in _NUMBER.findall(reason.limit)[:2])
    return HOT if heat > (low + high) / 2 else COOL
