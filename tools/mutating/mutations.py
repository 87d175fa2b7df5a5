"""Small mistakes to put into a source file, one at a time: what there is to change, and how."""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from types import CodeType
from typing import Any

__all__ = ["Mutation", "code_of", "mutations_of"]

_COMPARED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_RECKONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Div,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}
_CALLED = {"min": "max", "max": "min", "any": "all", "all": "any"}
_NUDGE = 1.1


@dataclass(frozen=True, slots=True)
class Mutation:
    """One mistake.

    Args:
        number: among all of its file.
        line: where it is.
        span: first and last line of its function or constant.
        kind: comparison, boundary, constant, arithmetic, condition, logic, min and max, dropped.
        where: function or method by its qualified name; for a constant of the module ``NAME``.
        constant: whether it is in a constant of the module.
        said: what is put in the place of what.
    """

    number: int
    line: int
    span: tuple[int, int]
    kind: str
    where: str
    constant: bool
    said: str


@dataclass(frozen=True, slots=True)
class _Site:
    node: ast.AST
    span: tuple[int, int]
    kind: str
    where: str
    constant: bool
    said: str
    apply: Callable[[], None]


def mutations_of(source: str, kernels: bool = False) -> list[Mutation]:
    """Return every mistake that can be put into a source file.

    Args:
        kernels: whether kernels and constants of theirs alone are changed, and nothing else.
        source: its text. Bodies of functions and plain constants of the module are changed; words,
            annotations, decorators, defaults, class bodies and what signs kernels are not.
    """
    found = enumerate(_sites(ast.parse(source), kernels))
    return [
        Mutation(
            n,
            getattr(one.node, "lineno", 0),
            one.span,
            one.kind,
            one.where,
            one.constant,
            one.said,
        )
        for n, one in found
    ]


def code_of(source: str, name: str, number: int, kernels: bool = False) -> CodeType:
    """Return a module's code with one mistake in it.

    Args:
        source: text of the file.
        name: its path, which the code carries.
        number: of the mistake.
        kernels: as `mutations_of` was asked.
    """
    tree = ast.parse(source)
    list(_sites(tree, kernels))[number].apply()
    return compile(ast.fix_missing_locations(tree), name, "exec")


def _sites(tree: ast.Module, kernels: bool) -> Iterator[_Site]:
    compiled = _of_kernels(tree)
    for node in tree.body:
        if isinstance(node, ast.Assign) and len(node.targets) == 1:
            target = node.targets[0]
            if not isinstance(target, ast.Name) or target.id == "__all__" or _signs(node.value):
                continue
            if (target.id in compiled) == kernels:
                yield from _inside(node, target.id, (node.lineno, node.end_lineno or 0), True)
        elif isinstance(node, ast.FunctionDef):
            if _is_kernel(node) == kernels:
                yield from _function(node, node.name)
        elif isinstance(node, ast.ClassDef) and not kernels:
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef):
                    yield from _function(inner, f"{node.name}.{inner.name}")


def _of_kernels(tree: ast.Module) -> set[str]:
    """Return constants that are in machine code alone."""
    asked = {
        n.id
        for node in tree.body
        if not (isinstance(node, ast.FunctionDef) and _is_kernel(node))
        for n in ast.walk(node)
        if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Load)
    }
    found = set()
    for node in tree.body:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            name = node.targets[0].id
            if name.startswith("_") and name not in asked and _in_kernel(tree, name):
                found.add(name)
    return found


def _signs(value: ast.expr) -> bool:
    """Whether it is what a kernel is signed with, which is read once."""
    return isinstance(value, ast.Call) and ast.unparse(value.func) == "record"


def _in_kernel(tree: ast.Module, name: str) -> bool:
    kernels = (n for n in tree.body if isinstance(n, ast.FunctionDef) and _is_kernel(n))
    return any(isinstance(n, ast.Name) and n.id == name for k in kernels for n in ast.walk(k))


def _is_kernel(node: ast.FunctionDef) -> bool:
    return any(ast.unparse(one).startswith("kernel") for one in node.decorator_list)


def _function(node: ast.FunctionDef, name: str) -> Iterator[_Site]:
    span = (node.lineno, node.end_lineno or node.lineno)
    for k, statement in enumerate(node.body):
        if k == 0 and _is_words(statement):
            continue
        yield from _inside(statement, name, span, False)
        yield from _dropped(node.body, k, name, span)


def _is_words(node: ast.stmt) -> bool:
    return (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    )


