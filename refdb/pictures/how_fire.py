"""Drawings of the fire, of clay, and of what comes after the last fire."""

from __future__ import annotations

from refdb.pictures.drawing import path, text
from refdb.pictures.how_parts import Sketch, arrow, glass, grains, line, metal, named


def torch() -> Sketch:
    return Sketch(
        "A flame from beneath, through a mesh",
        "A piece rests on points over a mesh on a tripod. A soft flame comes from below and touches no glass.",
        (
            line("M60 66H280M78 66L58 146M262 66L282 146"),
            path("M60 69H280", "wk", ' stroke-dasharray="4 4"'),
            line("M134 66L140 52L146 66M194 66L200 52L206 66"),
            metal("M120 46H220V52H120Z"),
            glass("M120 38H220V46H120Z"),
            path("M170 72Q140 100 158 130H182Q200 100 170 72Z", "gl"),
            path("M170 100Q160 114 165 130H175Q180 114 170 100Z", "wk"),
            metal("M158 130H182V152H158Z"),
            named("watched from the side", 20, 24, 116, 42),
            named("all blue", 206, 112, 186, 106),
            named("mesh", 300, 50, 274, 66),
        ),
    )


def support() -> Sketch:
    return Sketch(
        "A plate carried at its rim and under its middle",
        "Above, a large plate on three points sags between them. Below, a fourth point or ring under the middle keeps "
        "it flat.",
        (
            metal("M30 36Q170 62 310 36V43Q170 69 30 43Z"),
            line("M40 66L50 43L60 66ZM280 66L290 43L300 66Z"),
            text("between the points it sags", 170, 24, "i m"),
            metal("M30 108H310V115H30Z"),
            line("M40 138L50 115L60 138ZM280 138L290 115L300 138ZM160 138L170 115L180 138Z"),
            path("M20 138H320", "ax"),
            named("a point or ring under the middle", 170, 98, 170, 116, "i m"),
        ),
    )


def embed() -> Sketch:
    return Sketch(
        "What is embedded in clay, in section",
        "Left, a loop whose roughened ends are bent apart within the clay. Right, a stone whose "
        "girdle lies below the face, over a hole that is open behind.",
        (
            metal("M20 70H222Q232 92 240 96V132H20Z"),
            metal("M290 132V96Q298 92 308 70H322V132Z"),
            line("M92 70V30a14 14 0 0 1 28 0V70M92 70V92L74 108M120 70V92L138 108"),
            glass("M224 76L236 62H294L306 76L265 112Z"),
            named("silver loop", 20, 30, 92, 40),
            named("ends bent apart", 128, 52, 134, 104),
            text("open behind", 265, 150, "i m"),
            named("girdle below the face", 326, 24, 290, 66, "i e"),
        ),
    )


def ring() -> Sketch:
    return Sketch(
        "A ring of clay shrinks three ways",
        "A band on a plug: it shrinks in its round, in its width and in its thickness, each by its own share.",
        (
            path("M110 80m-62 0a62 62 0 1 0 124 0a62 62 0 1 0 -124 0", "me"),
            path("M110 80m-62 0a62 62 0 1 0 124 0a62 62 0 1 0 -124 0", "", ' fill="url(#cut)"'),
            path("M110 80m-48 0a48 48 0 1 0 96 0a48 48 0 1 0 -96 0", "me"),
            text("plug", 110, 84, "i m"),
            metal("M216 40H300V54H216ZM216 106H300V120H216Z"),
            line("M216 54V106M300 54V106"),
            line("M216 138H300M216 134v8M300 134v8"),
            text("width", 258, 154, "i m"),
            line("M312 40v14M308 40h8M308 54h8"),
            text("thick", 304, 32, "i m"),
            line("M110 80m-70 -8a70 70 0 0 1 34 -52M72 16L74 20L69 23"),
            text("round", 28, 26, "i m"),
        ),
    )


def hollow() -> Sketch:
    return Sketch(
        "A hollow form of clay, in section",
        "A hollow ball with walls of one thickness, a vent at the top, bedded to half its height.",
        (
            path("M176 30A52 52 0 1 1 164 30L166 42A40 40 0 1 0 174 42Z", "me"),
            path("M176 30A52 52 0 1 1 164 30L166 42A40 40 0 1 0 174 42Z", "", ' fill="url(#cut)"'),
            line("M60 92H118M222 92H280M60 92V142H280V92"),
            grains(64, 140, 212, 1),
            arrow(170, 30, 170, 6),
            named("vent, always open", 196, 18, 173, 34),
            named("core burnt out", 28, 44, 156, 80),
            named("alike all round", 334, 60, 220, 84, "i e"),
            text("bedded to half its height", 170, 156, "i m"),
        ),
    )


