"""Readings to a server over HTTP: sent again until they are acknowledged, stored once."""

from __future__ import annotations

import json
import threading
import urllib.error
import urllib.request
from collections.abc import Mapping, Sequence
from typing import Any

from forerun.core.errors import BadInput
from forerun.running.sources.interface import Row

__all__ = ["HttpPush"]

_AGAIN = 1.0  # s
_PATIENCE = 20.0  # s for an answer
_REFUSED = 500  # answers below it are about what was sent: sending it again changes nothing


class HttpPush:
    """Sends rows of one origin to one run, in order.

    Args:
        address: of the server, such as ``http://127.0.0.1:8017``.
        run: its number.
        origin: under which they are kept.
        stop: set from outside, ends the trying.
    """

    def __init__(self, address: str, run: int, origin: str, stop: threading.Event) -> None:
        self._address, self._run, self._origin, self._stop = address, run, origin, stop
        self._sequence = 0

    def deliver(self, rows: Sequence[Row]) -> None:
        """Send rows, as often as it takes.

        Args:
            rows: of readings.

        Raises:
            BadInput: the server refuses them.
        """
        self._sequence += 1
        body = {
            "readings": [dict(row) for row in rows],
            "origin": self._origin,
            "sequence": self._sequence,
        }
        self.post(f"/api/runs/{self._run}/readings", body)

    def post(self, path: str, body: Mapping[str, Any]) -> dict[str, Any]:
        """Send a table until the server answers, and return the answer.

        Args:
            path: on the server.
            body: the table.

        Raises:
            BadInput: the server refuses it, or it was stopped before it answered.
        """
        sent = json.dumps(body).encode()
        while not self._stop.is_set():
            request = urllib.request.Request(
                self._address + path, sent, {"Content-Type": "application/json"}
            )
            try:
                with urllib.request.urlopen(request, timeout=_PATIENCE) as answer:
                    found: dict[str, Any] = json.loads(answer.read())
                    return found
            except urllib.error.HTTPError as refused:
                with refused:
                    said = refused.read().decode("utf-8", "replace")[:500]
                if refused.code < _REFUSED:
                    raise BadInput("server", said, "readings that it takes") from refused
            except OSError:
                pass  # not there, or not any more: it is asked again
            self._stop.wait(_AGAIN)
        raise BadInput("server", "no answer", "a server that answers")
