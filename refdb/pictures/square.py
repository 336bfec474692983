"""A square code for the camera of a phone, as it is printed."""

from __future__ import annotations

from collections.abc import Sequence

from refdb.pictures.drawing import escaped, figure

#: Light modules around it, and the side of one on paper [mm].
QUIET, MODULE_MM = 4, 0.4


def square_code(rows: Sequence[Sequence[bool]], key: str, title: str) -> str:
    """The modules as one path, black on white in every light, for a camera does not read it the other way round.

    Parameters
    ----------
    rows : sequence of sequence of bool
        True where dark.
    key, title : str
        Id of the picture on its page, and its title.
    """
    side = len(rows) + 2 * QUIET
    runs = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            end = x
            while end < len(row) and row[end]:
                end += 1
            if end > x:
                runs.append(f"M{x + QUIET} {y + QUIET}h{end - x}v1h-{end - x}z")
            x = end + 1
    size = figure(side * MODULE_MM, 1)
    return (
        f'<svg class="code" viewBox="0 0 {side} {side}" width="{size}mm" height="{size}mm" role="img" '
        f'shape-rendering="crispEdges" aria-labelledby="{escaped(key)}-t"><title id="{escaped(key)}-t">'
        f'{escaped(title)}</title><rect width="{side}" height="{side}" fill="#fff"/>'
        f'<path fill="#000" d="{"".join(runs)}"/></svg>'
    )
