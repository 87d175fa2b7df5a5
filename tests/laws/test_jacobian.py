"""The derivatives that the integrator steps by are those of the balances, in every kind of run."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest

from forerun.sheets.resolving import load
from forerun.still.balances import THERMOMETER
from forerun.still.crosscheck import Equations
from forerun.still.from_sheet import prepare as from_sheet
from forerun.still.inputs import StillInput, Stop
from forerun.still.run import prepare, solve

Floats = npt.NDArray[np.float64]
RAMP = [["0 min", "25 °C"], ["20 min", "150 °C"]]
CASES: dict[str, dict[str, Any]] = {
    "an acid and water": {"charge": {"acetic acid": "50 mL", "water": "50 mL"}},
    "an acid between two others": {
        "charge": {"toluene": "50 mL", "acetic acid": "50 mL", "hexane": "20 mL"},
        "rig": {"plates": 3},
    },
    "two acids": {"charge": {"formic acid": "50 mL", "acetic acid": "50 mL"}},
    "a loaded column": {
        "charge": {"cyclohexane": "50 mL", "toluene": "50 mL"},
        "rig": {"column": "Vigreux 30 cm"},
        "programme": {"reflux_ratio": 3, "bath": RAMP},
    },
    "two liquids": {"charge": {"1-butanol": "50 mL", "water": "60 mL"}},
    "two liquids that hardly dissolve": {"charge": {"hexane": "60 mL", "water": "60 mL"}},
    "a little oil on much water": {"charge": {"toluene": "1 mL", "water": "60 mL"}},
    "what does not distil": {
        "charge": {"acetone": "50 mL", "water": "50 mL"},
        "involatile": {"mass": "10 g"},
    },
    "plates that are not whole": {
        "charge": {"methanol": "60 mL", "water": "50 mL"},
        "rig": {"plates": 2.4},
    },
}


def _input(case: dict[str, Any]) -> StillInput:
    sheet = {**case, "charge": [{"substance": s, "amount": a} for s, a in case["charge"].items()]}
    return from_sheet(load(sheet)).still


@pytest.mark.parametrize("name", CASES)
def test_derivatives(name: str) -> None:
    run = _input(CASES[name])
    for time in (600.0, 1500.0, 2400.0, 4000.0, 6000.0):
        case = prepare(replace(run, stop=Stop(time_s=time)))
        outcome = solve(case)
        if name == "a loaded column":
            case.rig.carried[1:-1], case.rig.drain[1:-1] = 0.7, 0.4
        equations = Equations(case)
        accounts = outcome.state[equations.states :]
        kept = [*range(equations.components), 2 * equations.components + THERMOMETER]
        y = np.concatenate([outcome.state[: equations.states], accounts[kept]])
        exact = equations.dense(time, y, 0)
        # no step suits every state: rounding spoils the small one, a trace the large one
        missed = np.minimum.reduce(
            [_missed(equations, y, time, exact, least) for least in (1e-4, 1e-6, 1e-8)]
        )
        scale = np.abs(exact).max(axis=0) + 1e-6
        assert np.max(missed / scale) < 1e-3  # a kink where nothing of a component is left


def _missed(equations: Equations, y: Floats, time: float, exact: Floats, least: float) -> Floats:
    missed = np.zeros_like(exact)
    for k in range(y.size):
        step = 1e-6 * max(abs(y[k]), least)
        up, down = y.copy(), y.copy()
        up[k] += step
        # less than nothing of a component is another law, and nothing is left as 1e-22 mol of
        # either sign by rounding
        if not abs(y[k]) < step:
            down[k] -= step
        slope = equations.rates(time, up, 0) - equations.rates(time, down, 0)
        missed[:, k] = np.abs(slope / (up[k] - down[k]) - exact[:, k])
    return missed
