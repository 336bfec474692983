"""Line drawings of what may be seen on a fired piece, one fault a drawing, from `looks.svg` beside this file."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from pathlib import Path

_FILE = Path(__file__).with_name("looks.svg")


@cache
def _symbols() -> dict[str, str]:
    """The definition of each drawing by its key."""
    text = _FILE.read_text(encoding="utf-8")
    return {m[1]: m[0] for m in re.finditer(r'<symbol id="look-([\w-]+)".*?</symbol>', text, re.DOTALL)}


def drawings() -> tuple[str, ...]:
    """The keys of all drawings."""
    return tuple(_symbols())


def looks_once(keys: Iterable[str]) -> str:
    """The definitions of some drawings, which a page carries once; KeyError for one that there is not."""
    held = "".join(_symbols()[key] for key in dict.fromkeys(keys))
    return f'<svg class="defs" width="0" height="0" aria-hidden="true" focusable="false">{held}</svg>'


@cache
def look(key: str) -> str:
    """A drawing whose definition stands on the page; words have to stand beside it. KeyError for none."""
    box = re.search(r'viewBox="([^"]+)"', _symbols()[key])
    assert box is not None
    return f'<svg class="look" viewBox="{box[1]}" aria-hidden="true"><use href="#look-{key}"/></svg>'
