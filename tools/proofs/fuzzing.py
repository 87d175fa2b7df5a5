"""Parsers and quick paths of the server against spoilt input: a sentence, never a traceback.

    python tools/proofs/fuzzing.py [INPUTS] [SEED]

Good input is cut, doubled, mixed and sprinkled with what has broken readers before. Each parser
either reads it or refuses it by `BadInput`; each path answers below 500. More than 10 s for one
input counts as a hang. The figures go to docs/explain/fuzzing.json; without arguments 100,000
inputs take some minutes.
"""

from __future__ import annotations

import asyncio
import json
import random
import signal
import sys
import tempfile
import time
import tomllib
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any
from urllib.parse import quote

from forerun.app.sheet import load
from forerun.app.web.access import Entry
from forerun.app.web.application import application
from forerun.app.web.live_desk import LiveDesk
from forerun.core.errors import BadInput
from forerun.core.quantities import parse_quantity
from forerun.glassware.inventory import read_inventory
from forerun.records.assays import read_assays
from forerun.records.readings import read_readings
from forerun.records.sqlite_store import SqliteRunStore
from forerun.records.tables import read_table
from forerun.running.live_runs import LiveRuns
from forerun.sheets.reading import read_bytes, read_form
from forerun.substances.smiles import molecule_from_smiles

ROOT = Path(__file__).resolve().parents[2]
FIGURES = ROOT / "docs" / "explain" / "fuzzing.json"
INPUTS = 100_000
HANG_S = 10.0
_SHOWN = 5  # failures that are printed whole
_NASTY = (
    *("", "\0", "\ufeff", "\r", "\n\n", '"', "'''", "\\ud800", "\u202e", "\u00a0", "µ", "ſ", "٣"),
    *("nan", "inf", "-inf", "1e999", "-0", "1e-320", "0x10", "1_000", "9" * 400, "1,5", "1.2.3"),
    *("[" * 30, "{" * 30, "((((", "%%%", "= 1", "[[x]]", "true", "null", "{}", "[]", "1979-05-27"),
    *("±", " ± -1 mL", "-40 mL", "mL mL", "K", "°C", "mmHg", ";", "\t", ",,,,,", "=1+1", "../../x"),
)
_ATOMS = "CNOcnos[]()=#123%+-@H/\\.FClBr "
_QUANTITIES = (
    "40 ± 1 mL",
    "1 h 20 min",
    "0,5 bar",
    "95 wt%",
    "78.2 °C",
    "2 g",
    "30 mbar",
    "0.1 mol",
)
_SMILES = ("CCO", "c1ccccc1C", "CC(=O)OCC", "ClC(Cl)Cl", "C[N+](=O)[O-]", "O", "C1CCOC1", "[2H]O")
_OWN_FAULT = (b"Traceback", b"forerun itself failed")
_DIMENSIONS = (("volume", "mass", "amount"), "time", "pressure", "temperature", "power")


class Hang(BaseException):
    """One input took too long; no parser may catch it."""


@dataclass(frozen=True, slots=True)
class Target:
    """What is fed: its share of all inputs, what makes an input and what reads it."""

    name: str
    share: float
    make: Callable[[random.Random], Any]
    read: Callable[[Any], object]


@dataclass(frozen=True, slots=True)
class Asked:
    """A request: its path as it is meant, its body, and what stands around them."""

    path: str
    body: bytes = b""
    method: str = "POST"
    query: bytes = b""
    headers: tuple[tuple[str, str], ...] = ()


@dataclass(slots=True)
class Tally:
    """What became of the inputs of one target."""

    inputs: int = 0
    refused: int = 0
    slowest_s: float = 0.0
    failures: Counter[str] = field(default_factory=Counter)


