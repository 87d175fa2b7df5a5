"""Correction of a pair's activity model, fitted to measured points of several papers.

ln gamma = ln gamma of the base + Redlich-Kister terms.  Papers of one pair disagree by about
half a kelvin, far more than their points scatter, so a plain least squares flatters itself.  Here
each paper is allowed a bias of its own (a shift of its thermometer and a shift of its curve, both
random effects), the correction is pulled towards zero, that is towards the base, and points or
papers that stand far out lose their weight (Student's t).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.errors import CalculationFailed
from forerun.equilibrium.arrays import MixtureArrays
from forerun.equilibrium.fitting_evidence import Evidence, no_evidence
from forerun.equilibrium.fitting_model import (
    BasePoints,
    MeasuredTable,
    base_points,
    corrected,
    temperature_miss,
)
from forerun.equilibrium.fitting_stability import StabilityGrid, stability_grid

__all__ = ["FitSettings", "PairFit", "fit_pair", "fit_points", "settings_for"]

Floats = npt.NDArray[np.float64]

_SWEEPS = 500  # reweighted Gauss-Newton steps; ten suffice for a quiet pair
_NEWTON_STEPS = 60  # within one sweep, where the liquid would split
_SHORTEST_STEP = 1e-6  # of a Newton step: below, the penalty's kink is reached to rounding
_SETTLED = 1e-5  # change of a coefficient at which the sweeps end [-]
_SURE_SHARE = 0.2  # of the noise of a vapour fraction that is left near a pure component [-]
_HINGE = 1e-3  # width of the penalty that keeps a mixing pair in one liquid [-]


@dataclass(frozen=True, slots=True)
class FitSettings:
    """What is believed before the points are seen; chosen by leaving out papers, see `docs`.

    Args:
        terms: number K of Redlich-Kister terms, 1 to 5.
        spread: standard deviation of a of the first term: how wrong the base may be [-].
        spread_ratio: each further term may be this much smaller [-].
        tilt_spread: standard deviation of b over that of a [-].
        paper_offset_K: standard deviation of a paper's shift of temperature [K].
        paper_spread: standard deviation of a paper's own a of the first term [-].
        temperature_noise_K: standard deviation of a temperature [K].
        fraction_noise: standard deviation of a liquid mole fraction [-].
        vapour_noise: standard deviation of a vapour mole fraction y in the middle; times
            4 y (1 - y) elsewhere, but no less than a fifth, since an analysis is good to a share
            of the lesser component [-].
        freedom: degrees of freedom of Student's t for points and papers [-]; small is robust.
        one_liquid: keep the pair in one liquid phase at the temperatures of the stability grid.
    """

    terms: int = 3
    spread: float = 0.12
    spread_ratio: float = 0.6
    tilt_spread: float = 1.0
    paper_offset_K: float = 0.3
    paper_spread: float = 0.03
    temperature_noise_K: float = 0.2
    fraction_noise: float = 0.005
    vapour_noise: float = 0.01
    freedom: float = 4.0
    one_liquid: bool = True


def settings_for(papers: int) -> FitSettings:
    """Return what to believe before seeing points of so many papers.

    Args:
        papers: number of independent papers, or of runs of one's own.

    Returns:
        The default for several; for a single one a stronger pull to the base and a larger doubt
        about the paper, because fits to one paper did not help on others otherwise.
    """
    return FitSettings() if papers > 1 else FitSettings(spread=0.08, paper_spread=0.06)


@dataclass(frozen=True, slots=True, eq=False)
class PairFit:
    """A fitted correction, with how sure it is.

    Args:
        terms: (K, 2) a, b of A_k = a + b (350 K/T - 1), first minus second component [-].
        covariance: (2K, 2K) of the coefficients in the order a0, b0, a1, …; the disagreement of
            papers is in it, the demand for one liquid is not [-].
        table_names, papers: what was fitted.
        points: number of points.
        paper_offset_K: (papers,) how much too high each paper's thermometer reads [K].
        paper_weight: (papers,) 1 for a paper that agrees, towards 0 for one that stands out [-].
        point_weight: (n,) the same for each point, in the order of the tables [-].
        rms_before_K, rms_after_K: root mean square of calculated minus measured boiling
            temperature with the base alone and with the correction [K].
    """

    terms: Floats
    covariance: Floats
    table_names: tuple[str, ...]
    papers: tuple[str, ...]
    points: int
    paper_offset_K: Floats
    paper_weight: Floats
    point_weight: Floats
    rms_before_K: float
    rms_after_K: float


def fit_pair(
    tables: Sequence[MeasuredTable],
    base: MixtureArrays,
    settings: FitSettings | None = None,
    evidence: Evidence | None = None,
) -> PairFit:
    """Fit a Redlich-Kister correction of a pair to all papers together.

    Args:
        tables: measured tables, mole fractions in the order of the mixture.
        base: the mixture of the two components; a correction that it carries is left out.
        settings: what is believed before the points are seen; None takes `settings_for`.
        evidence: mutual solubilities and excess enthalpies of the pair, if there are any.

    Returns:
        The fit; its terms are oriented as the mixture.

    Validity:
        Below about 4 bar (the vapour is an ideal gas but for dimers).

    Raises:
        BadInput: not a pair, no tables, or columns that do not fit together.
        CalculationFailed: the reweighted steps did not settle.

    Source:
        Terms: Redlich & Kister, Ind. Eng. Chem. 40 (1948) 345, doi:10.1021/ie50458a036. Random
        effects: Laird & Ware, Biometrics 38 (1982) 963, doi:10.2307/2529876. Weights: Lange,
        Little & Taylor, J. Am. Stat. Assoc. 84 (1989) 881, doi:10.1080/01621459.1989.10478852.
    """
    papers = tuple(dict.fromkeys(t.paper for t in tables))
    chosen = settings or settings_for(len(papers))
    points = base_points(tables, base)
    grid = stability_grid(base) if chosen.one_liquid else None
    names = tuple(t.name for t in tables)
    return replace(fit_points(points, chosen, grid, evidence), table_names=names, papers=papers)


def fit_points(
    points: BasePoints,
    settings: FitSettings,
    grid: StabilityGrid | None = None,
    evidence: Evidence | None = None,
) -> PairFit:
    """Fit a correction to points whose base is evaluated already (see `fit_pair`).

    Args:
        points: from `base_points`.
        settings: what is believed before the points are seen.
        grid: where the pair must stay in one liquid phase; None leaves that open.
        evidence: mutual solubilities and excess enthalpies; None for none.

    Returns:
        The fit, with empty names.

    Raises:
        CalculationFailed: the reweighted steps did not settle.
    """
    papers, paper = np.unique(points.paper, return_inverse=True)
    other = evidence or no_evidence()
    prior = _prior(settings, papers.size)
    terms = 2 * settings.terms
    state = np.zeros(prior.size)
    weight = np.ones(2 * points.paper.size)
    trust = np.where(other.one_sided & (other.gap <= 0.0), 0.0, 1.0)
    paper_weight = np.ones(papers.size)
    for _ in range(_SWEEPS):
        normal, right = _normal(points, paper, state, weight, settings)
        belief = np.concatenate([np.ones(terms), np.tile(paper_weight, 2)])
        normal += np.diag(prior * belief)
        _add_evidence(other, trust, normal, right, terms)
        new = _solve(normal, right, state, terms, grid)
        settled = float(np.max(np.abs(new[:terms] - state[:terms]))) < _SETTLED
        state = new
        _, gaps = _residuals(points, paper, state, settings)
        weight = (settings.freedom + 1.0) / (settings.freedom + gaps**2)
        trust = _trust(other, state[:terms], settings)
        strain = (state[terms:] ** 2 * prior[terms:]).reshape(2, papers.size).sum(axis=0)
        paper_weight = (settings.freedom + 2.0) / (settings.freedom + strain)
        if settled:
            break
    else:
        raise CalculationFailed(
            "the fit of the pair",
            f"coefficients still moved after {_SWEEPS} steps",
            "Leave out tables that contradict the others, or fit fewer terms.",
        )
    fitted = state[:terms].reshape(settings.terms, 2)
    covariance = np.linalg.inv(normal)[:terms, :terms].astype(np.float64)
    return PairFit(
        terms=fitted,
        covariance=covariance,
        table_names=(),
        papers=(),
        points=int(points.paper.size),
        paper_offset_K=state[terms : terms + papers.size],
        paper_weight=np.minimum(paper_weight, 1.0),
        point_weight=np.minimum(weight[: points.paper.size], 1.0),
        rms_before_K=_rms(points, np.zeros_like(fitted)),
        rms_after_K=_rms(points, fitted),
    )


def _prior(settings: FitSettings, papers: int) -> Floats:
    """Return the precision of every unknown: coefficients, offsets, shifts of the curve."""
    sizes = settings.spread * settings.spread_ratio ** np.arange(settings.terms)
    both = np.stack([sizes, sizes * settings.tilt_spread], axis=1).reshape(-1)
    offsets = np.full(papers, settings.paper_offset_K)
    shifts = np.full(papers, settings.paper_spread)
    return np.concatenate([both, offsets, shifts]) ** -2.0


def _residuals(
    points: BasePoints, paper: npt.NDArray[np.int64], state: Floats, settings: FitSettings
) -> tuple[Floats, Floats]:
    """Return the design and the gaps, in standard deviations: ln P of all points, then y.

    A paper whose thermometer reads high by b was at T - b, where ln P is lower by slope times b.
    """
    terms = 2 * settings.terms
    count = (state.size - terms) // 2
    offset = state[terms : terms + count][paper]
    shift = state[terms + count :][paper]
    coefficients = state[:terms].reshape(settings.terms, 2)
    ln_pressure, ln_slope, vapour, vapour_slope = corrected(points, coefficients)
    noise = np.hypot(settings.temperature_noise_K, points.fraction_slope * settings.fraction_noise)
    per_K = points.slope * noise
    member = np.eye(count)[paper]
    own = ln_slope[:, :1]
    gap = np.log(points.pressure_Pa) - ln_pressure - own[:, 0] * shift + points.slope * offset
    pressure_rows = np.hstack([ln_slope, -points.slope[:, None] * member, own * member])
    pressure_rows = pressure_rows / per_K[:, None]
    own = vapour_slope[:, :1]
    y = points.vapour_fraction
    noise = settings.vapour_noise * np.maximum(4.0 * y * (1.0 - y), _SURE_SHARE)
    vapour_rows = np.hstack([vapour_slope, 0.0 * member, own * member]) / noise[:, None]
    vapour_gap = (y - vapour - own[:, 0] * shift) / noise
    rows = np.vstack([pressure_rows, vapour_rows])
    return rows, np.concatenate([gap / per_K, vapour_gap])


def _normal(
    points: BasePoints,
    paper: npt.NDArray[np.int64],
    state: Floats,
    weight: Floats,
    settings: FitSettings,
) -> tuple[Floats, Floats]:
    """Return the weighted normal equations about `state`, without what is believed beforehand."""
    rows, gaps = _residuals(points, paper, state, settings)
    keep = np.isfinite(gaps)
    scale = np.sqrt(weight[keep])
    design = rows[keep] * scale[:, None]
    return design.T @ design, design.T @ (gaps[keep] * scale + design @ state)


def _add_evidence(
    other: Evidence, trust: Floats, normal: Floats, right: Floats, terms: int
) -> None:
    """Add the rows of solubilities and enthalpies, which know no paper's shift."""
    design = other.design[:, :terms] * np.sqrt(trust)[:, None]
    normal[:terms, :terms] += design.T @ design
    right[:terms] += design.T @ (other.gap * np.sqrt(trust))


