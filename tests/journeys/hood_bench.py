"""A bench for the tests of the hood: the live interface, and what it says is the test's to choose.

It serves the page that is in the package with the headers of the real server, keeps what is sent to
it once however often it is sent, and can be stopped, started again and made to lose its answers.
"""

from __future__ import annotations

import json
import queue
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from forerun.app.web.guards import HEADERS
from forerun.app.web.page import page_files

CODE = "K7M2QX"
RUN = "run-1"
_BEAT = 0.5  # s
_ML = 1e-6


class Bench:
    """One run on a server of its own."""

    def __init__(self) -> None:
        self.started = time.time() - 1920
        self.readings: list[dict[str, Any]] = []
        self.entries: list[dict[str, Any]] = []
        self.now: dict[str, Any] = {"estimate": None, "instruction": None, "findings": []}
        self.alarms: list[dict[str, Any]] = []
        self.ended: float | None = None
        self.posts: list[dict[str, Any]] = []
        self.lose_answers = 0
        self.wall: list[dict[str, Any]] = []
        self.classes: list[dict[str, Any]] = []
        self.taken_out: list[dict[str, Any]] = []
        self.erased: list[dict[str, Any]] = []
        self.instructor = True
        self._known: dict[tuple[str, int], dict[str, Any]] = {}
        self._ears: list[queue.Queue[tuple[str, Any]]] = []
        self._lock = threading.RLock()
        self._server: ThreadingHTTPServer | None = None
        self.port = 0
        self.start()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def seconds(self) -> float:
        return time.time() - self.started

    def start(self) -> None:
        bench = self

        class Bound(_Answers):
            pass

        Bound.bench = bench
        server = ThreadingHTTPServer(("127.0.0.1", self.port), Bound)
        server.daemon_threads = True
        self.port = server.server_address[1]
        self._server = server
        threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True).start()

    def stop(self) -> None:
        """Go away as a killed server does: every stream breaks, nothing new is answered."""
        server, self._server = self._server, None
        if server is not None:
            server.shutdown()
            server.server_close()
            with self._lock:
                for ear in self._ears:
                    ear.put(("", None))

    def tell(self, kind: str, data: Any) -> None:
        """Keep a state and send it to whoever listens."""
        with self._lock:
            if kind == "alarm":
                self.alarms = data
            elif kind == "ended":
                self.ended = data["ended_utc_s"]
            elif kind in self.now:
                self.now[kind] = data
            for ear in self._ears:
                ear.put((kind, data))

    def read(self, time_s: float, **values: Any) -> None:
        """A reading comes from a device."""
        with self._lock:
            number = len(self.readings) + 1
            self.readings.append({"number": number, "time_s": time_s, "origin": "probe", **values})
            self.tell("reading", self.readings[-1])

    def take(self, path: str, body: dict[str, Any]) -> dict[str, Any]:
        """Keep what the page sent, once."""
        with self._lock:
            self.posts.append({"path": path, **body})
            key = (str(body.get("origin")), int(body.get("sequence", 0)))
            if key not in self._known:
                self._known[key] = self._new(path, body)
            return self._known[key]

    def _new(self, path: str, body: dict[str, Any]) -> dict[str, Any]:
        if path == "entries":
            entry = {"number": len(self.entries) + 1, "kind": body["kind"], "data": body["data"]}
            self.entries.append(entry)
            self.tell("entry", entry)
            return {"number": entry["number"]}
        for one in body["readings"]:
            values: dict[str, Any] = {}
            for name in ("head", "pot", "bath"):
                if f"{name}_C" in one:
                    values[f"{name}_K"] = one[f"{name}_C"] + 273.15
            if "distillate_mL" in one:
                values["distillate_m3"] = one["distillate_mL"] * _ML
            self.read(one.get("time_s", self.seconds()), **values)
        return {"stored": len(body["readings"]), "number": len(self.readings)}

    def snapshot(self, after: int) -> dict[str, Any]:
        with self._lock:
            return {
                "id": RUN,
                "code": CODE,
                "title": "Acetone from toluene",
                "sheet": {"programme": {"stop": {"residue": "20 mL"}}},
                "started_utc_s": self.started,
                "ended_utc_s": self.ended,
                "now_s": self.seconds(),
                "readings": [one for one in self.readings if one["number"] > after],
                "entries": list(self.entries),
                "alarms": self.alarms,
                **self.now,
            }

    def listen(self) -> queue.Queue[tuple[str, Any]]:
        with self._lock:
            self._ears.append(queue.Queue())
            return self._ears[-1]

    def forget(self, ear: queue.Queue[tuple[str, Any]]) -> None:
        with self._lock:
            self._ears.remove(ear)

    @property
    def there(self) -> bool:
        return self._server is not None


