"""The person's own shelf: jars, metals, leaf, tiles and what is left of them, kept in a file of their own."""

from __future__ import annotations

import sys
from typing import Annotated, Any

from refdb.cli.common import CsvOption, JsonOption, seen_workshop, typed, workshop_path
from refdb.cli.mine.care import forget, repair
from refdb.cli.mine.files import backup, columns, export_files, import_files
from refdb.cli.mine.firings import kiln
from refdb.cli.mine.learn import learn
from refdb.cli.mine.options import Kind, OwnKey, texts_of, with_options
from refdb.cli.mine.places import place, there
from refdb.cli.mine.share import share
from refdb.cli.mine.strip import strip
from refdb.cli.mine.tiles import stock, tile, tiles
from refdb.cli.options import Group, Option
from refdb.errors import BadInput, NotFound

mine = Group(
    "Keep your own jars, metals, leaf and tiles. Their keys, my:NAME, work wherever a key does. "
    "The file is in your data folder; --workshop PATH or REFDB_WORKSHOP names another."
)


def _nothing_named() -> None:
    raise BadInput("it is not said what to add", todo="refdb mine add glass, metal or leaf")


add = Group("Add a material of your own.", _nothing_named)
mine.commands["add"] = add


@add.command("glass")
@with_options("glass")
def add_glass(as_json: JsonOption = False, **given: Any) -> None:
    """Add a jar of glass; in a terminal it asks for what is not given.

    \b
    Example:
      refdb mine add glass --name "Jar 12" --like clear-medium-lead-free
        --expansion "12.4 ppm/K" --span 20-400C --fuses 780-815C --lead-free
        --observed "800C 2.5min copper 0.75mm" --basis "maker's sheet"
    """
    _added("glass", given, as_json)


@add.command("metal")
@with_options("metal")
def add_metal(as_json: JsonOption = False, **given: Any) -> None:
    """Add a base metal or a metal clay; in a terminal it asks for what is not given.

    \b
    Example:
      refdb mine add metal --name "Old sheet" --like copper-sheet --basis guess
    """
    _added("metal", given, as_json)


@add.command("leaf")
@with_options("leaf")
def add_leaf(as_json: JsonOption = False, **given: Any) -> None:
    """Add a leaf or foil; in a terminal it asks for what is not given.

    \b
    Example:
      refdb mine add leaf --name "Thick foil" --like gold-foil-24k --thickness 5um
    """
    _added("leaf", given, as_json)


def _added(kind: str, given: dict[str, Any], as_json: bool) -> None:
    from refdb.cli.mine.firings import firing_rows, texts_of_firings
    from refdb.cli.mine.pages import told_row
    from refdb.cli.mine.questions import ask
    from refdb.cli.mine.values import class_alike, class_named, known_keys
    from refdb.plan.own.firings import keep_firings
    from refdb.plan.own.materials import material_row
    from refdb.store.workshop.file import Workshop
    from refdb.store.workshop.schema import PREFIX

    texts = texts_of(given)
    if sys.stdin is not None and sys.stdin.isatty() and not ("name" in texts and "basis" in texts):
        texts = ask(kind, texts)
    texts = class_named(kind, texts)
    known = known_keys()
    alike = class_alike(kind, texts, known[kind])
    row = material_row(kind, texts | ({"like": alike} if alike else {}), known)
    _, seen = texts_of_firings(given.get("observed"))
    firings = firing_rows(row, seen, texts.get("date"))
    with Workshop(seen_workshop(making=True), write=True) as shop, shop.change():
        row = shop.add(kind, row)
        waiting = shop.belonging(PREFIX + row["key"])
        firings = keep_firings(shop, PREFIX + row["key"], False, firings)
    told_row("Added", kind, row, as_json, firings=firings, waiting=waiting, guessed="basis" not in texts, alike=alike)


