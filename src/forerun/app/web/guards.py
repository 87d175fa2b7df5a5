"""What stands before every request: who may ask, how much may be sent, what a browser may do.

A request whose Host or Origin is another than the server's is refused: a page elsewhere on the net
whose name was pointed at 127.0.0.1 would otherwise be let in by the browser. What a proxy says of
the asker (Forwarded, X-Forwarded-For) is not read at all.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["HEADERS", "LARGEST_BODY", "LOOPBACK", "Guards", "refused"]

LARGEST_BODY = 1_100_000  # bytes: a sheet of 1 MB and its wrapping
_DIGITS = 20  # of a length: Python refuses to read thousands of them
LOOPBACK = ("127.0.0.1", "localhost", "::1")

_POLICY = {
    "default-src": "'none'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self' blob:",
    "connect-src": "'self'",
    "manifest-src": "'self'",
    "base-uri": "'none'",
    "form-action": "'none'",
    "frame-ancestors": "'none'",
}
HEADERS = {
    "Content-Security-Policy": "; ".join(f"{key} {value}" for key, value in _POLICY.items()),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}
"""Sent with every answer: nothing from elsewhere, nothing inline, no framing."""
_ENCRYPTED = {"Strict-Transport-Security": "max-age=31536000"}
_HOST = re.compile(r"([A-Za-z0-9.-]+|\[[0-9A-Fa-f:]+\])(:[0-9]{1,5})?")
_SCHEMES = {"http": "http", "ws": "http", "https": "https", "wss": "https"}


class Guards:
    """Refuse foreign askers and too much data; put the protecting headers on every answer.

    Args:
        app: what is guarded.
        hosts: names and addresses under which the server may be asked.
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str] = LOOPBACK) -> None:
        self._app = app
        self._hosts = frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or pass the request on."""
        if scope["type"] not in {"http", "websocket"}:
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        if scope["type"] == "websocket":
            if self._refusal(scope, headers) is None:
                await self._app(scope, receive, send)
            else:
                await send({"type": "websocket.close", "code": 1008, "reason": ""})
            return

        async def protected(message: Message) -> None:
            if message["type"] == "http.response.start":
                sent = MutableHeaders(scope=message)
                for name, value in {**HEADERS, **self._more(scope)}.items():
                    sent.setdefault(name, value)
            await send(message)

        refusal = self._refusal(scope, headers)
        if refusal is not None:
            await refusal(scope, receive, protected)
            return
        await self._app(scope, receive, protected)

    @staticmethod
    def _more(scope: Scope) -> dict[str, str]:
        """Return what depends on the request; an encrypted server is never asked in plain."""
        kept = {"Cache-Control": "no-store"} if scope["path"].startswith("/api/") else {}
        return kept | (_ENCRYPTED if scope["scheme"] == "https" else {})

    def _refusal(self, scope: Scope, headers: Headers) -> JSONResponse | None:
        method, scheme = scope.get("method", "WEBSOCKET"), _SCHEMES[scope["scheme"]]
        host = headers.get("host", "")
        if len(headers.getlist("host")) != 1 or _name_in(host) not in self._hosts:
            return refused(403, "Host", host, "the address of this server")
        origin = headers.get("origin")
        if origin is not None and not _same(origin, scheme, host):
            return refused(403, "Origin", origin, f"{scheme}://{host}, the page of this server")
        query = scope.get("query_string", b"")
        if not query.isascii():
            shown = query.decode("ascii", "backslashreplace")
            return refused(400, "query", shown, "ASCII, with all else written as %XX")
        alien = headers.get("sec-fetch-site") in {"cross-site", "same-site"}
        if alien and (method != "GET" or scope["path"].startswith("/api/")):
            return refused(403, "Sec-Fetch-Site", "cross-site", "same-origin")
        return _refusal_of_body(scope["path"], headers) if method == "POST" else None


def _same(origin: str, scheme: str, host: str) -> bool:
    usual = {"http": 80, "https": 443}[scheme]
    try:
        asked, found = urlsplit(f"//{host}"), urlsplit(origin)
        return (found.scheme, found.hostname, found.port or usual) == (
            scheme,
            asked.hostname,
            asked.port or usual,
        )
    except ValueError:
        return False


def _refusal_of_body(path: str, headers: Headers) -> JSONResponse | None:
    length = headers.get("content-length", "0")
    if not length.isdecimal() or len(length) > _DIGITS or int(length) > LARGEST_BODY:
        return refused(413, "Content-Length", length, "at most 1 MB")
    kind = headers.get("content-type", "").partition(";")[0].strip().lower()
    expected = "application/x-www-form-urlencoded" if path == "/login" else "application/json"
    if kind != expected:
        return refused(415, "Content-Type", kind, expected)
    return None


def _name_in(host: str) -> str | None:
    """Return the name in ``name`` or ``name:port``, None for anything else."""
    found = _HOST.fullmatch(host)
    return found[1].strip("[]").lower() if found else None


def refused(status: int, field: str, value: str, accepted: str) -> JSONResponse:
    """Return the contract's error object as an answer.

    Args:
        status: of HTTP.
        field: what was wrong.
        value: as it came; cut where it is long.
        accepted: what would have been right.
    """
    shown = value[:60]
    error = {
        "field": field,
        "value": shown,
        "accepted": accepted,
        "message": f'{field}: "{shown}" cannot be used; accepted: {accepted}.',
    }
    return JSONResponse({"error": error}, status_code=status)
