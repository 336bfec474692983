"""An address as a square code for the camera of a phone, in characters of a terminal."""

from __future__ import annotations

#: Light modules around the code, without which a camera does not find it.
_QUIET = 4
#: Two modules of a column, the upper and the lower, as one character; the ground of a terminal is taken to be dark.
_HALVES = {(False, False): "█", (False, True): "▀", (True, False): "▄", (True, True): " "}


def code_lines(text: str) -> list[str]:
    """The lines of a code; none where the library that makes it is not installed.

    Parameters
    ----------
    text : str
        What the camera reads; at most some hundred characters.
    """
    try:
        import segno
    except ImportError:
        return []
    rows = [[bool(dark) for dark in row] for row in segno.make(text, error="m", micro=False).matrix]
    wide = len(rows[0]) + 2 * _QUIET
    blank = [False] * wide
    padded = [blank] * _QUIET + [[False] * _QUIET + row + [False] * _QUIET for row in rows] + [blank] * _QUIET
    if len(padded) % 2:
        padded.append(blank)
    return [
        "".join(_HALVES[upper, lower] for upper, lower in zip(padded[n], padded[n + 1], strict=True))
        for n in range(0, len(padded), 2)
    ]
