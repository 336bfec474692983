"""An address as a square code for the camera of a phone, in characters of a terminal."""

from __future__ import annotations

#: Light modules around the code, without which a camera does not find it.
_QUIET = 4
#: Two modules of a column, the upper and the lower, as one character; the ground of a terminal is taken to be dark.
_HALVES = {(False, False): "█", (False, True): "▀", (True, False): "▄", (True, True): " "}


#: The finest code that is printed: with more modules a camera asks for more than a sheet has room for.
FINEST_VERSION = 25


def code_rows(text: str, error: str = "m", finest: int = 40) -> list[list[bool]]:
    """The modules of a code, row by row, True where dark; none without the library, or where it would be too fine.

    Parameters
    ----------
    text : str
        What the camera reads.
    error : "l" or "m"
        How much of it may be lost.
    finest : int
        The version that it may have at most.
    """
    try:
        import segno
    except ImportError:
        return []
    try:
        found = segno.make(text, error=error, micro=False, boost_error=True)
    except segno.DataOverflowError:
        return []
    return [[bool(dark) for dark in row] for row in found.matrix] if int(found.version) <= finest else []


def code_lines(text: str) -> list[str]:
    """The lines of a code; none where the library that makes it is not installed.

    Parameters
    ----------
    text : str
        What the camera reads; at most some hundred characters.
    """
    rows = code_rows(text)
    if not rows:
        return []
    wide = len(rows[0]) + 2 * _QUIET
    blank = [False] * wide
    padded = [blank] * _QUIET + [[False] * _QUIET + row + [False] * _QUIET for row in rows] + [blank] * _QUIET
    if len(padded) % 2:
        padded.append(blank)
    return [
        "".join(_HALVES[upper, lower] for upper, lower in zip(padded[n], padded[n + 1], strict=True))
        for n in range(0, len(padded), 2)
    ]
