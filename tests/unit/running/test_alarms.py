"""Alarms: each from the readings that must raise it, and none from a quiet bench."""

from __future__ import annotations

import math
from typing import Any

import pytest

from forerun.records.readings import Reading
from forerun.running.alarm_limits import limits_of
from forerun.running.alarms import GATES, Alarm, alarms_of, not_judged, residue_of
from forerun.running.recent import Recent
from forerun.sheets.resolving import load

SHEET: dict[str, Any] = {
    "charge": [
        {"substance": "acetone", "amount": "50 mL"},
        {"substance": "toluene", "amount": "50 mL"},
    ],
    "rig": {"plates": 2, "holdup": "2 mL", "bath": "silicone oil"},
}
LIMITS = limits_of(load(SHEET))


def _recent(*rows: Reading) -> Recent:
    recent = Recent()
    for row in rows:
        recent.add([row], row.time_s)
    return recent


def _log(count: int, every: float = 10.0, **channels: Any) -> list[Reading]:
    """Return readings of a device; a channel is a number or a function of the time."""
    rows = []
    for k in range(count):
        values = {n: v(every * k) if callable(v) else v for n, v in channels.items()}
        rows.append(Reading(every * k, origin="device", **values))
    return rows


def _gates(rows: list[Reading], limits: Any = LIMITS) -> dict[str, Alarm]:
    now = rows[-1].time_s + 1.0
    return {alarm.gate: alarm for alarm in alarms_of(limits, _recent(*rows), now)}


def test_a_quiet_bench_raises_nothing() -> None:
    rows = _log(
        120, head_K=329.0, pot_K=340.0, bath_K=360.0, pressure_Pa=101325.0,
        distillate_m3=lambda t: 30e-9 * t,
    )  # fmt: skip
    assert _gates(rows) == {}


@pytest.mark.parametrize(
    ("left_mL", "state"), [(40.0, None), (12.3, "warn"), (10.5, "stop"), (0.0, "stop")]
)
def test_dryness_warns_then_stops(left_mL: float, state: str | None) -> None:
    found = _gates(_log(60, distillate_m3=(98.0 - left_mL) * 1e-6)).get("dryness")
    assert (found.state if found else None) == state
    if found:
        assert "heat" in found.caution
        assert "10.0" in found.text


def test_dryness_is_foreseen_by_the_rate() -> None:
    rate = 3e-6 / 60.0
    rows = _log(90, distillate_m3=lambda t: 30e-6 + rate * t)
    found = _gates(rows)["dryness"]
    assert found.state == "warn"
    assert "min" in found.text


def test_a_peroxide_former_keeps_a_fifth_and_is_named() -> None:
    sheet = {**SHEET, "charge": [{"substance": "diethyl ether", "amount": "100 mL"}]}
    limits = limits_of(load(sheet))
    assert limits.floor_m3 == pytest.approx(20e-6, rel=1e-3)
    found = _gates(_log(60, distillate_m3=78e-6), limits)["dryness"]
    assert found.state == "stop"
    assert "diethyl ether" in found.caution


def test_a_reason_given_for_a_lower_floor_counts() -> None:
    reason = {
        "safety": {"override": [{"gate": "dryness", "reason": "a calibration, watched throughout"}]}
    }
    stop = {"programme": {"stop": {"residue": "4 mL"}}}
    limits = limits_of(load({**SHEET, **reason, **stop}))
    assert limits.floor_m3 == pytest.approx(4e-6)


def test_mass_serves_as_well_as_volume() -> None:
    kg = 90e-6 * LIMITS.density
    assert _gates(_log(60, distillate_kg=kg))["dryness"].state == "stop"
    recent = _recent(*_log(60, distillate_kg=kg))
    assert residue_of(LIMITS, recent) == pytest.approx(8e-6, rel=1e-6)
    assert residue_of(LIMITS, Recent()) is None


def test_pressure_that_rises_warns_and_with_a_hotter_pot_stops() -> None:
    sheet = {**SHEET, "programme": {"pressure": "100 mbar"}}
    limits = limits_of(load(sheet))

    def pressure(t: float) -> float:
        return 10000.0 + (0.0 if t < 600.0 else 6.0 * (t - 600.0))

    rows = _log(90, pressure_Pa=pressure, pot_K=330.0)
    assert _gates(rows, limits)["pressure_gas"].state == "warn"
    hotter = _log(90, pressure_Pa=pressure, pot_K=lambda t: 330.0 + max(t - 600.0, 0.0) / 60.0)
    found = _gates(hotter, limits)["pressure_gas"]
    assert found.state == "stop"
    assert found.caution.startswith("Cool, shield, stop")


def test_pumping_down_is_no_rise() -> None:
    limits = limits_of(load({**SHEET, "programme": {"pressure": "100 mbar"}}))
    falling = _log(60, pressure_Pa=lambda t: 101325.0 * math.exp(-t / 300.0) + 10000.0)
    assert "pressure_gas" not in _gates(falling, limits)


