"""Drawings of what goes with what: thickness, fit, foreign glass, lines, paint, lustre, plating, stones, two clays."""

from __future__ import annotations

from refdb.pictures.drawing import path, text
from refdb.pictures.how_parts import Sketch, arrow, glass, grains, line, metal, named


def thick() -> Sketch:
    return Sketch(
        "The metal rules: each coat stays under half of it",
        "Left, thick metal with a thin coat on each face stays flat. Right, thin metal between coats thicker than "
        "itself bends with them, and the glass cracks.",
        (
            metal("M22 80H148V108H22Z"),
            glass("M22 70H148V80H22ZM22 108H148V118H22Z"),
            metal("M192 98Q256 82 320 98V106Q256 90 192 106Z"),
            glass("M192 74Q256 58 320 74V98Q256 82 192 98ZM192 106Q256 90 320 106V124Q256 108 192 124Z"),
            line("M232 64l4 12l-4 12M274 64l-4 12l4 12"),
            text("thin coats: flat", 85, 54, "i m"),
            text("thick coats: it cracks", 256, 44, "i m"),
            named("metal", 26, 142, 60, 96),
            text("weigh glass against metal, face by face", 196, 152, "q m"),
        ),
    )


def fit() -> Sketch:
    return Sketch(
        "Glass that shrinks less than its metal ends squeezed",
        "Three pairs of bars. Hot, glass and metal are as long as each other. Cold and apart, the metal would be the "
        "shorter. Cold and bonded, the metal squeezes the glass from both ends.",
        (
            glass("M110 30H310V42H110Z"),
            metal("M110 42H310V54H110Z"),
            glass("M116 72H304V84H116Z"),
            metal("M128 88H292V100H128Z"),
            glass("M126 118H294V130H126Z"),
            metal("M126 130H294V142H126Z"),
            arrow(106, 124, 124, 124),
            arrow(314, 124, 296, 124),
            text("hot", 14, 46, "i"),
            text("cold, if apart", 14, 90, "i"),
            text("cold, bonded", 14, 134, "i"),
            text("squeezed glass holds, stretched glass cracks", 170, 157, "q m"),
        ),
    )


def dots() -> Sketch:
    return Sketch(
        "Glass that is no enamel goes on as dots and lines",
        "Left, small dots and a thin thread of bead glass stand on fused enamel. Right, a wide patch of it has cracked "
        "the enamel around and lifts at its edges.",
        (
            metal("M20 112H150V124H20ZM190 112H320V124H190Z"),
            glass("M20 94H150V112H20ZM190 94H320V112H190Z"),
            glass("M38 94Q38 84 45 84Q52 84 52 94ZM74 94Q74 84 81 84Q88 84 88 94ZM104 94Q104 89 118 89Q132 89 132 94Z"),
            glass("M206 92Q212 80 256 80Q300 80 306 92Q256 86 206 92Z"),
            line("M212 94l5 8l-4 8M300 94l-5 8l4 8"),
            text("dots and threads", 85, 64, "i m"),
            text("a wide patch flies off", 255, 60, "i m"),
            text("on fused enamel, never on the metal", 170, 148, "q m"),
        ),
    )


def pen() -> Sketch:
    return Sketch(
        "Lines are drawn on fused glass",
        "Left, a pen draws on a fused coat and the line melts onto it. Right, the same line on bare metal or leaf "
        "stays a dry film that a needle scrapes off.",
        (
            metal("M20 112H150V124H20ZM190 112H320V124H190Z"),
            glass("M20 92H150V112H20Z"),
            path("M36 91H96", "wk", ' stroke-width="3"'),
            line("M98 90L128 46M102 92L134 50L128 46M98 90L102 92"),
            path("M206 111H230M238 111H258M266 111H272", "wk", ' stroke-width="3"'),
            line("M278 110L304 62"),
            grains(246, 106, 30, 1, 9),
            text("on a fused coat", 76, 34, "i m"),
            text("on bare metal: scrapes off", 252, 46, "i m"),
            text("fired when it shines and a needle lifts nothing", 170, 150, "q m"),
        ),
    )


def films() -> Sketch:
    return Sketch(
        "Paint is built in thin films, each with its fire",
        "Left, three thin films of paint lie one over the other on a fused ground, each fired before the next. Right, "
        "one thick stroke has blistered and drawn up.",
        (
            metal("M20 112H150V124H20ZM190 112H320V124H190Z"),
            glass("M20 90H150V112H20ZM190 90H320V112H190Z"),
            path("M40 87H130M52 82H118M64 77H106", "wk", ' stroke-width="3"'),
            path("M226 90Q224 72 240 70Q252 60 264 72Q284 70 282 90Z", "me"),
            path("M238 80a4 4 0 1 0 8 0a4 4 0 1 0 -8 0M258 78a5 5 0 1 0 10 0a5 5 0 1 0 -10 0", "wk"),
            text("thin, fire, again", 85, 56, "i m"),
            text("thick: it blisters", 255, 46, "i m"),
            text("dry it first, and let the oil smoke off", 170, 148, "q m"),
        ),
    )


