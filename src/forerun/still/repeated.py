"""Simple distillation done again and again: the distillate of one run is the charge of the next."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from forerun.core.errors import BadInput
from forerun.still.inputs import StillInput
from forerun.still.results import Run
from forerun.still.run import run_still

__all__ = ["distil_again"]

_MOST = 10


def distil_again(given: StillInput, times: int, cut: int = 1) -> tuple[Run, ...]:
    """Forecast a sequence of runs, each charged with a cut of the one before.

    Args:
        given: the first run; all others have its rig and programme.
        times: how many runs, 1 to 10 [-].
        cut: number of the receiver that is distilled again, from 1 [-].

    Returns:
        The runs in order; fewer where a receiver stayed empty. A stop at a residue is brought
        down in proportion to the charge.

    Not a published model: a sequence of runs; nothing is lost between them.

    Raises:
        BadInput: a number of runs outside its range.
        CalculationFailed: a run did not arrive.
    """
    if not 1 <= times <= _MOST:
        raise BadInput("times", times, f"a number from 1 to {_MOST}")
    runs = [run_still(given)]
    charge = given.charge_mol.sum()
    while len(runs) < times and len(runs[-1].cuts) >= cut:
        taken = runs[-1].cuts[cut - 1]
        if not taken.amount_mol > 0.0:
            break
        moles = np.maximum(taken.amount_mol * taken.mole_fraction, 0.0)
        share = float(moles.sum() / charge)
        stop = given.stop
        if stop.residue_m3 is not None:
            stop = replace(stop, residue_m3=stop.residue_m3 * share)
        again = replace(given, charge_mol=moles, diluent_mol=0.0, diluent_m3=0.0, stop=stop)
        runs.append(run_still(again))
    return tuple(runs)
