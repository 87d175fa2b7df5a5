"""Whether measured boiling points and vapours of a pair can belong together.

The tests assume an ideal vapour: they say nothing where a vapour pairs up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["ConsistencyTest", "area_test", "dilute_ends_test", "pure_ends_test", "vapour_test"]

Floats = npt.NDArray[np.float64]

_FEWEST = 5  # points with a vapour composition
_ISOTHERMAL = 10.0  # of D, where the temperature is constant
_VAPOUR = 0.01  # mean |y calculated - y measured|
_ENDS = 30.0  # per cent
_PURE = 0.5  # K
_AT_END = 0.002  # mole fraction


@dataclass(frozen=True, slots=True)
class ConsistencyTest:
    """What one test found.

    Args:
        test: its name.
        passed: None where it could not be made.
        value: what was computed [unit of the test].
        limit: what it may be at most [unit of the test].
        words: what it means, or why it was not made.
    """

    test: str
    passed: bool | None
    value: float | None
    limit: float | None
    words: str


def area_test(temperature: Floats, liquid_fraction: Floats, ratio: Floats) -> ConsistencyTest:
    """Compare the areas above and below zero of ln(gamma1/gamma2) over composition.

    Args:
        temperature: (n,) boiling points [K].
        liquid_fraction: (n,) mole fraction of the first component [-].
        ratio: (n,) ln(gamma1/gamma2) [-].

    Returns:
        D = 100 |A - B|/(A + B) and its limit, valid for an ideal vapour: 10 where the temperature
        is constant, else J + 10 with J = 150 times the boiling range over its lowest temperature.

    Source:
        Redlich & Kister, Ind. Eng. Chem. 40 (1948) 345, doi:10.1021/ie50458a036; Herington,
        J. Inst. Petrol. 37 (1951) 457 (limits from memory).
    """
    if ratio.size < _FEWEST:
        return _not_made("area", "fewer than five points with a vapour composition")
    degree = min(3, ratio.size - 2)
    grid = np.linspace(0.0, 1.0, 401)
    line = np.polyval(np.polyfit(liquid_fraction, ratio, degree), grid)
    above = float(np.trapezoid(np.maximum(line, 0.0), grid))
    below = float(np.trapezoid(np.maximum(-line, 0.0), grid))
    value = 100.0 * abs(above - below) / max(above + below, 1e-12)
    low, high = float(temperature.min()), float(temperature.max())
    limit = _ISOTHERMAL + (0.0 if high - low < 0.5 else 150.0 * (high - low) / low)
    words = "areas of ln(γ1/γ2) above and below zero differ by this many per cent of both"
    if above + below < 0.05:
        words += "; the pair is nearly ideal, and the test says little"
        return ConsistencyTest("area", None, value, limit, words)
    return ConsistencyTest("area", value <= limit, value, limit, words)


def vapour_test(calculated: Floats, measured: Floats) -> ConsistencyTest:
    """Compare vapours computed from boiling points alone with those measured.

    Args:
        calculated: (n,) mole fraction of the first component in the vapour [-].
        measured: (n,) the same as measured [-].

    Returns:
        Mean difference, valid for an ideal vapour; at most 0.01 passes.

    Source:
        Van Ness, Byer & Gibbs, AIChE J. 19 (1973) 238, doi:10.1002/aic.690190206; the limit:
        Fredenslund, Gmehling & Rasmussen, Vapor-Liquid Equilibria Using UNIFAC (1977).
    """
    if measured.size < _FEWEST:
        return _not_made("point to point", "fewer than five points with a vapour composition")
    value = float(np.mean(np.abs(calculated - measured)))
    words = "mean difference of the vapour from one computed of boiling points alone"
    return ConsistencyTest("point to point", value <= _VAPOUR, value, _VAPOUR, words)


def dilute_ends_test(
    liquid_fraction: Floats, excess: Floats, ratio: Floats
) -> tuple[ConsistencyTest, ConsistencyTest]:
    """Compare g_E/(RT x1 x2) with ln(gamma1/gamma2) where either component is dilute.

    Args:
        liquid_fraction: (n,) mole fraction of the first component [-].
        excess: (n,) g_E/(RT x1 x2) [-].
        ratio: (n,) ln(gamma1/gamma2) [-].

    Returns:
        One test for each end, valid for an ideal vapour: per cent by which the two differ, at
        most 30; both tend to ln gamma at infinite dilution, with opposite signs at the other end.

    Source:
        Kojima, Moon & Ochi, Fluid Phase Equilib. 56 (1990) 269, doi:10.1016/0378-3812(90)85108-M.
    """
    names = ("dilute first component", "dilute second component")
    if ratio.size < _FEWEST or liquid_fraction.min() > 0.15 or liquid_fraction.max() < 0.85:
        why = "no points near both ends"
        return _not_made(names[0], why), _not_made(names[1], why)
    degree = min(3, ratio.size - 2)
    results = []
    for name, end, sign in ((names[0], 0.0, 1.0), (names[1], 1.0, -1.0)):
        whole = float(np.polyval(np.polyfit(liquid_fraction, excess, degree), end))
        slope = sign * float(np.polyval(np.polyfit(liquid_fraction, ratio, degree), end))
        if abs(slope) < 0.1:
            results.append(_not_made(name, "nearly ideal there"))
            continue
        value = 100.0 * abs(whole - slope) / abs(slope)
        words = "two ways to ln γ at infinite dilution differ by this many per cent"
        results.append(ConsistencyTest(name, value <= _ENDS, value, _ENDS, words))
    return results[0], results[1]


def pure_ends_test(liquid_fraction: Floats, miss: Floats) -> ConsistencyTest:
    """Compare the boiling points of the pure ends with those on file.

    Args:
        liquid_fraction: (n,) mole fraction of the first component [-].
        miss: (n,) calculated minus measured boiling temperature [K].

    Returns:
        Largest difference at mole fractions below 0.002 and above 0.998 [K]; valid at any
        pressure, at most 0.5 K passes.

    Not a published model: a comparison; the limit is common practice, no source.
    """
    ends = (liquid_fraction < _AT_END) | (liquid_fraction > 1.0 - _AT_END)
    if not ends.any():
        return _not_made("pure ends", "no points of the pure liquids")
    value = float(np.max(np.abs(miss[ends])))
    words = "the pure liquids boil this far from the boiling points on file, in kelvin"
    return ConsistencyTest("pure ends", value <= _PURE, value, _PURE, words)


def _not_made(name: str, why: str) -> ConsistencyTest:
    return ConsistencyTest(name, None, None, None, why)