def spoilt(text: str, dice: random.Random) -> str:
    """Return a text with one to six things done to it that hands, cables and enemies do."""
    for _ in range(dice.randint(1, 6)):
        a, b = sorted(dice.randint(0, len(text)) for _ in range(2))
        act = dice.randrange(6)
        if act == 0:
            text = text[:a] + text[min(b, a + 20) :]
        elif act == 1:
            text = text[:a] + dice.choice(_NASTY) + text[a:]
        elif act == 2:
            text = text[:a] + text[a : a + 40] * dice.randint(2, 4) + text[a:]
        elif act == 3 and text:
            text = (
                text[:a]
                + chr(dice.choice((dice.randrange(128), dice.randrange(0xD7FF))))
                + text[a + 1 :]
            )
        elif act == 4:
            text = text[:a]
        else:
            text = text[:a] + dice.choice(_NASTY) + text[min(b, a + 6) :]
    return text[:50_000]


def spoilt_bytes(text: str, dice: random.Random) -> bytes:
    """Return the bytes of a spoilt text, now and then with bytes that are no UTF-8."""
    raw = bytearray(spoilt(text, dice).encode("utf-8", "surrogatepass"))
    for _ in range(dice.choice((0, 0, 0, 1, 5))):
        if raw:
            raw[dice.randrange(len(raw))] = dice.randrange(256)
    return bytes(raw)


def spoilt_table(value: Any, dice: random.Random) -> Any:
    """Return a table with some of its values and keys exchanged for others."""
    if dice.random() < 0.02:
        odd: tuple[Any, ...] = (
            None,
            True,
            -1,
            10**30,
            1e308,
            float("nan"),
            "",
            [],
            {},
            [[]],
            {"": {}},
            "x" * 999,
        )
        return dice.choice((*odd, dice.choice(_NASTY)))
    if isinstance(value, dict):
        pairs = {k: spoilt_table(v, dice) for k, v in value.items()}
        return {**pairs, dice.choice(_NASTY): 1} if dice.random() < 0.02 else pairs
    if isinstance(value, list):
        return [
            spoilt_table(v, dice) for v in value for _ in range(dice.choice((1,) * 12 + (0, 2)))
        ]
    if isinstance(value, str) and dice.random() < 0.05:
        return spoilt(value, dice)
    return value


def parsers() -> list[Target]:
    """Return every parser of what people hand in."""
    sheets = [p.read_text("utf-8") for p in sorted(ROOT.glob("src/forerun/sheets/examples/*.toml"))]
    tables = [tomllib.loads(text) for text in sheets]
    kits = list(tomllib.loads((ROOT / "src/forerun/glassware/data/kits.toml").read_text()).values())
    files = ROOT / "tests" / "contract" / "files"
    log, assays = ((files / n).read_text("utf-8") for n in ("log.csv", "assays.csv"))
    points = "T_C,P_mmHg,x1,y1\n" + "".join(f"{78 + k},760,0.{k},0.{k + 1}\n" for k in range(8))
    return [
        Target("quantity", 0.30, lambda d: spoilt(d.choice(_QUANTITIES), d), _quantity),
        Target("structure", 0.20, _structure, molecule_from_smiles),
        Target("sheet", 0.10, lambda d: spoilt_bytes(d.choice(sheets), d), _sheet),
        Target("sheet, one value spoilt", 0.05, lambda d: _one_spoilt(d.choice(tables), d), load),
        Target("sheet as table", 0.05, lambda d: spoilt_table(d.choice(tables), d), read_form),
        Target("readings", 0.08, lambda d: spoilt_bytes(log[:1500], d), read_readings),
        Target("assays", 0.08, lambda d: spoilt_bytes(assays, d), read_assays),
        Target("points", 0.06, lambda d: spoilt_bytes(points, d), _points),
        Target("drawer", 0.03, lambda d: _drawer(d, kits), read_inventory),
    ]


def _drawer(dice: random.Random, kits: list[Any]) -> Any:
    found = spoilt_table(dice.choice(kits), dice)
    return found if isinstance(found, dict) else {"flask": found}


