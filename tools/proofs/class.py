"""A class of 24 with faults, pooled and marked; how far luck moves the marks.

    python tools/proofs/class.py [BENCHES [FITTED]]

A quarter of the benches that ran one sheet have a fault; the class is pooled, and whoever stands
apart is counted; the plates of so many benches without a fault are fitted. Then as many students
get hidden runs. Each is marked as a student who reads volumes and decides by rules would be:
collect until the head has risen by 6 K from where it first stood, name what the run shows
plainest, guess the middle of what was told of the flask. The same run is read again with a
thermometer up to 1.5 K higher or lower, by a student who decides the same way, by one who switches
at a temperature from a handout and says so, and by one who does but hands in the volume alone.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "src")]

from forerun.app.class_files import log_text  # noqa: E402 -- after the path is set
from forerun.app.pool import bench_of, pool  # noqa: E402
from forerun.records.readings import Readings  # noqa: E402
from forerun.reviewing.marks import Dealt, Submission, marks_of  # noqa: E402
from forerun.running.mystery import Hidden, deal, hideable, with_luck  # noqa: E402
from forerun.running.simulated import SimulatedLog, simulated_log  # noqa: E402
from forerun.sheets.model import RunSheet  # noqa: E402
from forerun.sheets.resolving import load  # noqa: E402
from forerun.still.inputs import StillInput  # noqa: E402

__all__ = ["main"]

FIGURES = ROOT / "docs" / "explain" / "class.json"
_EXAMPLE = "class-pair"
_FAULTS = ("thermometer_offset", "heater_fault", "heat_loss", "barometer", "bumping", "water")
_WRONG = {4 * k + 3: fault for k, fault in enumerate(_FAULTS)}
_LUCK_K = (-1.5, -0.75, 0.75, 1.5)
_RISE_K = 6.0
_HANDOUT_K = 273.15 + 90.0
_FAIR = ("by a rise", "by a handout, said as a temperature")
_UNSAID = "by a handout, said as a volume"
_STARTED_M3 = 2e-6  # by then the head stands
_SEED = 2400


def main(arguments: list[str]) -> int:
    """Write the figures; returns the exit code."""
    numbers = [int(word) for word in arguments if word.isdecimal()]
    count = numbers[0] if numbers else 24
    fitted = numbers[1] if len(numbers) > 1 else count
    sheet = load(_EXAMPLE)
    begun = time.monotonic()
    found: dict[str, Any] = {"benches": count, "example": _EXAMPLE}
    for part, prove in (("marked", _marked), ("pooled", _pooled)):
        found[part] = prove(sheet, count)
        print(json.dumps(found[part], indent=2), flush=True)
    found["plates"] = _plates(sheet, count, fitted)
    found["took_s"] = round(time.monotonic() - begun)
    print(json.dumps(found["plates"], indent=2))
    if count >= 24:
        found["wall"] = json.loads(FIGURES.read_text("utf-8"))["wall"]  # of class_wall.py
        FIGURES.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    return 0 if max(found["marked"][way]["largest"] for way in _FAIR) < 2.0 else 1


def _made(sheet: RunSheet, number: int) -> SimulatedLog:
    """Return the run of a bench; every fourth has something wrong."""
    return simulated_log(sheet, _SEED + number, _WRONG.get(number))


def _pooled(sheet: RunSheet, count: int) -> dict[str, Any]:
    """Return how many of those with a fault stand apart, and with which cause."""
    true = {}
    with TemporaryDirectory() as name:
        for number in range(1, count + 1):
            made = _made(sheet, number)
            text = log_text(made.readings)
            Path(name, f"B{number:02d}.csv").write_text(text, "utf-8", newline="")
            true[f"B{number:02d}"] = made.truth
        found = pool(sheet, name, fit=False)
    apart = {a.bench: a for a in found.pooled.apart}
    odd = {code: truth.cause for code, truth in true.items() if truth.cause != "none"}
    told = {
        code: max((f.probability, f.name) for f in one.findings)[1]
        for code, one in found.findings.items()
        if one.findings
    }
    return {
        "finding": found.finding,
        "with a fault": len(odd),
        "of them apart": sorted(set(odd) & set(apart)),
        "of them named by their own log": [c for c, f in odd.items() if told.get(c) == f],
        "without, apart": sorted(set(apart) - set(odd)),
        "causes": {code: a.cause for code, a in apart.items()},
    }


def _plates(sheet: RunSheet, count: int, fitted: int) -> dict[str, Any]:
    """Return how often the true plates of benches without a fault are inside their band."""
    healthy = [number for number in range(1, count + 1) if number not in _WRONG][:fitted]
    inside, seen = [], []
    for number in healthy:
        made = _made(sheet, number)
        plates = bench_of(sheet, made.readings).plates
        if plates is not None:
            true = _plates_of(made.truth.given)
            inside.append(plates.low <= true <= plates.high)
            seen.append(
                [_short(plates.low), _short(plates.value), _short(plates.high), _short(true)]
            )
    return {"fitted": len(inside), "inside": int(sum(inside)), "low, value, high, true": seen}


def _plates_of(given: StillInput) -> float:
    """Return the plates of a still: its stages, each less than whole by what the vapour carries."""
    return given.plates / (1.0 + given.carried)


def _marked(sheet: RunSheet, count: int) -> dict[str, Any]:
    """Return the marks of a class, and by how much luck moves them."""
    hidden = Hidden(faults=hideable(sheet))
    totals = []
    moved: dict[str, list[float]] = {way: [] for way in (*_FAIR, _UNSAID)}
    for number in range(1, count + 1):
        usual = deal(sheet, number, "a proof", hidden)
        named = _plainest(usual)
        totals.append(_total(usual, named, _volume(usual, _by_rise)))
        spread: dict[str, list[float]] = {way: [] for way in moved}
        for luck in (0.0, *_LUCK_K):
            one = with_luck(usual, luck)
            said = (_volume(one, _by_rise), {"end_K": _HANDOUT_K}, _volume(one, _by_handout))
            for values, switch in zip(spread.values(), said, strict=True):
                values.append(_total(one, named, switch))
        for way, values in spread.items():
            moved[way].append(max(values) - min(values))
    low, middle, high = np.quantile(totals, (0.0, 0.5, 1.0))
    return {
        "marks": {"lowest": _short(low), "median": _short(middle), "highest": _short(high)},
        "luck_K": list(_LUCK_K),
        **{
            way: {"largest": _short(max(values)), "median": _short(float(np.median(values)))}
            for way, values in moved.items()
        },
    }


def _short(value: float) -> float:
    return round(float(value), 2)


def _plainest(dealt: Dealt) -> str:
    """Return the fault to choose from that the log shows plainest."""
    return max(dealt.labels, key=lambda name: dealt.shown.get(name, 0.0))


def _volume(dealt: Dealt, decide: Callable[[Readings], float]) -> dict[str, float]:
    return {"end_m3": decide(dealt.log)}


def _total(dealt: Dealt, named: str, switch: dict[str, float]) -> float:
    said = Submission(named, 0.0, 0.0, 0.5, log=dealt.log)
    return marks_of(dealt, replace(said, **switch)).total


def _by_rise(log: Readings) -> float:
    """Return the distillate at which the head has risen from where it first stood [m3]."""
    head, over = log.channel("head_K"), log.channel("distillate_m3")
    on = np.flatnonzero(over > _STARTED_M3)
    if not on.size:
        return 0.0
    first = float(np.median(head[on[:12]]))
    late = on[head[on] > first + _RISE_K]
    return float(over[late[0] if late.size else on[-1]])


def _by_handout(log: Readings) -> float:
    """Return the distillate at which the head passes a temperature of a handout [m3]."""
    head, over = log.channel("head_K"), log.channel("distillate_m3")
    on = np.flatnonzero(over > _STARTED_M3)
    late = on[head[on] > _HANDOUT_K] if on.size else on
    return float(over[late[0] if late.size else -1])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
