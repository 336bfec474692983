"""What went wrong: a symptom in a person's words, its likely causes, how to tell them apart, and what to do."""

from __future__ import annotations

import re
from difflib import SequenceMatcher
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from refdb.cli.common import CsvOption, JsonOption, one_form, opened, shortened, typed
from refdb.cli.output import Column, Page, emit_csv, emit_json
from refdb.errors import BadInput, NotFound

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from refdb.records import Fault
    from refdb.store.workshop.beside_reference import Shelf

_LONGEST = 200
#: A rule that holds in no more than this share of draws still counts as a likely cause.
_SHARE_THAT_COUNTS = 0.8
_MOST_NEAR = 3
#: Words that name no symptom, as people put them round one.
_IDLE = frozenset(
    ("a", "after", "again", "all", "an", "and", "are", "at", "came", "come", "did", "do", "does", "enamel", "glass",
     "got", "had", "has", "have", "how", "in", "is", "it", "its", "me", "my", "not", "of", "off", "on", "or", "piece",
     "so", "still", "that", "the", "there", "this", "to", "up", "was", "went", "were", "what", "when", "why", "with",
     ))  # fmt: skip
#: Words people use for the same sight; they are looked for where the word itself finds nothing.
_ALIKE = (
    ("spot", "speck", "dot", "mark"),
    ("crack", "craze", "hairline", "split", "fissure", "fracture", "break", "broke", "broken"),
    ("chip", "spall", "flake", "shell", "lift", "pop", "detach", "fell", "fall"),
    ("bow", "warp", "bend", "bent", "curl", "buckle"), ("cloud", "milky", "haze", "dull", "fog", "mist", "matt"),
    ("pit", "pinhole", "hole", "crater", "void"), ("yellow", "lemon", "amber"), ("brown", "dark", "black", "burn"),
    ("leaf", "foil"), ("blister", "bubble", "foam"), ("bead", "crawl"), ("bump", "peel", "rough", "uneven"),
    ("vanish", "disappear", "dissolve", "melt", "sink"), ("scratch", "scrape", "rub"), ("stick", "stuck", "glue"),
    ("tear", "torn", "split"), ("film", "bloom", "scum"),
)  # fmt: skip
_ENDINGS = ("ings", "ing", "ies", "ied", "ers", "es", "ed", "er", "s", "y", "e")
_EITHER = re.compile(r"[,;/?!.]| or | and ")
_CLOSING = "Fire a test tile of what you change. Which cause is likeliest, and how to tell, are our own judgement."


