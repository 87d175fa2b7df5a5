"""What a run warns of, from traces made for it: freezing, flooding, a coolant that is too warm."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from forerun.still.hand import DROP_RATE, OVER_HEAD, OVER_POT
from forerun.still.inputs import BathRule, StillInput
from forerun.still.reading import _coolant_warnings, _freezing_warnings, _load_warnings
from forerun.still.results import Trace
from forerun.still.run import _kept


def _given(coolant_C: float, melting_C: list[float]) -> StillInput:
    liquids = SimpleNamespace(melting_point=np.array(melting_C) + 273.15)
    names = [f"liquid {k}" for k in range(len(melting_C))]
    return cast(
        StillInput,
        SimpleNamespace(names=names, liquids=liquids, coolant_temperature_K=coolant_C + 273.15),
    )


def _trace(**columns: Any) -> Trace:
    return cast(Trace, SimpleNamespace(**{k: np.array(v) for k, v in columns.items()}))


def _dripping(share: list[float], rate: list[float]) -> Trace:
    x = np.array(share)
    return _trace(
        time_s=1200.0 * np.arange(x.size),
        distillate_rate_mol_s=rate,
        distillate_mole_fraction=np.stack([1.0 - x, x], axis=1),
    )


def test_a_distillate_freezes_where_it_is_rich_and_drips() -> None:
    given = _given(10.0, [-90.0, 25.0])
    (said,) = _freezing_warnings(given, _dripping([0.9, 0.1, 0.95, 0.97], [0.0, 1.0, 1.0, 1.0]))
    assert said.startswith("From 40 min on liquid 1 can freeze")
    assert "melts at 25 °C, the coolant has 10 °C" in said
    assert _freezing_warnings(given, _dripping([0.1, 0.1], [1.0, 1.0])) == []
    assert _freezing_warnings(given, _dripping([0.9, 0.9], [0.0, 0.0])) == []


@pytest.mark.parametrize("melting", [10.0, 9.0, float("nan")])
def test_what_does_not_melt_above_the_coolant_does_not_freeze(melting: float) -> None:
    given = _given(10.0, [-90.0, melting])
    assert _freezing_warnings(given, _dripping([0.95, 0.97], [1.0, 1.0])) == []


def test_a_column_floods_above_its_load() -> None:
    (said,) = _load_warnings(_trace(time_s=[0.0, 600.0, 1800.0, 2400.0], load=[0.5, 1.0, 1.2, 1.6]))
    assert "floods from 30 min on" in said
    assert "1.6 times" in said
    assert _load_warnings(_trace(time_s=[0.0, 60.0], load=[0.5, 1.0])) == []


def test_vapour_below_its_coolant_is_told_where_it_drips() -> None:
    def of(head_C: list[float], rate: list[float]) -> list[str]:
        trace = _trace(head_temperature_K=np.array(head_C) + 273.15, distillate_rate_mol_s=rate)
        return _coolant_warnings(_given(15.0, [0.0]), trace)

    (said,) = of([5.0, 12.0, 40.0], [0.0, 1.0, 1.0])
    assert "at 12 °C, below its coolant at 15 °C" in said
    assert of([5.0, 15.0, 40.0], [0.0, 1.0, 1.0]) == []
    assert of([5.0, 5.0], [0.0, 0.0]) == []


def test_a_bath_is_led_by_what_its_rule_names() -> None:
    assert _kept(None) == (0, 0.0)
    assert _kept(BathRule(drop_rate_m3_s=1e-8)) == (DROP_RATE, 1e-8)
    assert _kept(BathRule(above_head_K=20.0)) == (OVER_HEAD, 20.0)
    assert _kept(BathRule(above_pot_K=30.0)) == (OVER_POT, 30.0)
    assert len({DROP_RATE, OVER_HEAD, OVER_POT, 0}) == 4
