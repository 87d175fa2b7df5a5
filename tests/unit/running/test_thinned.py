"""A log that a device fills, merged: nothing that stands out or was said is lost."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest

from forerun.records.interface import StoredReading
from forerun.records.readings import Reading, readings_of
from forerun.running.checks import check_readings
from forerun.running.thinned import Thinned

END = 600.0


def device(every_s: float = 1.0, end: float = END, origin: str = "serial") -> list[Reading]:
    times = np.arange(0.0, end, every_s)
    return [Reading(float(t), head_K=300.0 + 0.05 * float(t), origin=origin) for t in times]


def stored(rows: Sequence[Reading], first: int = 1) -> list[StoredReading]:
    return [StoredReading(n, row, 1e9 + row.time_s) for n, row in enumerate(rows, first)]


def thinned(rows: Sequence[Reading]) -> list[Reading]:
    log = Thinned()
    assert log.add(stored(rows))
    return sorted(log.readings(), key=lambda row: row.time_s)


@pytest.mark.parametrize("every_s", [0.1, 1.0, 2.0])
def test_however_fast_a_device_is_as_much_is_kept(every_s: float) -> None:
    found = thinned(device(every_s))
    old = [row for row in found if row.time_s < END - 80.0]
    assert len(old) == 52
    assert all(abs(row.head_K - 300.0 - 0.05 * row.time_s) < 1e-6 for row in old)
    newest = [row for row in found if row.time_s >= END - 60.0]
    assert len(newest) == round(60.0 / every_s)


def test_what_comes_slowly_stays_as_it_came() -> None:
    rows = device(10.0)
    assert thinned(rows) == rows


def test_what_was_said_or_stands_out_is_not_merged() -> None:
    rows = device()
    rows[101] = Reading(101.0, head_K=400.0, origin="serial")
    rows[202] = Reading(202.0, head_K=1e9, origin="serial")
    rows[303] = Reading(303.0, head_K=315.0, remark="drips", origin="serial")
    found = thinned(rows)
    for odd in (rows[101], rows[202], rows[303]):
        assert odd in found
    told = check_readings(readings_of(found)).doubts
    assert {doubt.time_s for doubt in told} == {101.0, 202.0}


def test_each_device_is_merged_by_itself() -> None:
    both = [row for pair in zip(device(), device(origin="balance"), strict=True) for row in pair]
    found = [row for row in thinned(both) if row.time_s < 500.0]
    assert {row.origin for row in found} == {"serial", "balance"}
    assert len(found) == 100


def test_added_in_pieces_or_twice_it_is_the_same_log() -> None:
    rows = stored(device(0.5))
    log = Thinned()
    for first in range(0, len(rows), 20):
        assert log.add(rows[max(first - 15, 0) : first + 20])
    found = sorted(log.readings(), key=lambda row: row.time_s)
    assert found == thinned(device(0.5))


def test_a_correction_of_what_is_new_replaces_it() -> None:
    log = Thinned()
    log.add(stored(device()))
    assert log.add([StoredReading(601, Reading(595.0, head_K=299.0, corrects=596), 1e9)])
    at = [row.head_K for row in log.readings() if row.time_s == 595.0]
    assert at == [299.0]


def test_a_correction_of_what_was_merged_asks_for_everything() -> None:
    rows = [*device(), Reading(100.0, head_K=299.0, corrects=101)]
    log = Thinned()
    assert log.add(stored(rows[:-1]))
    assert not log.add(stored(rows)[-1:])
    again = Thinned()
    assert again.add(stored(rows))
    heads = [row.head_K for row in again.readings() if 90.0 <= row.time_s < 110.0]
    assert 299.0 in heads
    assert not any(math.isclose(head, 305.0) for head in heads)
