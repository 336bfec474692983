"""How many of the figures that a verdict uses are measured, read, worked out, or only remembered."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path

from refdb.curate.dump import opened
from refdb.frozen import dataclass
from refdb.judge.known import EXPECTED, EXPECTED_OF_CLAY


@dataclass(frozen=True)
class Share:
    """Figures of one kind of material that verdicts use: rows, facts (a shared figure once), and how they came."""

    kind: str
    rows: int
    facts: int
    remembered: int
    seen: dict[str, int]
    basis: dict[str, int]

    @property
    def recalled_share(self) -> float:
        """The part of the facts that is only recalled, 0 to 1."""
        return self.remembered / self.facts

    @property
    def line(self) -> str:
        """In one line; `remembered` counts facts that are only recalled."""
        return (
            f"{self.facts} figures of {self.kind} that verdicts use, {self.rows} with each glass of a group counted; "
            f"{self.remembered} ({self.recalled_share:.0%}) only from memory"
        )


def together(found: Sequence[Share]) -> Share:
    """Several kinds of material counted as one; raises ValueError where there are none."""
    if not found:
        raise ValueError("no shares to put together")
    seen, basis = Counter[str](), Counter[str]()
    for share in found:
        seen.update(share.seen)
        basis.update(share.basis)
    rows, facts, remembered = (sum(getattr(s, name) for s in found) for name in ("rows", "facts", "remembered"))
    return Share(" and ".join(s.kind for s in found), rows, facts, remembered, dict(seen), dict(basis))


def shares(path: Path) -> Iterator[Share]:
    """The preferred figures of metals and glasses in a store, by how they were seen and what they rest on."""
    for kind in ("metal", "glass"):
        names = EXPECTED[kind] + (EXPECTED_OF_CLAY if kind == "metal" else ())
        marks = ", ".join("?" for _ in names)
        with closing(opened(path)) as store:
            found = store.execute(
                "SELECT coalesce(v.shared_by, v.material), v.property, v.source, v.seen, v.basis "
                "FROM property_values v JOIN materials m ON m.key = v.material "
                f"WHERE v.preferred = 1 AND m.kind = ? AND v.property IN ({marks})",
                (kind, *names),
            ).fetchall()
        facts = {tuple(row) for row in found}
        if facts:
            seen, basis = Counter(str(f[3]) for f in facts), Counter(str(f[4]) for f in facts)
            recalled = sum("from memory" in (f[3], f[4]) for f in facts)
            yield Share(kind, len(found), len(facts), recalled, dict(seen), dict(basis))
