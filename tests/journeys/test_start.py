"""What a command imports: nothing heavy before it is needed, and never the compiler."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from forerun.app import prepare

ROOT = Path(__file__).resolve().parents[2]
LOOK = """
import sys
from forerun.app.cli import main
code = main(sys.argv[1:])
heavy = ("numba", "llvmlite", "scipy", "numpy", "pydantic", "rich")
print(*(name for name in heavy if name in sys.modules), file=sys.stderr)
sys.exit(code)
"""


@pytest.fixture(scope="module", autouse=True)
def prepared() -> None:
    prepare.prepare_kernels()


@pytest.mark.parametrize(
    ("words", "imported"),
    [
        (["--help"], ""),
        (["look", "toluene"], ""),
        (["mix", "ethanol", "water"], "llvmlite numpy"),
        (["mix", "1-butanol", "water", "--curve", "5"], "llvmlite numpy"),
        (["mix", "acetone", "hexane", "water", "--at", "0.2,0.3,0.5"], "llvmlite numpy"),
        (["foresee", "three-on-eight"], "llvmlite numpy pydantic"),
        (["foresee", "spirit", "--members", "2", "--json"], "llvmlite numpy pydantic"),
    ],
    ids=lambda part: " ".join(part) if isinstance(part, list) else "",
)
def test_a_prepared_command_imports_no_compiler(words: list[str], imported: str) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "PYTHONUTF8": "1"}
    done = subprocess.run(
        [sys.executable, "-c", LOOK, *words],
        capture_output=True,
        env=environment,
        check=True,
        timeout=300,
    )
    assert done.stderr.decode().splitlines()[-1].strip() == imported


def test_bytecode_is_written_where_it_can_be(tmp_path: Path) -> None:
    (tmp_path / "room").mkdir()
    (tmp_path / "room" / "file.py").write_text("x = 1\n", encoding="utf-8")
    assert prepare.prepare_bytecode(tmp_path)
    assert list(tmp_path.rglob("*.pyc"))
    barred = tmp_path / "barred"
    barred.mkdir()
    (barred / "file.py").write_text("x = 1\n", encoding="utf-8")
    (barred / "__pycache__").write_text("not a folder", encoding="utf-8")
    assert not prepare.prepare_bytecode(barred)
