"""The pages that tell rather than judge: home, practice, cautions, faults, sources, and how verdicts are made."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from refdb.ask.cautions import USES, cautions_about
from refdb.browse.pages.fields import Field, each_as_it_is
from refdb.browse.pages.handbook import PAGES
from refdb.browse.pages.lists import hit_address
from refdb.browse.pages.looks import BY_KEY, LOOKS
from refdb.browse.pages.looks import asked as asked_of_look
from refdb.browse.pages.printed import lower_first, typeset
from refdb.browse.server.named import at_field
from refdb.browse.server.query import address, chosen
from refdb.browse.site import OWN_TABLES, YOURS, Site, View, by_family, is_yours, link_to
from refdb.errors import BadInput, StoreUnusable
from refdb.judge.cautions import hazards_of_practice
from refdb.judge.limits import HOLDS_BELOW, REFUSED_FROM, RISK_BELOW
from refdb.judge.lookups import limits_resting_on
from refdb.judge.rules import RULES
from refdb.pictures.cover import domed_section
from refdb.pictures.drawing import figure
from refdb.pictures.looks import look, looks_once
from refdb.records import WEAK_BASES, Fault
from refdb.records.practice import amount_of
from refdb.records.solders import in_the_kiln
from refdb.store.edition import Edition, edition_of
from refdb.store.fault_search import Meant, causes_of, meant, narrowed
from refdb.store.practice_search import practice_of
from refdb.store.rule_tables import GROUNDS, GROUPS, PARTS, STAGES
from refdb.store.schema import SOURCE_KINDS
from refdb.store.topics import of_fault, topics
from refdb.store.workshop.schema import OWN

COVER_NAMES = (
    "a clear, over the whole face",
    "foil, on fused glass",
    "the first clear",
    "the metal",
    "glass on the back",
)
#: Words for the tables on which a source can bear.
PLACES = {
    "limits": ("limit of verdicts", "limits of verdicts"),
    "property_values": ("figure", "figures"),
    "expansion_points": ("expansion curve", "expansion curves"),
    "contacts": ("contact", "metals touching"),
    "fit_rules": ("rule of fit", "rules of fit"),
    "solders": ("solder", "solders"),
    "firing_phases": ("clay schedule", "clay schedules"),
    "practice_rules": ("rule of practice", "rules of practice"),
    "practice_topics": ("subject of practice", "subjects of practice"),
    "hazards": ("caution", "cautions"),
    "exposure_limits": ("exposure limit", "exposure limits"),
    "faults": ("cause of a fault", "causes of faults"),
    "symptoms": ("fault", "faults"),
    "synonyms": ("group of words", "groups of words"),
    "colour_reactions": ("colour reaction", "colour reactions"),
    "observed_firings": ("firing seen", "firings seen"),
    "known_pairs": ("pair the trade knows", "pairs the trade knows"),
    "reference_glasses": ("published glass", "published glasses"),
    "aliases": ("record's other names", "records' other names"),
}


def home(site: Site, query: dict[str, str]) -> View:
    """What is here, one search box, and the questions."""
    ref = site.ref
    counts = {kind: sum(not is_yours(r) for r in ref.materials(kind)) for kind in ("metal", "glass", "leaf")}
    contents = [
        ("/materials?kind=metal", "Metals and metal clays", counts["metal"]),
        ("/materials?kind=glass", "Glasses", counts["glass"]),
        ("/materials?kind=leaf", "Leaf and foil", counts["leaf"]),
        ("/grid", "Verdicts, every glass on every metal", counts["metal"] * counts["glass"]),
        ("/builds", "Builds that hold, metal by metal", counts["metal"]),
    ]
    for table, link, name in (
        ("contacts", "/reference/contacts", "First melting, metal on metal"),
        ("colour_reactions", "/reference/colour_reactions", "Colour reactions"),
        ("faults", "/faults", "Faults and their causes"),
        ("practice_rules", "/practice", "Practice"),
        ("firing_phases", "/practice#schedules", "Kiln schedules for metal clays"),
        ("solders", "/practice#solders", "Solders"),
    ):
        if ref.count(table):
            contents.append((link, name, ref.count(table)))
    contents += [
        ("/cautions", "Cautions and exposure limits", ref.count("hazards") + ref.count("exposure_limits")),
        ("/sources", "Sources", ref.count("sources")),
    ]
    return View(
        "home.html",
        {
            "cover": Markup(domed_section(COVER_NAMES)),
            "cover_names": COVER_NAMES,
            "contents": contents,
            "glass_groups": by_family(list(site.glasses)),
            "metal_groups": by_family(list(site.metals)),
            "leaf_groups": by_family(list(ref.materials("leaf"))),
            "own": _own(site),
        },
    )


def _own(site: Site) -> list[tuple[str, str, int]]:
    """What is on the person's own shelf: address, name and how many."""
    shop = site.ref.shop
    if shop is None:
        return []
    told = [
        (address("/materials", kind=kind, family=YOURS), f"Your own {name}", shop.count(kind))
        for kind, name in (("glass", "glasses"), ("metal", "metals"), ("leaf", "leaf and foil"))
    ]
    told += [
        (f"{OWN_TABLES}/{OWN[kind].table}", f"Your own {name}", shop.count(kind))
        for kind, name in (("tile", "tiles"), ("strip", "strips"), ("firing", "firings seen"), ("stock", "stock"))
    ]
    return [row for row in told if row[2]]


