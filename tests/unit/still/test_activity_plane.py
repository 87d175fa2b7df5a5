"""Activities of a pair read from a table, against the models that it was made from."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.kernels import bubble_pressure, ln_activity
from forerun.equilibrium.mixture import mixture_of
from forerun.sheets.examples import example
from forerun.sheets.resolving import load
from forerun.still import activity_plane as module
from forerun.still.activity_plane import CLOSE, NO_PLANE, activity_plane, look_up
from forerun.still.boiling import boil
from forerun.still.boiling_table import boiling_arrays
from forerun.still.boiling_type import BoilingArrays, boiled_for
from forerun.still.from_sheet import prepare as from_sheet
from forerun.still.run import prepare, run_still
from forerun.substances.catalogue import find
from forerun.substances.liquids import liquid_arrays
from laws.stills import ideal_mixture, liquids

PAIRS = [
    ("ethanol", "water"),
    ("methanol", "acetone"),
    ("benzene", "toluene"),
    ("chloroform", "acetone"),
    ("acetic acid", "water"),
    ("acetonitrile", "water"),
    ("methanol", "toluene"),
]


def _arranged(*names: str, two_liquids: bool = False) -> BoilingArrays:
    substances = [find(name) for name in names]
    mixture = mixture_of(substances).arrays
    return boiling_arrays(mixture, liquid_arrays(substances), two_liquids=two_liquids)


def _table(*names: str) -> tuple[np.ndarray, np.ndarray]:
    mixture = _arranged(*names)
    return mixture.plane, mixture.plane_grid


def _read(
    table: tuple[np.ndarray, np.ndarray], x: float, temperature: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return ln gamma, its slope in temperature and N d ln gamma / dn from the table."""
    each, d_x = np.zeros((8, 2)), np.full((2, 2), np.nan)
    each[0] = x, 1.0 - x
    look_up(temperature, 1, *table, each, d_x)
    return each[1].copy(), each[2].copy(), d_x


def _expected(mixture: MixtureArrays, x: float, temperature: float) -> np.ndarray:
    ln_gamma = np.zeros(2)
    ln_activity(temperature, np.array([x, 1.0 - x]), mixture, scratch_for(mixture), ln_gamma)
    return ln_gamma


@pytest.mark.parametrize("names", PAIRS, ids=str)
def test_the_table_is_the_models_wherever_one_looks(names: tuple[str, str]) -> None:
    mixture = mixture_of([find(name) for name in names]).arrays
    mixture = mixture._replace(pair_correction=np.zeros_like(mixture.pair_correction))
    table = _table(*names)
    assert table[0].shape[0] == 105
    rng = np.random.default_rng(3)
    xs = np.concatenate([[0.0, 1e-9, 1e-4, 1.0 - 1e-4, 1.0], rng.uniform(size=200)])
    for x, temperature in zip(xs, rng.uniform(244.0, 600.0, xs.size), strict=True):
        found, _, _ = _read(table, x, temperature)
        assert found == pytest.approx(_expected(mixture, x, temperature), abs=3.0 * CLOSE)


def test_more_places_where_activities_bend_more() -> None:
    easy, hard = (_table(*names)[0] for names in (PAIRS[2], PAIRS[0]))
    assert 16 <= easy.shape[1] < hard.shape[1] <= 256


@pytest.mark.parametrize("temperature", [262.3, 331.7, 351.9999])
@pytest.mark.parametrize("x", [0.003, 0.21, 0.5, 0.93])
def test_its_slopes_are_its_own(x: float, temperature: float) -> None:
    table = _table("ethanol", "water")
    _, in_t, d_x = _read(table, x, temperature)
    step = 1e-5
    warm, cold = (_read(table, x, temperature + s)[0] for s in (step, -step))
    assert in_t == pytest.approx((warm - cold) / (2.0 * step), rel=1e-5, abs=1e-9)
    # one mole of both: dx_1/dn_1 = x_2, dx_1/dn_2 = -x_1
    for k in range(2):
        values = []
        for sign in (1.0, -1.0):
            n = np.array([x, 1.0 - x])
            n[k] += sign * step
            values.append(_read(table, n[0] / n.sum(), temperature)[0])
        slope = (values[0] - values[1]) / (2.0 * step)
        assert d_x[:, k] == pytest.approx(slope, rel=1e-4, abs=1e-7)


def test_slopes_are_continuous_from_cell_to_cell() -> None:
    table = _table("ethanol", "water")
    for temperature in (260.0, 344.0, 500.0):  # knots
        (_, below, _), (_, above, _) = (_read(table, 0.37, temperature + s) for s in (-1e-9, 1e-9))
        assert below == pytest.approx(above, abs=1e-8)
    columns = table[0].shape[1]
    for knot in module._fractions(np.arange(1, columns) / columns, table[1][2])[:, 0]:
        (low, _, below), (high, _, above) = (_read(table, knot + d, 351.0) for d in (-1e-10, 1e-10))
        assert low == pytest.approx(high, abs=1e-8)
        assert below == pytest.approx(above, abs=1e-6)


