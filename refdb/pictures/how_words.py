"""Drawings of what words mean, and of what goes on around the fire: cells, a mark, a spot, children, care, a lesson."""

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


def care() -> Sketch:
    return Sketch(
        "A soft cloth and a drop of soap, never the bath that shakes",
        "Left, a soft cloth with a drop of soapy water wipes the finished glass. Right, in an ultrasonic bath waves "
        "from below shake it, and the glass cracks from its edge; the bath is crossed out.",
        (
            metal("M24 112H144V122H24Z"),
            glass("M28 98H140V112H28Z"),
            path("M52 98Q54 78 76 80Q98 70 114 82Q126 86 122 98Z", "me"),
            line("M66 94Q76 86 88 90M84 84Q98 80 110 90"),
            path("M84 50Q76 62 84 66Q92 62 84 50Z", "gl"),
            line("M200 60V128H320V60"),
            path("M204 72H316", "ax"),
            metal("M222 96H298V104H222Z"),
            glass("M225 86H295V96H225Z"),
            line("M236 86l4 5l-4 5M284 86l-4 5l4 5"),
            path("M216 116q6 -6 12 0t12 0t12 0t12 0t12 0t12 0t12 0", "ld"),
            path("M204 62L316 126M316 62L204 126", "wk", ' stroke-width="2.5"'),
            text("water, soap, a soft cloth", 84, 34, "i m"),
            text("no ultrasonic bath", 260, 34, "i m"),
            text("dry it, and keep it from knocks and sudden heat", 170, 150, "q m"),
        ),
    )


def lesson() -> Sketch:
    def discs(x: float, coat: bool) -> str:
        laid = "".join(metal(f"M{x + n * 24} 100H{x + n * 24 + 18}V105H{x + n * 24}Z") for n in range(3))
        fused = "".join(glass(f"M{x + n * 24} 94H{x + n * 24 + 18}V100H{x + n * 24}Z") for n in range(3))
        powder = "".join(grains(x + n * 24 + 2, 100, 16, 2) for n in range(3))
        return laid + (fused if coat else powder)

    return Sketch(
        "While one load fires, the next dries and the last cools",
        "Three groups of discs from left to right: powder that dries on top of the kiln, a load in the kiln, and fused "
        "discs that cool on a rack. One person alone carries a load from one to the next.",
        (
            discs(20, coat=False),
            discs(136, coat=True),
            discs(252, coat=True),
            line("M12 106H98M244 106H330M20 106V116M90 106V116M252 106V116M322 106V116"),
            line("M124 60H216V124H124Z"),
            path("M132 68H208V116H132Z", "ax"),
            path("M136 106H204", "wk"),
            arrow(100, 90, 120, 90),
            arrow(220, 90, 240, 90),
            text("it dries", 55, 46, "i m"),
            text("it fires", 170, 46, "i m"),
            text("it cools", 287, 46, "i m"),
            text("one person loads, all others stand clear", 170, 150, "q m"),
        ),
    )


def unlabelled() -> Sketch:
    return Sketch(
        "Glass without a sheet: a pinch is tried, the jar is labelled",
        "Left, a jar without a label. In the middle a pinch of it fired on a scrap of copper and on one of silver. "
        "Right, the same jar with a label that says what was seen, apart from the others.",
        (
            line("M24 66H84V126H24ZM30 56H78V66H30Z"),
            grains(29, 125, 50, 5),
            text("?", 54, 86, "i m"),
            arrow(92, 96, 116, 96),
            metal("M128 84H212V92H128ZM128 124H212V132H128Z"),
            path("M150 84Q154 72 170 72Q186 72 190 84Z", "gl"),
            path("M150 124Q154 112 170 112Q186 112 190 124Z", "gl"),
            text("on copper", 170, 62, "i m"),
            text("on silver", 170, 106, "i m"),
            arrow(222, 96, 246, 96),
            line("M258 66H318V126H258ZM264 56H312V66H264Z"),
            grains(263, 125, 50, 2),
            path("M266 76H310V106H266Z", "me"),
            line("M271 84H305M271 91H305M271 98H292"),
            text("no label", 54, 44, "i m"),
            text("what was seen", 288, 44, "i m"),
            text("until a test says otherwise it holds lead", 170, 154, "q m"),
        ),
    )
