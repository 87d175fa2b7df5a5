"""A server of our own for a test: the real command in a process of its own."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

_ROOT = Path(__file__).resolve().parents[2]
_PATIENCE = 120  # s: kernels may have to be compiled first


@dataclass(frozen=True, slots=True)
class Reply:
    """What came back: status, headers (names in lower case) and body."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)


class Server:
    """``forerun serve`` on a port of its own until closed."""

    def __init__(self, port: int = 0) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "forerun.app.cli", "serve", "--port", str(port), "--no-browser"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(_ROOT / "src"), "PYTHONUTF8": "1"},
            text=True,
        )
        assert self._process.stdout is not None
        line = self._process.stdout.readline()
        match = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
        if match is None:
            self._process.kill()
            _, problem = self._process.communicate()
            raise AssertionError(f"the server did not start: {line}{problem}")
        self.port = int(match[1])
        self.address = f"http://127.0.0.1:{self.port}"
        self._wait()

    def _wait(self) -> None:
        until = time.monotonic() + _PATIENCE
        while time.monotonic() < until:
            try:
                if self.get("/api/health").status == 200:
                    return
            except OSError:
                time.sleep(0.05)
        raise AssertionError("the server does not answer")

    def get(self, path: str, **headers: str) -> Reply:
        """Ask for a path."""
        return self._ask(urllib.request.Request(self.address + path, headers=_named(headers)))

    def post(self, path: str, body: Any, **headers: str) -> Reply:
        """Send a table (or bytes as they are)."""
        raw = body if isinstance(body, bytes) else json.dumps(body).encode()
        sent = {"Content-Type": "application/json", **_named(headers)}
        return self._ask(urllib.request.Request(self.address + path, raw, sent))

    def _ask(self, request: urllib.request.Request) -> Reply:
        try:
            with urllib.request.urlopen(request, timeout=_PATIENCE) as reply:
                return _reply(reply.status, reply.headers, reply.read())
        except urllib.error.HTTPError as refused:
            with refused:
                return _reply(refused.code, refused.headers, refused.read())

    def close(self) -> str:
        """End the process; returns what it said on stderr."""
        self._process.kill()
        _, said = self._process.communicate(timeout=30)
        return said


@contextmanager
def served_in(folder: Path, *unsaid: str) -> Iterator[Server]:
    """Serve with a folder of data that no other test has.

    Args:
        folder: where everything is kept.
        unsaid: words that must not be in what the server says, besides a traceback.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FORERUN_DATA", str(folder))
        found = Server()
        yield found
        said = found.close()
        assert [word for word in ("Traceback", *unsaid) if word in said] == []


def _named(headers: dict[str, str]) -> dict[str, str]:
    return {name.replace("_", "-"): value for name, value in headers.items()}


def _reply(status: int, headers: Any, body: bytes) -> Reply:
    return Reply(status, {name.lower(): value for name, value in headers.items()}, body)
