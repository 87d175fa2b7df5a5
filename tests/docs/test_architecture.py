"""ARCHITECTURE.md is true to the tree: rooms, files and data that it names, and none forgotten."""

from __future__ import annotations

import fnmatch
import re

import pytest

from docs._public import PACKAGE, ROOT

PAGE = (ROOT / "ARCHITECTURE.md").read_text(encoding="utf-8")
NAMED = sorted(set(re.findall(r"`([\w.*/-]+\.(?:py|toml|tsv|json|json\.gz|md))`", PAGE)))
ROOMS = sorted(p.name for p in PACKAGE.iterdir() if (p / "__init__.py").exists())
_SEEN = [ROOT / "CHANGELOG.md", ROOT / "pyproject.toml"]
_SEEN += [p for top in ("src/forerun", "tests", "tools", "docs") for p in (ROOT / top).rglob("*")]
TREE = [p.relative_to(ROOT).as_posix() for p in _SEEN if p.is_file() and "built" not in p.parts]


@pytest.mark.parametrize("name", NAMED)
def test_every_file_that_is_named_exists(name: str) -> None:
    """By its path from the root, or by the last words of it."""
    assert any(fnmatch.fnmatch(f"/{path}", f"*/{name}") for path in TREE), name


def test_every_room_has_its_line_in_the_order_that_imports_are_held_to() -> None:
    lines = re.findall(r"^\| `(\w+)` \| ", PAGE, re.MULTILINE)
    rooms = [name for name in lines if name in ROOMS]
    assert sorted(rooms) == ROOMS
    config = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    block = re.search(r"^layers = \[\n(.*?)^\]", config, re.MULTILINE | re.DOTALL)
    assert block
    layers = re.findall(r'"([^"]+)"', block[1])
    rank = {room: n for n, row in enumerate(reversed(layers)) for room in re.findall(r"\w+", row)}
    ranks = [rank[room] for room in rooms]
    assert ranks == sorted(ranks)


def test_every_file_of_data_has_a_line() -> None:
    held = [
        p.relative_to(PACKAGE)
        for p in PACKAGE.glob("*/data/*")
        if p.is_file() and p.suffix != ".sha256"
    ]
    assert len(held) > 15
    patterns = {name.rsplit("/", 1)[-1] for name in NAMED}
    forgotten = [
        str(p) for p in held if not any(fnmatch.fnmatch(p.name, pattern) for pattern in patterns)
    ]
    assert forgotten == []


def test_every_folder_of_tests_is_said() -> None:
    folders = {p.name for p in (ROOT / "tests").iterdir() if any(p.glob("**/test_*.py"))}
    assert [name for name in sorted(folders) if f"`{name}/`" not in PAGE] == []
