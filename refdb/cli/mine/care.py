"""Care of the person's own file: erasing for good, and saving what can be read of a damaged one."""

from __future__ import annotations

import sys
from collections import Counter
from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import JsonOption, seen_workshop
from refdb.cli.mine.places import place, there
from refdb.cli.options import Argument, Option
from refdb.cli.output import Page, emit_json
from refdb.cli.prompts import Stopped, confirm
from refdb.errors import BadInput, NotFound

if TYPE_CHECKING:
    from refdb.store.workshop.forget import ToForget

FINDINGS = 1


def forget(
    key: Annotated[str | None, Argument(metavar="[KEY]", help="my:NAME, tile:3, strip:1, firing:2 or kiln.")] = None,
    yes: Annotated[bool, Option("--yes", help="Do not ask first.")] = False,
    as_json: JsonOption = False,
) -> None:
    """Erase for good: nothing brings it back.

    A material goes with its tiles, strips, firings and stock, and with all its earlier states. Without KEY all that was
    removed and all earlier states go, and what stands stays. Copies made with refdb mine backup are not touched.

    \b
    Examples:
      refdb mine forget my:jar-12
      refdb mine forget --yes
    """
    from refdb.store.workshop.file import Workshop
    from refdb.store.workshop.forget import copies_beside, to_forget
    from refdb.store.workshop.forget import forget as forgotten

    kinds, bare = place(key) if key is not None else ((), "")
    with Workshop(seen_workshop(), write=there()) as shop:
        what = to_forget(shop, kinds, bare)
        if key is not None and not what.rows and not what.past:
            raise NotFound(f"nothing of yours is, or was, {key[:60]}", todo="refdb mine list has them all")
        if (what.rows or what.past) and not yes:
            _asked(what)
        erased = forgotten(shop, what)
        copies = [str(p) for p in copies_beside(shop.path)]
    counts = _counts(what)
    if as_json:
        emit_json({"forgotten": counts, **erased._asdict(), "copies": copies})
        return
    page = Page()
    page.paragraph(f"Erased: {_told(counts)}." if any(counts.values()) else "Nothing was there to erase.")
    for copy in copies:
        page.paragraph(f"A copy that was made before may still hold it, delete it if it should not: {copy}", 0, 2)
    if not erased.rewritten:
        page.paragraph(
            "There was no room to write the file anew, so it may still hold some of it where nothing reads: free some "
            "space and do this again."
        )
    if not erased.log_emptied:
        page.paragraph(
            "Its log may still hold some of it, for another program has the workshop open or the disk is full; once "
            "that is over, do this again."
        )
    page.show()


def _counts(what: ToForget) -> dict[str, int]:
    return {**Counter(kind for kind, _ in what.rows), "past": len(what.past)}


def _told(counts: dict[str, int]) -> str:
    from refdb.cli.mine.tables import KINDS

    words = [f"{n:,} {KINDS[k] if n > 1 else k}" for k, n in counts.items() if k != "past" and n]
    past = counts["past"]
    return ", ".join([*words, *([f"{past:,} earlier state{'s' if past > 1 else ''}"] if past else [])])


def _asked(what: ToForget) -> None:
    """Ask in a terminal; BadInput where nobody can be asked."""
    told = _told(_counts(what))
    if sys.stdin is None or not sys.stdin.isatty():
        raise BadInput(f"this would erase {told} for good", "", "say --yes if that is meant")
    if not confirm(f"Erase {told} for good?", err=True):
        raise Stopped


def repair(as_json: JsonOption = False) -> int:
    """Save what can be read of a damaged workshop.

    A new file takes its place. The damaged one is kept beside it.

    \b
    Example:
      refdb mine repair

    Exit status: 0 sound, or all was saved; 1 something is lost or doubtful; 4 nothing can be read.
    """
    from refdb.store.workshop.repair import repair as repaired

    path = seen_workshop()
    found = repaired(path)
    if as_json:
        emit_json(
            {
                "workshop": str(path),
                "saved": found.saved,
                "lost": found.lost,
                "doubtful": found.doubtful,
                "kept": None if found.kept is None else str(found.kept),
            }
        )
    else:
        _tell_repair(path, found)
    return FINDINGS if found.lost or found.doubtful else 0


def _tell_repair(path: Any, found: Any) -> None:
    from refdb.cli.mine.tables import KINDS

    page = Page()
    if found.kept is None:
        page.paragraph(f"Sound, so nothing was done: {path}", 0, 2)
        page.show()
        return
    saved = ", ".join(f"{n:,} {KINDS.get(k, 'earlier states')}" for k, n in found.saved.items() if n)
    page.paragraph(f"Saved: {saved or 'nothing'}.")
    for head, lines in (("Lost:", found.lost), ("Look these over with refdb mine show:", found.doubtful)):
        if lines:
            page.paragraph(head)
        for line in lines:
            page.paragraph(line, 2, 4)
    page.paragraph(f"The damaged file is kept: {found.kept}", 0, 2)
    page.show()
