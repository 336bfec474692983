"""Checks of rules, colour reactions, faults, firings, known pairs and hazards: what they refer to can be read."""

from __future__ import annotations

from collections import defaultdict

from refdb.curate.cells import nearest
from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.errors import BadInput
from refdb.judge.cautions import WORDS, parts_of
from refdb.judge.rules import NOT_IN_FILE, RULES, keys_known
from refdb.judge.selectors import GLASS_FIELDS, METAL_FIELDS, tokens_of
from refdb.store.rule_tables import GROUNDS, STAGES
from refdb.store.schema import HELD, TABLE

Tokens = tuple[tuple[bool, str, frozenset[str]], ...]

#: Grounds whose words are chemical symbols, and the word of `handled` for anything or for leaf.
_OF_SYMBOLS = ("leaf", "wire")
_HANDLED = ("any", "leaf")


#: The tables that these checks read.
SELECTED = (
    "materials",
    "metal_details",
    "glass_details",
    "leaf_details",
    "fit_rules",
    "colour_reactions",
    "faults",
    "hazards",
    "observed_firings",
    "known_pairs",
)


def check_selections(records: Records, problems: Problems) -> None:
    """Note every selector, ground, rule or material of these tables that means nothing."""
    for record in records["fit_rules"]:
        _selector(record, "glass", record.values["glass"], GLASS_FIELDS, problems)
        _selector(record, "metal", record.values["metal"], METAL_FIELDS, problems)
    for record in records["colour_reactions"]:
        _selector(record, "glass", record.values["glass"], GLASS_FIELDS, problems)
        _ground(record, records, problems)
    _one_rule_a_key(records, problems)
    _faults(records, problems)
    _hazards(records, problems)
    _of_their_kind(records, "observed_firings", (("material", "glass"), ("metal", "metal")), problems)
    _of_their_kind(records, "known_pairs", (("glass", "glass"), ("metal", "metal")), problems)
    for record in records["known_pairs"]:
        for rule in (w.strip() for w in str(record.values["used_for"] or "").split(";")):
            if rule and rule not in RULES:
                problems.add(
                    record,
                    "used_for",
                    f"the judge has no rule '{rule[:40]}'",
                    nearest(rule, RULES, "give keys of rules"),
                )


def _of_their_kind(records: Records, table: str, columns: tuple[tuple[str, str], ...], problems: Problems) -> None:
    """Note materials of these columns that are of another kind."""
    kinds = {r.values["key"]: r.values["kind"] for r in records["materials"]}
    for record in records[table]:
        for column, kind in columns:
            if kinds.get(record.values[column], kind) != kind:
                problems.add(record, column, f"this is a {kinds[record.values[column]]}", f"give the key of a {kind}")


def _one_rule_a_key(records: Records, problems: Problems) -> None:
    """Note keys that two rules share: faults name the rules of all tables by key alone."""
    taken = dict.fromkeys(RULES, "a rule of the judge")
    for table in ("fit_rules", "colour_reactions"):
        for record in records[table]:
            key = str(record.values["key"])
            if key in taken:
                problems.add(record, "key", f"'{key}' names {taken[key]} already", "give it another key")
            taken[key] = f"a row of {table}.csv"


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
        **{
            name: {part for r in records["leaf_details"] for part in str(r.values["metal"]).split()}
            for name in _OF_SYMBOLS
        },
    }
    if kind not in known:
        problems.add(record, "ground", f"'{kind[:40]}' is no kind of ground", f"one of: any, glass, {', '.join(known)}")
        return
    for word in (w.strip() for w in words.split("|")):
        if word not in known[kind]:
            problems.add(
                record,
                "ground",
                f"'{word[:40]}' is not known as {kind}",
                nearest(word, known[kind], f"one of: {', '.join(sorted(known[kind]))}"),
            )


