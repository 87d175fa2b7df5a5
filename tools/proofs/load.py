"""Thirty benches on one server: how long from a reading sent to a reading seen, and its memory.

    python tools/proofs/load.py [--minutes N] [--benches N] [--hertz N] [--keep]

With --hertz every bench sends that often, from four channels; without:
each bench sends what the thermometers of a simulated run of its own show, once a second, one of
them ten times; each is followed by one event stream, as a browser follows it.  Server and all
clients share this machine.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import sys
import tempfile
import time
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests")]

from forerun.running.simulated import simulated_log  # noqa: E402
from forerun.sheets.examples import example  # noqa: E402
from forerun.sheets.resolving import load  # noqa: E402
from journeys.served import Server  # noqa: E402 -- after the path

FIGURES = ROOT / "docs" / "explain" / "load.json"
SHEET = "simple-still"
FIRST_SEED = 40_000
ZERO_CELSIUS = 273.15  # K
LEAST_SETTLED_S = 60.0  # before memory is compared: and every run has to have its first estimate


@dataclass
class Seen:
    """What was measured, all benches together."""

    acknowledged_s: list[float] = field(default_factory=list)
    seen_s: list[float] = field(default_factory=list)
    begun: float = 0.0
    sent: int = 0
    refused: int = 0
    memory_MB: list[tuple[float, float]] = field(default_factory=list)
    estimated_s: dict[int, list[float]] = field(default_factory=dict)


class Line:
    """One connection that stays open."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._reader: asyncio.StreamReader | None = None
        self._writer: asyncio.StreamWriter | None = None

    async def post(self, path: str, body: object) -> tuple[int, dict]:
        """Send a table, return status and answer."""
        if self._writer is None:
            self._reader, self._writer = await asyncio.open_connection("127.0.0.1", self._port)
        raw = json.dumps(body).encode()
        head = (
            f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{self._port}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(raw)}\r\n\r\n"
        )
        self._writer.write(head.encode() + raw)
        assert self._reader is not None
        top = (await self._reader.readuntil(b"\r\n\r\n")).decode()
        length = int(next(x for x in top.lower().split("\r\n") if "content-length" in x)[15:])
        answer = json.loads(await self._reader.readexactly(length))
        return int(top.split()[1]), answer


@dataclass(frozen=True, slots=True)
class Bench:
    """What the thermometers of one bench show.

    Args:
        run: its number on the server.
        every_s: between two readings [s].
        columns: what is read by the name under which it is sent, one for each second of the run.
    """

    run: int
    every_s: float
    columns: dict[str, np.ndarray]

    def reading(self, time_s: float) -> dict[str, float]:
        """Return what is read at a time of the run."""
        return {
            name: round(float(column[min(int(time_s), column.size - 1)]), 2)
            for name, column in self.columns.items()
        }


def bench_of(run: int, every_s: float, seed: int, channels: int) -> Bench:
    """Return a bench whose still is not quite what the sheet says."""
    log = simulated_log(load(example(SHEET)), seed, every_s=1.0).readings
    columns = {
        "head_C": log.channel("head_K") - ZERO_CELSIUS,
        "bath_C": log.channel("bath_K") - ZERO_CELSIUS,
        "pot_C": log.channel("pot_K") - ZERO_CELSIUS,
        "pressure_mbar": log.channel("pressure_Pa") / 100.0,
    }
    return Bench(run, every_s, dict(list(columns.items())[:channels]))


async def send(port: int, bench: Bench, end: float, seen: Seen, sent: dict) -> None:
    """Send readings until the end."""
    line, number, run, every_s = Line(port), 0, bench.run, bench.every_s
    opened = time.perf_counter()
    begun = time.perf_counter() + np.random.default_rng(run).uniform(0.0, every_s)
    while time.perf_counter() < end:
        await asyncio.sleep(max(begun + number * every_s - time.perf_counter(), 0.0))
        number += 1
        at = time.perf_counter()
        sent[number] = at
        body = {
            "readings": [bench.reading(at - opened)],
            "origin": "proof",
            "sequence": number,
        }
        status, answer = await line.post(f"/api/runs/{run}/readings", body)
        seen.acknowledged_s.append(time.perf_counter() - at)
        seen.sent += 1
        seen.refused += status != 200 or answer.get("number") != number


