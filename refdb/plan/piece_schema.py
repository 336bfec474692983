"""The JSON Schema of a piece file (draft 2020-12), made from what its reader knows.

`python -m refdb.plan.piece_schema` writes `piece.schema.json` beside this file anew.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from refdb.judge.piece.steps import BACKINGS, COLD_JOINS, DOINGS, FACES, LUSTRES, SHAPES, USES, WITHIN
from refdb.plan.cells_text import MOST_SET_IN
from refdb.plan.load_text import MOST_AT_ONCE
from refdb.plan.piecefile import MOST_COOLING_MIN, MOST_PIECES, MOST_STEPS
from refdb.plan.step_keys import STEP_KEYS

FILE = Path(__file__).resolve().parent / "piece.schema.json"

_KEY = {"type": "string", "minLength": 1}
_LENGTH = {"type": "string", "description": 'A length with its unit, such as "30 mm" or "1.2 in".'}
_THICKNESS = {
    "type": "string",
    "description": 'A thickness or a range of it: "0.8 mm", "0.1-0.2 mm", "20 ga", "3 cards".',
}
_TEXT = {"type": "string", "maxLength": 200}
_SHARE = {
    "description": 'A share of the face: 0.4 or "40 %".',
    "anyOf": [{"type": "number", "exclusiveMinimum": 0, "maximum": 1}, {"type": "string"}],
}

#: What each key of a step may hold, in whatever step it stands.
STEP_VALUES: dict[str, dict[str, Any]] = {
    "face": {"enum": list(FACES), "default": "front"},
    "glass": {**_KEY, "description": "A key of refdb glasses."},
    "leaf": {**_KEY, "description": "A key of refdb leaf."},
    "thickness": {**_THICKNESS, "description": _THICKNESS["description"] + " Of glass: once fired."},
    "siftings": {"type": "integer", "minimum": 1, "maximum": 20},
    "coverage": _SHARE,
    "washed": {"type": "boolean"},
    "dried": {"type": "boolean", "description": "false where it goes into the kiln damp."},
    "pierced": {"type": "boolean", "description": "false where foil is laid without pricking it."},
    "kiln": {"type": "string", "description": 'The kiln setting, such as "790 C" or "1450 F".'},
    "minutes": {
        "description": 'Minutes in the kiln: 2.5 or "2 min 30 s".',
        "anyOf": [{"type": "number", "minimum": 0.1, "maximum": 60}, {"type": "string"}],
    },
    "cooling": {
        "description": 'Slow cooling after the fire, through the set point in the closed kiln: 25 or "1 h 30 min". '
        "Without it the piece cools in still air.",
        "anyOf": [{"type": "number", "minimum": 1, "maximum": MOST_COOLING_MIN}, {"type": "string"}],
    },
    "within": {"enum": list(WITHIN), "description": "Where a coat lies, instead of over its whole face."},
    "depth": {**_THICKNESS, "description": 'Of a recess, from its shallowest to its deepest place: "0.2-0.4 mm".'},
    "floor": {**_THICKNESS, "description": 'The metal left under a recess, instead of its depth: "0.5 mm".'},
    "metal": {**_KEY, "description": "A key of refdb metals."},
    "height": {**_THICKNESS, "description": 'Of a wire: "0.8 mm".'},
    "length": {**_LENGTH, "description": 'Of all wire of a step on one piece: "120 mm"; only amounts need it.'},
    "count": {"type": "integer", "minimum": 1, "maximum": MOST_SET_IN, "default": 1},
    "bent": {"type": "boolean", "description": "false where a wire has no bend to stand on."},
    "size": {**_THICKNESS, "description": 'Across an opening or what is set in: "5 mm"; of several the largest.'},
    "frame": {**_THICKNESS, "description": 'Metal between openings: "1 mm".'},
    "backing": {"enum": list(BACKINGS), "default": "none", "description": "What closes an opening in the fire."},
    "lustre": {"enum": list(LUSTRES)},
    "vented": {"type": "boolean", "description": "Whether oil, lacquer and resin burn off before the door is shut."},
    "solder": {**_KEY, "description": f"A key of the solders (refdb practice solder), or {', '.join(COLD_JOINS)}."},
}
#: What a step cannot be without; of the keys in brackets one.
STEP_NEEDS: dict[str, list[str]] = {
    "coat": ["glass"],
    "leaf": ["leaf"],
    "line": ["glass"],
    "fire": ["kiln"],
    "join": ["solder"],
    "wire": ["metal", "thickness", "height"],
    "opening": ["size", "frame"],
    "inset": ["thickness", "size"],
    "paint": ["glass"],
    "decal": ["glass"],
    "lustre": ["lustre"],
    "slip": ["glass", "thickness"],
}
#: Keys of which a step has one and no more.
STEP_CHOICES = {"coat": ("thickness", "siftings"), "recess": ("depth", "floor"), "inset": ("glass", "metal")}


def _step(do: str) -> dict[str, Any]:
    found: dict[str, Any] = {
        "type": "object",
        "additionalProperties": False,
        "required": ["do", *STEP_NEEDS.get(do, [])],
        "properties": {"do": {"const": do}, "note": _TEXT, **{k: STEP_VALUES[k] for k in STEP_KEYS[do]}},
    }
    if do in STEP_CHOICES:
        found["oneOf"] = [{"required": [key]} for key in STEP_CHOICES[do]]
    return found


def piece_schema() -> dict[str, Any]:
    """The schema as plain lists and dictionaries."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A piece for refdb",
        "type": "object",
        "additionalProperties": False,
        "required": ["piece", "base", "step"],
        "properties": {
            "piece": {
                "type": "object",
                "additionalProperties": False,
                "required": ["width", "height"],
                "properties": {
                    "title": _TEXT,
                    "width": _LENGTH,
                    "height": _LENGTH,
                    "area": {"type": "string", "description": 'Of one face: "7.2 cm2" or "720 mm2".'},
                    "quantity": {"type": "integer", "minimum": 1, "maximum": MOST_PIECES, "default": 1},
                    "use": {"enum": list(USES), "default": "adult"},
                    "shape": {"enum": list(SHAPES), "default": "flat"},
                    "rise": {**_THICKNESS, "description": 'Height of a dome over its rim: "2-3 mm".'},
                },
            },
            "base": {
                "type": "object",
                "additionalProperties": False,
                "required": ["metal", "thickness"],
                "properties": {
                    "metal": {**_KEY, "description": "A key of refdb metals."},
                    "thickness": {
                        **_THICKNESS,
                        "description": _THICKNESS["description"]
                        + " Cards of a clay are before firing, all else is after it.",
                    },
                    "schedule": {
                        "type": "string",
                        "description": 'Of a clay: which of its schedules fired it, such as "high heat" or "low heat"; '
                        "without it all that are fit for glass count.",
                    },
                    "fresh_width": {**_LENGTH, "description": "Of a clay, before firing."},
                    "fresh_height": {**_LENGTH, "description": "Of a clay, before firing."},
                },
            },
            "kiln": {
                "type": "object",
                "additionalProperties": False,
                "description": "What minutes are reckoned for; without it one piece at a time in a usual small kiln.",
                "properties": {
                    "power": {"type": "string", "description": 'Rated power of the kiln: "2 kW" or "1800 W".'},
                    "rack": {"type": "string", "description": 'Mass of what carries the pieces: "150 g", or none.'},
                    "at_once": {
                        "type": "integer",
                        "minimum": 1,
                        "maximum": MOST_AT_ONCE,
                        "default": 1,
                        "description": "Pieces in the kiln together.",
                    },
                },
            },
            "step": {
                "type": "array",
                "minItems": 1,
                "maxItems": MOST_STEPS,
                "description": "What is done, in order.",
                "items": {"oneOf": [_step(do) for do in DOINGS]},
            },
        },
    }


def schema_text() -> str:
    """The schema as the file holds it."""
    return json.dumps(piece_schema(), indent=2, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    FILE.write_text(schema_text(), encoding="utf-8")
