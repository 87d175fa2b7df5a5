"""A run, or all of them, as streams of events: first what was missed, then what comes."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Container
from typing import Any

import anyio.to_thread
from starlette.responses import StreamingResponse

from forerun.app.web.live_desk import LiveDesk
from forerun.core.provenance import made_by
from forerun.running.live import LiveRun
from forerun.running.live_objects import entry_object, reading_object, told_objects

__all__ = ["run_stream", "wall_stream"]

_BEAT = 2.0  # s
_WALL_BEAT = 1.0  # s
_ALL_AGAIN = 10  # beats of the wall
_KIND = "text/event-stream"
_HEADERS = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
_BEGIN = "retry: 1000\n\n"  # ms after which a browser that lost us asks again


def _event(kind: str, content: Any, number: int | None = None) -> str:
    mark = "" if number is None else f"id: {number}\n"
    return f"event: {kind}\n{mark}data: {json.dumps(content, allow_nan=False)}\n\n"


class _News:
    """What one listener has not been told yet."""

    def __init__(self, run: LiveRun, after: int, entries: int | None) -> None:
        self._run, self._number = run, after
        self._entry = self._entries_before(after) if entries is None else entries
        self._told: dict[str, Any] = {}
        self._ended = False

    def _entries_before(self, number: int) -> int:
        """Return the last entry that was stored before a reading was."""
        if number == 0:
            return 0
        seen = self._run.readings(number - 1)
        if not seen:
            return self._run.entries_stored
        earlier = [e.number for e in self._run.entries() if e.stored_utc_s < seen[0].stored_utc_s]
        return earlier[-1] if earlier else 0

    def text(self) -> str:
        """Return everything new as events."""
        run = self._run
        told: list[str] = []
        for stored in run.readings(self._number):
            self._number = stored.number
            told.append(_event("reading", reading_object(stored), stored.number))
        for entry in run.entries(self._entry):
            self._entry = entry.number
            told.append(_event("entry", entry_object(entry)))
        told += self._changed(told_objects(run))
        if run.ended_utc_s is not None and not self._ended:
            self._ended = True
            told.append(_event("ended", {"ended_utc_s": run.ended_utc_s}))
        return "".join(told)

    def _changed(self, now: dict[str, Any]) -> list[str]:
        parts = {
            "alarm": {"alarms": now["alarms"], "not_judged": now["not_judged"]},
            "findings": {"findings": now["findings"]},
            "estimate": now["estimate"],
            "instruction": now["instruction"],
        }
        changed = {k: v for k, v in parts.items() if v is not None and self._told.get(k) != v}
        self._told |= changed
        return [_event(kind, content) for kind, content in changed.items()]

    def beat(self) -> str:
        """Return the sign that we are still there, with the time of the run."""
        moment = self._run.clock.now()
        return _event("beat", {"now_s": self._run.now_s(), "utc_s": moment.utc_s})


def run_stream(run: LiveRun, after: int, entries: int | None) -> StreamingResponse:
    """Return a run as a stream of events.

    Args:
        run: the run.
        after: number of the last reading that the listener has.
        entries: number of the last entry that it has; None: reckoned from ``after``.
    """
    return StreamingResponse(_run_events(run, after, entries), media_type=_KIND, headers=_HEADERS)


async def _run_events(run: LiveRun, after: int, entries: int | None) -> AsyncIterator[str]:
    loop, changed = asyncio.get_running_loop(), asyncio.Event()

    def wake() -> None:
        if not loop.is_closed():
            loop.call_soon_threadsafe(changed.set)

    leave = run.watch(wake)
    try:
        news = await anyio.to_thread.run_sync(_News, run, after, entries)
        yield (
            _BEGIN
            + _event("made_by", made_by())
            + await anyio.to_thread.run_sync(news.text)
            + news.beat()
        )
        due = loop.time() + _BEAT
        while True:
            try:
                async with asyncio.timeout_at(due):
                    await changed.wait()
            except TimeoutError:
                due = loop.time() + _BEAT
                yield news.beat()
                continue
            changed.clear()
            told = news.text()
            if told:
                yield told
    finally:
        leave()


def wall_stream(desk: LiveDesk, own: Container[int] | None = None) -> StreamingResponse:
    """Return all benches as a stream of events, each told again when it has changed.

    Args:
        desk: with the runs.
        own: numbers of the runs that the listener may see, also of later ones; None for all.
    """
    return StreamingResponse(_wall_events(desk, own), media_type=_KIND, headers=_HEADERS)


async def _wall_events(desk: LiveDesk, own: Container[int] | None) -> AsyncIterator[str]:
    told: dict[int, dict[str, Any]] = {}
    yield _BEGIN
    beats = 0
    while True:
        lines = await anyio.to_thread.run_sync(desk.wall, own)
        whole = beats % _ALL_AGAIN == 0
        changed = [row for row in lines if whole or _but_time(row) != told.get(row["id"])]
        told |= {row["id"]: _but_time(row) for row in changed}
        yield "".join(_event("summary", row) for row in changed) or ": here\n\n"
        beats += 1
        await asyncio.sleep(_WALL_BEAT)


def _but_time(row: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in row.items() if key != "now_s"}
