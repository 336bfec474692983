"""Build a store from its sources, and look a store over."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

from refdb.cli.common import CsvOption, JsonOption, one_form, seen_workshop, store_path
from refdb.cli.options import Argument, Option
from refdb.cli.output import Page, emit_json
from refdb.errors import BadInput, StoreUnusable
from refdb.words import short_path

FINDINGS = 1


def build(
    folder: Annotated[Path, Option("--from", metavar="DIR", help="The folder with the CSV files.")],
    to: Annotated[
        Path | None, Option("--to", metavar="FILE", help="The store to write; by default the one in use.")
    ] = None,
    pool: Annotated[
        list[Path] | None, Option("--pool", metavar="FILE", help="Shared tests that narrow classes; repeatable.")
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Build the store from its sources.

    An old store is replaced only when all went well. With --pool the classes that shared tests narrow get the figure of
    the pool, beside those of the sources; same files in the same order, same bytes.

    \b
    Example:
      refdb build --from data_sources --to own.db
    """
    try:
        found = folder.is_dir()
    except OSError:
        found = False
    if not found:
        raise BadInput(
            "there is no such folder",
            f"--from {short_path(folder, 80)}",
            "give the folder that holds sources.csv, metals.csv and the others",
        )
    from refdb.curate.build import build as built

    target = to or store_path()
    try:
        taught: list[str] = []
        if pool:
            from refdb.curate.pooled import build_with_pool

            report, taught = build_with_pool(folder, pool, target)
        else:
            report = built(folder, target)
    except OSError as error:
        raise StoreUnusable(
            f"the store cannot be written ({(error.strerror or 'unknown reason').lower()})",
            short_path(target, 80),
            "choose a folder that exists and that you may write to",
        ) from None
    if as_json:
        emit_json(
            {
                "target": str(report.target),
                "rows": report.rows,
                "size_bytes": report.size_bytes,
                "fingerprint": report.fingerprint,
                **({"pooled": taught} if taught else {}),
            }
        )
        return
    page = Page()
    page.paragraph(f"Built {report.target}, {report.size_bytes / 1e6:.2f} MB")
    page.pairs([(name.replace("_", " "), f"{count:>6,}") for name, count in report.rows.items()])
    page.pairs([("fingerprint", report.fingerprint)])
    if taught:
        page.paragraph(f"By pooled tiles: {', '.join(taught)}", 2, 4)
    page.show()


