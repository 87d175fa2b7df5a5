"""How fast the engine is against SciPy's solvers on the same compiled equations.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python benchmarks/engine.py [--json FILE] [--quick]
        [--peers]

Every solver runs the three cases at several tolerances.  Its error is measured against the
engine's own result at a tolerance of 1e-8 and, as a guard against a shared mistake, LSODA's at
1e-9; its time is the CPU time of the thread.  The table gives, for the error that the engine
makes at its default tolerance, the time of the fastest setting of each solver that is at least
as accurate.  With --peers also CVODE of SUNDIALS, through two bindings that have to be installed
(`peers.py`).
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from engine_cases import CASES, engine_case

from forerun.core.errors import CalculationFailed
from forerun.still.crosscheck import integrate
from forerun.still.inputs import StillInput, Stop
from forerun.still.run import Case, prepare, run_members, run_still

END = 6000.0  # s, before any stop of the cases, so that all solvers do the same
TIMES = np.arange(0.0, END + 1.0, 10.0)
SETTINGS = {
    "LSODA": ((1e-3, 1e-7), (1e-4, 1e-8), (1e-5, 1e-9), (1e-6, 1e-10)),
    "BDF": ((1e-3, 1e-7), (1e-4, 1e-8), (1e-5, 1e-9)),
    # looser settings of Radau take minutes on the first case (252 s at 1e-3): left out
    "Radau": ((1e-4, 1e-8), (1e-5, 1e-9)),
}
PEER_SETTINGS = ((1e-3, 1e-7), (1e-4, 1e-8), (1e-5, 1e-9))
ENGINE = (1e-3, 3e-4, 1e-4)
_QUICK = ("LSODA", "CVODE (SUNDIALS)")  # timed twice


def _case(name: str, tolerance: float) -> StillInput:
    return replace(engine_case(name, tolerance), stop=Stop(time_s=END), switches=())


def _head(run: StillInput) -> np.ndarray:
    trace = run_still(run).trace
    return np.interp(TIMES, trace.time_s, trace.head_temperature_K)


def _timed(function: Any, repeats: int) -> tuple[float, Any]:
    """Return the shortest CPU time [s] of some calls and the result."""
    best, result = np.inf, None
    for _ in range(repeats):
        begin = time.thread_time()
        result = function()
        best = min(best, time.thread_time() - begin)
    return best, result


def _row(name: str, setting: str, seconds: float, head: np.ndarray, true: np.ndarray) -> dict:
    miss = head - true
    return {
        "solver": name,
        "setting": setting,
        "time_ms": 1e3 * seconds,
        "rms_K": float(np.sqrt(np.mean(miss**2))),
        "max_K": float(np.abs(miss).max()),
    }


def compare(name: str, *, quick: bool, peers: bool) -> dict[str, Any]:
    """Return all rows of a case and the ratios at equal error."""
    true = _head(_case(name, 1e-8))
    rows = []
    for tolerance in ENGINE:
        run = _case(name, tolerance)
        seconds, head = _timed(lambda run=run: _head(run), 5)
        rows.append(_row("engine", f"{tolerance:g}", seconds, head, true))
    case = prepare(_case(name, 1e-4))
    guard, _ = integrate(case, TIMES, "LSODA", rtol=1e-9, atol=1e-12)
    for solver, settings in SETTINGS.items():
        for rtol, atol in settings[-2:] if quick else settings:
            rows += _tried(solver, integrate, case, (rtol, atol), true)
    if peers:
        from peers import PEERS, integrate_by  # noqa: PLC0415 -- they are not always there

        for solver in PEERS:
            for rtol, atol in PEER_SETTINGS[-2:] if quick else PEER_SETTINGS:
                rows += _tried(solver, integrate_by, case, (rtol, atol), true)
    return {
        "case": name,
        "reference_agreement_K": float(np.abs(guard - true).max()),
        "rows": rows,
        "ratios": _ratios(rows),
    }


def _tried(
    solver: str, by: Any, case: Case, tolerances: tuple[float, float], true: np.ndarray
) -> list[dict]:
    """Return the row of a solver at one setting; none where it gave up."""
    rtol, atol = tolerances

    def solved() -> tuple[np.ndarray, int]:
        arguments = (case, TIMES, solver) if by is integrate else (solver, case, TIMES)
        head, equations = by(*arguments, rtol, atol)
        return head, equations.calls

    try:
        seconds, (head, calls) = _timed(solved, 2 if solver in _QUICK else 1)
    except CalculationFailed as failure:
        print(f"  {solver} {rtol:g}: {failure}", file=sys.stderr)
        return []
    return [{**_row(solver, f"{rtol:g}/{atol:g}", seconds, head, true), "calls": calls}]


def _ratios(rows: list[dict]) -> dict[str, float | None]:
    """Return time over the engine's for each solver's fastest setting that is as accurate.

    The engine is taken at each of its tolerances, and the least favourable ratio is given.
    """
    ratios: dict[str, float | None] = {}
    for solver in dict.fromkeys(row["solver"] for row in rows if row["solver"] != "engine"):
        found = []
        for mine in (row for row in rows if row["solver"] == "engine"):
            good = [
                row["time_ms"]
                for row in rows
                if row["solver"] == solver and row["rms_K"] <= mine["rms_K"]
            ]
            if good:
                found.append(min(good) / mine["time_ms"])
        ratios[solver] = min(found) if found else None
    return ratios


def throughput(name: str, count: int) -> dict[str, float]:
    """Return perturbed members per second of wall clock on one thread and on two."""
    rng = np.random.default_rng(1)
    base = engine_case(name, 1e-3)
    members = [
        replace(base, bath_conductance_W_K=base.bath_conductance_W_K * f, column_loss_W_K=0.1 * f)
        for f in rng.uniform(0.8, 1.2, count)
    ]
    result = {}
    for threads in (1, 2):
        begin = time.perf_counter()
        run_members(members, threads)
        result[f"per_second_{threads}"] = count / (time.perf_counter() - begin)
    return result


def cold_start() -> float:
    """Return the wall clock [s] of a new process that imports the still and runs a case."""
    code = (
        f"import sys; sys.path[:0] = [{str(Path(__file__).parent)!r}]\n"
        "from engine_cases import engine_case\nfrom forerun.still.run import run_still\n"
        "run_still(engine_case('3 components, 8 plates'))"
    )
    begin = time.perf_counter()
    subprocess.run([sys.executable, "-c", code], check=True)
    return time.perf_counter() - begin


def main() -> None:
    """Print the tables; write JSON if asked."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--json", type=Path)
    parser.add_argument("--quick", action="store_true", help="two settings of each solver")
    parser.add_argument("--peers", action="store_true", help="solvers of `peers.py` as well")
    options = parser.parse_args()
    report: dict[str, Any] = {"cases": [], "load": os.getloadavg()[0]}
    for name in CASES:
        found = compare(name, quick=options.quick, peers=options.peers)
        report["cases"].append(found)
        print(f"\n{name} (references agree to {1e3 * found['reference_agreement_K']:.2f} mK)")
        print("  solver            setting         CPU ms     rms K     max K  evaluations")
        for row in found["rows"]:
            print(
                f"  {row['solver']:17s} {row['setting']:14s} {row['time_ms']:8.1f} "
                f"{row['rms_K']:9.5f} {row['max_K']:9.5f}  {row.get('calls', '')}"
            )
        shown = ", ".join(
            f"{solver} {ratio:.1f}x" if ratio else f"{solver} none as accurate"
            for solver, ratio in found["ratios"].items()
        )
        print(f"  time over the engine's at equal or smaller error: {shown}", flush=True)
    report["ensemble"] = {name: throughput(name, 32) for name in CASES}
    report["cold_start_s"] = cold_start()
    print("\nmembers a second (1 thread, 2 threads)")
    for name, rates in report["ensemble"].items():
        print(f"  {name:26s} {rates['per_second_1']:8.1f} {rates['per_second_2']:8.1f}")
    print(f"cold start, kernels compiled before: {report['cold_start_s']:.2f} s")
    if options.json:
        options.json.write_text(json.dumps(report, indent=1))


if __name__ == "__main__":
    main()
