"""The three cases on which the engine is measured: ordinary solvents, all three models at work."""

from __future__ import annotations

import numpy as np

from forerun.equilibrium.mixture import mixture_of
from forerun.still.inputs import StillInput, Stop, Switch
from forerun.substances.catalogue import find
from forerun.substances.liquids import liquid_arrays

__all__ = ["CASES", "engine_case"]

CASES = {
    "2 components, no plates": (("methanol", "water"), 0, 0.0),
    "3 components, 8 plates": (("hexane", "ethyl acetate", "toluene"), 8, 2.0),
    "5 components, 20 plates": (
        ("acetone", "ethyl acetate", "ethanol", "toluene", "1-butanol"),
        20,
        3.0,
    ),
}


def engine_case(name: str, tolerance: float = 1e-4) -> StillInput:
    """Return one of the cases: equal moles, an oil bath on a ramp, lagged glass.

    Args:
        name: a key of `CASES`.
        tolerance: of the integrator.

    Returns:
        The run.
    """
    names, plates, reflux = CASES[name]
    substances = [find(n) for n in names]
    mixture = mixture_of(substances)
    count = len(names)
    return StillInput(
        names=names,
        mixture=mixture.arrays,
        liquids=liquid_arrays(substances),
        charge_mol=np.full(count, 1.2 / count),
        plates=plates,
        holdup_m3=0.5e-6 * plates,
        bath_temperature=np.array([[0.0, 293.15], [1500.0, 378.15], [9000.0, 433.15]]),
        pressure=np.array([[0.0, 101325.0]]),
        reflux_ratio=np.array([[0.0, reflux]]),
        pressure_drop_Pa=20.0,
        switches=(Switch(volume_m3=10e-6), Switch(volume_m3=30e-6)),
        stop=Stop(time_s=9000.0, residue_m3=5e-6),
        tolerance=tolerance,
    )
