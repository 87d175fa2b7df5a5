"""Programmes, receivers and stops."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.still.inputs import Stop, Switch, whole_plates
from forerun.still.rig import programme_segments, rig_arrays
from forerun.still.run import run_still
from laws.stills import still

BOILING = [340.0, 365.0]


def test_receivers_are_changed_where_they_should_be() -> None:
    run = still(
        BOILING,
        switches=(Switch(time_s=1500.0), Switch(volume_m3=5e-5), Switch(head_temperature_K=357.0)),
        stop=Stop(20000.0, residue_m3=8e-6),
        bath_temperature=np.array([[0.0, 293.15], [1200.0, 385.0], [5400.0, 480.0]]),
    )
    result = run_still(run)
    first, second, third, last = result.cuts
    assert first.end_s == 1500.0
    assert first.volume_m3 + second.volume_m3 == pytest.approx(5e-5, rel=1e-4)
    assert third.end_head_K == pytest.approx(357.0, abs=1e-4)
    assert last.end_s < 20000.0
    assert last.end_s == result.trace.time_s[-1]
    assert result.residue.volume_m3 == pytest.approx(8e-6, rel=1e-4)
    assert [cut.start_s for cut in result.cuts[1:]] == [cut.end_s for cut in result.cuts[:-1]]
    assert result.first_drop_s is not None
    assert 0.0 < result.first_drop_s < 1500.0


def test_a_head_temperature_can_stop_the_run() -> None:
    result = run_still(still(BOILING, stop=Stop(9000.0, head_temperature_K=355.0)))
    assert result.trace.head_temperature_K[-1] == pytest.approx(355.0, abs=1e-4)
    assert result.trace.time_s[-1] < 9000.0


def test_the_holdup_in_operation_is_the_one_asked_for() -> None:
    """Within the swing that a change of the liquid rate is meant to make."""
    run = still(
        BOILING,
        plates=5,
        holdup_m3=5e-6,
        reflux_ratio=np.array([[0.0, 4.0]]),
        stop=Stop(time_s=3000.0),
    )
    result = run_still(run)
    on_plates = result.ledger.holdup_mol @ np.array([1.2e-4, 1.3e-4])
    assert on_plates == pytest.approx(5e-6, rel=0.2)


def test_thermometer_reads_late_and_off() -> None:
    plain = run_still(still(BOILING)).trace
    shifted = run_still(still(BOILING, thermometer_offset_K=1.5)).trace
    n = min(plain.time_s.size, shifted.time_s.size)
    assert shifted.head_temperature_K[: n - 1] - plain.head_temperature_K[: n - 1] == pytest.approx(
        np.full(n - 1, 1.5), abs=1e-9
    )
    slow = run_still(still(BOILING, thermometer_lag_s=120.0)).trace
    warm = np.argmax(plain.head_temperature_K > 340.0)
    assert slow.head_temperature_K[warm] < plain.head_temperature_K[warm] - 5.0


def test_a_step_in_a_programme_is_a_step() -> None:
    run = still(
        BOILING,
        bath_temperature=np.array([[0.0, 300.0], [100.0, 310.0], [100.0, 350.0], [200.0, 340.0]]),
        reflux_ratio=np.array([[0.0, np.inf], [50.0, 1.0]]),
    )
    times, start, slope = programme_segments(run)
    assert times.tolist() == [0.0, 50.0, 100.0, 200.0, 5400.0]
    assert start[:, 0] == pytest.approx([300.0, 305.0, 350.0, 340.0])
    assert slope[:, 0] == pytest.approx([0.1, 0.1, -0.1, 0.0])
    assert start[:2, 2] == pytest.approx([1.0, 0.5])


def test_pressure_falls_along_the_plates() -> None:
    rig = rig_arrays(still(BOILING, plates=3, pressure_drop_Pa=50.0))
    assert rig.extra_pressure.tolist() == [150.0, 100.0, 50.0, 0.0, 0.0]


@pytest.mark.parametrize(
    ("field", "programme"),
    [("bath_temperature", [[0.0, 300.0], [-5.0, 310.0]]), ("pressure", [[0.0, -10.0]])],
)
def test_a_programme_that_means_nothing_is_refused(field: str, programme: list) -> None:
    with pytest.raises(BadInput, match="programme"):
        run_still(replace(still(BOILING), **{field: np.array(programme)}))


def test_plates_are_whole() -> None:
    assert whole_plates(3.0) == (3, None)
    whole, sentence = whole_plates(3.4)
    assert whole == 3
    assert sentence is not None
    assert "3.4 plates" in sentence
    with pytest.raises(BadInput):
        whole_plates(-1.0)


def test_a_switch_has_one_condition() -> None:
    with pytest.raises(BadInput):
        Switch(time_s=3.0, volume_m3=1e-6)


def test_a_switch_already_past_closes_an_empty_receiver() -> None:
    result = run_still(still(BOILING, switches=(Switch(head_temperature_K=280.0),)))
    assert result.cuts[0].volume_m3 == 0.0
    assert np.all(np.isnan(result.cuts[0].mole_fraction))
