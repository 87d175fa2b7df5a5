"""Tables of the still against what they were made from."""

from __future__ import annotations

import math

import numpy as np
import pytest

from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.kernels import ln_activity
from forerun.equilibrium.liquid_liquid import miscibility_gap
from forerun.equilibrium.mixture import mixture_of
from forerun.still.boiling_table import boiling_arrays
from forerun.still.boiling_type import ENTHALPY_UNIT, LATENT_LOWEST, BoilingArrays
from forerun.substances.catalogue import find
from forerun.substances.liquids import LiquidArrays, liquid_arrays
from laws.stills import ideal_mixture, liquids


def _of(*names: str, two_liquids: bool = False) -> tuple[MixtureArrays, BoilingArrays]:
    substances = [find(name) for name in names]
    mixture = mixture_of(substances).arrays
    return mixture, boiling_arrays(mixture, liquid_arrays(substances), two_liquids=two_liquids)


def _cubic(lines: np.ndarray, place: float) -> np.ndarray:
    n = min(int(place), lines.shape[0] - 1)
    s = place - n
    return lines[n, 0] + s * (lines[n, 1] + s * (lines[n, 2] + s * lines[n, 3]))


def _latent(table: BoilingArrays, temperature: float) -> np.ndarray:
    return _cubic(table.latent, temperature - LATENT_LOWEST) * ENTHALPY_UNIT


@pytest.mark.parametrize("temperature", [180.0, 180.5, 298.15, 373.4, 450.0, 530.25, 699.5])
def test_latent_heats_follow_watson(temperature: float) -> None:
    """Watson (1943): (Tc - T)/(Tc - T0) to a power; held from 1 K below the critical point on."""
    given = liquids(3)
    found = _latent(boiling_arrays(ideal_mixture([340.0, 350.0, 365.0]), given), temperature)
    for one, (value, reference, critical, exponent) in zip(found, given.latent_heat, strict=True):
        below = max(critical - temperature, 1.0)
        expected = value * (below / (critical - reference)) ** exponent
        near = critical - temperature < 30.0  # where the curve bends most
        assert one == pytest.approx(expected, rel=1e-6 if near else 1e-9)


def test_a_latent_heat_at_its_reference_is_the_one_given() -> None:
    given = liquids(2)
    table = boiling_arrays(ideal_mixture([340.0, 365.0]), given)
    assert _latent(table, 350.0) == pytest.approx([32e3, 32e3], rel=1e-9)
    twice = LiquidArrays(**{**given._asdict(), "latent_heat": given.latent_heat * [2, 1, 1, 1]})
    again = boiling_arrays(ideal_mixture([340.0, 365.0]), twice)
    assert _latent(again, 350.0) == pytest.approx([64e3, 64e3], rel=1e-9)


def test_members_that_share_their_groups_share_the_table() -> None:
    mixture, table = _of("acetone", "methanol")
    substances = [find("acetone"), find("methanol")]
    again = boiling_arrays(mixture._replace(vapour_pressure=mixture.vapour_pressure * 1.01),
                           liquid_arrays(substances))  # fmt: skip
    assert again.table is table.table
    assert again.latent is table.latent
    # a sheet that is made ready again has arrays of its own, with the same numbers in them
    assert _of("acetone", "methanol")[1].table is table.table
    for name in ("weights", "interaction", "pure_residual"):
        changed = getattr(mixture, name).copy()
        changed.flat[0] += 1e-9
        other = boiling_arrays(mixture._replace(**{name: changed}), liquid_arrays(substances))
        assert other.table is not table.table
        assert other.table == pytest.approx(table.table, rel=1e-6, abs=1e-6)


def test_shares_of_models_add_up_and_unused_models_are_left_out() -> None:
    mixture, table = _of("acetone", "methanol", "water")
    assert table.models[:, 0].sum() == pytest.approx(mixture.weights.sum(), rel=1e-12)
    assert table.models.shape == (np.count_nonzero(mixture.weights), 1 + 6 * 3)
    assert table.weight.shape[0] == table.areas.shape[1]
    # r, q, r^p, ln r^p, ln(r/q) and the sum of the surfaces, of each component
    for model in table.models:
        r, q, power, ln_power, ln_ratio, surface = model[1:].reshape(6, 3)
        assert ln_power == pytest.approx(np.log(power), rel=1e-12, abs=1e-15)
        assert ln_ratio == pytest.approx(np.log(r) - np.log(q), rel=1e-12, abs=1e-15)
        exponent = ln_power / np.log(r)
        assert np.ptp(exponent[np.abs(np.log(r)) > 1e-3]) < 1e-12
        assert np.all(surface > 0.0)


