"""A correction fitted to one user's points, which are trusted more than one paper of many."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.equilibrium.bubble import bubble_temperature
from forerun.equilibrium.consistency import (
    ConsistencyTest,
    area_test,
    dilute_ends_test,
    pure_ends_test,
    vapour_test,
)
from forerun.equilibrium.fitting import FitSettings, PairFit, fit_points
from forerun.equilibrium.fitting_model import (
    BasePoints,
    MeasuredTable,
    base_points,
    corrected,
    temperature_miss,
)
from forerun.equilibrium.fitting_stability import StabilityGrid, stability_grid
from forerun.equilibrium.kernels import ln_vapour_pressure
from forerun.equilibrium.liquid_liquid_known import known_miscibility
from forerun.equilibrium.pairs import single_paper_scatter

if TYPE_CHECKING:
    from forerun.equilibrium.mixture import Mixture

__all__ = ["OwnFit", "OwnPoints", "fit_own_points"]

Floats = npt.NDArray[np.float64]

# What is believed of one's own points: the base may be far off, the run is nearly unbiased.
_TRUSTING = FitSettings(
    spread=0.5, spread_ratio=0.7, tilt_spread=0.3, paper_offset_K=0.1, paper_spread=0.01
)
_FEWEST = 3  # points away from the pure ends
_ROUNDS = 6  # for points without a temperature
_INSIDE = 0.002  # mole fraction from a pure end
_EQUAL = 5e-4  # mole fraction: liquid and vapour written as the same
_AZEOTROPE_COUNTS = 16  # times: y - x is then known to a quarter of what a vapour is
_SUSPECT_K = 2.0  # K: the models alone seldom miss by more


@dataclass(frozen=True, slots=True, eq=False)
class OwnPoints:
    """The points of a user, mole fractions of the first component.

    Args:
        temperature_K: (n,) [K], NaN where only x and y were measured.
        pressure_Pa: (n,) [Pa].
        liquid_fraction: (n,) [-].
        vapour_fraction: (n,) [-], NaN where it was not measured.
        rows: (n,) lines of the file [-].
        runs: (n,) label of the run of each.
    """

    temperature_K: Floats
    pressure_Pa: Floats
    liquid_fraction: Floats
    vapour_fraction: Floats
    rows: tuple[int, ...]
    runs: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class OwnFit:
    """What the points gave.

    Args:
        fit: coefficients and covariance.
        scatter_K: standard deviation about a run that was not fitted [K].
        rms_before_K, rms_after_K: of boiling temperatures, base alone and corrected; None without
            temperatures [K].
        rms_vapour_before, rms_vapour_after: of vapour mole fractions; None without any [-].
        temperature_miss_K: (n,) calculated minus measured, NaN without a temperature [K].
        vapour_miss: (n,) calculated minus measured, NaN without a vapour [-].
        tests: consistency.
        notes: sentences about doubts.
    """

    fit: PairFit
    scatter_K: float
    rms_before_K: float | None
    rms_after_K: float | None
    rms_vapour_before: float | None
    rms_vapour_after: float | None
    temperature_miss_K: Floats
    vapour_miss: Floats
    tests: tuple[ConsistencyTest, ...]
    notes: tuple[str, ...]


def fit_own_points(points: OwnPoints, mixture: Mixture) -> OwnFit:
    """Fit a Redlich-Kister correction of a pair to one's own points.

    Args:
        points: what was measured.
        mixture: the two components, without corrections.

    Returns:
        The fit, oriented as the mixture, with its tests.

    Validity:
        Below about 4 bar (the vapour is an ideal gas but for dimers).

    Raises:
        BadInput: fewer than three points between the pure liquids.
        CalculationFailed: the reweighted steps did not settle.

    Source:
        As `forerun.equilibrium.fitting.fit_pair`.
    """
    x = points.liquid_fraction
    inner = int(np.sum((x > _INSIDE) & (x < 1.0 - _INSIDE)))
    if inner < _FEWEST:
        raise BadInput(
            "--points", f"{inner} of {x.size}", "at least three points between the pure liquids"
        )
    notes: list[str] = []
    settings = replace(_TRUSTING, terms=min(3, max(1, inner // 2)))
    grid = _one_liquid(mixture, notes)
    settings = replace(settings, one_liquid=grid is not None)
    fit, base = _settled(points, mixture, settings, grid)
    before = _misses(base, np.zeros_like(fit.terms))
    after = _misses(base, fit.terms)
    notes += _exchanged(points, mixture, _rms(before[0]))
    rms_after = _rms(after[0])
    return OwnFit(
        fit=fit,
        scatter_K=max(single_paper_scatter(), rms_after or 0.0),
        rms_before_K=_rms(before[0]),
        rms_after_K=rms_after,
        rms_vapour_before=_rms(before[1]),
        rms_vapour_after=_rms(after[1]),
        temperature_miss_K=after[0],
        vapour_miss=after[1],
        tests=_tests(points, base, mixture, settings, grid),
        notes=tuple(notes),
    )


def _exchanged(points: OwnPoints, mixture: Mixture, rms: float | None) -> list[str]:
    """Return a question where the points suit the models far better with components exchanged."""
    if rms is None or rms < _SUSPECT_K or not np.isfinite(points.temperature_K).all():
        return []
    turned = replace(points, liquid_fraction=1.0 - points.liquid_fraction)
    turned = replace(turned, vapour_fraction=1.0 - points.vapour_fraction)
    tables = [_table(turned, turned.temperature_K, run) for run in dict.fromkeys(points.runs)]
    other = _rms(_misses(base_points(tables, mixture.arrays), np.zeros((1, 2)))[0])
    if other is None or other > 0.5 * rms:
        return []
    first = mixture.substances[0].name
    return [
        f"The models meet these points within {other:.1f} K with the two substances exchanged, and "
        f"within {rms:.1f} K as given: is x1 the fraction of {first}?"
    ]


def _one_liquid(mixture: Mixture, notes: list[str]) -> StabilityGrid | None:
    """Return where the pair must stay one liquid, None where it may part."""
    keys = [s.inchikey for s in mixture.substances]
    known = known_miscibility(keys[0], keys[1])
    grid = stability_grid(mixture.arrays)
    if known is not None:
        return grid if known.kind == "miscible" else None
    if np.any(grid.base < 0.0):
        notes.append(
            "The models part this pair into two liquids and no paper on file tells whether that "
            "is true: the fit leaves it open."
        )
        return None
    return grid


def _settled(
    points: OwnPoints, mixture: Mixture, settings: FitSettings, grid: StabilityGrid | None
) -> tuple[PairFit, BasePoints]:
    """Fit; where temperatures are lacking, again with those that the fit itself gives."""
    lacking = ~np.isfinite(points.temperature_K)
    temperature = np.where(lacking, 0.0, points.temperature_K)
    terms: Floats = np.zeros((settings.terms, 2))
    for _ in range(_ROUNDS if lacking.any() else 1):
        arrays = mixture.arrays._replace(pair_correction=_as_correction(terms))
        now = replace(mixture, arrays=arrays)
        for k in np.flatnonzero(lacking):
            x1 = float(points.liquid_fraction[k])
            liquid = np.array([x1, 1.0 - x1])
            temperature[k] = bubble_temperature(liquid, float(points.pressure_Pa[k]), now)[0]
        runs = dict.fromkeys(points.runs)
        tables = [_table(points, temperature, run) for run in runs]
        base = _in_order(base_points(tables, mixture.arrays), points, lacking)
        fit = fit_points(_azeotropes_weighed(base), settings, grid)
        terms = fit.terms
    return fit, base


def _azeotropes_weighed(base: BasePoints) -> BasePoints:
    """Return the points with those of equal liquid and vapour several times over.

    Whoever writes the same number twice means an azeotrope, known far better than a vapour.
    """
    x, y = base.liquid_fraction, base.vapour_fraction
    equal = (np.abs(x - y) < _EQUAL) & (x > _INSIDE) & (x < 1.0 - _INSIDE)
    times = np.where(equal, _AZEOTROPE_COUNTS, 1)
    fields = {
        name: np.repeat(getattr(base, name), times, axis=0) for name in base.__dataclass_fields__
    }
    return BasePoints(**fields)


def _table(points: OwnPoints, temperature: Floats, run: str) -> MeasuredTable:
    held = np.array([r == run for r in points.runs])
    return MeasuredTable(
        run,
        run,
        temperature[held],
        points.pressure_Pa[held],
        points.liquid_fraction[held],
        points.vapour_fraction[held],
    )


def _in_order(base: BasePoints, points: OwnPoints, lacking: npt.NDArray[np.bool_]) -> BasePoints:
    """Return the points in the order of the file; a pressure that told nothing becomes NaN."""
    runs = list(dict.fromkeys(points.runs))
    order = np.array([k for run in runs for k, r in enumerate(points.runs) if r == run])
    back = np.argsort(order)
    fields = {name: getattr(base, name)[back] for name in base.__dataclass_fields__}
    fields["pressure_Pa"] = np.where(lacking, np.nan, fields["pressure_Pa"])
    return BasePoints(**fields)


def _as_correction(terms: Floats) -> Floats:
    correction = np.zeros((2, 2, terms.shape[0], 2))
    correction[0, 1] = terms
    return correction


def _misses(base: BasePoints, terms: Floats) -> tuple[Floats, Floats]:
    ln_pressure, _, vapour, _ = corrected(base, terms)
    return temperature_miss(base, ln_pressure), vapour - base.vapour_fraction


def _rms(misses: Floats) -> float | None:
    known = misses[np.isfinite(misses)]
    return float(np.sqrt(np.mean(known**2))) if known.size else None


def _tests(
    points: OwnPoints,
    base: BasePoints,
    mixture: Mixture,
    settings: FitSettings,
    grid: StabilityGrid | None,
) -> tuple[ConsistencyTest, ...]:
    miss, _ = _misses(base, np.zeros((1, 2)))
    ends = pure_ends_test(points.liquid_fraction, miss)
    if any(s.dimerisation is not None for s in mixture.substances):
        why = "the vapour pairs up, which these tests do not know"
        names = ("area", "point to point", "dilute first component", "dilute second component")
        return (ends, *(ConsistencyTest(n, None, None, None, why) for n in names))
    x, y = points.liquid_fraction, points.vapour_fraction
    whole = np.isfinite(points.temperature_K) & np.isfinite(y) & (x > _INSIDE) & (x < 1.0 - _INSIDE)
    whole &= (y > 0.0) & (y < 1.0)
    t, p, x, y = (v[whole] for v in (points.temperature_K, points.pressure_Pa, x, y))
    pure = mixture.arrays.vapour_pressure
    ln_p = np.array([[ln_vapour_pressure(i, pure, float(k)) for k in t] for i in (0, 1)])
    ln_gamma = np.log([y * p / np.maximum(x, 1e-9), (1.0 - y) * p / np.maximum(1.0 - x, 1e-9)])
    ln_gamma = ln_gamma.reshape(2, -1) - ln_p.reshape(2, -1)
    ratio = ln_gamma[0] - ln_gamma[1]
    excess = (x * ln_gamma[0] + (1.0 - x) * ln_gamma[1]) / np.maximum(x * (1.0 - x), 1e-9)
    blind = replace(base, vapour_fraction=np.full_like(base.vapour_fraction, np.nan))
    calculated = np.full(0, np.nan)
    if int(whole.sum()):
        alone = fit_points(blind, settings, grid)
        calculated = corrected(base, alone.terms)[2][whole]
    return (
        area_test(t, x, ratio),
        vapour_test(calculated, y),
        *dilute_ends_test(x, excess, ratio),
        ends,
    )