def practice(site: Site, query: dict[str, str]) -> View:
    """How it is done, by topic, with kiln schedules of clays and solders; of words or a metal where asked."""
    words, topic, on = query.get("words", ""), query.get("topic", ""), query.get("on", "")
    metal = site.ref.metal(on) if on else None
    asked = topic or (words if any(c.isalnum() for c in words) else "")
    found = practice_of(site.ref, asked, metal)
    if topic:
        chosen(query, "topic", found.topics)
    whole = not asked and metal is None
    phases = site.ref.rows("SELECT * FROM firing_phases ORDER BY key") if whole else found.phases
    solders = site.ref.rows("SELECT * FROM solders ORDER BY key") if whole else found.solders
    every = topics(site.ref)
    order = dict.fromkeys(r["topic"] for r in found.rules)
    grouped = [(name, [r for r in found.rules if r["topic"] == name]) for name in order]
    families: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for phase in phases:
        families.setdefault((phase["clay_family"], phase["schedule"]), []).append(phase)
    return View(
        "practice.html",
        {
            "topics": found.topics,
            "topic": topic or found.topic,
            "words": words,
            "said": found.said,
            "on": metal,
            "whole": whole,
            "hazards": hazards_of_practice(site.ref.hazards(), found.work) if asked else [],
            "pages": {t.topic: t.key for t in every},
            "parts": [(p, [t for t in every if t.part == p]) for p in GROUPS],
            "counts": {name: sum(r["topic"] == name for r in found.rules) for name in found.topics},
            "grouped": grouped,
            "schedules": list(families.items()),
            "solders": sorted(solders, key=lambda s: (s["family"], s["solidus_c"] or 0, s["key"])),
            "amount_of": amount_of,
            "in_the_kiln": in_the_kiln,
            "told": _told,
            "ranged": _ranged,
        },
        "/practice",
    )


def _told(value: Any) -> str:
    return "–" if value is None else typeset(f"{value:g}")


def _ranged(low: Any, high: Any) -> str:
    return _told(low) if low == high else f"{_told(low)} to {_told(high)}"


def cautions(site: Site, query: dict[str, str]) -> View:
    """What can hurt someone, and the limits that govern; of one material, of words or for a use where asked."""
    about, use = query.get("material", "") or query.get("words", ""), query.get("use", "")
    chosen(query, "use", USES)
    with at_field("/cautions", query, "material" if "material" in query else "words", str):
        if "material" in query:
            about = site.ref.named(query["material"]).key
        found = cautions_about(site.ref, about or None, use)
    order = dict.fromkeys(h.step for h in found.hazards)
    steps = [(step, [h for h in found.hazards if h.step == step]) for step in order]
    return View(
        "cautions.html",
        {
            "steps": steps,
            "limits": found.limits,
            "label": found.label,
            "said": found.said,
            "words": query.get("words", ""),
            "uses": USES,
        },
        "/cautions",
    )


def faults(site: Site, query: dict[str, str]) -> View:
    """What went wrong, and what may have done it, the likeliest first; by a drawing, by words, or by part."""
    words, part, drawn = (query.get(name, "") for name in ("words", "part", "look"))
    every = site.ref.symptoms()
    chosen(query, "part", PARTS)
    chosen(query, "look", tuple(BY_KEY))
    if not drawn and ("stage" in query or "beneath" in query):
        raise BadInput("a question is asked of a drawing", "look", "choose a drawing first")
    stage, beneath = chosen(query, "stage", STAGES), chosen(query, "beneath", GROUNDS)
    said = any(c.isalnum() for c in words)
    questions: list[dict[str, Any]] = []
    if drawn:
        left, questions = asked_of_look(BY_KEY[drawn], every, stage, beneath)
        wanted = Meant(tuple(left))
    else:
        wanted = meant(site.ref, words) if said else Meant(tuple(narrowed(every, part=part)))
    held: dict[str, list[Fault]] = {}
    for fault in causes_of(site.ref, wanted.symptoms):
        held.setdefault(fault.symptom, []).append(fault)
    groups = [(p, [s for s in wanted.symptoms if s.part == p]) for p in PARTS]
    choosing = not (words or part)
    return View(
        "faults.html",
        {
            "symptoms": wanted.symptoms,
            "groups": [(p, found) for p, found in groups if found],
            "causes": held,
            "words": words,
            "part": part,
            "parts": [(p, sum(s.part == p for s in every)) for p in PARTS],
            "said": wanted.said,
            "apart": bool(words) and not wanted.named and len(wanted.symptoms) > 1,
            "near": wanted.near,
            "drawings": Markup(looks_once(BY_KEY)) if choosing else "",
            "look": lambda key: Markup(look(key)),
            "looks": LOOKS if choosing else (),
            "drawn": BY_KEY.get(drawn),
            "questions": questions,
            "answered": stage or beneath,
            "count": len(every),
            "practice": of_fault(site.ref),
        },
        "/faults",
    )


