"""A PostgreSQL server for tests: started when first asked for, thrown away at the end."""

from __future__ import annotations

import atexit
import os
import shutil
import subprocess
import tempfile
from functools import cache
from pathlib import Path

import pytest

__all__ = ["Server", "server"]

_NOBODY = "nobody"


class Server:
    """A server that listens in its own folder only."""

    def __init__(self, programs: Path) -> None:
        self._programs = programs
        self.folder = Path(tempfile.mkdtemp(prefix="pg", dir="/tmp"))
        self._count = 0
        # a PostgreSQL server refuses to run as root
        self._as = {"user": _NOBODY, "extra_groups": []} if os.geteuid() == 0 else {}
        if self._as:
            shutil.chown(self.folder, _NOBODY)
        self._run("initdb", "-U", "forerun", "-A", "trust", "-E", "UTF8", "--locale=C")
        self.start()
        atexit.register(self.remove)

    def start(self) -> None:
        """Let it run."""
        options = (
            f"-c listen_addresses='' -c unix_socket_directories={self.folder} "
            "-c recovery_init_sync_method=syncfs"
        )
        self._run("pg_ctl", "-w", "-o", options, "-l", str(self.folder / "log"), "start")

    def stop(self, how: str = "fast") -> None:
        """Stop it; ``immediate`` is as if it had been killed."""
        self._run("pg_ctl", "-w", "-m", how, "stop")

    def new_database(self) -> str:
        """Return the address of an empty database."""
        self._count += 1
        name = f"lab{self._count}"
        self.ask("postgres", f"CREATE DATABASE {name}")
        return self.address(name)

    def address(self, name: str) -> str:
        """Return the address of a database."""
        return f"postgresql://forerun@/{name}?host={self.folder}"

    def ask(self, name: str, statement: str) -> str:
        """Return what a statement answers."""
        words = ["psql", "-h", str(self.folder), "-U", "forerun", "-At", "-c", statement, name]
        return subprocess.run(words, check=True, capture_output=True, text=True).stdout

    def remove(self) -> None:
        """Stop it and throw its folder away."""
        subprocess.run(
            [self._programs / "pg_ctl", "-D", self.folder, "-m", "immediate", "stop"],
            check=False, capture_output=True, **self._as,
        )  # fmt: skip
        shutil.rmtree(self.folder, ignore_errors=True)

    def _run(self, program: str, *words: str) -> None:
        subprocess.run(
            [self._programs / program, "-D", str(self.folder), *words],
            check=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, cwd="/tmp", **self._as,
        )  # fmt: skip


@cache
def server() -> Server:
    """Return the server of this run of tests; skips the test where none is installed."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    on_path = shutil.which("initdb")
    if not found and on_path is None:
        pytest.skip("no PostgreSQL server is installed")
    pytest.importorskip("psycopg")
    return Server(found[-1].parent if found else Path(str(on_path)).parent)
