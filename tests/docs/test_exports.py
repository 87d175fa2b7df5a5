"""`__all__` is the promise of every module: present, sorted, and true."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from docs._public import PACKAGE, exported, module_paths, tree_of

MODULES = [p for p in module_paths() if p.name not in {"__init__.py", "__main__.py"}]
ROOMS = [p for p in module_paths() if p.name == "__init__.py"]


def _name(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def _defined(path: Path) -> set[str]:
    names: set[str] = set()
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            names.add(node.name)
        elif isinstance(node, ast.Import | ast.ImportFrom):
            names.update((a.asname or a.name).split(".")[0] for a in node.names)
        elif isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            names.add(node.id)
    return names


def _is_command(node: ast.FunctionDef | ast.ClassDef) -> bool:
    """A command is offered by its group, under the group's name."""
    return any(ast.unparse(d).endswith(".command()") for d in node.decorator_list)


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_module_says_what_it_exports(path: Path) -> None:
    names = exported(path)
    assert names is not None, f"{_name(path)} has no __all__"
    assert len(names) == len(set(names))
    missing = set(names) - _defined(path)
    assert not missing, f"{_name(path)} promises {sorted(missing)} and does not hold it"


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_module_hides_what_it_does_not_export(path: Path) -> None:
    names = set(exported(path) or [])
    open_ones = [
        node.name
        for node in tree_of(path).body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
        and not node.name.startswith("_")
        and not _is_command(node)
    ]
    forgotten = [name for name in open_ones if name not in names]
    assert not forgotten, f"{_name(path)}: export {forgotten} or give it an underscore"


@pytest.mark.parametrize("path", ROOMS, ids=_name)
def test_room_has_a_docstring(path: Path) -> None:
    assert ast.get_docstring(tree_of(path)), f"{_name(path)} has no docstring"


@pytest.mark.parametrize("path", ROOMS, ids=_name)
def test_room_promises_only_what_it_holds(path: Path) -> None:
    dynamic = any(
        isinstance(n, ast.FunctionDef) and n.name == "__getattr__" for n in tree_of(path).body
    )
    missing = set(exported(path) or []) - _defined(path)
    assert dynamic or not missing, f"{_name(path)} promises {sorted(missing)}"