def test_gibbs_and_duhem_agree() -> None:
    """x_1 d ln gamma_1 + x_2 d ln gamma_2 = 0 at constant temperature."""
    table = _table("acetone", "methanol")
    for x in np.linspace(0.0, 1.0, 41):
        d_x = _read(table, x, 330.0)[2]
        assert np.array([x, 1.0 - x]) @ d_x == pytest.approx([0.0, 0.0], abs=1e-4)


@pytest.mark.parametrize(("temperature", "end"), [(120.0, 180.0), (900.0, 600.0)])
def test_beyond_its_ends_it_stays(temperature: float, end: float) -> None:
    table = _table("ethanol", "water")
    found, in_t, _ = _read(table, 0.3, temperature)
    assert found == pytest.approx(_read(table, 0.3, end)[0], abs=1e-9)
    assert np.all(in_t == 0.0)


def test_what_is_no_number_points_into_the_table() -> None:
    table = _table("ethanol", "water")
    assert np.all(np.isnan(_read(table, 0.3, np.nan)[0]))
    assert np.all(np.isnan(_read(table, np.nan, 350.0)[0]))


def test_no_table_of_one_or_three_or_without_models_or_where_no_grid_is_close(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    none = NO_PLANE[0].shape
    assert activity_plane(_arranged("ethanol", "water", "acetone"))[0].shape == none
    assert activity_plane(_arranged("ethanol"))[0].shape == none
    assert activity_plane(_arranged("toluene", "ethanol"))[0].shape == none
    assert (
        activity_plane(boiling_arrays(ideal_mixture([340.0, 365.0]), liquids(2)))[0].shape == none
    )
    monkeypatch.setattr(module, "CLOSE", 0.0)
    assert activity_plane(_arranged("ethanol", "water"))[0].shape == none


def test_a_pair_that_parts_is_worked_out_from_its_groups() -> None:
    assert _arranged("1-butanol", "water", two_liquids=True).plane.shape[0] == 0
    assert _arranged("ethanol", "water").plane.shape[0] > 0
    assert boiling_arrays(ideal_mixture([340.0, 365.0]), liquids(2)).plane.shape[0] == 0


def test_members_share_the_table() -> None:
    substances = [find("acetone"), find("methanol")]
    mixture, heats = mixture_of(substances).arrays, liquid_arrays(substances)
    warmer = mixture._replace(
        vapour_pressure=mixture.vapour_pressure * 1.01,
        pair_correction=mixture.pair_correction + 0.01,
    )
    one, other = (boiling_arrays(m, heats) for m in (mixture, warmer))
    assert one.plane is other.plane


@pytest.mark.parametrize("names", PAIRS[:3], ids=str)
def test_a_stage_boils_as_it_does_without_the_table(names: tuple[str, str]) -> None:
    given = mixture_of([find(name) for name in names]).arrays
    with_table = _arranged(*names)
    plane, grid = NO_PLANE
    without = with_table._replace(plane=plane, plane_grid=grid)
    n = np.array([[0.7, 0.4]])
    found = []
    for mixture in (with_table, without):
        at = boiled_for(1, mixture)
        at.temperature[0] = 352.2
        boil(0, 1, 1, n.copy(), mixture, at)
        found.append([at.over.copy(), at.y.copy(), at.d_over.copy(), at.d_y.copy()])
    for value, expected in zip(*found, strict=True):
        assert value == pytest.approx(expected, rel=1e-4, abs=1e-5)
    (over, y, _, _), (plain, y_plain, _, _) = found
    assert over == pytest.approx(plain, rel=5.0 * CLOSE)
    assert y == pytest.approx(y_plain, rel=5.0 * CLOSE)
    vapour = np.zeros(2)
    pressure = bubble_pressure(352.2, n[0] / n.sum(), given, scratch_for(given), vapour)
    assert plain[0] == pytest.approx(pressure, rel=1e-12)
    assert y_plain[0] == pytest.approx(vapour, rel=1e-12)


def test_a_run_is_the_same_to_a_millikelvin(monkeypatch: pytest.MonkeyPatch) -> None:
    given = from_sheet(load(example("class-pair"))).still
    with_table = run_still(given)
    monkeypatch.setattr("forerun.still.boiling_table._plane", lambda _: NO_PLANE)
    assert prepare(given).mixture.plane.shape[0] == 0
    without = run_still(given)
    apart = with_table.trace.head_temperature_K - without.trace.head_temperature_K
    assert np.sqrt(np.mean(apart**2)) < 1e-3
    assert np.max(np.abs(apart)) < 1e-2
    for one, other in zip(with_table.cuts, without.cuts, strict=True):
        assert one.volume_m3 == pytest.approx(other.volume_m3, rel=1e-4)
        assert one.mole_fraction == pytest.approx(other.mole_fraction, abs=1e-5)
