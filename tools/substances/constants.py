"""Single constants: medians of whitelisted sources, or a named estimate that says so."""

from __future__ import annotations

import numpy as np
from chemicals.heat_capacity import Dadgostar_Shaw, Zabransky_cubic, Zabransky_quasi_polynomial
from readers import Row, number

R = 8.31446261815324
Entry = dict[str, object]


def entry(values: dict[str, float], digits: int, spread: float | None = None) -> Entry | None:
    """Return value (median), spread between sources (standard deviation), sources, method."""
    if not values:
        return None
    numbers = np.array(list(values.values()))
    if spread is None and len(numbers) > 1:
        spread = float(np.std(numbers, ddof=1))
    return {
        "value": _digits(float(np.median(numbers)), digits),
        "spread": None if spread is None else _digits(spread, 2),
        "sources": sorted(values),
        "method": "measured",
    }


def estimated(value: float, spread: float, sources: list[str], method: str = "estimated") -> Entry:
    """Return a value that a named method gave, with its band (1 sigma)."""
    return {
        "value": _digits(value, 6),
        "spread": _digits(spread, 2),
        "sources": sources,
        "method": method,
    }


def _digits(value: float, digits: int) -> float:
    return float(f"{value:.{digits}g}")


def first(tables: dict[str, dict[str, list[Row]]], key: str, cas: str, column: str) -> float | None:
    """Return a cell of the first row of a substance."""
    rows = tables[key].get(cas)
    return number(rows[0], column) if rows else None


def collect(
    tables: dict[str, dict[str, list[Row]]], cas: str, places: list[tuple[str, str]]
) -> dict[str, float]:
    """Return the positive values of several tables by source."""
    found = {key: first(tables, key, cas, column) for key, column in places}
    return {k: v for k, v in found.items() if v is not None and v > 0}


def without_outliers(values: dict[str, float], tolerance: float) -> dict[str, float]:
    """Drop the values far from the first source when three or more speak."""
    if len(values) < 3:
        return values
    middle = float(np.median(list(values.values())))
    return {k: v for k, v in values.items() if abs(v - middle) <= tolerance}


def heat_capacity(
    tables: dict[str, dict[str, list[Row]]], cas: str, boiling: float, per_gram: float, mass: float
) -> Entry:
    """Return c0, c1 of J/mol/K = c0 + c1 (T - 298.15), fitted from 280 K to the boiling point."""
    rows = tables["zabransky1996"].get(cas, [])
    low, high = 285.0, max(min(boiling, 520.0), 310.0)
    samples: list[tuple[float, float]] = []
    grades = []
    for row in rows:
        a, b = float(row["Tmin"]), float(row["Tmax"])
        for t in np.linspace(max(a, low), min(b, high), 15) if min(b, high) > max(a, low) else []:
            samples.append((float(t), _zabransky(row, float(t))))
            grades.append({"I": 8, "II": 4, "III": 2, "IV": 1}.get(row["Uncertainty"], 0.5))
    points = collect(tables, cas, [("crc_thermodynamic", "Cpl"), ("poling_cp", "Cpl")])
    if samples:
        t, c = np.array(samples).T
        weight = np.sqrt(np.array(grades))
        slope = np.ptp(t) > 15.0
        design = np.array([np.ones_like(t), (t - 298.15)]).T if slope else np.ones((len(t), 1))
        c0, *rest = np.linalg.lstsq(design * weight[:, None], c * weight, rcond=None)[0]
        c1 = float(rest[0]) if rest else 1.2e-3 * c0
        miss = float(np.std(c - design @ np.array([c0, *rest])))
        values = {"zabransky1996": float(c0), **points}
        spread = max(miss, float(np.std(list(values.values()), ddof=1)) if points else miss)
        return {
            "value": [_digits(float(c0), 6), _digits(c1, 4)],
            "spread": _digits(spread, 2),
            "sources": ["zabransky1996"],
            "method": "measured",
        }
    slope = _similarity_slope(per_gram, mass)
    if points:
        good = float(np.median(list(points.values())))
        spread = float(np.std(list(points.values()), ddof=1)) if len(points) > 1 else 0.03 * good
        return {
            "value": [_digits(good, 6), _digits(slope, 4)],
            "spread": _digits(spread, 2),
            "sources": [*sorted(points), "dadgostar2012"],
            "method": "correlated",
        }
    guess = Dadgostar_Shaw(298.15, per_gram) * mass
    return {
        "value": [_digits(guess, 5), _digits(slope, 4)],
        "spread": _digits(0.12 * guess, 2),
        "sources": ["dadgostar2012"],
        "method": "estimated",
    }


def _similarity_slope(per_gram: float, mass: float) -> float:
    ends = [Dadgostar_Shaw(t, per_gram) * mass for t in (298.15, 348.15)]
    return (ends[1] - ends[0]) / 50.0


def _zabransky(row: Row, t: float) -> float:
    if float(row["A1-quasi"] or 0) == 0 and float(row["A4-quasi"] or 0) == 0:
        return float(Zabransky_cubic(t, *(float(row[f"A{k}-spline"]) for k in range(1, 5))))
    terms = [float(row[f"A{k}-quasi"]) for k in range(1, 7)]
    return float(Zabransky_quasi_polynomial(t, float(row["Tc"]), *terms))


def rackett_volume(
    reference: float, t_reference: float, tc: float, pc: float
) -> tuple[list[float], float]:
    """Return v0, v1, v2 around 293.15 K from one volume and Rackett's temperature function."""
    power = 2.0 / 7.0
    tr = t_reference / tc
    z = (reference * pc / (R * tc)) ** (1.0 / (1.0 + (1.0 - tr) ** power))
    high = min(0.85 * tc, 293.15 + 200.0)
    t = np.linspace(273.15, max(high, 313.15), 30)
    t = t[t < 0.95 * tc]
    v = reference * z ** ((1.0 - t / tc) ** power - (1.0 - tr) ** power)
    v2, v1, v0 = np.polyfit(t - 293.15, v, 2)
    return [_digits(float(k), 6) for k in (v0, v1, v2)], float(z)
