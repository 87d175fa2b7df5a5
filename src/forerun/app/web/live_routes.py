"""Live runs over HTTP: begun, joined, read, spoken of, followed, ended."""

from __future__ import annotations

import asyncio
import functools
import io
from collections.abc import Awaitable, Callable
from concurrent.futures import Future
from typing import Any, TypeVar

import anyio.to_thread
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from forerun.app.web.benches import Benches, NotYours, own_runs
from forerun.app.web.bodies import pop_optional, pop_text, read_table, refuse_rest
from forerun.app.web.failures import error_object, status_of
from forerun.app.web.live_desk import LiveDesk
from forerun.app.web.live_pooled import Together
from forerun.app.web.sent_sheet import sheet_from
from forerun.core.errors import BadInput
from forerun.core.provenance import signed
from forerun.running.live import LiveRun

__all__ = ["live_routes"]

T = TypeVar("T")

_Answer = Callable[[Request], Awaitable[Response]]
_NOT_FOUND, _MADE = 404, 201
_LARGEST = 2**53  # a whole number that JSON carries without loss
_LONGEST_TITLE = 200


def live_routes(desk: LiveDesk) -> list[Route]:
    """Return the paths of live runs.

    Args:
        desk: that has the runs.
    """
    paths = _Paths(desk)
    return [
        Route("/api/runs", _told(paths.begin), methods=["POST"]),
        Route("/api/runs", _told(paths.listed), methods=["GET"]),
        Route("/api/join/{code}", _told(paths.join, _NOT_FOUND), methods=["GET"]),
        Route("/api/runs/{id:int}", _told(paths.whole, _NOT_FOUND), methods=["GET"]),
        Route("/api/runs/{id:int}/readings", _told(paths.readings), methods=["POST"]),
        Route("/api/runs/{id:int}/entries", _told(paths.entries), methods=["POST"]),
        Route("/api/runs/{id:int}/end", _told(paths.end), methods=["POST"]),
        Route("/api/runs/{id:int}/live", _told(paths.live, _NOT_FOUND), methods=["GET"]),
        Route("/api/runs/{id:int}/qr.svg", _told(paths.qr, _NOT_FOUND), methods=["GET"]),
        Route("/api/wall", _told(paths.wall), methods=["GET"]),
        Route("/api/wall/live", _told(paths.wall_live), methods=["GET"]),
        Route("/api/pooled", _told(paths.pooled), methods=["GET"]),
        Route("/api/pooled.csv", _told(paths.pooled_table), methods=["GET"]),
        Route("/api/pooled/take-out", _told(paths.take_out), methods=["POST"]),
        Route("/api/pooled/erase", _told(paths.erase), methods=["POST"]),
    ]


def _told(answer: _Answer, status: int | None = None) -> _Answer:
    """Return an answer that says in a sentence what went wrong.

    Args:
        answer: to a request.
        status: of input that cannot be used, where it is not 422.
    """

    @functools.wraps(answer)
    async def told(request: Request) -> Response:
        try:
            return await answer(request)
        except NotYours as problem:
            return JSONResponse(error_object(problem), problem.status, problem.headers)
        except Exception as problem:  # whatever it is, the asker gets a sentence
            found = status_of(problem)
            if status is not None and isinstance(problem, BadInput):
                found = status
            return JSONResponse(error_object(problem), status_code=found)

    return told


async def _in_thread(act: Callable[..., T], *words: Any) -> T:
    return await anyio.to_thread.run_sync(functools.partial(act, *words))


async def _stored(answer: Future[T]) -> T:
    """Wait until the disk has it."""
    return await asyncio.wrap_future(answer)


