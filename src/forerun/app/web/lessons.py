"""Class material on the page: reckoned once, kept while the server runs, given as its files."""

from __future__ import annotations

import functools
import hashlib
import io
import threading
import tomllib
import zipfile
from collections import OrderedDict
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import anyio
import anyio.to_thread
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from forerun.app.web.bodies import pop_text, read_table, refuse_rest
from forerun.app.web.failures import error_object, status_of
from forerun.app.web.question import Progress
from forerun.app.web.sent_sheet import sheet_from
from forerun.app.web.streams import answer_as_events
from forerun.core.errors import BadInput
from forerun.core.provenance import made_by
from forerun.reporting.class_html import html_policy
from forerun.reporting.plain import to_text
from forerun.sheets.topics import topics

if TYPE_CHECKING:
    from forerun.reporting.lesson import Lesson

__all__ = ["LessonDesk", "lesson_routes"]

_KEPT = 24  # lessons in memory, some hundred kB each; the one not asked for longest goes first
_AT_ONCE = 1  # that are reckoned because somebody opens their address
_BENCHES, _MOST_BENCHES = 12, 200
_NOT_FOUND = 404
_WHICH = "lesson"  # the field of an error that there is no such lesson
_PAPERS = 4  # sets of papers that are kept of one lesson, some hundred kB each
_EVENTS = "text/event-stream"
_KINDS = {"html": "text/html; charset=utf-8", "pdf": "application/pdf", "zip": "application/zip"}


@dataclass(frozen=True, slots=True)
class _Made:
    found: Lesson
    page: bytes
    papers: OrderedDict[tuple[int, str | None], dict[str, bytes]] = field(
        default_factory=OrderedDict
    )


class LessonDesk:
    """The lessons that were reckoned since the server began."""

    def __init__(self) -> None:
        self._made: OrderedDict[str, _Made] = OrderedDict()
        self._lock = threading.Lock()

    def listed(self) -> dict[str, Any]:
        """Return the ready topics, and which of them are reckoned already."""
        rows = [
            {
                "name": topic.name,
                "title": tomllib.loads(topic.sheet)["title"],
                "aim": topic.aim,
                "misconception": topic.misconception,
                "reckoned": topic.name in self._made,
            }
            for topic in topics().values()
        ]
        return {"lessons": rows}

    def reckon(self, body: dict[str, Any], progress: Progress | None = None) -> dict[str, Any]:
        """Reckon a ready topic or a sheet, unless it is there.

        Args:
            body: with ``topic`` or ``sheet``.
            progress: called with parts done and all parts; whoever has gone away ends the work.

        Raises:
            BadInput: no such topic, or whatever in the sheet cannot be used.
        """
        if "topic" in body:
            name: str = pop_text(body, "topic")
            refuse_rest(body, "topic, or sheet")
            if name not in topics():
                raise BadInput("topic", name, ", ".join(topics()))
            given: Any = name
        else:
            # a copy, since reading a sheet takes its keys out of the table
            name = f"sheet-{hashlib.sha256(to_text(body).encode()).hexdigest()[:16]}"
            given = sheet_from(body)
            refuse_rest(body, "topic, or sheet")
        made = self._kept(name) or self._new(name, given, progress)
        at = f"/lesson/{name}"
        return {
            **made.found.to_json(),
            "name": name,
            "page": at,
            "handout": f"{at}/handout.pdf",
            "key": f"{at}/key.pdf",
            "folder": f"{at}/folder.zip",
            "made_by": made_by(),
        }

    def page(self, name: str) -> bytes:
        """Return the page of a lesson.

        Args:
            name: of a ready topic, or what `reckon` gave a sheet.

        Raises:
            BadInput: there is none.
        """
        return self._of(name).page

    def file(
        self, name: str, file: str, benches: str | None = None, length: str | None = None
    ) -> bytes:
        """Return another file of its folder, or all of it.

        Args:
            name: as `page` takes it.
            file: ``handout.pdf``, ``key.pdf`` or ``folder.zip``.
            benches: how many work at a time, 1 to 200; 12 when left out.
            length: of the class; as `forerun lesson` has it when left out.

        Raises:
            BadInput: there is no such lesson, or a number or time that is none.
        """
        count = benches or str(_BENCHES)
        fits = count.isascii() and count.isdecimal() and len(count) < 4
        if not fits or not 1 <= int(count) <= _MOST_BENCHES:
            raise BadInput("benches", count, f"a whole number from 1 to {_MOST_BENCHES}")
        files = self._papers(self._of(name), int(count), length or None)
        return _zipped(name, files) if file == "folder.zip" else files[file]

    def _papers(self, made: _Made, benches: int, length: str | None) -> dict[str, bytes]:
        """Return the files of a folder, which are set once: that takes seconds."""
        from forerun.app.lesson import folder_files

        asked = (benches, length)
        with self._lock:
            if asked in made.papers:
                return made.papers[asked]
        try:
            files = folder_files(made.found, benches=benches, length=length)
        except BadInput as problem:
            raise BadInput(
                problem.field.removeprefix("--"), problem.value, problem.accepted
            ) from problem
        with self._lock:
            made.papers[asked] = files
            while len(made.papers) > _PAPERS:
                made.papers.popitem(last=False)
        return files

    def _of(self, name: str) -> _Made:
        """Return what was reckoned; a ready topic is reckoned when it is not there."""
        made = self._kept(name)
        if made is None and name in topics():
            made = self._new(name, name, None)
        if made is None:
            raise BadInput(_WHICH, name, "a ready topic, or one reckoned since the server began")
        return made

    def _kept(self, name: str) -> _Made | None:
        with self._lock:
            if name in self._made:
                self._made.move_to_end(name)
            return self._made.get(name)

    def _new(self, name: str, given: Any, progress: Progress | None) -> _Made:
        from forerun.app.lesson import reckoned

        found = reckoned(given, progress)
        made = _Made(found, found.page().encode())
        with self._lock:
            self._made[name] = made
            while len(self._made) > _KEPT:
                self._made.popitem(last=False)
        return made