def smoke() -> Sketch:
    return Sketch(
        "The kiln stays open a finger wide until the smoke has gone",
        "A kiln seen from the side, its door open by a finger. Smoke from the lustre leaves through the gap, towards "
        "an extractor, before the door is shut.",
        (
            line("M120 52H300V134H120"),
            line("M98 50H105V136H98Z"),
            line("M105 122H120M108 119l-3 3l3 3M117 119l3 3l-3 3"),
            line("M170 120H260M180 120V134M250 120V134"),
            metal("M186 113H244V118H186Z"),
            glass("M186 105H244V113H186Z"),
            path("M188 103H242", "wk", ' stroke-width="2.5"'),
            path("M200 96Q180 70 150 68T112 46Q96 38 92 26M224 96Q200 62 160 60T116 42Q104 34 102 24", "ld"),
            line("M70 22H124L112 10H82Z"),
            named("brown film", 330, 88, 238, 102, "i e"),
            named("finger wide", 10, 100, 110, 120),
            text("extractor", 150, 22, "i"),
        ),
    )


def lacquer() -> Sketch:
    return Sketch(
        "Lacquer keeps the bath from the glass",
        "A plate in a plating bath. Lacquer covers the glass up to and over its edge, so that metal grows on bare "
        "metal alone.",
        (
            line("M30 44V136H310V44"),
            path("M30 62H310", "ax"),
            metal("M80 100H260V112H80Z"),
            glass("M120 88H220V100H120Z"),
            path("M114 100V86Q114 82 118 82H222Q226 82 226 86V100", "wk", ' stroke-width="3.5"'),
            path("M80 97H110M230 97H260M80 115H260", "wk", ' stroke-dasharray="2 3"'),
            line("M170 112V124M170 124H290V30"),
            named("lacquer, over the edge", 14, 30, 134, 81),
            text("glass", 170, 98, "i m"),
            text("last fire first, then the bath", 170, 154, "q m"),
        ),
    )


def seat() -> Sketch:
    return Sketch(
        "The setting goes through the fires empty",
        "Left, an empty bezel soldered to the piece stands in the fire with the glass around it. Right, the stone is "
        "set cold, after the last fire.",
        (
            metal("M20 108H150V120H20Z"),
            metal("M66 82H71V108H66ZM99 82H104V108H99Z"),
            glass("M20 96H58V108H20ZM112 96H150V108H112Z"),
            path("M34 140Q30 132 36 126M84 140Q80 132 86 126M134 140Q130 132 136 126", "ld"),
            arrow(158, 100, 182, 100),
            metal("M190 108H320V120H190Z"),
            metal("M236 82H241V108H236ZM269 82H274V108H269Z"),
            glass("M190 96H228V108H190ZM282 96H320V108H282Z"),
            line("M243 104V92Q255 74 267 92V104Z"),
            text("fired empty", 85, 62, "i m"),
            text("stone set cold", 255, 62, "i m"),
            text("nothing presses on the glass", 235, 146, "q m"),
        ),
    )


def grind() -> Sketch:
    return Sketch(
        "Old glass comes off under water",
        "A piece lies in a lined tray. A coarse stone rubs its glass under dripping water, and the slurry gathers in "
        "the tray.",
        (
            line("M30 88L44 138H296L310 88"),
            path("M36 110H304", "ax"),
            metal("M86 116H254V124H86Z"),
            glass("M86 104H160V116H86ZM222 104H254V116H222Z"),
            metal("M156 84H224V104H156Z"),
            arrow(148, 94, 116, 94),
            arrow(232, 94, 262, 94),
            path("M190 30V36M190 44V52M190 60V68", "wk"),
            line("M150 24H186Q194 24 194 30"),
            text("water", 140, 28, "i e"),
            named("coarse stone", 330, 64, 222, 88, "i e"),
            named("slurry: keep it", 14, 70, 62, 112),
            text("never as dust", 170, 156, "q m"),
        ),
    )


def room() -> Sketch:
    return Sketch(
        "Pieces stand apart, and away from the wall",
        "A kiln's floor from above, with elements along three walls and the door in front. Three pieces stand with "
        "room between them and to the walls, none close by the door.",
        (
            line("M70 28H270V132M70 28V132"),
            path("M80 126V38H260V126", "wk", ' stroke-dasharray="3 4"'),
            path("M70 132H270", "ax"),
            metal("M112 58H148V94H112ZM192 58H228V94H192ZM152 92H188V118H152Z"),
            line("M150 72H190M154 68l-4 4l4 4M186 68l4 4l-4 4M84 80H110M88 76l-4 4l4 4M106 76l4 4l-4 4"),
            named("elements", 4, 24, 80, 46),
            text("door", 170, 148, "i m"),
            text("room all round", 170, 20, "i m"),
        ),
    )


