"""The still's own arrangement of the equilibrium is the same as the equilibrium room's."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.equilibrium.arrays import scratch_for
from forerun.equilibrium.kernels import bubble_pressure
from forerun.equilibrium.mixture import mixture_of
from forerun.still.boiling import boil
from forerun.still.boiling_table import boiling_arrays
from forerun.still.boiling_type import ENTHALPY_UNIT, boiled_for
from forerun.substances.catalogue import find
from forerun.substances.liquids import liquid_arrays

NAMES = ["acetone", "methanol", "acetic acid", "water"]
C = len(NAMES)


class Boiling:
    """One mixture with its working space."""

    def __init__(self) -> None:
        substances = [find(name) for name in NAMES]
        self.given = mixture_of(substances).arrays
        self.mixture = boiling_arrays(self.given, liquid_arrays(substances))
        self.at = boiled_for(1, self.mixture)

    def __call__(
        self, temperature: float, moles: np.ndarray, *, slopes: bool = True
    ) -> tuple[float, np.ndarray, np.ndarray, np.ndarray]:
        at = self.at
        at.temperature[0] = temperature
        boil(0, 1, int(slopes), moles.reshape(1, -1).copy(), self.mixture, at)
        return float(at.over[0]), at.y[0].copy(), at.d_over[0].copy(), at.d_y[0].copy()


@pytest.fixture(scope="module")
def boiling() -> Boiling:
    return Boiling()


@pytest.mark.parametrize("temperature", [260.0, 331.0, 361.3, 640.0])
def test_pressure_and_vapour_are_those_of_the_equilibrium_room(
    boiling: Boiling, temperature: float
) -> None:
    n = np.array([0.4, 1.1, 0.7, 0.2])
    over, y, _, _ = boiling(temperature, n)
    expected = np.zeros(C)
    pressure = bubble_pressure(
        temperature, n / n.sum(), boiling.given, scratch_for(boiling.given), expected
    )
    assert over == pytest.approx(pressure, rel=1e-12)
    assert y == pytest.approx(expected, rel=1e-12)


def _slope(boiling: Boiling, temperature: float, n: np.ndarray, k: int) -> np.ndarray:
    """Return by differences how vapour and pressure change with moles k, or in the end with T."""
    step = 1e-4 if k == C else 1e-5
    values = []
    for sign in (1.0, -1.0):
        moved = n.copy()
        if k < C:
            moved[k] += sign * step
        shift = sign * step if k == C else 0.0
        over, y, _, _ = boiling(temperature + shift, moved, slopes=False)
        values.append(np.append(y, over))
    return (values[0] - values[1]) / (2.0 * step)


@pytest.mark.parametrize("temperature", [240.0, 331.0, 361.3, 640.0])
def test_derivatives_are_those_of_differences(boiling: Boiling, temperature: float) -> None:
    n = np.array([0.4, 1.1, 0.7, 0.2])
    _, _, d_pressure, d_y = boiling(temperature, n)
    for k in range(C + 1):
        numeric = _slope(boiling, temperature, n, k)
        assert d_y[:, k] == pytest.approx(numeric[:-1], rel=1e-5, abs=1e-8)
        assert d_pressure[k] == pytest.approx(numeric[-1], rel=1e-5)


def test_a_trace_below_zero_gives_a_flow_that_restores_it(boiling: Boiling) -> None:
    _, y, _, _ = boiling(340.0, np.array([0.4, 1.1, -1e-9, 0.2]))
    assert y[2] < 0.0
    assert np.all(np.isfinite(boiling(340.0, -np.ones(C))[1]))


@pytest.mark.parametrize("less", [-1e-7, -1e-3, -3e-3])
def test_less_than_nothing_holds_the_pressure_down_by_no_more_than_a_thousandth_of_its_own(
    boiling: Boiling, less: float
) -> None:
    n = np.array([0.4, 1.1, 0.7, less])
    over, y, d_pressure, d_y = boiling(340.0, n)
    without, _, _, _ = boiling(340.0, np.array([0.4, 1.1, 0.7, 0.0]))
    alone, _, _, _ = boiling(340.0, np.array([0.0, 0.0, 0.0, 1.0]))
    assert y[3] < 0.0
    assert without - 1.05e-3 * alone < over < without
    for k in (0, 1, 2, C):  # in its own amount the slopes of the others are those above zero
        numeric = _slope(boiling, 340.0, n, k)
        assert d_y[:, k] == pytest.approx(numeric[:-1], rel=1e-4, abs=1e-7)
        assert d_pressure[k] == pytest.approx(numeric[-1], rel=1e-4, abs=1e-2)


def test_a_residue_thins_the_liquids_of_the_pot_and_no_other() -> None:
    """Raoult for an ideal diluent: the pressure is n/(n + d) of that of n moles alone."""
    substances = [find(name) for name in NAMES]
    given, heats = mixture_of(substances).arrays, liquid_arrays(substances)
    n = np.array([[0.4, 1.1, 0.7, 0.2]] * 2)
    plain, thinned = (boiling_arrays(given, heats, diluent) for diluent in (0.0, 0.6))
    over = []
    for table in (plain, thinned):
        at = boiled_for(2, table)
        at.temperature[:] = 340.0
        boil(0, 2, 0, n.copy(), table, at)
        over.append((at.over.copy(), at.y.copy()))
    (one, y_one), (other, y_other) = over
    assert other[0] / one[0] == pytest.approx(2.4 / 3.0, rel=1e-2)  # the acid's dimers bend it
    assert other[1] == pytest.approx(one[1], rel=1e-12)
    assert y_other[1] == pytest.approx(y_one[1], rel=1e-12)


@pytest.mark.parametrize("temperature", [150.0, 179.9, 298.15, 400.3, 699.9, 710.0])
def test_latent_heats_are_those_of_watson_and_stay_at_their_ends(temperature: float) -> None:
    substances = [find(name) for name in NAMES]
    heats = liquid_arrays(substances)
    boiling = Boiling()
    boiling(temperature, np.ones(C))
    latent = boiling.at.latent[0, 0] * ENTHALPY_UNIT
    t = min(max(temperature, 180.0), 700.0)
    for found, (value, reference, critical, exponent) in zip(
        latent, heats.latent_heat, strict=True
    ):
        below = max(critical - t, 1.0) / (critical - reference)
        assert found == pytest.approx(value * below**exponent, rel=1e-6)
