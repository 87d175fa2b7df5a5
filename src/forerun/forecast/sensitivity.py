"""Which unknown moves a result most: shares of its variance, from the members of a forecast.

Every result is fitted by a line and a parabola (Hermite polynomials) in each unknown.  Under the
prior these are uncorrelated, so the squares of their coefficients are the parts of the variance
that an unknown explains alone: first-order Sobol indices, at no further run.

Source: Sudret, Reliab. Eng. Syst. Saf. 93 (2008) 964, doi:10.1016/j.ress.2007.04.002.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.forecast.unknowns import Unknown
from forerun.still.results import Run

__all__ = ["Sensitivity", "Share", "sensitivities_of", "variance_shares"]

Floats = npt.NDArray[np.float64]

_PER_TERM = 3.0  # members for each coefficient, below which a fit says little
_LEAST_EXPLAINED = 0.3  # of the variance of members left out
_WORTH_NAMING = 0.02  # share


@dataclass(frozen=True, slots=True)
class Share:
    """What one unknown does to a result.

    Args:
        name: of the unknown.
        share: of the variance of the result, by this unknown alone [-].
        effect: change of the result for one standard deviation of the unknown [unit].
    """

    name: str
    share: float
    effect: float


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """What moves one result.

    Args:
        result: ``first drop``, ``switch 1``, ... or ``end``.
        unit: of the effects.
        sigma: standard deviation of the result over the members [unit].
        explained: share of the variance that the fit foretells for members it was not fitted to
            [-]; what is missing is interplay and chance.
        shares: largest first; those below 0.02 are left out.
    """

    result: str
    unit: str
    sigma: float
    explained: float
    shares: tuple[Share, ...]


def sensitivities_of(
    unknowns: Sequence[Unknown], z: Floats, run: Run, runs: Sequence[Run]
) -> tuple[Sensitivity, ...]:
    """Return what moves first drop, switches and end.

    Args:
        unknowns: what was varied.
        z: (N, D) the members' deviates [-], drawn from the prior.
        run: the nominal run.
        runs: the members.

    Returns:
        One for each result for which the members are enough and the fit foretells at least 0.3
        of the variance.
    """
    found = []
    for result, values in _results(run, runs).items():
        there = np.isfinite(values)
        fit = variance_shares(z[there], values[there])
        if fit is None:
            continue
        shares, effects, explained = fit
        if explained < _LEAST_EXPLAINED:
            continue
        order = [int(k) for k in np.argsort(-shares) if shares[k] >= _WORTH_NAMING]
        named = tuple(Share(unknowns[k].name, float(shares[k]), float(effects[k])) for k in order)
        sigma = float(np.std(values[there], ddof=1))
        found.append(Sensitivity(result, "s", sigma, explained, named))
    return tuple(found)


def _results(run: Run, runs: Sequence[Run]) -> dict[str, Floats]:
    """Return every result, NaN where a member does not have it."""

    def column(of: Sequence[float | None]) -> Floats:
        return np.array([np.nan if v is None else v for v in of], dtype=np.float64)

    found = {"first drop": column([r.first_drop_s for r in runs])}
    for cut in run.cuts[:-1]:
        ends = [next((c.end_s for c in r.cuts[:-1] if c.number == cut.number), None) for r in runs]
        found[f"switch {cut.number}"] = column(ends)
    found["end"] = column([float(r.trace.time_s[-1]) for r in runs])
    return found


def variance_shares(z: Floats, values: Floats) -> tuple[Floats, Floats, float] | None:
    """Return first-order shares of the variance of a result.

    Args:
        z: (N, D) independent standard normal deviates [-].
        values: (N,) the result [any].

    Returns:
        Shares (D,) [-], slopes (D,) [unit of the result] and the share of the variance foretold
        for left-out members [-]; None with fewer than 3 members for each coefficient or a result
        that does not vary.
    """
    n, d = z.shape
    spread = float(np.var(values)) if n else 0.0
    if d == 0 or n < _PER_TERM * (d + 1) or spread <= 1e-12 * float(np.mean(values) ** 2):
        return None
    basis = [np.ones((n, 1)), z]
    if n >= _PER_TERM * (2 * d + 1):
        basis.append((z**2 - 1.0) / np.sqrt(2.0))
    a = np.hstack(basis)
    coefficients = np.asarray(np.linalg.lstsq(a, values, rcond=None)[0], dtype=np.float64)
    squares = coefficients[1 : d + 1] ** 2
    if a.shape[1] > d + 1:
        squares = squares + coefficients[d + 1 :] ** 2
    # leave-one-out errors of a linear fit, without fitting again
    lever = np.einsum("ij,ij->i", a @ np.linalg.pinv(a.T @ a), a)
    left_out = (values - a @ coefficients) / np.maximum(1.0 - lever, 1e-6)
    explained = 1.0 - float(np.mean(left_out**2)) / spread
    shares = squares / max(spread, float(squares.sum()))  # few members can make them too large
    return shares, coefficients[1 : d + 1], explained
