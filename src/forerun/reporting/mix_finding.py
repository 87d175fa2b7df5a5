"""The first sentence about a mixture: whether a still parts it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from forerun.core.quantities import format_fraction, format_pressure
from forerun.equilibrium.azeotropes_words import close_to_words, undecided_words
from forerun.planning.plates import stages_fenske1932
from forerun.reporting.bands import Span, value_with_band
from forerun.reporting.mix_parts import PairVolatility
from forerun.reporting.words import capital, listed

if TYPE_CHECKING:
    from forerun.equilibrium.azeotropes import Azeotrope, PossibleAzeotrope

__all__ = ["mixed"]

_ZERO_C = 273.15  # K
_NEAR_ONE = 1e-6
_ENDS = 0.95  # mole fraction of each end for which plates are named
_BOTH = format_fraction(_ENDS, "mol%", 0.05)


def mixed(
    names: Sequence[str],
    molar_masses: Sequence[float],
    pressure: float,
    azeotropes: Sequence[Azeotrope],
    pairs: Sequence[PairVolatility],
    possible: Sequence[PossibleAzeotrope] = (),
) -> str:
    """Return whether boiling parts the substances, in one sentence.

    Args:
        names: (C,) the substances.
        molar_masses: (C,) theirs [kg/mol].
        pressure: [Pa].
        azeotropes: those that were found.
        pairs: relative volatilities of all pairs.
        possible: sets of which none was found that may have one all the same.

    Returns:
        For a pair, where the still stops or how far apart the two are; for more, what blends boil
        together. None is denied that may exist.
    """
    at = format_pressure(pressure)
    likeliest = max(possible, key=lambda p: p.probability, default=None)
    together = capital(listed(names))
    if len(names) == 2:
        if azeotropes:
            return _stopped(together, names, molar_masses, azeotropes, at)
        return _apart(_none_found(names, together, likeliest, at), pairs[0], names)
    if not azeotropes:
        least = min(pairs, key=lambda p: abs(math.log(max(p.low, 1e-300))))
        near = listed([names[k] for k in least.basis.components])
        none = _none_found(names, together, likeliest, at)
        return f"{none}; nearest to each other are {near}"
    coldest = min(azeotropes, key=lambda a: a.temperature_K)
    if len(azeotropes) == 1:
        return f"{together}: one azeotrope found at {at}, {_blend(names, coldest)}"
    count = f"{len(azeotropes)} azeotropes"
    return f"{together}: {count} found at {at}, the coldest {_blend(names, coldest)}"


def _none_found(
    names: Sequence[str], together: str, likeliest: PossibleAzeotrope | None, at: str
) -> str:
    """Return that none was found, or that one may exist."""
    if likeliest is None:
        return f"{together}: no azeotrope found at {at}"
    own = [names[k] for k in likeliest.components]
    near = close_to_words([names[k] for k in likeliest.close_to])
    words = f"{undecided_words(own, likeliest.kind, likeliest.probability, at)}, {near}"
    return capital(words) if len(names) == 2 else f"{together}: {words}"


def _stopped(
    together: str,
    names: Sequence[str],
    molar_masses: Sequence[float],
    azeotropes: Sequence[Azeotrope],
    at: str,
) -> str:
    azeotrope = azeotropes[0]
    if azeotrope.liquid_phases == 2:
        boils = _temperature(azeotrope)
        return f"{together} boil together as two liquids at {boils} and {at}, and part on standing"
    if azeotrope.certainty == "doubtful":
        words = undecided_words(names, azeotrope.kind, azeotrope.probability, at)
        return f"{capital(words)}: if so, {_blend(names, azeotrope)}"
    main = int(np.argmax(azeotrope.mass_fraction))
    limit = f"{_mass_percent(azeotrope, molar_masses, main)} {names[main]}"
    more = f" (the coldest of {len(azeotropes)} azeotropes)" if len(azeotropes) > 1 else ""
    if azeotrope.kind == "maximum":
        return f"{together}: the pot of a still stops at {limit} at {at}{more}"
    return f"{together}: no still parts these two beyond {limit} at {at}{more}"


def _mass_percent(azeotrope: Azeotrope, molar_masses: Sequence[float], main: int) -> str:
    """Return the share of one of two components in wt% with its band."""
    own, other = molar_masses[main], molar_masses[1 - main]
    ends = [float(band[main]) for band in azeotrope.composition_band]
    low, high = (100.0 * x * own / (x * own + (1.0 - x) * other) for x in ends)
    return value_with_band(100.0 * float(azeotrope.mass_fraction[main]), Span(low, high), "wt%")


def _apart(none_found: str, pair: PairVolatility, names: Sequence[str]) -> str:
    low, high = sorted((pair.low, pair.high))
    if high <= 1.0 + _NEAR_ONE:
        low, high = 1.0 / high, 1.0 / low
    words = f"{none_found}; relative volatility {_range(low, high)}"
    if low <= 1.0 + _NEAR_ONE:
        return words
    stages = stages_fenske1932(math.sqrt(low * high), _ENDS, 1.0 - _ENDS)
    plates = max(0, math.ceil(stages - 1.0))
    return f"{words}, {plates} plates above the pot at the least for {_BOTH} at both ends"


def _range(low: float, high: float) -> str:
    first, second = f"{low:.3g}", f"{high:.3g}"
    return first if first == second else f"{first} to {second}"


def _blend(names: Sequence[str], azeotrope: Azeotrope) -> str:
    parts = [
        f"{value_with_band(100.0 * float(w), None, 'wt%', 0)} {name}"
        for name, w in zip(names, azeotrope.mass_fraction, strict=True)
        if w > 0.0
    ]
    return f"{_temperature(azeotrope)}: {listed(parts)}"


def _temperature(azeotrope: Azeotrope) -> str:
    low, high = azeotrope.temperature_band_K
    span = Span(low - _ZERO_C, high - _ZERO_C)
    return value_with_band(azeotrope.temperature_K - _ZERO_C, span, "°C")
