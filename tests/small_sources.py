"""A tiny but whole set of data sources for tests: every file, a few rows, every reference met."""

from __future__ import annotations

import csv
from pathlib import Path

from refdb.store.schema import FILES

#: Temperature and free strain of copper-sheet, its mean over 20-500 °C as in property_values.
CURVE = (
    ("20", "0"), ("50", "502.2"), ("100", "1347.2"), ("150", "2202.2"), ("200", "3067.2"), ("250", "3942.2"),
    ("300", "4827.2"),
    ("350", "5722.2"), ("400", "6627.2"), ("450", "7542.2"), ("500", "8467.2"), ("550", "9402.2"), ("600", "10347.2"),
)  # fmt: skip
#: The rows of each file by column; a column not named is blank.
ROWS: dict[str, list[dict[str, str]]] = {
    "sources.csv": [
        {
            "key": "common-practice",
            "name": "Common practice",
            "kind": "common practice",
            "title": "What the trade does",
        },
        {
            "key": "made-up-handbook",
            "name": "Made-up handbook 1990",
            "kind": "handbook",
            "title": "A handbook for tests",
            "year": "1990",
            "doi": "10.1000/182",
            "retrieved": "2024-05-31",
        },
        {"key": "made-up-standard", "name": "Made-up standard", "kind": "standard", "title": "A standard for tests"},
        {"key": "reckoned", "name": "Reckoned", "kind": "computed", "title": "Worked out in tests"},
    ],
    "source_subjects.csv": [
        {"source": source, "subject": subject, "seen": seen}
        for source, subject, seen in (
            ("common-practice", "aliases", ""),
            ("common-practice", "colour_reactions", ""),
            ("common-practice", "exposure_limits", "from memory"),
            ("common-practice", "faults", ""),
            ("common-practice", "firing_phases", ""),
            ("common-practice", "fit_rules", ""),
            ("common-practice", "glasses", ""),
            ("common-practice", "hazards", ""),
            ("common-practice", "known_pairs", ""),
            ("common-practice", "leaf", ""),
            ("common-practice", "leaf_thickness of leaf", "read"),
            ("common-practice", "metals", ""),
            ("common-practice", "observed_firings", ""),
            ("common-practice", "practice_rules", ""),
            ("common-practice", "practice_topics", ""),
            ("common-practice", "solders", "read"),
            ("common-practice", "symptoms", ""),
            ("common-practice", "synonyms", ""),
            ("made-up-handbook", "contacts", "read"),
            ("made-up-handbook", "elements", "read"),
            ("made-up-handbook", "expansion of glass", "read"),
            ("made-up-handbook", "expansion of metal", "read"),
            ("made-up-handbook", "sciglass/reference_glasses", ""),
            ("made-up-handbook", "solidus of metal", "read"),
            ("made-up-standard", "youngs_modulus of metal", "read"),
            ("reckoned", "expansion of metal", "computed"),
            ("reckoned", "expansion_points", "computed"),
            ("reckoned", "property_bounds", ""),
        )
    ],
    "properties.csv": [
        {"key": "density", "label": "density", "unit": "kg/m**3", "shown_unit": "kg/m**3", "description": "Mass."},
        {"key": "expansion", "label": "expansion", "unit": "ppm/K", "shown_unit": "ppm/K", "description": "Mean."},
        {"key": "leaf_thickness", "label": "thickness", "unit": "m", "shown_unit": "um", "description": "Of leaf."},
        {"key": "poisson_ratio", "label": "Poisson", "unit": "1", "shown_unit": "1", "description": "Ratio."},
        {"key": "solidus", "label": "solidus", "unit": "degC", "shown_unit": "degC", "description": "Melts."},
        {"key": "youngs_modulus", "label": "modulus", "unit": "Pa", "shown_unit": "GPa", "description": "Stiffness."},
        {"key": "zinc_content", "label": "zinc", "unit": "percent", "shown_unit": "percent", "description": "Zinc."},
    ],
    "property_bounds.csv": [
        {
            "property": name,
            "kind": kind,
            "unit": unit,
            "least": least,
            "most": most,
            "widest": widest,
            "apart": apart,
            "needed": "no",
            "reason": "For tests.",
            "source": "reckoned",
        }
        for name, kind, unit, least, most, widest, apart in (
            ("density", "glass", "kg/m**3", "2000", "6000", "1000", "100"),
            ("density", "metal", "kg/m**3", "2000", "22000", "1000", "100"),
            ("expansion", "glass", "ppm/K", "3", "30", "19", "1"),
            ("expansion", "metal", "ppm/K", "6", "30", "3", "3"),
            ("leaf_thickness", "leaf", "um", "0.1", "200", "50", "1"),
            ("poisson_ratio", "glass", "1", "0.1", "0.3", "0.1", "0.1"),
            ("poisson_ratio", "metal", "1", "0.1", "0.46", "0.1", "0.1"),
            ("solidus", "leaf", "degC", "200", "1800", "100", "30"),
            ("solidus", "metal", "degC", "500", "1800", "100", "30"),
            ("youngs_modulus", "glass", "GPa", "40", "110", "30", "10"),
            ("youngs_modulus", "metal", "GPa", "30", "230", "50", "10"),
            ("zinc_content", "metal", "percent", "0", "45", "10", "2"),
        )
    ],
    "elements.csv": [
        {
            "symbol": symbol,
            "name": name,
            "density_kg_m3": density,
            "melts_c": melts,
            "basis": "published",
            "seen": "read",
            "source": "made-up-handbook",
        }
        for symbol, name, density, melts in (
            ("Ag", "silver", "10490", "961.8"),
            ("Cu", "copper", "8960", "1084.6"),
            ("Zn", "zinc", "7140", "419.5"),
        )
    ],
    "metals.csv": [
        {
            "key": "copper-sheet",
            "label": "Copper sheet",
            "family": "copper",
            "summary": "Soft, red.",
            "form": "sheet",
            "alloy": "Cu",
            "bare_surface": "cuprous oxide",
            "source": "common-practice",
        },
        {
            "key": "silver-sheet",
            "label": "Silver sheet",
            "family": "silver",
            "summary": "Soft, white.",
            "form": "sheet",
            "alloy": "Ag",
            "bare_surface": "none",
            "source": "common-practice",
        },
    ],
    "glasses.csv": [
        {
            "key": "clear-hard",
            "label": "Hard clear",
            "family": "clears",
            "summary": "A base, free of lead.",
            "optical": "transparent",
            "hardness": "hard",
            "lead": "free",
            "cadmium": "free",
            "role": "base coat",
            "made_for": "copper; silver",
            "wash": "yes",
            "colourant": "cobalt oxide",
            "holds": "cobalt",
            "source": "common-practice",
        }
    ],
    "leaf.csv": [
        {
            "key": "silver-foil",
            "label": "Silver foil",
            "family": "silver",
            "summary": "Thin.",
            "metal": "Ag",
            "form": "foil",
            "suited": "suits",
            "why": "Bright.",
            "source": "common-practice",
        }
    ],
    "aliases.csv": [
        {
            "alias": alias,
            "kind": "metal",
            "record": record,
            "language": "en",
            "standing": standing,
            "place": place,
            "source": "common-practice",
        }
        for alias, record, standing, place in (
            ("sheet", "copper-sheet", "commonest", "1"),
            ("sheet", "silver-sheet", "choice", "2"),
            ("silver", "silver-sheet", "only", "1"),
        )
    ],
    "glass_groups.csv": [],
    "property_values.csv": [
        {
            "material": "clear-hard",
            "property": "expansion",
            "value": "110",
            "low": "100",
            "high": "120",
            "as_printed": "110 (100-120)",
            "unit": "1e-7/K",
            "temp_low_c": "20",
            "temp_high_c": "400",
            "basis": "published",
            "seen": "read",
            "source": "made-up-handbook",
            "preferred": "1",
        },
        {
            "material": "copper-sheet",
            "property": "expansion",
            "value": "9.8",
            "as_printed": "9.8e-6 per °F",
            "unit": "1e-6/delta_degF",
            "temp_low_c": "20",
            "temp_high_c": "500",
            "basis": "published",
            "seen": "read",
            "source": "made-up-handbook",
            "preferred": "1",
        },
        {
            "material": "copper-sheet",
            "property": "expansion",
            "value": "17.7",
            "as_printed": "17.7",
            "unit": "ppm/K",
            "temp_low_c": "20",
            "temp_high_c": "500",
            "basis": "computed",
            "seen": "computed",
            "source": "reckoned",
            "preferred": "0",
        },
        {
            "material": "copper-sheet",
            "property": "solidus",
            "value": "1984",
            "as_printed": "1984 °F",
            "unit": "degF",
            "basis": "published",
            "seen": "read",
            "source": "made-up-handbook",
            "preferred": "1",
        },
        {
            "material": "copper-sheet",
            "property": "youngs_modulus",
            "low": "110",
            "high": "130",
            "as_printed": "110-130",
            "unit": "GPa",
            "basis": "standard",
            "seen": "read",
            "source": "made-up-standard",
            "preferred": "1",
        },
        {
            "material": "silver-foil",
            "property": "leaf_thickness",
            "value": "10",
            "as_printed": "10",
            "unit": "um",
            "basis": "common practice",
            "seen": "read",
            "source": "common-practice",
            "preferred": "1",
        },
    ],
    "expansion_points.csv": [
        {"material": "copper-sheet", "temp_c": temp, "strain_ppm": strain, "seen": "computed", "source": "reckoned"}
        for temp, strain in CURVE
    ],
    "fit_rules.csv": [
        {
            "key": "no-leaded-under",
            "rule": "lead under lead-free",
            "glass": "lead:free",
            "metal": "any",
            "outcome": "suits with care",
            "found": "Lead.",
            "limit_text": "none",
            "why": "It seeps.",
            "remedy": "Another glass.",
            "source": "common-practice",
        }
    ],
    "colour_reactions.csv": [
        {
            "key": "clear-on-copper",
            "glass": "key:clear-hard",
            "ground": "metal copper|silver",
            "outcome": "suits",
            "change": "Golden.",
            "why": "Oxide goes.",
            "basis": "common practice",
            "source": "common-practice",
        }
    ],
    "symptoms.csv": [
        {
            "key": "edge-chip",
            "label": "Chips at the rim",
            "part": "cracks and loss",
            "when_seen": "on cooling",
            "stages": "as it cools; later",
            "beneath": "copper; silver",
            "how_to_tell": "The rest holds.",
            "words": "flakes; does not stick",
            "basis": "common practice",
            "source": "common-practice",
        }
    ],
    "synonyms.csv": [
        {
            "key": "chip",
            "words": "chip; spall",
            "apart": "chipboard",
            "basis": "common practice",
            "source": "common-practice",
        }
    ],
    "faults.csv": [
        {
            "key": f"chips-{rank}",
            "symptom": "edge-chip",
            "cause": cause,
            "how_to_tell": "Look.",
            "remedy": "Fill.",
            "prevention": "Round it.",
            "rank": str(rank),
            "rules": rules,
            "basis": "common practice",
            "source": "common-practice",
        }
        for rank, cause, rules in ((1, "Shrinkage.", "gap; no-leaded-under"), (2, "A knock.", "not in a piece file"))
    ],
    "observed_firings.csv": [
        {
            "key": "clear-seen",
            "material": "clear-hard",
            "kiln_c": "815",
            "minutes": "2.5",
            "metal": "copper-sheet",
            "metal_mm": "0.8",
            "result": "gloss",
            "basis": "common practice",
            "source": "common-practice",
        }
    ],
    "known_pairs.csv": [
        {
            "key": "copper-plate",
            "glass": "clear-hard",
            "metal": "copper-sheet",
            "metal_mm": "0.8",
            "holds": "yes",
            "words": "It is done daily.",
            "basis": "common practice",
            "source": "common-practice",
        }
    ],
    "contacts.csv": [
        {
            "metal_a": "Ag",
            "metal_b": "Cu",
            "first_melts_c": "779",
            "low": "778",
            "high": "780",
            "reaction": "eutectic",
            "basis": "published",
            "seen": "read",
            "source": "made-up-handbook",
        }
    ],
    "solders.csv": [
        {
            "key": "hard-silver",
            "label": "Hard silver solder",
            "family": "silver",
            "composition": "Ag60 Cu25 Zn15",
            "hazard": "zinc fume",
            "solidus_c": "745",
            "liquidus_c": "778",
            "basis": "common practice",
            "seen": "read",
            "source": "common-practice",
        }
    ],
    "firing_phases.csv": [
        {
            "key": "silver-once",
            "clay_family": "fine silver",
            "schedule": "usual",
            "phase": "1",
            "title": "sinter",
            "atmosphere": "air",
            "ramp": "full",
            "temp_low_c": "850",
            "temp_high_c": "900",
            "hold_low_min": "30",
            "hold_high_min": "120",
            "enamel": "yes",
            "basis": "common practice",
            "source": "common-practice",
        }
    ],
    "practice_topics.csv": [
        {
            "key": "drying",
            "topic": "drying",
            "part": "the fire",
            "lead": "No damp coat goes in.",
            "words": "drying; dry",
            "basis": "common practice",
            "source": "common-practice",
        }
    ],
    "practice_rules.csv": [
        {
            "key": "dry-first",
            "topic": "drying",
            "statement": "Dry before firing.",
            "low": "5",
            "high": "10",
            "unit": "min",
            "basis": "common practice",
            "source": "common-practice",
        }
    ],
    "hazards.csv": [
        {
            "key": "burns",
            "step": "firing",
            "hazard": "burns",
            "caution": "Wear gloves.",
            "trigger": "always",
            "weight": "1",
            "agents": "silica",
            "basis": "common practice",
            "source": "common-practice",
        }
    ],
    "exposure_limits.csv": [
        {
            "key": "silica",
            "agent": "silica",
            "place": "here",
            "limit_text": "0.1 mg/m³",
            "value": "0.1",
            "unit": "mg/m**3",
            "instrument": "a law",
            "edition": "1990",
            "seen": "from memory",
            "source": "common-practice",
        }
    ],
    "answers.csv": [],
    "builds.csv": [],
    "sciglass/reference_glasses.csv": [
        {
            "key": "made-up-glass",
            "material": "clear-hard",
            "label": "A glass for tests",
            "for_metal": "copper",
            "published_as": "enamel",
            "source": "made-up-handbook",
            "locator": "page 1",
        }
    ],
    "sciglass/compositions.csv": [
        {"glass": "made-up-glass", "component": component, "wt_pct": amount}
        for component, amount in (("K2O", "20"), ("Na2O", "30"), ("SiO2", "50"))
    ],
    "sciglass/reference_values.csv": [
        {
            "glass": "made-up-glass",
            "property": "density",
            "value": "3100",
            "basis": "published",
            "seen": "read in a copy",
        }
    ],
    "sciglass/estimates.csv": [],
}


def write(folder: Path, rows: dict[str, list[dict[str, str]]] | None = None) -> Path:
    """Write the files into a folder, with the given rows in place of some files' own; return the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for file in FILES:
        names = [column.name for column in file.columns]
        (folder / file.name).parent.mkdir(exist_ok=True)
        with (folder / file.name).open("w", encoding="utf-8", newline="") as out:
            writer = csv.DictWriter(out, names, restval="", lineterminator="\n")
            writer.writeheader()
            writer.writerows({**ROWS, **(rows or {})}.get(file.name, []))
    return folder


def changed(file: str, at: int, **cells: str) -> dict[str, list[dict[str, str]]]:
    """Return the rows of one file with some cells of one row changed, to give to `write`."""
    rows = [dict(row) for row in ROWS[file]]
    rows[at].update(cells)
    return {file: rows}
