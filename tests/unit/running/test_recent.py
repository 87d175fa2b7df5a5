"""The last minutes of a run: the same whatever the order, lone jumps out, quick senders thinned."""

from __future__ import annotations

import math
import tracemalloc
from dataclasses import replace

import numpy as np
import pytest

from forerun.records.readings import Reading
from forerun.running.checks import LONE_LIMITS
from forerun.running.recent import Recent, Seen

QUICK = 0.1  # s


def _filled(rows: list[Reading]) -> Recent:
    recent = Recent()
    for row in rows:
        recent.add([row], row.time_s)
    return recent


def _by_definition(rows: list[Reading], limit: float) -> list[tuple[float, float]]:
    """Return what a device said and a neighbour bears out, each judged afresh."""
    seen = sorted((Seen(r.time_s, r.head_K, r.origin) for r in rows), key=lambda s: s.time_s)
    kept = []
    for k, here in enumerate(seen):
        near = [*seen[max(k - 1, 0) : k], *seen[k + 1 : k + 2]]
        if any(abs(here.value - other.value) <= limit for other in near):
            kept.append((here.time_s, here.value))
    return kept


@pytest.mark.parametrize("seed", range(20))
def test_late_readings_and_jumps_leave_what_the_definition_leaves(seed: int) -> None:
    random = np.random.default_rng(seed)
    head = 330.0 + 0.1 * np.arange(60.0)
    head[random.choice(60, 8, replace=False)] += 100.0
    rows = [Reading(float(k), head_K=float(h), origin="probe") for k, h in enumerate(head)]
    mixed = [rows[k] for k in np.argsort(np.arange(60) + random.uniform(0.0, 5.0, 60))]
    times, heads = _filled(mixed).stretch("head_K")
    seen = list(zip(times, heads, strict=True))
    assert seen == _by_definition(rows, LONE_LIMITS["head_K"])
    assert len(seen) < 60


def test_a_quick_sender_is_thinned_but_its_newest_value_is_there_at_once() -> None:
    recent = Recent()
    for k in range(3000):
        recent.add([Reading(QUICK * k, bath_K=350.0 + 1e-3 * k, origin="probe")], QUICK * k)
        assert recent.stretch("bath_K", QUICK * k).values[-1] == 350.0 + 1e-3 * k
    times = recent.stretch("bath_K").times_s
    assert len(times) == pytest.approx(3000 * QUICK / 0.5, rel=0.05)
    assert recent.slope("bath_K", 0.0, 300.0) == pytest.approx(1e-2)


def test_one_sender_does_not_thin_another() -> None:
    rows = [Reading(0.2 * k, head_K=330.0, origin="one" if k % 2 else "two") for k in range(100)]
    assert len(_filled(rows).stretch("head_K").values) == 100


def test_twenty_minutes_are_kept_and_the_newest_value_of_each_channel_for_good() -> None:
    rows = [Reading(0.0, pressure_Pa=5e3)]
    rows += [Reading(10.0 * k, head_K=330.0, origin="probe") for k in range(400)]
    recent = _filled(rows)
    assert recent.stretch("head_K").times_s[0] == pytest.approx(3990.0 - 1200.0)
    assert recent.newest["pressure_Pa"].value == 5e3


def test_what_a_person_types_once_is_believed_and_what_a_device_says_once_is_not() -> None:
    rows = [Reading(60.0 * k, head_K=330.0) for k in range(6)]
    jump = Reading(360.0, head_K=360.0)
    assert _filled([*rows, jump]).stretch("head_K").values[-1] == 360.0
    quick = [replace(row, time_s=row.time_s / 30.0, origin="probe") for row in rows]
    lone = replace(jump, time_s=12.0, origin="probe")
    assert _filled([*quick, lone]).stretch("head_K").values[-1] == 330.0


def test_a_copy_does_not_change_and_values_no_bench_has_are_left_out() -> None:
    recent = _filled([Reading(float(k), head_K=330.0, origin="probe") for k in range(10)])
    before = recent.copy()
    recent.add([Reading(10.0, head_K=1e9, origin="probe")], 10.0)
    recent.add([Reading(11.0, head_K=331.0, origin="probe")], 11.0)
    assert len(before.stretch("head_K").values) == 10
    assert list(recent.stretch("head_K", 9.0).values) == [330.0, 331.0]
    assert math.isclose(recent.newest["head_K"].value, 331.0)


def test_a_stretch_ends_where_it_is_told_to_with_or_without_a_jump_in_it() -> None:
    rows = [Reading(float(k), head_K=330.0 + k, origin="probe") for k in range(20)]
    assert list(_filled(rows).stretch("head_K", 5.0, 8.0).times_s) == [5.0, 6.0, 7.0, 8.0]
    rows[6] = replace(rows[6], head_K=400.0)
    assert list(_filled(rows).stretch("head_K", 5.0, 8.0).times_s) == [5.0, 7.0, 8.0]


def test_twenty_minutes_of_a_quick_sender_take_little_room() -> None:
    tracemalloc.start()
    recent = Recent()
    for k in range(12_000):
        recent.add([Reading(QUICK * k, head_K=330.0, origin="probe")], QUICK * k)
    taken, _ = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert len(recent.stretch("head_K").values) > 2000
    assert taken < 100_000  # bytes; 250,000 while each value was an object
