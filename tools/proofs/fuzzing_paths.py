"""Every path that the server describes, with odd bodies, numbers, names and queries.

    python tools/proofs/fuzzing_paths.py [INPUTS] [SEED]

Paths, methods, parameters and good bodies are read from the server's own OpenAPI description, and
what its routes have beside it (the page, papers of a lesson) is added; each gets an equal share.
What would reckon for seconds is sent spoilt so that it is refused before (`fuzzing_long.py` lets it
reckon). Each is answered below 500 and within 10 s. The figures go to
docs/explain/fuzzing_paths.json.
"""

from __future__ import annotations

import json
import os
import random
import re
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tools" / "proofs"))
os.environ["FORERUN_DATA"] = tempfile.mkdtemp(prefix="forerun-fuzzing-")

import fuzzing  # noqa: E402 -- after the path and the folder are set
from fuzzing import Asked  # noqa: E402

from forerun.app.web.openapi import description  # noqa: E402

FIGURES = ROOT / "docs" / "explain" / "fuzzing_paths.json"
INPUTS = 20_000
_JSON = "application/json"
_LONG = re.compile(
    r"foresee|advise|review|record|diagnose|calibrate|fit|lesson$|mix|hidden/(make|run)"
)
_NAMES = (
    *("0", "1", "2", "-1", "00", "1.0", "1e3", "9" * 30, "٣", " 1", "ABC234", "abc234", "K7M2QX"),
    *("..", "../../etc/passwd", "%2e%2e", "\0", "a" * 3000, "é", ".", "index.html"),
)
_VALUES: tuple[Any, ...] = (
    *(None, True, False, 0, -1, 1, 7, 0.5, 1e308, 10**30, "", "nan", "1", "water", "40 mL", "\0"),
    *([], [[]], [None], ["water"], ["water", "water"], {}, {"": {}}, {"charge": []}, "x" * 5000),
)
_KINDS = ("application/json", "text/plain", "", "application/json; charset=utf-16", "text/csv")


@dataclass(frozen=True, slots=True)
class Operation:
    """One method of one path.

    Args:
        method: GET, POST or another.
        path: with its parameters in braces.
        example: a body to send; None: it takes none.
        needs: keys of the body that must be there.
        query: names of what may stand behind the question mark.
    """

    method: str
    path: str
    example: Any = None
    needs: tuple[str, ...] = ()
    query: tuple[str, ...] = ()


def operations(routes: Any) -> list[Operation]:
    """Return all that can be asked: what is described, then what the routes have beside it.

    Args:
        routes: of the application.
    """
    found = {}
    for path, methods in description("0")["paths"].items():
        for method, told in methods.items():
            found[method.upper(), path] = _described(method.upper(), path, told)
    for route in routes:
        path = re.sub(r"\{(\w+):\w+\}", r"{\1}", route.path)
        for method in sorted(route.methods - {"HEAD"}):
            found.setdefault((method, path), Operation(method, path))
    return list(found.values())


def _described(method: str, path: str, told: dict[str, Any]) -> Operation:
    query = tuple(p["name"] for p in told.get("parameters", ()) if p["in"] == "query")
    body = told.get("requestBody", {}).get("content", {}).get(_JSON)
    if body is None:
        return Operation(method, path, query=query)
    needs = tuple(body["schema"].get("required", ()))
    return Operation(method, path, body["example"], needs, query)


def maker(one: Operation, sheet: str, run: int) -> Callable[[random.Random], Asked]:
    """Return what makes an odd request of an operation.

    Args:
        one: the operation.
        sheet: a good sheet's text, for a body whose example has none.
        run: number of a live run that there is.
    """
    example = one.example
    if example is not None and one.path == "/api/runs":
        example = {**example, "sheet": sheet}
    long = _LONG.search(one.path) is not None

    def make(dice: random.Random) -> Asked:
        def filled(found: re.Match[str]) -> str:
            if found[1] == "id" and dice.random() < 0.6:
                return str(run)
            return dice.choice(_NAMES) if dice.random() < 0.7 else fuzzing.spoilt("ABC234", dice)

        method = one.method if dice.random() < 0.98 else dice.choice(("PUT", "DELETE", "HEAD"))
        raw = b"" if example is None and dice.random() < 0.9 else _body(example, one, long, dice)
        headers = [("content-type", dice.choice(_KINDS))] if dice.random() < 0.03 else []
        if dice.random() < 0.2:
            headers.append(("accept", "text/event-stream"))
        if dice.random() < 0.02:
            headers.append(("content-length", dice.choice(("", "-1", "1e3", "9" * 5000, "0"))))
        path = re.sub(r"\{(\w+)\}", filled, one.path)
        return Asked(path, raw, method, _query(one.query, dice), tuple(headers))

    return make


