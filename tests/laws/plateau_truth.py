"""Invented head temperatures with known plateaus: steps, ramps, drifts, slopes, noise, lag.

The truth is by the definition that `find_plateaus` states: a plateau ends where the reading that
is free of noise leaves the plateau's line by 0.5 K.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.reviewing.plateaus import Plateau, find_plateaus

Floats = npt.NDArray[np.float64]

CLOSE_K, CLOSE_S = 0.5, 60.0


@dataclass(frozen=True)
class Truth:
    """One plateau as it was made: when it begins and ends [s], and its level [K]."""

    start_s: float
    end_s: float
    level_K: float


@dataclass(frozen=True)
class Score:
    """How many plateaus there were, were found, and were reported in all."""

    made: int
    found: int
    reported: int


def drawn(rng: np.random.Generator) -> tuple[Floats, Floats, list[Truth]]:
    """Return times, readings and the truth of one invented run."""
    corners, spans = _corners(rng)
    step = float(rng.choice([1, 5, 10, 20, 30]))
    times = np.arange(0.0, corners[-1, 0], step)
    clean = _lagged(times, np.interp(times, *corners.T), rng.uniform(2.0, 20.0))
    seen = clean + rng.normal(0.0, rng.choice([0.02, 0.05, 0.1, 0.2]), times.size)
    rounding = float(rng.choice([0.0, 0.1, 0.5]))
    if rounding:
        seen = np.round(seen / rounding) * rounding
    stray = rng.random(times.size) < 0.002
    seen[stray] += rng.choice([-8.0, 8.0], stray.sum())
    truth = [_truth(times, clean, corners, *span) for span in spans]
    return times, seen + 273.15, truth


def _corners(rng: np.random.Generator) -> tuple[Floats, list[tuple[float, float]]]:
    levels = _levels(rng)
    points = [(0.0, 20.0), (float(rng.uniform(600, 1500)), 22.0)]
    spans = []
    for k, level in enumerate(levels):
        start = points[-1][0] + float(rng.uniform(60, 600))
        end = start + float(rng.uniform(360, 3600))
        drift = float(rng.uniform(-0.02, 0.03)) / 60.0
        points += [(start, level), (end, level + drift * (end - start))]
        spans.append((start, end))
        ceiling = levels[k + 1] - 3.0 if k + 1 < len(levels) else np.inf
        longer, slope = float(rng.uniform(300, 1200)), float(rng.uniform(0.3, 0.8)) / 60.0
        if rng.random() < 0.3 and points[-1][1] + slope * longer < ceiling:
            points.append((end + longer, points[-1][1] + slope * longer))  # too few plates
    if rng.random() < 0.6:
        last = points[-1]
        points.append((last[0] + rng.uniform(120, 400), last[1] - rng.uniform(10, 40)))
    return np.array(points), spans


def _levels(rng: np.random.Generator) -> list[float]:
    while True:
        levels = np.sort(rng.uniform(60.0, 180.0, rng.integers(1, 5)))
        if levels.size == 1 or np.diff(levels).min() >= 4.0:
            return [float(level) for level in levels]


def _lagged(times: Floats, values: Floats, lag: float) -> Floats:
    keep = float(np.exp(-(times[1] - times[0]) / lag))
    out = values.copy()
    for k in range(1, out.size):
        out[k] = keep * out[k - 1] + (1.0 - keep) * values[k]
    return out


def _truth(times: Floats, clean: Floats, corners: Floats, start: float, end: float) -> Truth:
    middle = 0.5 * (start + end)
    first, level, last = (float(np.interp(t, *corners.T)) for t in (start, middle, end))
    fine = np.arange(max(start - 900.0, 0.0), end + 900.0, 1.0)
    line = level + (last - first) / (end - start) * (fine - middle)
    on = np.abs(np.interp(fine, times, clean) - line) <= 0.5
    a = b = int(middle - fine[0])
    while a > 0 and on[a - 1]:
        a -= 1
    while b < fine.size - 1 and on[b + 1]:
        b += 1
    return Truth(float(fine[a]), min(float(fine[b]), float(times[-1])), level + 273.15)


def _meets(found: Plateau, truth: Truth) -> bool:
    return (
        abs(found.start_s - truth.start_s) <= CLOSE_S
        and abs(found.end_s - truth.end_s) <= CLOSE_S
        and abs(found.temperature_K - truth.level_K) <= CLOSE_K
    )


def scored(runs: int, seed: int) -> Score:
    """Return how well the plateaus of so many invented runs are found."""
    rng = np.random.default_rng(seed)
    made = found = reported = 0
    for _ in range(runs):
        times, head, truths = drawn(rng)
        plateaus = find_plateaus(times, head)
        made += len(truths)
        reported += len(plateaus)
        found += sum(any(_meets(p, truth) for p in plateaus) for truth in truths)
    return Score(made, found, reported)
