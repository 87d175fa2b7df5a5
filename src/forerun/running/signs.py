"""A sign: something seen in the log, with a weight for each cause that could make it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from forerun.running.case import Case

__all__ = ["Limits", "Rule", "Sign", "first_time", "strength", "weighed"]

Floats = npt.NDArray[np.float64]
Limits = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Sign:
    """Something seen.

    Args:
        weights: of each cause, relative.
        strength: how plain the sign is: 0.5 at its threshold, towards 1 far above [-].
        since_s: when it began [s].
        seen: one sentence with the figures.
    """

    weights: Mapping[str, float]
    strength: float
    since_s: float
    seen: str


@dataclass(frozen=True, slots=True)
class Rule:
    """One row of the table of signs.

    Args:
        name: of the sign.
        needs: channels of `Case` without which it cannot be seen.
        look: returns the sign where it is there.
        remark: whether a remark alone can show it, so that it is looked for without the channels.
    """

    name: str
    needs: tuple[str, ...]
    look: Callable[[Case, Limits], Sign | None]
    remark: bool = False


def strength(value: float, threshold: float) -> float:
    """Return how plain a sign is.

    Args:
        value: what was measured [unit of the threshold].
        threshold: from which it counts, above 0.

    Returns:
        1 - 2^-(value / threshold), at most 0.98: 0.5 at the threshold, 0.75 at twice of it.

    A rule of our own, no source.
    """
    return float(min(1.0 - 0.5 ** (value / threshold), 0.98))


def weighed(
    weights: Mapping[str, float], *facts: tuple[bool, Mapping[str, float]]
) -> dict[str, float]:
    """Return weights multiplied by the factors of every fact that holds.

    Args:
        weights: of each cause, relative.
        facts: whether it holds, and its factor for each cause that it speaks of.
    """
    found = dict(weights)
    for holds, factors in facts:
        if holds:
            for cause, factor in factors.items():
                found[cause] = found.get(cause, 0.0) * factor
    return found


def first_time(case: Case, where: npt.NDArray[np.bool_], lasting: float = 0.0) -> float | None:
    """Return when something first held for so long without a break.

    Args:
        case: whose grid is meant.
        where: (n,) whether it holds at each point.
        lasting: [s].

    Returns:
        its beginning [s], None where it never lasted.
    """
    need = int(lasting / case.step) + 1
    count = 0
    for k, holds in enumerate(where):
        count = count + 1 if holds else 0
        if count >= need:
            return float(case.time[k - need + 1])
    return None