def test_a_model_that_speaks_alone_is_the_only_one_in_the_table() -> None:
    substances = [find("acetone"), find("methanol")]
    mixture = mixture_of(substances)
    assert len(mixture.models) > 1
    heats = liquid_arrays(substances)
    one = mixture.arrays._replace(weights=np.eye(len(mixture.models))[1])
    alone = boiling_arrays(one, heats)
    assert alone.models.shape[0] == 1
    assert alone.models[0, 0] == 1.0
    assert np.all(alone.weight == 1.0)
    # of the pure liquids' sum each model gives its share
    pure = sum(
        boiling_arrays(mixture.arrays._replace(weights=row), heats).table[:, :, -2:]
        for row in np.eye(len(mixture.models))
    )
    both = boiling_arrays(mixture.arrays, heats).table[:, :, -2:]
    assert both * len(mixture.models) == pytest.approx(pure, rel=1e-9, abs=1e-12)


def test_the_gap_of_a_pair_is_where_activities_agree() -> None:
    """At each node both liquids have the same activity of each, by the models themselves."""
    mixture, table = _of("1-butanol", "water", two_liquids=True)
    assert table.gap.shape[1:] == (4, 4)
    lowest, width = table.gap_grid[:2]
    assert (lowest, width) == (273.15, 4.0)
    assert lowest + width * table.gap.shape[0] == pytest.approx(453.15)
    scratch, ln_gamma = scratch_for(mixture), np.zeros(2)
    for node in (0, 7, 24):
        temperature = lowest + width * node
        ends, activities = table.gap[node, 0, :2], table.gap[node, 0, 2:]
        assert ends[0] < ends[1]
        for end in ends:
            x = np.array([1.0 / (1.0 + math.exp(-end)), 1.0 / (1.0 + math.exp(end))])
            ln_activity(temperature, x, mixture, scratch, ln_gamma)
            assert np.log(x) + ln_gamma == pytest.approx(activities, abs=1e-6)
        assert 1.0 / (1.0 + np.exp(-ends)) == pytest.approx(_gap(mixture, temperature), rel=1e-6)


def test_between_nodes_the_gap_is_smooth() -> None:
    mixture, table = _of("1-butanol", "water", two_liquids=True)
    temperature = 273.15 + 4.0 * 10.5
    ends = _cubic(table.gap, 10.5)[:2]
    assert 1.0 / (1.0 + np.exp(-ends)) == pytest.approx(_gap(mixture, temperature), rel=2e-3)


def _gap(mixture: MixtureArrays, temperature: float) -> list[float]:
    found = miscibility_gap(temperature, mixture)
    assert found is not None
    return [float(found.first[0]), float(found.second[0])]


def test_what_mixes_or_is_not_a_pair_has_no_gap() -> None:
    assert _of("ethanol", "water", two_liquids=True)[1].gap.shape == (0, 4, 4)
    assert _of("1-butanol", "water")[1].gap.shape == (0, 4, 4)
    assert _of("1-butanol", "water", "ethanol", two_liquids=True)[1].gap.shape == (0, 4, 4)


def _reach(*names: str) -> tuple[float, float]:
    grid = _of(*names, two_liquids=True)[1].gap_grid
    return float(grid[2]), float(grid[3])


@pytest.mark.parametrize("pair", [("hexane", "water"), ("toluene", "water")])
def test_next_to_nothing_dissolved_counts_as_saturated(pair: tuple[str, str]) -> None:
    """From a thousandth on, or from the most that dissolves at any temperature if that is more.

    Where more than four thousandths dissolve, it is the gap alone that counts.
    """
    gap = _of(*pair, two_liquids=True)[1].gap
    sides = -gap[:, 0, 0].max(), gap[:, 0, 1].min()
    expected = [min(s, math.log(1e3)) if s > -math.log(4e-3) else 1e9 for s in sides]
    low, high = _reach(*pair)
    assert [-low, high] == pytest.approx(expected)
    # the other way round it is the same, but for the search of the gap
    assert _reach(*pair[::-1]) == pytest.approx((-high, -low), rel=1e-3)


def test_what_dissolves_well_or_mixes_is_never_taken_as_saturated() -> None:
    assert _reach("decane", "water")[0] == pytest.approx(math.log(1e-3))
    assert _reach("ethanol", "water") == (-1e9, 1e9)
    assert _reach("1-butanol", "water") == (-1e9, 1e9)
