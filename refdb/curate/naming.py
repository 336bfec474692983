"""Checks of labels and aliases: a name is short, plain, and means one record unless it is marked as a choice."""

from __future__ import annotations

from collections import defaultdict

from refdb.curate.cells import nearest
from refdb.curate.read import Problems
from refdb.curate.record import Record, Records
from refdb.store.name_tables import CHOICE, COMMONEST, ONLY
from refdb.words import folded

_LONGEST_LABEL = 40


def check_names(records: Records, problems: Problems) -> None:
    """Note labels that are lists, names of two records, aliases of nothing and choices that are not marked."""
    labels = [(str(r.values["kind"]), r) for r in records["materials"]] + [("solder", r) for r in records["solders"]]
    taken: dict[tuple[str, str], Record] = {}
    for kind, record in labels:
        if kind != "solder":
            _check_label(record, problems)
        for column in ("key", "label"):
            name = (kind, folded(str(record.values[column] or "")))
            other = taken.setdefault(name, record)
            if name[1] and other is not record and other.values["key"] != record.values["key"]:
                problems.add(
                    record, column, f"the {kind} {other.values['key']} is called so too", "give each a name of its own"
                )
    _check_aliases(records["aliases"], labels, taken, problems)


def _check_label(record: Record, problems: Problems) -> None:
    label = str(record.values["label"] or "")
    if "," in label or ";" in label:
        problems.add(record, "label", "this is a list, not a name", "say it as people do, without commas")
    if len(label) > _LONGEST_LABEL:
        problems.add(record, "label", f"{len(label)} letters, more than {_LONGEST_LABEL}", "give a shorter name")


def _check_aliases(
    aliases: list[Record], labels: list[tuple[str, Record]], taken: dict[tuple[str, str], Record], problems: Problems
) -> None:
    keys: dict[str, set[str]] = defaultdict(set)
    for kind, record in labels:
        keys[kind].add(str(record.values["key"]))
    groups: dict[tuple[str, str], list[Record]] = defaultdict(list)
    for record in aliases:
        alias, kind, key = (str(record.values[c] or "") for c in ("alias", "kind", "record"))
        if kind and key and key not in keys[kind]:
            problems.add(
                record, "record", f"no {kind} has the key '{key[:40]}'", nearest(key, keys[kind], "give a key")
            )
        if alias and not folded(alias):
            problems.add(record, "alias", "no letter and no digit is in it", "give a name")
        elif alias and kind:
            groups[kind, folded(alias)].append(record)
    for name, group in groups.items():
        _check_group(group, taken.get(name), problems)


def _check_group(group: list[Record], owner: Record | None, problems: Problems) -> None:
    """Note what is wrong with the aliases of one name; `owner` is the record whose key or label it is."""
    named = {str(record.values["record"]) for record in group}
    if owner is not None and str(owner.values["key"]) not in named:
        problems.add(
            group[0],
            "alias",
            f"{owner.values['key']} is called so too",
            "take the alias out, or give one for each and mark them as a choice",
        )
    if len(named) == 1:
        for record in group:
            if record.values["standing"] not in (ONLY, None):
                problems.add(record, "standing", "it has no other meaning here", f"write {ONLY}")
        return
    for record in group:
        if record.values["standing"] == ONLY:
            other = next(r for r in group if r.values["record"] != record.values["record"])
            problems.add(
                record,
                "standing",
                f"it means {other.values['record']} too, in line {other.line}",
                f"mark each as a {CHOICE}, or one as the {COMMONEST}",
            )
    first = {str(r.values["record"]) for r in group if r.values["standing"] == COMMONEST}
    if len(first) > 1:
        problems.add(group[-1], "standing", f"two meanings are the {COMMONEST}", "keep one")
