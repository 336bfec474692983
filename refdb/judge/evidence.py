"""What a verdict rests on: how well the two expansions are known, beside the outcome and never part of it.

The band of a figure is as wide as what is not known of it, and all of it goes through the sample; to count ignorance
once more as a reason would make every answer look alike.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from refdb.frozen import dataclass
from refdb.judge.selectors import words_of
from refdb.records import POOLED, Glass, Metal, PropertyValue
from refdb.records.named import PREFIX

#: Best first.
GRADES = ("measured", "published", "pooled", "trade", "likeness", "guess")
_WORDS = {
    "measured": "a figure of this very jar",
    "published": "figures published for glasses and metals like these",
    "pooled": "pooled tiles",
    "trade": "common practice: this glass is made for this metal, though no figure of it is published",
    "likeness": "figures of similar materials, not of this one",
    "guess": "no figure of its own; a wide guess stands in",
}
#: The same of a figure of the trade, of a glass that it does not make for this metal.
_TOLD = "common practice: the trade tells this figure, and none is published"
#: The same of a figure that the person wrote down without saying what it rests on, and what would lift that.
_OWN = "your own figure, of which nothing says where it is from; the trade makes glasses like it for this metal"
_OWN_LIFT = "say that it is the maker's or your own test, or bend a strip of the jar"
_OF_BASIS = {
    "measured": "measured",
    "published": "published",
    "standard": "published",
    POOLED: "pooled",
    "computed": "likeness",
    "estimate": "likeness",
    "analogue": "likeness",
    "common practice": "trade",
    "from memory": "guess",
    "no evidence": "guess",
}
_LIFT = {
    "glass": "the maker's expansion with its span, or a strip test of your own jar",
    "metal": "a measured expansion of this alloy",
}


@dataclass(frozen=True)
class Evidence:
    """How well a verdict is founded.

    `grade` is one of `GRADES`; `weakest` the key of the record whose expansion is known least well, `kind` what that
    is; `made_for` whether the trade makes this glass for this metal; `own` whether the person wrote that figure down.
    """

    grade: str
    weakest: str
    kind: str
    made_for: bool = False
    #: How many studios and tiles, of the grade `pooled`.
    counted: str = ""
    own: bool = False

    @property
    def words(self) -> str:
        """What it rests on, in words."""
        if self.grade == "trade" and not self.made_for:
            return _TOLD
        if self.grade == "trade" and self.own:
            return _OWN
        return f"{_WORDS[self.grade]} ({self.counted})" if self.counted else _WORDS[self.grade]

    @property
    def lift(self) -> str:
        """What would lift it; empty where nothing better can be had."""
        if self.grade == "trade" and self.own:
            return _OWN_LIFT
        return "" if self.grade == GRADES[0] else _LIFT[self.kind]

    def as_dict(self) -> dict[str, Any]:
        """For JSON."""
        weakest = {"record": self.weakest, "property": "expansion"}
        return {"grade": self.grade, "words": self.words, "weakest": weakest, "lift": self.lift}


def words_of_grade(grade: str) -> str:
    """What a grade means, in words."""
    return _WORDS[grade]


def evidence_of(glasses: Iterable[Glass], metal: Metal) -> Evidence | None:
    """The weakest evidence of several glasses on one metal; None where there is no glass or a figure is missing.

    A pair that the trade makes for one another rests on practice at least, however little is published of either.
    """
    found = [one for glass in glasses if (one := _of_pair(glass, metal)) is not None]
    return max(found, key=lambda one: GRADES.index(one.grade), default=None)


def _of_pair(glass: Glass, metal: Metal) -> Evidence | None:
    rows = [(record, kind, record.value("expansion")) for record, kind in ((glass, "glass"), (metal, "metal"))]
    known = [(grade_of(row), record, kind, row) for record, kind, row in rows if row is not None]
    if len(known) < len(rows):
        return None
    grade, weakest, kind, row = max(known, key=lambda one: GRADES.index(one[0]))
    own = kind == "glass" and weakest.key.startswith(PREFIX) and not row.taken_from
    made_for = metal.family in words_of(glass, "made_for")
    if made_for and GRADES.index(grade) > GRADES.index("trade"):
        grade = "trade"
    return Evidence(grade, weakest.key, kind, made_for, row.locator if grade == POOLED else "", own)


def grade_of(row: PropertyValue) -> str:
    """The grade of one figure; a class's figure that stands in for a jar of one's own is a likeness at best."""
    grade = _OF_BASIS[row.basis]
    likeness = "likeness"
    return max(grade, likeness, key=GRADES.index) if row.taken_from else grade
