"""What a row says it rests on, against its source: what that can give, how it was seen, and what it speaks of."""

from __future__ import annotations

from refdb.curate.cells import nearest
from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.curate.sense.groups import Check, keyed, kinds
from refdb.store.schema import FILES, TABLES

#: What a figure may rest on, by the kind of its source; `standard` and `published` are held elsewhere.
_PRINTED = ("measured", "standard", "published", "computed", "estimate", "analogue", "no evidence", "from memory")
GIVES = {
    "common practice": ("common practice", "computed", "estimate", "analogue", "no evidence"),
    "from memory": ("from memory", "no evidence", "analogue"),
    "computed": ("computed", "estimate", "analogue"),
}
#: How a figure may have been seen, by what it rests on and by the kind of its source.
SEEN_OF_BASIS = {
    "from memory": ("from memory",),
    "computed": ("computed",),
    "estimate": ("computed",),
    "analogue": ("computed", "read"),
    "no evidence": ("computed", "from memory"),
    "common practice": ("from memory", "read", "read in a copy", "computed"),
}
SEEN_OF_KIND = {"computed": ("computed",), "from memory": ("from memory",)}
#: Tables of what is done and seen, not of figures: they rest on just what their source is.
OF_PRACTICE = (
    "faults", "synonyms", "practice_rules", "practice_topics", "known_pairs", "hazards", "colour_reactions",
    "firing_phases", "symptoms", "observed_firings",
)  # fmt: skip
GIVES_OF_PRACTICE = {
    "common practice": ("common practice",),
    "from memory": ("from memory",),
    "computed": ("computed",),
}
#: From the worst way of seeing a source to the best; what was computed from it is apart.
_BETTER = ("from memory", "read in a copy", "read")
_FILE_OF = {table: file.name.removesuffix(".csv") for file in FILES for table in file.fills}
_CITING = tuple(table for table in TABLES if any(c.name == "source" for c in table.columns))


def subject_of(record: Record, table: str, kind_of: dict[str, str]) -> str:
    """What a row is about, as source_subjects.csv says it."""
    if table == "property_values":
        return f"{record.values['property']} of {kind_of.get(str(record.values['material']), 'material')}"
    return _FILE_OF[table]


def _check_basis(records: Records, problems: Problems) -> None:
    """Basis and seen are what a source of its kind can give, and agree with each other."""
    kind_of = {key: str(r.values["kind"]) for key, r in keyed(records, "sources").items() if r.values["kind"]}
    for table in _CITING:
        for record in records[table.name]:
            kind = kind_of.get(str(record.values["source"]))
            basis, seen = (record.values.get(column) for column in ("basis", "seen"))
            if kind is None or problems.at(record):
                continue
            gives = GIVES.get(kind, _PRINTED)
            if table.name in OF_PRACTICE:
                gives = GIVES_OF_PRACTICE.get(kind, ("published", "standard"))
            if basis is not None and basis not in gives:
                what = f"basis '{basis}', yet its source is '{kind}'"
                problems.add(record, "basis", what, f"such a source gives: {', '.join(gives)}")
            for words, of in ((SEEN_OF_BASIS.get(str(basis)), f"basis '{basis}'"), (SEEN_OF_KIND.get(kind), kind)):
                if seen is not None and words is not None and seen not in words:
                    what = f"seen '{seen}', yet it is {of}"
                    problems.add(record, "seen", what, f"it can be: {', '.join(words)}")


def _check_subjects(records: Records, problems: Problems) -> None:
    """Every row cites a source that speaks of its subject, seen no better there; every subject is cited."""
    known = {(str(r.values["source"]), str(r.values["subject"])): r for r in records["source_subjects"]}
    of_source: dict[str, list[str]] = {}
    for source, subject in known:
        of_source.setdefault(source, []).append(subject)
    cited: dict[tuple[str, str], set[str]] = {}
    kind_of = kinds(records)
    for table in _CITING:
        if table.name == "source_subjects":
            continue
        for record in records[table.name]:
            source, subject = str(record.values["source"]), subject_of(record, table.name, kind_of)
            seen = str(record.values.get("seen") or "")
            cited.setdefault((source, subject), set()).add(seen)
            if (source, subject) in known:
                _check_seen(record, seen, str(known[source, subject].values["seen"] or ""), problems)
            elif not problems.at(record):
                told = nearest(
                    subject, of_source.get(source, ()), f"it is cited for {len(of_source.get(source, ()))} others"
                )
                what = f"'{source}' is not known to speak of {subject} ({told})"
                problems.add(record, "source", what, f"cite another, or add '{subject}' to it in source_subjects.csv")
    for (source, subject), record in known.items():
        ways = cited.get((source, subject))
        if ways is None:
            problems.add(record, "subject", f"no row cites {source} for {subject}", "take this row out, or correct it")
        elif str(record.values["seen"] or "") not in ways:
            problems.add(record, "seen", f"no row of {subject} is so seen", f"it is: {', '.join(sorted(ways))}")


def _check_seen(record: Record, seen: str, best: str, problems: Problems) -> None:
    if seen in _BETTER and (best not in _BETTER or _BETTER.index(seen) > _BETTER.index(best)):
        problems.add(
            record,
            "seen",
            f"'{seen}', yet of its source only '{best or 'nothing'}' is known",
            "say how it was seen, or raise it in source_subjects.csv",
        )


CHECKS: tuple[Check, ...] = (
    (_check_basis, ("sources", *(table.name for table in _CITING))),
    (_check_subjects, ("source_subjects", "materials", *(table.name for table in _CITING))),
)
