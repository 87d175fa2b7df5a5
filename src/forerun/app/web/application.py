"""The server's paths: the interface under /api, the page for everything else."""

from __future__ import annotations

import functools
import gzip
from collections.abc import Callable, Iterable
from importlib import metadata
from typing import Any

import anyio
import anyio.to_thread
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from forerun.app.web.access import Access, Entry
from forerun.app.web.asking import QUESTIONS
from forerun.app.web.bodies import pop_text, read_table, refuse_rest
from forerun.app.web.failures import error_object, status_of
from forerun.app.web.guards import LOOPBACK, Guards
from forerun.app.web.hidden import HIDDEN, classes_listed
from forerun.app.web.keeping import ACTS, kept
from forerun.app.web.lessons import LessonDesk, lesson_routes
from forerun.app.web.live_desk import LiveDesk
from forerun.app.web.live_routes import live_routes
from forerun.app.web.offered import examples, offered, sheet_of_text
from forerun.app.web.openapi import description
from forerun.app.web.own_glass import one_passport, passports_listed
from forerun.app.web.page import Page
from forerun.app.web.question import Question
from forerun.app.web.streams import answer_as_events
from forerun.core.errors import BadInput
from forerun.reporting.plain import to_text

__all__ = ["application"]

Act = Callable[[dict[str, Any]], dict[str, Any]]

_AT_ONCE = 4  # short answers computed at a time
_EVENTS = "text/event-stream"
_WORTH_PACKING = 4000  # bytes


def application(
    hosts: Iterable[str] = LOOPBACK, desk: LiveDesk | None = None, entry: Entry | None = None
) -> Starlette:
    """Return the server as an ASGI application.

    Args:
        hosts: names under which it may be asked; others are refused.
        desk: with the live runs; that of this user when left out.
        entry: by what people come in; only its owner on this machine when left out.
    """
    paths = _Paths()
    routes = [
        Route("/api/health", paths.health),
        Route("/api/openapi.json", paths.openapi),
        Route("/api/examples", paths.examples),
        Route("/api/offered", paths.offered),
        Route("/api/sheet", paths.sheet, methods=["POST"]),
        Route("/api/passports", functools.partial(paths.listed, passports_listed)),
        Route(
            "/api/passports/open", functools.partial(paths.keeping, one_passport), methods=["POST"]
        ),
        Route("/api/hidden", functools.partial(paths.listed, classes_listed)),
        Route("/api/kept", functools.partial(paths.listed, lambda _body: kept())),
        *[
            Route(f"/api/kept/{act}", functools.partial(paths.keeping, do), methods=["POST"])
            for act, do in ACTS.items()
        ],
        *[
            Route(f"/api/{q.name}", functools.partial(paths.question, q), methods=["POST"])
            for q in (*QUESTIONS.values(), *HIDDEN.values())
        ],
        *lesson_routes(LessonDesk()),
        *live_routes(LiveDesk() if desk is None else desk),
        Route("/{path:path}", paths.page, methods=["GET"]),
    ]
    return Starlette(
        routes=routes,
        middleware=[
            Middleware(Guards, hosts=tuple(hosts)),
            Middleware(Access, routes=routes, entry=entry or Entry()),
        ],
        exception_handlers={HTTPException: _no_such_path, Exception: _failed},
    )


class _Paths:
    """What answers each path."""

    def __init__(self) -> None:
        self._page = Page()
        self._version = metadata.version("forerun")
        self._limit = anyio.CapacityLimiter(_AT_ONCE)

    async def health(self, _request: Request) -> Response:
        """Say that the server is there, and which version it is."""
        return JSONResponse({"status": "ok", "version": self._version})

    async def openapi(self, _request: Request) -> Response:
        """Describe the interface."""
        return JSONResponse(description(self._version))

    async def examples(self, _request: Request) -> Response:
        """Give the ready sheets."""
        return JSONResponse(examples())

    async def offered(self, request: Request) -> Response:
        """Give the names of liquids and the drawer."""
        packs = "gzip" in request.headers.get("accept-encoding", "")
        return _packed(to_text(offered()).encode(), packs)

    async def sheet(self, request: Request) -> Response:
        """Turn the text of a sheet into a table."""
        try:
            body = await read_table(request)
            text = pop_text(body, "toml")
            refuse_rest(body, "toml")
            return JSONResponse(sheet_of_text(text))
        except BadInput as problem:
            return JSONResponse(error_object(problem), status_code=status_of(problem))

    async def listed(self, do: Act, _request: Request) -> Response:
        """Give a list of what this user keeps."""
        return await anyio.to_thread.run_sync(_done, do, {})

    async def keeping(self, do: Act, request: Request) -> Response:
        """Save, open, duplicate, delete or restore a sheet; open a passport."""
        try:
            body = await read_table(request)
        except BadInput as problem:
            return JSONResponse(error_object(problem), status_code=status_of(problem))
        return await anyio.to_thread.run_sync(_done, do, body)

    async def question(self, question: Question, request: Request) -> Response:
        """Answer a question, as a stream of events when that is asked for."""
        try:
            body = await read_table(request)
        except BadInput as problem:
            return JSONResponse(error_object(problem), status_code=status_of(problem))
        if _EVENTS in request.headers.get("accept", ""):
            return answer_as_events(functools.partial(question.ask, body))
        packs = "gzip" in request.headers.get("accept-encoding", "")
        return await anyio.to_thread.run_sync(_answered, question, body, packs, limiter=self._limit)

    async def page(self, request: Request) -> Response:
        """Give a file of the page."""
        return self._page.answer(request)


def _done(do: Act, body: dict[str, Any]) -> Response:
    try:
        return JSONResponse(do(body))
    except Exception as problem:  # whatever it is, the asker gets a sentence
        return JSONResponse(error_object(problem), status_code=status_of(problem))


def _answered(question: Question, body: dict[str, Any], packs: bool) -> Response:
    try:
        return _packed(to_text(question.ask(body, None)).encode(), packs)
    except Exception as problem:  # whatever it is, the asker gets a sentence
        return JSONResponse(error_object(problem), status_code=status_of(problem))


def _packed(raw: bytes, packs: bool) -> Response:
    """Return an answer, compressed where that saves more than it costs."""
    kind = "application/json"
    if not packs or len(raw) < _WORTH_PACKING:
        return Response(raw, media_type=kind)
    headers = {"Content-Encoding": "gzip", "Vary": "Accept-Encoding"}
    return Response(gzip.compress(raw, 1), media_type=kind, headers=headers)


async def _no_such_path(request: Request, problem: Exception) -> Response:
    status = problem.status_code if isinstance(problem, HTTPException) else 404
    accepted = "the paths of /api/openapi.json, each with its method"
    error = error_object(BadInput("path", f"{request.method} {request.url.path}", accepted))
    return JSONResponse(error, status_code=status)


async def _failed(_request: Request, problem: Exception) -> Response:
    return JSONResponse(error_object(problem), status_code=status_of(problem))