def _body(example: Any, one: Operation, long: bool, dice: random.Random) -> bytes:
    table = dict(example) if isinstance(example, dict) else {"sheet": ""}
    if long:
        table = _broken(table, one.needs or tuple(table), dice)
    elif table and dice.random() < 0.5:
        table[dice.choice(list(table))] = dice.choice(_VALUES)
    spoilt = fuzzing.spoilt_table(table, dice)
    text = json.dumps(spoilt)
    if dice.random() < 0.25:
        return fuzzing.spoilt_bytes(text, dice)
    return text.encode()


def _broken(table: dict[str, Any], needs: tuple[str, ...], dice: random.Random) -> dict[str, Any]:
    """Return a body without one of the keys that it needs, or with something else there."""
    key = dice.choice(needs)
    rest = {k: v for k, v in table.items() if k != key}
    act = dice.randrange(3)
    if act == 0:
        return rest
    if act == 1 and isinstance(table.get(key), str):
        return {**rest, key: fuzzing.spoilt(table[key][:400], dice) + dice.choice("[{\0=")}
    return {**rest, key: dice.choice(_VALUES)}


def _query(names: tuple[str, ...], dice: random.Random) -> bytes:
    if dice.random() < 0.5:
        return b""
    parts = [
        f"{dice.choice((*names, 'after', 'x', ''))}={quote(dice.choice(_NAMES))}"
        for _ in range(dice.randint(1, 3))
    ]
    text = "&".join(parts)
    return text.encode() if dice.random() < 0.8 else fuzzing.spoilt_bytes(text, dice)


def targets(server: fuzzing.Server) -> Iterator[fuzzing.Target]:
    """Yield every operation with an equal share of the inputs."""
    sheet = (ROOT / "src/forerun/sheets/examples/class-pair.toml").read_text("utf-8")
    begun = json.loads(server.ask(Asked("/api/runs", json.dumps({"sheet": sheet}).encode())))
    every = operations(server.app.routes)
    for one in every:
        # a run that has ended takes no more readings: each operation has one of its own
        run = begun["id"]
        if one.path.endswith("/end"):
            run = json.loads(server.ask(Asked("/api/runs", json.dumps({"sheet": sheet}).encode())))[
                "id"
            ]
        name = f"{one.method} {one.path}"
        yield fuzzing.Target(name, 1.0 / len(every), maker(one, sheet, run), server.ask)


def main(arguments: list[str]) -> int:
    """Ask everything and write the figures; exit code 1 when anything failed."""
    inputs = int(arguments[0]) if arguments else INPUTS
    seed = int(arguments[1]) if len(arguments) > 1 else 1
    begun = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="forerun-fuzzing-") as made:
        server = fuzzing.Server(Path(made))
        tallies = {}
        for target in targets(server):
            tallies[target.name] = fuzzing.feed(target, round(target.share * inputs), seed)
            told = tallies[target.name]
            print(target.name, told.inputs, told.refused, dict(told.failures), file=sys.stderr)
        server.close()
    figures = {
        "date": time.strftime("%Y-%m-%d"),
        "command": f"python tools/proofs/fuzzing_paths.py {inputs} {seed}",
        "inputs": sum(t.inputs for t in tallies.values()),
        "failures": sum(t.failures.total() for t in tallies.values()),
        "took_s": round(time.monotonic() - begun),
        "paths": {
            name: {
                "inputs": t.inputs,
                "refused": t.refused,
                "slowest_s": round(t.slowest_s, 3),
                **({"failures": dict(t.failures)} if t.failures else {}),
            }
            for name, t in tallies.items()
        },
    }
    print(json.dumps({k: v for k, v in figures.items() if k != "paths"}, indent=1))
    if inputs >= INPUTS:
        FIGURES.write_text(json.dumps(figures, indent=1) + "\n", "utf-8")
    return 1 if figures["failures"] else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
