"""The person's own shelf: jars, metals, leaf, tiles and what is left of them, kept in a file of their own."""

from __future__ import annotations

import sys
from typing import Annotated, Any

import typer

from refdb.cli.common import JsonOption, typed, workshop_path
from refdb.cli.mine_asked import (
    Alloy,
    Basis,
    Cadmium,
    Colourant,
    Cubical,
    Date,
    Expansion,
    Fineness,
    Form,
    Fuses,
    Hardness,
    Lead,
    LeadFree,
    Like,
    Name,
    Note,
    OfMetal,
    Optical,
    OwnKey,
    SetPoint,
    Shrinkage,
    Solidus,
    Span,
    Thickness,
    texts_of,
)
from refdb.cli.mine_files import backup, columns, export_files, import_files
from refdb.cli.mine_learn import learn
from refdb.cli.mine_strip import strip
from refdb.cli.mine_tiles import stock, tile, tiles
from refdb.cli.output import emit
from refdb.errors import BadInput, NotFound

mine = typer.Typer(
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Keep your own jars, metals, leaf and tiles; their keys, my:NAME, work wherever a key does. "
    "The file is in your data folder; --workshop PATH or REFDB_WORKSHOP names another.",
)
add = typer.Typer(rich_markup_mode=None, pretty_exceptions_enable=False, help="Add a material of your own.")
mine.add_typer(add, name="add")

@mine.callback(invoke_without_command=True)
def _mine(context: typer.Context) -> None:
    if context.invoked_subcommand is None:
        emit(context.get_help() + "\n")
        raise typer.Exit


@add.callback(invoke_without_command=True)
def _add(context: typer.Context) -> None:
    if context.invoked_subcommand is None:
        raise BadInput("it is not said what to add", todo="refdb mine add glass, metal or leaf")


@add.command("glass")
def add_glass(
    name: Name = None, like: Like = None, optical: Optical = None, hardness: Hardness = None, lead: Lead = None,
    lead_free: LeadFree = False, cadmium: Cadmium = None, colourant: Colourant = None, expansion: Expansion = None,
    span: Span = None, cubical: Cubical = False, fuses: Fuses = None, set_point: SetPoint = None, basis: Basis = None,
    date: Date = None, note: Note = None, as_json: JsonOption = False,
) -> None:
    """Add a jar of glass; in a terminal it asks for what is not given.

    \b
    Example:
      refdb mine add glass --name "Jar 12" --expansion "12.4 ppm/K" --expansion-span 20-400C
        --fuses 780-815C --lead-free --like clear-medium-lead-free --basis "maker's sheet"
    """
    _added("glass", locals())


@add.command("metal")
def add_metal(
    name: Name = None, like: Like = None, form: Form = None, alloy: Alloy = None, expansion: Expansion = None,
    span: Span = None, cubical: Cubical = False, solidus: Solidus = None, shrinkage: Shrinkage = None,
    basis: Basis = None, date: Date = None, note: Note = None, as_json: JsonOption = False,
) -> None:
    """Add a base metal or a metal clay; in a terminal it asks for what is not given.

    \b
    Example:
      refdb mine add metal --name "Old sheet" --like copper-sheet --basis guess
    """
    _added("metal", locals())


@add.command("leaf")
def add_leaf(
    name: Name = None, like: Like = None, metal: OfMetal = None, fineness: Fineness = None, form: Form = None,
    thickness: Thickness = None, basis: Basis = None, date: Date = None, note: Note = None,
    as_json: JsonOption = False,
) -> None:
    """Add a leaf or foil; in a terminal it asks for what is not given.

    \b
    Example:
      refdb mine add leaf --name "Thick foil" --like gold-foil-24k --thickness 5um --basis "maker's sheet"
    """
    _added("leaf", locals())


def _added(kind: str, given: dict[str, Any]) -> None:
    from refdb.cli.mine_options import known_keys, material_row
    from refdb.cli.mine_page import ask, told_row
    from refdb.store.workshop import Workshop

    texts = texts_of(given)
    if sys.stdin is not None and sys.stdin.isatty() and not ("name" in texts and "basis" in texts):
        texts = ask(kind, texts)
    row = material_row(kind, texts, known_keys())
    with Workshop(workshop_path(), write=True) as shop:
        row = shop.add(kind, row)
    told_row("Added", kind, row, given["as_json"])