def _zipped(name: str, files: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for file, data in files.items():
            packed.writestr(f"{name}/{file}", data)
    return out.getvalue()


def lesson_routes(desk: LessonDesk) -> list[Route]:
    """Return the paths of class material.

    Args:
        desk: that has it.
    """
    paths = _Paths(desk)
    files = ("handout.pdf", "key.pdf", "folder.zip")
    return [
        Route("/api/lessons", paths.listed, methods=["GET"]),
        Route("/api/lesson", paths.reckon, methods=["POST"]),
        Route("/lesson/{name}", paths.page, methods=["GET"]),
        *[
            Route(f"/lesson/{{name}}/{file}", functools.partial(paths.file, file), methods=["GET"])
            for file in files
        ],
    ]


class _Paths:
    """What answers each path."""

    def __init__(self, desk: LessonDesk) -> None:
        self._desk = desk
        self._limit = anyio.CapacityLimiter(_AT_ONCE)

    async def listed(self, _request: Request) -> Response:
        """Give the list of ready topics."""
        return JSONResponse(self._desk.listed())

    async def reckon(self, request: Request) -> Response:
        """Reckon a lesson, as a stream of events when that is asked for."""
        try:
            body = await read_table(request)
        except BadInput as problem:
            return JSONResponse(error_object(problem), status_code=status_of(problem))
        work = functools.partial(self._desk.reckon, body)
        if _EVENTS in request.headers.get("accept", ""):
            return answer_as_events(work)
        return await self._answered(lambda: _json(work()), None)

    async def page(self, request: Request) -> Response:
        """Give the page of a lesson: the one that its folder holds."""
        give = functools.partial(self._desk.page, request.path_params["name"])
        policy = f"{html_policy()}; frame-ancestors 'none'"
        return await self._answered(
            lambda: _file(give(), "html", {"Content-Security-Policy": policy}), _NOT_FOUND
        )

    async def file(self, file: str, request: Request) -> Response:
        """Give another file of a lesson."""
        name = request.path_params["name"]
        kind = file.rpartition(".")[2]
        asked = [request.query_params.get(key) for key in ("benches", "length")]
        return await self._answered(
            lambda: _file(
                self._desk.file(name, file, *asked), kind, _saved_as(f"{name}-{file}", kind)
            ),
            _NOT_FOUND,
        )

    async def _answered(self, give: Callable[[], Response], status: int | None) -> Response:
        answer: Awaitable[Response] = anyio.to_thread.run_sync(give, limiter=self._limit)
        try:
            return await answer
        except Exception as problem:  # whatever it is, the asker gets a sentence
            found = status_of(problem)
            # what is not there is 404; a number or time in the address that is none stays 422
            if status is not None and isinstance(problem, BadInput) and problem.field == _WHICH:
                found = status
            return JSONResponse(error_object(problem), status_code=found)


def _json(found: dict[str, Any]) -> Response:
    return Response(to_text(found), media_type="application/json")


def _file(data: bytes, kind: str, headers: dict[str, str]) -> Response:
    return Response(data, media_type=_KINDS[kind], headers={"Cache-Control": "no-store", **headers})


def _saved_as(name: str, kind: str) -> dict[str, str]:
    """Return how a browser treats a file: a page of paper is shown, a folder is saved."""
    how = "attachment" if kind == "zip" else "inline"
    return {"Content-Disposition": f'{how}; filename="{name}"'}
