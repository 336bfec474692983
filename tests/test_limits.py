"""Every limit of the judge from just inside and just outside, with its numbers written down here.

A new rule with a limit fails until it stands in `LIMITS` and has a probe: what a number finds that is held against it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from types import SimpleNamespace

import pytest
from at_limits import FOIL, HARD, OPAL, PROBES, SOFT, Made, array, coat, contact, drawn_glass, faces, with_figure

from refdb.judge.fit.build import Build
from refdb.judge.fit.glass_on_metal import numbers_of
from refdb.judge.fit.question import Question
from refdb.judge.piece import held_against, rules_of_laying, rules_of_leaf, rules_of_order
from refdb.judge.reason import CARE, NOT, SUITS
from refdb.judge.rules import RULES
from refdb.quantities import Band
from refdb.records import Solder
from refdb.store.reference import Reference, open_reference


@dataclass(frozen=True)
class Edge:
    """The limit of a rule: `fine` and `care`, and what is found inside `fine`, between the two, and beyond `care`.

    None is no finding at all; `step` is how far from the limit the probe goes.
    """

    fine: float
    care: float | None = None
    found: tuple[str | None, ...] = (None, CARE)
    step: float = 0.01
    falling: bool = False

    def points(self) -> Iterator[tuple[float, str | None]]:
        """Numbers about the limit, each with what must be found there."""
        thresholds = [self.fine] if self.care is None or self.care == self.fine else [self.fine, self.care]
        side = -1 if self.falling else 1
        for at, (inside, outside) in zip(thresholds, zip(self.found[:-1], self.found[1:], strict=True), strict=True):
            yield at - side * self.step, inside
            yield at + side * self.step, outside


GRADED, ONLY_CARE, REFUSED = (SUITS, CARE, NOT), (SUITS, CARE), (SUITS, NOT)
LIMITS: dict[str, Edge] = {
    "tension-lasting": Edge(0.0, 13.05, GRADED),
    "tension-between": Edge(0.0, 21.645, GRADED, step=0.002),
    "gap": Edge(4500.0, 6000.0, GRADED, step=1.0),
    "kiln": Edge(0.0, 0.0, REFUSED, falling=True),
    "setting": Edge(0.0, 30.0, GRADED),
    "setting-again": Edge(0.0, None, ONLY_CARE),
    "metal-melts": Edge(-15.0, -15.0, REFUSED),
    "curve-end": Edge(0.0, None, step=0.5),
    "glass-of-metal": Edge(1.0, 1.0, REFUSED, step=1e-4),
    "faces-alike": Edge(0.7, None, ONLY_CARE, step=1e-4, falling=True),
    "one-face": Edge(1.3, None, ONLY_CARE, step=1e-4, falling=True),
    "least-metal": Edge(0.0, None, ONLY_CARE, step=1e-4, falling=True),
    "leaf-on-metal": Edge(815.0, 815.0, (CARE, NOT), falling=True),
    "leaf-part-covered": Edge(0.98, None, step=1e-4, falling=True),
    "leaf-uneven-cover": Edge(1.6),
    "leaf-melts": Edge(-15.0, -15.0, (None, NOT)),
    "leaf-many-fires": Edge(4, None, step=0.5),
    "foil-unpricked": Edge(5.0),
    "pull-through": Edge(0.6, 3.0, GRADED),
    "leaf-bed": Edge(0.6, None, ONLY_CARE),
    "surface-tension": Edge(10.0),
    "join-after-glass": Edge(450.0, 450.0, (None, NOT)),
    "join-in-fire": Edge(30.0, 30.0, (None, CARE), falling=True),
    "many-fires": Edge(10, None, step=0.5),
    "long-fire": Edge(5.0),
    "past-gloss": Edge(2.0),
    "short-fire": Edge(1.0, falling=True),
    "uneven-coat": Edge(1.6),
    "thin-first-coat": Edge(0.1, step=1e-4, falling=True),
    "thin-over-colour": Edge(0.12, step=1e-4, falling=True),
    "thin-opal": Edge(0.1, step=1e-4, falling=True),
    "thick-at-once": Edge(0.4, step=1e-4),
    "bare-beside-glass": Edge(0.98, step=1e-4, falling=True),
    "soft-back": Edge(15.0),
}


@pytest.fixture(scope="module")
def ref(store) -> Iterator[Reference]:
    with open_reference(store) as opened:
        yield opened


def test_every_rule_with_a_limit_stands_here_with_its_numbers_and_a_probe():
    limits = {rule.key: rule.limit for rule in RULES.values() if rule.limit is not None}
    assert set(LIMITS) == set(limits) == set(PROBES)
    for key, edge in LIMITS.items():
        assert (limits[key].fine, limits[key].care) == (pytest.approx(edge.fine), pytest.approx(edge.care)), key
        assert limits[key].falling == edge.falling, key


CASES = [(key, x, outcome) for key, edge in LIMITS.items() for x, outcome in edge.points()]


@pytest.mark.parametrize(("key", "x", "outcome"), CASES, ids=[f"{key}, {x:g}" for key, x, _ in CASES])
def test_a_limit_holds_up_to_its_number_and_not_beyond(ref, monkeypatch, key, x, outcome):
    assert Made(ref, monkeypatch).outcome(key, x) == outcome


# Limits that have two sides, and ends of bands


@pytest.fixture
def made(ref, monkeypatch) -> Made:
    return Made(ref, monkeypatch)


def test_the_lasting_limit_is_that_of_the_last_fire_alone(made):
    """At 15 MPa the first coat alone wants care for a week; the finished piece does not suit."""
    assert [made.outcome(key, 15.0) for key in ("tension-between", "tension-lasting")] == [CARE, NOT]


@pytest.mark.parametrize(("front", "back", "grade"), [(0.49, 0.5, 0), (0.51, 0.5, 1), (0.3, 1.01, 2), (1.01, 0.3, 2)])
def test_both_coats_together_want_care_and_one_alone_refuses(made, front, back, grade):
    """On 1 mm of metal: no more than that in all is well, more in all wants care, more on one face does not suit."""
    assert faces(made, "glass-of-metal", front, back, 1.0).grades[0] == grade


@pytest.mark.parametrize(("solidus_c", "grade"), [(915.1, 0.0), (914.9, 1.0), (815.1, 1.0), (814.9, 2.0)])
def test_the_metal_narrows_the_kiln_by_fifteen_kelvin(made, solidus_c, grade):
    """Glass from 800 to 900 °C, against 15 K below the first melting of the metal."""
    drawn = SimpleNamespace(
        trail=SimpleNamespace(piece=SimpleNamespace(is_question=True)),
        base=SimpleNamespace(solidus_c=array(solidus_c)),
        glasses={HARD: drawn_glass(800.0, 900.0)},
    )
    assert [f.grades[0] for f in held_against.kiln_window(drawn, [])] == [grade]


@pytest.mark.parametrize(("heat_c", "outcome"), [(839, CARE), (841, NOT), (900, NOT)])
def test_leaf_sinks_in_from_the_low_end_of_where_it_may_melt(made, heat_c, outcome):
    made.known = replace(made.known, contacts=[contact(860.0, 840.0, 880.0)])
    found = made.fixed(rules_of_leaf.leaves, "leaf-on-metal", [f"leaf {FOIL}", f"fire {heat_c}"])
    assert found.outcome == outcome


@pytest.mark.parametrize(("begins_c", "rule"), [(729.9, "join-in-fire"), (730.1, "join-holds")])
def test_a_join_holds_from_thirty_kelvin_above_the_fire(made, begins_c, rule):
    made.known = replace(made.known, solders={"s": Solder("s", "Solder", "silver", begins_c, 800.0, "", "none")})
    assert [r.rule for r in rules_of_order.joins(made.walk(["join s", "fire 700"]), made.known)] == [rule]


def test_thin_opals_count_together_and_thick_coats_by_what_they_cover(made):
    two = [coat(HARD, 0.2, 0.2), coat(OPAL, 0.03, 0.06), coat(OPAL, 0.03, 0.06)]
    assert made.fixed(rules_of_laying.thin, "thin-opal", two) is None
    half = [f"coat front {HARD} 0.7 part=0.5", "fire 700"]
    assert made.fixed(rules_of_laying.thick, "thick-at-once", half) is None


def test_where_bands_leave_it_open_which_tension_is_higher_nothing_is_told(made):
    lines = [f"coat front {SOFT} 0.1", "fire 700", f"coat front {HARD} 0.1", "fire 800"]
    for low, count in ((0.305, 1), (0.295, 0)):
        made.glasses[SOFT] = with_figure(made.glasses[SOFT], "surface_tension", 0.3)
        made.glasses[HARD] = with_figure(made.glasses[HARD], "surface_tension", 0.33, low, 0.34)
        assert len(list(rules_of_laying.surface_tensions(made.walk(lines), made.known))) == count


@pytest.mark.parametrize("mm", [0.4999, 0.5001])
def test_the_least_metal_of_a_question_is_its_middle_figure(made, mm):
    """From question to finding, with a band about the least thickness of 0.5 mm."""
    metal = with_figure(made.metal, "least_thickness", 0.5e-3, 0.3e-3, 0.7e-3)
    question = Question(made.glasses[HARD], metal, Build(metal_m=Band.exact(mm * 1e-3)))
    found = numbers_of(question)
    assert found is not None
    assert [r.outcome for r in found.rules if r.rule == "least-metal"] == [CARE if mm < 0.5 else SUITS]
