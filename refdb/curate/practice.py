"""Checks of the subjects of practice: their rules, faults and rules of verdicts are there."""

from __future__ import annotations

from refdb.curate.cells import nearest
from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.judge.rules import RULES
from refdb.pictures.how import DRAWINGS

#: The tables that these checks read.
PRACTISED = ("practice_rules", "practice_topics", "symptoms")


def check_practice(records: Records, problems: Problems) -> None:
    """Every rule is of a subject that is described, every subject has rules, and what they name is there."""
    topics = {str(r.values["topic"]) for r in records["practice_topics"]}
    symptoms = {str(r.values["key"]) for r in records["symptoms"]}
    told = {str(r.values["topic"]) for r in records["practice_rules"]}
    for record in records["practice_rules"]:
        topic = str(record.values["topic"] or "")
        if topic and topic not in topics:
            todo = nearest(topic, topics, "add it to practice_topics.csv")
            problems.add(record, "topic", f"no subject is called '{topic[:40]}'", todo)
        _named(record, "faults", symptoms, "no symptom is called", "give keys of symptoms.csv", problems)
    for record in records["practice_topics"]:
        topic = str(record.values["topic"] or "")
        if topic and topic not in told:
            problems.add(record, "topic", "no rule is of this subject", "add its rules to practice_rules.csv")
        _named(record, "pictures", set(DRAWINGS), "there is no drawing", "give names of pictures/how.py", problems)
        _named(record, "rules", set(RULES), "the judge has no rule", "give keys of rules", problems)


def _named(record: Record, column: str, known: set[str], what: str, todo: str, problems: Problems) -> None:
    for word in (w.strip() for w in str(record.values[column] or "").split(";")):
        if word and word not in known:
            problems.add(record, column, f"{what} '{word[:40]}'", nearest(word, known, todo))