class _Answers(BaseHTTPRequestHandler):
    bench: Bench

    def log_message(self, *_words: Any) -> None:
        """Say nothing."""

    def do_GET(self) -> None:
        path, _, asked = self.path.partition("?")
        after = int(asked.partition("after=")[2] or 0)
        if path == f"/api/join/{CODE}":
            self._json({"id": RUN})
        elif path == f"/api/runs/{RUN}":
            self._json(self.bench.snapshot(after))
        elif path == f"/api/runs/{RUN}/live":
            self._stream(after)
        elif path == "/api/wall":
            self._json({"runs": self.bench.wall})
        elif path == "/api/pooled":
            self._json({"classes": self.bench.classes})
        elif path == "/api/wall/live":
            self._stream(10**9)
        elif path.startswith("/api/"):
            self._json({"error": _fault("path", path, "a path that is there")}, 404)
        else:
            self._file(path)

    def do_POST(self) -> None:
        body = json.loads(self.rfile.read(int(self.headers["content-length"])))
        if self.path in {"/api/pooled/take-out", "/api/pooled/erase"}:
            if not self.bench.instructor:
                self._json({"error": _fault("role", "bench", "a role that may do this")}, 403)
                return
            erases = self.path.endswith("erase")
            (self.bench.erased if erases else self.bench.taken_out).append(body)
            self._json(body)
            return
        path = self.path.removeprefix(f"/api/runs/{RUN}/")
        if path == "end":
            self.bench.tell("ended", {"ended_utc_s": time.time()})
            self._json({"ended_utc_s": self.bench.ended})
            return
        if self.bench.ended is not None:
            self._json({"error": _fault("run", RUN, "a run that has not ended")}, 422)
            return
        answer = self.bench.take(path, body)
        if self.bench.lose_answers:
            self.bench.lose_answers -= 1
            self.close_connection = True
            self.connection.close()
            return
        self._json(answer)

    def _json(self, answer: Any, status: int = 200) -> None:
        self._send(status, "application/json", json.dumps(answer).encode())

    def _file(self, path: str) -> None:
        file = page_files().get(path.removeprefix("/") or "index.html")
        if file is None:
            self._send(404, "text/plain", b"")
        else:
            self._send(200, file.kind, file.plain)

    def _send(self, status: int, kind: str, body: bytes) -> None:
        self.send_response(status)
        self._heads(kind)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def _heads(self, kind: str) -> None:
        self.send_header("Content-Type", kind)
        self.send_header("Cache-Control", "no-cache")
        for name, value in HEADERS.items():
            self.send_header(name, value)

    def _stream(self, after: int) -> None:
        ear = self.bench.listen()
        try:
            self.send_response(200)
            self._heads("text/event-stream")
            self.end_headers()
            self.wfile.flush()
            for one in self.bench.snapshot(after)["readings"]:
                self._event("reading", one)
            while self.bench.there:
                try:
                    kind, data = ear.get(timeout=_BEAT)
                except queue.Empty:
                    kind, data = "beat", {"now_s": self.bench.seconds(), "utc_s": time.time()}
                if kind:
                    self._event(kind, data)
        except OSError:
            self.close_connection = True  # the page went away
        finally:
            self.bench.forget(ear)

    def _event(self, kind: str, data: Any) -> None:
        self.wfile.write(f"event: {kind}\ndata: {json.dumps(data)}\n\n".encode())
        self.wfile.flush()


def _fault(field: str, value: str, accepted: str) -> dict[str, str]:
    message = f'{field}: "{value}" cannot be used; accepted: {accepted}.'
    return {"field": field, "value": value, "accepted": accepted, "message": message}


