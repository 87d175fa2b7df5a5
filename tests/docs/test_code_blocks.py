"""What the pages tell people to type is typed: every line for forerun, every block of Python.

Each page has a folder of its own, where its blocks run in order and in this process. Ensembles,
sweeps and classes are made small, so that this takes seconds: options and files are tried here,
figures elsewhere. What waits for a device or for a person is marked in the page by a comment over
the block that gives the reason: ``<!-- not run: why -->``, or ``<!-- not run (forerun watch): why
-->`` for the lines that begin so.
"""

from __future__ import annotations

import re
import shlex
import shutil
import tomllib
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest

from contract.test_json_objects import SHEET
from docs._public import ROOT
from forerun.app.cli import main
from forerun.glassware.inventory import read_inventory
from forerun.sheets.resolving import load

PAGES = [ROOT / "README.md", ROOT / "docs" / "start.md"]
PAGES += sorted((ROOT / "docs" / "how-to").glob("*.md"))

_BLOCK = re.compile(
    r"(?:^<!-- not run(?: \((?P<only>[^)]*)\))?: (?P<why>.+?) -->\n+)?"
    r"^(?P<indent> *)```(?P<kind>\w*)\n(?P<body>.*?)^ *```$",
    re.MULTILINE | re.DOTALL,
)
_SMALLER = (
    (r"--members \d+", "--members 3"),
    (r"members=\d+", "members=8"),
    (r"--students \d+", "--students 2"),
    (r"(--vary \"?[\w.]+=[\d.]+:[\d.]+):\d+", r"\1:2"),
)
_FILES = Path(__file__).resolve().parents[1] / "contract" / "files"
_EXTRAS = ("matplotlib", "pandas", "xarray")  # blocks that need one are run where all are there
_OWN = {"docs/start.md": "my-sheet.toml", "docs/how-to/record.md": "notes.toml"}  # first TOML


@dataclass(frozen=True, slots=True)
class Block:
    """A block of a page: language, text, and why it or some of its lines are not run."""

    kind: str
    body: str
    why: str
    only: str

    @property
    def lines(self) -> list[str]:
        """Lines for forerun, continued ones joined, what they mean cut off."""
        joined = re.sub(r" *\\\n\s*", " ", self.body)
        told = [re.split(r"\s{2,}", line.strip())[0] for line in joined.splitlines()]
        return [line for line in told if line.startswith("forerun ")]

    def skips(self, line: str) -> bool:
        """Whether the page says that a line is not run, and why."""
        return bool(self.why) and line.startswith(self.only)


def blocks_of(page: Path) -> list[Block]:
    """Return the blocks of a page in order."""
    found = _BLOCK.finditer(page.read_text("utf-8"))
    return [Block(m["kind"], m["body"], m["why"] or "", m["only"] or "") for m in found]


def _name(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


def _smaller(text: str) -> str:
    for pattern, with_this in _SMALLER:
        text = re.sub(pattern, with_this, text)
    return text


def _needs_what_is_not_here(block: Block) -> bool:
    wanted = [name for name in _EXTRAS if re.search(rf"^import {name}", block.body, re.MULTILINE)]
    return bool(wanted) and any(find_spec(name) is None for name in _EXTRAS)


def _handed_in() -> None:
    """Let every student hand in the folder that was handed out, with an answer."""
    shutil.copytree("class/students", "handed-in")
    for answer in Path("handed-in").glob("*/answer.toml"):
        answer.write_text('start = "1 mL"\nend = "9 mL"\n', "utf-8")


def _folder(page: Path, folder: Path) -> None:
    """Put there what pages speak of as the reader's own files."""
    for name in ("sheet.toml",) if page.name == "README.md" else ("sheet.toml", "my-sheet.toml"):
        (folder / name).write_bytes(SHEET.replace(b'"none"', b'"Vigreux 30 cm"'))
    for name in ("log.csv", "assays.csv"):
        (folder / name).write_bytes((_FILES / name).read_bytes())
    rows = [f"{60 * k} {20 + min(k, 36):.1f}" for k in range(60)]
    (folder / "readings.txt").write_text("\n".join(rows))
    if _name(page) in _OWN:
        first = next(block.body for block in blocks_of(page) if block.kind == "toml")
        (folder / _OWN[_name(page)]).write_text(first, "utf-8")


@pytest.mark.parametrize("page", PAGES, ids=_name)
def test_what_a_page_says_to_type_works(
    page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path / "mine"))
    _folder(page, tmp_path)
    names: dict[str, Any] = {"__name__": "page"}
    for block in blocks_of(page):
        if block.kind == "python" and not (block.why or _needs_what_is_not_here(block)):
            exec(compile(_smaller(block.body), str(page), "exec"), names)
        for line in block.lines:
            if block.skips(line):
                continue
            if line.startswith("forerun mark"):
                _handed_in()
            code = main(shlex.split(_smaller(line))[1:])
            said = capfd.readouterr().err
            assert (code, "Traceback" in said) == (0, False), f"{line}: {said[-500:]}"


@pytest.mark.parametrize("page", PAGES, ids=_name)
def test_toml_on_a_page_is_what_it_is_said_to_be(page: Path) -> None:
    for block in blocks_of(page):
        if block.kind != "toml":
            continue
        table = tomllib.loads(block.body)
        if "charge" in table:
            assert load(block.body).charge
        elif isinstance(table.get("flask"), list):
            assert read_inventory(table).pieces


def test_every_mark_says_why_and_skips_something() -> None:
    marked = [(page, block) for page in PAGES for block in blocks_of(page) if block.why]
    assert marked
    for page, block in marked:
        lines = block.lines or [""]
        assert any(block.skips(line) for line in lines), f"{_name(page)}: {block}"
    written = sum(page.read_text("utf-8").count("<!-- not run") for page in PAGES)
    assert written == len(marked), "a mark stands over no block"


def test_blocks_are_found() -> None:
    lines = [line for page in PAGES for block in blocks_of(page) for line in block.lines]
    python = [block for page in PAGES for block in blocks_of(page) if block.kind == "python"]
    assert len(lines) >= 25
    assert len(python) >= 5
