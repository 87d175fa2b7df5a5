"""Values and derivatives of all streams at one state: what `linearise` writes."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from forerun.numerics.signatures import record
from forerun.still.boiling_type import ENTHALPY_UNIT, REFERENCE_TEMPERATURE
from forerun.substances.liquids import LiquidArrays

__all__ = ["SLOPES_TYPE", "Slopes", "liquid_enthalpy", "slopes_for"]

Floats = npt.NDArray[np.float64]


class Slopes(NamedTuple):
    """Values and derivatives at one state; S stages, B = C + 1.

    Args:
        up: (S, B) vapour streams [mol/s, E/s].
        down: (S, B) liquid streams [mol/s, E/s].
        d_up: (S, B, B) derivatives of `up` [1/s, E/mol/s, mol/E/s].
        d_down: (S, B, B) derivatives of `down` [1/s, E/mol/s, mol/E/s].
        d_up_pressure: (S, B) derivative of `up` in the pressure on the stage [mol/s/Pa, E/s/Pa].
        temperature: (S,) [K].
        d_temperature: (S, B) derivative of `temperature` in the state [K/mol, K/E].
        d_supplied: (B,) derivative of the heat from the bath in the pot's state [E/mol/s, 1/s].
        reflux: (B, B) derivative of the reflux in the head's state [1/s, E/mol/s, mol/E/s].
        cold: (C,) enthalpy of what drips from the condenser [E/mol].
        head: (5,) share condensed [-], its derivative in the heat asked for [s/E], one place not
            used, heat asked of the condenser [E/s], heat from the bath per kelvin [E/s/K].
        heat: (4,) from the bath [W] and its derivatives in the pot's volume, its temperature and
            the bath's [W/m3, W/K].
        empty: (0, B) no derivatives wanted [-].
        response: (B,) working space [any].
        back: (C,) share of each component of the condensate that runs back [-].
    """

    up: Floats
    down: Floats
    d_up: Floats
    d_down: Floats
    d_up_pressure: Floats
    temperature: Floats
    d_temperature: Floats
    d_supplied: Floats
    reflux: Floats
    cold: Floats
    head: Floats
    heat: Floats
    empty: Floats
    response: Floats
    back: Floats


SLOPES_TYPE = record(
    Slopes,
    *("S B", "S B", "S B B", "S B B", "S B", "S", "S B"),
    *("B", "B B", "C", "5", "4", "0 B", "B", "C"),
)


def liquid_enthalpy(liquids: LiquidArrays, temperature: float) -> Floats:
    """Return the enthalpy of the liquids at one temperature, of what drips for one.

    Args:
        liquids: their heat capacities [J/mol/K].
        temperature: [K].

    Returns:
        (C,) [`ENTHALPY_UNIT`/mol]. Valid where the heat capacities are.

    Derivation: heat capacity integrated from the reference temperature.
    """
    t = temperature - REFERENCE_TEMPERATURE
    capacities = liquids.heat_capacity.tolist()
    return np.array([t * (c0 + 0.5 * c1 * t) / ENTHALPY_UNIT for c0, c1 in capacities])


def slopes_for(stages: int, components: int, liquids: LiquidArrays, coolant: float) -> Slopes:
    """Return space for the slopes of a still, with the enthalpy of the condensate filled in.

    Args:
        stages: pot, plates and head, >= 2 [-].
        components: C [-].
        liquids: their heat capacities [J/mol/K].
        coolant: temperature of what drips from the condenser [K].

    Returns:
        The space, zero but for `cold` [E/mol]. Valid where the heat capacities are.

    Derivation: storage; `cold` as in `liquid_enthalpy`.
    """
    b = components + 1
    return Slopes(
        up=np.zeros((stages, b)),
        down=np.zeros((stages, b)),
        d_up=np.zeros((stages, b, b)),
        d_down=np.zeros((stages, b, b)),
        d_up_pressure=np.zeros((stages, b)),
        temperature=np.zeros(stages),
        d_temperature=np.zeros((stages, b)),
        d_supplied=np.zeros(b),
        reflux=np.zeros((b, b)),
        cold=liquid_enthalpy(liquids, coolant),
        head=np.zeros(5),
        heat=np.zeros(4),
        empty=np.zeros((0, b)),
        response=np.zeros(b),
        back=np.zeros(components),
    )
