"""Worked batch distillations of textbooks, by the dynamic still in its ideal limit.

The still has no plates, loses no heat and holds nothing back, so that it is the differential
distillation that the books calculate; equilibrium is ours, not the book's table.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
from scipy.optimize import brentq

from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.equilibrium.bubble import bubble_temperature, relative_volatility
from forerun.equilibrium.mixture import mixture_of
from forerun.still.inputs import StillInput, Stop
from forerun.still.results import Run
from forerun.still.run import run_still
from forerun.substances.catalogue import find
from forerun.substances.liquids import liquid_arrays
from laws.stills import WITHOUT_LOSS, ideal_mixture, still
from validation._data import changed_misses, compared, published_rows
from validation._rows import ValidationRow

ATMOSPHERE = 101325.0  # Pa
Row = dict[str, Any]

# Misses that stand, with the reason; a miss that goes, or a new one, fails.
KNOWN_MISSES: dict[str, str] = {
    "G5-003-area": "the book's trapezoid of five ordinates; the exact integral is 1.744",
    "G5-009-R0.85": "close to a pinch: the book steps on the table of 1932, whose vapour is up to "
    "0.013 poorer than ours; with that table the same stepping gives 0.550 (note of the row)",
    "G5-009-R4": "as at R = 0.85; with the table of 1932 the same stepping gives 0.049",
    "G5-016-xf": "read off a graph; at x = 0.07 our liquid boils 0.8 K below the table of 1932",
    "G5-019-W_kmol": "the value was computed on the book's table; no correction ships for methanol "
    "and water, whose vapour is 0.005 richer on average with us",
    "G5-019-D_kmol": "the same number, less the feed",
}

# Definitions and equations without a number to compare, and an example whose plates are not given.
NOT_COMPARED = {"G5-007", "G5-008", "G5-028", "G5-029", "G5-030", "G5-031"}


def _real(first: str, second: str, x: float) -> StillInput:
    substances = (find(first), find(second))
    return replace(
        still([340.0, 365.0], **WITHOUT_LOSS, tolerance=1e-6),
        names=(first, second),
        mixture=mixture_of(substances).arrays,
        liquids=liquid_arrays(substances),
        charge_mol=np.array([x, 1.0 - x]),
        bath_temperature=np.array([[0.0, 293.15], [1200.0, 390.0], [12000.0, 440.0]]),
    )


def until(given: StillInput, reached: Callable[[Run], float]) -> Run:
    """Return the run that stops at the residue for which a function of the run is zero."""
    volumes = given.liquids.molar_volume[:, 0]
    charge = float(given.charge_mol @ volumes)

    def run(share: float) -> Run:
        return run_still(replace(given, stop=Stop(12000.0, residue_m3=share * charge)))

    share = brentq(lambda s: reached(run(s)), 0.03, 0.97, xtol=1e-5)
    return run(share)


def _left(run: Run) -> np.ndarray:
    return run.ledger.residue_mol


def share_left(run: Run) -> float:
    return float(_left(run).sum() / run.ledger.charge_mol.sum())


def x_left(run: Run) -> float:
    return float(_left(run)[0] / _left(run).sum())


def x_over(run: Run) -> float:
    return float(run.ledger.cuts_mol[0] / run.ledger.cuts_mol.sum())


def _by_share(row: Row, names: tuple[str, str], x: float, left: float) -> list[ValidationRow]:
    run = until(_real(*names, x), lambda r: share_left(r) - left)
    value, tolerance = row["value"], row["tolerance"]
    pot, over = ("xW", "yD_avg") if "xW" in value else ("x2", "y_avg")
    return [
        compared(
            row, "-pot", "mole fraction in the pot", "", value[pot], x_left(run), tolerance[pot]
        ),
        compared(
            row, "-over", "mole fraction come over", "", value[over], x_over(run), tolerance[over]
        ),
    ]


def _treybal(row: Row) -> list[ValidationRow]:
    return _by_share(row, ("heptane", "octane"), 0.5, 0.4)


def _geankoplis(row: Row) -> list[ValidationRow]:
    return _by_share(row, ("pentane", "heptane"), 0.5, 0.6)


def _constant_alpha(row: Row) -> list[ValidationRow]:
    latent = 32e3
    cold = 350.0
    hot = 1.0 / (1.0 / cold - 8.314462618 * math.log(2.9) / latent)
    given = still([cold, hot], **WITHOUT_LOSS, tolerance=1e-6, mixture=ideal_mixture([cold, hot]))
    run = until(given, lambda r: x_left(r) - row["inputs"]["xf"])
    area = -math.log(share_left(run))
    said = row["value"]["trapezoid_area"]
    return [
        compared(
            row, "-area", "ln(charge/residue)", "", said, area, row["tolerance"]["trapezoid_area"]
        )
    ]


def _vapour_at_reflux(row: Row) -> list[ValidationRow]:
    ratio = row["inputs"]["R"]
    given = replace(_real("benzene", "toluene", 0.5), reflux_ratio=np.array([[0.0, ratio]]))
    run = until(given, lambda r: share_left(r) - 0.4)
    trace = run.trace
    vapour = np.trapezoid(trace.boilup_rate_mol_s, trace.time_s) / run.ledger.cuts_mol.sum()
    ours = float(vapour) * row["inputs"]["D_mol"]
    return [compared(row, "", "vapour boiled up", "mol", row["value"], ours, row["tolerance"])]


def _each(row: Row, ours: dict[str, float], units: dict[str, str]) -> list[ValidationRow]:
    """Return one comparison for each number of a batch still's answer."""
    said, allowed = row["value"], row["tolerance"]
    return [
        compared(row, f"-{k}", f"batch still: {k}", units.get(k, ""), said[k], v, allowed[k])
        for k, v in ours.items()
    ]


