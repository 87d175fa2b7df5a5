"""Moles and energy close, whatever is done to the still."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from forerun.still.inputs import StillInput, Stop, Switch
from forerun.still.run import prepare, run_still, solve
from laws.stills import WITHOUT_LOSS, still

CLOSES = 1e-9

ROUGH = still(
    [330.0, 350.0, 375.0],
    plates=4,
    bath_temperature=np.array([[0.0, 293.15], [900.0, 390.0], [2000.0, 390.0], [2000.0, 400.0]]),
    pressure=np.array([[0.0, 101325.0], [1500.0, 101325.0], [2500.0, 40e3]]),
    reflux_ratio=np.array([[0.0, math.inf], [1500.0, math.inf], [1500.0, 2.0], [4000.0, 5.0]]),
    switches=(Switch(time_s=1800.0), Switch(head_temperature_K=335.0), Switch(volume_m3=4e-5)),
    pressure_drop_Pa=30.0,
)


@pytest.mark.parametrize(
    "run",
    [
        still([340.0, 365.0]),
        still([330.0, 350.0, 375.0], plates=6, reflux_ratio=np.array([[0.0, 2.0]])),
        still([340.0, 365.0], condenser_limit_W=15.0),
        ROUGH,
    ],
    ids=["simple", "column", "vented", "rough"],
)
def test_moles_and_energy_close(run: StillInput) -> None:
    result = run_still(run)
    assert result.ledger.closure <= CLOSES
    assert result.energy.closure <= CLOSES
    total = (
        result.ledger.cuts_mol
        + result.ledger.residue_mol
        + result.ledger.holdup_mol
        + result.ledger.vent_mol
    )
    assert total == pytest.approx(run.charge_mol, rel=CLOSES)
    cuts = sum(cut.amount_mol * np.nan_to_num(cut.mole_fraction) for cut in result.cuts)
    assert cuts == pytest.approx(result.ledger.cuts_mol, rel=CLOSES)


def test_a_small_condenser_lets_vapour_pass_and_says_so() -> None:
    result = run_still(still([340.0, 365.0], condenser_limit_W=15.0))
    assert result.ledger.vent_mol.sum() > 0.05
    assert any("condenser cannot hold" in sentence for sentence in result.warnings)


def test_heat_supplied_is_what_boils_and_what_is_lost() -> None:
    """Independent of the accounts: condenser heat from the moles received and latent heats."""
    run = still([340.0, 365.0], pot_loss_W_K=0.0, head_loss_W_K=0.0, column_loss_W_K=0.0)
    result = run_still(run)
    received = result.ledger.cuts_mol.sum()
    # 32 kJ/mol of latent heat and about 70 K of cooling from the vapour to the coolant
    assert 32e3 * received < result.energy.condenser_J < (32e3 + 80.0 * 220.0) * received


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    shares=st.lists(st.floats(1e-6, 1.0), min_size=2, max_size=3),
    plates=st.integers(0, 5),
    reflux=st.floats(0.0, 20.0),
    bath=st.floats(330.0, 470.0),
    pressure=st.floats(2e3, 1.2e5),
    loss=st.floats(0.0, 1.0),
)
def test_no_moles_are_negative_and_the_accounts_close(
    shares: list[float], plates: int, reflux: float, bath: float, pressure: float, loss: float
) -> None:
    boiling = [335.0, 352.0, 380.0][: len(shares)]
    run = still(
        boiling,
        plates=plates,
        charge_mol=np.array(shares),
        reflux_ratio=np.array([[0.0, reflux]]),
        bath_temperature=np.array([[0.0, 293.15], [600.0, bath]]),
        pressure=np.array([[0.0, pressure]]),
        column_loss_W_K=loss,
        stop=Stop(time_s=3600.0),
    )
    result = run_still(run)
    charge = run.charge_mol.sum()
    for moles in (result.ledger.cuts_mol, result.ledger.residue_mol, result.ledger.holdup_mol):
        assert np.all(moles >= -1e-7 * charge)
    assert result.ledger.closure <= CLOSES
    assert result.energy.closure <= CLOSES
    assert np.all(np.isfinite(result.trace.head_temperature_K))


def test_dry_out_ends_cleanly() -> None:
    run = still(
        [340.0, 365.0],
        **WITHOUT_LOSS,
        stop=Stop(time_s=20000.0),
        bath_temperature=np.array([[0.0, 430.0]]),
    )
    outcome = solve(prepare(run))
    result = run_still(run)
    assert np.all(np.isfinite(outcome.state))
    assert result.trace.time_s[-1] < 20000.0
    assert any("runs dry" in sentence for sentence in result.warnings)
    assert result.ledger.closure <= CLOSES
    assert result.residue.volume_m3 == pytest.approx(2e-3 * 1.15e-4, rel=1e-2)


def test_cool_and_reheat() -> None:
    """A pause with the bath at room temperature changes nothing in pot and receiver."""
    bath = np.array([[0, 385.0], [1500, 385], [1500, 293.15], [5400, 293.15], [5400, 390.0]])
    result = run_still(still([340.0, 365.0], bath_temperature=bath, stop=Stop(time_s=8000.0)))
    trace = result.trace
    pause = (trace.time_s > 2500.0) & (trace.time_s < 5400.0)
    volume = trace.distillate_volume_m3
    assert np.ptp(volume[pause]) < 1e-12
    assert volume[pause][0] > 5e-6
    assert volume[-1] > volume[pause][0] + 5e-6
    assert np.ptp(trace.pot_mole_fraction[pause, 0]) < 1e-6
    assert trace.pot_temperature_K[pause][-1] < 300.0
    assert result.ledger.closure <= CLOSES
    assert result.energy.closure <= CLOSES


def test_nothing_comes_over_is_a_result() -> None:
    result = run_still(still([340.0, 365.0], bath_temperature=np.array([[0.0, 330.0]])))
    assert result.first_drop_s is None
    assert result.cuts == ()
    assert any("Nothing comes over: the pot reaches" in sentence for sentence in result.warnings)
    assert result.ledger.residue_mol == pytest.approx([0.5, 0.5], rel=1e-3)
