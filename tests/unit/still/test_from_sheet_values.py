"""What a sheet says arrives at the still as the number it means."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from forerun.equilibrium.liquid_liquid import split_liquid
from forerun.equilibrium.mixture import mixture_of
from forerun.glassware.drawer import span
from forerun.sheets.model import RunSheet
from forerun.sheets.resolving import load
from forerun.still.from_sheet import condenser_limit, prepare
from forerun.still.from_sheet_special import splits
from forerun.substances.catalogue import find

WATER = "water"


def _sheet(charge: dict[str, str], **tables: dict[str, Any]) -> RunSheet:
    rows: list[dict[str, Any]] = [{"substance": s, "amount": a} for s, a in charge.items()]
    rig = {"flask": "250 mL", **tables.pop("rig", {})}
    return load({"charge": rows, "rig": rig, **tables})


def _pair(**tables: dict[str, Any]) -> RunSheet:
    return _sheet({"acetone": "40 mL", "toluene": "40 mL"}, **tables)


@pytest.mark.parametrize(
    ("names", "parts"),
    [
        (("1-butanol", WATER), True),  # measured as two liquids
        (("ethanol", WATER), False),  # measured as one
        (("acetone", WATER), False),
        (("toluene", WATER), True),
        (("toluene", "heptane"), False),
        (("1-butanol", WATER, "acetone"), False),  # of three only one liquid is followed
    ],
)
def test_a_pair_stands_as_two_liquids_where_it_parts(names: tuple[str, ...], parts: bool) -> None:
    mixture = mixture_of([find(name) for name in names])
    assert splits(mixture, 295.0) is parts


def test_what_does_not_distil_is_moles_volume_and_heat() -> None:
    """1200 kg/m3 and 1500 J/kg/K (both from memory, as the module says)."""
    still = prepare(_pair(involatile={"mass": "12 g", "molar_mass": "400 g/mol"})).still
    assert still.diluent_mol == pytest.approx(0.03)
    assert still.diluent_m3 == pytest.approx(12e-3 / 1200.0)
    assert still.diluent_J_K == pytest.approx(18.0)
    without = prepare(_pair()).still
    assert (without.diluent_mol, without.diluent_m3, without.diluent_J_K) == (0.0, 0.0, 0.0)


def test_steam_is_water_at_its_boiling_point_whichever_component_it_is() -> None:
    for charge, number in (
        ({WATER: "20 mL", "toluene": "40 mL"}, 0),
        ({"toluene": "40 mL", WATER: "20 mL"}, 1),
    ):
        still = prepare(_sheet(charge, programme={"steam": "3.6 g/min"})).still
        assert still.steam_component == number
        assert still.steam.tolist() == [[0.0, pytest.approx(6e-5 / 0.0180153, rel=1e-4)]]
        assert still.steam_temperature_K == 373.15
    none = prepare(_pair()).still
    assert none.steam.tolist() == [[0.0, 0.0]]


def test_a_hand_has_one_rule_and_a_bath_a_limit() -> None:
    for said, field, value in (
        ({"rate": "40 drops/min"}, "drop_rate_m3_s", 40 * 2.5e-8 / 60.0),
        ({"above_head": "25 K"}, "above_head_K", 25.0),
        ({"above_pot": "30 K"}, "above_pot_K", 30.0),
    ):
        sheet = _pair(programme={"keep": said})
        rule = prepare(sheet).still.bath_rule
        assert rule is not None
        given = {
            name: getattr(rule, name)
            for name in ("drop_rate_m3_s", "above_head_K", "above_pot_K")
            if getattr(rule, name) is not None
        }
        assert given == {field: pytest.approx(value)}
        assert rule.fastest_K_s == pytest.approx(5.0 / 60.0)  # from memory
        assert rule.highest_K == sheet.rig.bath_limit_K
    assert prepare(_pair()).still.bath_rule is None


def test_a_thermometer_reads_low_by_its_thread_and_by_its_height() -> None:
    """0.00016 per kelvin of thread (the textbooks' rule); a bulb too high by the drawer's share."""
    thread = prepare(_pair(rig={"emergent_stem": "50 K"})).still.stem
    assert thread == pytest.approx(0.008)
    high = prepare(_pair(rig={"bulb": "high"})).still.stem
    assert high == pytest.approx(span("bulb", "reads_low_share").typical)
    both = prepare(_pair(rig={"bulb": "high", "emergent_stem": "50 K"})).still.stem
    assert both == pytest.approx(high + thread)
    assert prepare(_pair()).still.stem == 0.0


def test_a_column_counts_as_steady_below_a_tenth_of_a_kelvin_a_minute() -> None:
    still = prepare(_pair(programme={"settle": "7 min"})).still
    assert still.steady_K_s == pytest.approx(0.1 / 60.0)
    assert still.steady_for_s == 420.0


def test_what_runs_back_from_a_trap_is_the_lighter_in_water_of_equal_volumes() -> None:
    """Half water, half of all else, by volume, parted at 30 °C: shares of each component."""
    names = ("toluene", "heptane", WATER)
    substances = [find(name) for name in names]
    mixture = mixture_of(substances)
    volume = np.array([s.molar_volume.v0 for s in substances])
    feed = np.array([0.25, 0.25, 0.5]) / volume
    parted = split_liquid(feed / feed.sum(), 303.15, mixture.arrays)
    assert parted is not None
    first, second = (
        parted.first * (1.0 - parted.second_share),
        parted.second * parted.second_share,
    )
    organic = first if first[2] / first.sum() < second[2] / second.sum() else second
    sheet = _sheet(dict.fromkeys(names, "20 mL"), rig={"trap": "10 mL"})
    trap = prepare(sheet).still.trap
    assert trap is not None
    assert trap.returned == pytest.approx(organic / (first + second), rel=1e-9)


def test_a_pump_without_a_leak_still_has_its_speed() -> None:
    with_pump = prepare(_pair(rig={"pump": "diaphragm"})).still
    assert with_pump.pump_speed_m3_s > 0.0
    assert prepare(_pair()).still.pump_speed_m3_s == 0.0


def test_the_condenser_is_reckoned_at_the_lowest_pressure_and_lightest_component() -> None:
    """Acetone boils at 56.1 °C under 101325 Pa (handbooks, from memory), far colder at 100 mbar."""
    sheet = _pair(rig={"coolant": "10 °C"})
    per_kelvin = sheet.rig.condenser_W_K.value
    limit = condenser_limit(sheet, 283.15)
    assert limit == pytest.approx(per_kelvin * (56.1 - 10.0), rel=0.01)
    assert condenser_limit(sheet, 293.15) == pytest.approx(limit - 10.0 * per_kelvin, rel=1e-9)
    low = _pair(programme={"pressure": [["0 min", "1 bar"], ["30 min", "100 mbar"]]})
    assert condenser_limit(low, 283.15) < 0.2 * limit
    assert prepare(sheet).still.condenser_limit_W == pytest.approx(
        condenser_limit(sheet, sheet.rig.coolant_temperature_K.value)
    )


def test_a_condenser_that_takes_nothing_takes_next_to_nothing() -> None:
    warm = prepare(_pair(rig={"coolant": "70 °C"}))
    assert 0.0 < warm.still.condenser_limit_W < 1e-12
    assert sum("passes the condenser" in said for said in warm.warnings) == 1
    assert not any("passes the condenser" in said for said in prepare(_pair()).warnings)


def test_the_column_takes_its_share_of_the_loss_and_of_the_pressure() -> None:
    sheet = _pair(rig={"plates": 5, "heat_loss": "0.4 W/K"})
    still, rig = prepare(sheet).still, sheet.rig
    assert 0.0 < rig.neck_loss_share < 1.0
    assert still.head_loss_W_K == pytest.approx(rig.neck_loss_share * 0.4)
    assert still.column_loss_W_K == pytest.approx((1.0 - rig.neck_loss_share) * 0.4)
    assert still.pressure_drop_Pa == pytest.approx(rig.pressure_drop_Pa.value / 5.0)
    assert still.largest_load_m3_s == rig.largest_load_m3_s
    bare = prepare(_pair(rig={"column": "none", "heat_loss": "0.4 W/K"})).still
    assert bare.column_loss_W_K == 0.0
    assert bare.head_loss_W_K == pytest.approx(0.4)
    assert math.isinf(bare.largest_load_m3_s)
    assert bare.pot_glass_J_K == _pair().rig.glass_heat_capacity_J_K.value


def test_every_source_is_named_once_and_no_warning_twice() -> None:
    prepared = prepare(_pair())
    keys = [one.key for one in prepared.still.references]
    assert len(keys) == len(set(keys)) > 3
    assert "memory" in keys
    assert {r.key for r in prepared.mixture.references} <= set(keys)
    assert len(prepared.warnings) == len(set(prepared.warnings))
    # a mixture that is known already is taken as it is
    again = prepare(prepared.sheet, prepared.mixture)
    assert again.mixture is prepared.mixture
