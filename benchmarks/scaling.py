"""How the engine's time grows with members, threads, plates and components.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python benchmarks/scaling.py [--keep]

Processor time of one run as a member of an ensemble, the shortest of three, for one to twenty
plates and two to five components; wall clock of ensembles on one thread and on two.  --keep writes
the figures and the picture.
"""

from __future__ import annotations

import argparse
import json
import os
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np

from forerun.equilibrium.mixture import mixture_of
from forerun.reporting.scale import axis_over
from forerun.reporting.svg import circle, document, polyline, straight, text
from forerun.still.inputs import StillInput, Stop
from forerun.still.run import prepare, run_members, solve
from forerun.substances.catalogue import find
from forerun.substances.liquids import liquid_arrays

ROOT = Path(__file__).resolve().parents[1]
FIGURES = ROOT / "benchmarks" / "scaling.json"
PLOT = ROOT / "docs" / "pictures" / "engine-scaling.svg"
LIQUIDS = ("acetone", "ethyl acetate", "ethanol", "toluene", "1-butanol")
PLATES = (1, 2, 4, 8, 12, 16, 20)
COMPONENTS = (2, 3, 4, 5)
MEMBERS = (32, 64, 128, 256)
MEMBER_TOLERANCE = 1e-3  # as `forerun.forecast.drawing.as_member`
PENS = ("blue", "vermillion", "green", "black")
DASHES = (None, "7 3", "2 3", "9 3 2 3")


def case(components: int, plates: int) -> StillInput:
    """Return a run of equal moles: an oil bath on a ramp, lagged glass, reflux 3."""
    names = LIQUIDS[:components]
    substances = [find(name) for name in names]
    return StillInput(
        names=names,
        mixture=mixture_of(substances).arrays,
        liquids=liquid_arrays(substances),
        charge_mol=np.full(components, 1.2 / components),
        plates=plates,
        holdup_m3=0.5e-6 * plates,
        bath_temperature=np.array([[0.0, 293.15], [1500.0, 378.15], [9000.0, 433.15]]),
        pressure=np.array([[0.0, 101325.0]]),
        reflux_ratio=np.array([[0.0, 3.0]]),
        pressure_drop_Pa=20.0,
        stop=Stop(time_s=9000.0, residue_m3=5e-6),
        tolerance=MEMBER_TOLERANCE,
    )


def one_run(components: int, plates: int) -> dict[str, float]:
    """Return processor time [ms], steps and time for a step, a stage and a component [µs]."""
    ready = prepare(case(components, plates))
    steps = solve(ready).record.numbers[3]
    best = np.inf
    for _ in range(3):
        begin = time.thread_time()
        solve(ready)
        best = min(best, time.thread_time() - begin)
    stages = plates + 2
    return {
        "components": components,
        "plates": plates,
        "ms": round(1e3 * best, 3),
        "steps": int(steps),
        "us_a_step_stage_component": round(1e6 * best / steps / stages / components, 4),
    }


def ensembles(components: int, plates: int) -> list[dict[str, float]]:
    """Return the wall clock of ensembles of several sizes [s], on one thread and on two."""
    base, random = case(components, plates), np.random.default_rng(1)
    found = []
    for members in MEMBERS:
        drawn = [
            replace(base, bath_conductance_W_K=base.bath_conductance_W_K * factor)
            for factor in random.uniform(0.8, 1.2, members)
        ]
        row: dict[str, float] = {"members": members}
        for threads in (1, 2):
            begin = time.perf_counter()
            run_members(drawn, threads)
            row[f"wall_{threads}_s"] = round(time.perf_counter() - begin, 4)
        found.append(row)
    return found


def off_the_line(members: list[float], seconds: list[float]) -> float:
    """Return the largest miss of seconds = k members, as a share, with the best k."""
    m, s = np.array(members), np.array(seconds)
    k = float(np.exp(np.mean(np.log(s / m))))
    return float(np.abs(s / (k * m) - 1.0).max())


def _panel(
    left: float, title: str, under: str, top_value: float, right_value: float, curves: list[tuple]
) -> list[str]:
    wide, high, top = 300.0, 240.0, 50.0
    across, up = axis_over(0.0, right_value, 5), axis_over(0.0, top_value, 5)
    parts = [text(left, 28.0, title, size=13.0, weight=600)]
    for tick in up.ticks:
        y = top + high * (1.0 - up.place(tick))
        parts.append(straight(left, y, left + wide, y, pen="pale"))
        parts.append(text(left - 6.0, y + 4.0, up.label(tick), size=11.0, anchor="end"))
    for tick in across.ticks:
        x = left + wide * across.place(tick)
        parts.append(text(x, top + high + 16.0, across.label(tick), size=11.0, anchor="middle"))
    parts.append(text(left + 0.5 * wide, top + high + 34.0, under, size=12.0, anchor="middle"))
    for n, (words, xs, ys) in enumerate(curves):
        x = left + wide * np.array([across.place(v) for v in xs])
        y = top + high * (1.0 - np.array([up.place(v) for v in ys]))
        parts.append(polyline(x, y, pen=PENS[n], dashes=DASHES[n]))
        parts += [circle(a, b, 2.5, fill="black") for a, b in zip(x, y, strict=True)]
        parts.append(text(left + 8.0, top + 14.0 + 15.0 * n, words, size=11.0, pen=PENS[n]))
        parts.append(
            straight(
                left + 130.0,
                top + 10.0 + 15.0 * n,
                left + 165.0,
                top + 10.0 + 15.0 * n,
                pen=PENS[n],
                width=2.0,
                dashes=DASHES[n],
            )
        )
    return parts


def picture(report: dict) -> str:
    """Return the plot of the figures as SVG."""
    runs, sizes = report["runs"], report["ensembles"]
    of = [
        (
            f"{c} components",
            *zip(*[(r["plates"], r["ms"]) for r in runs if r["components"] == c], strict=True),
        )
        for c in COMPONENTS
    ]
    threads = [
        (
            f"{t} thread{'s' * (t > 1)}",
            [r["members"] for r in sizes],
            [r[f"wall_{t}_s"] for r in sizes],
        )
        for t in (1, 2)
    ]
    left = _panel(
        60.0, "one run: processor time, ms", "plates", max(r["ms"] for r in runs), 20.0, of
    )
    right = _panel(
        440.0,
        "ensembles: wall clock, s",
        "members (3 components, 8 plates)",
        max(r["wall_1_s"] for r in sizes),
        float(MEMBERS[-1]),
        threads,
    )
    return document(
        770,
        340,
        "How the engine's time grows",
        "Processor time of a run against plates for two to five components, and wall clock of "
        "ensembles against members on one thread and on two.",
        [*left, *right],
    )


def main() -> None:
    """Measure, print, keep where asked."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--keep", action="store_true", help="write figures and picture")
    given = words.parse_args()
    runs = [one_run(c, p) for c in COMPONENTS for p in PLATES]
    sizes = ensembles(3, 8)
    report = {
        "date": date.today().isoformat(),
        "cores": os.cpu_count(),
        "runs": runs,
        "ensembles": sizes,
        "members_off_the_line": [
            round(off_the_line([r["members"] for r in sizes], [r[f"wall_{t}_s"] for r in sizes]), 3)
            for t in (1, 2)
        ],
        "two_threads_gain": [round(r["wall_1_s"] / r["wall_2_s"], 2) for r in sizes],
    }
    print(json.dumps(report, indent=1))
    if given.keep:
        FIGURES.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")
        PLOT.write_text(picture(report), encoding="utf-8")


if __name__ == "__main__":
    main()
