"""Two liquids below and on plates: the run arrives, and nothing reads hotter than can boil there.

Each of these stopped: less than nothing of the first component, as errors leave it, gathered in
the head, where an activity coefficient of a thousand made it hold the pressure down.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from forerun.sheets.resolving import load
from forerun.still.from_sheet import prepare as from_sheet
from forerun.still.run import run_still
from forerun.substances.correlations import boiling_temperature

_LAGGED = "vacuum jacket"
# what boils first [mL], water [mL], rig, programme
STOPPED: list[tuple[str, int, int, dict[str, Any], dict[str, Any]]] = [
    ("toluene", 21, 39, {"plates": 15, "holdup": "1 mL", "lagging": _LAGGED}, {"reflux_ratio": 2}),
    ("triethylamine", 56, 104, {"plates": 3}, {"reflux_ratio": 2}),
    (
        "dichloromethane",
        104,
        56,
        {"plates": 3, "holdup": "15 mL", "lagging": _LAGGED},
        {"reflux_ratio": 0.5},
    ),
    (
        "ethyl acetate",
        50,
        50,
        {"plates": 3, "holdup": "3 mL", "lagging": _LAGGED},
        {"reflux_ratio": 1, "pressure": "400 mbar"},
    ),
    ("ethyl acetate", 56, 104, {"plates": 5, "lagging": _LAGGED}, {"reflux_ratio": 2}),
    (
        "butan-2-one",
        5,
        95,
        {"plates": 15, "holdup": "6 mL", "lagging": "foil"},
        {"reflux_ratio": 0.5},
    ),
    (
        "tert-butyl methyl ether",
        104,
        56,
        {"plates": 2, "lagging": "lagged", "bath": "silicone oil"},
        {"reflux_ratio": 2},
    ),
    (
        "chloroform",
        5,
        95,
        {"plates": 10, "holdup": "15 mL"},
        {"reflux_ratio": 1, "pressure": "400 mbar"},
    ),
]


@pytest.mark.parametrize(("name", "amount", "water", "rig", "programme"), STOPPED)
def test_a_column_over_two_liquids_arrives(
    name: str, amount: int, water: int, rig: dict[str, Any], programme: dict[str, Any]
) -> None:
    sheet = load(
        {
            "charge": [
                {"substance": name, "amount": f"{amount} mL"},
                {"substance": "water", "amount": f"{water} mL"},
            ],
            "rig": {"flask": "250 mL", **rig},
            "programme": programme,
        }
    )
    given = from_sheet(sheet).still
    run = run_still(given)
    charge = given.charge_mol.sum()
    assert run.ledger.closure < 1e-9
    assert run.energy.closure < 1e-9
    for moles in (run.ledger.residue_mol, run.ledger.holdup_mol, *run.ledger.cuts_mol):
        assert np.all(moles >= -1e-6 * charge)
    assert np.all(run.ledger.vent_mol >= 0.0)
    highest = float(given.pressure.max()) + given.plates * given.pressure_drop_Pa
    hottest = max(
        boiling_temperature(portion.substance, highest, "pressure").temperature
        for portion in sheet.charge
    )
    assert run.trace.head_temperature_K.max() < hottest + 0.5
