"""Drawings of coats and what they meet: order, a print, a joint, a ring in wear, foil burnished onto silver, a slip."""

from __future__ import annotations

from refdb.pictures.drawing import path, text
from refdb.pictures.how_parts import Sketch, arrow, glass, grains, line, metal, named


def order() -> Sketch:
    return Sketch(
        "A hard coat beneath a softer one, and the other way round",
        "Left, a hard coat lies under a softer one and the border stays level. Right, a soft coat under a harder one "
        "comes up through it as spots.",
        (
            metal("M20 112H150V124H20ZM190 112H320V124H190Z"),
            glass("M20 88H150V112H20Z"),
            glass("M20 66H150V88H20Z"),
            glass("M190 88H320V112H190Z"),
            glass("M190 66H320V88H190Z"),
            path("M214 88Q216 72 210 64H226Q220 72 222 88ZM262 88Q264 72 258 64H274Q268 72 270 88Z", "me"),
            text("soft", 85, 82, "i m"),
            text("hard", 85, 105, "i m"),
            text("hard", 300, 82, "i m"),
            text("soft", 300, 105, "i m"),
            text("stays in order", 85, 50, "i m"),
            text("comes through", 255, 50, "i m"),
            text("the lower coat must not melt first", 170, 148, "q m"),
        ),
    )


def transfer() -> Sketch:
    return Sketch(
        "A decal is pressed out from the middle",
        "A print under its film of lacquer lies on a light, glossy ground; water and air are pressed out from the "
        "middle to both edges before it dries.",
        (
            metal("M30 112H310V122H30Z"),
            glass("M30 92H310V112H30Z"),
            line("M62 88H278"),
            path("M62 82H278", "wk", ' stroke-dasharray="6 4"'),
            metal("M154 40H186V76H154Z"),
            arrow(146, 66, 76, 66),
            arrow(194, 66, 264, 66),
            text("from the middle outwards", 170, 28, "i m"),
            named("film over print", 334, 54, 270, 82, "i e"),
            text("light, glossy ground", 170, 106, "i m"),
            text("dry it, and burn the film off slowly", 170, 148, "q m"),
        ),
    )


def joint() -> Sketch:
    return Sketch(
        "Solder is kept clear of the glass",
        "A pin joint is soldered to the back before any glass. The glass ends short of the seam, so that bare metal "
        "lies between.",
        (
            metal("M30 72H310V82H30Z"),
            glass("M30 58H310V72H30Z"),
            glass("M30 82H126V96H30ZM214 82H310V96H214Z"),
            metal("M156 90H184V124H156Z"),
            path("M150 82H190L184 90H156Z", "wk"),
            line("M126 104V110M150 104V110M126 107H150"),
            text("bare", 138, 126, "i m"),
            named("seam, made first", 330, 140, 188, 88, "i e"),
            text("glass on the front", 170, 46, "i m"),
        ),
    )


def worn() -> Sketch:
    return Sketch(
        "On a ring the glass lies below its rims",
        "A band in section: upright metal rims stand above the glass and take the knocks; beside it, glass that stands "
        "proud and has chipped.",
        (
            metal("M24 62H40V100H132V62H148V116H24Z"),
            glass("M40 72H132V100H40Z"),
            line("M24 52H148M30 48l-6 4l6 4M142 48l6 4l-6 4"),
            text("rims take the knocks", 86, 38, "i m"),
            metal("M192 100H316V116H192Z"),
            glass("M200 100Q204 70 254 66Q292 68 298 84L290 86L296 92L308 100Z"),
            text("proud: it chips", 254, 50, "i m"),
            text("in section", 170, 146, "q m"),
        ),
    )


def burnish() -> Sketch:
    return Sketch(
        "Gold foil is burnished onto warm silver",
        "Silver lies on a hot plate with the foil on it. A polished tool presses from the middle outwards, and "
        "tweezers hold the piece.",
        (
            metal("M40 112H300V132H40Z"),
            metal("M90 96H250V112H90Z"),
            line("M110 93H230"),
            path("M166 88L176 88L214 30L204 26Z", "me"),
            arrow(158, 80, 116, 80),
            arrow(190, 80, 228, 80),
            line("M16 70L92 100M16 84L92 106"),
            named("foil", 64, 62, 114, 92),
            named("agate or steel", 330, 22, 214, 36, "i e"),
            text("fine silver", 170, 108, "i m"),
            text("hot plate", 170, 127, "i m"),
            text("from the middle outwards", 170, 152, "q m"),
        ),
    )


def slip() -> Sketch:
    return Sketch(
        "A line is scratched through the dry coat",
        "Liquid enamel has dried to a chalky coat. A point draws through it to the fired coat beneath, and the crumbs "
        "are tipped onto a damp cloth.",
        (
            metal("M40 110H300V122H40Z"),
            glass("M40 98H300V110H40Z"),
            grains(43, 97, 112, 2, 6),
            grains(190, 97, 112, 2, 6),
            metal("M168 96L176 92L214 30L204 24Z"),
            line("M152 97H190"),
            named("dry bisque", 20, 58, 70, 86),
            named("fired coat", 330, 74, 280, 102, "i e"),
            text("never wet it again, never blow", 170, 148, "q m"),
        ),
    )
