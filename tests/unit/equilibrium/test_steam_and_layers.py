"""Steam, layers, dissolved residue and other pressures."""

from __future__ import annotations

import math

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.equilibrium.kernels import ln_vapour_pressure
from forerun.equilibrium.mixture import mixture_of
from forerun.equilibrium.pressure_shift import shifts_between
from forerun.equilibrium.settling import settled
from forerun.equilibrium.steam import residue_limit, steam_distillation, with_residue
from forerun.substances.catalogue import find


def of(*names: str):
    return mixture_of([find(name) for name in names])


def test_steam_over_what_does_not_dissolve_is_the_sum_of_vapour_pressures():
    mixture = of("octane", "water")
    steam = steam_distillation(mixture, 101325.0)
    pure = [
        math.exp(ln_vapour_pressure(i, mixture.arrays.vapour_pressure, steam.temperature_K))
        for i in (0, 1)
    ]
    assert sum(pure) == pytest.approx(101325.0, rel=1e-2)
    masses = [s.molar_mass for s in mixture.substances]
    ratio = pure[1] * masses[1] / (pure[0] * masses[0])
    # octane that holds 1 mol% of water boils with that much less of its own pressure
    assert steam.water_per_product == pytest.approx(ratio, rel=3e-2)


def test_steam_agrees_with_the_heteroazeotrope():
    mixture = of("toluene", "water")
    steam = steam_distillation(mixture, 101325.0)
    (azeotrope,) = find_azeotropes(mixture, 101325.0).azeotropes
    assert steam.temperature_K == pytest.approx(azeotrope.temperature_K, abs=1e-5)
    assert np.allclose(steam.vapour_mole_fraction, azeotrope.mole_fraction, atol=1e-7)
    assert steam.product == 0


def test_no_steam_where_all_is_one_liquid():
    assert steam_distillation(of("ethanol", "water"), 101325.0) is None


def test_steam_needs_water():
    with pytest.raises(BadInput):
        steam_distillation(of("hexane", "methanol"), 101325.0)


def test_layers_add_up_and_the_lighter_floats():
    mixture = of("toluene", "water")
    z = np.array([0.4, 0.6])
    upper, lower = settled(z, 298.15, mixture)
    assert upper.density_kg_m3 < lower.density_kg_m3
    assert upper.mass_fraction[0] > 0.99
    assert upper.mole_share + lower.mole_share == pytest.approx(1.0)
    assert upper.mass_share + lower.mass_share == pytest.approx(1.0)
    assert upper.volume_share + lower.volume_share == pytest.approx(1.0)
    total = upper.mole_share * upper.mole_fraction + lower.mole_share * lower.mole_fraction
    assert np.allclose(total, z, atol=1e-9)


def test_chloroform_sinks_under_water():
    upper, lower = settled([0.5, 0.5], 298.15, of("chloroform", "water"))
    assert lower.mass_fraction[0] > 0.98
    assert upper.mass_fraction[1] > 0.98


def test_one_liquid_is_one_layer():
    (layer,) = settled([0.5, 0.5], 298.15, of("ethanol", "water"))
    assert layer.mass_share == 1.0


def test_residue_thins_as_raoult_says_up_to_its_limit():
    x, factor = with_residue([0.3, 0.7], 0.1)
    assert x == pytest.approx([0.27, 0.63])
    assert factor == pytest.approx(1.0 / 0.9)
    with pytest.raises(BadInput):
        with_residue([0.3, 0.7], residue_limit + 0.01)


def test_ethanol_and_water_have_no_azeotrope_in_vacuum():
    (shift,) = shifts_between(of("ethanol", "water"), 5e3, 2e5)
    assert shift.appears_Pa == pytest.approx(1.1e4, rel=0.25)
    assert shift.vanishes_Pa is None
    assert np.all(np.diff(shift.mole_fraction[:, 0]) < 0.0)


def test_an_azeotrope_passes_a_charge_between_its_ends():
    (shift,) = shifts_between(of("acetonitrile", "water"), 2e4, 2e5)
    middle = 0.5 * (shift.mole_fraction[0] + shift.mole_fraction[-1])
    assert shift.passes(middle)
    assert not shift.passes([0.05, 0.95])


@pytest.mark.parametrize("pair", [(0.0, 1e5), (1e5, 1e5), (2e5, 1e5)])
def test_pressures_that_are_no_range_are_refused(pair):
    with pytest.raises(BadInput):
        shifts_between(of("ethanol", "water"), *pair)