def _structure(dice: random.Random) -> str:
    if dice.random() < 0.4:
        return "".join(dice.choices(_ATOMS, k=dice.randint(1, 25)))
    return spoilt(dice.choice(_SMILES), dice)


def _quantity(text: str) -> object:
    found = [_or_refusal(text, dimension) for dimension in _DIMENSIONS]
    if all(isinstance(one, BadInput) for one in found):
        raise BadInput("amount", text, "a quantity")
    return found


def _or_refusal(text: str, dimension: str | tuple[str, ...]) -> object:
    try:
        return parse_quantity(text, dimension, "amount")
    except BadInput as problem:
        return problem


def _one_spoilt(table: Any, dice: random.Random) -> Any:
    """Return a table in which one value at the end of a branch is spoilt."""
    if isinstance(table, dict) and table:
        chosen = dice.choice(list(table))
        return {k: _one_spoilt(v, dice) if k == chosen else v for k, v in table.items()}
    if isinstance(table, list) and table:
        chosen = dice.randrange(len(table))
        return [_one_spoilt(v, dice) if k == chosen else v for k, v in enumerate(table)]
    if isinstance(table, str) and dice.random() < 0.7:
        return spoilt(table, dice)
    return dice.choice((0, -1, 1, 7, 1e9, 0.5, None, True, "40 mL", "2 h", "70 °C", "water", []))


def _sheet(raw: bytes) -> object:
    return read_bytes(raw, "sheet")


def _points(raw: bytes) -> object:
    return read_table(raw, "--points")


class Server:
    """The server without a socket, with a store of its own."""

    def __init__(self, folder: Path) -> None:
        self.desk = LiveDesk(
            lambda: LiveRuns(lambda: SqliteRunStore(folder / "runs.sqlite"), load), None
        )
        self.app = application(desk=self.desk, entry=Entry(neighbour=lambda *_ends: True))
        self.loop = asyncio.new_event_loop()

    def close(self) -> None:
        """Let go of the store and of the loop."""
        self.desk.close()
        self.loop.run_until_complete(self.loop.shutdown_asyncgens())
        self.loop.close()

    def ask(self, asked: Asked) -> bytes:
        """Send a request.

        Raises:
            BadInput: it was refused.
            RuntimeError: it was answered by a failure of the server.
        """
        status, body = self.loop.run_until_complete(self._answer(asked))
        if status >= 500 or any(sign in body for sign in _OWN_FAULT):
            raise RuntimeError(f"{asked.method} {asked.path} answered {status}: {body[:200]!r}")
        if status >= 400:
            raise BadInput("body", asked.path, "what is documented")
        return body

    async def _answer(self, asked: Asked) -> tuple[int, bytes]:
        sent: list[dict[str, Any]] = []
        left = [{"type": "http.request", "body": asked.body, "more_body": False}]

        async def receive() -> dict[str, Any]:
            return left.pop() if left else {"type": "http.disconnect"}

        async def send(message: Any) -> None:
            sent.append(dict(message))

        await self.app(_scope(asked), receive, send)
        body = b"".join(m.get("body", b"") for m in sent)
        return int(sent[0]["status"]), body


def _scope(asked: Asked) -> dict[str, Any]:
    given = {
        "host": "127.0.0.1:8017",
        "content-type": "application/json",
        "content-length": str(len(asked.body)),
        **dict(asked.headers),
    }
    return {
        "type": "http",
        "method": asked.method,
        "path": asked.path,
        "raw_path": quote(asked.path, errors="surrogatepass").encode(),
        "root_path": "",
        "query_string": asked.query,
        "scheme": "http",
        "http_version": "1.1",
        "asgi": {"version": "3.0"},
        "headers": [(k.encode(), v.encode("latin-1", "replace")) for k, v in given.items()],
        "client": ("127.0.0.1", 50000),
        "server": ("127.0.0.1", 8017),
    }


