"""Cautions about a material, about words, or for what a piece is used for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from refdb.ask.said import WORN
from refdb.ask.spans import meant, taken_apart
from refdb.errors import Ambiguous, NotFound
from refdb.frozen import dataclass
from refdb.judge.cautions import CHILD, FOOD, agents_of, hazards_of_material, hazards_of_piece
from refdb.records.named import BY_KEY, BY_NAME, PREFIX
from refdb.store.search import search
from refdb.store.search_words import EVERYWHERE, IDLE, OF_HARM, root, tokens
from refdb.store.topics import Called
from refdb.words import shortened

if TYPE_CHECKING:
    from refdb.records import Hazard, Material
    from refdb.records.named import Named
    from refdb.store.reference import Reference

#: What a piece may be for that needs cautions of its own.
USES = (CHILD, FOOD)
_FOR_USE = {CHILD: "a piece for a child", FOOD: "a piece for food or drink"}
#: Of cautions that hold only some of the words, those stay that weigh at least this share of the best.
_NEARLY_AS_GOOD = 0.75
#: From this share of its words on a text asks for a caution by name.
_BY_NAME = 0.6
#: A word of so many letters that stands nowhere is not read as another.
_SHORT = 4
#: What every question about harm is asked with.
_IDLE_HERE = EVERYWHERE | OF_HARM | {"handle", "ok", "off"}
_LIMITS = "SELECT * FROM exposure_limits ORDER BY agent, key"


@dataclass(frozen=True)
class Cautions:
    """Hazards, weightiest first, the limits that go with them, what they are about, and how they were found.

    Of words those come first whose work the words name.
    """

    hazards: list[Hazard]
    limits: list[dict[str, Any]]
    label: str = ""
    said: str = ""
    record: Material | None = None


def cautions_about(ref: Reference, text: str | None = None, use: str = "") -> Cautions:
    """The cautions about a material by key or name, about words, and for a use; all where nothing is given.

    Raises NotFound, with the nearest keys, where the text is neither a material nor stands in a caution.
    """
    hazards = ref.hazards()
    if text is None:
        if not use:
            return Cautions(hazards, ref.rows(_LIMITS))
        return Cautions(hazards_of_piece(hazards, (use,)), _limits_for(ref, use), f"for {_FOR_USE[use]}")
    named = _named(ref, text)
    if named is None:
        found = _by_words(ref, hazards, text)
    else:
        record = ref.material(named.key)
        of_it = hazards_of_material(hazards, record)
        said = f"{shortened(named.typed, 30)}: taken as {named.taken_as}" if named.taken_as else ""
        found = Cautions(of_it, _bearing_on(ref, of_it), f"for {record.small}", said, record)
    if not use:
        return found
    of_use = hazards_of_piece(hazards, (use,))
    both = [*of_use, *(h for h in found.hazards if h not in of_use)]
    limits = {r["key"]: r for r in (*_limits_for(ref, use), *found.limits)}
    return Cautions(both, list(limits.values()), f"{found.label}, {_FOR_USE[use]}", found.said, found.record)


def asked_for(ref: Reference, text: str) -> dict[Hazard, float]:
    """The hazards that people ask for in most words of a text, the nearest first, each with its share of them."""
    names = Called(ref, text, wide=False, idle=OF_HARM)
    asked = {
        str(r["key"]): names.share(str(r["asked"]))
        for r in ref.rows("SELECT key, asked FROM hazards WHERE asked IS NOT NULL")
    }
    held = [h for h in ref.hazards() if asked.get(h.key, 0.0) >= _BY_NAME]
    return {h: asked[h.key] for h in sorted(held, key=lambda h: -asked[h.key])}


def _named(ref: Reference, text: str) -> Named | None:
    """The material of this key or name; None where words of cautions are the nearer reading.

    A name that was only guessed from some words or from a slip of the pen is none: "lead" is no glass.
    """
    try:
        named = ref.named(text)
    except (NotFound, Ambiguous):
        return None
    return named if named.how in (BY_KEY, BY_NAME) and named.meaning.kind != "solder" else None


def _by_words(ref: Reference, hazards: list[Hazard], text: str) -> Cautions:
    if not any(c.isalnum() for c in text) or text.strip().lower().startswith(PREFIX):
        raise _nothing(ref, text)
    said = {w for w in tokens(text) if w not in IDLE and w not in _IDLE_HERE}
    idle = _IDLE_HERE | WORN if said - WORN else _IDLE_HERE
    if first := [*asked_for(ref, text)]:
        return Cautions(first, _bearing_on(ref, first), f"on “{shortened(text.strip(), 40)}”")
    found = search(ref, text, ("hazards", "exposure_limits"), 40, idle=idle)
    if not found.whole and (named := _named_within(ref, text)) is not None:
        # Of "fumes from brass in the kiln" the brass is the surer thing.
        of_it = hazards_of_material(hazards, named)
        return Cautions(of_it, _bearing_on(ref, of_it), f"for {named.small}", "", named)
    best = max((h.worth for h in found.hits), default=0.0)
    kept = {
        (h.kind, h.key): None for h in found.hits if h.whole or (not found.whole and h.worth >= _NEARLY_AS_GOOD * best)
    }
    if not kept or (not found.whole and " " not in text.strip()):
        raise _nothing(ref, text)
    if len(text.strip()) <= _SHORT and found.read_as:
        # So few letters, one of them changed, are mostly another word: of harm nobody is answered by a guess.
        raise _nothing(ref, text)
    keys = {key for kind, key in kept if kind == "hazards"}
    limits = {str(r["key"]): r for r in ref.rows(_LIMITS)}
    roots = {_stem(w) for w in said}
    # What the words name as the work comes before what only mentions them.
    held = sorted((h for h in hazards if h.key in keys), key=lambda h: -_share_of(h, roots))
    return Cautions(
        held,
        [limits[key] for kind, key in kept if kind == "exposure_limits"] or _bearing_on(ref, held),
        f"on “{shortened(text.strip(), 40)}”",
        found.said("caution"),
    )


def _stem(word: str) -> str:
    """A word without its ending: pickle and pickling are one."""
    return root(word).rstrip("e")


def _share_of(hazard: Hazard, roots: set[str]) -> float:
    """How much of the work that a hazard is of is named."""
    work = {_stem(w) for w in tokens(hazard.step) if w not in IDLE}
    return len(work & roots) / len(work) if work else 0.0


def _named_within(ref: Reference, text: str) -> Material | None:
    """The one metal or glass that a sentence names."""
    spans = [s for s in taken_apart(ref, text.lower()).spans if {"metal", "glass"} & s.kinds] if " " in text else []
    if len(spans) != 1:
        return None
    named = meant(ref, spans[0], "metal" if "metal" in spans[0].kinds else "glass")
    return ref.material(named.key) if named is not None else None


def _nothing(ref: Reference, text: str) -> NotFound:
    near = ref.near(text)
    return NotFound(
        f"no material and no caution is called '{shortened(text, 60)}'",
        todo=f"did you mean {' or '.join(near)}?" if near else "refdb cautions lists them",
        near=tuple(near),
    )


def _bearing_on(ref: Reference, hazards: list[Hazard]) -> list[dict[str, Any]]:
    """The limits of the agents of these hazards, those of the weightiest first."""
    agents = agents_of(hazards)
    return sorted((r for r in ref.rows(_LIMITS) if r["agent"] in agents), key=lambda r: agents.index(r["agent"]))


def _limits_for(ref: Reference, use: str) -> list[dict[str, Any]]:
    """The limits for a use, which their keys begin with."""
    start = {CHILD: "child", FOOD: "food"}[use]
    return [r for r in ref.rows(_LIMITS) if str(r["key"]).startswith(start)]
