"""Worked batch distillations of textbooks, by the dynamic still on the book's own equilibrium.

The same still and the same examples as in `test_worked_examples.py`, where the equilibrium is
ours; here it is the table or the relative volatility that the book itself calculates with, so
that what is compared is the distillation alone.  A trapezoid of few ordinates, or a staircase
between operating line and curve, is redone as the book does it and stands beside the still.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from forerun.still.inputs import StillInput, Stop
from forerun.still.run import run_still
from laws.stills import WITHOUT_LOSS, still
from validation._book_equilibrium import mixture_of_table
from validation._data import compared, published_rows
from validation._rows import ValidationRow
from validation.test_worked_examples import CASES as WITH_OUR_EQUILIBRIUM
from validation.test_worked_examples import share_left, until, x_left, x_over

Row = dict[str, Any]
ETHANOL, METHANOL = "G4-001", "G4-002"  # tables that the books print, in phase_equilibrium.json
APART, CLOSE = [351.0, 365.0], [351.0, 353.0]  # K, boiling points of stand-ins

# Met by our own equilibrium already, or without an equilibrium that could be taken from the book.
ELSEWHERE = {
    "G5-001": "heptane and octane, met by our own equilibrium",
    "G5-004": "benzene and toluene, met by our own equilibrium",
    "G5-018": "pentane and heptane, met by our own equilibrium",
    "G5-024": "relative volatilities themselves",
    "G5-027": "a boiling point",
}


@cache
def _columns(key: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    value = published_rows("phase_equilibrium.json")[key]["value"]
    x, y, t = (np.array(value[name], dtype=float) for name in ("x1", "y1", "T_C"))
    return x, y, t


def _still(key: str, x: float, plates: int = 0, **changes: Any) -> StillInput:
    """Return a still of stand-ins whose vapour is that of a table."""
    boiling = CLOSE if plates else APART
    mixture = mixture_of_table(*_columns(key)[:2], boiling)
    given = still(boiling, plates, **WITHOUT_LOSS, mixture=mixture, tolerance=1e-6)
    return replace(given, charge_mol=np.array([x, 1.0 - x]), **changes)


def _boils_at(key: str, celsius: float) -> float:
    """Return the liquid of a table that boils at a temperature."""
    x, _, t = _columns(key)
    return float(brentq(lambda z: PchipInterpolator(x, t)(z) - celsius, x[0], x[-1]))


def _each(row: Row, ours: dict[str, float], units: dict[str, str]) -> list[ValidationRow]:
    said, allowed = row["value"], row["tolerance"]
    quantity = "on the book's table, batch still: "
    return [
        compared(row, f"-{k}-own", quantity + k, units.get(k, ""), said[k], v, allowed[k])
        for k, v in ours.items()
    ]


def _batch(key: str, x: float, end: float) -> tuple[float, float]:
    """Return the share left and the composition come over when the pot has reached its end."""
    run = until(_still(key, x), lambda r: x_left(r) - end)
    return share_left(run), x_over(run)


def _perry(row: Row) -> list[ValidationRow]:
    left, over = _batch(ETHANOL, row["inputs"]["x0"], row["inputs"]["xf"])
    ours = {
        "integral": -np.log(left),
        "M_s": 100.0 * left,
        "D": 100.0 * (1.0 - left),
        "xD_avg": over,
    }
    return _each(row, ours, {"M_s": "mol", "D": "mol"})


def _wankat(row: Row) -> list[ValidationRow]:
    feed = row["inputs"]["F_kmol"]
    left, over = _batch(METHANOL, row["inputs"]["x0"], row["inputs"]["xf"])
    ours = {"W_kmol": feed * left, "D_kmol": feed * (1.0 - left), "xD_avg": over}
    return _each(row, ours, {"W_kmol": "kmol", "D_kmol": "kmol"})


def _head_range(row: Row) -> list[ValidationRow]:
    start, end = (_boils_at(ETHANOL, row["inputs"][name]) for name in ("T_start", "T_end"))
    left, over = _batch(ETHANOL, start, end)
    feed = row["inputs"]["F"]
    ours = {
        "x0": start,
        "xf": end,
        "integral": np.log(left),
        "D": feed * (1.0 - left),
        "xD_avg": over,
    }
    return _each(row, ours, {"D": "mol"})


def _constant_alpha(row: Row) -> list[ValidationRow]:
    """The trapezoid of the book, on ordinates from its relative volatility."""
    given, said, allowed = row["inputs"], row["value"], row["tolerance"]
    count = round((given["x0"] - given["xf"]) / given["dx"]) + 1
    x = np.linspace(given["x0"], given["xf"], count)
    y = given["alpha"] * x / (1.0 + (given["alpha"] - 1.0) * x)
    ordinates = 1.0 / (y - x)
    rows = [
        compared(
            row,
            f"-ordinate{k}-own",
            "on the book's volatility, 1/(y - x)",
            "",
            said["ordinates"][k],
            float(ordinates[k]),
            allowed["ordinates"],
        )
        for k in range(count)
    ]
    area = float(-np.trapezoid(ordinates, x))
    quantity = "on the book's volatility, trapezoid as in the book (the integral is 1.744)"
    said_area, within = said["trapezoid_area"], allowed["trapezoid_area"]
    return [*rows, compared(row, "-area-own", quantity, "", said_area, area, within)]


@cache
def _column_pot(key: str, ratio: float, top: float, plates: int, start: float) -> float:
    """Return the pot composition at which the head of a column delivers a composition.

    A column that holds next to nothing runs at a fixed reflux, which returns as hot as it boils;
    equal latent heats and boiling points 2 K apart make its flows constant, as a staircase between
    line and curve supposes.
    """
    given = _still(
        key,
        start,
        plates,
        reflux_ratio=np.array([[0.0, ratio]]),
        holdup_m3=1e-7 * plates,
        column_glass_J_K=2.0,
        head_glass_J_K=2.0,
        coolant_temperature_K=CLOSE[0],
        stop=Stop(12000.0, residue_m3=1e-5),
        sample_interval_s=2.0,
    )
    trace = run_still(given).trace
    head, pot = trace.distillate_mole_fraction[:, 0], trace.pot_mole_fraction[:, 0]
    steady = np.isfinite(head) & (trace.distillate_volume_m3 > 5e-7)
    assert head[steady].min() < top < head[steady].max()
    return float(np.interp(-top, -head[steady], pot[steady]))


def _staircase(key: str, ratio: float, top: float, stages: int) -> float:
    """Return the liquid of the lowest of some stages between operating line and the table."""
    x, y, _ = _columns(key)
    curve = PchipInterpolator(np.append(0.0, x), np.append(0.0, y))
    vapour = liquid = top
    for _ in range(stages):
        liquid = float(brentq(lambda z, v=vapour: curve(z) - v, 0.0, x[-1]))
        vapour = (ratio * liquid + top) / (ratio + 1.0)
    return liquid


def _stepping(row: Row) -> list[ValidationRow]:
    given, allowed = row["inputs"], row["tolerance"]
    rows = []
    for ratio, said in zip(given["R"], row["value"]["xs"], strict=True):
        drawn = _staircase(ETHANOL, ratio, given["xD"], given["plates"] + 1)
        run = _column_pot(ETHANOL, ratio, given["xD"], given["plates"], said + 0.1)
        for suffix, quantity, ours in (
            ("own", "on the table of 1932, staircase", drawn),
            ("own-still", "on the table of 1932, dynamic column", run),
        ):
            label = f"{quantity}: pot below four plates"
            rows.append(compared(row, f"-R{ratio:g}-{suffix}", label, "", said, ours, allowed))
    return rows


def _product(row: Row) -> list[ValidationRow]:
    given = row["inputs"]
    end = _staircase(ETHANOL, 4.0, given["xD"], 5)
    ours = given["S1"] * (given["x0"] - end) / (given["xD"] - end)
    quantity = "on the table of 1932: distillate"
    return [compared(row, "-own", quantity, "kmol", row["value"], ours, row["tolerance"])]


CASES: dict[str, Callable[[Row], list[ValidationRow]]] = {
    "G5-003": _constant_alpha,
    "G5-006": _perry,
    "G5-009": _stepping,
    "G5-010": _product,
    "G5-016": _head_range,
    "G5-019": _wankat,
}


@cache
def _compared() -> list[ValidationRow]:
    published = published_rows("worked_examples.json")
    return [row for key, case in CASES.items() for row in case(published[key])]


def rows() -> list[ValidationRow]:
    """Return every comparison."""
    return list(_compared())


def test_every_example_is_met_on_the_books_own_equilibrium() -> None:
    missed = [f"{r.id}: published {r.published}, ours {r.ours}" for r in _compared() if not r.met]
    assert not missed, "\n".join(missed)


def test_every_example_is_here_or_met_elsewhere() -> None:
    assert set(CASES) | set(ELSEWHERE) == set(WITH_OUR_EQUILIBRIUM)
