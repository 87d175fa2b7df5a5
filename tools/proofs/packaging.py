"""Install forerun as a stranger would, in an empty environment, and let it serve and forecast.

    python tools/proofs/packaging.py [--lowest] [--keep FOLDER]

Builds wheel and source archive, builds a wheel from that archive and compares the two, installs
with binary packages only into an environment of its own (with --lowest: every dependency at its
lower bound), away from the repository and without a compiler on the path; then `forerun check`,
the first compilation, the page and a forecast over HTTP. The figures go to
docs/explain/packaging.json. It needs a package index, and some ten minutes for the kernels.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import subprocess
import sys
import tarfile
import tempfile
import time
import tomllib
import urllib.request
import zipfile
from collections import Counter
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

import dev  # noqa: E402 -- after the path is set

FIGURES = ROOT / "docs" / "explain" / "packaging.json"
_SHEET = "class-pair"
_PATIENCE = 1800  # s: all kernels may have to be compiled on a slow core


def main(arguments: list[str]) -> int:
    """Prove it and write the figures; returns the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lowest", action="store_true")
    parser.add_argument("--keep", type=Path)
    asked = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="forerun-packaging-") as made:
        place = asked.keep or Path(made)
        figures = _built(place / "dist")
        name = "lowest" if asked.lowest else "newest"
        figures |= _installed(place, _wheel(place / "dist"), _lowest() if asked.lowest else [])
        figures |= _used(place)
    known = json.loads(FIGURES.read_text("utf-8")) if FIGURES.exists() else {}
    known[name] = {"date": time.strftime("%Y-%m-%d"), **figures}
    FIGURES.write_text(json.dumps(known, indent=1, sort_keys=True) + "\n", "utf-8")
    print(json.dumps(known[name], indent=1))
    return 0


def _run(*command: str | Path, cwd: Path = ROOT, **more: str) -> str:
    done = subprocess.run(
        [str(word) for word in command],
        cwd=cwd,
        env={**_bare(), **more},
        capture_output=True,
        text=True,
        check=False,
        timeout=_PATIENCE,
    )
    if done.returncode != 0:
        raise SystemExit(f"{command}: {done.returncode}\n{done.stdout}\n{done.stderr}")
    return done.stdout


def _bare() -> dict[str, str]:
    """Return the surroundings without anything of ours or of Python."""
    return {
        key: value
        for key, value in os.environ.items()
        if not key.startswith(("PYTHON", "FORERUN", "VIRTUAL_ENV"))
    }


def _wheel(folder: Path) -> Path:
    return next(folder.glob("*.whl"))


def _built(folder: Path) -> dict[str, Any]:
    """Build both, and a second wheel from the archive alone; they must hold the same files."""
    _run(sys.executable, "-m", "hatchling", "build", "-d", folder)
    archive = next(folder.glob("*.tar.gz"))
    with tempfile.TemporaryDirectory() as aside:
        with tarfile.open(archive) as opened:
            opened.extractall(aside, filter="data")
        inner = next(Path(aside).iterdir())
        _run(
            sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", inner / "d", cwd=inner
        )
        if _contents(_wheel(inner / "d")) != _contents(_wheel(folder)):
            raise SystemExit("the wheel from the archive is another than that of the repository")
    return {"wheel_MB": _mb(_wheel(folder)), "archive_MB": _mb(archive)}


def _contents(wheel: Path) -> dict[str, int]:
    with zipfile.ZipFile(wheel) as opened:
        return {info.filename: info.CRC for info in opened.infolist()}


def _mb(path: Path) -> float:
    size = path.stat().st_size
    if path.is_dir():
        size = sum(file.stat().st_size for file in path.rglob("*") if file.is_file())
    return round(size / 1e6, 1)


def _lowest() -> list[str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    return [re.sub(r">=([\d.]+),.*", r"==\1", line) for line in project["dependencies"]]


def _installed(place: Path, wheel: Path, pinned: list[str]) -> dict[str, Any]:
    venv = place / "venv"
    _run(sys.executable, "-m", "venv", "--without-pip", "--clear", venv)
    python = venv / "bin" / "python"
    dev.PYTHON = python
    _, pip = dev.installers()[0]
    start = time.monotonic()
    _run(*pip, "--only-binary", ":all:", wheel, *pinned)
    seconds = round(time.monotonic() - start)
    site = next((venv / "lib").glob("python*/site-packages"))
    sizes = Counter({path.name: _mb(path) for path in site.iterdir()})
    shown = {name: size for name, size in sizes.most_common(8) if size >= 1}
    return {
        "install_s": seconds,
        "python": sys.version.split()[0],
        "installed_MB": round(sum(sizes.values()), 1),
        "largest_MB": shown,
        "packages": sum(path.suffix == ".dist-info" for path in site.iterdir()),
    }


def _used(place: Path) -> dict[str, Any]:
    """Use it from an empty folder, with nothing but its own programs on the path."""
    bin_folder = place / "venv" / "bin"
    empty = place / "empty"
    empty.mkdir(exist_ok=True)
    ours = {
        "PATH": str(bin_folder),
        "CC": "no-compiler",
        "FORERUN_CACHE": str(place / "cache"),
        "FORERUN_DATA": str(place / "data"),
    }
    forerun = bin_folder / "forerun"
    start = time.monotonic()
    _run(forerun, "--version", cwd=empty, **ours)
    figures: dict[str, Any] = {"version_s": round(time.monotonic() - start, 2)}
    before = json.loads(_run(forerun, "check", "--json", cwd=empty, **ours))
    start = time.monotonic()
    told = json.loads(_run(forerun, "foresee", _SHEET, "--json", cwd=empty, **ours))
    figures["first_forecast_s"] = round(time.monotonic() - start)
    start = time.monotonic()
    _run(forerun, "foresee", _SHEET, "--json", cwd=empty, **ours)
    figures["second_forecast_s"] = round(time.monotonic() - start, 2)
    after = json.loads(_run(forerun, "check", "--json", cwd=empty, **ours))
    states = [{c["name"]: c["state"] for c in found["checks"]} for found in (before, after)]
    if not before["ready"] or [s["kernels"] for s in states] != ["later", "ok"]:
        raise SystemExit(f"forerun check does not say what is there: {states}")
    figures["kernels_MB"] = _mb(place / "cache")
    if _served(forerun, empty, ours)["cuts"] != told["cuts"]:
        raise SystemExit("the page forecasts something else than the command")
    return figures


def _served(forerun: Path, folder: Path, ours: dict[str, str]) -> dict[str, Any]:
    command = [str(forerun), "serve", "--port", "0", "--no-browser"]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, cwd=folder, env={**_bare(), **ours}, stdout=pipe) as server:
        try:
            assert server.stdout is not None
            line = server.stdout.readline().decode()
            address = re.search(r"http://[\d.:]+/", line)
            assert address, line
            with urllib.request.urlopen(address[0], timeout=60) as page:
                assert b"<script" in page.read()
            sheet = _run(forerun, "example", _SHEET, cwd=folder, **ours)
            asked = urllib.request.Request(
                f"{address[0]}api/foresee",
                json.dumps({"sheet": sheet}).encode(),
                {"Content-Type": "application/json"},
            )
            with urllib.request.urlopen(asked, timeout=_PATIENCE) as answer:
                found: dict[str, Any] = json.load(answer)
                return found
        finally:
            server.terminate()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
