"""A server that is open to a lab, in a thread of the test, and what can be sent to it."""

from __future__ import annotations

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlencode

import uvicorn

from forerun.app.web.access import Entry
from forerun.app.web.application import application
from forerun.app.web.attempts import Attempts
from forerun.app.web.guards import LOOPBACK
from forerun.app.web.live_desk import LiveDesk
from forerun.app.web.passphrases import ROLES, PassPhrases
from forerun.app.web.sessions import Sessions

PHRASES = {role: f"correct horse {role}" for role in ROLES}
TOKEN = "t" * 43
NAME = "lab-pc.example"


@dataclass
class Clock:
    """Goes forward when told."""

    now: float = 0.0

    def __call__(self) -> float:
        return self.now


@dataclass(frozen=True, slots=True)
class Raw:
    """What came back over the wire; status 0 where the server closed without a word."""

    status: int
    headers: dict[str, str]
    body: str

    @property
    def is_login(self) -> bool:
        return 'action="/login"' in self.body and "<script" not in self.body


@dataclass
class Lab:
    """The server and its clock."""

    port: int
    clock: Clock
    entry: Entry

    def send(self, raw: bytes) -> Raw:
        """Send bytes as they are and read until the server closes."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=20) as line:
            got = bytearray()
            with suppress(ConnectionError):  # closed while we still send: what it said is read
                line.sendall(raw)
            with suppress(ConnectionError):
                while piece := line.recv(65536):
                    got += piece
        if not got:
            return Raw(0, {}, "")
        head, _, body = bytes(got).partition(b"\r\n\r\n")
        first, *rows = head.decode("latin-1").split("\r\n")
        parted = (row.split(": ", 1) for row in rows)
        headers = {name.lower(): value for name, value in parted}
        return Raw(int(first.split()[1]), headers, body.decode("utf-8", "replace"))

    def ask(self, method: str, path: str, body: bytes = b"", **headers: str) -> Raw:
        """Ask as a browser or a script would; each connection is closed afterwards."""
        usual = {"Host": f"{NAME}:{self.port}", "Content-Type": "application/json"}
        given = {name.replace("_", "-"): value for name, value in headers.items()}
        rows = {**usual, "Content-Length": str(len(body)), "Connection": "close", **given}
        head = "".join(f"{name}: {value}\r\n" for name, value in rows.items())
        return self.send(f"{method} {path} HTTP/1.1\r\n{head}\r\n".encode("latin-1") + body)

    @property
    def origin(self) -> str:
        return f"http://{NAME}:{self.port}"

    def login(self, role: str, phrase: str, **headers: str) -> Raw:
        """Send the form."""
        form = urlencode({"role": role, "phrase": phrase}).encode()
        kind = "application/x-www-form-urlencoded"
        sent = {"Content_Type": kind, "Origin": self.origin, **headers}
        return self.ask("POST", "/login", form, **sent)

    def cookie(self, role: str) -> str:
        """Return the cookie of somebody who came in."""
        found = self.login(role, PHRASES[role])
        assert found.status == 303, found
        return found.headers["set-cookie"].partition(";")[0]


@contextmanager
def open_lab(
    folder: Path, *, neighbour: bool = False, phrases: bool = True, reckons: bool = True
) -> Iterator[Lab]:
    """Serve until left; the other end is taken for the owner's own only where that is said."""
    clock = Clock()
    kept = PassPhrases(folder)
    if phrases:
        for role, phrase in PHRASES.items():
            kept.put(role, phrase)
    entry = Entry(
        kept if phrases else None, Sessions(TOKEN), Attempts(clock), lambda *_ends: neighbour
    )
    desk = LiveDesk() if reckons else LiveDesk(make=None)
    listening = socket.create_server(("127.0.0.1", 0))
    config = uvicorn.Config(
        application((*LOOPBACK, NAME), desk, entry),
        log_level="critical",
        access_log=False,
        proxy_headers=False,
        lifespan="off",
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    try:
        yield Lab(listening.getsockname()[1], clock, entry)
    finally:
        server.should_exit = True
        thread.join(timeout=20)
        listening.close()
        desk.close()
