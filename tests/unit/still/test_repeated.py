"""A distillate distilled again: nothing is lost between, and it becomes richer."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.still.inputs import Stop, Switch
from forerun.still.repeated import distil_again
from forerun.still.run import run_still
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


@pytest.mark.parametrize("times", [0, 11])
def test_no_run_at_all_or_too_many_are_refused(times: int) -> None:
    with pytest.raises(BadInput, match="from 1 to 10"):
        distil_again(still([340.0, 365.0]), times)


def test_once_is_the_run_itself_and_ten_times_are_done() -> None:
    short = still([340.0, 365.0], stop=Stop(3000.0, residue_m3=6e-5))
    (one,) = distil_again(short, 1)
    assert one.ledger.cuts_mol.tolist() == run_still(short).ledger.cuts_mol.tolist()
    assert 1 < len(distil_again(short, 10)) <= 10


def test_the_second_receiver_can_be_distilled_again_and_the_stop_goes_with_the_charge() -> None:
    """Half the charge stops at half the residue; a residue that does not distil stays behind."""
    run = still(
        [340.0, 365.0],
        stop=Stop(6000.0, residue_m3=2e-5),
        switches=(Switch(volume_m3=2e-5), Switch(volume_m3=7e-5)),
        diluent_mol=0.1,
        diluent_m3=1e-5,
    )
    first, second = distil_again(run, 2, cut=2)
    taken = first.cuts[1].amount_mol * first.cuts[1].mole_fraction
    assert second.ledger.charge_mol == pytest.approx(taken, rel=1e-12)
    share = float(taken.sum() / run.charge_mol.sum())
    alone = run_still(
        replace(
            run,
            charge_mol=taken,
            diluent_mol=0.0,
            diluent_m3=0.0,
            stop=Stop(6000.0, residue_m3=2e-5 * share),
        )
    )
    assert second.ledger.cuts_mol == pytest.approx(alone.ledger.cuts_mol, rel=1e-12)
    assert second.residue.volume_m3 == pytest.approx(2e-5 * share, rel=1e-3)
    # a receiver that there is not, and one that stayed empty, end it
    assert len(distil_again(run, 2, cut=9)) == 1
    empty = replace(run, switches=(Switch(time_s=1.0), Switch(volume_m3=7e-5)))
    assert len(distil_again(empty, 3, cut=1)) == 1


def test_without_a_stop_at_a_residue_the_next_has_none() -> None:
    run = still([340.0, 365.0], stop=Stop(2500.0))
    first, second = distil_again(run, 2)
    assert second.trace.time_s[-1] == first.trace.time_s[-1] == 2500.0
