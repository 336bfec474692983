"""The handbook behind a verdict: how it is made, what it rests on, what is not covered, and how a row is added."""

from __future__ import annotations

from collections import Counter

from markupsafe import Markup

from refdb.browse.pages.suits_pictures import curves_of, sections_of, short_name
from refdb.browse.site import Site, View, is_yours, link_to_verdict
from refdb.judge.evidence import GRADES, evidence_of, words_of_grade
from refdb.judge.fit.question import asked
from refdb.judge.known import not_known
from refdb.judge.limits import HOLDS_BELOW, REFUSED_FROM, RISK_BELOW
from refdb.judge.rules import RULES
from refdb.judge.verdict import CARE, NOT, SUITS, UNSURE
from refdb.pictures.deciding import counted_bars, decision_rule
from refdb.pictures.drawing import NO_BREAK, figure
from refdb.store.schema import FILES, SOURCE_KINDS

#: The pair by which the handbook shows a verdict: the usual first one of a studio.
_SHOWN = ("clear-hard-lead-free", "copper-sheet")
#: Pages of the handbook, in their order.
PAGES = (
    ("/about/verdict", "How a verdict is made", "the plate, the draws, and the rule that decides"),
    ("/about/grounds", "What it rests on", "grades of evidence and kinds of sources, counted"),
    ("/about/gaps", "What is not covered", "what no answer here can tell you"),
    ("/about/rows", "How to add a row", "your own jar today, and a figure for everyone"),
)
_BASES = "SELECT basis, count(*) AS n FROM property_values WHERE preferred = 1 GROUP BY basis ORDER BY n DESC, basis"


def _page(template: str, fields: dict[str, object]) -> View:
    return View(template, {"handbook": PAGES, **fields}, "/about")


def verdict(site: Site, query: dict[str, str]) -> View:
    """The calculation, in equations and in the pictures of one pair."""
    from refdb.judge.fit.glass_on_metal import judge_question
    from refdb.science.sampling import SAMPLES

    glass, metal = site.ref.glass(_SHOWN[0]), site.ref.metal(_SHOWN[1])
    question = asked(glass, metal, {}, lambda name: name)
    found = judge_question(site.ref, question)
    edges = (HOLDS_BELOW, RISK_BELOW, REFUSED_FROM)
    picture = decision_rule(edges, (SUITS, CARE, UNSURE, NOT), "rule", "How the draws decide")
    shares = list(found.shares.values())
    return _page(
        "handbook_verdict.html",
        {
            "samples": SAMPLES,
            "rule": Markup(picture),
            "edges": [f"{figure(share * 100)}{NO_BREAK}%" for share in edges],
            "outcomes": (SUITS, CARE, UNSURE, NOT),
            "found": found,
            "shares": [figure(share * 100) for share in shares],
            "names": (short_name(glass), short_name(metal)),
            "link": link_to_verdict(glass.key, metal.key),
            "sections": sections_of(found, question),
            "curves": curves_of(found, question),
            "gap": RULES["gap"],
            "release": RULES["release"],
        },
    )


def grounds(site: Site, query: dict[str, str]) -> View:
    """Grades of the verdicts and kinds of sources, counted in the store."""
    glasses = [g for g in site.glasses if not is_yours(g)]
    metals = [m for m in site.metals if not is_yours(m)]
    counts = Counter(one.grade for g in glasses for m in metals if (one := evidence_of([g], m)))
    grades = [(grade, words_of_grade(grade), counts[grade]) for grade in GRADES]
    bars = counted_bars([(grade, count) for grade, _, count in grades], "grades", "Verdicts by what they rest on")
    kinds = Counter(s.kind for s in site.ref.sources())
    bases = [(r["basis"], r["n"]) for r in site.ref.rows(_BASES)]
    return _page(
        "handbook_grounds.html",
        {
            "grades": grades,
            "bars": Markup(bars),
            "pairs": len(glasses) * len(metals),
            "kinds": [(kind, kinds[kind]) for kind in SOURCE_KINDS if kinds[kind]],
            "bases": bases,
            "figures": sum(n for _, n in bases),
        },
    )


def gaps(site: Site, query: dict[str, str]) -> View:
    """What is outside, and which figures are missing."""
    records = [r for r in site.ref.materials() if not is_yours(r)]
    missing = Counter(label for record in records for label in not_known(site.ref, record))
    seen = {one.material for one in site.ref.observed_firings()}
    glasses = [g for g in site.glasses if not is_yours(g)]
    return _page(
        "handbook_gaps.html",
        {
            "missing": missing.most_common(),
            "records": len(records),
            "unseen": sum(g.key not in seen for g in glasses),
            "glasses": len(glasses),
            "pairs": site.ref.count("known_pairs"),
        },
    )


def rows(site: Site, query: dict[str, str]) -> View:
    """How a figure comes into the store, and which file takes it."""
    files = [(f.name, f.description) for f in FILES if "/" not in f.name]
    return _page("handbook_rows.html", {"files": files})
