"""Who may import whom: read from the source, so that a new arrow upward fails."""

from __future__ import annotations

import ast
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "refdb"

#: Every room with its floor; a room may use itself and the rooms of lower floors.
FLOORS = {
    "frozen": 0,
    "processes": 0,
    "words": 0,
    "errors": 1,
    "science": 1,
    "pictures": 1,
    "records": 2,
    "judge": 3,
    "store": 3,
    "ask": 4,
    "plan": 4,
    "curate": 5,
    "browse": 5,
    "cli": 6,
}
#: Doors of the house: they stand above all rooms.
DOORS = {"__init__", "__main__"}
ALSO_ALLOWED = {("science", "errors"), ("pictures", "errors")}


def room_of(module: str) -> str:
    """The room of a module such as `refdb.judge.reasons`; the package itself is a door."""
    _, _, rest = module.partition(".")
    head = rest.partition(".")[0]
    if not rest or head in DOORS:
        return "door"
    return "records" if head in ("records", "quantities") else head


def only_for_types(node: ast.If) -> bool:
    return isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"


def imported(tree: ast.AST) -> set[str]:
    """Modules imported anywhere at run time, in functions too; imports for types alone draw no arrow."""
    found: set[str] = set()
    waiting = [tree]
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.If) and only_for_types(node):
            waiting.extend(node.orelse)
            continue
        if isinstance(node, ast.Import):
            found |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written out in full"
            assert node.module
            # `from refdb.judge import limits` names a module; `from refdb import __version__` does not.
            names = {f"{node.module}.{a.name}" for a in node.names}
            modules = {n for n in names if exists(n)}
            found |= modules or {node.module}
        waiting.extend(ast.iter_child_nodes(node))
    return found


def exists(module: str) -> bool:
    base = PACKAGE.parent.joinpath(*module.split("."))
    return module.startswith("refdb.") and (base.with_suffix(".py").is_file() or (base / "__init__.py").is_file())


def modules() -> dict[str, Path]:
    files = sorted(PACKAGE.rglob("*.py"))
    return {".".join(("refdb", *p.relative_to(PACKAGE).with_suffix("").parts)): p for p in files}


def wrong_arrow(importer: str, target: str) -> str:
    """Why a module may not import another of the package; empty when it may."""
    own, other = room_of(importer), room_of(target)
    if own == "door" or own == other or (own, other) in ALSO_ALLOWED:
        return ""
    if other == "door":
        return "" if FLOORS[own] >= 5 else "the front door opens outward"
    return "" if FLOORS[other] < FLOORS[own] else f"{own} (floor {FLOORS[own]}) uses {other} (floor {FLOORS[other]})"


@pytest.mark.parametrize("module", modules())
def test_nobody_imports_upward(module):
    tree = ast.parse(modules()[module].read_text(encoding="utf-8"))
    targets = {t for t in imported(tree) if t == "refdb" or t.startswith("refdb.")}
    wrong = {t: why for t in targets if (why := wrong_arrow(module, t))}
    assert not wrong, f"{module}: {wrong}"


def test_no_two_files_import_one_another():
    """Not even by way of others, nor inside a function; the doors alone hand out what stands behind them."""
    files = {module.removesuffix(".__init__"): path for module, path in modules().items() if room_of(module) != "door"}
    rests_on = {
        module: (imported(ast.parse(path.read_text(encoding="utf-8"))) & files.keys()) - {module}
        for module, path in files.items()
    }
    assert sum(map(len, rests_on.values())) > len(files)
    TopologicalSorter(rests_on).prepare()


@pytest.mark.parametrize("module", [m for m in modules() if room_of(m) == "science"])
def test_science_rests_on_numpy_and_python_alone(module):
    heads = {t.partition(".")[0] for t in imported(ast.parse(modules()[module].read_text(encoding="utf-8")))}
    assert heads <= {"numpy", "refdb", *sys.stdlib_module_names}


def test_every_module_is_in_a_room():
    rooms = {room_of(m) for m in modules()}
    assert rooms <= {*FLOORS, "door"}
    assert {"errors", "science", "records", "judge", "store", "curate", "cli"} <= rooms


@pytest.mark.parametrize(
    ("importer", "target", "allowed"),
    [
        ("refdb.judge.reasons", "refdb.store.schema", False),
        ("refdb.judge.reasons", "refdb.records", True),
        ("refdb.science.plate", "refdb.records", False),
        ("refdb.science.plate", "refdb.errors", True),
        ("refdb.science.plate", "refdb.science.plate.layers", True),
        ("refdb.errors", "refdb.science.plate", False),
        ("refdb.records", "refdb.science.expansion", True),
        ("refdb.quantities.printed", "refdb.quantities", True),
        ("refdb.store.reference", "refdb.judge.limits", False),
        ("refdb.curate.answers", "refdb.store.reference", True),
        ("refdb.curate.build", "refdb.cli.output", False),
        ("refdb.curate.build", "refdb.browse.pages", False),
        ("refdb.plan.piecefile", "refdb.curate.build", False),
        ("refdb.cli.suits", "refdb.judge.verdict", True),
        ("refdb.judge.limits", "refdb", False),
        ("refdb.cli.main", "refdb", True),
        ("refdb", "refdb.cli.main", True),
    ],
)
def test_the_arrows_are_told_apart(importer, target, allowed):
    assert (wrong_arrow(importer, target) == "") == allowed


def test_imports_are_found_wherever_they_stand():
    text = (
        "import a.b\nfrom typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import for_types\n"
        "else:\n    import other\n"
        "def f():\n    if x:\n        from refdb.judge import limits\n    from refdb.errors import BadInput\n"
    )
    assert imported(ast.parse(text)) == {"a.b", "typing", "other", "refdb.judge.limits", "refdb.errors"}
