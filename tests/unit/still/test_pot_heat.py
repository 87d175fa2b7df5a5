"""Heat from the bath into the pot: the wall that is wetted, and the wall that is left."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from forerun.glassware.flasks import boiled_again, wetting_exponent
from forerun.numerics.compiled import kernel
from forerun.numerics.signatures import float64, void
from forerun.still.inputs import Stop
from forerun.still.pot_heat import heat_from_bath
from forerun.still.rig import RIG_TYPE, RigArrays, rig_arrays
from forerun.still.slopes import SLOPES_TYPE, Slopes, slopes_for
from laws.stills import still

FLASK = 1.6e-4


@kernel(void(float64, float64, float64, RIG_TYPE, SLOPES_TYPE))
def _look(volume: float, temperature: float, bath: float, rig: RigArrays, at: Slopes) -> None:
    heat_from_bath(volume, temperature, bath, rig, at)


class Pot:
    """A pot of which volume, temperature and bath can be chosen."""

    def __init__(self, flask_m3: float | None = FLASK, pot_loss_W_K: float = 0.12) -> None:
        given = still(
            [340.0, 365.0], stop=Stop(time_s=1.0), flask_m3=flask_m3, pot_loss_W_K=pot_loss_W_K
        )
        self.rig = rig_arrays(given)
        self.at = slopes_for(2, 2, given.liquids, 288.15)

    def heat(self, volume: float, temperature: float, bath: float) -> np.ndarray:
        """Return the heat [W] and its derivatives [W/m3, W/K, W/K]."""
        _look(volume, temperature, bath, self.rig, self.at)
        return self.at.heat.copy()


@pytest.fixture(scope="module")
def pot() -> Pot:
    return Pot()


@pytest.mark.parametrize("share", [0.02, 0.1, 0.35, 0.8, 1.05])
@pytest.mark.parametrize("bath", [330.0, 372.0, 390.0, 450.0])
def test_heat_is_what_both_parts_of_the_wall_pass(pot: Pot, share: float, bath: float) -> None:
    rig, temperature = pot.rig, 370.0
    volume = share * rig.fill
    wetted = share**rig.wetting * volume / (volume + rig.dry)
    through = rig.bath_conductance * (bath - temperature)
    lost = rig.loss[0] * (temperature - rig.room)
    expected = wetted * through + boiled_again(max(1.0 - wetted, 0.0) * through, lost)
    assert pot.heat(volume, temperature, bath)[0] == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("share", [0.003, 0.1, 0.5, 0.97, 1.1])
@pytest.mark.parametrize(("temperature", "bath"), [(293.2, 400.0), (350.0, 352.0), (371.0, 420.0)])
def test_derivatives_by_differences(
    pot: Pot, share: float, temperature: float, bath: float
) -> None:
    at = np.array([share * pot.rig.fill, temperature, bath])
    found = pot.heat(*at)[1:]
    for k, step in enumerate((1e-6 * pot.rig.fill, 1e-4, 1e-4)):
        up, down = at.copy(), at.copy()
        up[k] += step
        down[k] -= step
        slope = (pot.heat(*up)[0] - pot.heat(*down)[0]) / (2.0 * step)
        assert found[k] == pytest.approx(slope, rel=1e-4, abs=1e-7), k


def test_what_boils_again_is_never_more_than_what_condensed(pot: Pot) -> None:
    for share in np.geomspace(1e-4, 1.0, 30):
        for bath in (371.0, 400.0, 480.0):
            volume = share * pot.rig.fill
            wetted = share**pot.rig.wetting * volume / (volume + pot.rig.dry)
            back = pot.heat(volume, 370.0, bath)[0] - pot.rig.bath_conductance * wetted * (
                bath - 370.0
            )
            assert -1e-9 <= back <= pot.rig.loss[0] * (370.0 - pot.rig.room)


def test_a_dry_pot_gets_no_more_than_it_loses(pot: Pot) -> None:
    assert 0.0 < pot.heat(0.0, 370.0, 450.0)[0] <= pot.rig.loss[0] * (370.0 - pot.rig.room)


def test_a_hotter_bath_never_gives_less(pot: Pot) -> None:
    for share in (0.05, 0.4, 0.9):
        heats = [pot.heat(share * pot.rig.fill, 370.0, b)[0] for b in np.linspace(340, 480, 71)]
        assert all(b > a for a, b in pairwise(heats))


def test_no_kink_where_the_wall_begins_to_dry_and_where_the_bath_passes_the_pot(pot: Pot) -> None:
    near = 1e-6
    full = pot.rig.fill * (1.0 + pot.rig.dry / pot.rig.fill / pot.rig.wetting)
    for low, high in (
        (pot.heat(full * (1 - near), 370.0, 420.0), pot.heat(full * (1 + near), 370.0, 420.0)),
        (pot.heat(3e-5, 370.0, 370.0 - near), pot.heat(3e-5, 370.0, 370.0 + near)),
    ):
        per_volume = pot.rig.bath_conductance / pot.rig.fill
        scale = np.array([per_volume, 1.0, 1.0])
        assert low[1:] / scale == pytest.approx(high[1:] / scale, rel=1e-3, abs=1e-3)


def test_a_flask_without_a_size_keeps_the_shape_of_its_liquid() -> None:
    assert Pot(flask_m3=None).rig.wetting == pytest.approx(2.0 / 3.0)
    known = Pot()
    assert known.rig.wetting == pytest.approx(wetting_exponent(FLASK, known.rig.fill))
