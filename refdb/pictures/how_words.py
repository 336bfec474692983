"""Drawings of what words mean, and of what goes on around the fire: four kinds of cell, a mark, a spot, children."""

from __future__ import annotations

from refdb.pictures.drawing import path, text
from refdb.pictures.how_parts import Sketch, arrow, glass, grains, line, metal, named


def four() -> Sketch:
    return Sketch(
        "Four ways to hold glass",
        "Four sections side by side. Cloisonn\u00e9: wires stand on the metal. Champlev\u00e9: cells are cut into it. "
        "Basse-taille: a carved floor under one clear. Plique-\u00e0-jour: cells without a floor.",
        (
            metal("M4 104H78V116H4Z"),
            glass("M6 84H76V104H6Z"),
            metal("M5 82H9V104H5ZM28 82H32V104H28ZM51 82H55V104H51ZM73 82H77V104H73Z"),
            metal("M92 84H98V106H122V84H130V106H154V84H160V116H92Z"),
            glass("M98 84H122V106H98ZM130 84H154V106H130Z"),
            glass("M176 84H246V104L234 98L224 106L211 98L198 106L188 98L176 104Z"),
            metal("M176 104L188 98L198 106L211 98L224 106L234 98L246 104V116H176Z"),
            metal("M262 84H266V116H262ZM284 84H288V116H284ZM308 84H312V116H308ZM332 84H336V116H332Z"),
            glass("M266 86Q275 90 284 86V114Q275 110 266 114ZM288 86Q298 90 308 86V114Q298 110 288 114Z"),
            glass("M312 86Q322 90 332 86V114Q322 110 312 114Z"),
            text("wires stand", 41, 66, "i m"),
            text("cells cut", 126, 66, "i m"),
            text("floor carved", 211, 66, "i m"),
            text("no floor", 299, 66, "i m"),
            text("cloisonn\u00e9", 41, 138, "m"),
            text("champlev\u00e9", 126, 138, "m"),
            text("basse-taille", 211, 138, "m"),
            text("plique-\u00e0-jour", 299, 138, "m"),
        ),
    )


def mark() -> Sketch:
    return Sketch(
        "A mark is punched before the glass",
        "Left, a punch strikes the bare back before anything is fired. Right, a punch beside fired glass: the blow "
        "runs through the metal and the glass cracks.",
        (
            metal("M20 104H150V116H20ZM190 104H320V116H190Z"),
            glass("M190 88H296V104H190Z"),
            metal("M80 52H90V94L85 102L80 94ZM303 52H313V94L308 102L303 94Z"),
            line("M72 42H98M295 42H321M80 104l5 5l5 -5M303 104l5 5l5 -5"),
            line("M292 88l-7 6l3 4l-6 6M274 88l-4 8l4 8M252 88l3 6l-3 10"),
            text("bare metal: a clean mark", 85, 30, "i m"),
            text("fired glass: it cracks", 262, 30, "i m"),
            text("after the glass a laser marks, never a punch", 170, 148, "q m"),
        ),
    )


def spot() -> Sketch:
    return Sketch(
        "The citric spot, and what it leaves",
        "Left, a few drops of citric acid stand under a watch glass on the fired coat. Right, once washed, a lamp "
        "mirrored beside the spot is sharp; in a spot that was attacked it is blurred.",
        (
            metal("M20 112H150V122H20ZM190 112H320V122H190Z"),
            glass("M20 96H150V112H20ZM190 96H320V112H190Z"),
            path("M60 96Q66 84 85 84Q104 84 110 96Z", "gl"),
            line("M44 84Q85 66 126 84"),
            path("M236 96H274V100Q255 104 236 100Z", "me"),
            line("M208 96V62M204 68L208 62L212 68"),
            path("M246 94L240 72M255 94V68M264 94L270 72", "ld", ' stroke-dasharray="3 3"'),
            named("drops", 22, 62, 84, 88),
            named("watch glass", 148, 48, 110, 77, "i e"),
            text("sharp", 206, 52, "i m"),
            text("blurred", 264, 52, "i m"),
            text("look at a lamp mirrored in it", 255, 148, "q m"),
        ),
    )


def sinks() -> Sketch:
    return Sketch(
        "Powder sinks as it fuses, and some falls beside",
        "Left, a sifted coat before the fire, with grains that fell beside the piece. Right, the same coat fused: "
        "about half as deep.",
        (
            metal("M34 104H136V116H34ZM204 104H306V116H204Z"),
            grains(36, 104, 100, 5),
            grains(8, 116, 24, 1),
            grains(140, 116, 24, 1),
            glass("M204 92H306V104H204Z"),
            path("M136 77H204M136 92H204", "ld", ' stroke-dasharray="3 3"'),
            arrow(188, 78, 188, 91),
            text("as sifted", 85, 62, "i m"),
            text("fused", 255, 62, "i m"),
            named("fell beside", 6, 146, 18, 116),
            text("set out more than the piece keeps", 334, 146, "q e"),
        ),
    )


def apart_from_the_kiln() -> Sketch:
    return Sketch(
        "The kiln on one side of a line, children on the other",
        "A room from above. On the left the kiln with one adult, who alone loads and unloads. A line runs across the "
        "floor. On the right the tables with a second adult, and a sink.",
        (
            path("M14 34H326V128H14Z", "ax"),
            metal("M24 62H64V100H24Z"),
            glass("M64 66H70V96H64Z"),
            path("M144 34V128", "wk", ' stroke-dasharray="7 5"'),
            path("M184 49H234V67H184ZM184 95H234V113H184Z", "me"),
            path("M296 44H318V70H296Z", "me"),
            path("M96 81m-7 0a7 7 0 1 0 14 0a7 7 0 1 0 -14 0M262 83m-7 0a7 7 0 1 0 14 0a7 7 0 1 0 -14 0", "sq"),
            path(
                "".join(f"M{x} {y}m-4 0a4 4 0 1 0 8 0a4 4 0 1 0 -8 0" for y in (43, 73, 89, 119) for x in (196, 222)),
                "gl",
            ),
            text("kiln", 44, 56, "i m"),
            text("loads alone", 98, 112, "i m"),
            text("line", 144, 26, "i m"),
            text("sink", 307, 84, "i m"),
            text("tables", 268, 112, "i m"),
            text("from above: nobody reaches past the line", 170, 150, "q m"),
        ),
    )
