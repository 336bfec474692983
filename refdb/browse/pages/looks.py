"""Faults by look: drawings to choose from, and two questions that narrow what the drawing leaves."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.browse.server.query import address
from refdb.frozen import dataclass
from refdb.records import Symptom
from refdb.store.fault_search import narrowed
from refdb.store.rule_tables import GROUNDS, STAGES


@dataclass(frozen=True)
class Look:
    """A drawing to choose: its key, its name and half a sentence, and the faults that look so."""

    key: str
    name: str
    words: str
    symptoms: tuple[str, ...]


#: Drawings in their groups: heading, what the group has in common, and the drawings.
LOOKS: tuple[tuple[str, str, tuple[Look, ...]], ...] = (
    (
        "Cracks and flakes",
        "Something has let go.",
        (
            Look("craze", "Craze net", "fine cracks, all over", ("crazing", "pinging", "cracks-return")),
            Look("chips", "Edge chips", "shells gone at the rim", ("edge-chip", "fish-scale", "pop-off")),
            Look("moons", "Half-moon flakes", "jump off later, on steel", ("fish-scale",)),
            Look(
                "crack",
                "A single crack",
                "or a few, from a wire or corner",
                ("hairline", "cracks-return", "open-cell", "dry-cracks", "stone-spoilt"),
            ),
            Look("lift", "Lifted sheet", "the glass comes off whole", ("pop-off", "shatter", "dry-cracks")),
        ),
    ),
    (
        "Surface",
        "It holds, but the skin is wrong.",
        (
            Look("pinholes", "Pinholes", "tiny holes and pits", ("pinholes", "steam-pits", "dimples", "clay-pits")),
            Look(
                "bubble",
                "Bubbles",
                "under the skin, or risen",
                ("bubbles", "clay-bubbles", "foil-blister", "lustre-spoilt", "joint-failed"),
            ),
            Look("peel", "Orange peel", "bumpy, yet it shines", ("orange-peel", "dimples", "ran")),
            Look("crawl", "Crawl and beads", "draws back into islands", ("crawl", "ran")),
            Look("bare-edge", "Edge left bare", "the glass has drawn in", ("crawl", "edge-burn", "open-cell")),
            Look("grains", "Bare grains", "still sugary, dull", ("grainy", "dull-skin")),
            Look(
                "specks",
                "Black specks",
                "in the surface or the coat",
                ("black-specks", "black-dots", "speckled", "soot", "marks-support"),
            ),
            Look(
                "scratch", "Scratches and marks", "on the face or the back", ("scratches", "marks-support", "sticking")
            ),
        ),
    ),
    (
        "Colour",
        "Lines stand for a cloud, points for yellow, solid for what shows through.",
        (
            Look(
                "cloud",
                "Cloud",
                "milky, grey or dark under the shine",
                ("cloudy", "dark-cloud", "bloom", "muddy", "dull-skin", "soot", "opal-clear"),
            ),
            Look("burnt", "Burnt edge", "dark, red or green at the rim", ("edge-burn", "copper-red", "copper-green")),
            Look("pulled", "Pulled through", "the under colour in spots", ("pull-through", "white-thin", "bleeds")),
            Look(
                "yellow",
                "Yellowed or turned",
                "straw, amber, brown",
                ("yellow-silver", "white-yellowed", "pink-brown", "dull-warm"),
            ),
            Look("green", "Green", "spots or a line", ("copper-green", "healed-green", "green-metal")),
        ),
    ),
    (
        "Leaf, wires and metal",
        "What lies under the glass, or beside it.",
        (
            Look("leaf", "Wrinkled leaf", "folds under the glass", ("foil-wrinkle", "foil-blister", "leaf-dull")),
            Look("leaf-gone", "Leaf melted or torn", "holes, or gone", ("leaf-gone", "foil-tear", "gold-pale")),
            Look(
                "wires",
                "Wires and lines",
                "lean, sink, fade",
                ("wires-moved", "wires-gone", "climbing", "line-faded", "line-scrape", "open-cell"),
            ),
            Look("scale", "Scale", "red or black on bare metal", ("fire-scale", "fire-stain", "rust", "green-metal")),
            Look(
                "warp",
                "Warp",
                "the plate has bowed or sagged, or a ring has shrunk",
                ("warp", "collapsed", "ring-size"),
            ),
            Look(
                "clay",
                "Metal clay",
                "cracked, blistered, weak",
                ("clay-crack", "clay-blister", "clay-weak", "clay-pits"),
            ),
        ),
    ),
)
BY_KEY = {look.key: look for _, _, looks in LOOKS for look in looks}
#: What a moment is, in half a sentence; its number stands on the curve of a firing.
MOMENTS = dict(
    zip(
        STAGES,
        ("as it dries, or is laid", "while it glows", "it pings, or is there when cold", "worn, washed or kept"),
        strict=True,
    )
)


def _parts(held: list[Symptom]) -> bool:
    """Whether it is asked what lies beneath: some answer leaves half, else telling them apart by eye is quicker."""
    sets = {tuple(s.key for s in found) for ground in GROUNDS if (found := narrowed(held, beneath=ground))}
    return len(sets) > 1 and min(map(len, sets)) * 2 <= len(held)


def asked(
    look: Look, every: Sequence[Symptom], stage: str, beneath: str
) -> tuple[list[Symptom], list[dict[str, object]]]:
    """The faults that a drawing and the answers leave, in the order of the drawing, and the questions that narrow them.

    A question stands there only where its answers part the faults; an answer that leaves none is not offered.
    """
    by_key = {s.key: s for s in every}
    of_look = [by_key[key] for key in look.symptoms]
    questions: list[dict[str, object]] = []
    at_stage = narrowed(of_look, stage=stage)
    for name, title, words, held, picked in (
        ("stage", f"{look.name}: when did it show?", MOMENTS, of_look, stage),
        ("beneath", "What lies beneath?", dict.fromkeys(GROUNDS, ""), at_stage, beneath),
    ):
        parted = {answer: narrowed(held, **{name: answer}) for answer in words}
        sets = {tuple(s.key for s in found) for found in parted.values() if found}
        if picked or (_parts(held) if name == "beneath" else len(sets) > 1):
            questions.append(
                {
                    "name": name,
                    "title": title,
                    "choices": [
                        {
                            "word": answer,
                            "soft": words[answer],
                            "count": len(found),
                            "picked": answer == picked,
                            "link": address(
                                "/faults",
                                look=look.key,
                                stage=answer if name == "stage" else stage,
                                beneath=answer if name == "beneath" else "",
                            )
                            + ("#h-beneath" if name == "stage" and _parts(found) else "#h-left"),
                        }
                        for answer, found in parted.items()
                        if found
                    ],
                }
            )
    return narrowed(at_stage, beneath=beneath), questions
