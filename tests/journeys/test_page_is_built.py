"""The page in the package is what its sources say: by digest everywhere, byte by byte with Node."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCES = ROOT / "web"
BUILT = ROOT / "src" / "forerun" / "app" / "web" / "built"
TAKEN = ("src", "public")
ALONE = (
    "index.html", "package.json", "package-lock.json", "svelte.config.js", "tsconfig.json",
    "vite.config.ts",
)  # fmt: skip


def _sources() -> dict[str, Path]:
    inner = [path for folder in TAKEN for path in (SOURCES / folder).rglob("*") if path.is_file()]
    every = [*inner, *(SOURCES / name for name in ALONE)]
    return {path.relative_to(SOURCES).as_posix(): path for path in every}


def _files(folder: Path) -> dict[str, bytes]:
    every = [path for path in folder.rglob("*") if path.is_file()]
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in every}


def test_the_built_page_is_in_step_with_its_sources() -> None:
    told = {}
    for line in (BUILT / "sources.txt").read_text(encoding="utf-8").splitlines():
        digest, name = line.split("  ", 1)
        told[name] = digest
    found = {
        name: hashlib.sha256(path.read_bytes()).hexdigest() for name, path in _sources().items()
    }
    assert told == found, "build the page again: npm ci && npm run build, in web/"


def test_building_it_again_gives_the_same_bytes(tmp_path: Path) -> None:
    node, npm = shutil.which("node"), shutil.which("npm")
    if not node or not npm:
        pytest.skip("no Node on this machine: the digest of the sources has to do")
    version = subprocess.run([node, "--version"], capture_output=True, text=True, check=True)
    if int(version.stdout.strip("v\n").split(".")[0]) < 20:
        pytest.skip(f"Node {version.stdout.strip()} is too old to build the page; 20 is needed")
    copy = tmp_path / "web"
    for name, path in _sources().items():
        (copy / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, copy / name)
    got = subprocess.run(
        [npm, "ci", "--no-audit", "--no-fund", "--ignore-scripts"],
        cwd=copy, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    if got.returncode != 0:
        assert "E404" not in got.stderr, got.stderr
        pytest.skip("the locked parts of the page could not be fetched: no registry in reach")
    built = subprocess.run(
        [npm, "run", "build"], cwd=copy, capture_output=True, text=True, timeout=300, check=False
    )
    assert built.returncode == 0, built.stderr
    assert _files(tmp_path / "src" / "forerun" / "app" / "web" / "built") == _files(BUILT)
    checked = subprocess.run(
        [npm, "run", "check"], cwd=copy, capture_output=True, text=True, timeout=300, check=False
    )
    assert checked.returncode == 0, checked.stdout