def verify(
    file: Annotated[
        Path | None, Argument(metavar="[FILE]", help="The store to look over; by default the one in use.")
    ] = None,
    against: Annotated[
        Path | None, Option("--against", metavar="OTHER", help="Tell what changed since this other, older store.")
    ] = None,
    full: Annotated[bool, Option("--full", help="With --against: every row that differs.")] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> int:
    """Look a store over, and your own shelf with it.

    Is every bit as it was built, is every table there, does every figure have its source? Findings give exit status
    1, and a store that changed since it was built gives 4. With --against: which figures and other rows, and which of
    the stored verdicts, are other ones now; 0 where nothing changed, 1 where something did, 4 where one is no store
    of this version.

    \b
    Example:
      refdb verify
    """
    if against is not None:
        return _tell_changes(against, file or store_path(), full, as_json, as_csv)
    if full or as_csv:
        raise BadInput(
            "there is nothing to list", "--full" if full else "--csv", "name the other store with --against OTHER.db"
        )
    from refdb.curate.dump import fingerprint
    from refdb.curate.dump import verify as verified
    from refdb.curate.seal import is_as_built

    path = file or store_path()
    own = seen_workshop(own=False) if file is None else path if _is_workshop(path) else None
    wrong, loose = _wrong_of(own) if own is not None and own.is_file() else (None, [])
    if own is not None and own == path:
        return _tell_workshop_alone(path, wrong or [], loose, as_json)
    try:
        as_built = is_as_built(path)
        findings = verified(path)
        mark = "" if findings else fingerprint(path)
    except OSError as error:
        raise StoreUnusable(
            f"the store cannot be read ({(error.strerror or 'unknown reason').lower()})", short_path(path, 80)
        ) from None
    if as_json:
        emit_json(
            {
                "store": str(path),
                "rows": [{"what": f.what, "where": f.where, "todo": f.todo} for f in findings],
                "fingerprint": mark,
                "as_built": as_built or None,
                **({} if wrong is None else {"workshop": str(own), "workshop_rows": wrong, "workshop_loose": loose}),
            }
        )
    else:
        page = _verified_page(path, findings, mark, as_built)
        if not findings:
            _add_shares(page, path)
        if wrong is not None:
            _add_workshop(page, own, wrong, loose)
        page.show()
    return FINDINGS if findings or wrong else 0


def _tell_changes(old: Path, new: Path, full: bool, as_json: bool, as_csv: bool) -> int:
    from refdb.cli.against_page import compared, show_csv, show_json, show_page

    one_form(as_json, as_csv)
    found = compared(old, new)
    if as_json:
        show_json(found)
    elif as_csv:
        show_csv(found)
    else:
        show_page(found, full)
    return 0 if found.same else FINDINGS


def _add_shares(page: Page, path: Path) -> None:
    from refdb.curate.shares import shares, together

    found = list(shares(path))
    for share in (*found, together(found)) if len(found) > 1 else found:
        page.paragraph(share.line, 2, 4)


def _verified_page(path: Path, findings: Sequence[StoreUnusable], mark: str, as_built: bool) -> Page:
    from refdb.store.edition import seal_path

    page = Page()
    sound = "Sound, and as it was built" if as_built else "Sound as far as can be told"
    page.paragraph(f"{'Not sound' if findings else sound}: {path}", 0, 4)
    if not as_built:
        page.paragraph(
            f"no fingerprint to compare with: {seal_path(path).name} is not beside it, so a figure "
            "that changed since the build may go unseen",
            2,
            4,
        )
    for finding in findings:
        page.paragraph(finding.what, 2, 4)
    if findings:
        page.paragraph(findings[0].todo, 2, 4)
    else:
        page.pairs([("fingerprint", mark)])
    return page


def _is_workshop(path: Path) -> bool:
    """Whether a file bears the mark of a workshop in its header."""
    from refdb.store.workshop.schema import APPLICATION_ID

    try:
        with path.open("rb") as file:
            return file.read(72)[68:] == APPLICATION_ID.to_bytes(4, "big")
    except OSError:
        return False


def _wrong_of(path: Path) -> tuple[list[str], list[str]]:
    """What is wrong with a workshop, and its loose ends."""
    from refdb.store.workshop.file import Workshop

    with Workshop(path) as shop:
        wrong = shop.findings()
        return wrong, [] if wrong else shop.loose_ends()


def _add_workshop(page: Page, path: Path | None, wrong: list[str], loose: list[str]) -> None:
    page.paragraph(f"{'Not sound' if wrong else 'Sound'}: your own shelf, {path}", 0, 4)
    for what in wrong:
        page.paragraph(what, 2, 4)
    if wrong:
        page.paragraph(
            "refdb mine repair saves what can be read; a copy made with refdb mine backup may take its place", 2, 4
        )
    if loose:
        page.paragraph("Loose ends, which hurt nothing: refdb mine restore brings back what was removed.", 2, 4)
    for what in loose:
        page.paragraph(what, 4, 6)


def _tell_workshop_alone(path: Path, wrong: list[str], loose: list[str], as_json: bool) -> int:
    if as_json:
        emit_json({"workshop": str(path), "workshop_rows": wrong, "workshop_loose": loose})
    else:
        page = Page()
        _add_workshop(page, path, wrong, loose)
        page.show()
    return FINDINGS if wrong else 0
