"""A class of 24 at the hood, six with a fault: on the wall, then all curves together.

    python tools/proofs/class_wall.py [BENCHES]

A server of its own gets the runs of `tools/proofs/class.py`, all at once, a minute of them in a
second, every 30 s of a run a reading. The wall is looked at
in a browser while all of them run, all curves together once each has ended and been looked into.
The figures go to docs/explain/class.json under ``wall``. Needs Chromium.
"""

from __future__ import annotations

import importlib
import json
import math
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tools" / "proofs"), str(ROOT / "tests"), str(ROOT / "src")]

from forerun.records.readings import Readings  # noqa: E402 -- after the path is set
from forerun.sheets.resolving import load  # noqa: E402
from journeys.browser import DESK, Look, opened, started_browser  # noqa: E402
from journeys.served import Server  # noqa: E402

__all__ = ["main"]

_CLASS = importlib.import_module("class")
_PACE = 60  # seconds of a run in one
_EVERY = 3  # readings of 10 s
_PATIENCE = 1500.0  # s, for fit and diagnosis of all
_COLUMNS = {"head_K": "head_C", "pot_K": "pot_C", "bath_K": "bath_C"}


def main(arguments: list[str]) -> int:
    """Write the figures; returns the exit code."""
    count = int(arguments[0]) if arguments else 24
    with tempfile.TemporaryDirectory() as folder:
        os.environ["FORERUN_DATA"] = folder
        server = Server()
        try:
            found = _walled(server, count)
        finally:
            server.close()
    print(json.dumps(found, indent=2))
    if count >= 24:
        figures = json.loads(_CLASS.FIGURES.read_text("utf-8"))
        text = json.dumps({**figures, "wall": found}, indent=1)
        _CLASS.FIGURES.write_text(text + "\n", encoding="utf-8")
    whole = found["on the wall"] == found["curves together"] == count
    return 0 if whole and not found["axe"] else 1


def _walled(server: Server, count: int) -> dict[str, Any]:
    sheet, table = load("class-pair"), server.post("/api/sheet", {"toml": _text()}).json
    made = [_CLASS._made(sheet, number) for number in range(1, count + 1)]
    begun, codes, causes, logs = time.monotonic(), {}, {}, {}
    for one_made in made:
        run = server.post("/api/runs", {"sheet": table.get("sheet", table), "pace": _PACE}).json
        codes[run["code"]], causes[run["code"]] = run["id"], one_made.truth.cause
        logs[run["id"]] = _rows(one_made.readings)
    flagged = _sent(server, logs, begun)
    with started_browser() as browser, opened(browser, server, DESK) as look:
        on_wall, axe = _wall(look)
        for number in codes.values():
            server.post(f"/api/runs/{number}/end", {})
        one = _settled(server, begun)
        look.page.goto(f"{server.address}/#/wall/curves")
        look.page.locator(".classcurves").wait_for()
        axe += look.axe()
    apart = {b["code"]: b["apart"]["cause"] for b in one["benches"] if b["apart"]}
    odd = {code for code, cause in causes.items() if cause != "none"}
    return {
        "on the wall": on_wall,
        "curves together": len(one["benches"]),
        "readings": sum(len(rows) for rows in logs.values()),
        "of them flagged": flagged,
        "unusable": one["unusable"],
        "with plates": sum(bench["plates"] is not None for bench in one["benches"]),
        "with a fault": len(odd),
        "of them apart": len(odd & set(apart)),
        "without, apart": len(set(apart) - odd),
        "causes": sorted(f"{causes[code]}: {cause}" for code, cause in apart.items()),
        "axe": axe,
        "took_s": round(time.monotonic() - begun),
    }


def _sent(server: Server, logs: dict[int, list[dict[str, float]]], begun: float) -> int:
    """Send every bench what it has read by now, until all is sent; return how many were flagged."""
    sent, flagged = dict.fromkeys(logs, 0), 0
    while any(sent[run] < len(rows) for run, rows in logs.items()):
        now = (time.monotonic() - begun) * _PACE - _PACE  # all began within a second
        for run, rows in logs.items():
            due = [row for row in rows[sent[run] :] if row["time_s"] <= now]
            if due:
                told = server.post(f"/api/runs/{run}/readings", {"readings": due})
                assert told.status == 200, told.json
                flagged += len(told.json["flags"])
                sent[run] += len(due)
        time.sleep(0.5)
    return flagged


def _text() -> str:
    return (ROOT / "src/forerun/sheets/examples/class-pair.toml").read_text("utf-8")


def _rows(log: Readings) -> list[dict[str, float]]:
    """Return a log as a device sends it."""
    rows = []
    for row in log.rows[::_EVERY]:
        sent = {name: getattr(row, key) - 273.15 for key, name in _COLUMNS.items()}
        sent |= {"pressure_mbar": row.pressure_Pa / 100.0, "distillate_mL": 1e6 * row.distillate_m3}
        usable = {name: round(value, 2) for name, value in sent.items() if not math.isnan(value)}
        rows.append({"time_s": row.time_s, **usable})
    return rows


def _wall(look: Look) -> tuple[int, list[str]]:
    """Return how many benches the wall shows, and what is wrong with it."""
    look.page.goto(f"{look.server.address}/#/wall")
    look.page.locator(".benches .bench").first.wait_for()
    return look.page.locator(".benches .bench").count(), look.axe()


def _settled(server: Server, begun: float) -> dict[str, Any]:
    """Return the class once every bench has been looked into."""
    while True:
        (one,) = server.get("/api/pooled").json["classes"]
        if not one["waiting"] or time.monotonic() - begun > _PATIENCE:
            found: dict[str, Any] = one
            return found
        time.sleep(2.0)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
