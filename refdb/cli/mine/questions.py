"""What is asked in a terminal of a material that is added without all its options."""

from __future__ import annotations

from collections.abc import Mapping

from refdb.cli.prompts import prompt
from refdb.store.workshop.columns import OWN_BASES

#: What is asked in a terminal, with the option each answers; an empty answer leaves it out.
_QUESTIONS = {
    "glass": (
        ("name", "Name"),
        ("like", "Class that it is like (a key of refdb glasses)"),
        ("expansion", "Expansion, such as 12.4 ppm/K"),
        ("span", "Span of the expansion, such as 20-400C"),
        ("fuses", "Kiln settings, such as 780-815C"),
        ("hardness", "Hardness: soft, medium, hard, very hard"),
        ("lead", "Lead: free, contains, unknown"),
    ),
    "metal": (
        ("name", "Name"),
        ("like", "Metal that it is like (a key of refdb metals)"),
        ("alloy", "Composition, such as Cu 95, Zn 5"),
        ("solidus", "Begins to melt, such as 900C"),
    ),
    "leaf": (
        ("name", "Name"),
        ("like", "Leaf that it is like (a key of refdb leaf)"),
        ("thickness", "Thickness, such as 3 um"),
    ),
}


def ask(kind: str, given: Mapping[str, str]) -> dict[str, str]:
    """Ask in the terminal for what is not given."""
    texts = dict(given)
    questions = (*_QUESTIONS[kind], ("basis", f"What the figures rest on: {', '.join(OWN_BASES)}"))
    for name, question in questions:
        if name in texts or (name == "span" and "expansion" not in texts):
            continue
        needed = name in ("name", "basis")
        answer = prompt(question, needed=needed, err=True)
        if answer.strip():
            texts[name] = answer
    return texts
