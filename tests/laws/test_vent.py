"""A condenser that is only just full: what the vent has taken is never drawn back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forerun.sheets.examples import example
from forerun.sheets.resolving import load
from forerun.still.from_sheet import prepare
from forerun.still.inputs import StillInput
from forerun.still.results import Run
from forerun.still.run import run_still


def _with_duty(given: StillInput, duty_W: float) -> Run:
    return run_still(replace(given, condenser_limit_W=duty_W))


@pytest.mark.parametrize("tolerance", [1e-3, 1e-4])
def test_a_vent_gives_and_never_takes(tolerance: float) -> None:
    """From a duty at which nothing passes down to one at which a little does, in small steps."""
    given = replace(prepare(load(example("simple-still"))).still, tolerance=tolerance)
    enough, little = 2000.0, 1.0
    assert _with_duty(given, enough).ledger.vent_mol.sum() == 0.0
    for _ in range(20):
        middle = 0.5 * (enough + little)
        if _with_duty(given, middle).ledger.vent_mol.sum() == 0.0:
            enough = middle
        else:
            little = middle
    passed = 0
    for duty in np.linspace(1.002, 0.97, 60) * enough:
        run = _with_duty(given, float(duty))
        assert np.all(run.ledger.vent_mol >= 0.0)
        assert run.ledger.closure < 1e-9
        assert run.energy.closure < 1e-9
        passed += bool(run.ledger.vent_mol.sum() > 0.0)
    assert 10 < passed < 60
