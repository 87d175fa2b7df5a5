"""How fast equilibrium is, beside the open library `thermo`.

    PYTHONPATH=src python benchmarks/equilibrium.py [--thermo PYTHON] [--repeats N]

Times are CPU times of one thread, the shortest of the repeats. Ours is the mean of three activity
models with corrections from measured points; theirs is one model (UNIFAC) alone. Kernels are timed
inside compiled code; calls from Python are timed as a user makes them. PYTHON is an interpreter
that can import `thermo`, by default this one; where it cannot, that column is left out.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable

import numpy as np
from gamma_kernel import many_activities

from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.equilibrium.azeotropes_kernels import scan_simplex
from forerun.equilibrium.bubble import bubble_temperature
from forerun.equilibrium.groups import groups_of
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.substances.catalogue import find

ATMOSPHERE = 101325.0
FIVE = ("acetone", "ethanol", "water", "toluene", "ethyl acetate")
FOUR = ("acetone", "methanol", "chloroform", "ethanol")
PAIRS = (("ethanol", "water"), ("acetone", "chloroform"))
TEMPERATURE = 350.0  # K

# What the other interpreter runs: activities of five components, and their boiling point by secant
# on the sum of x gamma P, with vapour pressures ln P = A + B/T + C ln T + D T handed over.
THEIRS = """
import json, sys, time
from math import exp, log
try:
    from thermo.unifac import UNIFAC
except ImportError:
    print("null"); sys.exit()
groups, curves, x, T0, P, repeats = json.loads(sys.stdin.read())
groups = [{int(k): v for k, v in g.items()} for g in groups]
model = UNIFAC.from_subgroups(T=T0, xs=x, chemgroups=groups, version=0)
def gammas(T):
    return model.to_T_xs(T, x).gammas()
def pressure(T):
    g = gammas(T)
    return sum(xi*gi*exp(a+b/T+c*log(T)+d*T) for xi, gi, (a, b, c, d) in zip(x, g, curves))
def boil():
    T, before = T0, None
    for _ in range(50):
        miss = log(pressure(T)/P)
        if abs(miss) < 1e-10:
            return T
        slope = 10.6/T if before is None else (miss-before[1])/(T-before[0])
        before = (T, miss)
        T -= miss/slope
def best(f, calls):
    times = []
    for _ in range(repeats):
        start = time.thread_time()
        for k in range(calls):
            f(k)
        times.append((time.thread_time()-start)/calls)
    return min(times)
gamma = best(lambda k: gammas(T0+1e-4*(k+1)), 200)
print(json.dumps({"gamma": gamma, "bubble": best(lambda k: boil(), 20)}))
"""


def best(function: Callable[[], object], calls: int, repeats: int) -> float:
    """Return the shortest CPU time of one call [s]."""
    times = []
    for _ in range(repeats):
        start = time.thread_time()
        for _ in range(calls):
            function()
        times.append((time.thread_time() - start) / calls)
    return min(times)


def within(mixture: Mixture, repeats: int) -> float:
    """Return the time of a boiling point inside compiled code [s]."""
    rng = np.random.default_rng(1)
    points = rng.dirichlet(np.ones(len(mixture.substances)), 2000)
    one, two = np.empty((2000, 2)), np.empty((2000, 4, len(mixture.substances)))
    scratch = mixture.scratch()

    def scan() -> None:
        scan_simplex(ATMOSPHERE, points, 350.0, 0, mixture.arrays, scratch, one, two)

    return best(scan, 1, repeats) / 2000


def activities_within(mixture: Mixture, x: list[float], repeats: int) -> float:
    """Return the time of the activities of one composition inside compiled code [s]."""
    many, share, out = 20_000, np.array(x), np.empty(len(x))
    scratch = mixture.scratch()

    def run() -> None:
        many_activities(many, TEMPERATURE, share, mixture.arrays, scratch, out)

    run()
    return best(run, 1, repeats) / many


def theirs(python: str, mixture: Mixture, x: list[float], repeats: int) -> dict[str, float] | None:
    """Return the times of `thermo` in another interpreter [s]; None where it has none."""
    groups = [groups_of(s)["unifac"] for s in mixture.substances]
    curves = [list(map(float, row[:4])) for row in mixture.arrays.vapour_pressure]
    asked = json.dumps([groups, curves, x, TEMPERATURE, ATMOSPHERE, repeats])
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONPATH"}
    done = subprocess.run(
        [python, "-c", THEIRS],
        input=asked,
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )
    if done.returncode != 0:
        print(f"thermo failed: {done.stderr.strip().splitlines()[-1:]}", file=sys.stderr)
        return None
    answer: dict[str, float] | None = json.loads(done.stdout)
    return answer


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--thermo", default=sys.executable)
    parser.add_argument("--repeats", type=int, default=5)
    asked = parser.parse_args()
    five = mixture_of([find(name) for name in FIVE])
    x = [0.2] * 5
    other = theirs(asked.thermo, five, x, asked.repeats)
    load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"
    print(f"load {load}; CPU times, the shortest of {asked.repeats}")
    if other is None:
        print("`thermo` cannot be imported: its column is left out.")
    rows: list[tuple[str, float, str | None]] = [
        (
            "activities of 5 components, a call from Python",
            best(lambda: five.ln_activity(TEMPERATURE, x), 500, asked.repeats),
            "gamma",
        ),
        (
            "bubble point of 5 components, a call from Python",
            best(lambda: bubble_temperature(x, ATMOSPHERE, five), 100, asked.repeats),
            "bubble",
        ),
        (
            "activities of 5 components inside compiled code",
            activities_within(five, x, asked.repeats),
            None,
        ),
        ("boiling of 5 components inside compiled code", within(five, asked.repeats), None),
    ]
    for names in (*PAIRS, FOUR):
        mixture = mixture_of([find(name) for name in names])
        find_azeotropes(mixture, ATMOSPHERE)
        calls = 10 if len(names) == 2 else 1
        took = best(lambda m=mixture: find_azeotropes(m, ATMOSPHERE), calls, asked.repeats)  # type: ignore[misc]
        rows.append((f"azeotropes of {' + '.join(names)}", took, None))
    for name, seconds, key in rows:
        beside = ""
        if other is not None and key is not None:
            beside = f"   thermo {1e6 * other[key]:9.1f} us, ratio {other[key] / seconds:6.1f}"
        print(f"{name:55} {1e6 * seconds:12.1f} us{beside}")


if __name__ == "__main__":
    main()