def bezel() -> Sketch:
    return Sketch(
        "Enamel set in a bezel, in section",
        "A domed piece with glass on both faces lies on a soft bed in a bezel; the lip leans on its bare metal "
        "flange, with room around.",
        (
            metal("M40 124H300V134H40Z"),
            metal("M40 124V78L52 70L56 76L48 82V124ZM300 124V78L288 70L284 76L292 82V124Z"),
            path("M52 112H288V124H52Z", "me"),
            grains(58, 123, 226, 1, 9),
            glass("M84 112Q170 84 256 112Z"),
            metal("M54 112V104H72Q170 62 268 104H286V112H262Q170 80 78 112Z"),
            glass("M84 98Q170 46 256 98Q170 62 84 98Z"),
            named("lip bears on bare metal", 20, 44, 54, 76),
            named("room", 322, 60, 290, 96, "i e"),
            text("soft bed, touching all over", 170, 153, "i m"),
        ),
    )


def stone() -> Sketch:
    return Sketch(
        "Stoning level, and what is left to the flash fire",
        "Left, a wavy coat with the stone on its crests under running water. Right, the level coat, grey with "
        "scratches, that a flash fire closes.",
        (
            metal("M20 112H150V126H20ZM190 112H320V126H190Z"),
            glass("M20 112V82Q42 66 62 82Q86 98 106 80Q130 64 150 84V112Z"),
            metal("M50 58H124V74H50Z"),
            arrow(60, 46, 116, 46),
            text("wet, crossed each time", 84, 34, "i m"),
            glass("M190 112V88H320V112Z"),
            line("".join(f"M{x} 88l5 5" for x in range(196, 316, 9))),
            text("scratches and pits", 255, 62, "i m"),
            text("brush, rinse, flash fire", 255, 78, "q m"),
            text("keep glass over the metal", 170, 150, "i m"),
        ),
    )


def flex() -> Sketch:
    return Sketch(
        "A trial strip is flexed",
        "Left, a strip bent over a bar whose glass crazes and stays: it has taken. Right, one whose glass leaves in "
        "sheets over bright metal: it has not.",
        (
            path("M86 112m-30 0a30 30 0 1 0 60 0a30 30 0 1 0 -60 0", "me"),
            metal("M28 116Q46 74 86 76Q126 74 144 116L139 119Q122 82 86 82Q50 82 33 119Z"),
            glass("M28 116Q46 74 86 76Q126 74 144 116L150 113Q130 66 86 68Q42 66 22 113Z"),
            line("M60 74l3 8M76 68l1 9M96 68l-1 9M112 74l-3 8M42 88l6 6M130 88l-6 6"),
            text("crazed, stays: it holds", 86, 44, "i m"),
            path("M254 112m-30 0a30 30 0 1 0 60 0a30 30 0 1 0 -60 0", "me"),
            metal("M196 116Q214 74 254 76Q294 74 312 116L307 119Q290 82 254 82Q218 82 201 119Z"),
            glass("M226 62L254 54L256 61L229 70ZM272 50L296 62L292 68L270 57Z"),
            text("sheets off bright metal", 254, 34, "i m"),
            text("a bar of some width, in a clear bag, goggles on", 170, 156, "q m"),
        ),
    )


def jars() -> Sketch:
    jar = "".join(line(f"M{x} 52V128H{x + 64}V52") for x in (20, 128, 236))
    return Sketch(
        "Three jars in a row",
        "Wash water goes from jar to jar and stands in each; what settles stays behind, and only the clear part goes "
        "on, the last through a filter.",
        (
            jar,
            path("M20 76H84V128H20Z", "gl"),
            grains(22, 127, 62, 4),
            path("M128 76H192V128H128Z", "gl"),
            grains(130, 127, 62, 2),
            path("M236 76H300V128H236Z", "gl"),
            grains(238, 127, 62, 1),
            line("M76 62Q106 20 138 62M133 58L138 62L140 55"),
            line("M184 62Q214 20 246 62M241 58L246 62L248 55"),
            text("only what is clear goes on", 160, 22, "i m"),
            text("stands", 52, 146, "i m"),
            text("stands", 160, 146, "i m"),
            text("then the filter", 268, 146, "i m"),
        ),
    )


def twowires() -> Sketch:
    return Sketch(
        "Two wires in the kiln, where the work stands",
        "In the chamber, at the place of the work, a slip of silver bound on copper runs first, and a bridge of "
        "silver wire droops later; the probe at the back wall shows what the kiln believes.",
        (
            line("M40 20H300V138H40Z"),
            path("M52 126H288", "ax"),
            metal("M86 114H146V122H86Z"),
            path("M96 108H136V114H96Z", "gl"),
            line("M108 104v22M124 104v22"),
            metal("M184 100H194V126H184ZM246 100H256V126H246Z"),
            line("M182 98H258"),
            path("M186 98Q220 118 254 98", "wk", ' stroke-dasharray="3 3"'),
            line("M300 52H262M300 56H262"),
            named("silver on copper runs first", 50, 78, 114, 106),
            named("silver wire droops later", 292, 40, 240, 97, "i e"),
            text("probe", 306, 58, "i"),
            text("read the dial as each gives way", 170, 154, "i m"),
        ),
    )
