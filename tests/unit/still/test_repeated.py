"""A distillate distilled again: nothing is lost between, and it becomes richer."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.still.inputs import Stop
from forerun.still.repeated import distil_again
from laws.stills import still


def test_the_second_run_is_charged_with_the_first_distillate() -> None:
    run = still([340.0, 365.0], stop=Stop(5400.0, residue_m3=6e-5))
    first, second = distil_again(run, 2)
    taken = first.cuts[0].amount_mol * first.cuts[0].mole_fraction
    assert second.ledger.charge_mol == pytest.approx(taken, rel=1e-12)
    assert second.cuts[0].mole_fraction[0] > first.cuts[0].mole_fraction[0] > 0.5


def test_an_empty_receiver_ends_the_sequence() -> None:
    run = still([340.0, 365.0], bath_temperature=np.array([[0.0, 330.0]]))
    assert len(distil_again(run, 3)) == 1


def test_no_run_at_all_is_refused() -> None:
    with pytest.raises(BadInput):
        distil_again(still([340.0, 365.0]), 0)
