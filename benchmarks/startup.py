"""How long commands take as whole processes, and in units of importing numpy.

    PYTHONPATH=src python benchmarks/startup.py [RUNS]

The commands take turns, so that a machine that is busy for a while is so for all of them. Kernels
have to be compiled before (`python -m forerun.app.prepare`).
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from statistics import median

RUNS = 10
COMMANDS = {
    "python -c 'import numpy'": ["-c", "import numpy"],
    "forerun --help": ["-m", "forerun.app.cli", "--help"],
    "forerun look toluene": ["-m", "forerun.app.cli", "look", "toluene"],
    "forerun mix ethanol water": ["-m", "forerun.app.cli", "mix", "ethanol", "water"],
    "forerun foresee three-on-eight": ["-m", "forerun.app.cli", "foresee", "three-on-eight"],
}


def seconds(words: list[str]) -> float:
    """Return how long a command takes from its start to its end [s]."""
    start = time.perf_counter()
    subprocess.run([sys.executable, *words], stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def main() -> None:
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else RUNS
    taken: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for words in COMMANDS.values():  # once to warm up
        seconds(words)
    for _ in range(runs):
        for name, words in COMMANDS.items():
            taken[name].append(seconds(words))
    unit = median(next(iter(taken.values())))
    load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"
    print(f"{runs} processes each, load {load}")
    print(f"{'':32} {'min':>7} {'median':>7} {'max':>7} s   of numpy")
    for name, times in taken.items():
        figures = f"{min(times):7.3f} {median(times):7.3f} {max(times):7.3f}"
        print(f"{name:32} {figures}   {median(times) / unit:8.1f}")


if __name__ == "__main__":
    main()
