"""One subject of practice on a page: what it is, drawings, its rules in their order, faults they prevent, cautions."""

from __future__ import annotations

from markupsafe import Markup

from refdb.browse.pages import melting
from refdb.browse.site import Site, View
from refdb.judge.cautions import hazards_of_practice
from refdb.pictures.how import drawings
from refdb.records.practice import amount_of
from refdb.store.fault_search import split
from refdb.store.practice_search import practice_of
from refdb.store.topics import topic_of, topics


def build(site: Site, key: str) -> View:
    """The page of a subject by its key or name; NotFound with the nearest where there is none."""
    topic = topic_of(site.ref, key)
    labels = {s.key: s.label.partition(":")[0] for s in site.ref.symptoms()}
    rules = practice_of(site.ref, topic.topic).rules
    told = [
        {**rule, "amount": amount_of(rule), "otherwise": [(s, labels[s]) for s in split(rule["faults"] or "")]}
        for rule in rules
    ]
    beside = [t for t in topics(site.ref) if t.part == topic.part and t.key != topic.key]
    return View(
        "practice_topic.html",
        {
            "topic": topic,
            "pictures": [(title, Markup(svg)) for title, svg in drawings(split(topic.pictures))],
            "rules": told,
            "melts": melting.of_rules(site, told),
            "hazards": hazards_of_practice(site.ref.hazards(), {topic.topic}),
            "beside": sorted(beside, key=lambda t: t.topic),
        },
        "/practice",
    )
