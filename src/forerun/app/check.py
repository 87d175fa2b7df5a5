"""`forerun check`: whether this machine has what forerun needs, and what to do where it has not."""

from __future__ import annotations

import os
import shutil
import sqlite3
import sys
import tempfile
import webbrowser
from contextlib import closing
from importlib import metadata, util
from pathlib import Path

from forerun.core.errors import ForerunError
from forerun.core.places import FOLDER_VARIABLE, user_folder
from forerun.core.provenance import data_files, data_sha256
from forerun.numerics.cache import cache_folder, is_complete, why_not_kept
from forerun.records.library import DATABASE_VARIABLE, open_store
from forerun.reporting.check import Checked, Finding

__all__ = ["check"]

_LEAST_FREE = 200e6  # bytes; kernels take some 10 MB, a long day of readings less
_EXTRAS = {
    "sweep": ("distributed", "pyarrow"),
    "notebook": ("matplotlib", "pandas", "xarray"),
    "serial": ("serial",),
    "modbus": ("pymodbus",),
    "mqtt": ("paho",),
    "postgresql": ("psycopg",),
}
_STORES = ("runs.sqlite", "sheets.sqlite")
_DEVICES = Path("/dev")
_SERIAL = ("ttyUSB*", "ttyACM*", "serial/by-id/*")


def check(*, prepare: bool = False) -> Checked:
    """Look at everything that forerun needs on this machine.

    Args:
        prepare: compile the kernels now, if they are not, instead of with the first command.
    """
    if prepare:
        from forerun.app.prepare import prepare_kernels

        prepare_kernels()
    return Checked(
        (
            _python(),
            _data(),
            _page(),
            _kernels(),
            _folder("records", user_folder(), FOLDER_VARIABLE),
            _disk(),
            *_stores(),
            _browser(),
            _serial(),
            *_extras(),
        )
    )


def _python() -> Finding:
    found = f"{sys.version.split()[0]}, forerun {metadata.version('forerun')}"
    return Finding("Python", "ok", found)


def _data() -> Finding:
    count = len(data_files())
    if count == 0:
        advice = "install forerun again; its files are not all there"
        return Finding("data", "missing", "no files", advice)
    return Finding("data", "ok", f"{count} files, SHA-256 {data_sha256()[:16]}…")


def _page() -> Finding:
    from forerun.app.web.page import page_files

    count = len(page_files())
    if "index.html" in page_files():
        return Finding("page", "ok", f"{count} files")
    return Finding("page", "missing", f"{count} files", "install forerun again")


def _kernels() -> Finding:
    from forerun.numerics.loading import machine_digest

    place = str(cache_folder())
    if is_complete(machine_digest()):  # nothing more is written, so it may be closed to writing
        return Finding("kernels", "ok", f"compiled, in {place}")
    if reason := why_not_kept():
        advice = f"set FORERUN_CACHE to a folder that can be written ({reason.lower()})"
        return Finding("kernels", "missing", place, advice)
    advice = "the first command compiles them, with a bar; `forerun check --prepare` does it now"
    return Finding("kernels", "later", "not compiled yet", advice)


def _folder(name: str, folder: Path, variable: str) -> Finding:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return Finding(name, "ok", str(folder))
    except OSError as problem:
        reason = (problem.strerror or type(problem).__name__).lower()
        advice = f"set {variable} to a folder that can be written ({reason})"
        return Finding(name, "missing", str(folder), advice)


def _disk() -> Finding:
    free = min(shutil.disk_usage(_existing(p)).free for p in (user_folder(), cache_folder()))
    found = f"{free / 1e9:.1f} GB free"
    if free < _LEAST_FREE:
        return Finding("disk", "missing", found, "make room: at least 0.2 GB")
    return Finding("disk", "ok", found)


def _existing(folder: Path) -> Path:
    return next(
        place for place in (folder.absolute(), *folder.absolute().parents) if place.is_dir()
    )


def _stores() -> list[Finding]:
    files = [_store(user_folder() / name) for name in _STORES if (user_folder() / name).exists()]
    return [*files, *_lab()]


def _lab() -> list[Finding]:
    """Look at the lab's database, where runs are kept in one."""
    if not os.environ.get(DATABASE_VARIABLE, "").strip():
        return []
    try:
        with open_store() as store:
            found = f"{len(store.runs())} runs"
    except ForerunError as problem:
        return [Finding("database", "missing", str(problem), f"correct {DATABASE_VARIABLE}")]
    return [Finding("database", "ok", found)]


def _store(path: Path) -> Finding:
    """Read a database through, without changing it."""
    try:
        with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as db:
            (said,) = db.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.Error as problem:
        said = str(problem)
    if said == "ok":
        return Finding(path.name, "ok", f"{path.stat().st_size / 1e6:.1f} MB, read through")
    advice = "copy the file away before anything else, then bring a backup back"
    return Finding(path.name, "missing", str(said), advice)


def _browser() -> Finding:
    try:
        name = getattr(webbrowser.get(), "name", "") or "one of the system"
    except webbrowser.Error:
        advice = "only the page needs one; open its address from any that supports ES modules"
        return Finding("browser", "later", "none found", advice)
    return Finding("browser", "ok", Path(str(name)).name)


def _serial() -> Finding:
    found = sorted({path.resolve() for kind in _SERIAL for path in _DEVICES.glob(kind)})
    if not found:
        return Finding("instruments", "later", "no serial port in sight", "")
    closed = [str(path) for path in found if not os.access(path, os.R_OK | os.W_OK)]
    names = ", ".join(str(path) for path in found)
    if closed:
        advice = f"ask for the group that owns {closed[0]} (often dialout), then log in again"
        return Finding("instruments", "later", f"{names}; not yours to open", advice)
    return Finding("instruments", "ok", names)


def _extras() -> list[Finding]:
    found = []
    for extra, modules in _EXTRAS.items():
        absent = [name for name in modules if util.find_spec(name) is None]
        if absent:
            advice = (
                f"""only for some commands: install "forerun[{extra}]" for {", ".join(absent)}"""
            )
            found.append(Finding(f"[{extra}]", "later", f"without {', '.join(absent)}", advice))
        else:
            found.append(Finding(f"[{extra}]", "ok", ", ".join(modules)))
    return found