@mine.command("edit")
def edit(
    key: OwnKey,
    name: Name = None, like: Like = None, optical: Optical = None, hardness: Hardness = None, lead: Lead = None,
    lead_free: LeadFree = False, cadmium: Cadmium = None, colourant: Colourant = None, form: Form = None,
    alloy: Alloy = None, metal: OfMetal = None, fineness: Fineness = None, expansion: Expansion = None,
    span: Span = None, cubical: Cubical = False, fuses: Fuses = None, set_point: SetPoint = None,
    solidus: Solidus = None, shrinkage: Shrinkage = None, thickness: Thickness = None, basis: Basis = None,
    date: Date = None, note: Note = None, as_json: JsonOption = False,
) -> None:
    """Change a material of yours; none forgets a value, and mine restore undoes it.

    \b
    Example:
      refdb mine edit my:jar-12 --set-point 510C --basis "own test"
    """
    from refdb.cli.mine_options import known_keys, material_row
    from refdb.cli.mine_page import told_row
    from refdb.store.own_keys import own_key
    from refdb.store.workshop import Workshop

    texts = texts_of(locals())
    if not texts:
        raise BadInput("nothing is to be changed", todo="give an option, such as --note")
    known = known_keys()
    with Workshop(workshop_path(), write=_there()) as shop:
        slug = own_key(typed(key))
        kind = shop.kind_of(slug)
        old = shop.row(kind, slug) if kind else None
        if kind is None or old is None:
            raise shop.not_found(slug)
        row = shop.edit(kind, slug, material_row(kind, texts, known, old))
    told_row("Changed", kind, row, as_json)


def _there() -> bool:
    """Whether there is a workshop to write to: without one, opening it to read gives the clear line."""
    return workshop_path().is_file()


def _place(key: str) -> tuple[tuple[str, ...], str]:
    """Kinds and bare key (or number) that a key of a row means."""
    from refdb.store.own_keys import own_key
    from refdb.store.workshop_schema import NAMED

    text = typed(key).strip().lower()
    for kind in ("tile", "strip"):
        if text.startswith(f"{kind}:"):
            number = text.partition(":")[2]
            if not number.isdecimal() or not number.isascii() or len(number) > 9:
                raise BadInput(f"'{number[:20]}' is no number", key[:40], f"write it as {kind}:3")
            return (kind,), str(int(number))
    return NAMED, own_key(typed(key))


@mine.command("remove")
def remove(key: OwnKey, as_json: JsonOption = False) -> None:
    """Remove a material, tile or strip; mine restore brings it back.

    \b
    Example:
      refdb mine remove my:jar-12
    """
    from refdb.cli.mine_page import told_row
    from refdb.store.workshop import Workshop

    kinds, bare = _place(key)
    with Workshop(workshop_path(), write=_there()) as shop:
        kind = next((k for k in kinds if shop.row(k, bare) is not None), None)
        if kind is None:
            raise _not_there(shop, kinds, bare)
        row = shop.row(kind, bare)
        assert row is not None
        shop.remove(kind, bare)
    told_row("Removed", kind, row, as_json, f"refdb mine restore {key} brings it back.")


def _not_there(shop: Any, kinds: tuple[str, ...], bare: str) -> NotFound:
    if len(kinds) > 1:
        found: NotFound = shop.not_found(bare)
        return found
    return NotFound(f"there is no {kinds[0]} {bare}", todo=f"refdb mine {kinds[0]}s lists them")


@mine.command("restore")
def restore(key: OwnKey, as_json: JsonOption = False) -> None:
    """Bring back what was removed, or undo the last change of what stands there.

    \b
    Example:
      refdb mine restore my:jar-12
    """
    from refdb.cli.mine_page import told_row
    from refdb.store.workshop import Workshop

    kinds, bare = _place(key)
    with Workshop(workshop_path(), write=_there()) as shop:
        kind, row = shop.restore(kinds, bare)
    told_row("Restored", kind, row, as_json)


@mine.command("list")
def list_own(
    kind: Annotated[str, typer.Argument(metavar="[KIND]", help="glass, metal, leaf, tile, strip or stock.")] = "",
    removed: Annotated[bool, typer.Option("--removed", help="What was removed and can be restored.")] = False,
    as_json: JsonOption = False,
) -> None:
    """List what is yours.

    \b
    Example:
      refdb mine list glass
    """
    from refdb.cli.mine_page import list_page
    from refdb.store.own_rows import own_of
    from refdb.store.workshop_schema import NAMED

    list_page((own_of(typed(kind).lower()).kind,) if kind else NAMED, removed, as_json)


@mine.command("show")
def show(key: OwnKey, as_json: JsonOption = False) -> None:
    """Show what you wrote down of one; refdb show my:NAME tells what verdicts make of it.

    \b
    Example:
      refdb mine show my:jar-12
    """
    from refdb.cli.mine_page import show_page
    from refdb.store.workshop import Workshop

    kinds, bare = _place(key)
    with Workshop(workshop_path()) as shop:
        kind = next((k for k in kinds if shop.row(k, bare) is not None), None)
        if kind is None:
            raise _not_there(shop, kinds, bare)
        show_page(shop, kind, bare, as_json)


for _name, _command in (("import", import_files), ("export", export_files), ("backup", backup),
                        ("columns", columns), ("stock", stock), ("tile", tile), ("tiles", tiles),
                        ("strip", strip), ("learn", learn)):
    mine.command(_name)(_command)
