"""A run costs hundreds of steps, whatever stands still or trickles in it: counted, not timed."""

from __future__ import annotations

import pytest

from forerun.forecast.drawing import as_member, draw_member, prior_of
from forerun.planning.candidates import even_points
from forerun.sheets.reading import read_form
from forerun.sheets.resolving import load, resolve
from forerun.still.from_sheet import Prepared
from forerun.still.from_sheet import prepare as prepare_sheet
from forerun.still.inputs import StillInput
from forerun.still.run import prepare, solve

# invented: acetone has gone, water comes slowly, and the head gets next to nothing for minutes
TRICKLE = {
    "charge": [
        {"substance": "acetone", "amount": "80 mL"},
        {"substance": "water", "amount": "40 mL"},
    ],
    "rig": {"flask": "250 mL", "column": "none", "bath": "silicone oil", "coolant": "8 °C"},
    "programme": {
        "pressure": "760 mmHg",
        "bath": [["0 s", "20 °C"], ["1200 s", "88 °C"], ["8430 s", "172 °C"]],
        "stop": {"residue": "12 mL", "time": "13830 s"},
    },
}


def _tries(given: StillInput) -> int:
    """Return steps taken and refused."""
    numbers = solve(prepare(given)).record.numbers
    return int(numbers[3] + numbers[4])


def _members(prepared: Prepared, count: int) -> list[StillInput]:
    prior = prior_of(prepared)
    return [
        as_member(draw_member(prior, z)) for z in even_points(len(prior.unknowns), count, seed=1)
    ]


@pytest.mark.parametrize("plates", [0, 1, 2])
def test_a_head_that_gets_next_to_nothing_costs_no_steps(plates: int) -> None:
    """Some 70,000 steps went into these minutes as long as an onset was overshot each time."""
    rig = {**TRICKLE["rig"], "plates": plates}
    if plates:
        rig |= {"holdup": f"{plates} mL"}
    given = prepare_sheet(resolve(read_form({**TRICKLE, "rig": rig}))).still
    assert _tries(given) < 3000
    assert _tries(as_member(given)) < 3000


@pytest.mark.parametrize(
    "name",
    [
        "simple-still",
        "reduced-pressure",
        "spirit",
        "workshop-blend",
        "carry-water-out",
        "total-reflux-start",
    ],
)
def test_no_member_of_an_example_creeps(name: str) -> None:
    tries = [_tries(given) for given in _members(prepare_sheet(load(name)), 24)]
    # where water is carried out, the head may stand on the border of one liquid and two for
    # half a minute: one member of sixty takes 2,500 to 5,500 steps there, 20 to 40 ms
    assert max(tries) < (6000 if name == "carry-water-out" else 2500)
    assert sum(tries) < 24 * 1000
