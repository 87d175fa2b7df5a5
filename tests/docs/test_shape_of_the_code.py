"""Files and functions stay short, and nothing is left half said."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from docs._public import ROOT, module_paths, tree_of

LONGEST_FILE = 500  # lines
LONG_FUNCTION = 60  # lines
SHARE_OF_LONG_FUNCTIONS = 0.01
UNFINISHED = re.compile(
    r"\b(" + "|".join(("TO" + "DO", "FIX" + "ME", "X" + "XX", "HA" + "CK")) + r")\b"
)

SOURCES = [
    path
    for folder in ("src", "tests", "tools", "benchmarks")
    for path in sorted((ROOT / folder).rglob("*.py"))
] + [ROOT / "dev.py"]


def _name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def _is_kernel(node: ast.FunctionDef) -> bool:
    return any(ast.unparse(d).startswith("kernel(") for d in node.decorator_list)


@pytest.mark.parametrize("path", SOURCES, ids=_name)
def test_file_is_short(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").count("\n")
    assert lines <= LONGEST_FILE, f"{_name(path)} has {lines} lines"


@pytest.mark.parametrize("path", SOURCES, ids=_name)
def test_nothing_is_put_off(path: Path) -> None:
    found = UNFINISHED.search(path.read_text(encoding="utf-8"))
    assert not found, f"{_name(path)} says {found.group() if found else ''}"


def test_hardly_any_function_is_long() -> None:
    lengths = {
        f"{_name(path)}:{node.name}": (node.end_lineno or node.lineno) - node.lineno + 1
        for path in module_paths()
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.FunctionDef) and not _is_kernel(node)
    }
    long = {name: n for name, n in lengths.items() if n > LONG_FUNCTION}
    assert len(long) <= SHARE_OF_LONG_FUNCTIONS * len(lengths), long
