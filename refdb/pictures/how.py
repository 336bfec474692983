"""How it is done, in line: one drawing for each step that a drawing tells better than words.

No figure stands in these drawings; the rules beside them have the figures. `DRAWINGS` names them all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from refdb.pictures import how_bench, how_cells, how_coats, how_fire, how_limits, how_powder, how_words
from refdb.pictures.drawing import named_picture
from refdb.pictures.how_parts import Sketch

_BOX = "0 0 340 160"
#: Every drawing by its name, as practice_topics.csv gives it.
DRAWINGS: dict[str, Callable[[], Sketch]] = {
    "apart": how_powder.apart,
    "aside": how_words.apart_from_the_kiln,
    "bath": how_bench.bath,
    "bezel": how_fire.bezel,
    "boxes": how_bench.boxes,
    "burnish": how_coats.burnish,
    "carbon": how_bench.carbon,
    "care": how_words.care,
    "chip": how_bench.chip,
    "counter": how_bench.counter,
    "depth": how_powder.depth,
    "domed": how_limits.domed,
    "dots": how_limits.dots,
    "drying": how_powder.drying,
    "embed": how_fire.embed,
    "facets": how_cells.facets,
    "film": how_bench.film,
    "films": how_limits.films,
    "fit": how_limits.fit,
    "flex": how_fire.flex,
    "foil": how_bench.foil,
    "four": how_words.four,
    "grind": how_limits.grind,
    "hollow": how_fire.hollow,
    "jars": how_fire.jars,
    "joint": how_coats.joint,
    "lacquer": how_limits.lacquer,
    "lesson": how_words.lesson,
    "load": how_limits.load,
    "mark": how_words.mark,
    "mesh": how_powder.mesh,
    "opening": how_cells.opening,
    "order": how_coats.order,
    "pen": how_limits.pen,
    "pour": how_bench.pour,
    "recess": how_cells.recess,
    "relief": how_cells.relief,
    "ring": how_fire.ring,
    "rinse": how_powder.rinse,
    "room": how_limits.room,
    "seam": how_limits.seam,
    "seat": how_limits.seat,
    "setdown": how_bench.setdown,
    "sieve": how_cells.sieve,
    "sinks": how_words.sinks,
    "skin": how_limits.skin,
    "slip": how_coats.slip,
    "slope": how_powder.slope,
    "smoke": how_limits.smoke,
    "spot": how_words.spot,
    "stages": how_bench.stages,
    "stone": how_fire.stone,
    "support": how_fire.support,
    "thick": how_limits.thick,
    "torch": how_fire.torch,
    "transfer": how_coats.transfer,
    "trials": how_powder.trials,
    "trivet": how_bench.trivet,
    "twowires": how_fire.twowires,
    "unlabelled": how_words.unlabelled,
    "washes": how_cells.washes,
    "weigh": how_limits.weigh,
    "wet": how_cells.wet,
    "wires": how_cells.wires,
    "worn": how_coats.worn,
}


def drawing(name: str) -> str:
    """A drawing as SVG.

    Raises
    ------
    KeyError
        There is no drawing of this name.
    """
    sketch = DRAWINGS[name]()
    return named_picture(f"how-{name}", sketch.title, sketch.said, _BOX, sketch.parts)


def drawings(names: Iterable[str]) -> list[tuple[str, str]]:
    """Drawings with their titles, in this order."""
    return [(DRAWINGS[name]().title, drawing(name)) for name in names]
