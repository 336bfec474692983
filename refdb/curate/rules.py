"""Checks of rules, colour reactions, faults and observed firings: what they select and refer to can be read."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from refdb.curate.cells import nearest
from refdb.errors import BadInput
from refdb.judge.rule_keys import NOT_IN_FILE, keys_known
from refdb.judge.selectors import GLASS_FIELDS, METAL_FIELDS, tokens_of

if TYPE_CHECKING:
    from refdb.curate.cross import Record, Records
    from refdb.curate.read import Problems

#: Grounds whose words are chemical symbols, and the word of `handled` for anything or for leaf.
_OF_SYMBOLS = ("leaf", "wire")
_HANDLED = ("any", "leaf")


def check_selections(records: Records, problems: Problems) -> None:
    """Note every selector, ground, rule or material of these tables that means nothing."""
    for record in records["fit_rules"]:
        _selector(record, "glass", record.values["glass"], GLASS_FIELDS, problems)
        _selector(record, "metal", record.values["metal"], METAL_FIELDS, problems)
    for record in records["colour_reactions"]:
        _selector(record, "glass", record.values["glass"], GLASS_FIELDS, problems)
        _ground(record, records, problems)
    _faults(records, problems)
    kinds = {r.values["key"]: r.values["kind"] for r in records["materials"]}
    for record in records["observed_firings"]:
        for column, kind in (("material", "glass"), ("metal", "metal")):
            if kinds.get(record.values[column], kind) != kind:
                problems.add(record, column, f"this is a {kinds[record.values[column]]}", f"give the key of a {kind}")


def _selector(record: Record, column: str, text: object, fields: tuple[str, ...], problems: Problems) -> None:
    try:
        if text is not None:
            tokens_of(str(text), fields)
    except BadInput as bad:
        problems.add(record, column, bad.what, bad.todo)


def _ground(record: Record, records: Records, problems: Problems) -> None:
    text = str(record.values["ground"] or "")
    if not text or text == "any":
        return
    kind, _, words = text.partition(" ")
    if kind == "glass":
        _selector(record, "ground", words, GLASS_FIELDS, problems)
        return
    metals = [r.values for r in records["materials"] if r.values["kind"] == "metal"]
    families = {str(m["family"]) for m in metals}
    known = {
        "metal": families,
        "alloy": {str(m["key"]) for m in metals},
        "handled": families | set(_HANDLED),
        **{name: {part for r in records["leaf_details"] for part in str(r.values["metal"]).split()}
           for name in _OF_SYMBOLS},
    }
    if kind not in known:
        problems.add(record, "ground", f"'{kind[:40]}' is no kind of ground", f"one of: any, glass, {', '.join(known)}")
        return
    for word in (w.strip() for w in words.split("|")):
        if word not in known[kind]:
            problems.add(record, "ground", f"'{word[:40]}' is not known as {kind}",
                         nearest(word, known[kind], f"one of: {', '.join(sorted(known[kind]))}"))


def _faults(records: Records, problems: Problems) -> None:
    rules = keys_known(*([str(r.values["key"]) for r in records[t]] for t in ("fit_rules", "colour_reactions")))
    of_symptom: dict[object, list[Record]] = defaultdict(list)
    for record in records["faults"]:
        of_symptom[record.values["symptom"]].append(record)
        words = str(record.values["rules"] or "")
        if not words:
            problems.add(record, "rules", "nothing says which rule of a verdict would foresee it",
                         f"give keys of rules, or '{NOT_IN_FILE}'")
        for rule in (w.strip() for w in words.split(";") if words not in ("", NOT_IN_FILE)):
            if rule not in rules:
                problems.add(record, "rules", f"no verdict has the rule '{rule[:40]}'",
                             nearest(rule, rules, f"give keys of rules, or '{NOT_IN_FILE}'"))
    for group in of_symptom.values():
        ranks = sorted(r.values["rank"] for r in group if isinstance(r.values["rank"], int))
        if ranks != list(range(1, len(group) + 1)) and len(ranks) == len(group):
            problems.add(group[0], "rank", f"the causes of this symptom are ranked {', '.join(map(str, ranks))}",
                         "rank them 1, 2, 3 and so on")
        if len({r.values["when_seen"] for r in group}) > 1:
            problems.add(group[0], "when_seen", "its causes disagree on when it is seen", "say the same in each row")
