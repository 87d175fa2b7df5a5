"""Vapour pressure: curves of independent sources, round trip through the boiling point, one fit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from chemicals.iapws import iapws95_Psat
from readers import Row, number
from scipy.optimize import brentq

ATMOSPHERE = 101325.0
LOWEST, HIGHEST = 100.0, 4.0e5  # Pa, the range that a bench still meets


@dataclass(frozen=True)
class Curve:
    """ln P(T) of one source over its own range."""

    source: str
    ln_pressure: Callable[[float], float]
    low: float
    high: float

    def boiling_point(self) -> float | None:
        """Return the temperature [K] at 1 atm, looked for up to 15 K outside the range."""
        ends = (max(self.low - 15.0, 60.0), self.high + 15.0)
        miss = [self.ln_pressure(t) - np.log(ATMOSPHERE) for t in ends]
        if not (np.isfinite(miss).all() and miss[0] < 0 < miss[1]):
            return None
        return float(brentq(lambda t: self.ln_pressure(t) - np.log(ATMOSPHERE), *ends))


def curves(cas: str, tables: dict[str, dict[str, list[Row]]]) -> list[Curve]:
    """Return the curve of every source that has the substance."""
    out = []
    ln10 = np.log(10.0)
    for row in tables["poling_antoine"].get(cas, []):
        a, b, c = (float(row[k]) for k in "ABC")
        out.append(
            Curve("poling_antoine", lambda t, a=a, b=b, c=c: ln10 * (a - b / (t + c)), *_range(row))
        )
    for key, names in (("landolt_v20", "ABC"), ("webbook", ("AntoineA", "AntoineB", "AntoineC"))):
        for row in tables[key].get(cas, []):
            values = [number(row, k) for k in names]
            if None in values:
                continue
            a, b, c = values
            ends = _range(row) if key == "landolt_v20" else _range(row, "AntoineT")
            out.append(Curve(key, lambda t, a=a, b=b, c=c: a - b / (t + c), *ends))
    for key, powers in (("mcgarry1983", (1, 1.5, 3, 6)), ("poling_wagner", (1, 1.5, 2.5, 5))):
        for row in tables[key].get(cas, []):
            terms = [float(row[k]) for k in "ABCD"]
            tc, pc = float(row["Tc"]), float(row["Pc"])

            def wagner(t: float, terms=terms, tc=tc, pc=pc, powers=powers) -> float:
                tau = 1.0 - t / tc
                if tau <= 0:
                    return float("nan")
                return float(
                    np.log(pc)
                    + sum(k * tau**n for k, n in zip(terms, powers, strict=True)) * tc / t
                )

            out.append(Curve(key, wagner, number(row, "Tmin") or 0.5 * tc, 0.99 * tc))
    if cas == "7732-18-5":
        out.append(Curve("iapws95", lambda t: float(np.log(iapws95_Psat(t))), 288.2, 630.0))
    return out


def _range(row: Row, prefix: str = "T") -> tuple[float, float]:
    return float(row[prefix + "min"]), float(row[prefix + "max"])


def boiling_point_of(points: list[tuple[str, float, float]]) -> dict[str, float]:
    """Return the boiling point [K] that the points of each paper give by a line near 1 atm."""
    papers = defaultdict(list)
    for doi, t, p in points:
        if 2.0e4 < p < 2.5e5:
            papers[doi].append((1.0 / t, np.log(p / ATMOSPHERE)))
    out = {}
    for doi, rows in papers.items():
        x, y = np.array(sorted(rows)).T
        inside = y.min() <= 0.02 and y.max() >= -0.02
        if not inside:
            continue
        if len(x) >= 3 and np.ptp(y) > 0.2:
            out[doi] = float(1.0 / np.polyval(np.polyfit(y, x, min(2, len(x) - 2)), 0.0))
        else:
            near = np.argmin(abs(y))
            if abs(y[near]) < 0.05:
                # Trouton's slope is enough for a step of a few per cent
                out[doi] = float(1.0 / (x[near] + y[near] / (10.6 / x[near])))
    return out


@dataclass(frozen=True)
class Fit:
    """The shipped fit with its range, its spread and what it rests on."""

    coefficients: tuple[float, float, float, float]
    low: float
    high: float
    spread: float | None
    sources: tuple[str, ...]
    boiling_point: float


def ln_pressure(c: tuple[float, ...] | np.ndarray, t: float | np.ndarray) -> float | np.ndarray:
    """Return A + B/T + C ln T + D T."""
    return c[0] + c[1] / t + c[2] * np.log(t) + c[3] * t


def consensus(values: dict[str, float], tolerance: float = 0.3) -> tuple[float, list[str]]:
    """Return the boiling point on which most independent sources agree, and who disagrees.

    The densest window of width twice the tolerance wins; its mean is the value.
    """
    best: list[str] = []
    for centre in values.values():
        near = [k for k, v in values.items() if abs(v - centre) <= tolerance]
        if (len(near), -np.std([values[k] for k in near])) > (
            len(best),
            -np.std([values[k] for k in best]) if best else -9.0,
        ):
            best = near
    mean = float(np.mean([values[k] for k in best]))
    return mean, [k for k, v in values.items() if abs(v - mean) > max(tolerance, 0.3)]


def fit(
    accepted: list[Curve],
    points: list[tuple[str, float, float]],
    boiling_point: float,
    melting_point: float | None,
) -> Fit | None:
    """Fit ln P through curves, measured points and the boiling point."""
    low_end = max([melting_point or 0.0, 60.0])
    rows: list[tuple[float, float, float, str]] = []
    for curve in accepted:
        grid = [
            t
            for t in np.linspace(max(curve.low, low_end - 15.0), curve.high, 60)
            if np.log(LOWEST) - 0.7 <= curve.ln_pressure(float(t)) <= np.log(HIGHEST)
        ]
        rows += [
            (float(t), curve.ln_pressure(float(t)), 1.0 / len(grid), curve.source) for t in grid
        ]
    papers = defaultdict(list)
    for doi, t, p in points:
        if LOWEST / 2 <= p <= HIGHEST and t >= low_end - 15.0:
            papers[doi].append((t, float(np.log(p))))
    for doi, pairs in papers.items():
        weight = min(1.0, len(pairs) / 8.0) / len(pairs)
        rows += [(t, y, weight, "doi:" + doi) for t, y in pairs]
    if not rows:
        return None
    t, y, w = (np.array([r[k] for r in rows]) for k in range(3))
    c = _coefficients(t, y, w, boiling_point)
    span = np.array([np.ones_like(t), 1.0 / t, np.log(t), t]).T
    miss = span @ c - y
    use = abs(miss) < 0.2
    spread = _spread(miss[use], [rows[k][3] for k in np.flatnonzero(use)])
    low = max(float(t.min()), melting_point or 0.0)
    return Fit(
        tuple(float(f"{v:.9g}") for v in c),
        round(low, 2),
        round(float(t.max()), 2),
        spread,
        tuple(sorted({r[3] for k, r in enumerate(rows) if abs(miss[k]) < 0.1})),
        round(_solve(c, boiling_point), 3),
    )


def _coefficients(t: np.ndarray, y: np.ndarray, w: np.ndarray, tb: float) -> np.ndarray:
    """Fit A, B, C, D by reweighted least squares, linear beyond 2 % of pressure."""

    def basis(t: np.ndarray) -> np.ndarray:
        # terms of order 0, 1, 2, 3 in the distance from the boiling point
        q, log = tb / t, np.log(t / tb)
        return np.array([np.ones_like(t), q - 1.0, log + q - 1.0, 1.0 / q - q - 2.0 * log]).T

    design, total = basis(t), float(np.sum(w))
    pin = basis(np.array([tb])) * np.sqrt(3.0 * total) / 0.003
    pin_value = np.array([np.log(ATMOSPHERE)]) * np.sqrt(3.0 * total) / 0.003
    # the usual difference of heat capacity keeps a narrow range from bending freely
    prior = 0.05 * np.array([[0.0, 0.0, 1.0 / 6.0, -2.0 / 6.0], [0.0, 0.0, 0.0, 0.25]])
    prior_value = 0.05 * np.array([-1.0, 0.0])
    a = np.array([np.log(ATMOSPHERE), -10.6, -6.0, 0.0])
    for _ in range(60):
        miss = (design @ a - y) / 0.01
        soft = np.sqrt(w / np.sqrt(1.0 + miss**2 / 4.0)) / 0.01
        left = np.vstack([design * soft[:, None], pin, prior])
        right = np.concatenate([y * soft, pin_value, prior_value])
        a = np.linalg.lstsq(left, right, rcond=None)[0]
    return np.array(
        [
            a[0] - a[1] - a[2] * (np.log(tb) + 1.0) + 2.0 * a[3] * np.log(tb),
            tb * (a[1] + a[2] - a[3]),
            a[2] - 2.0 * a[3],
            a[3] / tb,
        ]
    )


def _solve(c: np.ndarray, near: float) -> float:
    ends = [ln_pressure(c, near + k) - np.log(ATMOSPHERE) for k in (-30, 30)]
    if not ends[0] < 0.0 < ends[1]:
        return float("nan")
    return float(brentq(lambda t: ln_pressure(c, t) - np.log(ATMOSPHERE), near - 30, near + 30))


def _spread(miss: np.ndarray, sources: list[str]) -> float | None:
    """Return the relative spread between sources: rms of the mean misses of each."""
    by = defaultdict(list)
    for value, source in zip(miss, sources, strict=True):
        by[source].append(value)
    if len(by) < 2:
        return None
    per_source = np.array([np.sqrt(np.mean(np.square(v))) for v in by.values()])
    return float(np.median(per_source) * 1.2533)
