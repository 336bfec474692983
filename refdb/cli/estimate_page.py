"""An estimate as a page, and as a dictionary for JSON; the numbers of both are those of the estimate."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from refdb.cli.common import Units
from refdb.cli.output import Column, Page
from refdb.judge.fit.from_composition import FACTORS, MEASURED, REGRESSION, VISCOSITY, figures_of
from refdb.records.printed import SCALES, degrees, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from refdb.records import Property
    from refdb.science.glass.composition import UnityForm
    from refdb.science.glass.estimated import GlassEstimate
    from refdb.store.reference import Reference

ORDER = (
    "expansion",
    "glass_transition",
    "set_point",
    "littleton_softening",
    "gloss_setting",
    "youngs_modulus",
    "poisson_ratio",
    "density",
)
BETTER = "A measured figure is better than any of these, and the maker's sheet governs."
_MODEL = {
    REGRESSION: "regression on measured glasses",
    VISCOSITY: "viscosity model",
    MEASURED: "constant, median of measured glasses",
}
_UNITY = (("fluxes", "fluxes"), ("sesquioxides", "sesquioxides"), ("others", "glass formers and others"))


def amounts_text(amounts: Mapping[str, float] | tuple[tuple[str, float], ...]) -> str:
    """A composition in one line, most first: "SiO2 48, Na2O 13.6"."""
    pairs = amounts if isinstance(amounts, tuple) else sorted(amounts.items(), key=lambda a: (-a[1], a[0]))
    return ", ".join(f"{name}\u00a0{amount:.2f}".rstrip("0").rstrip(".") for name, amount in pairs)


def _unity(found: GlassEstimate) -> UnityForm | None:
    from refdb.science.glass.composition import unity_form

    return unity_form(found.weight_percent)


def add_estimate(page: Page, found: GlassEstimate, basis: str, ref: Reference, units: Units) -> None:
    """Add an estimate to a page: composition, properties with their bands, viscosity, unity form, remarks."""
    page.paragraph("Glass from its composition")
    page.line()
    scaled = "" if abs(found.total - 100.0) < 0.005 else f", scaled to 100 from {found.total:.4g}"
    weight = ("weight per cent", amounts_text(found.weight_percent))
    moles = ("mole per cent", amounts_text(found.mole_percent))
    first, second = (weight, moles) if basis == "wt" else (moles, weight)
    page.pairs([(first[0], first[1] + scaled), second])
    page.heading("Properties, with the range that holds nine measurements in ten")
    columns = [Column(""), Column("value", right=True), Column("low to high"), Column("source", wraps=True)]
    properties = {p.key: p for p in ref.properties()}
    page.table(columns, _rows(found, properties, units, ref.source_names()))
    _viscosity(page, found, units, ref)
    unity = _unity(found)
    if unity is not None:
        page.heading("Unity form: moles for one mole of fluxes together")
        page.pairs(
            [
                (label, ", ".join(f"{name}\u00a0{amount:.3f}" for name, amount in getattr(unity, field).items()))
                for field, label in _UNITY
            ]
        )
    if found.warnings:
        page.heading("Remarks")
        for warning in found.warnings:
            page.paragraph(warning, 2, 4)
    page.heading("Sources")
    for key in sources_of(found):
        page.paragraph(f"{ref.source(key).name}: {ref.source(key).citation}", 2, 6)
    page.line()
    page.paragraph(BETTER)


def _rows(
    found: GlassEstimate, properties: Mapping[str, Property], units: Units, names: Mapping[str, str]
) -> list[list[str]]:
    figures = figures_of(found)
    rows = []
    for name in ORDER:
        prop = properties[name]
        unit = unit_of(prop, units)
        label = "expansion 20 to 400 °C" if name == "expansion" else prop.label
        row = figures.get(name)
        cells = ["-", "outside the model", ""]
        if row is not None and row.value is not None:
            cells = [*figure_text(prop, row.value, row.low, row.high, units), names[row.source]]
        rows.append([f"{label}, {unit}" if unit else label, *cells])
        if name == "expansion":
            for label, value in (
                ("by Appen's factors", found.expansion_appen_raw),
                ("the same, recalibrated", found.expansion_appen_recalibrated),
            ):
                if value is not None:
                    rows.append([label, *figure_text(prop, value, None, None, units), names[FACTORS]])
        if name == "gloss_setting" and found.hardness is not None:
            head, _, spread = found.hardness_words.partition(" (")
            rows.append(["hardness class", head, spread.rstrip(")"), names[VISCOSITY]])
    return rows


def figure_text(prop: Property, value: float, low: float | None, high: float | None, units: Units) -> tuple[str, str]:
    """A figure of a glass and its range, with no more digits than an estimate has."""
    decimals = {"ppm/K": 1, "1": 2, "GPa": 1}.get(prop.shown_unit, 0)
    scale = SCALES.get((prop.unit, prop.shown_unit), 1.0)

    def text(number: float) -> str:
        if prop.shown_unit == "degC":
            return degrees(number, units).partition(" ")[0]
        return f"{number * scale:,.{decimals}f}"

    return text(value), "" if low is None or high is None else f"{text(low)} to {text(high)}"


def _viscosity(page: Page, found: GlassEstimate, units: Units, ref: Reference) -> None:
    known = [(level, temp) for level, temp in found.isokoms_c.items() if temp is not None]
    if not known and found.vft is None:
        return
    page.heading(f"Viscosity, Pa·s [{ref.source(VISCOSITY).name}]")
    if known:
        page.paragraph("; ".join(f"10^{level:g} at {degrees(temp, units)}" for level, temp in known), 2)
    if found.vft is not None:
        v = found.vft
        page.paragraph(f"log10 = {v.a:.3f} + {v.b:.0f} / (T - {v.t0_c:.1f}), T in °C", 2)


def sources_of(found: GlassEstimate) -> list[str]:
    """Keys of the sources that the figures of an estimate rest on."""
    keys = [row.source for row in figures_of(found).values()]
    keys += [FACTORS] if found.expansion_appen_raw is not None else []
    keys += [VISCOSITY] if found.vft is not None or any(t is not None for t in found.isokoms_c.values()) else []
    return list(dict.fromkeys(keys))


def estimate_dict(found: GlassEstimate, ref: Reference) -> dict[str, Any]:
    """An estimate ready for JSON, in the units of the store."""
    figures = figures_of(found)
    properties = {p.key: p for p in ref.properties()}
    unity = _unity(found)
    rows = []
    for name in ORDER:
        row = figures.get(name)
        rows.append(
            {
                "property": name,
                "label": properties[name].label,
                "unit": properties[name].unit,
                "value": row and row.value,
                "low": row and row.low,
                "high": row and row.high,
                "model": row and _MODEL[row.source],
                "source": row and row.source,
                **({"span_c": [20.0, 400.0]} if name == "expansion" else {}),
            }
        )
    return {
        "total": found.total,
        "weight_percent": found.weight_percent,
        "mole_percent": found.mole_percent,
        "unity_form": None if unity is None else {field: getattr(unity, field) for field, _ in _UNITY},
        "properties": rows,
        "expansion_by_appen_ppm_per_k": {
            "raw": found.expansion_appen_raw,
            "recalibrated": found.expansion_appen_recalibrated,
            "source": FACTORS,
        },
        "hardness": {"class": found.hardness, "words": found.hardness_words},
        "isokoms_c": {f"{level:g}": temp for level, temp in found.isokoms_c.items()},
        "viscosity_curve": None
        if found.vft is None
        else {"a": found.vft.a, "b_k": found.vft.b, "t0_c": found.vft.t0_c, "isokoms_used": found.vft.isokoms_used},
        "limits_broken": list(found.limits_broken),
        "warnings": list(found.warnings),
        "sources": {key: ref.source(key).citation for key in sources_of(found)},
    }