def fault(
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="[WORDS]...", help="What is seen, in words; without any, the list of symptoms."),
    ] = None,
    piece: Annotated[
        Path | None,
        typer.Option("--piece", metavar="FILE", help="A piece file: causes that its judge found come first."),
    ] = None,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Tell why it cracked, chipped or clouded, and what to do.

    \b
    Examples:
      refdb fault chips at the edge
      refdb fault chips at the edge --piece moth.toml
    """
    one_form(as_json, as_csv)
    text = typed(" ".join(words or []))[:_LONGEST]
    if words and not any(c.isalnum() for c in text):
        raise BadInput("nothing to look for", todo="give a word, such as: refdb fault cracks")
    with opened() as ref:
        every = ref.faults()
        found = every if not words else matching(every, text)
        if not found:
            near = nearest_symptoms(every, text)
            raise NotFound(
                f"no fault is described as '{shortened(text, 40)}'",
                todo=f"the nearest are: {'; '.join(near)}",
                near=tuple(near),
            )
        against = {} if piece is None else _against(ref, piece)
        met = {f.key: rules for f in found if (rules := _met(f, against))}
        if piece is not None:
            # Within a symptom: what the judge found, the more of its rules the earlier; then what no file can tell;
            # last what it looked for and did not find.
            order = list(dict.fromkeys(f.symptom for f in found))
            found = sorted(
                found,
                key=lambda f: (
                    order.index(f.symptom),
                    -len(met.get(f.key, ())) / len(_rules(f) or " "),
                    bool(_rules(f)),
                ),
            )
        used = {f.source for f in found}
        sources = {s.key: s.citation for s in ref.sources() if s.key in used}
    names = list(found[0].__dataclass_fields__)
    if as_json:
        rows = [
            {n: getattr(f, n) for n in names}
            | ({} if piece is None else {"in_the_piece": met.get(f.key, []), "looked_for": bool(_rules(f))})
            for f in found
        ]
        emit_json(
            {
                "question": {"words": text} | ({} if piece is None else {"piece": str(piece)}),
                "rows": rows,
                "sources": sources,
            }
        )
    elif as_csv:
        more = [] if piece is None else ["in_the_piece", "looked_for"]
        emit_csv(
            [
                {n: getattr(f, n) for n in names}
                | (
                    {}
                    if piece is None
                    else {"in_the_piece": "; ".join(met.get(f.key, [])), "looked_for": "yes" if _rules(f) else "no"}
                )
                for f in found
            ],
            [*names, *more],
        )
    elif not words and piece is None:
        _symptoms(every)
    elif not words and met:
        _causes([f for f in found if f.key in met], sources, met, judged=True)
    else:
        _causes(found, sources, met, judged=piece is not None)


def _against(ref: Shelf, path: Path) -> dict[str, list[str]]:
    """What the judge holds against a piece: keys of rules, each with the steps it is about."""
    from refdb.judge.piece.verdict import judge_piece
    from refdb.judge.reason import SUITS
    from refdb.plan.piecefile import read_piece

    against: dict[str, list[str]] = {}
    for told in judge_piece(ref, read_piece(path, ref)).told:
        if told.outcome == SUITS and (told.rule.only_good or told.reason.share > _SHARE_THAT_COUNTS):
            continue
        against.setdefault(told.fault_key, []).append(told.place or "the whole piece")
    return against


def _rules(fault: Fault) -> list[str]:
    """Keys of the rules that foresee a cause; none where nothing in a piece file tells of it."""
    from refdb.judge.rules import NOT_IN_FILE

    return [] if fault.rules == NOT_IN_FILE else [rule.strip() for rule in fault.rules.split(";")]


def _met(fault: Fault, against: dict[str, list[str]]) -> list[str]:
    """Those rules behind a cause that the judge found against a piece, each with its steps."""
    return [f"{rule} ({', '.join(dict.fromkeys(against[rule]))})" for rule in _rules(fault) if rule in against]


def stems_of(text: str) -> list[str]:
    """The words of a question without endings and without idle words."""
    return [_stem(w) for w in re.findall(r"[^\W_]+", text.lower()) if w not in _IDLE]


def _stem(word: str) -> str:
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            word = word[: -len(ending)]
            break
    return word[:-1] if len(word) > 3 and word[-1] == word[-2] else word


def matching(faults: Sequence[Fault], text: str) -> list[Fault]:
    """The faults meant, for each thing named between commas, "or" and "and"."""
    hits: dict[str, Fault] = {}
    for one in _EITHER.split(f" {text.lower()} "):
        hits |= {f.key: f for f in _matching_all(faults, stems_of(one))}
    return list(hits.values())


def _matching_all(faults: Sequence[Fault], stems: Sequence[str]) -> list[Fault]:
    """Faults whose symptom holds every word, else with like words, else those whose causes do."""
    if not stems:
        return []
    symptom, broad = ("symptom", "when_seen"), ("symptom", "when_seen", "cause", "how_to_tell")
    for columns, alike in ((symptom[:1], False), (symptom, False), (symptom, True), (broad, False), (broad, True)):
        hits = [f for f in faults if all(_held(stem, f, columns, alike) for stem in stems)]
        if hits:
            return sorted(hits, key=lambda f: (-_share_named(f, stems), f.symptom, f.rank))
    return []


def _share_named(fault: Fault, stems: Sequence[str]) -> float:
    """How much of a symptom the words name."""
    return sum(_held(s, fault, ("symptom",), True) for s in stems) / len(stems_of(fault.symptom))


def _held(stem: str, fault: Fault, columns: Sequence[str], alike: bool) -> bool:
    """Whether a word, or one like it, stands in these columns of a fault."""
    sought = {stem}
    if alike:
        sought.update(*(group for group in (set(map(_stem, g)) for g in _ALIKE) if stem in group))
    words = stems_of(" ".join(str(getattr(fault, c)) for c in columns))
    return any(word.startswith(one) for word in words for one in sought)


def nearest_symptoms(faults: Iterable[Fault], text: str) -> list[str]:
    """The symptoms whose words are spelt most like the words of a question."""
    stems = stems_of(text)

    def likeness(symptom: str) -> float:
        words = stems_of(symptom)
        return sum(max((SequenceMatcher(None, s, w).ratio() for w in words), default=0.0) for s in stems)

    symptoms = list(dict.fromkeys(f.symptom for f in faults))
    return sorted(symptoms, key=lambda s: (-likeness(s), s))[:_MOST_NEAR]


def _symptoms(faults: Sequence[Fault]) -> None:
    counts: dict[tuple[str, str], int] = {}
    for f in faults:
        counts[f.symptom, f.when_seen] = counts.get((f.symptom, f.when_seen), 0) + 1
    page = Page()
    columns = [Column("symptom", wraps=True), Column("seen", wraps=True), Column("causes", right=True)]
    page.table(columns, [[symptom, when, str(n)] for (symptom, when), n in counts.items()], 0)
    page.line()
    page.paragraph("Causes and remedies: refdb fault WORDS")
    page.show()


def _causes(faults: Sequence[Fault], sources: dict[str, str], met: dict[str, list[str]], judged: bool) -> None:
    page = Page()
    if judged and not met:
        page.paragraph("The judge finds none of these causes in the piece; they stand in their usual order.")
    for symptom in dict.fromkeys(f.symptom for f in faults):
        held = [f for f in faults if f.symptom == symptom]
        page.heading(symptom)
        page.paragraph(f"seen {held[0].when_seen}", 2)
        for place, f in enumerate(held, 1):
            page.line()
            page.paragraph(f"{f.cause} [{f.source}]", 2, None, f"{place}  ")
            page.pairs(
                [
                    ("in the piece", _in_the_piece(f, met.get(f.key, [])) if judged else ""),
                    ("tell", f.how_to_tell),
                    ("do", f.remedy),
                    ("avoid", f.prevention),
                    ("rules", ", ".join(_rules(f))),
                ],
                5,
            )
    page.heading("Sources")
    for key, citation in sources.items():
        page.paragraph(f"{key}: {citation}", 2, 6)
    page.line()
    page.paragraph(_CLOSING)
    page.show()


def _in_the_piece(fault: Fault, found: list[str]) -> str:
    """What the judge of a piece says of a cause."""
    if not _rules(fault):
        return "a piece file cannot tell"
    return ", ".join(found) or "looked for and not found"