def estimate(now_s: float) -> dict[str, Any]:
    """Return an invented estimate: a run of acetone from toluene, half an hour in."""
    times = [now_s + 60 * k for k in range(0, 61, 2)]
    head = [329.5 + 54 / (1 + 2.718 ** (-(k - 30) / 3)) for k in range(0, 61, 2)]
    wide = [0.2 + 0.05 * k for k in range(0, 61, 2)]
    volume = [(34 + 1.3 * k) * _ML for k in range(0, 61, 2)]
    return {
        "now_s": now_s, "reading": 12, "took_s": 0.4, "state": "decided",
        "says": "The readings decide: the switch is 12 to 18 minutes away.",
        "fan": {
            "time_s": times,
            "head_temperature_K": {
                "p10": [h - w for h, w in zip(head, wide, strict=True)],
                "p50": head,
                "p90": [h + w for h, w in zip(head, wide, strict=True)],
            },
            "distillate_volume_m3": {
                "p10": [0.97 * v for v in volume], "p50": volume, "p90": [1.03 * v for v in volume],
            },
        },
        "next_switch": {
            "receiver": 1, "probability": 0.92, "time_s": [720.0, 900.0, 1080.0],
            "volume_m3": [9e-6, 11e-6, 13e-6], "drops": [290.0, 360.0, 430.0],
        },
        "dripping": {"mole_fraction": {"acetone": [0.95, 0.97, 0.98]}},
        "receiver": {"number": 1, "volume_m3": [33e-6, 34e-6, 35e-6], "mole_fraction": {}},
        "pot": {"mole_fraction": {}, "volume_m3": [80e-6, 84e-6, 88e-6]},
        "residue_m3": [80e-6, 84e-6, 88e-6], "end_s": [4200.0, 4500.0, 4900.0],
        "misfit": 0.8, "learned": [], "warnings": [],
    }  # fmt: skip


def instruction(name: str = "hold-1", action: str = "hold", text: str = "") -> dict[str, Any]:
    """Return an invented instruction."""
    return {
        "id": name, "action": action, "text": text or "Hold: 12–18 min to the switch",
        "why": "Head steady at 56.4 °C; 11 ± 2 mL of acetone are still to come.",
        "probability": 0.92, "in_s": [720.0, 900.0, 1080.0], "in_m3": None, "since_s": 1800.0,
    }  # fmt: skip


DRYNESS = {
    "id": "dryness-1", "gate": "dryness", "state": "stop",
    "caution": "Take the bath away now.", "text": "The flask holds less than 20 mL.",
    "since_s": 1900.0,
}  # fmt: skip


def together() -> dict[str, Any]:
    """Return an invented class of eight: one bench low, one still being fitted, one taken out."""
    volume = [k * 1e-6 for k in range(2, 42)]
    middle = [353.0 + 0.02 * k * k for k in range(2, 42)]

    def bench(code: str, off: float, reach: int = 40) -> dict[str, Any]:
        heads = [v + off if k < reach else None for k, v in enumerate(middle)]
        plates = {"value": 2.1, "band": [1.7, 2.6]}
        return {
            "code": code, "over_m3": volume[reach - 1], "head_K": heads, "plates": plates,
            "apart": None, "findings": [],
        }  # fmt: skip

    benches = [bench(f"K7M2Q{letter}", 0.4 * k) for k, letter in enumerate("CDFHJ")]
    low = bench("TTTTTT", -6.0, 30)
    low["apart"] = {"head_K": -6.0, "cause": "bulb too high, 82 %", "basis": "diagnosis"}
    fitting = {**bench("VVVVVV", 0.2), "plates": None}
    return {
        "substances": ["cyclohexane", "toluene"], "benches": [*benches, low, fitting],
        "finding": "7 benches: four of five heads lie within 1.6 K at equal distillate.",
        "distillate_m3": volume, "waiting": ["VVVVVV"], "out": ["WWWWWW"], "unusable": {},
        "head_K": {
            "p10": [v - 0.8 for v in middle], "p50": middle, "p90": [v + 1.6 for v in middle],
        },
    }  # fmt: skip