@mine.command("edit")
@with_options()
def edit(key: OwnKey, as_json: JsonOption = False, **given: Any) -> None:
    """Change a material of yours; none forgets a value.

    refdb mine restore undoes the change. A firing given with --observed is added to those there are; mine remove
    firing:N takes one away.

    \b
    Example:
      refdb mine edit my:jar-12 --set-point 510C --basis "own test"
    """
    from refdb.cli.mine.firings import firing_rows, texts_of_firings
    from refdb.cli.mine.pages import told_row
    from refdb.cli.mine.values import class_named, known_keys
    from refdb.plan.own.firings import keep_firings
    from refdb.plan.own.materials import material_row
    from refdb.store.workshop.file import Workshop
    from refdb.store.workshop.keys import own_key
    from refdb.store.workshop.schema import PREFIX

    texts = texts_of(given)
    forget, seen = texts_of_firings(given.get("observed"))
    if not texts and not forget and not seen:
        raise BadInput("nothing is to be changed", todo="give an option, such as --note")
    known = known_keys()
    with Workshop(workshop_path(), write=there()) as shop, shop.change():
        slug = own_key(typed(key))
        kind = shop.kind_of(slug)
        old = shop.row(kind, slug) if kind else None
        if kind is None or old is None:
            raise shop.not_found(slug)
        if (forget or seen) and kind != "glass":
            raise BadInput(f"a {kind} is not watched until it shines", "--observed", "give it with a jar of glass")
        texts = class_named(kind, texts)
        row = material_row(kind, texts, known, old) if set(texts) - {"date"} or not (forget or seen) else old
        firings = firing_rows(row, seen, texts.get("date"))
        if row is not old:
            row = shop.edit(kind, slug, row)
        firings = keep_firings(shop, PREFIX + row["key"], forget, firings)
    told_row("Changed", kind, row, as_json, firings=firings)


@mine.command("remove")
def remove(key: OwnKey, as_json: JsonOption = False) -> None:
    """Remove a material, tile, strip or firing; restore undoes it.

    \b
    Example:
      refdb mine remove my:jar-12
    """
    from refdb.cli.mine.pages import told_row
    from refdb.store.workshop.file import Workshop

    kinds, bare = place(key)
    with Workshop(workshop_path(), write=there()) as shop:
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
    if kinds[0] == "kiln":
        return NotFound("nothing is written down of your kiln", todo="refdb mine kiln --help tells how")
    return NotFound(f"there is no {kinds[0]} {bare}", todo=f"refdb mine list {kinds[0]} lists them")


@mine.command("restore")
def restore(key: OwnKey, as_json: JsonOption = False) -> None:
    """Bring back what was removed, or undo the last change.

    \b
    Example:
      refdb mine restore my:jar-12
    """
    from refdb.cli.mine.pages import told_row
    from refdb.store.workshop.file import Workshop

    kinds, bare = place(key)
    with Workshop(workshop_path(), write=there()) as shop:
        kind, row = shop.restore(kinds, bare)
    told_row("Restored", kind, row, as_json)


@mine.command("list")
def list_own(
    kind: Kind = "",
    removed: Annotated[bool, Option("--removed", help="What was removed and can be restored.")] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """List what is yours, of one kind or of all.

    \b
    Example:
      refdb mine list glass
    """
    from refdb.cli.mine.listing import list_page
    from refdb.store.workshop.rows import own_of
    from refdb.store.workshop.schema import OWN

    list_page((own_of(typed(kind).lower()).kind,) if kind else tuple(OWN), removed, as_json, as_csv)


@mine.command("show")
def show(key: OwnKey, as_json: JsonOption = False) -> None:
    """Show all that you wrote down of one.

    refdb show my:NAME tells what verdicts make of it.

    \b
    Example:
      refdb mine show my:jar-12
    """
    from refdb.cli.mine.pages import show_page
    from refdb.store.workshop.file import Workshop

    kinds, bare = place(key)
    with Workshop(seen_workshop()) as shop:
        kind = next((k for k in kinds if shop.row(k, bare) is not None), None)
        if kind is None:
            raise _not_there(shop, kinds, bare)
        show_page(shop, kind, bare, as_json)


for _name, _command in (
    ("import", import_files),
    ("export", export_files),
    ("backup", backup),
    ("columns", columns),
    ("stock", stock),
    ("tile", tile),
    ("tiles", tiles),
    ("strip", strip),
    ("learn", learn),
    ("share", share),
    ("forget", forget),
    ("repair", repair),
):
    mine.command(_name)(_command)
# A figure below zero is no option.
mine.command("kiln", with_hyphens=True)(kiln)
