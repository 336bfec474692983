"""Which hazards hold for a glass, a metal or a piece, weightiest first.

A hazard's trigger is one of `WORDS`, or `glass` or `metal` and a selector (see `judge.selectors`), or `practice` and a
topic of the rules of practice, or several of these joined by " or ". Hazards are told apart by key; their words are put
together at the end.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import TYPE_CHECKING

from refdb.judge.selectors import matches
from refdb.records import Glass, Hazard, Material, Metal
from refdb.words import lower_first, upper_first

if TYPE_CHECKING:
    from refdb.judge.verdict import Caution

#: Every verdict ends with this one, so it is not said twice.
_SAID_ANYWAY = ("test-tile-first",)

ALWAYS = "always"
#: What a piece file tells: its use, and what its steps do.
OF_PIECE = ("child", "food", "joining", "cadmium solder", "stoning", "cleaning", "painting")
CHILD, FOOD, JOINING, CADMIUM_SOLDER, STONING, CLEANING, PAINTING = OF_PIECE
#: The topics of practice that steps of a piece are, by kind, whose hazards are theirs.
_TOPICS = {
    "decal": "decals",
    "lustre": "lustre and liquid gold",
    "paint": "painting",
    "slip": "liquid enamel",
    "recess": "champlevé",
    "wire": "cloisonné",
    "opening": "plique-à-jour",
}
#: What an opening is closed with where that is etched away.
_ETCHED = "copper foil"
#: Kinds of trigger beside words.
_KINDS = ("glass", "metal", "practice")


def _holds_zinc(metal: Metal) -> bool:
    zinc = metal.band("zinc_content")
    return zinc is not None and zinc.high > 0


def _holds_nickel(metal: Metal) -> bool:
    return metal.family == "nickel" or "Ni" in metal.alloy.replace(",", " ").split()


#: Unknown content counts as present.
_OF_GLASS: dict[str, Callable[[Glass], bool]] = {
    "lead": lambda glass: glass.lead != "free",
    "cadmium": lambda glass: glass.cadmium != "free",
}
_OF_METAL: dict[str, Callable[[Metal], bool]] = {
    "zinc": _holds_zinc,
    "clay in carbon": lambda metal: metal.fired_in_carbon,
    "nickel": _holds_nickel,
}
#: Every word a trigger may be.
WORDS = (ALWAYS, *_OF_GLASS, *_OF_METAL, *OF_PIECE)


def parts_of(trigger: str) -> tuple[tuple[str, str], ...]:
    """The alternatives of a trigger, each as ("glass" or "metal", selector), ("practice", topic) or ("word", word).

    Nothing is checked.
    """
    found = []
    for part in trigger.split(" or "):
        kind, _, selector = part.strip().partition(" ")
        found.append((kind, selector.strip()) if kind in _KINDS else ("word", part.strip()))
    return tuple(found)


def triggers(glass: Glass | None, metal: Metal | None) -> set[str]:
    """The words under which hazards are filed that hold for this glass and this metal."""
    found = {ALWAYS}
    if glass is not None:
        found |= {word for word, holds in _OF_GLASS.items() if holds(glass)}
    if metal is not None:
        found |= {word for word, holds in _OF_METAL.items() if holds(metal)}
    return found


def hazards_of(hazards: Collection[Hazard], glass: Glass | None, metal: Metal | None) -> list[Hazard]:
    """The hazards of this glass and metal: those of their own content first, then the ones that always hold.

    Raises BadInput for a selector that cannot be read; the build refuses such a trigger.
    """
    words = triggers(glass, metal)

    def holds(kind: str, text: str) -> bool:
        material = {"glass": glass, "metal": metal}.get(kind)
        return text in words if kind == "word" else material is not None and matches(text, material)

    held = [h for h in hazards if any(holds(*part) for part in parts_of(h.trigger))]
    return sorted(held, key=lambda h: (h.trigger == ALWAYS, h.weight, h.key))


def hazards_of_material(hazards: Collection[Hazard], material: Material) -> list[Hazard]:
    """The hazards of one glass, metal or leaf by itself, in the order of `hazards_of`."""
    return hazards_of(
        hazards, material if isinstance(material, Glass) else None, material if isinstance(material, Metal) else None
    )


def hazards_of_piece(hazards: Collection[Hazard], words: Collection[str]) -> list[Hazard]:
    """The hazards of a piece's use and steps, where `words` are those of `OF_PIECE` that hold for it."""
    held = [h for h in hazards if any(text in words for kind, text in parts_of(h.trigger) if kind == "word")]
    return sorted(held, key=lambda h: (h.weight, h.key))


def hazards_of_practice(hazards: Collection[Hazard], topics: Collection[str]) -> list[Hazard]:
    """The hazards of the work that these topics of practice tell of."""
    held = [h for h in hazards if any(kind == "practice" and text in topics for kind, text in parts_of(h.trigger))]
    return sorted(held, key=lambda h: (h.weight, h.key))


def hazards_of_techniques(
    hazards: Collection[Hazard], doings: Collection[str], backings: Collection[str]
) -> list[Hazard]:
    """The hazards of steps of these kinds, and of what openings are closed with."""
    topics = {_TOPICS[do] for do in doings if do in _TOPICS} | ({"etching"} if _ETCHED in backings else set())
    return hazards_of_practice(hazards, topics) if topics else []


def agents_of(hazards: Collection[Hazard]) -> list[str]:
    """The agents whose limits bear on these hazards, each once, those of the weightiest first."""
    named = (agent.strip() for h in hazards for agent in h.agents.split(";"))
    return list(dict.fromkeys(agent for agent in named if agent))


def cautions_for(hazards: list[Hazard], glass: Glass | None, metal: Metal | None) -> tuple[Caution, ...]:
    """The cautions of a verdict on this glass and metal: all of `hazards_of` but what every verdict says anyway."""
    return tuple(caution_of(h) for h in hazards_of(hazards, glass, metal) if h.key not in _SAID_ANYWAY)


def caution_of(hazard: Hazard, step_known: bool = False) -> Caution:
    """The caution headed by the step it belongs to, or by the hazard where the step is known; it says little alone."""
    from refdb.judge.verdict import Caution

    head, caution = hazard.hazard if step_known else hazard.step, hazard.caution
    return Caution(f"{upper_first(head)}: {lower_first(caution)}", hazard.source, hazard.key, hazard.hazard)