def _faults(records: Records, problems: Problems) -> None:
    rules = keys_known(*([str(r.values["key"]) for r in records[t]] for t in ("fit_rules", "colour_reactions")))
    of_symptom: dict[object, list[Record]] = defaultdict(list)
    for record in records["faults"]:
        of_symptom[record.values["symptom"]].append(record)
        words = str(record.values["rules"] or "")
        if not words:
            problems.add(
                record,
                "rules",
                "nothing says which rule of a verdict would foresee it",
                f"give keys of rules, or '{NOT_IN_FILE}'",
            )
        for rule in (w.strip() for w in words.split(";") if words not in ("", NOT_IN_FILE)):
            if rule not in rules:
                problems.add(
                    record,
                    "rules",
                    f"no verdict has the rule '{rule[:40]}'",
                    nearest(rule, rules, f"give keys of rules, or '{NOT_IN_FILE}'"),
                )
    for group in of_symptom.values():
        ranks = sorted(r.values["rank"] for r in group if isinstance(r.values["rank"], int))
        if ranks != list(range(1, len(group) + 1)) and len(ranks) == len(group):
            problems.add(
                group[0],
                "rank",
                f"the causes of this symptom are ranked {', '.join(map(str, ranks))}",
                "rank them 1, 2, 3 and so on",
            )
    for record in records["symptoms"]:
        for column, known in (("stages", STAGES), ("beneath", GROUNDS)):
            for word in str(record.values[column] or "").split(";"):
                if word.strip() and word.strip() not in known:
                    problems.add(
                        record, column, f"'{word.strip()[:40]}' is not known here", f"one of: {', '.join(known)}"
                    )
        if record.values["key"] not in of_symptom:
            problems.add(record, "key", "no cause is given for this symptom", "add a row to faults.csv")


def _hazards(records: Records, problems: Problems) -> None:
    """Every trigger is a word that is known, or picks materials by words that are known."""
    fields = {"glass": GLASS_FIELDS, "metal": METAL_FIELDS}
    otherwise = f"one of: {', '.join(WORDS)}; or glass or metal and a selector, or practice and a topic"
    topics = {str(r.values["topic"]) for r in records["practice_rules"]}
    _agents(records, problems)
    for record in records["hazards"]:
        if record.values["trigger"] is None:
            continue  # told already
        for kind, text in parts_of(str(record.values["trigger"])):
            if kind == "word":
                if text not in WORDS:
                    problems.add(
                        record, "trigger", f"no trigger is called '{text[:40]}'", nearest(text, WORDS, otherwise)
                    )
                continue
            if kind == "practice":
                if text not in topics:
                    problems.add(
                        record,
                        "trigger",
                        f"no rule of practice has the topic '{text[:40]}'",
                        nearest(text, topics, f"one of: {', '.join(sorted(topics))}"),
                    )
                continue
            _selector(record, "trigger", text, fields[kind], problems)
            if not problems.at(record):
                _picked_by(record, records, kind, tokens_of(text, fields[kind]), problems)


def _agents(records: Records, problems: Problems) -> None:
    """Every agent of a hazard has a limit, and every limit bears on some hazard."""
    limited = {str(r.values["agent"]): r for r in records["exposure_limits"]}
    named = set()
    for record in records["hazards"]:
        for agent in (a.strip() for a in str(record.values["agents"] or "").split(";") if a.strip()):
            named.add(agent)
            if agent not in limited:
                problems.add(
                    record,
                    "agents",
                    f"no limit is of the agent '{agent[:40]}'",
                    nearest(agent, limited, "add its limit, or leave it out"),
                )
    for agent, record in limited.items():
        if agent not in named:
            problems.add(record, "agent", f"no hazard names the agent '{agent[:40]}'", "name it in the hazard's agents")


def _picked_by(record: Record, records: Records, kind: str, tokens: Tokens, problems: Problems) -> None:
    """Note words of a trigger's selector that fit no material: the caution would never be shown."""
    keys = {r.values["key"]: r.values for r in records["materials"] if r.values["kind"] == kind}
    details = TABLE[f"{kind}_details"]
    for _, name, words in tokens:
        if name == "undercoat":
            known = {"yes", "no"}
        elif name == "holds":
            known = set(HELD)
        elif name in ("key", "family"):
            known = {str(values[name]) for values in keys.values()}
        elif name == "made_for":
            known = {str(r.values["family"]) for r in records["materials"] if r.values["kind"] == "metal"}
        else:
            known = set(details.column(name).choices) or {str(r.values[name]) for r in records[details.name]}
        for word in sorted(words - known):
            problems.add(
                record,
                "trigger",
                f"no {kind} has the {name.replace('_', ' ')} '{word[:40]}'",
                nearest(word, known, f"one of: {', '.join(sorted(known))}"),
            )
