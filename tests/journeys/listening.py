"""A listener to a stream of events of our own server, in a thread of its own."""

from __future__ import annotations

import http.client
import json
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Event:
    """One event and when it came."""

    kind: str
    data: Any
    number: int | None
    at: float


class Listener:
    """Collects the events of a path until closed."""

    def __init__(self, port: int, path: str, **headers: str) -> None:
        self.events: list[Event] = []
        self.problem: Exception | None = None
        self._connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        self._connection.request("GET", path, headers={"Accept": "text/event-stream", **named})
        self._reply = self._connection.getresponse()
        self.status = self._reply.status
        self._closing = False
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        kind, number = "", None
        try:
            while line := self._reply.readline():
                name, _, value = line.decode().rstrip("\n").partition(": ")
                if name == "event":
                    kind, number = value, None
                elif name == "id":
                    number = int(value)
                elif name == "data":
                    self.events.append(Event(kind, json.loads(value), number, time.monotonic()))
        except (OSError, AttributeError, ValueError, http.client.HTTPException) as problem:
            if not self._closing:
                self.problem = problem

    def of(self, kind: str) -> list[Any]:
        """Return the contents of all events of a kind so far."""
        return [event.data for event in list(self.events) if event.kind == kind]

    def wait(self, kind: str, count: int = 1, patience: float = 10.0) -> list[Any]:
        """Return the contents of the events of a kind once there are so many."""
        until = time.monotonic() + patience
        while time.monotonic() < until:
            found = self.of(kind)
            if len(found) >= count:
                return found
            time.sleep(0.005)
        raise AssertionError(f"{len(self.of(kind))} of {count} events {kind}: {self.problem}")

    def until(self, kind: str, fits: Callable[[Any], bool], patience: float = 10.0) -> Any:
        """Return the first content of a kind that fits, once it has come."""
        until = time.monotonic() + patience
        while time.monotonic() < until:
            found = next((content for content in self.of(kind) if fits(content)), None)
            if found is not None:
                return found
            time.sleep(0.005)
        raise AssertionError(f"no such event {kind} among {self.of(kind)}: {self.problem}")

    def close(self) -> None:
        """Stop listening."""
        self._closing = True
        if self._connection.sock is not None:
            self._connection.sock.shutdown(socket.SHUT_RDWR)
        self._thread.join(5)
        self._reply.close()
        self._connection.close()
