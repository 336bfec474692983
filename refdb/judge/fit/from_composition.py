"""A glass known by its composition alone: a record made of estimates, and the verdict on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from refdb.frozen import replace
from refdb.judge.limits import RANGE_MARGIN_K
from refdb.records import Glass, PropertyValue

if TYPE_CHECKING:
    from refdb.judge.fit.question import Question
    from refdb.judge.verdict import Verdict
    from refdb.science.glass.estimated import GlassEstimate
    from refdb.store.reference import Reference

KEY = "own-composition"
REGRESSION, VISCOSITY, FACTORS, MEASURED = "glass-regression", "fluegel-2007", "appen-1974", "sciglass-2019"
#: Property of the store, the fields of an estimate (value, low, high), and where the model stands.
FIGURES = (
    ("expansion", ("expansion_ppm_per_k", "expansion_low", "expansion_high"), REGRESSION),
    ("glass_transition", ("tg_c", "tg_low", "tg_high"), REGRESSION),
    ("set_point", ("set_point_c", "set_point_low", "set_point_high"), REGRESSION),
    ("littleton_softening", ("littleton_c", "littleton_low", "littleton_high"), VISCOSITY),
    ("gloss_setting", ("gloss_c", "gloss_low", "gloss_high"), VISCOSITY),
    ("youngs_modulus", ("youngs_modulus_pa", "youngs_modulus_low", "youngs_modulus_high"), REGRESSION),
    ("poisson_ratio", ("poisson_ratio", "poisson_low", "poisson_high"), MEASURED),
    ("density", ("density_kg_m3", "density_low", "density_high"), REGRESSION),
)
EXPANSION_SPAN_C = (20.0, 400.0)
#: Below this gloss setting, °C, a glass can be thought of for aluminium, which melts at 660 °C.
_FOR_ALUMINIUM_C = 600.0
_LEAD = ("PbO", "PbO2", "Pb3O4", "PbF2")
_CADMIUM = ("CdO", "CdS")
_HELD = {
    "antimony": ("Sb2O3", "Sb2O5"),
    "arsenic": ("As2O3", "As2O5"),
    "chromium": ("Cr2O3", "CrO3"),
    "cobalt": ("CoO", "Co2O3", "Co3O4"),
    "manganese": ("MnO", "MnO2", "Mn2O3", "Mn3O4"),
    "nickel": ("NiO",),
    "selenium": ("SeO2",),
}


def figures_of(found: GlassEstimate) -> dict[str, PropertyValue]:
    """What was estimated, as figures of the store by property; a property outside its model's limits has none."""
    figures = {}
    for name, fields, source in FIGURES:
        value, low, high = (getattr(found, field) for field in fields)
        if None not in (value, low, high):
            figures[name] = _figure(name, value, low, high, source)
    gloss = figures.get("gloss_setting")
    if gloss is not None:
        assert gloss.value is not None
        assert gloss.high is not None
        figures["fuse_low"] = replace(gloss, property="fuse_low")
        figures["fuse_high"] = _figure("fuse_high", gloss.high + RANGE_MARGIN_K, None, None, VISCOSITY)
    return figures


def _figure(name: str, value: float, low: float | None, high: float | None, source: str) -> PropertyValue:
    first_c, last_c = EXPANSION_SPAN_C if name == "expansion" else (None, None)
    return PropertyValue(name, value, low, high, f"{value:.6g}", "", first_c, last_c, "computed", "computed", source)


def glass_of(found: GlassEstimate, label: str = "Glass of this composition") -> Glass:
    """The record of a glass made of estimates alone.

    Parameters
    ----------
    found : GlassEstimate
        What `science.glass_properties.estimate` gave.
    label : str
        How a verdict calls the glass.

    Returns
    -------
    Glass
        Every figure has basis "computed" and its band. The kiln range runs from the gloss setting, with its
        band, to `RANGE_MARGIN_K` above the high end of that band. Colour and clarity are not known.
    """

    def content(names: tuple[str, ...]) -> str:
        return "contains" if any(found.weight_percent.get(name, 0.0) > 0 for name in names) else "free"

    low_firing = found.gloss_c is not None and found.gloss_c < _FOR_ALUMINIUM_C
    return Glass(
        KEY,
        label,
        "own compositions",
        "Known by its composition alone.",
        REGRESSION,
        tuple(figures_of(found).values()),
        hardness=found.hardness or "unknown",
        lead=content(_LEAD),
        cadmium=content(_CADMIUM),
        made_for="aluminium" if low_firing else "",
        holds="; ".join(word for word, names in _HELD.items() if content(names) == "contains"),
    )


def suits_estimated(ref: Reference, question: Question) -> Verdict:
    """The verdict on a glass made by `glass_of`, which says that its expansion is computed, not measured.

    Parameters
    ----------
    ref : Reference
        The open store.
    question : Question
        The glass of `glass_of`, a metal of the store and the build.

    Raises
    ------
    BadInput, StoreUnusable
        As `suits`.
    """
    # An estimate by itself needs no judge, and starts sooner without one.
    from refdb.judge.fit.glass_on_metal import judge_question

    verdict = judge_question(ref, question)
    row = question.glass.value("expansion")
    if row is None:
        return verdict
    return replace(verdict, sources=verdict.sources | {row.source: ref.source(row.source).citation})
