"""The benches of a server together: grouped, waited for, taken out, and looked at again in time."""

from __future__ import annotations

import csv
import io
import time
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from forerun.app.pool import Bench
from forerun.app.web.live_desk import LiveDesk
from forerun.app.web.live_pooled import Together
from forerun.core.errors import BadInput
from forerun.records.readings import Reading
from forerun.reviewing.fitting_run import Estimate


@dataclass
class _Run:
    """A run of the desk, without store and clock."""

    id: int
    names: tuple[str, ...] = ("acetone", "toluene")
    ended_utc_s: float | None = None
    off_K: float = 0.0
    out: bool = False
    rows: int = 24
    sheet: Any = field(init=False)

    def __post_init__(self) -> None:
        self.sheet = SimpleNamespace(names=self.names)

    @property
    def code(self) -> str:
        return f"CODE{self.id}"

    @property
    def readings_stored(self) -> int:
        return self.rows

    def is_out(self) -> bool:
        return self.out

    def standing(self) -> list[Reading]:
        return [
            Reading(60.0 * k, head_K=333.0 + 0.02 * k * k + self.off_K, distillate_m3=1.5e-6 * k)
            for k in range(1, self.rows + 1)
        ]


@pytest.fixture
def looked(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Stand in for the fit, which takes seconds; tells how many readings each look was given."""
    seen: list[int] = []

    def bench_of(_sheet: object, readings: Any) -> Bench:
        seen.append(len(readings))
        return Bench(Estimate("plates", 2.0, 1.5, 2.5, 0.5), None)

    monkeypatch.setattr("forerun.app.web.live_pooled.bench_of", bench_of)
    monkeypatch.setattr("forerun.app.web.live_pooled._FRESH", 0.0)
    return seen


def _together(*runs: _Run) -> Together:
    return Together(cast(LiveDesk, SimpleNamespace(shown=lambda: list(runs))))


def _settled(of: Together) -> list[dict[str, Any]]:
    until = time.monotonic() + 20.0
    while any(one["waiting"] for one in of.classes()):
        assert time.monotonic() < until, "it did not come in time"
        time.sleep(0.01)
    return of.classes()


@pytest.mark.usefixtures("looked")
def test_runs_of_the_same_substances_are_one_class_the_largest_first() -> None:
    other = ("heptane", "toluene")
    runs = (_Run(1, other), _Run(2), _Run(3, ("toluene", "acetone")), _Run(4))
    found = _together(*runs).classes()
    assert [one["substances"] for one in found] == [["acetone", "toluene"], [*other]]
    assert [[b["code"] for b in one["benches"]] for one in found] == [
        ["CODE2", "CODE3", "CODE4"],
        ["CODE1"],
    ]


@pytest.mark.usefixtures("looked")
def test_the_quantiles_are_those_of_the_benches_that_are_in() -> None:
    runs = [_Run(k, off_K=off) for k, off in enumerate((-1.0, 0.0, 1.0), 1)]
    (found,) = _together(*runs).classes()
    volumes = np.array(found["distillate_m3"])
    alone = np.interp(volumes, 1.5e-6 * np.arange(1, 25), 333.0 + 0.02 * np.arange(1, 25) ** 2)
    assert found["head_K"]["p50"] == pytest.approx(alone)
    assert found["head_K"]["p90"] == pytest.approx(alone + 0.8)
    runs[0].out = True
    (left,) = _together(*runs).classes()
    assert left["out"] == ["CODE1"]
    assert left["head_K"]["p50"] == pytest.approx(alone + 0.5)


def test_a_bench_that_comes_while_it_is_asked_for_is_not_looked_at_twice(
    looked: list[int],
) -> None:
    run = _Run(1, ended_utc_s=5.0)
    of = _together(run)

    class Late(dict[int, Any]):
        """What is known, told only once the look that goes on has ended."""

        def get(self, key: int, default: Any = None) -> Any:
            found = super().get(key, default)
            if (thread := of._thread) is not None:
                thread.join(5.0)
            return found

    of._known = Late()
    of.classes()
    of.classes()
    _settled(of)
    assert looked == [24]


def test_plates_come_once_a_run_has_ended_and_again_after_new_readings(looked: list[int]) -> None:
    run = _Run(1)
    of = _together(run)
    (found,) = of.classes()
    assert (found["waiting"], found["benches"][0]["plates"], looked) == ([], None, [])
    run.ended_utc_s = 5.0
    assert of.classes()[0]["waiting"] == ["CODE1"]
    (found,) = _settled(of)
    assert found["benches"][0]["plates"] == {"value": 2.0, "band": [1.5, 2.5]}
    assert looked == [24]
    _settled(of)
    assert looked == [24], "what is known is not looked into again"
    run.rows = 30
    of.classes()
    until = time.monotonic() + 20.0
    while looked != [24, 30]:
        assert time.monotonic() < until, looked
        time.sleep(0.01)


@pytest.mark.usefixtures("looked")
def test_a_class_is_a_table_and_one_without_distillate_is_none() -> None:
    rows = list(csv.DictReader(io.StringIO(_together(_Run(1), _Run(2)).table(0))))
    assert {row["bench"] for row in rows} == {"CODE1", "CODE2"}
    for empty in (_together(), _together(_Run(1, rows=0))):
        with pytest.raises(BadInput, match="class"):
            empty.table(0)
