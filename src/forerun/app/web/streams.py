"""Long work as a stream of events: progress, then the result; stopped when nobody listens."""

from __future__ import annotations

import json
import threading
from collections.abc import AsyncIterator, Callable
from typing import Any

import anyio
import anyio.from_thread
import anyio.to_thread
from starlette.responses import StreamingResponse

from forerun.app.web.failures import error_object
from forerun.app.web.question import Progress

__all__ = ["StoppedByReader", "answer_as_events", "event"]

Work = Callable[[Progress | None], dict[str, Any]]

_AT_ONCE = 2  # long works at a time; each may use all processors but one
_limit = anyio.CapacityLimiter(_AT_ONCE)


class StoppedByReader(Exception):  # noqa: N818 -- says what happened, not that it is an error
    """Whoever asked has gone: raised inside the work to end it."""


def event(kind: str, content: dict[str, Any]) -> str:
    """Return one event as text.

    Args:
        kind: ``progress``, ``result`` or ``error``.
        content: its object.

    Source:
        WHATWG, HTML Living Standard, section 9.2, Server-sent events.
    """
    return f"event: {kind}\ndata: {json.dumps(content, allow_nan=False)}\n\n"


def answer_as_events(work: Work) -> StreamingResponse:
    """Return a response that does the work and tells of it.

    Args:
        work: called in a thread with what it may call with parts done and all parts.
    """
    return StreamingResponse(_told(work), media_type="text/event-stream")


async def _told(work: Work) -> AsyncIterator[str]:
    send, receive = anyio.create_memory_object_stream[str](max_buffer_size=1000)
    gone = threading.Event()

    def progress(done: int, total: int) -> None:
        if gone.is_set():
            raise StoppedByReader
        told = event("progress", {"done": done, "total": total})
        anyio.from_thread.run_sync(_without_waiting, send, told)

    async def carry_out() -> None:
        async with send:
            last = await anyio.to_thread.run_sync(_done, work, progress, limiter=_limit)
            if last is not None:
                await send.send(last)

    async with anyio.create_task_group() as group:
        group.start_soon(carry_out)
        try:
            async with receive:
                async for told in receive:
                    yield told
        finally:
            gone.set()


def _without_waiting(send: Any, told: str) -> None:
    """Leave out a sign of progress that nobody has read the last ones of."""
    try:
        send.send_nowait(told)
    except (anyio.WouldBlock, anyio.BrokenResourceError):
        return


def _done(work: Work, progress: Progress) -> str | None:
    try:
        return event("result", work(progress))
    except StoppedByReader:
        return None
    except Exception as problem:  # whatever it is, the reader gets a sentence
        return event("error", error_object(problem))
