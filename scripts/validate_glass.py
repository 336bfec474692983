"""Hold the estimates of glass properties against measurements, and write `data_sources/validation/`.

    python scripts/validate_glass.py            writes README.md and one picture for each property
    python scripts/validate_glass.py --check    exits 1 when they are stale

What is predicted was never fitted on: see `fit_glass.py`.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent))

from fit_glass import ROOT, Array, Data, Result, appen_recalibrated, evaluate, load

from refdb.science.glass import estimate_many
from refdb.science.glass.appen import expansion_appen_ppm_per_k
from refdb.science.glass.features import MAJOR, MINOR

OUT = ROOT / "data_sources" / "validation"
COPPER = ROOT / "data_sources" / "sciglass" / "copper_enamels.csv"
ACCENT = "#0b4f58"


@dataclass(frozen=True)
class Shown:
    """How a property appears on the page and in its picture."""

    title: str
    unit: str
    decimals: int
    ticks: tuple[float, ...]


SHOWN = {
    "expansion": Shown("Mean expansion, 20-400 °C", "ppm/K", 2, (4, 6, 8, 10, 12, 14, 16, 18)),
    "littleton": Shown("Littleton softening point", "°C", 0, (500, 600, 700, 800, 900)),
    "tg": Shown("Transformation temperature", "°C", 0, (300, 400, 500, 600, 700, 800)),
    "density": Shown("Density", "kg/m³", 0, (2000, 2500, 3000, 3500, 4000, 4500)),
    "youngs_modulus": Shown("Young's modulus", "GPa", 1, (40, 60, 80, 100, 120)),
    "gloss": Shown("Temperature of 10^3 Pa s, where below 1000 °C", "°C", 0, (700, 800, 900, 1000, 1100)),
}


def figures(predicted: Array, measured: Array) -> tuple[int, float, float, float]:
    """Return number, bias, root mean square and median absolute error, of predicted minus measured."""
    error = (predicted - measured)[np.isfinite(predicted) & np.isfinite(measured)]
    return (len(error), float(error.mean()), float(np.sqrt((error**2).mean())), float(np.median(np.abs(error))))


def covered(result: Result, where: NDArray[np.bool_]) -> float:
    """Return the share of measurements inside their band."""
    have = where & np.isfinite(result.predicted)
    inside = (result.measured >= result.low) & (result.measured <= result.high)
    return float(inside[have].mean())


def line(label: str, result: Result, data: Data, where: NDArray[np.bool_], decimals: int) -> str:
    """Return one row of a table of accuracy."""
    n, bias, rmse, median = figures(np.where(where, result.predicted, np.nan), result.measured)
    papers = len(set(np.array(data.papers)[where & np.isfinite(result.predicted)]))
    shown = f"{round(bias, decimals) + 0.0:+.{decimals}f} | {rmse:.{decimals}f} | {median:.{decimals}f}"
    return f"| {label} | {n} | {papers} | {shown} | {100 * covered(result, where):.1f} % |"


def copper() -> list[str]:
    """Return the table of the published copper enamels."""
    with COPPER.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    names = (*MAJOR, *MINOR)
    found = estimate_many(np.array([[float(r[n] or 0) for n in names] for r in rows]), names)
    lines = ["| paper | SiO2, wt% | measured | estimate | band | inside |", "|---|---|---|---|---|---|"]
    for at, row in enumerate(rows):
        measured = float(row["expansion_1e-7_per_k"]) / 10
        low, high = found.expansion_low[at], found.expansion_high[at]
        inside = "yes" if low <= measured <= high else "no"
        lines.append(
            f"| {row['paper']} | {row['SiO2']} | {measured:.1f} | "
            f"{found.expansion_ppm_per_k[at]:.1f} | {low:.1f}-{high:.1f} | {inside} |"
        )
    return lines


def page(data: Data, results: dict[str, Result]) -> str:
    """Return the page in Markdown."""
    everything = np.ones(len(data.fold), dtype=bool)
    lead = data.wt("PbO") >= 5.0
    lines = [
        "# How far the estimates of glass properties can be trusted",
        "",
        "Written by `python scripts/validate_glass.py`. The glasses are those of",
        f"`../sciglass/enamel_like.csv` ({len(data.fold)} glasses from {len(set(data.papers))} papers).",
        "Each is predicted by coefficients that saw neither its paper nor its composition (tenfold",
        "cross-validation grouped by paper), and its band comes from the errors of the other nine",
        "folds. The coefficients shipped are fitted on all glasses. The softening point and the",
        "temperature of 10^3 Pa s come from Fluegel's published model inside its limits; nothing was fitted",
        "here, but its author fitted it on much of the same literature, so those two are not wholly",
        "independent.",
        "",
        "Errors are predicted minus measured. The root mean square is ruled by a few records far off; the",
        "median says more about an ordinary glass. *Enamel-like* means at most 68 wt% SiO2 and at least",
        "8 wt% alkalis. Only glasses whose expansion, softening point or modulus was measured are counted,",
        "and lead glasses with a transformation temperature, so that transformation temperature and density",
        "are judged on fewer glasses than the database holds.",
        "",
    ]
    for key, shown in SHOWN.items():
        result = results[key]
        high = result.predicted > 11.0 if key == "expansion" else np.zeros(len(data.fold), dtype=bool)
        lines += [
            f"## {shown.title}, {shown.unit}",
            "",
            "| glasses | n | papers | bias | RMSE | median error | inside the 90 % band |",
            "|---|---|---|---|---|---|---|",
        ]
        for label, where in (
            ("all", everything),
            ("enamel-like", data.enamel),
            ("PbO at least 5 wt%", lead),
            ("predicted above 11 ppm/K", high),
        ):
            if where.any():
                lines.append(line(label, result, data, where, shown.decimals))
        lines += ["", f"![Predicted against measured: {shown.title}]({key}.svg)", ""]
        if key == "expansion":
            lines += comparison(data, result)
    lines += [
        "## Published copper enamels",
        "",
        "Twenty lead-free enamels for copper from two papers, not among the glasses fitted: the",
        "interval of temperature of their expansion is not recorded, so they are held against the mean",
        "of 20-400 °C. One composition (45.6 wt% SiO2) stands in both papers, with 13.5 and with",
        "14.5 ppm/K.",
        "",
        *copper(),
        "",
    ]
    return "\n".join(lines)


def comparison(data: Data, result: Result) -> list[str]:
    """Return the comparison of the regression with Appen's factors, on glasses that both can answer."""
    appen = appen_recalibrated(data)
    raw = expansion_appen_ppm_per_k(data.weights, data.names)
    both = np.isfinite(appen.predicted) & np.isfinite(result.predicted)
    lines = [
        "The same glasses (enamel-like, and lead) by Appen's factors; measured values as above:",
        "",
        "| model | glasses | n | bias | RMSE | median error |",
        "|---|---|---|---|---|---|",
    ]
    for label, where in (("enamel-like", both & data.enamel), ("lead", both & (data.wt("PbO") >= 5.0))):
        for model, predicted in (
            ("regression used here", result.predicted),
            ("Appen as published", raw),
            ("Appen, slope and constant fitted", appen.predicted),
        ):
            n, bias, rmse, median = figures(np.where(where, predicted, np.nan), result.measured)
            lines.append(f"| {model} | {label} | {n} | {bias:+.2f} | {rmse:.2f} | {median:.2f} |")
    return [*lines, ""]