def paths(server: Server) -> Target:
    """Return the paths of the server that answer without a long reckoning."""
    text = (ROOT / "src/forerun/sheets/examples/class-pair.toml").read_text("utf-8")
    started = json.loads(server.ask(Asked("/api/runs", json.dumps({"sheet": text}).encode())))
    run = f"/api/runs/{started['id']}"
    readings = [{"time_s": 60, "head_C": 21.5, "pot_C": "40,5", "remark": "lit"}, {"bath_C": 90}]
    bodies = {
        "/api/sheet": {"toml": text[:400]},
        "/api/look": {"substance": "toluene"},
        f"{run}/readings": {"readings": readings, "origin": "hood", "sequence": 3},
        f"{run}/entries": {"kind": "drops", "data": {"count": 20, "over_s": 30}, "origin": "hood"},
    }

    def make(dice: random.Random) -> Asked:
        path = dice.choice(list(bodies))
        table = json.dumps(spoilt_table(bodies[path], dice))
        return Asked(path, table.encode() if dice.random() < 0.6 else spoilt_bytes(table, dice))

    return Target("paths of the server", 0.05, make, server.ask)


@contextmanager
def _in_time() -> Iterator[None]:
    def stop(_signal: int, _frame: FrameType | None) -> None:
        raise Hang

    signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, HANG_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)


def feed(target: Target, inputs: int, seed: int) -> Tally:
    """Feed a target and count what it did."""
    tally = Tally()
    for k in range(inputs):
        given = target.make(random.Random(f"{seed} {target.name} {k}"))
        start = time.perf_counter()
        try:
            with _in_time():
                target.read(given)
        except BadInput:
            tally.refused += 1
        except (Exception, Hang) as problem:
            _note(tally, problem, given)
        tally.inputs += 1
        tally.slowest_s = max(tally.slowest_s, time.perf_counter() - start)
    return tally


def _note(tally: Tally, problem: BaseException, given: object) -> None:
    last = traceback.extract_tb(problem.__traceback__)[-1]
    tally.failures[f"{type(problem).__name__} {Path(last.filename).name}:{last.lineno}"] += 1
    if sum(tally.failures.values()) <= _SHOWN:
        print(f"{given!r:.1500}\n{''.join(traceback.format_exception(problem))}", file=sys.stderr)


def fuzzed(inputs: int, seed: int) -> dict[str, Tally]:
    """Feed everything and return what became of it, by target."""
    with tempfile.TemporaryDirectory(prefix="forerun-fuzzing-") as made:
        server = Server(Path(made))
        try:
            targets = [*parsers(), paths(server)]
            return {t.name: feed(t, round(t.share * inputs), seed) for t in targets}
        finally:
            server.close()


def main(arguments: list[str]) -> int:
    """Feed everything and write the figures; exit code 1 when anything failed."""
    inputs = int(arguments[0]) if arguments else INPUTS
    seed = int(arguments[1]) if len(arguments) > 1 else 1
    start = time.monotonic()
    tallies = fuzzed(inputs, seed)
    rows = {
        name: {
            "inputs": t.inputs,
            "refused": t.refused,
            "slowest_s": round(t.slowest_s, 3),
            "failures": dict(t.failures),
        }
        for name, t in tallies.items()
    }
    figures = {
        "date": time.strftime("%Y-%m-%d"),
        "command": f"python tools/proofs/fuzzing.py {inputs} {seed}",
        "inputs": sum(t.inputs for t in tallies.values()),
        "failures": sum(t.failures.total() for t in tallies.values()),
        "took_s": round(time.monotonic() - start),
        "targets": rows,
    }
    print(json.dumps(figures, indent=1))
    if inputs >= INPUTS:
        FIGURES.write_text(json.dumps(figures, indent=1) + "\n", "utf-8")
    return 1 if figures["failures"] else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
