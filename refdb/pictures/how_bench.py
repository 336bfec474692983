"""Drawings of the bench: clean metal, order, support, leaf, carbon, repair, etching, setting down, the post."""

from __future__ import annotations

from refdb.pictures.drawing import path, text
from refdb.pictures.how_parts import Sketch, arrow, glass, grains, line, metal, named


def counter() -> Sketch:
    return Sketch(
        "Glass on one face bows the plate, glass on both holds it flat",
        "Above, metal with glass on its upper face alone is bowed, and the glass is cracked. Below, with as much glass "
        "on the back, it lies flat.",
        (
            metal("M40 62Q170 30 300 62V70Q170 38 40 70Z"),
            glass("M40 52Q170 20 300 52V62Q170 30 40 62Z"),
            line("M132 32l4 9l-3 5M206 32l-4 9l3 5"),
            text("bare back: it bows and cracks", 170, 84, "i m"),
            metal("M40 118H300V126H40Z"),
            glass("M40 107H300V118H40ZM40 126H300V137H40Z"),
            text("as much on the back: flat", 170, 154, "i m"),
        ),
    )


def film() -> Sketch:
    return Sketch(
        "Water tells clean metal from greasy",
        "Left, water stands in beads on a greasy sheet. Right, it lies as one unbroken film on a clean one.",
        (
            metal("M20 96H152V108H20ZM188 96H320V108H188Z"),
            glass("M32 96Q34 80 46 80Q58 80 60 96ZM78 96Q80 84 88 84Q96 84 98 96ZM112 96Q114 78 127 78Q140 78 142 96Z"),
            glass("M188 96V88Q254 84 320 88V96Z"),
            text("beads: grease", 86, 60, "i m"),
            text("one film: clean", 254, 60, "i m"),
            text("after that touch only the edges", 170, 140, "q m"),
        ),
    )


def trivet() -> Sketch:
    return Sketch(
        "A trivet holds a piece by its bare edge",
        "Left, the arms of a trivet meet a domed piece at its bare edge, and no glass touches. Right, points touch "
        "the glass of the back, and stick.",
        (
            metal("M24 76Q84 40 144 76V82Q84 47 24 82Z"),
            glass("M34 68Q84 36 134 68V72Q84 42 34 72ZM38 78Q84 50 130 78V82Q84 55 38 82Z"),
            line("M14 84L26 76M154 84L142 76M14 84L40 128H128L154 84"),
            text("bare edge on the arms", 84, 26, "i m"),
            metal("M196 76H316V82H196Z"),
            glass("M200 68H312V76H200ZM200 82H312V90H200Z"),
            line("M206 128L216 90L226 128M286 128L296 90L306 128"),
            path("M196 128H316", "ax"),
            text("glass on points sticks", 256, 26, "i m"),
            text("level, and it does not rock", 170, 152, "q m"),
        ),
    )


def foil() -> Sketch:
    return Sketch(
        "Foil lies between two coats of glass, in section",
        "From below: metal, a fused coat of glass, foil pricked with holes, and one even coat of clear over the whole "
        "face. Air leaves through the holes.",
        (
            metal("M60 116H280V130H60Z"),
            glass("M60 94H280V116H60Z"),
            path("M84 91H118M124 91H158M164 91H198M204 91H256", "wk", ' stroke-width="3"'),
            glass("M60 62H280V88H60Z"),
            arrow(121, 88, 121, 40),
            arrow(161, 88, 161, 40),
            arrow(201, 88, 201, 40),
            text("gas leaves by the holes", 161, 30, "i m"),
            named("clear", 6, 58, 62, 74),
            named("foil", 334, 70, 258, 91, "i e"),
            named("fused coat", 334, 150, 270, 106, "i e"),
            text("metal", 40, 128, "i m"),
        ),
    )


def carbon() -> Sketch:
    return Sketch(
        "Clay buried in carbon, in section",
        "A lidded box full of carbon. The pieces lie apart from one another, with carbon below, between and above.",
        (
            line("M52 46V140H288V46"),
            line("M44 40H296V46H44Z"),
            "".join(grains(59, y, 230, 1, 8) for y in range(138, 60, -6)),
            metal("M84 92H146V102H84ZM186 92H248V102H186Z"),
            text("carbon above, below and between", 170, 24, "i m"),
            text("open it only when it is cold", 170, 156, "q m"),
        ),
    )


