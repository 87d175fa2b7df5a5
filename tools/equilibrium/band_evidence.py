"""Misses of boiling points, vapours and azeotropes with what a band may know of them.

Predicted pairs come without any correction; fitted ones by fits that did not see the paper
(`leave_out_papers.py`).  Boiling points are measured; vapours and azeotropes follow from the
measured bubble line of a table by Barker's method: Redlich-Kister terms through that line alone.
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from fit_pairs import Pair, gather

from forerun.equilibrium.azeotropes import _by_model
from forerun.equilibrium.azeotropes_bands import _shift, ln_volatility
from forerun.equilibrium.azeotropes_search import SingularPoint, singular_points
from forerun.equilibrium.band_rules import ln_pressure_half_width
from forerun.equilibrium.corrections import fitted_pair
from forerun.equilibrium.fitting_model import (
    BasePoints,
    MeasuredTable,
    base_points,
    corrected,
    temperature_miss,
)
from forerun.equilibrium.pairs import measured_tables

Floats = npt.NDArray[np.float64]
LEFT_OUT = Path(__file__).parents[2] / "tests/validation/data/left_out_fits.json.gz"
BARE = np.zeros((1, 2))
NO_WITNESS = "no second paper"  # a lone doubtful table is no proof against the base: it counts
PRIORS = np.array([1.5, 0.8, 0.4, 0.25])  # of the terms through one bubble line [-]
LINE_NOISE = 0.008  # of ln P [-]
CLEAN_K = 0.3  # rms about the line through a table that is used for vapours and azeotropes
MIXED = frozenset({(0, 1)})
VAPOURS = (
    "several papers, this one left out",
    "the same pairs, models alone",
    "models, no second paper",
    "as it ships, the table in the fit",
)


@dataclass(frozen=True)
class Misses:
    """Misses of one kind, each row with its pair and what a band may depend on.

    `spread` is None in every row or NaN where one model speaks; `scale` is the scatter between
    papers or 1; `size` is f for temperatures, y (1 - y) for vapours, x (1 - x)/slowness for
    compositions of azeotropes; `added` is a half-width known beforehand.
    """

    pair: Floats
    miss: Floats
    spread: Floats
    size: Floats
    scale: Floats
    added: Floats
    weight: Floats

    def where(self, keep: npt.NDArray[np.bool_]) -> Misses:
        """Return the rows that are kept."""
        return Misses(*(getattr(self, name)[keep] for name in self.__dataclass_fields__))


@dataclass(frozen=True)
class Line:
    """One table: its points, and the bubble line through them alone."""

    pair: Pair
    number: int
    table: MeasuredTable
    points: BasePoints
    alone: tuple[BasePoints, ...]
    terms: Floats
    rms_K: float


def misses(rows: list[tuple[float, ...]]) -> Misses:
    """Return rows of pair, miss, spread, size, scale, added, share; pairs weigh alike."""
    a = np.array(rows, dtype=float)
    total = {p: a[a[:, 0] == p, 6].sum() for p in np.unique(a[:, 0])}
    weight = a[:, 6] / np.array([total[p] for p in a[:, 0]])
    return Misses(a[:, 0], np.abs(a[:, 1]), *a[:, 2:6].T, weight)


@cache
def lines() -> tuple[Line, ...]:
    """Return every table that is not disproved."""
    found = []
    for number, pair in enumerate(gather()):
        out = pair.judged.left_out
        for table in measured_tables(*pair.cas):
            if NO_WITNESS in out.get(table.name, NO_WITNESS):
                points = base_points([table], pair.mixture.arrays)
                count = len(pair.mixture.models)
                own = [base_points([table], pair.mixture.alone(m)) for m in range(count)]
                terms = bubble_line(points)
                gap = np.log(points.pressure_Pa) - corrected(points, terms)[0]
                rms = float(np.sqrt(np.mean((gap / points.slope) ** 2)))
                found.append(Line(pair, number, table, points, tuple(own), terms, rms))
    return tuple(found)


def bubble_line(points: BasePoints) -> Floats:
    """Return terms through one table by Gauss-Newton steps in ln P."""
    terms = np.zeros((PRIORS.size, 2))
    hold = np.diag((LINE_NOISE / PRIORS) ** 2)
    for _ in range(30):
        value, slope, _, _ = corrected(points, terms)
        a = slope[:, ::2]
        gap = a.T @ (np.log(points.pressure_Pa) - value) - hold @ terms[:, 0]
        step = np.linalg.solve(a.T @ a + hold, gap)
        terms[:, 0] += step
        if float(np.abs(step).max()) < 1e-7:
            break
    return terms


def clean_lines() -> Iterator[Line]:
    """Return the lines that tell vapours: many points from end to end, little scatter."""
    for line in lines():
        x = line.points.liquid_fraction
        inner = int(np.sum((x > 1e-3) & (x < 1.0 - 1e-3)))
        if inner >= 8 and line.rms_K < CLEAN_K and x.min() < 0.25 and x.max() > 0.75:
            yield line


def logit(y: Floats) -> Floats:
    """Return ln(y/(1 - y))."""
    inside = np.clip(y, 1e-12, 1.0 - 1e-12)
    return np.asarray(np.log(inside / (1.0 - inside)))


def spread_of(values: list[Floats]) -> Floats:
    """Return the standard deviation between models, NaN for one."""
    if len(values) < 2:
        return np.full(values[0].shape, np.nan)
    return np.asarray(np.std(values, axis=0, ddof=1))


def vapour_part(line: Line) -> Floats:
    """Return the half-width that the vapour pressures give at every point [K]."""
    x, total = line.points.liquid_fraction, np.zeros(line.points.liquid_fraction.size)
    for share, substance in zip((x, 1.0 - x), line.pair.mixture.substances, strict=True):
        fit = substance.vapour_pressure
        a, b, c, d = fit.coefficients
        for k, t in enumerate(line.points.temperature_K.tolist()):
            value = a + b / t + c * np.log(t) + d * t
            reach = fit.data_low, fit.data_high
            total[k] += share[k] * ln_pressure_half_width(value, fit.spread, t, reach)
    return total / line.points.slope


def boiling_rows(line: Line, terms: Floats, scale: float) -> list[tuple[float, ...]]:
    """Return the misses of boiling temperatures of a table with some terms."""
    p = line.points
    x = p.liquid_fraction
    miss = temperature_miss(p, corrected(p, terms)[0])
    spread = spread_of([temperature_miss(q, corrected(q, BARE)[0]) for q in line.alone])
    f, part = np.minimum(4.0 * x * (1.0 - x), 1.0), vapour_part(line)
    inner = np.flatnonzero((x > 1e-3) & (x < 1.0 - 1e-3))
    return [
        (line.number, miss[k], spread[k], f[k], scale, part[k], 1.0 / inner.size) for k in inner
    ]


def vapour_rows(line: Line, terms: Floats, scale: float) -> list[tuple[float, ...]]:
    """Return the misses of vapour compositions of a table with some terms."""
    p = line.points
    y, truth = corrected(p, terms)[2], corrected(p, line.terms)[2]
    spread = spread_of([logit(corrected(q, BARE)[2]) for q in line.alone])
    inner = np.flatnonzero((p.liquid_fraction > 0.01) & (p.liquid_fraction < 0.99))
    return [
        (line.number, y[k] - truth[k], spread[k], y[k] * (1 - y[k]), scale, 0.0, 1.0 / inner.size)
        for k in inner
    ]


@cache
def left_out() -> dict[tuple[frozenset[str], str], dict[str, Any]]:
    """Return the fits without a paper and to it alone, by pair and paper."""
    rows = json.loads(gzip.decompress(LEFT_OUT.read_bytes()))
    return {(frozenset(r["cas"]), r["paper"]): r for r in rows}


@cache
def evidence() -> dict[str, Misses]:
    """Return the misses of boiling points and vapours, by origin of the band and quantity."""
    clean = {line.table.name for line in clean_lines()}
    models = [line for line in lines() if len(line.pair.mixture.models) > 1]
    single = [line for line in lines() if len(line.pair.mixture.models) == 1]
    rows: dict[str, list[tuple[float, ...]]] = {}
    for origin, group in (("models", models), ("one model", single)):
        rows[f"{origin}, boiling point"] = [r for li in group for r in boiling_rows(li, BARE, 1.0)]
        used = [li for li in group if li.table.name in clean]
        rows[f"{origin}, vapour"] = [r for li in used for r in vapour_rows(li, BARE, 1.0)]
    for name in ("several papers", "one paper"):
        rows[f"{name}, boiling point"], rows[f"{name}, vapour"] = [], []
    for line in lines():
        if line.table.name in line.pair.judged.left_out:
            continue
        for fit in of_pair(line):
            own = fit["paper"] == line.table.paper
            if own and not fit["ships"]:
                continue
            name = "several papers" if own else "one paper"
            terms = np.array(fit["without" if own else "alone"])
            scale = fit["scatter_K"] if own else 1.0
            rows[f"{name}, boiling point"] += boiling_rows(line, terms, scale)
            if line.table.name in clean:
                rows[f"{name}, vapour"] += vapour_rows(line, terms, scale)
    return {name: misses(found) for name, found in rows.items()}


def of_pair(line: Line) -> list[dict[str, Any]]:
    """Return the left-out fits of a line's pair."""
    pair = frozenset(line.pair.cas)
    return [row for (cas, _), row in left_out().items() if cas == pair]


