"""What stands on the stages is the run's own: halted at moments, the engine arrives at the same."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.planning.aims import goal_of
from forerun.planning.comparison import Way, ways_of
from forerun.sheets.resolving import load
from forerun.still.inside import Inside, inside_of


@pytest.fixture(scope="module")
def column() -> Way:
    sheet = load("class-pair")
    return max(ways_of(sheet, goal_of(sheet)).ways, key=lambda way: way.plates)


@pytest.fixture(scope="module")
def inside(column: Way) -> Inside:
    return inside_of(column.given, column.run.trace.time_s[::9])


def test_the_pot_is_that_of_the_trace(column: Way, inside: Inside) -> None:
    told = column.run.trace.pot_mole_fraction[::9]
    assert np.abs(inside.mole_fraction[:, 0] - told).max() < 2e-3


def test_not_a_millilitre_is_lost_between_stages_and_receivers(column: Way, inside: Inside) -> None:
    over = column.run.trace.distillate_volume_m3[::9]
    whole = inside.stage_m3.sum(axis=1) + over
    assert whole == pytest.approx(np.full(whole.size, whole[0]), rel=1e-3)


def test_at_the_end_column_and_pot_hold_what_the_ledger_says(column: Way) -> None:
    end = inside_of(column.given, np.array([0.0, column.run.trace.time_s[-1]]))
    ledger = column.run.ledger
    assert end.stage_mol[-1, 0] == pytest.approx(ledger.residue_mol, rel=5e-3)
    assert end.stage_mol[-1, 1:].sum(axis=0) == pytest.approx(ledger.holdup_mol, rel=2e-2)


def test_the_lower_boiler_is_richer_on_every_higher_plate(inside: Inside) -> None:
    middle = inside.mole_fraction[inside.time_s.size // 2, :, 0]
    steps = np.diff(middle[:-1])
    assert (steps > -1e-6).all() or (steps < 1e-6).all()


def test_a_wait_for_a_steady_column_cannot_be_followed(column: Way) -> None:
    waits = replace(column.given, steady_K_s=1e-3, steady_for_s=60.0)
    with pytest.raises(BadInput, match="until steady"):
        inside_of(waits, np.array([0.0, 60.0]))
