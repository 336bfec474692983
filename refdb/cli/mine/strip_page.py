"""The result of a strip test as a page and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from refdb.cli.output import Page
from refdb.words import upper_first

if TYPE_CHECKING:
    from refdb.judge.own.strip_test import Measured
    from refdb.records import Glass, Metal
    from refdb.science.inference.strip import StripReading


def _part(share: float) -> str:
    return f"{share * 100:.0f} %"


def _mm(metres: float) -> str:
    return f"{metres * 1e3:.2f} mm"


def strip_page(
    reading: StripReading,
    measured: Measured,
    metal: Metal,
    glass: Glass | None,
    notes: tuple[str, ...],
    together: int,
    saved: dict[str, Any] | None,
    disagrees: str = "",
) -> Page:
    """The expansion with its interval, what decides it, what to mind, how to measure, and what would tell more."""
    from refdb.judge.own.effective import EFFECTIVE
    from refdb.pictures.strip_drawing import strip_text

    page = Page()
    value, low, high = (x * 1e6 for x in reading.triple)
    page.paragraph(
        f"{metal.label}, {_mm(measured.metal_m.value)}, with {_mm(measured.glass_m.value)} of "
        f"{glass.label if glass is not None else 'glass'} on one face, bowed {_mm(measured.bow_m)} over "
        f"{measured.length_m * 1e3:.0f} mm"
    )
    page.heading(f"Expansion {value:.2f} ppm/K, {low:.2f} to {high:.2f} (linear, mean over 20 to 400 °C)")
    if together > 1:
        page.paragraph(f"From {together} strips of this glass read together; --alone leaves the earlier ones out.", 2)
    page.line()
    page.pairs(_findings(reading, measured))
    for warning in reading.warnings:
        page.paragraph(f"{upper_first(warning)}.", 2, 4, "- ")
    page.paragraph(EFFECTIVE, 2)
    page.heading("What would tell more")
    for words in _advice(reading, measured, together):
        page.paragraph(words, 2)
    page.heading("How it is measured")
    page.line()
    for line in strip_text(
        bow_mm=measured.bow_m * 1e3, length_mm=measured.length_m * 1e3, glass_outside=measured.bow_m >= 0
    ):
        page.lines.append(line)
    page.heading(f"Taken: {'; '.join(notes)}.")
    if disagrees:
        page.heading(disagrees)
    if saved is not None and glass is not None:
        page.heading(
            f"Kept as strip:{saved['number']} and as the expansion of {glass.key}; refdb mine restore "
            f"{glass.key} brings the old figure back."
        )
    return page


def _findings(reading: StripReading, measured: Measured) -> list[tuple[str, str]]:
    one = reading.strips[-1]
    per_ppm = abs(one.bow_per_expansion_m_k) * 1e-6
    metal = (
        f"yielded, by {one.plastic_strain * 100:.2g} % at most; it moves {one.elastic_share:.1f} times as much "
        "with expansion as an unyielding strip would"
        if one.yielded
        else "stayed elastic"
    )
    return [
        (
            "interval from",
            ", ".join(f"{name} {_part(share)}" for name, share in reading.shares.items() if share >= 0.005)
            or "nothing: all figures exact",
        ),
        ("bow", f"{_mm(per_ppm)} less for each ppm/K more; change of curvature {one.curvature_per_m:.2f} per metre"),
        ("metal", metal),
        (
            "glass",
            f"stretched by up to {one.tension_pa / 1e6:.0f} MPa"
            if one.tension_pa > 0
            else f"squeezed everywhere, by {-one.tension_pa / 1e6:.0f} MPa or more",
        ),
        ("the bow", "identifies the expansion" if reading.identifies else "does not identify the expansion"),
    ]


def _advice(reading: StripReading, measured: Measured, together: int) -> list[str]:
    found = []
    best = reading.advice
    if best is not None:
        found.append(
            f"{_mm(best.metal_m)} of this metal with {_mm(best.glass_m)} of glass, as long as this one, "
            f"would narrow the interval from {best.own_width_per_k * 1e6:.1f} to "
            f"{best.width_per_k * 1e6:.1f} ppm/K."
        )
    hint = {
        "bow": "The bow decides most: take a longer strip (twice as long bows four times as much), or measure it "
        "more finely.",
        "set point": "The set point decides most: ask the maker for the softening or transition temperature, and give "
        "--set-point.",
        "metal yield": "The softness of the metal decides most: take thinner metal or a thicker coat.",
        "glass thickness": "The thickness of the coat decides most: measure strip and coat together with callipers "
        "and take the metal off.",
        "metal thickness": "The thickness of the metal decides most: measure it with a micrometer.",
        "metal expansion": "The metal's own expansion decides most; a strip of another metal would say something "
        "independent.",
    }.get(reading.dominates)
    if hint:
        found.append(hint)
    if together == 1:
        found.append("A second strip of other thicknesses; kept under one jar they are read together.")
    return found


def strip_json(
    reading: StripReading,
    measured: Measured,
    metal: Metal,
    glass: Glass | None,
    notes: tuple[str, ...],
    together: int,
    saved: dict[str, Any] | None,
    disagrees: str = "",
) -> dict[str, Any]:
    """The same as plain data."""
    from refdb.judge.own.effective import EFFECTIVE

    value, low, high = (round(x * 1e6, 4) for x in reading.triple)
    one = reading.strips[-1]
    return {
        "expansion_ppm_per_k": {"value": value, "low": low, "high": high},
        "span_c": [20, 400],
        "effective": True,
        "mind": EFFECTIVE,
        "metal": metal.key,
        "glass": glass.key if glass is not None else None,
        "metal_mm": round(measured.metal_m.value * 1e3, 4),
        "glass_mm": round(measured.glass_m.value * 1e3, 4),
        "length_mm": round(measured.length_m * 1e3, 3),
        "bow_mm": round(measured.bow_m * 1e3, 4),
        "curvature_per_m": round(one.curvature_per_m, 5),
        "shares": {k: round(v, 4) for k, v in reading.shares.items()},
        "dominates": reading.dominates,
        "identifies": reading.identifies,
        "bow_mm_per_ppm_per_k": round(one.bow_per_expansion_m_k * 1e-3, 5),
        "metal_yielded": one.yielded,
        "metal_plastic_strain": round(one.plastic_strain, 6),
        "glass_worst_stress_mpa": round(one.tension_pa / 1e6, 2),
        "strips": together,
        "advice": None
        if reading.advice is None
        else {
            "metal_mm": round(reading.advice.metal_m * 1e3, 3),
            "glass_mm": round(reading.advice.glass_m * 1e3, 3),
            "width_ppm_per_k": round(reading.advice.width_per_k * 1e6, 2),
            "width_now_ppm_per_k": round(reading.advice.own_width_per_k * 1e6, 2),
        },
        "warnings": list(reading.warnings),
        "taken": list(notes),
        "disagrees": disagrees or None,
        "saved": f"strip:{saved['number']}" if saved else None,
    }