def picture(shown: Shown, result: Result, enamel: NDArray[np.bool_]) -> str:
    """Return predicted against measured as an SVG, thinned to 1500 points."""
    size, left, top, side = (560, 560), 74, 46, 440
    low, high = shown.ticks[0], shown.ticks[-1]

    def place(value: float) -> float:
        return side * (value - low) / (high - low)

    have = np.flatnonzero(np.isfinite(result.predicted) & enamel)
    have = have[:: max(1, len(have) // 1500)]
    inside = [
        (left + place(float(result.measured[i])), top + side - place(float(result.predicted[i])))
        for i in have
        if low <= result.measured[i] <= high and low <= result.predicted[i] <= high
    ]
    marks = " ".join(f"M{x:.1f} {y:.1f}h0" for x, y in inside)
    table = result.band
    predicted = np.linspace(low, high, 60)
    half = np.interp(predicted, table[:, 0], table[:, 1])

    def edge(sign: int) -> list[str]:
        across = np.clip(predicted + sign * half, low, high)
        return [
            f"{left + place(float(a)):.1f},{top + side - place(float(p)):.1f}"
            for a, p in zip(across, predicted, strict=True)
        ]

    grid = []
    for tick in shown.ticks:
        across, down = left + place(tick), top + side - place(tick)
        grid.append(
            f'<path d="M{across:.1f} {top + side}v5M{left} {down:.1f}h-5" stroke="#555"/>'
            f'<text x="{across:.1f}" y="{top + side + 20}" text-anchor="middle">{tick:g}</text>'
            f'<text x="{left - 9}" y="{down + 4:.1f}" text-anchor="end">{tick:g}</text>'
        )
    title = f"{shown.title}: predicted against measured, {shown.unit}"
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size[0]} {size[1]}" role="img" '
            'font-family="Georgia, \'Times New Roman\', serif" font-size="13" fill="#222">',
            f"<title>{title}</title>",
            f"<desc>{len(inside)} enamel-like glasses, a line of equality and the band that encloses nine in ten."
            "</desc>",
            f'<rect width="{size[0]}" height="{size[1]}" fill="#fff"/>',
            f'<text x="{left}" y="26" font-size="16">{title}</text>',
            f'<polygon points="{" ".join(edge(1) + edge(-1)[::-1])}" fill="{ACCENT}" fill-opacity="0.12"/>',
            f'<path d="M{left} {top + side}L{left + side} {top}" stroke="{ACCENT}" fill="none"/>',
            f'<path d="{marks}" stroke="{ACCENT}" stroke-width="2.6" stroke-linecap="round" stroke-opacity="0.4"/>',
            f'<path d="M{left} {top}v{side}h{side}" stroke="#555" fill="none"/>',
            *grid,
            f'<text x="{left + side / 2}" y="{top + side + 44}" text-anchor="middle">measured, {shown.unit}</text>',
            f'<text transform="translate(22 {top + side / 2}) rotate(-90)" text-anchor="middle">'
            f"predicted, {shown.unit}</text>",
            "</svg>",
            "",
        ]
    )


def files(data: Data, results: dict[str, Result]) -> dict[str, str]:
    """Return every file of the folder: name to text."""
    found = {f"{key}.svg": picture(shown, results[key], data.enamel) for key, shown in SHOWN.items()}
    return found | {"README.md": page(data, results)}


def main() -> None:
    """Write the folder, or check it."""
    data = load()
    wanted = files(data, evaluate(data))
    if "--check" in sys.argv[1:]:
        stale = [
            name
            for name, text in wanted.items()
            if not (OUT / name).exists() or (OUT / name).read_text(encoding="utf-8") != text
        ]
        if stale:
            raise SystemExit(
                f"data_sources/validation is stale ({', '.join(stale)}); run python scripts/validate_glass.py"
            )
        return
    OUT.mkdir(parents=True, exist_ok=True)
    for name, text in wanted.items():
        (OUT / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
