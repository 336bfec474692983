"""What may be changed in a module for `mutate.py`: numbers, comparisons, arithmetic, truth, bands, rules and guards."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator

_COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
}
_RECKONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
}
_EXTREME = {"min": "max", "minimum": "maximum", "nanmin": "nanmax", "argmin": "argmax"}
_EXTREME |= {large: small for small, large in _EXTREME.items()}
_OF_BAND = {"low": ("high", "value"), "high": ("low", "value"), "value": ("low", "high")}
#: Keywords that hold no figure of the field: memory, and how much is printed.
_NO_FIGURE = ("maxsize", "ndigits")
#: Whole numbers up to this are taken for counts, limits and places, and grow by one.
_LARGEST_COUNT = 20


def places(source: str) -> list[tuple[int, int, str, list[str]]]:
    """Every place that may be changed: its number, its line, what stands there, and what may stand there instead."""
    found = []
    for place, (node, parent) in enumerate(_walked(ast.parse(source))):
        afters = [ast.unparse(after) for after in _changes(node, parent)]
        if afters:
            assert isinstance(node, ast.expr | ast.stmt)
            before = f"guard {ast.unparse(node.test)}" if isinstance(node, ast.If) else ast.unparse(node)
            afters = ["no guard"] if isinstance(node, ast.If) else afters
            found.append((place, node.lineno, before, afters))
    return found


def changed(source: str, place: int, change: int) -> str:
    """The module with one change made, written anew from its tree."""
    tree = ast.parse(source)
    node, parent = list(_walked(tree))[place]
    assert parent is not None
    after = list(_changes(node, parent))[change]
    for name, value in ast.iter_fields(parent):
        if value is node:
            setattr(parent, name, after)
        elif isinstance(value, list) and any(x is node for x in value):
            setattr(parent, name, [after if x is node else x for x in value])
    return ast.unparse(ast.fix_missing_locations(tree))


def _walked(node: ast.AST, parent: ast.AST | None = None) -> Iterator[tuple[ast.AST, ast.AST | None]]:
    """Every node that counts, with what it stands in: no text, no type, no decorator, no message of an error."""
    yield node, parent
    for name, value in ast.iter_fields(node):
        if name in ("annotation", "returns", "decorator_list", "bases"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST) and not _left_out(child):
                yield from _walked(child, node)


def _left_out(node: ast.AST) -> bool:
    if isinstance(node, ast.JoinedStr | ast.Raise | ast.Assert | ast.Import | ast.ImportFrom):
        return True
    if isinstance(node, ast.If):
        return isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"
    if isinstance(node, ast.Assign):
        return any(isinstance(t, ast.Name) and t.id == "__all__" for t in node.targets)
    if isinstance(node, ast.keyword):
        return node.arg in _NO_FIGURE
    return isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "format"


def _changes(node: ast.AST, parent: ast.AST | None) -> Iterator[ast.AST]:
    """What may stand in the place of a node."""
    if isinstance(node, ast.Constant):
        yield from _of_constant(node, parent)
    elif isinstance(node, ast.Compare) and len(node.ops) == 1:
        for op in _COMPARED.get(type(node.ops[0]), ()):
            yield ast.Compare(node.left, [op()], node.comparators)
    elif isinstance(node, ast.Compare):
        for k, old in enumerate(node.ops):
            for op in _COMPARED.get(type(old), ())[:1]:
                yield ast.Compare(node.left, [*node.ops[:k], op(), *node.ops[k + 1 :]], node.comparators)
    elif isinstance(node, ast.BinOp) and type(node.op) in _RECKONED and not (_text(node.left) or _text(node.right)):
        yield ast.BinOp(node.left, _RECKONED[type(node.op)](), node.right)
    elif isinstance(node, ast.AugAssign) and type(node.op) in _RECKONED and not _text(node.value):
        yield ast.AugAssign(node.target, _RECKONED[type(node.op)](), node.value)
    elif isinstance(node, ast.BoolOp):
        yield ast.BoolOp(ast.Or() if isinstance(node.op, ast.And) else ast.And(), node.values)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield node.operand
    elif isinstance(node, ast.Name) and node.id in ("min", "max") and isinstance(parent, ast.Call):
        yield ast.Name(_EXTREME[node.id], node.ctx)
    elif isinstance(node, ast.Attribute) and isinstance(node.ctx, ast.Load):
        yield from _of_attribute(node, parent)
    elif isinstance(node, ast.Tuple) and _is_rules(parent):
        for k in range(len(node.elts)):
            yield ast.Tuple([*node.elts[:k], *node.elts[k + 1 :]], node.ctx)
    elif isinstance(node, ast.If) and isinstance(node.body[-1], ast.Return | ast.Raise | ast.Continue):
        yield ast.If(ast.Constant(False), node.body, node.orelse)


def _of_constant(node: ast.Constant, parent: ast.AST | None) -> Iterator[ast.Constant]:
    value = node.value
    if isinstance(value, bool):
        if isinstance(parent, ast.arguments | ast.AnnAssign):
            yield ast.Constant(not value)
    elif isinstance(value, int):
        yield ast.Constant(value + 1 if abs(value) <= _LARGEST_COUNT else round(value * 1.15))
    elif isinstance(value, float):
        yield from (ast.Constant(x) for x in ((value * 1.15, value * 0.85) if value else (1e-3,)))


def _of_attribute(node: ast.Attribute, parent: ast.AST | None) -> Iterator[ast.Attribute]:
    called = isinstance(parent, ast.Call) and parent.func is node
    names = ((_EXTREME[node.attr],) if node.attr in _EXTREME else ()) if called else _OF_BAND.get(node.attr, ())
    for name in names:
        yield ast.Attribute(copy.copy(node.value), name, node.ctx)


def _is_rules(parent: ast.AST | None) -> bool:
    targets = [parent.target] if isinstance(parent, ast.AnnAssign) else getattr(parent, "targets", [])
    return any(isinstance(t, ast.Name) and t.id.endswith("_RULES") for t in targets)


def _text(node: ast.expr) -> bool:
    """Whether a thing is plainly text or a row of things, which are joined, not added."""
    return isinstance(node, ast.JoinedStr | ast.List | ast.Tuple | ast.ListComp) or (
        isinstance(node, ast.Constant) and isinstance(node.value, str)
    )
