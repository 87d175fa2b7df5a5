"""A pair that stands as two liquids has one vapour, that of both layers, and smooth derivatives."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.equilibrium.arrays import scratch_for
from forerun.equilibrium.kernels import bubble_pressure
from forerun.equilibrium.liquid_liquid import miscibility_gap
from forerun.equilibrium.mixture import mixture_of
from forerun.still.boiling import boil
from forerun.still.boiling_table import boiling_arrays
from forerun.still.boiling_type import boiled_for
from forerun.substances.catalogue import find
from forerun.substances.liquids import liquid_arrays


class Pair:
    """Two liquids with working space.

    Args:
        names: of both.
    """

    def __init__(self, *names: str) -> None:
        substances = [find(name) for name in names]
        self.arrays = mixture_of(substances).arrays
        self.table = boiling_arrays(self.arrays, liquid_arrays(substances), two_liquids=True)
        self.at = boiled_for(1, self.table)

    def __call__(
        self, temperature: float, moles: np.ndarray, *, slopes: bool = False
    ) -> tuple[float, np.ndarray, np.ndarray, np.ndarray]:
        """Return pressure [Pa], vapour [-] and the derivatives of both."""
        at = self.at
        at.temperature[0] = temperature
        boil(0, 1, int(slopes), moles.reshape(1, -1).copy(), self.table, at)
        return float(at.over[0]), at.y[0].copy(), at.d_over[0].copy(), at.d_y[0].copy()

    def layers(self, temperature: float) -> tuple[np.ndarray, np.ndarray]:
        """Return both liquids by the equilibrium room."""
        gap = miscibility_gap(temperature, self.arrays)
        assert gap is not None
        return gap.first, gap.second

    def alone(self, x: np.ndarray, temperature: float) -> tuple[float, np.ndarray]:
        """Return pressure and vapour over one liquid by the equilibrium room."""
        y = np.zeros(2)
        return bubble_pressure(temperature, x, self.arrays, scratch_for(self.arrays), y), y


@pytest.fixture(scope="module", params=[("1-butanol", "water"), ("water", "1-butanol")], ids=str)
def pair(request: pytest.FixtureRequest) -> Pair:
    return Pair(*request.param)


@pytest.mark.parametrize("temperature", [301.15, 333.15, 365.4])
@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_vapour_over_two_layers_is_that_of_either(
    pair: Pair, temperature: float, share: float
) -> None:
    first, second = pair.layers(temperature)
    over, y, _, _ = pair(temperature, 0.7 * (share * first + (1.0 - share) * second))
    pressure, vapour = pair.alone(first, temperature)
    assert over == pytest.approx(pressure, rel=2e-3)
    assert y == pytest.approx(vapour, rel=2e-3)


@pytest.mark.parametrize("temperature", [301.15, 365.4])
def test_outside_the_gap_it_is_one_liquid(pair: Pair, temperature: float) -> None:
    for liquid, other in (pair.layers(temperature), pair.layers(temperature)[::-1]):
        x = liquid + 0.2 * (liquid - other) * liquid.min()
        x /= x.sum()
        over, y, _, _ = pair(temperature, 3.0 * x)
        pressure, vapour = pair.alone(x, temperature)
        assert over == pytest.approx(pressure, rel=1e-9)
        assert y == pytest.approx(vapour, rel=1e-9)


@pytest.mark.parametrize("names", [("hexane", "water"), ("water", "hexane")], ids=str)
def test_what_hardly_dissolves_boils_where_both_pressures_add_up(names: tuple[str, str]) -> None:
    """Dalton: each has the pressure of the pure liquid, but for what little is dissolved."""
    pair = Pair(*names)
    for temperature in (310.0, 333.0):
        pure = [pair.alone(x, temperature)[0] for x in np.eye(2)]
        over, y, _, _ = pair(temperature, np.array([0.3, 0.4]))
        assert over == pytest.approx(sum(pure), rel=1e-2)
        assert y == pytest.approx(np.array(pure) / sum(pure), rel=1e-2)


def _assert_slopes(pair: Pair, temperature: float, moles: np.ndarray) -> None:
    _, _, d_over, d_y = pair(temperature, moles, slopes=True)
    for k in range(3):
        step = 1e-4 if k == 2 else 1e-6 * moles[k]
        ends = []
        for sign in (1.0, -1.0):
            moved = moles.copy()
            if k < 2:
                moved[k] += sign * step
            over, y, _, _ = pair(temperature + (sign * step if k == 2 else 0.0), moved)
            ends.append(np.append(y, over))
        numeric = (ends[0] - ends[1]) / (2.0 * step)
        scale = 1.0 if k == 2 else 1.0 / moles[k]
        assert d_y[:, k] == pytest.approx(numeric[:-1], rel=1e-4, abs=1e-7 * scale), k
        assert d_over[k] == pytest.approx(numeric[-1], rel=1e-4, abs=1e-3 * scale), k


@pytest.mark.parametrize("logit", [-9.0, -4.5, -3.98, -3.5, -1.0, 0.0, 0.2, 0.8, 3.0])
def test_derivatives_of_a_pair_that_parts(pair: Pair, logit: float) -> None:
    turned = logit if pair.layers(333.15)[0][0] < 0.1 else -logit
    _assert_slopes(pair, 333.15, 0.8 * np.array([1.0, np.exp(-turned)]) / (1.0 + np.exp(-turned)))


@pytest.mark.parametrize("names", [("hexane", "water"), ("water", "hexane")], ids=str)
@pytest.mark.parametrize("logit", [-16.0, -8.5, -7.4, -6.9, -6.5, -5.0, 0.0, 4.0, 6.4, 7.0, 9.0])
def test_derivatives_where_next_to_nothing_dissolves(names: tuple[str, str], logit: float) -> None:
    _assert_slopes(
        Pair(*names), 325.0, 0.8 * np.array([1.0, np.exp(-logit)]) / (1.0 + np.exp(-logit))
    )


@pytest.mark.parametrize("names", [("hexane", "water"), ("water", "hexane")], ids=str)
def test_what_hardly_dissolves_follows_henry_up_to_saturation_and_stays_there(
    names: tuple[str, str],
) -> None:
    """A share of what saturates gives that share of the pressure; beyond it nothing changes."""
    pair = Pair(*names)
    scarce, plenty = names.index("hexane"), names.index("water")
    limit = float(np.exp(-abs(pair.table.gap_grid[2 + scarce])))  # moles per mole of the other
    assert 0.0 < limit < 2e-3

    def partial(ratio: float) -> np.ndarray:
        moles = np.full(2, 0.6)
        moles[scarce] *= ratio
        over, y, _, _ = pair(325.0, moles)
        return over * y

    saturated = partial(0.9)
    for ratio in (2.0 * limit, 0.05):
        assert partial(ratio) == pytest.approx(saturated, rel=2e-3)
    for share in (0.05, 0.3, 0.6):
        found = partial(share * limit)
        assert found[scarce] == pytest.approx(share * saturated[scarce], rel=2e-3)
        assert found[plenty] == pytest.approx(saturated[plenty], rel=2e-3)
    around = [partial(s * limit)[scarce] for s in np.geomspace(0.5, 2.2, 25)]
    assert np.all(np.diff(around) > -1e-9 * saturated[scarce])  # bends over, nowhere down
    assert partial(limit)[scarce] == pytest.approx(
        saturated[scarce] * np.exp(-0.1), rel=2e-3
    )  # half way through the bend, which is 0.8 wide in the logarithm: -part^2 0.4 with part 1/2