def skin() -> Sketch:
    return Sketch(
        "Heat and pickle, again, until no grey returns",
        "Left, sterling after one heat: a grey stain lies in its skin. Right, after several rounds of heat and pickle "
        "a skin of white silver lies over the stain.",
        (
            metal("M20 76H150V120H20Z"),
            path("M22 79H148M25 83H148M22 87H148", "wk", ' stroke-dasharray="2 4"'),
            arrow(156, 98, 184, 98),
            metal("M190 76H320V120H190Z"),
            path("M190 68H320V78H190Z", "me"),
            path("M192 84H318M195 88H318", "wk", ' stroke-dasharray="2 4"'),
            text("grey stain", 85, 60, "i m"),
            text("white silver skin", 255, 52, "i m"),
            text("sterling", 85, 136, "i m"),
            text("leave it unsanded", 255, 136, "i m"),
            text("heat, pickle, brush, again", 170, 156, "q m"),
        ),
    )


def seam() -> Sketch:
    return Sketch(
        "Two clays go through the fire apart",
        "Left, silver clay fired on copper clay: the two have melted into each other where they touch. Right, each "
        "was fired by its own leaflet and the two are riveted.",
        (
            metal("M24 96H146V116H24Z"),
            line("M46 96V80H124V96"),
            path("M46 96Q60 110 72 98Q84 114 98 98Q112 110 124 96Z", "me"),
            path("M58 116Q62 126 58 132M92 116Q96 128 92 136", "wk"),
            metal("M196 100H318V118H196Z"),
            line("M218 100V84H296V100Z"),
            metal(
                "M232 78H244V84H240V118H244V124H232V118H236V84H232ZM270 78H282V84H278V118H282V124H270V118H274V84H270Z"
            ),
            text("in one fire: they melt", 85, 60, "i m"),
            text("fired apart, riveted", 257, 60, "i m"),
            text("silver against copper", 85, 152, "q m"),
        ),
    )


def weigh() -> Sketch:
    return Sketch(
        "Weighed in air and in water, clay tells how dense it is",
        "A piece hangs by a thread from a balance, first in air and then wholly under water in a beaker, touching "
        "neither wall nor floor. The loss tells its volume.",
        (
            line("M40 30H130M85 18V30M85 30V82"),
            metal("M66 82H104V98H66Z"),
            line("M210 30H300M255 18V30M255 30V94"),
            metal("M236 94H274V110H236Z"),
            line("M212 58V136H298V58"),
            path("M212 72H298V136H212Z", "gl", ' fill-opacity="0.35"'),
            metal("M236 94H274V110H236Z"),
            line("M255 72V94"),
            text("in air", 85, 124, "i m"),
            text("in water", 255, 128, "i m"),
            text("no bubbles on it", 170, 154, "q m"),
        ),
    )


def domed() -> Sketch:
    return Sketch(
        "A slight dome stands the fire better than a flat sheet",
        "Left, a flat thin sheet has warped in the fire. Right, the same sheet, slightly domed before any glass, keeps "
        "its form.",
        (
            metal("M20 96Q50 84 82 98Q116 112 150 92V99Q116 119 82 105Q50 91 20 103Z"),
            glass("M20 88Q50 76 82 90Q116 104 150 84V92Q116 112 82 98Q50 84 20 96Z"),
            metal("M190 104Q255 82 320 104V111Q255 89 190 111Z"),
            glass("M190 96Q255 74 320 96V104Q255 82 190 104ZM190 111Q255 89 320 111V119Q255 97 190 119Z"),
            text("flat and thin: warps", 85, 62, "i m"),
            text("domed before laying", 255, 62, "i m"),
            text("glass on both faces", 255, 146, "q m"),
        ),
    )


def load() -> Sketch:
    return Sketch(
        "Into a hot kiln on its rack, by a long fork",
        "A gloved hand holds a long fork under a mesh rack with its piece, level, at the open mouth of a kiln that is "
        "already hot.",
        (
            line("M206 40H326V136H206M206 40V56M206 122V136"),
            path("M216 60V122M316 60V122", "wk", ' stroke-dasharray="3 4"'),
            line("M78 102H236"),
            path("M34 92H74Q86 92 86 102T74 112H34Z", "me"),
            path("M160 96H238", "wk", ' stroke-dasharray="5 3"'),
            metal("M178 85H222V91H178Z"),
            glass("M178 78H222V85H178Z"),
            text("glove", 54, 132, "i m"),
            text("long fork, level", 110, 76, "i m"),
            text("hot first", 266, 30, "i m"),
            text("in and out quickly, the door shut between", 170, 156, "q m"),
        ),
    )
