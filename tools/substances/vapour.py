"""Vapour pressure: curves of independent sources, round trip through the boiling point, one fit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from chemicals.iapws import iapws95_Psat
from constants import WATER
from readers import Points, Tables, number
from scipy.optimize import brentq

ATMOSPHERE = 101325.0
ESTIMATE = 0.05  # relative spread of a vapour pressure from boiling point and steepness alone
LOWEST, HIGHEST = 100.0, 4.0e5  # Pa, the range that a bench still meets


@dataclass(frozen=True)
class Curve:
    """ln P(T) of one source over its own range."""

    source: str
    ln_pressure: Callable[[float], float]
    low: float
    high: float

    def boiling_point(self, reach: float) -> tuple[float | None, bool]:
        """Return the temperature [K] at 1 atm and whether it lies in (or 10 K off) the range.

        The curve is carried on while ln P is nearer than the reach.
        """
        low, high = self.low, self.high
        gaps = [self.ln_pressure(t) - np.log(ATMOSPHERE) for t in (low, high)]
        if not np.isfinite(gaps).all() or gaps[0] > reach or gaps[1] < -reach:
            return None, False
        while self.ln_pressure(low) > np.log(ATMOSPHERE) and low > 0.7 * self.low:
            low -= 2.0
        while self.ln_pressure(high) < np.log(ATMOSPHERE) and high < 1.3 * self.high:
            high += 2.0
        ends = [self.ln_pressure(t) - np.log(ATMOSPHERE) for t in (low, high)]
        if not ends[0] < 0 < ends[1]:
            return None, False
        tb = float(brentq(lambda t: self.ln_pressure(t) - np.log(ATMOSPHERE), low, high))
        return tb, self.low - 10.0 <= tb <= self.high + 10.0


def curves(look: Tables) -> list[Curve]:
    """Return the curve of every source that has the substance, copies of one another once."""
    if look.cas[0] == WATER:  # the international formulation needs no second opinion
        return [Curve("iapws95", lambda t: float(np.log(iapws95_Psat(t))), 273.16, 630.0)]
    found = [*_antoine(look), *_wagner(look)]
    out: list[Curve] = []
    for curve in found:
        if not any(_same(curve, other) for other in out):
            out.append(curve)
    return out


def _antoine(look: Tables) -> list[Curve]:
    out = []
    forms = (
        ("poling_antoine", "ABC", "T", np.log(10.0)),
        ("landolt_v20", "ABC", "T", 1.0),
        ("webbook", ("AntoineA", "AntoineB", "AntoineC"), "AntoineT", 1.0),
    )
    for key, names, prefix, scale in forms:
        for row in look.rows(key):
            values = [number(row, name) for name in names]
            ends = [number(row, prefix + end) for end in ("min", "max")]
            if None in values or None in ends:
                continue

            def antoine(t: float, v: list[float] = values, scale: float = scale) -> float:
                return float(scale * (v[0] - v[1] / (t + v[2])))

            out.append(Curve(key, antoine, *ends))
    return out


def _wagner(look: Tables) -> list[Curve]:
    out = []
    for key, powers in (("mcgarry1983", (1, 1.5, 3, 6)), ("poling_wagner", (1, 1.5, 2.5, 5))):
        for row in look.rows(key):
            tc, pc = float(row["Tc"]), float(row["Pc"])
            pairs = [(float(row[k]), n) for k, n in zip("ABCD", powers, strict=True)]

            def wagner(
                t: float, pairs: list[tuple[float, float]] = pairs, tc: float = tc, pc: float = pc
            ) -> float:
                tau = max(1.0 - t / tc, 0.0)
                return float(np.log(pc) + sum(k * tau**n for k, n in pairs) * tc / t)

            out.append(Curve(key, wagner, number(row, "Tmin") or 0.5 * tc, 0.99 * tc))
    return out


def _same(one: Curve, other: Curve) -> bool:
    low, high = max(one.low, other.low), min(one.high, other.high)
    return high > low and all(
        abs(one.ln_pressure(t) - other.ln_pressure(t)) < 1e-4
        for t in (low, 0.5 * (low + high), high)
    )


@dataclass(frozen=True)
class Fit:
    """The shipped fit: where the equation is used, where sources reach, spread, sources."""

    coefficients: tuple[float, float, float, float]
    low: float
    high: float
    data_low: float
    data_high: float
    spread: float | None
    sources: tuple[str, ...]
    boiling_point: float

    def slope(self, t: float) -> float:
        """Return d ln P / d T [1/K], d ln P / d(1/T) being constant beyond the range."""
        inside = min(max(t, self.low), self.high)
        _, b, c, d = self.coefficients
        return -(b - c * inside - d * inside * inside) / t**2


def ln_pressure(c: tuple[float, ...] | np.ndarray, t: float | np.ndarray) -> float | np.ndarray:
    """Return A + B/T + C ln T + D T."""
    return c[0] + c[1] / t + c[2] * np.log(t) + c[3] * t


@dataclass(frozen=True)
class Steepness:
    """What is known of -d ln P / d(Tb/T) at the boiling point before any curve is seen."""

    value: float
    deviation: float
    source: str


def fit(
    accepted: list[Curve],
    points: Points,
    boiling_point: float,
    melting_point: float | None,
    steepness: Steepness,
) -> Fit:
    """Fit ln P through curves, measured points and the boiling point.

    Without curve and points the boiling point and the steepness alone give an estimate.
    """
    rows = _samples(accepted, points, (melting_point or 60.0) - 15.0)
    t, y, w = (np.array([r[k] for r in rows]) for k in range(3))
    c = _coefficients(t, y, w, boiling_point, steepness)
    coefficients = tuple(float(f"{v:.9g}") for v in c)
    if rows:
        data = max(float(t.min()), melting_point or 0.0), float(t.max())
        miss = ln_pressure(c, t) - y
        use = abs(miss) < 0.2
        spread = _spread(miss[use], [rows[k][3] for k in np.flatnonzero(use)])
        sources = tuple(sorted({r[3] for k, r in enumerate(rows) if abs(miss[k]) < 0.1}))
    else:
        data, spread, sources = (boiling_point, boiling_point), ESTIMATE, (steepness.source,)
    low, high = _reach(c, data, melting_point)
    low, high = min(low, boiling_point - 2.0), max(high, boiling_point + 2.0)
    return Fit(
        coefficients,
        *(round(v, 2) for v in (low, high, *data)),
        spread,
        sources,
        round(_solve(c, boiling_point), 3),
    )


def _reach(
    c: np.ndarray, data: tuple[float, float], melting_point: float | None
) -> tuple[float, float]:
    """Carry the equation on to 1 mbar and 4 bar, as long as its slope stays that of a liquid.

    Between two temperatures the heat of vaporisation changes as Watson's rule says, about
    0.1 to 0.2 % per kelvin; twice that, or a change the other way, ends the reach.
    """

    def heat(t: float) -> float:
        return -(c[1] - c[2] * t - c[3] * t * t)

    low, high = data
    floor = max(melting_point or 0.0, 60.0)
    while low - 1.0 > floor and ln_pressure(c, low) > np.log(LOWEST):
        if not 1.0 <= heat(low - 1.0) / heat(low) <= 1.004:
            break
        low -= 1.0
    while ln_pressure(c, high) < np.log(HIGHEST):
        if not 0.994 <= heat(high + 1.0) / heat(high) <= 1.0:
            break
        high += 1.0
    return low, high


def _samples(
    accepted: list[Curve], points: Points, lowest: float
) -> list[tuple[float, float, float, str]]:
    """Return T, ln P, weight and source; every source weighs at most one in all."""
    rows: list[tuple[float, float, float, str]] = []
    for curve in accepted:
        grid = [
            float(t)
            for t in np.linspace(max(curve.low, lowest), curve.high, 60)
            if np.log(LOWEST) - 0.7 <= curve.ln_pressure(float(t)) <= np.log(HIGHEST)
        ]
        rows += [(t, curve.ln_pressure(t), 1.0 / len(grid), curve.source) for t in grid]
    papers = defaultdict(list)
    for doi, t, p in points:
        if LOWEST / 2 <= p <= HIGHEST and t >= lowest:
            papers[doi].append((t, float(np.log(p))))
    for doi, pairs in papers.items():
        weight = min(1.0, len(pairs) / 8.0) / len(pairs)
        rows += [(t, y, weight, "doi:" + doi) for t, y in pairs]
    return rows


def _coefficients(
    t: np.ndarray, y: np.ndarray, w: np.ndarray, tb: float, steepness: Steepness
) -> np.ndarray:
    """Fit A, B, C, D by reweighted least squares, linear beyond 2 % of pressure."""

    def basis(t: np.ndarray) -> np.ndarray:
        # terms of order 0, 1, 2, 3 in the distance from the boiling point
        q, log = tb / t, np.log(t / tb)
        return np.array([np.ones_like(t), q - 1.0, log + q - 1.0, 1.0 / q - q - 2.0 * log]).T

    design, total = basis(t).reshape(-1, 4), max(float(np.sum(w)), 1.0)
    pin = basis(np.array([tb])) * np.sqrt(3.0 * total) / 0.003
    pin_value = np.array([np.log(ATMOSPHERE)]) * np.sqrt(3.0 * total) / 0.003
    # what 239 substances with wide ranges show (median and spread of the second and third term);
    # it weighs as much as one source, so it rules only where the range is narrow
    sd = steepness.deviation
    prior = np.diag([0.0, 1.0 / sd, 1.0 / 3.0, 1.0 / 6.0])[1:]
    prior_value = np.array([-steepness.value / sd, -4.2 / 3.0, 5.3 / 6.0])
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
