"""Random sheets: accounts close, nothing is negative, and another solver finds the same head.

The everyday run looks at a few; `python3 dev.py proofs` asks for a thousand.
"""

from __future__ import annotations

import os
from dataclasses import replace
from functools import cache
from itertools import combinations
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.kernels import bubble_pressure
from forerun.equilibrium.mixture import mixture_of
from forerun.still.crosscheck import integrate
from forerun.still.from_sheet_special import splits
from forerun.still.inputs import StillInput, Stop, Switch, plates_as_stages
from forerun.still.run import prepare, run_still, solve
from forerun.substances.catalogue import find
from forerun.substances.liquids import LiquidArrays, liquid_arrays
from laws.stills import still

Floats = npt.NDArray[np.float64]
SHEETS = int(os.environ.get("FORERUN_SHEETS", "200"))
CHECKED = 24  # against another solver
CLOSES = 1e-9
ROOM = 293.15  # K
MOLAR_VOLUME = 1e-4  # m3/mol, of common liquids
POOL = ("acetone", "methanol", "hexane", "ethyl acetate", "ethanol", "water", "toluene")


@cache
def _liquids(names: tuple[str, ...]) -> tuple[MixtureArrays, LiquidArrays]:
    substances = [find(name) for name in names]
    return mixture_of(substances).arrays, liquid_arrays(substances)


@cache
def _part(names: tuple[str, ...]) -> bool:
    return splits(mixture_of([find(name) for name in names]), ROOM)


def _pressure_over(charge: Floats, mixture: MixtureArrays) -> float:
    share = charge / charge.sum()
    return bubble_pressure(ROOM, share, mixture, scratch_for(mixture), share.copy())


@st.composite
def sheets(draw: Any) -> StillInput:
    """Draw a run: liquids, glass and programme of a bench."""
    names = tuple(draw(st.lists(st.sampled_from(POOL), min_size=2, max_size=3, unique=True)))
    parting = any(_part(pair) for pair in combinations(names, 2))
    # two liquids are followed for a pair; nothing is claimed for more
    assume(not parting or len(names) == 2)
    plates, carried = plates_as_stages(draw(st.sampled_from([0.0, 0.0, 1.0, 2.4, 4.0])))
    mixture, liquids = _liquids(names)
    pressure = draw(st.sampled_from([101325.0, 40e3, 8e3]))
    charge = np.array([draw(st.floats(0.02, 1.0)) for _ in names])
    # a charge that boils before it is heated may be refused, in words
    assume(_pressure_over(charge, mixture) < pressure)
    # steam into two liquids below plates may be refused, in words
    led_in = draw(st.sampled_from([0.0] if parting and plates else [0.0, 2e-4]))
    warm = draw(st.floats(900.0, 2400.0))
    hot = draw(st.floats(340.0, 440.0))
    return replace(
        still([340.0, 350.0]),
        names=names,
        mixture=mixture,
        liquids=liquids,
        charge_mol=charge,
        plates=plates,
        carried=carried,
        carried_at_largest=draw(st.sampled_from([0.0, 0.5])),
        holdup_m3=plates * draw(st.floats(3e-7, 1.5e-6)),
        pressure=np.array([[0.0, pressure], [warm, pressure], [2.0 * warm, 0.8 * pressure]]),
        pressure_drop_Pa=draw(st.floats(0.0, 60.0)),
        largest_load_m3_s=draw(st.sampled_from([np.inf, 2e-7, 5e-8])),
        reflux_ratio=np.array([[0.0, draw(st.floats(0.0, 10.0))]]),
        bath_temperature=np.array([[0.0, 293.15], [warm, hot], [5400.0, hot + 30.0]]),
        bath_conductance_W_K=draw(st.floats(0.5, 3.0)),
        column_loss_W_K=draw(st.floats(0.0, 0.5)),
        condenser_limit_W=draw(st.sampled_from([np.inf, 30.0])),
        pump_speed_m3_s=draw(st.sampled_from([0.0, 1e-3])),
        diluent_mol=draw(st.sampled_from([0.0, 0.05])),
        two_liquids=parting,
        steam=np.array([[0.0, 0.0], [warm, 0.0], [warm, led_in]]),
        steam_component=names.index("water") if "water" in names else 0,
        switches=(Switch(volume_m3=5e-6),),
        stop=Stop(time_s=5400.0, residue_m3=2e-6),
    )


@settings(
    max_examples=SHEETS,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(run=sheets())
def test_accounts_close_and_nothing_is_negative(run: StillInput) -> None:
    result = run_still(run)
    charge = run.charge_mol.sum()
    ledger = result.ledger
    assert ledger.closure <= CLOSES
    assert result.energy.closure <= CLOSES
    for moles in (ledger.residue_mol, ledger.holdup_mol):
        assert np.all(moles >= -1e-6 * charge)
    # a receiver is a sum of streams with kinks: a step may put a little to the wrong one
    assert np.all(ledger.cuts_mol >= -10.0 * run.tolerance * charge)
    assert np.all(ledger.vent_mol >= 0.0)
    assert np.all(np.isfinite(result.trace.head_temperature_K))
    # between steps the trace is interpolated, which may overshoot at a kink
    least = -5.0 * run.tolerance * MOLAR_VOLUME * charge
    assert np.all(np.diff(result.trace.distillate_volume_m3) >= least)


@settings(
    max_examples=CHECKED,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(run=sheets())
def test_an_independent_solver_agrees(run: StillInput) -> None:
    """LSODA on the same balances; pressure drop and pump as they are without a load."""
    plain = replace(
        run,
        largest_load_m3_s=np.inf,
        pump_speed_m3_s=0.0,
        switches=(),
        tolerance=1e-5,
        stop=Stop(time_s=2500.0),
    )
    case = prepare(plain)
    outcome = solve(case)
    end = float(outcome.record.numbers[5])
    times = np.arange(0.0, end, 10.0)
    rows = outcome.record.trace[: int(outcome.record.numbers[0])]
    mine = np.interp(times, rows[:, 0], rows[:, 1])
    theirs, _ = integrate(case, times, "LSODA", rtol=1e-7, atol=1e-11)
    miss = mine - theirs
    assert float(np.sqrt(np.mean(miss**2))) < 0.01
    assert float(np.abs(miss).max()) == pytest.approx(0.0, abs=0.1)


def test_a_charge_that_boils_in_the_cold_boils_by_its_own_heat() -> None:
    mixture, liquids = _liquids(("hexane", "water"))
    run = replace(
        still([340.0, 350.0]),
        names=("hexane", "water"),
        mixture=mixture,
        liquids=liquids,
        charge_mol=np.array([0.6, 0.4]),
        pressure=np.array([[0.0, 8e3]]),
        two_liquids=True,
    )
    result = run_still(run)
    assert result.ledger.closure <= CLOSES
    assert result.energy.closure <= CLOSES
    assert result.first_drop_s is not None
    assert result.first_drop_s < 60.0
    assert result.trace.pot_temperature_K[1] < ROOM - 10.0
