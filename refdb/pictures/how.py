"""How it is done, in line: one drawing for each step that a drawing tells better than words.

No figure stands in these drawings; the rules beside them have the figures. `DRAWINGS` names them all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from refdb.pictures import how_bench, how_cells, how_coats, how_fire
from refdb.pictures.drawing import named_picture
from refdb.pictures.how_parts import Sketch

_BOX = "0 0 340 160"
#: Every drawing by its name, as practice_topics.csv gives it.
DRAWINGS: dict[str, Callable[[], Sketch]] = {
    "bath": how_bench.bath,
    "bezel": how_fire.bezel,
    "boxes": how_bench.boxes,
    "burnish": how_coats.burnish,
    "carbon": how_bench.carbon,
    "chip": how_bench.chip,
    "counter": how_bench.counter,
    "embed": how_fire.embed,
    "facets": how_cells.facets,
    "film": how_bench.film,
    "flex": how_fire.flex,
    "foil": how_bench.foil,
    "hollow": how_fire.hollow,
    "jars": how_fire.jars,
    "joint": how_coats.joint,
    "opening": how_cells.opening,
    "order": how_coats.order,
    "pour": how_bench.pour,
    "recess": how_cells.recess,
    "relief": how_cells.relief,
    "ring": how_fire.ring,
    "setdown": how_bench.setdown,
    "sieve": how_cells.sieve,
    "slip": how_coats.slip,
    "stages": how_bench.stages,
    "stone": how_fire.stone,
    "support": how_fire.support,
    "torch": how_fire.torch,
    "transfer": how_coats.transfer,
    "trivet": how_bench.trivet,
    "twowires": how_fire.twowires,
    "washes": how_cells.washes,
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
