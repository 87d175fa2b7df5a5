"""A doubt that is many times what it is of is refused, wherever it stands in the sheet."""

from __future__ import annotations

from typing import Any

import pytest

from forerun.core.errors import BadInput
from forerun.equilibrium.mixture import mixture_of
from forerun.forecast.unknowns import unknowns_of
from forerun.sheets.resolving import load


def _sigma(first: str, **tables: Any) -> dict[str, float]:
    charge = [{"substance": "heptane", "amount": first}, {"substance": "toluene", "amount": "9 mL"}]
    sheet = load({"charge": charge, **tables})
    mixture = mixture_of([portion.substance for portion in sheet.charge])
    return {one.name: one.sigma for one in unknowns_of(sheet, mixture)}


def test_three_times_the_value_is_the_most() -> None:
    assert _sigma("10 ± 29.9 mL")["charge:heptane"] == pytest.approx(2.99)
    with pytest.raises(BadInput, match=r"charge:heptane.*at most 3 times"):
        _sigma("10 ± 30.1 mL")


@pytest.mark.parametrize("amount", ["0.001 ± 1 mL", "1e-9 ± 1 mL"])
def test_an_amount_lost_in_its_doubt_is_refused_in_one_sentence(amount: str) -> None:
    with pytest.raises(BadInput):
        _sigma(amount)


def test_the_glass_is_held_to_it_too() -> None:
    with pytest.raises(BadInput, match="heat_loss"):
        _sigma("10 mL", rig={"heat_loss": "0.001 ± 1 W/K"})
