"""Nobody asks without being known: this machine's owner, a session by pass-phrase, or a token.

Stands behind `Guards`. Everything is denied unless `rights` allows it to the role of who asks.
"""

from __future__ import annotations

import functools
import math
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from urllib.parse import parse_qs

import anyio
import anyio.to_thread
from starlette.datastructures import Headers
from starlette.requests import ClientDisconnect, Request, cookie_parser
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Match, Route, WebSocketRoute
from starlette.types import ASGIApp, Receive, Scope, Send

from forerun.app.web.attempts import Attempts
from forerun.app.web.guards import refused
from forerun.app.web.login_page import locked_page, login_page
from forerun.app.web.neighbours import is_owner
from forerun.app.web.passphrases import LONGEST, PassPhrases
from forerun.app.web.rights import may
from forerun.app.web.sessions import OWNER, Session, Sessions

__all__ = ["ASKER", "Access", "Entry"]

ASKER = "forerun.session"
"""Where a request has its session; None for this machine's owner and for a script."""

Neighbour = Callable[[tuple[str, int], tuple[str, int]], bool]

_LARGEST_FORM = 4 * LONGEST + 100  # bytes, encoded
_PATIENCE = 10.0  # s in which a form must have arrived
_AT_ONCE = 2  # pass-phrases hashed at a time, 32 MB each
_LOCKED = 429
_SAFE = frozenset({"GET", "HEAD"})


@dataclass(frozen=True, slots=True)
class Entry:
    """By what people come in.

    Args:
        phrases: pass-phrases of the roles; None where only this machine is served.
        sessions: who is in.
        attempts: how often a pass-phrase was tried.
        neighbour: whether the other end of a connection is the owner's own.
    """

    phrases: PassPhrases | None = None
    sessions: Sessions = field(default_factory=Sessions)
    attempts: Attempts = field(default_factory=Attempts)
    neighbour: Neighbour = is_owner


