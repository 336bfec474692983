"""Drawings of powder before the fire: washed, sieved, held on a slope, laid, dried, kept apart, and three trials."""

from __future__ import annotations

from refdb.pictures.drawing import path, text
from refdb.pictures.how_parts import Sketch, arrow, glass, grains, line, metal, named


def rinse() -> Sketch:
    return Sketch(
        "Washing: stir, let the grains sink, pour the cloud off",
        "Three jars. In the first, water stands cloudy over powder that was stirred. In the second, the grains have "
        "sunk and the cloudy water is poured away. In the third, the water over the grains stays clear.",
        (
            line("M22 52V128H94V52"),
            path("M22 66H94V128H22Z", "gl"),
            grains(25, 127, 68, 2),
            grains(34, 104, 52, 1, 13),
            grains(28, 88, 62, 1, 15),
            line("M66 34L56 112"),
            path("M146 58L196 42L214 112L164 128Z", "gl"),
            line("M146 58L164 128L214 112L196 42"),
            grains(166, 126, 36, 1),
            path("M146 58Q134 78 134 132", "wk", ' stroke-dasharray="5 4"'),
            line("M248 52V128H320V52"),
            path("M248 66H320V128H248Z", "gl", ' fill-opacity="0.3"'),
            grains(251, 127, 68, 3),
            text("stir", 58, 24, "i m"),
            text("pour the cloud off", 158, 24, "i m"),
            text("again, until clear", 284, 44, "i m"),
            text("the grains stay, the fines go", 170, 152, "q m"),
        ),
    )


def mesh() -> Sketch:
    return Sketch(
        "Sieves part a jar by its grains",
        "A stack of two sieves over a pan: coarse grains stay on the upper mesh, the middle on the finer one, and "
        "fines fall through into the pan.",
        (
            line("M70 24V64M230 24V64M70 66V106M230 66V106M70 108V140H230V108"),
            path("M70 64H230", "wk", ' stroke-dasharray="9 7"'),
            path("M70 106H230", "wk", ' stroke-dasharray="4 3"'),
            grains(76, 62, 150, 2, 13),
            grains(76, 104, 152, 2, 8),
            grains(73, 139, 154, 1, 5),
            arrow(52, 40, 52, 132),
            text("coarse stays", 288, 50, "i m"),
            text("to lay or sift", 288, 92, "i m"),
            text("fines", 288, 130, "i m"),
            text("shake", 26, 90, "i m"),
        ),
    )


def slope() -> Sketch:
    return Sketch(
        "A steep wall wants a holding agent, flat work does not",
        "Left, dry powder has slid from the steep wall of a bowl and lies in a heap at its foot. Right, the wall was "
        "misted, and the powder stays where it fell.",
        (
            metal("M22 48L50 124H140V132H44L14 50Z"),
            grains(54, 122, 78, 3),
            line("M44 72L58 106M52 104L58 106L59 99"),
            metal("M202 48L230 124H320V132H224L194 50Z"),
            grains(234, 122, 84, 1),
            "".join(grains(206 + k * 4.4, 66 + k * 12, 8, 1) for k in range(5)),
            line("M262 44L284 30V58Z"),
            path("M256 44L222 60M256 48L228 78M256 52L236 94", "ld"),
            text("dry: it slides", 88, 26, "i m"),
            text("misted thinly: it holds", 244, 22, "i m"),
            text("let it dry before the fire", 170, 154, "q m"),
        ),
    )


def depth() -> Sketch:
    return Sketch(
        "A sifted first coat is about as deep as its metal",
        "Left, powder lies on metal in an even layer as deep as the metal is thick. Right, the fire has closed it to a "
        "thinner, level coat.",
        (
            metal("M26 96H146V116H26Z"),
            grains(28, 96, 118, 3, 6),
            line("M14 96V116M11 96H17M11 116H17M14 76V94M11 76H17"),
            arrow(156, 100, 184, 100),
            metal("M196 96H316V116H196Z"),
            glass("M196 86H316V96H196Z"),
            text("as deep as the metal,", 88, 40, "i m"),
            text("none of it showing", 88, 56, "i m"),
            text("fired: thinner, level", 256, 56, "i m"),
            text("the edge first, then the middle", 170, 146, "q m"),
        ),
    )


def drying() -> Sketch:
    return Sketch(
        "Dry on the warm kiln, and look at its mouth",
        "Left, a piece on its rack stands on top of a warm kiln and vapour leaves it. Right, it is held at the open "
        "mouth: no vapour rises, so it may go in.",
        (
            line("M26 84H146V138H26Z"),
            line("M50 76H122M58 76V84M114 76V84"),
            metal("M62 70H110V75H62Z"),
            grains(63, 70, 46, 1, 6),
            path("M72 60Q66 52 72 44T72 30M86 60Q80 52 86 44T86 30M100 60Q94 52 100 44T100 30", "ld"),
            line("M208 44H320V138H208M208 44V58M208 124V138"),
            line("M172 104H244M172 104L160 112"),
            metal("M190 97H232V102H190Z"),
            grains(191, 97, 40, 1, 6),
            text("vapour leaves", 86, 20, "i m"),
            text("no vapour: go in", 230, 30, "i m"),
            text("warm kiln", 86, 116, "i m"),
            text("hot", 280, 96, "i m"),
        ),
    )


def apart() -> Sketch:
    return Sketch(
        "One jar open, one spoon, one clean sheet",
        "One open jar stands on a clean sheet with its own spoon and its lid beside it. All other jars are closed and "
        "labelled.",
        (
            line("M20 128H196M30 136H206L196 128M20 128L30 136"),
            line("M60 62V122H120V62"),
            grains(62, 121, 58, 4),
            line("M140 118H184M140 118Q128 110 132 122Q134 128 140 118"),
            line("M142 100H186V106H142Z"),
            line("M228 70V136H268V70ZM224 60H272V70H224ZM284 70V136H324V70ZM280 60H328V70H280Z"),
            path("M232 92H264V110H232ZM288 92H320V110H288Z", "gl"),
            text("one open", 90, 48, "i m"),
            text("others shut, labelled", 262, 44, "i m"),
            text("what falls on a clean sheet goes back", 170, 156, "q m"),
        ),
    )


def trials() -> Sketch:
    return Sketch(
        "The first three pieces are tiles",
        "Three small copper tiles in section: one with clear alone; one with clear and a colour over it; one with "
        "white and a colour over it. Each has glass on its back.",
        (
            metal("M20 96H110V108H20ZM126 96H216V108H126ZM232 96H322V108H232Z"),
            glass("M20 84H110V96H20ZM20 108H110V118H20Z"),
            glass("M126 84H216V96H126ZM126 72H216V84H126ZM126 108H216V118H126Z"),
            glass("M232 84H322V96H232ZM232 72H322V84H232ZM232 108H322V118H232Z"),
            text("clear", 65, 62, "i m"),
            text("colour", 171, 48, "i m"),
            text("over clear", 171, 62, "i m"),
            text("colour", 277, 48, "i m"),
            text("over white", 277, 62, "i m"),
            named("glass on every back", 170, 146, 170, 120, "i m"),
        ),
    )
