"""A run that does not arrive says what may help; members that fail leave the others alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forerun.core.errors import CalculationFailed
from forerun.equilibrium.mixture import mixture_of
from forerun.still import inside as inside_module
from forerun.still import run as run_module
from forerun.still.engine import FAILED
from forerun.still.inputs import StillInput, Stop
from forerun.still.results import Run
from forerun.still.run import prepare, run_members, run_still, solve
from forerun.substances.catalogue import find
from forerun.substances.liquids import liquid_arrays
from laws.stills import still


def _of(names: tuple[str, ...], moles: list[float], **changes: object) -> StillInput:
    substances = [find(name) for name in names]
    return replace(
        still([340.0, 365.0]),
        names=names,
        mixture=mixture_of(substances).arrays,
        liquids=liquid_arrays(substances),
        charge_mol=np.array(moles),
        **changes,  # type: ignore[arg-type]  # any field
    )


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch) -> None:
    def stops(*given: object) -> int:
        record = given[-1]
        given[5].temperature[:] = 330.0  # type: ignore[attr-defined]  # K, of all stages
        record.numbers[5], record.numbers[3] = 77.25, 12.0  # type: ignore[attr-defined]
        record.numbers[0] = 1.0  # type: ignore[attr-defined]
        return FAILED

    monkeypatch.setattr(run_module, "advance", stops)
    monkeypatch.setattr(inside_module, "advance", stops)


def _said(run: StillInput) -> CalculationFailed:
    with pytest.raises(CalculationFailed) as told:
        solve(prepare(run))
    return told.value


@pytest.mark.usefixtures("failing")
def test_it_says_where_it_stopped() -> None:
    told = _said(still([340.0, 365.0], plates=2))
    assert "stopped at 77.25 s after 12 steps, 4 stages" in str(told)
    assert "report the run sheet" in told.advice


@pytest.mark.usefixtures("failing")
def test_a_charge_that_boils_at_once_is_told_so() -> None:
    low = np.array([[0.0, 1e3], [600.0, 1e5]])
    for moles in (0.01, 50.0):  # whatever there is of it
        much = np.array([moles, moles])
        assert "boils at" not in _said(still([340.0, 365.0], charge_mol=much)).advice
    assert "boils at the temperature" in _said(still([340.0, 365.0], pressure=low)).advice
    # the pressure at the start counts, not what comes later
    later = np.array([[0.0, 1e5], [600.0, 1e3]])
    assert "boils at" not in _said(still([340.0, 365.0], pressure=later)).advice


@pytest.mark.usefixtures("failing")
def test_two_liquids_get_advice_of_their_own() -> None:
    pair = _of(("toluene", "water"), [0.5, 0.5], two_liquids=True)
    assert "report the run sheet" in _said(pair).advice
    assert "plates of a column" in _said(replace(pair, plates=1)).advice
    # of three only one liquid is followed, and they part
    three = _of(("toluene", "heptane", "water"), [0.3, 0.3, 0.4])
    assert "only one is followed" in _said(three).advice
    mixing = _of(("methanol", "ethanol", "water"), [0.3, 0.3, 0.4])
    assert "report the run sheet" in _said(mixing).advice


@pytest.mark.usefixtures("failing")
def test_what_stands_on_the_stages_fails_with_its_time() -> None:
    with pytest.raises(CalculationFailed, match=r"stopped at 77\.25 s, 2 stages"):
        inside_module.inside_of(still([340.0, 365.0]), np.array([0.0, 60.0]))


@pytest.mark.parametrize("threads", [1, 2])
def test_a_member_that_fails_leaves_the_others_alone(
    threads: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    def one(given: StillInput) -> Run:
        if given.plates == 1:
            raise CalculationFailed("the run", "stopped", "none")
        return run_still(given)

    monkeypatch.setattr(run_module, "run_still", one)
    short = Stop(time_s=100.0)
    members = [still([340.0, 365.0], plates=k, stop=short) for k in range(3)]
    found = run_members(members, threads)
    assert isinstance(found[1], CalculationFailed)
    assert isinstance(found[0], Run)
    assert isinstance(found[2], Run)
    assert found[0].ledger.charge_mol.sum() == pytest.approx(1.0)


def test_a_trace_has_a_line_for_every_interval_and_switch() -> None:
    run = still([340.0, 365.0], stop=Stop(time_s=1000.0), sample_interval_s=7.0)
    times = run_still(run).trace.time_s
    assert times[:-1] == pytest.approx(7.0 * np.arange(143))
    assert times[-1] == 1000.0
    fine = run_still(replace(run, sample_interval_s=0.5)).trace
    assert fine.time_s.size >= 2001


@pytest.mark.usefixtures("failing")
def test_two_layers_that_are_cold_are_not_said_to_boil() -> None:
    """As one liquid, which it is not, the charge would be over its pressure."""
    cold = _of(("chloroform", "water"), [0.12, 5.0], two_liquids=True, plates=6)
    assert "boils" not in str(_said(cold))
    thin = replace(cold, pressure=np.array([[0.0, 15e3]]))
    assert "boils at the temperature and pressure" in str(_said(thin))
