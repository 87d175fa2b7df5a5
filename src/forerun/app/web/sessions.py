"""Who is in: sessions by cookie, one start token, one token of this user for scripts."""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from forerun.core.errors import BadInput
from forerun.core.places import user_folder

__all__ = ["OWNER", "TOKEN_FILE", "Session", "Sessions", "script_token"]

OWNER = "owner"
"""Whoever started the server, on this machine: may everything."""
TOKEN_FILE = "http-token"
_LASTS = 12 * 3600.0  # s: a day at the bench
_MOST = 2000  # sessions at a time
_BYTES = 32


def script_token(folder: Path | None = None) -> str:
    """Return the token by which this user's scripts may ask, made when it is not there.

    Args:
        folder: where it is kept; the user's own when left out.

    Raises:
        BadInput: it cannot be written.
    """
    path = (user_folder() if folder is None else folder) / TOKEN_FILE
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        except FileExistsError:
            kept = path.read_text("ascii").strip()
            if len(kept) >= _BYTES:
                return kept
            path.unlink()
            return script_token(folder)
        token = secrets.token_urlsafe(_BYTES)
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(token)
    except (OSError, ValueError) as problem:
        raise BadInput("token", str(path), "a file that can be written and read") from problem
    return token


@dataclass(slots=True)
class Session:
    """One browser that came in.

    Args:
        name: that tells it from others; the cookie cannot be had from it.
        role: as which it came in.
        until: when it is over, on the clock of the sessions [s].
        runs: numbers of the live runs that it began or joined by their code.
    """

    name: str
    role: str
    until: float
    runs: set[int] = field(default_factory=set)


class Sessions:
    """Cookies that were given out, and the tokens that stand in for one.

    Args:
        script: the token of this user's scripts; empty for none.
        clock: seconds that only go forward.
    """

    def __init__(self, script: str = "", clock: Callable[[], float] = time.monotonic) -> None:
        self._script = script
        self._clock = clock
        self._lock = threading.Lock()
        self._open: OrderedDict[bytes, Session] = OrderedDict()
        self._start = b""

    def start_token(self) -> str:
        """Return a token that lets its bearer in once as the owner; the one before is void."""
        token = secrets.token_urlsafe(_BYTES)
        with self._lock:
            self._start = _digest(token)
        return token

    def started(self, token: str) -> bool:
        """Return whether this is the start token, which is void from now on."""
        with self._lock:
            if not self._start or not hmac.compare_digest(self._start, _digest(token)):
                return False
            self._start = b""
            return True

    def open(self, role: str) -> str:
        """Return the cookie of a new session in a role."""
        cookie = secrets.token_urlsafe(_BYTES)
        with self._lock:
            digest = _digest(cookie)
            self._open[digest] = Session(digest.hex()[:16], role, self._clock() + _LASTS)
            while len(self._open) > _MOST:
                self._open.popitem(last=False)
        return cookie

    def close(self, cookie: str) -> None:
        """End a session."""
        with self._lock:
            self._open.pop(_digest(cookie), None)

    def of_cookie(self, cookie: str) -> Session | None:
        """Return a session, None for one that is over or never was."""
        with self._lock:
            found = self._open.get(_digest(cookie))
        return found if found is not None and found.until > self._clock() else None

    def role_of_token(self, token: str) -> str | None:
        """Return the role of a script's token, None for a wrong one."""
        known = bool(self._script) and hmac.compare_digest(_digest(self._script), _digest(token))
        return OWNER if known else None


def _digest(text: str) -> bytes:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).digest()
