"""A whole piece: write its file, judge it firing by firing, and plan it."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from refdb.cli.common import JsonOption, PoolOption, UnitsOption, names_in, opened, say_taken, typed
from refdb.cli.options import Argument, Group, Option
from refdb.cli.output import emit, emit_json
from refdb.cli.several import as_argument, each_file, shown_path
from refdb.errors import BadInput, RefdbError
from refdb.frozen import replace
from refdb.quantities.band import shown

if TYPE_CHECKING:
    from refdb.judge.piece.steps import InKiln, Piece
    from refdb.judge.verdict import Verdict
    from refdb.plan.improve import Improved
    from refdb.plan.lines import Plan
    from refdb.plan.packing import Container
    from refdb.records import ObservedFiring
    from refdb.store.reference import Reference

_USUAL_NAME = "piece.toml"
#: So many files for each processor are read before they are judged.
_JUDGED_TOGETHER = 64
_PLAN_FOLDER = Path(__file__).resolve().parent.parent / "plan"

piece = Group("Describe a whole piece, learn whether it will work, and plan it.")

_Files = Annotated[list[Path], Argument(metavar="FILE...", help="Piece files; refdb piece new writes one.")]

_Observed = Annotated[
    list[str] | None, Option("--observed", metavar="SEEN", help='When a glass shone: "GLASS: 815C 3min copper 0.75mm".')
]

_Load = Annotated[
    str | None, Option("--load", metavar="LOAD", help='Kiln and load, for minutes: "2 kW, rack 150 g, 4 at once".')
]


def _template(name: str) -> Path:
    """The file that a new piece begins from; BadInput for one that there is not."""
    if not name:
        return _PLAN_FOLDER / "new_piece.toml"
    known = {file.stem: file for file in sorted((_PLAN_FOLDER / "templates").glob("*.toml"))}
    if name.replace("-", "_") not in known:
        raise BadInput(f"there is no template {shown(name)}", "--template", f"name one of {', '.join(known)}")
    return known[name.replace("-", "_")]


@piece.command("new")
def new(
    file: Annotated[Path, Argument(metavar="[FILE]", help="Where to write it.")] = Path(_USUAL_NAME),
    template: Annotated[
        str, Option("--template", metavar="NAME", help="Begin from another: pendant, panel, class_set, ...")
    ] = "",
) -> None:
    """Write a piece file with remarks, to be changed.

    It never overwrites.

    \b
    Examples:
      refdb piece new moth.toml
      refdb piece new antennae.toml --template moth_antennae
    """
    from refdb.store.workshop.files import write_whole

    name = as_argument(Path(file.name))
    text = _template(template).read_text(encoding="utf-8").replace("THIS_FILE", name)
    try:
        write_whole(file, text)
    except FileExistsError:
        raise BadInput("there is a file of this name already", str(file), "give another name") from None
    except (OSError, ValueError) as error:
        raise BadInput(
            f"it cannot be written ({(getattr(error, 'strerror', None) or 'no such name').lower()})",
            str(file),
            "give another place",
        ) from None
    emit(f"Wrote {shown_path(file)}. Change it, then: refdb piece check {as_argument(file)}\n")


@piece.command("schema")
def schema() -> None:
    """Print the JSON Schema of a piece file, for editors.

    \b
    Example:
      refdb piece schema > piece.schema.json
    """
    emit((_PLAN_FOLDER / "piece.schema.json").read_text(encoding="utf-8"))


@piece.command("check")
def check(
    files: _Files,
    observed: _Observed = None,
    load: _Load = None,
    full: Annotated[bool, Option("--full", help="Everything: every reason, stage, caution and source.")] = False,
    pool: PoolOption = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> int:
    """Judge pieces, firing by firing.

    \b
    Examples:
      refdb piece check moth.toml
      refdb piece check moth.toml --observed "hard clear: 815C 3min copper 0.75mm"

    Exit status: 0 suits or suits with care, 1 does not suit, 5 cannot say; 2 or 3 when a file cannot be read.
    """
    from refdb.plan.load_text import in_kiln_of
    from refdb.plan.observed import observed_firings
    from refdb.plan.piecefile import read_piece

    in_kiln = None if load is None else in_kiln_of(typed(load))
    statuses: list[int] = []
    rows: list[dict[str, Any]] = []
    read: list[tuple[Path, Piece | RefdbError]] = []
    workers = os.cpu_count() or 1

    def show_read(ref: Reference, fault: Callable[[RefdbError], None]) -> None:
        verdicts = iter(_judged(ref, [found for _, found in read if not isinstance(found, RefdbError)], workers))
        for file, found in read:
            verdict = found if isinstance(found, RefdbError) else next(verdicts)
            if isinstance(verdict, RefdbError):
                if verdict is not found:
                    verdict = type(verdict)(verdict.what, f"{shown_path(file)}, {verdict.where}", verdict.todo)
                    fault(verdict)
                statuses.append(verdict.exit_status)
                rows.append({"file": shown_path(file), "fault": verdict.line})
                continue
            assert not isinstance(found, RefdbError)
            statuses.append(verdict.exit_status)
            rows.append({"file": shown_path(file), **_without_schema(verdict.as_dict())})
            if not as_json:
                if len(statuses) > 1:
                    emit("\n")
                _show_verdict(verdict, units, found.base.note, full)
        read.clear()

    with opened(pool=pool) as ref:
        names = names_in(ref)
        seen = observed_firings([typed(text) for text in observed or ()], ref, names)
        say_taken(names)
        for file, fault in each_file(files, "judging"):
            try:
                read.append((file, _with_seen(read_piece(file, ref), seen, in_kiln, alone=len(files) == 1)))
            except RefdbError as error:
                fault(error)
                read.append((file, error))
            if len(read) >= _JUDGED_TOGETHER * workers:
                show_read(ref, fault)
        if read:
            show_read(ref, fault)
    if as_json:
        emit_json(rows[0] if len(files) == 1 else {"rows": rows})
    return worst_status(statuses)


@piece.command("plan")
def plan(
    files: _Files,
    html: Annotated[
        Path | None, Option("--html", metavar="OUT", help="Write a sheet to print: a file, or a folder for several.")
    ] = None,
    container: Annotated[
        str | None,
        Option("--container", metavar="SIZE", help='Inner size of a firing container, "200x150x80 mm": how many fit.'),
    ] = None,
    observed: _Observed = None,
    load: _Load = None,
    pool: PoolOption = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> int:
    """Plan pieces: what to do in order, each firing, and amounts.

    \b
    Examples:
      refdb piece plan moth.toml
      refdb piece plan moth.toml --html moth.html --container "200x150x80 mm"

    Exit status: as for refdb piece check.
    """
    from refdb.judge.piece.verdict import judge_piece
    from refdb.plan.load_text import in_kiln_of
    from refdb.plan.observed import observed_firings
    from refdb.plan.packing import container_of
    from refdb.plan.piecefile import read_piece
    from refdb.plan.schedule import plan_of

    box: Container | None = None if container is None else container_of(typed(container))
    targets = _targets(files, html)
    in_kiln = None if load is None else in_kiln_of(typed(load))
    statuses: list[int] = []
    rows: list[dict[str, Any]] = []
    with opened(pool=pool) as ref:
        names = names_in(ref)
        seen = observed_firings([typed(text) for text in observed or ()], ref, names)
        say_taken(names)
        for file, fault in each_file(files, "planning"):
            try:
                found = _with_seen(read_piece(file, ref), seen, in_kiln, alone=len(files) == 1)
                verdict, planned = judge_piece(ref, found), plan_of(ref, found, box)
                if file in targets:
                    _write_sheet(targets[file], planned, verdict, file.name)
            except RefdbError as error:
                fault(error)
                statuses.append(error.exit_status)
                rows.append({"file": shown_path(file), "fault": error.line})
                continue
            statuses.append(verdict.exit_status)
            rows.append({"file": shown_path(file), **_plan_row(planned, verdict)})
            if not as_json:
                _show_plan(planned, verdict, file, units, targets.get(file), len(statuses) > 1)
    if as_json:
        emit_json(rows[0] if len(files) == 1 else {"rows": rows})
    return worst_status(statuses)


@piece.command("improve")
def improve(
    file: Annotated[Path, Argument(metavar="FILE.toml", help="A piece file.")],
    write: Annotated[
        Path | None, Option("--write", metavar="OUT", help="Write the changed file here; FILE itself stays.")
    ] = None,
    pool: PoolOption = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> int:
    """Find the fewest changes that make a piece hold.

    Each is tried on the plate.

    \b
    Example:
      refdb piece improve moth.toml --write moth-2.toml

    Exit status: 0 it holds with them, 1 or 5 as the verdict that is left.
    """
    from refdb.plan.improve import improve_text
    from refdb.plan.piecefile import read_text

    with opened(pool=pool) as ref:
        text = read_text(file)
        found = improve_text(ref, text, str(file))
    if write is not None and found.edits:
        from refdb.store.workshop.files import write_whole

        try:
            write_whole(write, found.text)
        except OSError as error:
            raise BadInput(f"it cannot be written ({(error.strerror or 'no').lower()})", str(write)) from None
    if as_json:
        emit_json(_improved_row(found))
    else:
        from refdb.cli.improve_page import improve_page

        improve_page(found, text, shown_path(file), units).show()
    return found.after.exit_status


def _improved_row(found: Improved) -> dict[str, Any]:
    return {
        "edits": [edit.words for edit in found.edits],
        "holds": found.holds,
        "before": {"verdict": found.before.outcome, "shares": found.before.shares},
        "after": {"verdict": found.after.outcome, "shares": found.after.shares, "sentence": found.after.sentence},
        "text": found.text,
    }


def _show_verdict(verdict: Verdict, units: UnitsOption, note: str, full: bool) -> None:
    if full:
        from refdb.cli.check_page import check_page

        check_page(verdict, units, note).show()
    else:
        from refdb.cli.short_page import short_page

        short_page(verdict, units).show()


def _judged(ref: Reference, pieces: Sequence[Piece], workers: int) -> list[Verdict | RefdbError]:
    """The verdict on each piece, or why there can be none."""
    from refdb.judge.piece.verdict import judge_piece, judge_pieces

    try:
        return list(judge_pieces(ref, pieces, workers))
    except RefdbError:
        found: list[Verdict | RefdbError] = []
        for one in pieces:
            try:
                found.append(judge_piece(ref, one))
            except RefdbError as error:
                found.append(error)
        return found


def _with_seen(found: Piece, seen: tuple[ObservedFiring, ...], in_kiln: InKiln | None, alone: bool) -> Piece:
    """The piece with the firings that were seen, and the kiln and load that were said in place of its file's; BadInput
    where a single piece has no such glass."""
    glasses = {step.glass for step in found.steps}
    strange = next((firing.material for firing in seen if firing.material not in glasses), None)
    if alone and strange is not None:
        raise BadInput(f"no step of {found.title} lays {strange}", "--observed", "name a glass of the piece")
    return replace(found, seen=seen, in_kiln=in_kiln or found.in_kiln)


def worst_status(statuses: Sequence[int]) -> int:
    """One exit status for several: a fault first, then does not suit, then cannot say."""
    for status in (4, 2, 3, 1, 5):
        if status in statuses:
            return status
    return 0


def _without_schema(whole: dict[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in whole.items() if k != "schema"}


def _plan_row(planned: Plan, verdict: Verdict) -> dict[str, Any]:
    judged = verdict.as_dict()
    head = {k: judged[k] for k in ("question", "verdict", "confidence", "sentence", "shares", "missing")}
    return head | planned.as_dict()


def _targets(files: Sequence[Path], html: Path | None) -> dict[Path, Path]:
    """Where the sheet of each file goes; BadInput when that cannot be."""
    if html is None:
        return {}
    several = len(files) > 1 or html.is_dir()
    if not several:
        if html.suffix.lower() not in (".html", ".htm"):
            raise BadInput("a sheet is a .html file", "--html", f"write for example --html {files[0].stem}.html")
        return {files[0]: html}
    if html.exists() and not html.is_dir():
        raise BadInput("several sheets need a folder, and this is a file", "--html", "name a folder")
    names = [f"{file.stem}.html" for file in files]
    twice = next((n for n in names if names.count(n) > 1), None)
    if twice is not None:
        raise BadInput(f"two sheets would be called {twice[:60]}", "--html", "plan those files one at a time")
    try:
        html.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        why = (getattr(error, "strerror", None) or "no such name").lower()
        raise BadInput(f"the folder cannot be made ({why})", str(html), "name another") from None
    return {file: html / name for file, name in zip(files, names, strict=True)}


def _write_sheet(target: Path, planned: Plan, verdict: Verdict, name: str) -> None:
    from refdb.plan.sheet import sheet
    from refdb.store.workshop.files import write_whole

    try:
        write_whole(target, sheet(planned, verdict, shown_path(Path(name))), over=True)
    except (OSError, ValueError) as error:
        why = (getattr(error, "strerror", None) or "no such name").lower()
        raise BadInput(f"the sheet cannot be written ({why})", str(target), "name another place") from None


def _show_plan(planned: Plan, verdict: Verdict, file: Path, units: Any, target: Path | None, apart: bool) -> None:
    from refdb.cli.piece_page import plan_page

    if target is not None:
        emit(f"{planned.piece.title}: {verdict.outcome}; the sheet is in {shown_path(target)}\n")
        return
    if apart:
        emit("\n")
    plan_page(planned, verdict, as_argument(file), units).show()
