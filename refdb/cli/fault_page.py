"""Faults as they are printed: the list of symptoms, several symptoms told apart, and the causes of one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from refdb.cli.output import SCREEN, Column, Page
from refdb.frozen import dataclass, field
from refdb.store.fault_search import same_words
from refdb.store.rule_tables import PARTS
from refdb.words import lower_first, shortened, upper_first

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from refdb.records import Fault, Source, Symptom
    from refdb.records.rules import Topic

CLOSING = "Fire a test tile of what you change. Which cause is likeliest, and how to tell, are our own judgement."


@dataclass(frozen=True)
class Judged:
    """What the judge of a piece holds against it: for each cause its rules with their steps; `asked` for a piece."""

    asked: bool = False
    met: dict[str, list[str]] = field(default_factory=dict)


#: Subjects of practice that are named with a fault, at most.
_MOST_SUBJECTS = 3


def how_it_is_done(subjects: Sequence[Topic]) -> str:
    """Where it stands how a fault does not come about, as a sentence; empty where no subject tells of it."""
    named = [t.key for t in subjects[:_MOST_SUBJECTS]]
    if not named:
        return ""
    return f"How it is done: refdb practice {' or '.join(named)}."


def rules_of(fault: Fault) -> list[str]:
    """Keys of the rules that foresee a cause; none where nothing in a piece file tells of it."""
    from refdb.judge.rules import NOT_IN_FILE

    return [] if fault.rules == NOT_IN_FILE else [rule.strip() for rule in fault.rules.split(";")]


def listed_page(symptoms: Sequence[Symptom], faults: Sequence[Fault], head: str = "") -> Page:
    """The symptoms by what they are seen in, with the number of their causes and the word each is asked for by."""
    page = Page()
    if head:
        page.paragraph(head)
    counts = _counts(faults)
    columns = [Column("", wraps=True), Column("seen", wraps=True), Column("causes", right=True), Column("ask for")]
    rows = {p: [[s.label, s.when_seen, str(counts[s.key]), s.key] for s in symptoms if s.part == p] for p in PARTS}
    widths = page.table_widths(columns, [row for held in rows.values() for row in held])
    for part, held in rows.items():
        if held:
            page.heading(upper_first(part))
            page.rows(columns, held, widths)
    page.line()
    page.paragraph("Causes and remedies: refdb fault WORDS")
    return page


def overview_page(symptoms: Sequence[Symptom], faults: Sequence[Fault]) -> Page:
    """What is seen, by the words that faults are asked for by, on one screen."""
    page = Page()
    page.paragraph(f"{len(symptoms)} faults, with {len(faults)} causes, by what they are seen in")
    for part in PARTS:
        held = [s.key for s in symptoms if s.part == part]
        if held:
            page.paragraph(f"{upper_first(part)}: {', '.join(held)}", 2, 4)
    page.line()
    page.paragraph("Causes and remedies: refdb fault WORDS, in your own words or these; each told: --full")
    return page


def _counts(faults: Sequence[Fault]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for f in faults:
        counts[f.symptom] = counts.get(f.symptom, 0) + 1
    return counts


def apart_page(text: str, symptoms: Sequence[Symptom], faults: Sequence[Fault], said: str, full: bool = False) -> Page:
    """Several symptoms that the words may mean, each with how to tell it and its likeliest cause."""
    for most in range(len(symptoms), 1, -1):
        page = _apart(text, symptoms, faults, said, len(symptoms) if full else most)
        if full or len(page.lines) <= SCREEN:
            break
    return page


def _apart(text: str, symptoms: Sequence[Symptom], faults: Sequence[Fault], said: str, most: int) -> Page:
    page = Page()
    if said:
        page.paragraph(f"{upper_first(said)}.")
    counts = _counts(faults)
    page.paragraph(
        f"“{shortened(text, 40)}” may be any of {len(symptoms)} faults, with {sum(counts.values())} causes. "
        "Tell them apart:"
    )
    for s in symptoms[:most]:
        first = next(f for f in faults if f.symptom == s.key)
        n = counts[s.key]
        page.sides(f"{s.label}", f"{n} {'cause' if n == 1 else 'causes'}: refdb fault {s.key}")
        page.paragraph(f"{s.how_to_tell} Likeliest: {lower_first(first.cause)}", 4)
    if most < len(symptoms):
        page.paragraph(f"And {', '.join(s.key for s in symptoms[most:])}: --full")
    page.paragraph("More words narrow it, such as when it showed and what lies beneath.")
    return page


def causes_page(
    symptoms: Sequence[Symptom],
    faults: Sequence[Fault],
    sources: dict[str, Source],
    said: str,
    judged: Judged,
    subjects: Mapping[str, Sequence[Topic]],
) -> Page:
    """Every cause of some symptoms, with all that is known of it, and the subjects of practice by symptom."""
    page = Page()
    if said:
        page.paragraph(f"{upper_first(said)}.")
    if judged.asked and not judged.met:
        page.paragraph("The judge finds none of these causes in the piece; they stand in their usual order.")
    for symptom in symptoms:
        held = [f for f in faults if f.symptom == symptom.key]
        if not held:
            continue
        page.heading(symptom.label)
        page.paragraph(f"seen {symptom.when_seen}" + ("" if judged.asked else f". {symptom.how_to_tell}"), 2)
        for place, f in enumerate(held, 1):
            page.line()
            page.paragraph(f"{f.cause} [{sources[f.source].name}]", 2, None, f"{place}  ")
            page.pairs(
                [
                    ("in the piece", _in_the_piece(f, judged.met.get(f.key, [])) if judged.asked else ""),
                    ("tell", f.how_to_tell),
                    ("do", f.remedy),
                    ("avoid", f.prevention),
                    ("rules", ", ".join(rules_of(f))),
                ],
                5,
            )
    told = [t for s in symptoms if any(f.symptom == s.key for f in faults) for t in subjects.get(s.key, ())]
    if told and (not judged.asked or len(symptoms) <= _MOST_SUBJECTS):
        page.line()
        page.paragraph(how_it_is_done(list(dict.fromkeys(told))))
    page.heading("Sources")
    for source in sources.values():
        page.paragraph(f"{source.name}: {source.citation}", 2, 6)
    page.line()
    page.paragraph(CLOSING)
    return page


def _in_the_piece(fault: Fault, found: list[str]) -> str:
    """What the judge of a piece says of a cause."""
    if not rules_of(fault):
        return "a piece file cannot tell"
    return ", ".join(found) or "looked for and not found"


def short_causes_page(
    symptom: Symptom,
    faults: Sequence[Fault],
    others: Sequence[Symptom],
    text: str,
    said: str,
    subjects: Sequence[Topic] = (),
) -> Page:
    """The causes of one symptom on one screen; other symptoms of the same words, and subjects, are named below it."""
    below = _others(others, text), how_it_is_done(subjects)
    for most in range(len(faults), 0, -1):
        for told in (2, 1, 0):
            page = _short(symptom, faults, most, told, below, said)
            if len(page.lines) <= SCREEN:
                return page
    return page


def _others(others: Sequence[Symptom], text: str) -> list[str]:
    return [f"{s.key} ({', '.join(same_words(s, text)[:1]) or lower_first(s.label)})" for s in others]


def _short(
    symptom: Symptom, faults: Sequence[Fault], most: int, told: int, below: tuple[Sequence[str], str], said: str
) -> Page:
    """So many causes, each with how to tell it (2: and what to do), and other symptoms and where it is told how."""
    others, subjects = below
    page = Page()
    if said:
        page.paragraph(f"{upper_first(said)}.")
    page.paragraph(symptom.label)
    page.paragraph(f"Seen {symptom.when_seen}. {symptom.how_to_tell} {len(faults)} causes, the likeliest first.", 2)
    for place, f in enumerate(faults[:most], 1):
        page.paragraph(f.cause, 2, None, f"{place}  ")
        parts = ("", f"tell: {f.how_to_tell}", f"tell: {f.how_to_tell} do: {f.remedy}")
        page.paragraph(parts[told], 5)
    if most < len(faults):
        page.paragraph(f"And {len(faults) - most} more.", 2)
    if others:
        page.paragraph(f"The same words may mean {', '.join(others[:4])}: refdb fault WORD")
    page.paragraph(f"{subjects} How to avoid it, rules and sources: --full. {CLOSING.partition('.')[0]}.".strip())
    return page