@cache
def vapour_means() -> dict[str, Floats]:
    """Return the mean |dy| of every pair, (pairs,) [-], by what its vapour was reckoned from."""
    rows: dict[str, list[tuple[float, ...]]] = {name: [] for name in VAPOURS}
    for line in clean_lines():
        if line.table.name in line.pair.judged.left_out:
            continue
        bare = vapour_rows(line, BARE, 1.0)
        rows["as it ships, the table in the fit"] += vapour_rows(line, shipped_terms(line), 1.0)
        fits = of_pair(line)
        if not fits:
            rows["models, no second paper"] += bare
        for fit in fits:
            if fit["paper"] == line.table.paper:
                found = vapour_rows(line, np.array(fit["without"]), 1.0) if fit["ships"] else bare
                rows["several papers, this one left out"] += found
                rows["the same pairs, models alone"] += bare
    return {name: by_pair(misses(found)) for name, found in rows.items()}


def by_pair(m: Misses) -> Floats:
    """Return the mean miss of every pair, its tables alike."""
    return np.array([float(m.miss[m.pair == p] @ m.weight[m.pair == p]) for p in np.unique(m.pair)])


def shipped_terms(line: Line) -> Floats:
    """Return the terms of the correction that ships of a line's pair; none where none does."""
    keys = [s.inchikey for s in line.pair.mixture.substances]
    fitted = fitted_pair(*keys)
    return BARE if fitted is None else fitted.terms


