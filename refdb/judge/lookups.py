"""What look-ups ask of the judge: the limits that rest on a source."""

from __future__ import annotations

from refdb.judge.limits import DOME_SOURCE, RELEASE_SOURCE
from refdb.judge.rules import RULES


def limits_resting_on(source: str) -> list[tuple[str, str]]:
    """The key of each limit of a verdict that rests on a source, and what it says."""
    found = [(r.key, f"{r.title}: {r.limit_words}") for r in RULES.values() if r.limit and r.source == source]
    if source == RELEASE_SOURCE:
        found.append(("edge-release", "what an edge of glass on copper resists, the scale of the release rate"))
    if source == DOME_SOURCE:
        found.append(("dome", "how much of a dome's restraint acts"))
    return found