def _inside(root: ast.AST, where: str, span: tuple[int, int], constant: bool) -> Iterator[_Site]:
    for node in _walked(root):
        for kind, said, apply in _changes(node):
            yield _Site(node, span, kind, where, constant, said, apply)
        for body in _bodies(node):
            for k in range(len(body)):
                yield from _dropped(body, k, where, span)


def _walked(root: ast.AST) -> Iterator[ast.AST]:
    """Yield nodes in order, without annotations and the format of words."""
    yield root
    if isinstance(root, ast.keyword) and root.arg == "strict":
        return  # of zip: a guard against a slip of ours that no input can cause
    for field, value in ast.iter_fields(root):
        if field in {"annotation", "returns", "format_spec", "decorator_list", "defaults"}:
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _walked(child)


def _bodies(node: ast.AST) -> Iterator[list[ast.stmt]]:
    if isinstance(node, ast.If | ast.For | ast.While | ast.With | ast.Try):
        yield node.body
    if isinstance(node, ast.If | ast.For | ast.While | ast.Try):
        yield node.orelse


def _dropped(body: list[ast.stmt], k: int, where: str, span: tuple[int, int]) -> Iterator[_Site]:
    node = body[k]
    if isinstance(node, ast.Expr | ast.AugAssign | ast.Raise | ast.Continue | ast.Break):

        def apply() -> None:
            body[k] = ast.copy_location(ast.Pass(), node)

        said = f"dropped: {ast.unparse(node)[:60]}"
        yield _Site(node, span, "dropped", where, False, said, apply)


Change = tuple[str, str, Callable[[], None]]


def _changes(node: ast.AST) -> Iterator[Change]:
    if isinstance(node, ast.Compare):
        yield from _comparisons(node)
    elif isinstance(node, ast.BinOp | ast.AugAssign) and type(node.op) in _RECKONED:
        new = _RECKONED[type(node.op)]
        if not _of_words(node):
            yield "arithmetic", _said(node, new), _set(node, "op", new())
    elif isinstance(node, ast.BoolOp):
        other = ast.Or if isinstance(node.op, ast.And) else ast.And
        yield "logic", _said(node, other), _set(node, "op", other())
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        yield "condition", f"{ast.unparse(node)[:60]}, sign taken away", _bare(node)
    elif isinstance(node, ast.If | ast.While | ast.IfExp):
        negated = ast.UnaryOp(ast.Not(), node.test)
        yield "condition", f"not: {ast.unparse(node.test)[:60]}", _set(node, "test", negated)
    elif isinstance(node, ast.Constant):
        yield from _constants(node)
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute):
        field = "id" if isinstance(node.func, ast.Name) else "attr"
        name = getattr(node.func, field)
        if name in _CALLED:
            said = f"{_CALLED[name]} for {name}: {ast.unparse(node)[:50]}"
            yield "min and max", said, _set(node.func, field, _CALLED[name])


def _comparisons(node: ast.Compare) -> Iterator[Change]:
    for k, operator in enumerate(node.ops):
        for n, new in enumerate(_COMPARED[type(operator)]):
            edge = n == 0 and len(_COMPARED[type(operator)]) > 1

            def apply(k: int = k, new: type[ast.cmpop] = new) -> None:
                node.ops[k] = new()

            yield "boundary" if edge else "comparison", _said(node, new), apply


def _constants(node: ast.Constant) -> Iterator[Change]:
    value = node.value
    if isinstance(value, bool):
        yield "constant", f"{not value} for {value}", _set(node, "value", not value)
    elif isinstance(value, int):
        yield "constant", f"{value + 1} for {value}", _set(node, "value", value + 1)
    elif isinstance(value, float):
        new = value * _NUDGE if value else 1.0
        yield "constant", f"{new:g} for {value:g}", _set(node, "value", new)


def _of_words(node: ast.BinOp | ast.AugAssign) -> bool:
    """Whether words are joined, which no other sign could do."""
    parts = (node.left, node.right) if isinstance(node, ast.BinOp) else (node.value,)
    return any(
        isinstance(part, ast.JoinedStr)
        or (isinstance(part, ast.Constant) and isinstance(part.value, str))
        for part in parts
    )


def _said(node: ast.AST, new: type[ast.AST]) -> str:
    return f"{new.__name__} in {ast.unparse(node)[:60]}"


def _set(node: Any, field: str, value: Any) -> Callable[[], None]:
    return lambda: setattr(node, field, value)


def _bare(node: ast.UnaryOp) -> Callable[[], None]:
    """Return what makes a node its own operand: an addition of nothing, a double negation."""

    def apply() -> None:
        if isinstance(node.op, ast.Not):
            node.operand = ast.UnaryOp(ast.Not(), node.operand)
        else:
            node.op = ast.UAdd()

    return apply