def test_a_closed_apparatus_stops_at_once() -> None:
    found = _gates(_log(3, pressure_Pa=115e3))["pressure_gas"]
    assert found.state == "stop"
    assert "closed" in found.text


def test_a_plug_is_suspected_where_something_can_freeze() -> None:
    sheet = {
        "charge": [
            {"substance": "cyclohexane", "amount": "50 mL"},
            {"substance": "toluene", "amount": "50 mL"},
        ],
        "rig": {"coolant": "5 °C"},
    }
    limits = limits_of(load(sheet))

    def stalls(t: float) -> float:
        return 30e-9 * min(t, 700.0)

    stalled = _log(90, distillate_m3=stalls, bath_K=380.0)
    found = _gates(stalled, limits)["solid_plug"]
    assert found.state == "warn"
    assert "cyclohexane" in found.text
    pressed = _log(90, distillate_m3=stalls, pressure_Pa=lambda t: 101325 + max(t - 700, 0.0))
    assert _gates(pressed, limits)["solid_plug"].state == "stop"
    assert "solid_plug" not in _gates(stalled, LIMITS)
    cooled = _log(90, distillate_m3=stalls, bath_K=lambda t: 380.0 - 0.05 * max(t - 600, 0.0))
    assert "solid_plug" not in _gates(cooled, limits)


@pytest.mark.parametrize(("bath_C", "state"), [(200.0, None), (206.0, "warn"), (211.0, "stop")])
def test_the_bath_has_a_limit(bath_C: float, state: str | None) -> None:
    found = _gates(_log(10, bath_K=273.15 + bath_C)).get("bath")
    assert (found.state if found else None) == state


def test_a_device_that_says_300_degrees_once_raises_nothing() -> None:
    rows = [*_log(30, every=1.0, bath_K=360.0), Reading(30.0, bath_K=573.0, origin="device")]
    assert _gates(rows) == {}
    again = [*rows, Reading(31.0, bath_K=573.0, origin="device")]
    assert _gates(again)["bath"].state == "stop"


def test_a_person_who_types_300_degrees_is_believed() -> None:
    rows = [Reading(0.0, bath_K=360.0), Reading(300.0, bath_K=573.0)]
    assert _gates(rows)["bath"].state == "stop"


def test_a_pot_that_outruns_its_bath_stops() -> None:
    rows = _log(30, pot_K=lambda t: 350.0 + t / 20.0, bath_K=355.0)
    found = _gates(rows)["exotherm"]
    assert found.state == "stop"
    assert "exotherm" not in _gates(_log(30, pot_K=365.0, bath_K=355.0))  # cooling bath


def test_a_silent_device_is_said_and_a_silent_person_is_not() -> None:
    recent = _recent(*_log(20, every=2.0, head_K=330.0))
    assert alarms_of(LIMITS, recent, 90.0) == ()
    (alarm,) = alarms_of(LIMITS, recent, 101.0)
    assert (alarm.gate, alarm.state) == ("stale", "warn")
    assert "device" in alarm.text
    typed = _recent(*[Reading(240.0 * k, head_K=330.0) for k in range(8)])
    assert alarms_of(LIMITS, typed, 4000.0) == ()


def test_without_a_sheet_only_silence_is_judged() -> None:
    recent = _recent(*_log(20, every=2.0, bath_K=700.0))
    assert [a.gate for a in alarms_of(None, recent, 200.0)] == ["stale"]
    assert set(not_judged(None, recent.newest)) == set(GATES) - {"stale"}


def test_an_alarm_keeps_its_name_until_it_turns_to_stop_or_has_gone() -> None:
    warm, hot = _recent(Reading(0.0, bath_K=479.5)), _recent(Reading(0.0, bath_K=490.0))
    cool = _recent(Reading(0.0, bath_K=400.0))
    first = alarms_of(LIMITS, warm, 10.0)
    assert alarms_of(LIMITS, warm, 20.0, first)[0].id == first[0].id
    worse = alarms_of(LIMITS, hot, 30.0, first)
    assert worse[0].id != first[0].id
    assert alarms_of(LIMITS, warm, 40.0, worse)[0].state == "stop"  # not milder at once
    assert alarms_of(LIMITS, cool, 50.0, worse)[0].id == worse[0].id
    assert alarms_of(LIMITS, cool, 70.0, worse) == ()
    assert alarms_of(LIMITS, warm, 90.0, worse)[0].state == "warn"


def test_stop_stands_before_warn() -> None:
    rows = _log(60, distillate_m3=92e-6, bath_K=479.5)
    now = rows[-1].time_s + 1.0
    assert [a.state for a in alarms_of(LIMITS, _recent(*rows), now)] == ["stop", "warn"]


def test_what_cannot_be_judged_is_named() -> None:
    assert not_judged(LIMITS, ()) == {
        "exotherm": "the pot's temperature and the bath's temperature",
        "pressure_gas": "the pressure",
        "dryness": "the distillate",
        "bath": "the bath's temperature",
    }
    assert "bath" not in not_judged(LIMITS, {"bath_K"})
