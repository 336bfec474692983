"""Drawings of cells, grounds and laying."""

from __future__ import annotations

from refdb.pictures.drawing import path, text
from refdb.pictures.how_parts import Sketch, arrow, glass, grains, line, metal, named


def recess() -> Sketch:
    return Sketch(
        "A cell in thick metal, in section",
        "Thick metal with an upright-walled cell; glass fills it and stands a little proud. Under it a floor is left.",
        (
            metal("M20 62H110V96H230V62H320V134H20Z"),
            glass("M110 96V59Q170 47 230 59V96Z"),
            named("filled proud, then stoned level", 170, 22, 170, 54, "i m"),
            named("upright wall", 24, 42, 108, 76),
            line("M262 62v34M258 62h8M258 96h8M262 96v38M258 134h8"),
            text("cell", 270, 84, "i"),
            text("floor", 270, 119, "i"),
        ),
    )


def wires() -> Sketch:
    wires = "".join(metal(f"M{x} 54h5v42h-5Z") for x in (70, 150, 232))
    return Sketch(
        "Wires standing in fused glass, in section",
        "Metal with glass on both faces. Wires stand in the fused coat of the front without reaching the metal; the "
        "cells between them are filled in thin lays, highest against the wires.",
        (
            metal("M20 106H320V122H20Z"),
            glass("M20 122H320V134H20Z"),
            glass("M20 90H320V106H20Z"),
            glass("M75 90V68Q112 82 150 68V90Z"),
            glass("M155 90V78Q193 84 232 78V90Z"),
            wires,
            named("wire, clear of the metal", 30, 24, 72, 52),
            named("thin lays", 196, 44, 194, 78),
            named("fused base", 262, 66, 272, 96),
            text("counter enamel", 170, 152, "i m"),
        ),
    )


def relief() -> Sketch:
    return Sketch(
        "A carved floor under clear glass, in section",
        "A floor carved in steps under one level of transparent glass: where it is deep the colour is dark.",
        (
            metal("M20 56H62V72H120V90H186V104H236V80H278V56H320V136H20Z"),
            glass("M62 56V72H120V90H186V104H236V80H278V56Z"),
            named("pale", 66, 34, 92, 64),
            named("dark", 226, 34, 212, 88),
            text("level of the glass", 146, 20, "q m"),
            path("M62 56H278", "ax"),
            named("metal left under the deepest cut", 170, 154, 212, 120, "i m"),
        ),
    )


def facets() -> Sketch:
    teeth = "".join(f"l10 {12 if n % 2 == 0 else -12}" for n in range(26))
    return Sketch(
        "Engine-cut lines under a transparent, in section",
        "A row of bright facets under an even coat with a true surface; light goes in, meets a facet and comes back.",
        (
            metal(f"M40 84{teeth}V134H40Z"),
            glass(f"M40 60H300V84{''.join(f'l-10 {12 if n % 2 == 0 else -12}' for n in range(26))}Z"),
            line("M110 24L135 90L166 24M160 32L166 24L168 34"),
            named("true surface", 210, 40, 240, 60),
            named("bright facet", 40, 154, 105, 92),
        ),
    )


def opening() -> Sketch:
    return Sketch(
        "Three ways to fill an opening",
        "Left, a small opening filled wet: the powder holds from wall to wall. Middle, a larger one on a sheet of "
        "mica. Right, cells on a thin copper shell that is etched away later.",
        (
            metal("M14 70H42V110H14ZM84 70H108V110H84Z"),
            glass("M42 72Q63 84 84 72V106Q63 98 42 106Z"),
            metal("M128 70H150V110H128ZM206 70H226V110H206Z"),
            glass("M150 76H206V110H150Z"),
            line("M124 112H230M124 115H230"),
            metal("M246 70H260V110H246ZM318 70H332V110H318ZM286 70H292V110H286Z"),
            glass("M260 76H286V110H260ZM292 76H318V110H292Z"),
            metal("M242 110H336V116H242Z"),
            text("wet, from the wall", 61, 46, "i m"),
            text("on mica", 178, 46, "i m"),
            text("on a shell", 288, 46, "i m"),
            text("air", 63, 132, "q m"),
            text("peels off", 178, 134, "q m"),
            text("etched away", 288, 134, "q m"),
        ),
    )


def washes() -> Sketch:
    return Sketch(
        "White in washes over a dark ground, in section",
        "Metal with dark glass on both faces. White lies on the front as one wash, as two, and as many; the tones go "
        "from dark grey to white.",
        (
            metal("M20 104H320V116H20Z"),
            path("M20 88H320V104H20Z", "gl"),
            path("M20 88H320V104H20Z", "spot", ' opacity=".72"'),
            path("M20 116H320V128H20Z", "spot", ' opacity=".72"'),
            path("M60 85H290V88H60ZM130 81H290V85H130ZM210 74Q250 68 290 81H210Z", "me"),
            text("one wash", 64, 62, "i"),
            text("two", 150, 62, "i"),
            text("many", 236, 52, "i"),
            text("dark grey", 64, 78, "q"),
            text("light", 236, 64, "q"),
            text("hard dark ground, and as much behind", 170, 148, "i m"),
        ),
    )


def sieve() -> Sketch:
    fall = "".join(f"M{x} {y}v5" for x, y in ((64, 62), (82, 74), (104, 60), (124, 78), (92, 94), (58, 90), (116, 96)))
    return Sketch(
        "A sieve over a piece on clean paper",
        "A sieve held above one edge of a domed piece; powder falls on the edge first. The piece lies on paper that "
        "catches the rest.",
        (
            line("M50 22V46M134 22V46"),
            path("M50 46H134", "wk", ' stroke-dasharray="3 3"'),
            grains(56, 44, 74, 2),
            line(fall),
            metal("M70 126Q170 84 270 126L266 132Q170 92 74 132Z"),
            path("M20 138H320", "ax"),
            arrow(160, 34, 236, 34),
            text("edge first, then across", 160, 26, "i"),
            line("M300 46v60M296 46h8M296 106h8"),
            text("height", 292, 80, "i e"),
            text("clean paper", 170, 154, "i m"),
        ),
    )


def wet() -> Sketch:
    return Sketch(
        "Wet grains drawn dry in a cell",
        "Damp grains lie in a cell between two wires, higher at the walls. The corner of a paper touches the edge and "
        "draws the water off.",
        (
            metal("M20 112H320V130H20Z"),
            metal("M86 60h5v52h-5ZM226 60h5v52h-5Z"),
            grains(94, 112, 134, 4),
            line("M231 72L292 34L318 60L236 96"),
            named("paper draws the water", 318, 22, 290, 40, "i e"),
            named("grains pressed into the corner", 20, 40, 96, 106),
            text("tap until they settle", 160, 150, "i m"),
        ),
    )
