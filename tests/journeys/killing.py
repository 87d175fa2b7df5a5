"""A server killed under load again and again: what it acknowledged is held against the disk."""

from __future__ import annotations

import http.client
import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
SHEET = {
    "title": "killed again and again",
    "charge": [
        {"substance": "acetone", "amount": "40 mL"},
        {"substance": "toluene", "amount": "40 mL"},
    ],
}
REAL = ("-m", "forerun.app.cli", "serve", "--no-browser", "--port")
"""The command itself, with its warm-up and its process for reckoning."""

LEAN = (
    "-c",
    "import sys, uvicorn; from forerun.app.web.application import application; "
    "from forerun.app.web.live_desk import LiveDesk; desk = LiveDesk(make=None); desk.runs; "
    "uvicorn.run(application(desk=desk), port=int(sys.argv[1]), log_level='warning')",
)
"""The same server without warm-up and reckoning, for many kills in little time."""


@dataclass
class Tally:
    """What came of all rounds.

    Args:
        kills: how often the server was killed.
        acknowledged: sendings that were answered.
        stored: readings on disk at the end.
        lost: sendings that were answered and are not on disk, or differ.
        twice: sendings that are on disk twice.
        corrupt: rounds after which the file was not whole.
        resumed_s: from the start of the next process to the next answer, of each round.
    """

    kills: int = 0
    acknowledged: int = 0
    stored: int = 0
    lost: list[str] = field(default_factory=list)
    twice: list[str] = field(default_factory=list)
    corrupt: list[str] = field(default_factory=list)
    resumed_s: list[float] = field(default_factory=list)


class Bench(threading.Thread):
    """Sends one reading after the other, each until it is answered, across restarts."""

    def __init__(self, port: int, name: str, run: int) -> None:
        super().__init__(daemon=True)
        self.acknowledged: dict[str, int] = {}
        self.problems: list[str] = []
        self.first_at = self.last_at = 0.0
        self._port, self._bench, self._run = port, name, run
        self._sequence, self._leaving = 0, threading.Event()
        self._waits = threading.Event()

    def run(self) -> None:
        line: http.client.HTTPConnection | None = None
        while not self._leaving.is_set():
            body = self._body()
            try:
                line = line or http.client.HTTPConnection("127.0.0.1", self._port, timeout=5)
                path = f"/api/runs/{self._run}/readings"
                line.request("POST", path, body, {"Content-Type": "application/json"})
                reply = line.getresponse()
                told = json.loads(reply.read())
            except (OSError, http.client.HTTPException, ValueError):
                if line is not None:
                    line.close()
                line = None
                time.sleep(0.01)
                continue
            if reply.status != 200:
                self.problems.append(str(told))
                return
            self.last_at = time.monotonic()
            self.first_at = self.first_at or self.last_at
            self.acknowledged[f"{self._bench}-{self._sequence}"] = told["number"]
            self._sequence += 1
        if line is not None:
            line.close()

    def _body(self) -> str:
        remark = f"{self._bench}-{self._sequence}"
        row = {"head_C": 50 + self._sequence % 30, "distillate_mL": 1, "remark": remark}
        sent = {"readings": [row], "origin": self._bench, "sequence": self._sequence}
        return json.dumps(sent)

    def stop(self) -> None:
        """End after the sending that is on its way."""
        self._leaving.set()