async def follower(port: int, run: int, seen: Seen, sent: dict) -> None:
    """Follow a run and note when each reading is seen."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(
        f"GET /api/runs/{run}/live HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n"
        "Accept: text/event-stream\r\n\r\n".encode()
    )
    kind = ""
    while True:
        line = (await reader.readline()).decode()
        if not line:
            return
        if line.startswith("event: "):
            kind = line[7:].strip()
        elif line.startswith("data: ") and kind == "estimate":
            seen.estimated_s.setdefault(run, []).append(time.perf_counter())
        elif line.startswith("data: ") and kind == "reading":
            number = json.loads(line[6:])["number"]
            if number in sent:
                seen.seen_s.append(time.perf_counter() - sent[number])


async def memory(server: int, begun: float, end: float, seen: Seen) -> None:
    """Note the memory of the server and of the process beside it; say each minute how it goes."""
    counted = 0
    while time.perf_counter() < end:
        await asyncio.sleep(5.0)
        apart = [_resident_MB(p) for p in [server, *_children(server)]]
        seen.memory_MB.append((time.perf_counter() - begun, sum(apart)))
        if len(seen.memory_MB) % 12 == 0 and len(seen.seen_s) > counted:
            shares = ", ".join(f"{part:.1f}" for part in apart)
            late = 1e3 * float(np.quantile(seen.seen_s[counted:], 0.99))
            counted = len(seen.seen_s)
            minute = len(seen.memory_MB) // 12
            print(f"{minute} min: {counted} seen, 99 % in {late:.0f} ms, {shares} MB", flush=True)


def _children(process: int) -> list[int]:
    """Return the processes that any thread of a process has begun, theirs too."""
    found = []
    for thread in Path(f"/proc/{process}/task").glob("*"):
        try:
            found += [int(p) for p in (thread / "children").read_text().split()]
        except OSError:  # a thread that has just ended
            continue
    return found + [grand for p in found for grand in _children(p)]


def _resident_MB(process: int) -> float:
    try:
        status = Path(f"/proc/{process}/status").read_text()
    except OSError:
        return 0.0
    row = next((r for r in status.splitlines() if r.startswith("VmRSS")), "VmRSS: 0 kB")
    return int(row.split()[1]) / 1024.0


async def measured(
    server: Server, process: int, benches: int, minutes: float, hertz: float | None
) -> Seen:
    """Run all benches and return what was seen."""
    seen, line = Seen(), Line(server.port)
    runs = []
    apart = [1.0] * benches + [0.1] if hertz is None else [1.0 / hertz] * benches
    for _ in apart:
        status, begun = await line.post("/api/runs", {"sheet": example(SHEET)})
        assert status == 201, begun
        runs.append(begun["id"])
    shown = [
        bench_of(run, every_s, FIRST_SEED + k, 2 if hertz is None else 4)
        for k, (run, every_s) in enumerate(zip(runs, apart, strict=True))
    ]
    start = time.perf_counter()
    end = start + 60.0 * minutes
    sent: list[dict[int, float]] = [{} for _ in runs]
    following = [
        asyncio.create_task(follower(server.port, run, seen, where))
        for run, where in zip(runs, sent, strict=True)
    ]
    sending = [send(server.port, one, end, seen, sent[k]) for k, one in enumerate(shown)]
    await asyncio.gather(memory(process, start, end, seen), *sending)
    await asyncio.sleep(1.0)
    for task in following:
        task.cancel()
    seen.begun = start
    return seen


def main() -> int:
    """Measure, print, keep where asked."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--minutes", type=float, default=10.0)
    words.add_argument("--benches", type=int, default=30)
    words.add_argument("--hertz", type=float, help="of every bench, four channels")
    words.add_argument("--keep", action="store_true", help="write the figures")
    given = words.parse_args()
    with tempfile.TemporaryDirectory(prefix="forerun-load-") as folder:
        os.environ["FORERUN_DATA"] = folder
        server = Server()
        try:
            process = server._process.pid
            seen = asyncio.run(measured(server, process, given.benches, given.minutes, given.hertz))
        finally:
            said = server.close()
    figures = {
        "date": date.today().isoformat(),
        "command": "python tools/proofs/load.py " + " ".join(sys.argv[1:]),
        "cores": os.cpu_count(),
        "benches": given.benches,
        "readings": seen.sent,
        "refused": seen.refused,
        "seen": len(seen.seen_s),
        "acknowledged_ms": _quantiles(seen.acknowledged_s),
        "seen_ms": _quantiles(seen.seen_s),
        "estimates_apart_s": _apart(seen),
        "every_run_has_one_after_s": round(_settled_s(seen), 0),
        "memory_MB": _memory(seen),
    }
    print(json.dumps(figures, indent=1))
    if "Traceback" in said:
        print(said[-2000:], file=sys.stderr)
        return 1
    if given.keep:
        kept = json.loads(FIGURES.read_text(encoding="utf-8")) if FIGURES.exists() else {}
        kept["one a second" if given.hertz is None else f"{given.hertz:g} a second"] = figures
        FIGURES.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
    return 0 if not seen.refused else 1


def _quantiles(seconds: list[float]) -> dict[str, float]:
    shares = (0.5, 0.95, 0.99, 1.0)
    found = np.quantile(seconds, shares) * 1e3
    return {f"{100 * s:g} %": round(float(q), 1) for s, q in zip(shares, found, strict=True)}


def _settled_s(seen: Seen) -> float:
    """Return when the last run had its first estimate [s of the measurement]."""
    return max(first[0] for first in seen.estimated_s.values()) - seen.begun


def _apart(seen: Seen) -> dict[str, float]:
    """Return how far apart the estimates of one run are, all runs together [s]."""
    settled = seen.begun + _settled_s(seen)
    gaps = [np.diff([at for at in times if at >= settled]) for times in seen.estimated_s.values()]
    found = np.quantile(np.concatenate(gaps), (0.5, 0.95, 1.0))
    return {f"{s} %": round(float(q), 1) for s, q in zip((50, 95, 100), found, strict=True)}


def _memory(seen: Seen) -> dict[str, float]:
    after = max(LEAST_SETTLED_S, _settled_s(seen))
    settled = [m for t, m in seen.memory_MB if t > after]
    tenth = max(len(settled) // 10, 1)
    first, last = float(np.median(settled[:tenth])), float(np.median(settled[-tenth:]))
    return {"when all are estimated": round(first, 1), "at the end": round(last, 1)}


if __name__ == "__main__":
    raise SystemExit(main())
