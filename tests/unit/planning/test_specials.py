"""Each special of the trade: said where the figures give cause, and not otherwise."""

from __future__ import annotations

from typing import Any

import pytest

from forerun.planning.aims import goal_of
from forerun.planning.analysis import analysed
from forerun.planning.specials import specials_of
from forerun.sheets.resolving import load


def said(charge: dict[str, str], pressure: float = 101325.0, **tables: Any) -> str:
    rows = [{"substance": s, "amount": a} for s, a in charge.items()]
    sheet = load({"charge": rows, **tables})
    return " ".join(specials_of(analysed(sheet, goal_of(sheet), pressure)))


@pytest.mark.parametrize(
    ("charge", "tables", "words"),
    [
        ({"pentane": "50 mL"}, {"rig": {"coolant": "20 °C"}}, "receiver in ice"),
        ({"acetic acid": "50 mL"}, {}, "neutralise"),
        ({"chloroform": "50 mL"}, {"rig": {"column": "steel sponge 30 cm"}}, "steel sponge"),
        ({"ethanol": "50 mL"}, {"aim": {"substance": "ethanol", "purity": "99.5 wt%"}}, "drying"),
        ({"styrene": "50 mL"}, {}, "inhibitor"),
        ({"heptane": "50 mL"}, {"safety": {"involatile": True}}, "no product"),
    ],
)
def test_what_is_said(charge: dict[str, str], tables: dict[str, Any], words: str) -> None:
    assert words in said(charge, **tables)


def test_foam_under_vacuum() -> None:
    rig = {"rig": {"flask": "100 mL"}}
    assert "a third" in said({"anisole": "50 mL"}, 3000.0, **rig)
    assert "a third" not in said({"anisole": "30 mL"}, 3000.0, **rig)


def test_nothing_special() -> None:
    assert said({"heptane": "50 mL"}) == ""