def fields_of_practice(site: Site) -> tuple[Field, ...]:
    """What narrows the page of practice."""
    subjects = sorted(t.topic for t in topics(site.ref))
    return (
        Field("words", "words", always=True),
        Field("topic", "subject", each_as_it_is(subjects)),
        Field("on", "metal"),
    )


def fields_of_cautions() -> tuple[Field, ...]:
    """What narrows the page of cautions."""
    uses = tuple((use, f"for {'a child' if use == 'child' else use}") for use in USES)
    return (
        Field("words", "words, or a glass or metal", always=True),
        Field("material", "material"),
        Field("use", "use", uses),
    )


def fields_of_faults() -> tuple[Field, ...]:
    """What narrows the page of faults."""
    drawings = tuple((key, one.name) for key, one in BY_KEY.items())
    return (
        Field("words", "what you see", always=True),
        Field("part", "seen in", each_as_it_is(PARTS)),
        Field("look", "drawing", drawings, "none"),
        Field("stage", "when it showed", each_as_it_is(STAGES)),
        Field("beneath", "what lies beneath", each_as_it_is(GROUNDS)),
    )


def sources(site: Site, query: dict[str, str]) -> View:
    """Every source with what rests on it, or one in full."""
    if "key" in query:
        with at_field("/sources", query, "key", site.source_name):
            source = site.ref.source(query["key"].lower())
        places: dict[str, dict[str, list[str]]] = {}
        for row in _resting(site, source.key):
            what = str(row["what"]).replace("_", " ")
            places.setdefault(row["place"], {}).setdefault(str(row["key"]), []).append(what)
        rests = [
            (_place(place, 2), [(key, _place_link(site, place, key), whats) for key, whats in held.items()])
            for place, held in places.items()
        ]
        return View("source.html", {"source": source, "rests": rests}, "/sources")
    kinds = []
    for kind in SOURCE_KINDS:
        held = [(s, _counts(site, s.key)) for s in site.ref.sources() if s.kind == kind]
        if held:
            kinds.append((kind, held))
    return View("sources.html", {"kinds": kinds, "count": site.ref.count("sources")}, "/sources")


def _resting(site: Site, key: str) -> list[dict[str, Any]]:
    """What rests on a source: rows of the store, and the limits of a verdict."""
    limits = [{"place": "limits", "key": name, "what": what} for name, what in limits_resting_on(key)]
    return [*limits, *site.ref.resting_on(key)]


def _place(place: str, count: int) -> str:
    one, many = PLACES.get(place, (place.replace("_", " "), place.replace("_", " ")))
    return one if count == 1 else many


def _counts(site: Site, key: str) -> str:
    counts: dict[str, int] = {}
    for row in _resting(site, key):
        counts[row["place"]] = counts.get(row["place"], 0) + 1
    told = [f"{figure(n)} {_place(place, n)}" for place, n in counts.items()]
    return ", ".join(told) if told else "nothing yet"


def _place_link(site: Site, place: str, key: str) -> str:
    if place in ("property_values", "expansion_points", "compositions"):
        return link_to(key)
    if place == "limits":
        return "/about#h-lim"
    if place == "contacts":
        a, _, b = key.partition(" on ")
        return address("/reference/contacts", metal_a__exact=a, metal_b__exact=b)
    return hit_address(site.ref, place, key) or f"/reference/{place}"


def _edition(site: Site) -> Edition:
    """What is known of the data; where its fingerprint cannot be read, that is for `refdb verify` to tell."""
    try:
        return edition_of(site.path)
    except (StoreUnusable, OSError):
        return Edition(None, None)


def about(site: Site, query: dict[str, str]) -> View:
    """How verdicts are made, how sure they are, and what has been checked."""
    rules = sorted(site.ref.fit_rules(), key=lambda r: (r.rule, r.key))
    glasses = [g for g in site.glasses if not is_yours(g)]
    weak = sum(1 for g in glasses if (row := g.value("expansion")) is None or row.basis in WEAK_BASES)
    return View(
        "about.html",
        {
            "limits": [r for r in RULES.values() if r.limit],
            "rules": rules,
            "shares": [f"{share:.0%}".replace("%", " %") for share in (HOLDS_BELOW, RISK_BELOW, REFUSED_FROM)],
            "glass_count": len(glasses),
            "weak": weak,
            "edition": _edition(site),
            "lower": lower_first,
            "handbook": PAGES,
        },
        "/about",
    )


def offline(site: Site, query: dict[str, str]) -> View:
    """What the browser has kept; it alone knows, and its script fills in the list."""
    return View("offline.html")
