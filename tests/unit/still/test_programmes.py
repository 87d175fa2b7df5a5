"""Programmes cut at their knots are still the programmes; what means nothing is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.still.inputs import (
    BathRule,
    StillInput,
    Stop,
    Switch,
    plates_as_stages,
    whole_plates,
)
from forerun.still.rig import programme_segments
from laws.stills import still

BATH = np.array([[60.0, 300.0], [600.0, 350.0], [600.0, 370.0], [1500.0, 420.0]])
PRESSURE = np.array([[0.0, 101325.0], [900.0, 101325.0], [1800.0, 5e3]])
REFLUX = np.array([[0.0, math.inf], [300.0, math.inf], [300.0, 4.0], [1000.0, 1.0]])
STEAM = np.array([[0.0, 0.0], [450.0, 0.0], [450.0, 2e-4]])


def _run(**changes: object) -> StillInput:
    given = {
        "bath_temperature": BATH,
        "pressure": PRESSURE,
        "reflux_ratio": REFLUX,
        "steam": STEAM,
        "stop": Stop(time_s=2000.0),
        **changes,
    }
    return still([340.0, 365.0], **given)


def _at(programme: np.ndarray, time: float) -> float:
    """Return a programme's value just after a time, by the rule in `StillInput`."""
    return float(np.interp(time + 1e-7, programme[:, 0] + 1e-9 * np.arange(len(programme)),
                           programme[:, 1]))  # fmt: skip


def test_the_pieces_are_the_programmes() -> None:
    times, start, slope = programme_segments(_run())
    share = np.column_stack([REFLUX[:, 0], 1.0 - 1.0 / (1.0 + REFLUX[:, 1])])
    for time in (*times[:-1], 30.0, 450.1, 777.7, 1234.5, 1999.0):
        g = int(np.searchsorted(times, time, side="right")) - 1
        found = start[g] + slope[g] * (time - times[g])
        for value, programme in zip(found, (BATH, PRESSURE, share, STEAM), strict=True):
            assert value == pytest.approx(_at(programme, float(time)), rel=1e-6, abs=1e-9)


def test_pieces_end_at_every_knot_and_change_of_receiver_inside_the_run() -> None:
    switches = (
        Switch(time_s=1234.0),
        Switch(time_s=2000.0),
        Switch(time_s=3000.0),
        Switch(time_s=0.0),
        Switch(volume_m3=1e-6),
    )
    times, start, slope = programme_segments(_run(switches=switches))
    knots = [0.0, 60.0, 300.0, 450.0, 600.0, 900.0, 1000.0, 1234.0, 1500.0, 1800.0, 2000.0]
    assert times.tolist() == knots
    assert start.shape == slope.shape == (len(knots) - 1, 4)
    early = programme_segments(_run(stop=Stop(time_s=500.0)))[0]
    assert early.tolist() == [0.0, 60.0, 300.0, 450.0, 500.0]


@pytest.mark.parametrize(
    ("field", "name", "rows"),
    [
        ("bath_temperature", "programme.bath", [[0.0, 0.0]]),
        ("bath_temperature", "programme.bath", [[0.0, math.nan]]),
        ("bath_temperature", "programme.bath", [[math.nan, 300.0]]),
        ("bath_temperature", "programme.bath", [[0.0, 300.0], [math.inf, 310.0]]),
        ("pressure", "programme.pressure", [[0.0, 0.0]]),
        ("pressure", "programme.pressure", [[10.0, 1e5], [5.0, 1e5]]),
        ("reflux_ratio", "programme.reflux_ratio", [[0.0, -0.1]]),
        ("steam", "programme.steam", [[0.0, -1e-9]]),
    ],
)
def test_what_means_nothing_is_refused_by_its_name(
    field: str, name: str, rows: list[list[float]]
) -> None:
    with pytest.raises(BadInput) as told:
        programme_segments(_run(**{field: np.array(rows)}))
    assert told.value.field == name


def test_no_reflux_no_steam_and_steps_are_programmes() -> None:
    times, start, slope = programme_segments(
        _run(
            bath_temperature=np.array([[0.0, 300.0], [0.0, 320.0]]),
            pressure=np.array([[0.0, 1e5]]),
            reflux_ratio=np.array([[0.0, 0.0]]),
            steam=np.array([[0.0, 0.0]]),
        )
    )
    assert times.tolist() == [0.0, 2000.0]
    assert start.tolist() == [[320.0, 1e5, 0.0, 0.0]]
    assert slope.tolist() == [[0.0] * 4]


@pytest.mark.parametrize(
    ("plates", "stages", "carried"),
    [
        (0.0, 0, 0.0),
        (0.0499, 0, 0.0),
        (0.05, 1, 19.0),
        (1.0, 1, 0.0),
        (1.25, 2, 0.6),
        (100.0, 100, 0.0),
    ],
)
def test_stages_work_at_plates_over_stages(plates: float, stages: int, carried: float) -> None:
    """Murphree 1/(1 + e) = plates/stages (Lewis 1936)."""
    found, e = plates_as_stages(plates)
    assert found == stages
    assert e == pytest.approx(carried, rel=1e-9, abs=1e-12)
    if stages:
        assert found / (1.0 + e) == pytest.approx(plates, rel=1e-9)


@pytest.mark.parametrize("plates", [-0.01, 100.01, math.nan, math.inf])
def test_what_is_no_number_of_plates_is_refused(plates: float) -> None:
    for reads in (plates_as_stages, whole_plates):
        with pytest.raises(BadInput, match=r"rig\.plates"):
            reads(plates)


def test_half_a_plate_is_rounded_up() -> None:
    assert whole_plates(100.0) == (100, None)
    assert whole_plates(0.0) == (0, None)
    assert whole_plates(2.5)[0] == 3
    assert whole_plates(2.49)[0] == 2
    assert whole_plates(2.0) == (2, None)


def test_rounding_noise_makes_no_plate() -> None:
    assert plates_as_stages(3.0 + 1e-10)[0] == 3
    assert plates_as_stages(3.0 + 1e-10)[1] == 0.0
    assert plates_as_stages(3.0 + 1e-6)[0] == 4


def test_a_rule_and_a_switch_have_one_condition() -> None:
    for many in (
        {},
        {"drop_rate_m3_s": 1e-8, "above_pot_K": 3.0},
        {"above_head_K": 2.0, "above_pot_K": 3.0},
    ):
        with pytest.raises(BadInput, match="exactly one"):
            BathRule(**many)
    with pytest.raises(BadInput, match="exactly one"):
        Switch()
    assert Switch(head_temperature_K=300.0).time_s is None
    assert BathRule(above_pot_K=3.0).highest_K == math.inf


def test_what_is_kept_of_a_programme_is_not_taken_for_another() -> None:
    bath = BATH.copy()
    first = programme_segments(_run(bath_temperature=bath))
    bath[:, 1] += 5.0  # the same array with other values in it
    times, start, slope = programme_segments(_run(bath_temperature=bath))
    np.testing.assert_allclose(start[:, 0], first[1][:, 0] + 5.0)
    np.testing.assert_array_equal(start[:, 1:], first[1][:, 1:])
    np.testing.assert_allclose(slope, first[2], atol=1e-12)
    start[:] = slope[:] = times[:] = 0.0  # what was given away is the caller's
    again = programme_segments(_run())
    for one, other in zip(first, again, strict=True):
        np.testing.assert_array_equal(one, other)