def _trust(other: Evidence, coefficients: Floats, settings: FitSettings) -> Floats:
    """Return the weight of Student's t for each row; none for one that is reached already."""
    left = other.gap - other.design[:, : coefficients.size] @ coefficients
    weight: Floats = (settings.freedom + 1.0) / (settings.freedom + left**2)
    return np.where(other.one_sided & (left <= 0.0), 0.0, weight)


def _solve(
    normal: Floats, right: Floats, start: Floats, terms: int, grid: StabilityGrid | None
) -> Floats:
    """Minimise s'Ns/2 - r's, with a penalty wherever the liquid would split.

    The penalty is the square of what is short of the margin: convex and once differentiable, so
    Newton's steps with halving arrive from anywhere.
    """
    free = np.linalg.solve(normal, right).astype(np.float64, copy=False)
    if grid is None or not grid.short_of_margin(free[:terms]).any():
        return free
    rows = grid.design_of(terms // 2) / _HINGE
    gap = grid.gap / _HINGE

    def cost(state: Floats) -> float:
        lack = np.maximum(gap - rows @ state[:terms], 0.0)
        return float(0.5 * state @ normal @ state - right @ state + 0.5 * lack @ lack)

    state = start
    for _ in range(_NEWTON_STEPS):
        watched = rows @ state[:terms] < gap
        curvature, target = normal.copy(), right.copy()
        curvature[:terms, :terms] += rows[watched].T @ rows[watched]
        target[:terms] += rows[watched].T @ gap[watched]
        step = np.linalg.solve(curvature, target) - state
        share, here = 1.0, cost(state)
        while share > _SHORTEST_STEP and cost(state + share * step) > here:
            share *= 0.5
        state = state + share * step
        if float(np.max(np.abs(step[:terms]))) < 0.1 * _SETTLED or share <= _SHORTEST_STEP:
            break
    return state


def _rms(points: BasePoints, terms: Floats) -> float:
    if points.paper.size == 0:
        return 0.0
    miss = temperature_miss(points, corrected(points, terms)[0])
    return float(np.sqrt(np.mean(miss**2)))
