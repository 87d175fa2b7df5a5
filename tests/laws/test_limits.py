"""Limits with exact answers: Rayleigh without plates, Fenske at total reflux."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from forerun.equilibrium.arrays import scratch_for
from forerun.equilibrium.kernels import bubble_pressure
from forerun.equilibrium.mixture import mixture_of
from forerun.still.inputs import StillInput, Stop
from forerun.still.run import prepare, run_still, solve
from forerun.substances.catalogue import find
from forerun.substances.liquids import liquid_arrays
from laws.stills import WITHOUT_LOSS, still, volatility


def test_rayleigh_with_constant_volatility() -> None:
    """ln(n1/n1_0) = alpha ln(n2/n2_0), whatever the temperature (Rayleigh 1902)."""
    boiling = [340.0, 365.0]
    run = still(boiling, **WITHOUT_LOSS, tolerance=1e-6, stop=Stop(9000.0, residue_m3=8e-6))
    left = run_still(run).ledger.residue_mol / run.charge_mol
    assert left.sum() / 2 < 0.2
    assert math.log(left[0]) == pytest.approx(volatility(boiling) * math.log(left[1]), abs=5e-5)


def _rayleigh(run: StillInput, pressure: float, ln_left: float) -> float:
    """Return ln(n2/n2_0) when ln(n1/n1_0) has reached a value, by boiling points at a pressure."""
    scratch, y = scratch_for(run.mixture), np.zeros(2)

    def over(temperature: float, x: np.ndarray) -> float:
        return bubble_pressure(temperature, x, run.mixture, scratch, y) - pressure

    def slope(_: float, ln_n: np.ndarray) -> list[float]:
        n = np.exp(ln_n) * run.charge_mol
        x = n / n.sum()
        over(brentq(over, 250.0, 450.0, args=(x,), xtol=1e-10), x)
        return [1.0, y[1] * x[0] / (x[1] * y[0])]

    found = solve_ivp(slope, (0.0, ln_left), [0.0, 0.0], rtol=1e-9, atol=1e-11)
    return float(found.y[1, -1])


def test_rayleigh_of_methanol_and_water() -> None:
    """The real mixture, within 5e-4 in ln n; the rest is the overpressure that drives the vapour.

    At the pressure that the pot really has (2e-4 above that of the head here) the miss is far
    smaller, so nothing else is hidden in it.
    """
    substances = [find("methanol"), find("water")]
    run = replace(
        still([340.0, 365.0], **WITHOUT_LOSS, tolerance=1e-6),
        names=("methanol", "water"),
        mixture=mixture_of(substances).arrays,
        liquids=liquid_arrays(substances),
        charge_mol=np.array([1.0, 1.0]),
        stop=Stop(9000.0, residue_m3=12e-6),
        bath_temperature=np.array([[0.0, 293.15], [1200.0, 380.0], [9000.0, 420.0]]),
    )
    outcome = solve(prepare(run))
    left = np.log(run_still(run).ledger.residue_mol / run.charge_mol)
    assert left[0] < -2.0
    miss = _rayleigh(run, 101325.0, left[0]) - left[1]
    assert abs(miss) <= 5e-4
    rate = run_still(run).trace.boilup_rate_mol_s
    rig = outcome.case.rig
    excess = np.median(rate[rate > 0.0]) / rig.vapour_rate[0] - rig.centre
    assert abs(_rayleigh(run, 101325.0 * (1.0 + excess), left[0]) - left[1]) <= 1e-4


@pytest.mark.parametrize("losses", [WITHOUT_LOSS, {"head_loss_W_K": 0.0, "head_glass_J_K": 5.0}])
def test_fenske_at_total_reflux(losses: dict[str, float]) -> None:
    """At total reflux the ratio rises by alpha on every stage: pot and N plates give alpha^(N+1).

    Exact in this formulation once it is steady, since then what rises from a stage is what runs
    down to it, component by component, so that a loss of the column does not matter.  What the
    head passes on is the same but for the trace that runs back from its wall (Fenske 1932,
    Ind. Eng. Chem. 24, 482, doi:10.1021/ie50269a003).
    """
    boiling, plates = [340.0, 352.0], 5
    run = still(
        boiling,
        plates=plates,
        **losses,
        reflux_ratio=np.array([[0.0, math.inf]]),
        bath_temperature=np.array([[0.0, 380.0]]),
        stop=Stop(time_s=40000.0),
    )
    outcome = solve(prepare(run))
    z = outcome.state[: (plates + 2) * 3].reshape(plates + 2, 3)
    ratio = z[:, 0] / z[:, 1]
    alpha = volatility(boiling)
    # the vapour of the highest plate is richer than its liquid by one alpha more
    assert alpha * ratio[plates] / ratio[0] == pytest.approx(alpha ** (plates + 1), rel=1e-9)
    top = run_still(run).trace.distillate_mole_fraction[-1]
    assert top[0] / top[1] / ratio[0] == pytest.approx(alpha ** (plates + 1), rel=1e-4)
    assert run_still(run).ledger.cuts_mol.sum() == 0.0