@dataclass(frozen=True)
class Tops:
    """Azeotropes of tables against predicted ones, ends of pairs, and whether one exists."""

    temperature: Misses
    composition: Misses
    ends: Misses
    existence: Floats


@cache
def tops() -> Tops:
    """Return what the tables from end to end say of azeotropes, against predictions."""
    temperature: list[tuple[float, ...]] = []
    composition: list[tuple[float, ...]] = []
    ends: list[tuple[float, ...]] = []
    exists: list[tuple[float, float, float, float, float]] = []
    for line in clean_lines():
        x, mixture = line.points.liquid_fraction, line.pair.mixture
        if x.min() > 0.1 or x.max() < 0.9 or len(mixture.models) < 2:
            continue
        pressure = at_pressure(line)
        turned = np.ascontiguousarray(np.broadcast_to(line.terms, (2, 2, *line.terms.shape)))
        truth = singular_points(mixture.arrays._replace(pair_correction=turned), pressure, MIXED)
        ours = singular_points(mixture.arrays, pressure, MIXED)
        by_model = _by_model(mixture, pressure, MIXED, ours)
        two = [[p for p in points if len(p.components) == 2] for points in (truth, ours)]
        values, spreads = [], []
        for own, other in ((0, 1), (1, 0)):
            told = [ln_volatility(pure(points, own), other) for points in (truth, ours)]
            spread = float(np.std([ln_volatility(pure(m, own), other) for m in by_model], ddof=1))
            ends.append((line.number, told[1] - told[0], spread, 1.0, 1.0, 0.0, 1.0))
            values.append(told[1])
            spreads.append(spread)
        exists.append((line.number, *values, *spreads, float(len(two[0]) > 0)))
        if len(two[0]) == len(two[1]) == 1 and two[0][0].liquids is two[1][0].liquids is None:
            was, found = two[0][0], two[1][0]
            twins = [p for own in by_model for p in own if len(p.components) == 2]
            if len(twins) > 1:
                spread = float(np.std([p.temperature_K for p in twins], ddof=1))
                f = min(4.0 * float(np.prod(found.mole_fraction)), 1.0)
                gap = found.temperature_K - was.temperature_K
                temperature.append((line.number, gap, spread, f, 1.0, 0.0, 1.0))
                off = float(found.mole_fraction[0] - was.mole_fraction[0])
                move = float(_shift(found, 1.0)[0])
                composition.append((line.number, off, max(spreads), move, 1.0, 0.0, 1.0))
    a = np.array(exists)
    share = {p: 1.0 / np.sum(a[:, 0] == p) for p in np.unique(a[:, 0])}
    return Tops(
        misses(temperature),
        misses(composition),
        misses(ends),
        np.column_stack([a[:, 1:], [share[p] for p in a[:, 0]], a[:, 0]]),
    )


def at_pressure(line: Line) -> float:
    """Return the pressure of an isobar, or that of an isotherm where y = x (else the median)."""
    p = line.points
    if np.ptp(p.pressure_Pa) == 0.0:
        return float(p.pressure_Pa[0])
    gap = corrected(p, line.terms)[2] - p.liquid_fraction
    crossing = np.flatnonzero(np.sign(gap[:-1]) != np.sign(gap[1:]))
    return float(p.pressure_Pa[crossing[0]] if crossing.size else np.median(p.pressure_Pa))


def pure(points: list[SingularPoint], own: int) -> SingularPoint:
    """Return a pure liquid among singular points."""
    return next(p for p in points if p.components == (own,))