class _Paths:
    """What answers each path."""

    def __init__(self, desk: LiveDesk) -> None:
        self._desk = desk
        self._together = Together(desk)
        self._benches = Benches()

    async def _run(self, request: Request) -> LiveRun:
        number = int(request.path_params["id"])
        if not 0 < number < _LARGEST:
            raise BadInput("run", number, "the number of a run")
        self._benches.must_be_own(request, number)
        at_hand = self._desk.runs.at_hand(number)
        return at_hand if at_hand is not None else await _in_thread(self._desk.run, number)

    async def begin(self, request: Request) -> Response:
        """Begin a run."""
        run = await _stored(await _in_thread(self._begun, await read_table(request)))
        self._benches.take(request, run.id)
        told = {"id": run.id, "code": run.code, "started_utc_s": run.started_utc_s}
        return JSONResponse({**told, "title": run.title, "pace": run.pace}, status_code=_MADE)

    def _begun(self, body: dict[str, Any]) -> Future[LiveRun]:
        from forerun.sheets.writing import toml_of

        if "sheet" not in body:
            raise BadInput("sheet", "nothing", "a run sheet, as a table or as TOML text")
        title, pace = pop_optional(body, "title") or "", body.pop("pace", 1.0)
        if isinstance(pace, bool) or not isinstance(pace, int | float):
            raise BadInput("pace", pace, "a number")
        given = body["sheet"]
        sheet = sheet_from(body)
        refuse_rest(body, "sheet, title, pace")
        text = given if isinstance(given, str) else toml_of(sheet)
        return self._desk.runs.begin(sheet, text, title.strip()[:_LONGEST_TITLE], float(pace))

    async def listed(self, request: Request) -> Response:
        """Give the list of live runs."""
        return JSONResponse({"runs": await _in_thread(self._listed, own_runs(request))})

    def _listed(self, own: set[int] | None) -> list[dict[str, Any]]:
        from forerun.running.live_objects import row_object

        runs = self._desk.runs
        rows = [row for row in runs.rows() if own is None or row.id in own]
        return [row_object(row, runs.last_reading_s(row)) for row in rows]

    async def join(self, request: Request) -> Response:
        """Give the number of the run that has a code."""
        code = str(request.path_params["code"])
        self._benches.may_try(request, code)
        run = await _in_thread(lambda: self._desk.runs.join(code))
        self._benches.take(request, run.id)
        return JSONResponse({"id": run.id})

    async def whole(self, request: Request) -> Response:
        """Give a run."""
        from forerun.running.live_objects import run_object

        after, entries = _count(request, "after"), _count(request, "entries")
        run = await self._run(request)
        return JSONResponse(await _in_thread(run_object, run, after or 0, entries or 0))

    async def readings(self, request: Request) -> Response:
        """Store readings."""
        run, body = await self._run(request), await read_table(request, lenient=True)
        rows, origin, sequence = (body.pop(k, None) for k in ("readings", "origin", "sequence"))
        refuse_rest(body, "readings, origin, sequence")
        found = await _stored(run.send(rows, origin, sequence))
        return JSONResponse(
            {
                "stored": found.kept.last - found.kept.first + 1,
                "number": found.kept.last,
                "flags": {str(number): list(flags) for number, flags in found.flags.items()},
                "now_s": run.now_s(),
            }
        )

    async def entries(self, request: Request) -> Response:
        """Store what a bench says beside its readings."""
        run, body = await self._run(request), await read_table(request)
        keys = ("kind", "data", "corrects", "origin", "sequence")
        words = [body.pop(key, None) for key in keys]
        refuse_rest(body, ", ".join(keys))
        kept = await _stored(run.say(*words))
        return JSONResponse({"number": kept.last, "now_s": run.now_s()})

    async def end(self, request: Request) -> Response:
        """End a run."""
        run = await self._run(request)
        refuse_rest(await read_table(request), "nothing")
        await _stored(run.end())
        return JSONResponse({"ended_utc_s": run.ended_utc_s})

    async def live(self, request: Request) -> Response:
        """Follow a run."""
        from forerun.app.web.live_streams import run_stream

        after, entries = _count(request, "after"), _count(request, "entries")
        seen = request.headers.get("last-event-id", "")
        if seen.isdecimal() and len(seen) < 16:
            after, entries = max(after or 0, int(seen)), None
        return run_stream(await self._run(request), after or 0, entries)

    async def qr(self, request: Request) -> Response:
        """Draw the address at which a bench joins."""
        import segno

        run, drawn = await self._run(request), io.BytesIO()
        address = f"{request.base_url}#/hood/{run.code}"
        segno.make(address, error="m").save(
            drawn, kind="svg", border=4, light="#fff", omitsize=True
        )
        return Response(drawn.getvalue(), media_type="image/svg+xml")

    async def wall(self, request: Request) -> Response:
        """Give one line for each bench."""
        return JSONResponse({"runs": await _in_thread(self._desk.wall, own_runs(request))})

    async def wall_live(self, request: Request) -> Response:
        """Follow all benches."""
        from forerun.app.web.live_streams import wall_stream

        await _in_thread(self._desk.wall)  # a store that cannot be opened is said here
        return wall_stream(self._desk, own_runs(request))

    async def pooled(self, _request: Request) -> Response:
        """Give the curves of all benches together."""
        return JSONResponse(signed({"classes": await _in_thread(self._together.classes)}))

    async def pooled_table(self, request: Request) -> Response:
        """Give one class as a table."""
        table = await _in_thread(self._together.table, _count(request, "class") or 0)
        kept = {"Content-Disposition": 'attachment; filename="pooled.csv"'}
        return Response(table, media_type="text/csv", headers=kept)

    async def take_out(self, request: Request) -> Response:
        """Leave a bench out of what is shown of all together, or have it back."""
        body = await read_table(request)
        code, out = body.pop("code", None), body.pop("out", True)
        refuse_rest(body, "code, out")
        if not isinstance(code, str) or not isinstance(out, bool):
            raise BadInput("code", code, 'the code of a bench, and "out" true or false')
        run = await _in_thread(lambda: self._desk.runs.join(code))
        await _stored(run.take_out(out))
        self._together.forget()
        return JSONResponse({"code": run.code, "out": out})

    async def erase(self, request: Request) -> Response:
        """Take all that is kept of a bench away for good."""
        body = await read_table(request)
        code, sure = body.pop("code", None), body.pop("sure", False)
        reason = pop_text(body, "reason", "")
        refuse_rest(body, "code, sure, reason")
        if not isinstance(code, str):
            raise BadInput("code", code, "the code of a bench")
        if sure is not True:
            raise BadInput("sure", sure, "true: nothing brings an erased run back")
        run = await _in_thread(lambda: self._desk.runs.join(code))
        rows = await _stored(self._desk.runs.erase(run.id, reason))
        self._together.forget()
        return JSONResponse({"code": run.code, "erased": rows})


def _count(request: Request, key: str) -> int | None:
    given = request.query_params.get(key)
    if given is None:
        return None
    if not given.isdecimal() or len(given) > 15:
        raise BadInput(key, given, "a whole number")
    return int(given)
