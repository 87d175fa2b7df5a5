"""A simple still repeated: the first half that came over is distilled again, and again."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput, CalculationFailed
from forerun.sheets.model import RunSheet
from forerun.sheets.variants import recharged, variant
from forerun.still.inputs import StillInput, Stop
from forerun.still.results import Run
from forerun.still.run import run_still

__all__ = ["Round", "rounds_of"]

Floats = npt.NDArray[np.float64]

_ROUNDS = 5  # distillations at most
_SMALLEST = 5e-6  # m3, below which nobody distils it again; a judgement, no source
_SHARE = 0.5  # of the flask that is taken over
_REACHED = 0.9  # of that half that must have come over, or the round was not finished


@dataclass(frozen=True, slots=True)
class Round:
    """One distillation of a series in which the first half is distilled again.

    Args:
        number: from 1.
        purity: of the component that the first vapour is richest in, in the receiver [mol/mol].
        share: of that component as it was charged at the very start [-].
        volume_m3: in the receiver [m3].
        lost: share of that component that went into this round and did not come over [-].
    """

    number: int
    purity: float
    share: float
    volume_m3: float
    lost: float


def rounds_of(
    sheet: RunSheet, first: StillInput, followed: int, still_for: Callable[[RunSheet], StillInput]
) -> tuple[Round, ...]:
    """Distil again and again, each time only the first half of what is in the flask.

    Every repetition has a flask that fits what is left and a bath made for it: in the first flask
    so little hardly boils, since the glass takes the heat, and the run would end by its clock.

    Args:
        sheet: of the charge.
        first: its simple still.
        followed: index of the component that is followed.
        still_for: gives the simple still of a sheet.

    Returns:
        At most five, fewer where less than 5 mL would be distilled or a half did not come over
        in the time of its run.
    """
    given, charged = first, first.charge_mol
    at_start = float(charged[followed])
    found: list[Round] = []
    for number in range(1, _ROUNDS + 1):
        volume = _volume(first, charged)
        if volume < _SMALLEST:
            break
        try:
            if number > 1:
                given = replace(still_for(_smaller(sheet, first, charged)), charge_mol=charged)
            run = _first_half(given, volume)
        except (BadInput, CalculationFailed):
            break
        over, collected = run.ledger.cuts_mol, float(run.trace.distillate_volume_m3[-1])
        if collected < _REACHED * _SHARE * volume:
            break
        kept = float(over[followed])
        pure = kept / float(over.sum())
        lost = 1.0 - kept / float(charged[followed])
        found.append(Round(number, pure, kept / at_start, collected, lost))
        charged = over
    return tuple(found)


def _first_half(given: StillInput, volume: float) -> Run:
    stop = Stop(given.stop.time_s, residue_m3=(1.0 - _SHARE) * volume)
    return run_still(replace(given, stop=stop))


def _smaller(sheet: RunSheet, first: StillInput, charged: Floats) -> RunSheet:
    """Return the sheet with what is left, in the smallest usual flask that it fits."""
    return variant(recharged(sheet, charged * _molar_volumes(first)), rig={"flask": None})


def _volume(given: StillInput, moles: Floats) -> float:
    return float(moles @ _molar_volumes(given))


def _molar_volumes(given: StillInput) -> Floats:
    t = given.room_temperature_K - 293.15
    v = given.liquids.molar_volume
    found: Floats = v[:, 0] + t * (v[:, 1] + t * v[:, 2])
    return found
