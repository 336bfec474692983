"""The files of the science: no circle of imports, also where a name is imported late, and none too long to read."""

from __future__ import annotations

import ast
import re
from graphlib import CycleError, TopologicalSorter

import pytest
from test_floors import imported, modules

SCIENCE = {m.removesuffix(".__init__"): p for m, p in modules().items() if m.startswith("refdb.science")}
LONGEST_FILE, LONGEST_FUNCTION = 400, 60


def lazily(text: str, package: str) -> set[str]:
    """Modules that a package exports names of when they are first used, read from its imports for types."""
    wanted = re.findall(rf"^    from ({re.escape(package)}\.\S+) import", text, flags=re.M)
    return set(wanted) & set(SCIENCE)


def arrows() -> dict[str, set[str]]:
    """Each file of the science with those it imports, at once or late."""
    found = {}
    for module, path in SCIENCE.items():
        text = path.read_text(encoding="utf-8")
        found[module] = (imported(ast.parse(text)) & set(SCIENCE)) | lazily(text, module)
    return found


def test_no_circle_of_files():
    assert "refdb.science.plate.cooled" in arrows()["refdb.science.plate"]
    assert "refdb.science.plate.yielding" in arrows()["refdb.science.plate.stepping"]
    tuple(TopologicalSorter(arrows()).static_order())


def test_a_circle_would_be_seen():
    with pytest.raises(CycleError):
        tuple(
            TopologicalSorter(
                arrows() | {"refdb.science.plate.layers": {"refdb.science.plate.stepping"}}
            ).static_order()
        )


@pytest.mark.parametrize("module", SCIENCE)
def test_files_and_functions_can_be_read_at_a_sitting(module):
    text = SCIENCE[module].read_text(encoding="utf-8")
    assert len(text.splitlines()) <= LONGEST_FILE
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef):
            lines = node.end_lineno - node.lineno + 1
            assert lines <= LONGEST_FUNCTION, f"{node.name}: {lines} lines"


@pytest.mark.parametrize("module", SCIENCE)
def test_every_public_function_says_what_it_returns(module):
    for node in ast.parse(SCIENCE[module].read_text(encoding="utf-8")).body:
        if isinstance(node, (ast.FunctionDef, ast.ClassDef)) and not node.name.startswith("_"):
            assert ast.get_docstring(node), node.name
