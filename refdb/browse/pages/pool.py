"""The pool on pages: what was added, what it taught of each class, and which tile would teach more."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from refdb.browse.pages.printed import on_a_page
from refdb.browse.site import Site, View, link_to, named
from refdb.errors import NotFound
from refdb.judge.own.effective import EFFECTIVE
from refdb.judge.own.pool_told import ALIKE_JARS, build_told, counts_told, doubts_of, range_text, shifts_told
from refdb.judge.own.pooling import ClassLearnt
from refdb.pictures.drawing import Triple, figure
from refdb.pictures.pooled import Band, Belief, Shift, bands_before_and_after, beliefs, shifts_of_studios

#: So many classes are drawn, and so many studios; the tables have more, and the terminal all.
MOST_CLASSES, MOST_DRAWN, MOST_STUDIOS = 12, 14, 60
_PPM = 1e6


def build(site: Site, query: dict[str, str]) -> View:
    """The pool, or what it taught of one class; what a pool is where none is taken.

    Raises
    ------
    NotFound
        The pool has no row of the class that was asked about.
    """
    seen = site.pool.seen
    asked = query.get("glass", "")
    fields: dict[str, Any] = {
        "on": seen.on,
        "fault": on_a_page(seen.fault)[0] if seen.fault else "",
        "shown": site.watch is not None,
        "files": seen.files,
        "rows": [_row(site, one) for one in seen.learnt.values()],
        "effective": EFFECTIVE,
        "alike": ALIKE_JARS,
        "one": None,
    }
    if seen.on and asked:
        if asked not in seen.learnt:
            raise NotFound(f"the pool has no row of {site.ref.glass(asked).label}", todo="the pool tells what it has")
        fields["one"] = _class(site, seen.learnt[asked])
    elif seen.learnt:
        fields |= _all(site, list(seen.learnt.values()))
    return View("pool.html", fields, "/pool")


def of_class(site: Site, key: str) -> dict[str, Any] | None:
    """A class's bands before and after for its own page; None where no pool has a row of it."""
    learnt = site.pool.seen.learnt.get(key)
    if learnt is None:
        return None
    return _row(site, learnt) | {"picture": Markup(_bands_of(learnt, "pool")), "doubts": doubts_of(learnt)}


def _triple(three: tuple[float, float, float]) -> Triple:
    return Triple(*(x * _PPM for x in three))


def _row(site: Site, learnt: ClassLearnt) -> dict[str, Any]:
    """One class in figures, each with its low and high."""
    before, after = learnt.before, learnt.pooled
    return {
        "key": learnt.glass.key,
        "label": named(site.ref.glass(learnt.glass.key)),
        "link": link_to(learnt.glass.key),
        "studios": f"{len(learnt.studios):,}",
        "counts": counts_told(learnt),
        "taught": learnt.taught,
        "mean_before": _told(before.mean),
        "mean": _told(after.mean, 2),
        "spread_before": _told(before.spread),
        "spread": _told(after.spread, 2),
        "jar_before": _told(before.jar),
        "jar": _told(after.jar),
        "next": build_told(learnt.next_build) if learnt.next_build else "",
        "doubts": doubts_of(learnt),
    }


def _told(three: tuple[float, float, float], digits: int = 1) -> str:
    return f"{three[0] * _PPM:.{digits}f} ({range_text(three, digits)})"


def _all(site: Site, learnt: list[ClassLearnt]) -> dict[str, Any]:
    bands = [
        Band(
            _short(named(site.ref.glass(c.glass.key))),
            _triple(c.before.jar),
            _triple(c.pooled.jar) if c.taught else None,
        )
        for c in learnt[:MOST_CLASSES]
    ]
    first = max(learnt, key=lambda c: c.next_build.gain_bit if c.next_build else 0.0)
    return {
        "picture": Markup(bands_before_and_after(bands, "bands", "The next jar of each class, before and after")),
        "undrawn": max(len(learnt) - MOST_CLASSES, 0),
        "studios": f"{len({s for c in learnt for s in c.studios}):,}",
        "tiles": f"{sum(c.tiles + c.strips for c in learnt):,}",
        "first": (named(site.ref.glass(first.glass.key)), build_told(first.next_build)) if first.next_build else (),
    }


def _short(name: str) -> str:
    return name if len(name) <= 46 else f"{name[:45].rstrip()}…"


def _bands_of(learnt: ClassLearnt, key: str) -> str:
    before, after = learnt.before, learnt.pooled
    bands = [
        Band("the class’s mean", _triple(before.mean), _triple(after.mean)),
        Band("the next jar", _triple(before.jar), _triple(after.jar)),
    ]
    return bands_before_and_after(bands, f"{key}-b", "The class before and after")


def _class(site: Site, learnt: ClassLearnt) -> dict[str, Any]:
    before, after = learnt.before, learnt.pooled
    panels = [
        Belief(
            name, *([(float(x) * _PPM, float(d)) for x, d in zip(at, of, strict=True)] for at, of in ((a, p), (b, q)))
        )
        for name, a, p, b, q in (
            ("the class’s mean", before.means, before.densities[0], after.means, after.densities[0]),
            ("how jars differ", before.spreads, before.densities[1], after.spreads, after.densities[1]),
        )
    ]
    words = (
        f"Mean {_told(after.mean, 2)}, before {_told(before.mean)}. How jars differ, a standard deviation: "
        f"{_told(after.spread, 2)}, before {_told(before.spread)}; all in ppm/K."
    )
    return _row(site, learnt) | {
        "beliefs": Markup(beliefs(panels, "beliefs", "What is believed, before and after", words)),
        "picture": Markup(_bands_of(learnt, "class")),
        "shifts": _shifts(learnt),
        "studios_told": shifts_told(learnt) if learnt.studios else "",
        "builds": [
            {
                "metal": named(site.ref.metal(b.metal)),
                "front": figure(b.front, 2),
                "back": figure(b.back, 2),
                "seen": b.seen,
                "expected": [figure(x, 1) for x in b.expected],
                "differs": b in learnt.contradicting,
            }
            for b in sorted(learnt.builds, key=lambda b: -b.apart)[:MOST_STUDIOS]
        ],
    }


def _shifts(learnt: ClassLearnt) -> dict[str, Any] | None:
    """Studios by how far they differ, those that stand out first."""
    out = {sign for sign, _, _ in learnt.standing_out}
    careless = dict(learnt.unlike)
    every = sorted(
        zip(learnt.studios, learnt.pooled.shift_pa.tolist(), strict=True),
        key=lambda one: (one[0] not in out, -abs(one[1][0])),
    )
    if not every:
        return None
    drawn = [Shift(sign[:6], Triple(*(x / 1e6 for x in shift)), sign in out) for sign, shift in every[:MOST_DRAWN]]
    words = "; ".join(
        f"{s.name} {figure(s.value.value, 1, signed=True)} MPa" + (", stands out" if s.stands_out else "")
        for s in drawn
    )
    return {
        "picture": Markup(shifts_of_studios(drawn, "shifts", "How far studios differ", f"{words}.")),
        "rows": [
            (
                sign[:6],
                figure(shift[0] / 1e6, 1, signed=True),
                f"{figure(shift[1] / 1e6, 1, signed=True)} to {figure(shift[2] / 1e6, 1, signed=True)}",
                "stands out" if sign in out else f"unlike all others, {careless[sign]:.0%}" if sign in careless else "",
            )
            for sign, shift in every[:MOST_STUDIOS]
        ],
        "more": max(len(every) - MOST_STUDIOS, 0),
        "undrawn": max(len(every) - MOST_DRAWN, 0),
    }