class Access:
    """Let through who is known and may; give everybody else the login page.

    Args:
        app: what is guarded.
        routes: all that can be asked.
        entry: by what people come in.
    """

    def __init__(self, app: ASGIApp, routes: Sequence[BaseRoute], entry: Entry) -> None:
        self._app = app
        self._routes = tuple(routes)
        self._entry = entry
        self._limit = anyio.CapacityLimiter(_AT_ONCE)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or pass the request on."""
        if scope["type"] not in {"http", "websocket"}:
            await self._app(scope, receive, send)
            return
        answer = await self._answer(scope, receive)
        if answer is None:
            await self._app(scope, receive, send)
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008, "reason": ""})
        else:
            await answer(scope, receive, send)

    async def _answer(self, scope: Scope, receive: Receive) -> Response | None:
        method, path = scope.get("method", "WEBSOCKET"), scope["path"]
        headers = Headers(scope=scope)
        if method == "POST" and path == "/login" and self._entry.phrases is not None:
            return await self._login(self._entry.phrases, scope, receive)
        if method == "GET" and path.startswith("/start/"):
            return self._start(scope, path.removeprefix("/start/"))
        session = self._session(scope, headers)
        role = self._role(scope, headers) if session is None else session.role
        if role is None:
            return self._stranger(path)
        scope[ASKER] = session
        return self._known(role, session is not None, scope, headers)

    def _known(self, role: str, by_cookie: bool, scope: Scope, headers: Headers) -> Response | None:
        """Return what an asker in a role gets instead of what was asked; None: let through."""
        method = scope.get("method", "WEBSOCKET")
        if by_cookie and method not in _SAFE and not _from_our_page(headers):
            return refused(403, "Origin", headers.get("origin", "none"), "the page of this server")
        if method == "POST" and scope["path"] == "/logout":
            return self._logout(scope, headers)
        route = _route(self._routes, scope)
        if route is not None and not may(role, method, route):
            return refused(403, "role", role, "a role that may do this; log in as another")
        return None

    def _session(self, scope: Scope, headers: Headers) -> Session | None:
        cookie = cookie_parser(headers.get("cookie", "")).get(_cookie_name(scope), "")
        return self._entry.sessions.of_cookie(cookie) if cookie else None

    def _role(self, scope: Scope, headers: Headers) -> str | None:
        """Return the role of who asks without a session, None for a stranger."""
        kind, _, token = headers.get("authorization", "").partition(" ")
        if kind.lower() == "bearer":
            return self._entry.sessions.role_of_token(token.strip())
        client, server = scope.get("client"), scope.get("server")
        if client and server and self._entry.neighbour(tuple(client), tuple(server)):
            return OWNER
        return None

    def _stranger(self, path: str) -> Response:
        if path.startswith("/api/"):
            accepted = "who is known: log in at /login, or send this user's token"
            return refused(401, "who asks", "unknown", accepted)
        return locked_page() if self._entry.phrases is None else login_page()

    async def _login(self, phrases: PassPhrases, scope: Scope, receive: Receive) -> Response:
        headers = Headers(scope=scope)
        if not _from_our_page(headers):
            return refused(403, "Origin", headers.get("origin", "none"), "the page of this server")
        form = await _form(Request(scope, receive))
        role, phrase = form.get("role", ""), form.get("phrase", "")
        address = scope["client"][0] if scope.get("client") else ""
        if left := self._entry.attempts.wait(address):
            return login_page(_LOCKED, f"Wait {math.ceil(left)} s before the next attempt.", left)
        fits = functools.partial(phrases.fits, role, phrase)
        if not await anyio.to_thread.run_sync(fits, limiter=self._limit):
            return login_page(401, "Not that.")
        self._entry.attempts.right(address)
        print(f"{role} came in from {address}", file=sys.stderr)
        return self._let_in(scope, role)

    def _start(self, scope: Scope, token: str) -> Response:
        if self._entry.sessions.started(token):
            return self._let_in(scope, OWNER)
        return self._stranger("/")

    def _let_in(self, scope: Scope, role: str) -> Response:
        answer = RedirectResponse("/", status_code=303)
        answer.set_cookie(
            _cookie_name(scope),
            self._entry.sessions.open(role),
            httponly=True,
            samesite="strict",
            secure=scope["scheme"] == "https",
        )
        return answer

    def _logout(self, scope: Scope, headers: Headers) -> Response:
        name = _cookie_name(scope)
        self._entry.sessions.close(cookie_parser(headers.get("cookie", "")).get(name, ""))
        answer = JSONResponse({"out": True})
        answer.delete_cookie(name)
        return answer


def _cookie_name(scope: Scope) -> str:
    """Return a name of this server's own: cookies do not tell ports apart."""
    server = scope.get("server") or ("", 0)
    return f"forerun-{server[1]}"


def _from_our_page(headers: Headers) -> bool:
    """Return whether a browser says that our own page asks; `Guards` has compared the origin."""
    return "origin" in headers or headers.get("sec-fetch-site") == "same-origin"


def _route(routes: Sequence[BaseRoute], scope: Scope) -> str | None:
    """Return the path of the route that will answer, None where none will."""
    for route in routes:
        if isinstance(route, Route | WebSocketRoute) and route.matches(scope)[0] is Match.FULL:
            return route.path
    return None


async def _form(request: Request) -> dict[str, str]:
    raw = bytearray()
    with anyio.move_on_after(_PATIENCE) as waited:
        try:
            async for piece in request.stream():
                raw += piece
                if len(raw) > _LARGEST_FORM:
                    return {}
        except ClientDisconnect:
            return {}
    if waited.cancelled_caught:
        return {}
    try:
        found = parse_qs(raw.decode("ascii"), max_num_fields=4)
    except ValueError:
        return {}
    return {key: values[0] for key, values in found.items()}
