"""What stands before every request: who may ask, how much may be sent, what a browser may do.

The server has no accounts, so it answers only to this machine: it listens on the loopback
address, and refuses a request whose Host or Origin is another (a page elsewhere on the net whose
name was pointed at 127.0.0.1 would otherwise be let in by the browser).
"""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["HEADERS", "LARGEST_BODY", "LOOPBACK", "Guards"]

LARGEST_BODY = 1_100_000  # bytes: a sheet of 1 MB and its wrapping
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
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)

        async def protected(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(HEADERS)
            await send(message)

        refusal = self._refusal(scope["method"], headers)
        if refusal is not None:
            await refusal(scope, receive, protected)
            return
        await self._app(scope, receive, protected)

    def _refusal(self, method: str, headers: Headers) -> JSONResponse | None:
        host = headers.get("host", "")
        if _name_in(f"//{host}") not in self._hosts:
            return _refused(403, "Host", host, "the address of this machine, 127.0.0.1")
        origin = headers.get("origin")
        if origin is not None and not self._same(origin, host):
            return _refused(403, "Origin", origin, f"http://{host}, the page of this server")
        if headers.get("sec-fetch-site") in {"cross-site", "same-site"} and method != "GET":
            return _refused(403, "Sec-Fetch-Site", "cross-site", "same-origin")
        return _refusal_of_body(headers) if method == "POST" else None

    def _same(self, origin: str, host: str) -> bool:
        asked = urlsplit(f"//{host}")
        try:
            found = urlsplit(origin)
            return (found.scheme, found.hostname, found.port) == (
                "http",
                asked.hostname,
                asked.port,
            )
        except ValueError:
            return False


def _refusal_of_body(headers: Headers) -> JSONResponse | None:
    length = headers.get("content-length", "0")
    if not length.isdecimal() or int(length) > LARGEST_BODY:
        return _refused(413, "Content-Length", length, "at most 1 MB")
    kind = headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != "application/json":
        return _refused(415, "Content-Type", kind, "application/json")
    return None


def _name_in(address: str) -> str | None:
    try:
        return urlsplit(address).hostname
    except ValueError:
        return None


def _refused(status: int, field: str, value: str, accepted: str) -> JSONResponse:
    shown = value[:60]
    error = {
        "field": field,
        "value": shown,
        "accepted": accepted,
        "message": f'{field}: "{shown}" cannot be used; accepted: {accepted}.',
    }
    return JSONResponse({"error": error}, status_code=status)
