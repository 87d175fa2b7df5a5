"""How good forecasts are, once the truth is known.  One truth is one run, never one reading."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = [
    "bootstrap_interval",
    "covered",
    "crps_fair",
    "ecdf_band",
    "probability_integral",
    "spread_skill",
]

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


def crps_fair(members: Floats, truth: float) -> float:
    """Return the fair continuous ranked probability score of an ensemble.

    Args:
        members: (N,) the ensemble, N >= 2 [any].
        truth: what happened [same].

    Returns:
        The score [same unit], smaller is better; it may be negative.

    Source: Ferro, Q. J. R. Meteorol. Soc. 140 (2014) 1917, doi:10.1002/qj.2270, eq. (2): the
    pair term divided by N (N - 1), so that small ensembles are not punished for their size.
    """
    x = np.sort(members)
    n = x.size
    pairs = 2.0 * float(np.sum((2.0 * np.arange(1, n + 1) - n - 1.0) * x))  # sum |x_i - x_j|
    return float(np.mean(np.abs(x - truth))) - pairs / (2.0 * n * (n - 1.0))


def spread_skill(members: Floats, truths: Floats) -> float:
    """Return spread over skill of forecasts: 1 for honest ones, below 1 for narrow ones.

    Args:
        members: (R, N) an ensemble for each run [any].
        truths: (R,) what happened [same].

    Returns:
        sqrt((N + 1)/N mean variance / mean square error of the ensemble mean) [-], positive.

    Source: Fortin et al., J. Hydrometeorol. 15 (2014) 1708, doi:10.1175/JHM-D-14-0008.1, eq. (15).
    """
    n = members.shape[1]
    variance = float(np.mean(np.var(members, axis=1, ddof=1)))
    error = float(np.mean((members.mean(axis=1) - truths) ** 2))
    return float(np.sqrt((n + 1.0) / n * variance / error))


def covered(members: Floats, truths: Floats, share: float) -> Flags:
    """Return in which runs the middle band of the ensemble holds the truth.

    Args:
        members: (R, N) an ensemble for each run [any].
        truths: (R,) what happened [same].
        share: of the band, such as 0.8 [-].

    Returns:
        (R,) flags.
    """
    tail = 0.5 * (1.0 - share)
    low, high = np.quantile(members, (tail, 1.0 - tail), axis=1)
    return np.asarray((low <= truths) & (truths <= high))


def probability_integral(members: Floats, truths: Floats, seed: int) -> Floats:
    """Return where each truth falls in its ensemble, from 0 to 1; even for honest forecasts.

    Args:
        members: (R, N) an ensemble for each run [any].
        truths: (R,) what happened [same].
        seed: spreads a truth evenly over the gap between two members that it falls into.

    Returns:
        (R,) values between 0 and 1 [-].

    Derivation: rank among N + 1 exchangeable values, plus a uniform number, over N + 1; ties are
    shared out evenly.
    """
    random = np.random.default_rng(seed)
    below = np.sum(members < truths[:, None], axis=1)
    same = np.sum(members == truths[:, None], axis=1)
    rank = below + random.random(truths.size) * (same + 1)
    return np.asarray(rank / (members.shape[1] + 1.0), dtype=np.float64)


def ecdf_band(
    runs: int, level: float, seed: int, draws: int = 4000
) -> tuple[Floats, Floats, Floats]:
    """Return a band that the whole ECDF of even numbers leaves with a stated probability.

    Args:
        runs: how many numbers stand behind the ECDF, >= 1.
        level: probability that all of it stays inside, between 0 and 1 [-].
        seed: of the draws.
        draws: how many ECDFs are drawn.

    Returns:
        Places (m,), lower and upper bound (m,) [-].

    Source: Sailynoja, Burkner and Vehtari, Stat. Comput. 32 (2022) 32,
    doi:10.1007/s11222-022-10090-6: pointwise binomial bounds, made so much wider by drawing that
    they hold at all places at once.
    """
    random = np.random.default_rng(seed)
    places = np.linspace(0.0, 1.0, min(runs, 100) + 1)[1:-1]
    drawn = np.sort(random.random((draws, runs)), axis=1)
    counts = np.array([np.searchsorted(row, places, side="right") for row in drawn])
    ordered = np.sort(counts, axis=0)
    # for each draw, the smallest pointwise tail that any of its places reaches
    below = np.array(
        [np.searchsorted(c, v, side="right") for c, v in zip(ordered.T, counts.T, strict=True)]
    )
    above = draws - np.array(
        [np.searchsorted(c, v, side="left") for c, v in zip(ordered.T, counts.T, strict=True)]
    )
    tail = np.min(np.minimum(below, above), axis=0) / draws
    edge = float(np.quantile(tail, 1.0 - level))
    low = np.quantile(counts, edge, axis=0, method="lower") / runs
    high = np.quantile(counts, 1.0 - edge, axis=0, method="higher") / runs
    return places, np.asarray(low), np.asarray(high)


def bootstrap_interval(
    values: Floats, seed: int, share: float = 0.9, draws: int = 2000
) -> tuple[float, float]:
    """Return how far the mean of some runs' scores is known.

    Args:
        values: (R,) one score for each run [any].
        seed: of the draws.
        share: of the interval [-].
        draws: how many samples of runs are drawn.

    Returns:
        Lower and upper end [unit of the values], between the least and the largest value.

    Source: Efron, Ann. Stat. 7 (1979) 1, doi:10.1214/aos/1176344552 (percentile interval).
    """
    random = np.random.default_rng(seed)
    picked = random.integers(0, values.size, (draws, values.size))
    means = values[picked].mean(axis=1)
    tail = 0.5 * (1.0 - share)
    low, high = np.quantile(means, (tail, 1.0 - tail))
    return float(low), float(high)
