"""The pressures that fit, against boiling points that everyone knows, and what opens a window."""

from __future__ import annotations

import math
from typing import Any

import pytest

from forerun.equilibrium.mixture import mixture_of
from forerun.planning.pressure_window import (
    PressureLimit,
    PressureWindow,
    boiling_against_pressure,
    pressure_window,
)
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.substances.catalogue import find

MMHG = 133.322387415


def window(substance: str, **tables: Any) -> PressureWindow:
    charge = [{"substance": substance, "amount": "50 mL"}]
    return of_sheet(load({"charge": charge, **tables}))


def of_sheet(sheet: RunSheet, recovery: float = 0.5) -> PressureWindow:
    mixture = mixture_of([portion.substance for portion in sheet.charge])
    return pressure_window(sheet, 0, recovery, mixture)


def limit(found: PressureWindow, name: str) -> PressureLimit:
    return next(limit for limit in found.limits if limit.name == name)


@pytest.mark.parametrize(
    ("mmHg", "celsius"), [(20.0, 104.0), (10.0, 91.0), (5.0, 78.0), (1.0, 54.0)]
)
def test_benzyl_alcohol_against_pressure(mmHg: float, celsius: float) -> None:
    """Computed for the trade's own table of boiling points under vacuum."""
    (point,) = boiling_against_pressure(find("benzyl alcohol"), [mmHg * MMHG])
    assert point.temperature_K - 273.15 == pytest.approx(celsius, abs=1.5)
    assert point.band_K[0] < point.temperature_K < point.band_K[1]


@pytest.mark.parametrize(
    ("coolant", "mmHg"), [("10 °C", 9.2), ("15 °C", 12.7), ("20 °C", 17.5), ("25 °C", 23.7)]
)
def test_a_water_jet_stops_at_waters_own_pressure(coolant: str, mmHg: float) -> None:
    found = window("benzyl alcohol", rig={"pump": "aspirator", "coolant": coolant})
    assert limit(found, "pump").pressure_Pa / MMHG == pytest.approx(mmHg, abs=0.15)


def test_a_head_that_belongs_to_another_pressure_is_remarked() -> None:
    sheet: dict[str, Any] = {
        "programme": {"pressure": "10 mmHg"},
        "switch": [{"head": "104 °C"}],
    }
    (remark,) = window("benzyl alcohol", **sheet).remarks
    assert "boiling at 19" in remark or "boiling at 20" in remark
    assert "91 °C" in remark
    sheet["switch"] = [{"head": "92 °C"}]
    assert window("benzyl alcohol", **sheet).remarks == ()


def test_an_empty_window_says_what_opens_it() -> None:
    found = window("glycerol", rig={"pump": "house vacuum", "bath": "mineral oil"})
    assert found.empty
    assert found.recommended_Pa is None
    assert found.changes
    opened = window("glycerol", rig={"pump": "rotary vane", "bath": "silicone oil"})
    assert not opened.empty


def test_decomposition_and_bath_lower_the_high_end() -> None:
    free = window("tetralin", rig={"bath": "sand"})
    bath = window("tetralin", rig={"bath": "water"})
    assert limit(bath, "bath").pressure_Pa < limit(free, "bath").pressure_Pa
    kept = window("tetralin", rig={"bath": "sand"}, safety={"decomposition": "150 °C"})
    assert limit(kept, "decomposition").temperature_K == pytest.approx(373.15)
    assert kept.high_Pa < free.high_Pa or kept.high_Pa < 101325.0


def test_a_cold_condenser_lowers_the_low_end() -> None:
    warm = limit(window("acetone", rig={"coolant": "20 °C"}), "condenser")
    cold = limit(window("acetone", rig={"coolant": "-10 °C"}), "condenser")
    assert cold.pressure_Pa < warm.pressure_Pa
    assert warm.temperature_K == pytest.approx(313.15)


def test_the_bath_has_to_boil_what_is_left_and_not_what_never_comes_over() -> None:
    """Acetone from water on a water bath: the pot reaches 100 °C only when all of it is over."""
    charge = [
        {"substance": "acetone", "amount": "75 mL"},
        {"substance": "water", "amount": "45 mL"},
    ]
    sheet = load({"charge": charge, "rig": {"bath": "water", "coolant": "8 °C"}})
    half, nearly_all = (limit(of_sheet(sheet, r), "bath") for r in (0.5, 0.95))
    pure = limit(window("water", rig={"bath": "water"}), "bath")
    # 20 K below the bath and 5 K for what the glass loses: water at 65 °C, from memory
    assert pure.pressure_Pa == pytest.approx(25.0e3, rel=0.05)
    assert half.pressure_Pa > nearly_all.pressure_Pa > pure.pressure_Pa
    assert half.pressure_Pa > 0.9 * 101325.0
    assert "the pot has to end" in half.says


def test_a_hotter_bath_lets_any_pressure() -> None:
    assert math.isinf(limit(window("acetone", rig={"bath": "silicone oil"}), "bath").pressure_Pa)