def _perry(row: Row) -> list[ValidationRow]:
    x0, xf = row["inputs"]["x0"], row["inputs"]["xf"]
    run = until(_real("ethanol", "water", x0), lambda r: x_left(r) - xf)
    left = 100.0 * share_left(run)
    ours = {
        "integral": -math.log(left / 100.0),
        "M_s": left,
        "D": 100.0 - left,
        "xD_avg": x_over(run),
    }
    units = {"M_s": "mol", "D": "mol"}
    return _each(row, ours, units)


def _wankat(row: Row) -> list[ValidationRow]:
    feed = row["inputs"]["F_kmol"]
    given = _real("methanol", "water", row["inputs"]["x0"])
    run = until(given, lambda r: x_left(r) - row["inputs"]["xf"])
    left = feed * share_left(run)
    ours = {"W_kmol": left, "D_kmol": feed - left, "xD_avg": x_over(run)}
    units = {"W_kmol": "kmol", "D_kmol": "kmol"}
    return _each(row, ours, units)


def _head_range(row: Row) -> list[ValidationRow]:
    """The still of a lecture that boils from 84 to 89 °C."""
    mixture = mixture_of((find("ethanol"), find("water")))

    def boils(x: float) -> float:
        return bubble_temperature(np.array([x, 1.0 - x]), ATMOSPHERE, mixture)[0] - 273.15

    start, end = (brentq(lambda x, t=t: boils(x) - t, 0.005, 0.6) for t in (84.0, 89.0))
    run = until(_real("ethanol", "water", start), lambda r: x_left(r) - end)
    feed, share = row["inputs"]["F"], share_left(run)
    ours = {
        "x0": start,
        "xf": end,
        "integral": math.log(share),
        "D": feed * (1.0 - share),
        "xD_avg": x_over(run),
    }
    return _each(row, ours, {"D": "mol"})


@cache
def _pot_below(ratio: float, top: float, stages: int) -> float:
    """Return the liquid of the lowest of some stages by stepping at constant molar overflow."""
    mixture = mixture_of((find("ethanol"), find("water")))

    def over(x: float) -> float:
        return float(bubble_temperature(np.array([x, 1.0 - x]), ATMOSPHERE, mixture)[1][0])

    y = top
    x = y
    for _ in range(stages):
        x = brentq(lambda z, y=y: over(z) - y, 1e-6, 0.88)
        y = ratio / (ratio + 1.0) * x + top / (ratio + 1.0)
    return float(x)


def _stepping(row: Row) -> list[ValidationRow]:
    stages = row["inputs"]["plates"] + 1
    return [
        compared(
            row,
            f"-R{ratio:g}",
            "pot below four plates",
            "",
            said,
            _pot_below(ratio, row["inputs"]["xD"], stages),
            row["tolerance"],
        )
        for ratio, said in zip(row["inputs"]["R"], row["value"]["xs"], strict=True)
    ]


def _product(row: Row) -> list[ValidationRow]:
    given = row["inputs"]
    end = _pot_below(4.0, given["xD"], 5)
    ours = given["S1"] * (given["x0"] - end) / (given["xD"] - end)
    return [compared(row, "", "distillate", "kmol", row["value"], ours, row["tolerance"])]


def _test_pairs(row: Row) -> list[ValidationRow]:
    out = []
    for k, (pair, said) in enumerate(row["value"].items()):
        first, second = (name.removeprefix("n-") for name in pair.split(" - "))
        mixture = mixture_of((find(first), find(second)))
        x = np.array([0.5, 0.5])
        t, _ = bubble_temperature(x, ATMOSPHERE, mixture)
        ours = float(relative_volatility(x, t, mixture, 0, 1))
        quantity = f"relative volatility of {pair}"
        out.append(compared(row, f"-{k}", quantity, "", said, ours, row["tolerance"]))
    return out


def _steam(row: Row) -> list[ValidationRow]:
    found = find_azeotropes(mixture_of((find("water"), find("bromobenzene"))), ATMOSPHERE)
    (azeotrope,) = found.azeotropes
    ours = azeotrope.temperature_K - 273.15
    return [compared(row, "", "steam distils at", "°C", row["value"], ours, row["tolerance"])]


CASES: dict[str, Callable[[Row], list[ValidationRow]]] = {
    "G5-001": _treybal,
    "G5-003": _constant_alpha,
    "G5-004": _vapour_at_reflux,
    "G5-006": _perry,
    "G5-009": _stepping,
    "G5-010": _product,
    "G5-016": _head_range,
    "G5-018": _geankoplis,
    "G5-019": _wankat,
    "G5-024": _test_pairs,
    "G5-027": _steam,
}


@cache
def _compared() -> list[ValidationRow]:
    published = published_rows("worked_examples.json")
    return [row for key, case in CASES.items() for row in case(published[key])]


def rows() -> list[ValidationRow]:
    """Return every comparison."""
    return list(_compared())


def test_every_example_is_met_or_a_known_miss() -> None:
    changed = changed_misses(_compared(), KNOWN_MISSES)
    assert not changed, "\n".join(changed)


def test_every_row_is_compared_or_named() -> None:
    assert set(published_rows("worked_examples.json")) == set(CASES) | NOT_COMPARED