class Killed:
    """Rounds of a server that is started, loaded and killed.

    Args:
        folder: of its records.
        port: on which it listens.
        command: `REAL` or `LEAN`.
        seed: of the moments.
    """

    def __init__(self, folder: Path, port: int, command: Sequence[str], seed: int) -> None:
        self.tally = Tally()
        self._folder, self._port, self._command = folder, port, command
        self._chance = random.Random(seed)
        self._said = (folder / "said.txt").open("wb")

    def _start(self) -> subprocess.Popen[bytes]:
        surroundings = {
            **os.environ,
            "PYTHONPATH": str(ROOT / "src"),
            "FORERUN_DATA": str(self._folder),
        }
        return subprocess.Popen(
            [sys.executable, *self._command, str(self._port)],
            stdout=self._said, stderr=self._said, env=surroundings,
        )  # fmt: skip

    def _ask(self, method: str, path: str, body: Any = None) -> Any:
        until = time.monotonic() + 60.0
        while True:
            try:
                line = http.client.HTTPConnection("127.0.0.1", self._port, timeout=5)
                sent = None if body is None else json.dumps(body)
                line.request(method, path, sent, {"Content-Type": "application/json"})
                told = json.loads(line.getresponse().read())
                line.close()
                return told
            except OSError:
                if time.monotonic() > until:
                    raise
                time.sleep(0.01)

    def rounds(self, count: int, benches: int = 3, longest_s: float = 0.8) -> Tally:
        """Kill the server so often, each time at a random moment under load, on one run.

        Args:
            count: of kills.
            benches: that send at the same time.
            longest_s: from the first answer to the kill, at most.
        """
        server = self._start()
        try:
            run = self._ask("POST", "/api/runs", {"sheet": SHEET})["id"]
            for _ in range(count):
                clients = self._loaded(run, benches)
                time.sleep(self._chance.uniform(0.0, longest_s))
                server.send_signal(signal.SIGKILL)
                server.wait()
                started = time.monotonic()
                server = self._start()
                self.tally.resumed_s.append(self._next_answer(clients, started) - started)
                self._stop(clients)
                self.tally.kills += 1
                self._compare(run, clients)
            self._ask("POST", f"/api/runs/{run}/end", {})
        finally:
            server.kill()
            server.wait()
        self._whole()
        return self.tally

    def _loaded(self, run: int, benches: int) -> list[Bench]:
        """Return clients, the first of which has been answered."""
        names = [f"bench-{self.tally.kills}-{k}" for k in range(benches)]
        clients = [Bench(self._port, name, run) for name in names]
        for client in clients:
            client.start()
        self._next_answer(clients, 0.0)
        return clients

    def _next_answer(self, clients: list[Bench], after: float) -> float:
        """Return when a client was answered for the first time after a moment."""
        until = time.monotonic() + 60.0
        while True:
            answered = [client.last_at for client in clients if client.last_at > after]
            if answered:
                return min(answered)
            assert time.monotonic() < until, "the server does not answer"
            assert not any(client.problems for client in clients), clients[0].problems
            time.sleep(0.002)

    def _stop(self, clients: list[Bench]) -> None:
        """Let each client have its last sending answered by the next server."""
        for client in clients:
            client.stop()
        for client in clients:
            client.join(30.0)
            assert not client.problems, client.problems

    def _compare(self, run: int, clients: list[Bench]) -> None:
        with_names = [f"bench-{self.tally.kills - 1}-{k}" for k in range(len(clients))]
        marks = ", ".join("?" * len(with_names))
        ask = f"SELECT remark, number FROM reading WHERE run_id = ? AND origin IN ({marks})"
        db = sqlite3.connect(self._folder / "runs.sqlite")
        rows = db.execute(ask, (run, *with_names)).fetchall()
        state = db.execute("PRAGMA quick_check").fetchone()[0]
        db.close()
        found = dict(rows)
        self.tally.twice += [remark for remark, _ in rows if rows.count((remark, _)) > 1]
        if len(found) < len(rows):
            self.tally.twice.append(f"{len(rows) - len(found)} in round {self.tally.kills}")
        if state != "ok":
            self.tally.corrupt.append(f"round {self.tally.kills}: {state}")
        for client in clients:
            self.tally.acknowledged += len(client.acknowledged)
            self.tally.lost += [
                name for name, number in client.acknowledged.items() if found.get(name) != number
            ]

    def _whole(self) -> None:
        db = sqlite3.connect(self._folder / "runs.sqlite")
        (state,) = db.execute("PRAGMA integrity_check").fetchone()
        count, distinct = db.execute(
            "SELECT count(*), count(DISTINCT remark) FROM reading"
        ).fetchone()
        gaps = db.execute(
            "SELECT count(*) FROM (SELECT run_id FROM reading GROUP BY run_id "
            "HAVING count(*) != max(number))"
        ).fetchone()[0]
        db.close()
        self.tally.stored += count
        if state != "ok" or gaps:
            self.tally.corrupt.append(f"{state}, {gaps} runs with gaps")
        if distinct != count:
            self.tally.twice.append(f"{count - distinct} in all")
        self._said.close()