def chip() -> Sketch:
    return Sketch(
        "A chip is opened, filled proud and fired",
        "Three steps in section: a chip with feathered edges; the same opened with upright sides; and filled with "
        "grains heaped above the face.",
        (
            metal("M14 104H106V114H14ZM124 104H216V114H124ZM234 104H326V114H234Z"),
            glass("M14 76H42Q54 100 60 102Q68 100 80 76H106V104H14Z"),
            glass("M124 76H150V102H188V76H216V104H124Z"),
            glass("M234 76H260V102H298V76H326V104H234Z"),
            grains(262, 101, 38, 2),
            grains(264, 88, 34, 3),
            text("feathered", 60, 60, "i m"),
            text("opened, clean", 170, 60, "i m"),
            text("heaped", 280, 60, "i m"),
            arrow(108, 90, 122, 90),
            arrow(218, 90, 232, 90),
            text("diamond under water, then the same glass", 170, 144, "q m"),
        ),
    )


def bath() -> Sketch:
    return Sketch(
        "A sheet etches face down",
        "A plastic tray of etching liquid. The sheet hangs face down just under the surface on tape; what the bite "
        "loosens sinks away from it.",
        (
            line("M40 56L52 132H288L300 56"),
            path("M44 72H296", "ax"),
            metal("M96 76H244V84H96Z"),
            line("M96 76L84 50M244 76L256 50"),
            line("M116 84V90H138V84M200 84V90H224V84"),
            arrow(150, 92, 150, 122),
            arrow(190, 92, 190, 122),
            grains(130, 131, 84, 1),
            named("tape", 30, 40, 88, 58),
            named("sludge sinks away", 318, 150, 214, 128, "i e"),
            text("face down, held from above", 176, 30, "i m"),
        ),
    )


def setdown() -> Sketch:
    return Sketch(
        "Where a hot piece is set down",
        "Left, a hot piece cools on its rack with air on both faces. Right, one laid on cold stone or steel is chilled "
        "from below, and its glass cracks.",
        (
            line("M22 100H148M34 100L26 132M136 100L144 132"),
            metal("M50 88H122V94H50Z"),
            glass("M50 80H122V88H50ZM50 94H122V100H50Z"),
            arrow(70, 72, 70, 50),
            arrow(102, 72, 102, 50),
            arrow(70, 106, 70, 128),
            arrow(102, 106, 102, 128),
            text("on its rack, in still air", 86, 34, "i m"),
            metal("M188 114H320V138H188Z"),
            metal("M216 100H292V106H216Z"),
            glass("M216 92H292V100H216ZM216 106H292V114H216Z"),
            line("M232 92l4 8l-4 6l4 8M262 92l-4 8l4 6l-4 8M280 92l3 8"),
            text("on cold stone: cracks", 254, 74, "i m"),
            text("no wet cloth, no steel, no draught", 170, 156, "q m"),
        ),
    )


def boxes() -> Sketch:
    return Sketch(
        "A box within a box",
        "The piece lies wrapped in a stiff inner box; padding fills the space to the outer box on every side.",
        (
            line("M20 22H232V140H20Z"),
            line("M74 54H178V108H74Z"),
            glass("M98 72Q126 60 154 72Q162 82 154 92Q126 100 98 92Q90 82 98 72Z"),
            metal("M104 80H148V85H104Z"),
            line("M20 82H74M24 79L20 82L24 85M70 79L74 82L70 85"),
            line("M126 108V140M123 112L126 108L129 112M123 136L126 140L129 136"),
            named("stiff box", 330, 48, 178, 64, "i e"),
            named("wrapped", 330, 108, 158, 88, "i e"),
            text("padding", 47, 68, "i m"),
            text("nothing bends, nothing touches", 126, 156, "i m"),
        ),
    )


def stages() -> Sketch:
    return Sketch(
        "Sugary, orange peel, gloss",
        "Three coats in section, in the order of the fire: grains that have stuck, a closed skin that is bumpy, and a "
        "level, shining coat.",
        (
            metal("M14 104H106V114H14ZM124 104H216V114H124ZM234 104H326V114H234Z"),
            grains(18, 104, 92, 3),
            glass(
                "M124 104V84Q132 76 140 84Q148 90 156 82Q164 76 172 84Q180 90 188 82Q198 76 206 84Q212 88 216 84V104Z"
            ),
            glass("M234 104V86H326V104Z"),
            arrow(108, 96, 122, 96),
            arrow(218, 96, 232, 96),
            text("sugary", 60, 62, "i m"),
            text("orange peel", 170, 62, "i m"),
            text("gloss", 280, 62, "i m"),
            text("hotter and longer", 170, 142, "q m"),
        ),
    )


def pour() -> Sketch:
    return Sketch(
        "Acid goes into water",
        "A beaker of water into which acid is poured in a thin stream; never the other way round.",
        (
            line("M110 62V134H218V62"),
            path("M110 90H218V134H110Z", "gl"),
            line("M222 20L254 34L240 66L208 52Z"),
            path("M210 52Q196 62 190 90", "wk"),
            text("water first", 164, 116, "i m"),
            text("acid, slowly", 292, 66, "i m"),
            text("never water into acid", 170, 154, "i m"),
        ),
    )
