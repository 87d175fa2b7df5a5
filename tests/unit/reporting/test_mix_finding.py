"""An azeotrope that may exist is denied in no answer, and said in the same words in all."""

from __future__ import annotations

import pytest

from forerun.app.advise import advise
from forerun.app.mix import mix


@pytest.mark.parametrize("names", [("toluene", "1,4-dioxane"), ("ethanol", "2-pentanone")])
def test_a_pair_that_may_have_one_is_not_denied_it(names: tuple[str, str]) -> None:
    found = mix(*names)
    (possible,) = found.possible
    likely = f"(probability {100 * possible.probability:.0f} %)"
    assert "no azeotrope found" not in found.finding
    assert "may or may not have a minimum azeotrope" in found.finding
    assert likely in found.finding
    assert any(likely in sentence for sentence in found.warnings)


def test_advice_says_it_in_the_same_words() -> None:
    rows = [{"substance": name, "amount": "50 mL"} for name in ("toluene", "1,4-dioxane")]
    said = advise({"charge": rows}, members=2).warnings
    first = mix("toluene", "1,4-dioxane").warnings[0]
    assert first in said


def test_of_three_the_likeliest_set_is_named() -> None:
    found = mix("ethyl acetate", "methyl propionate", "toluene").finding
    assert "ethyl acetate and methyl propionate may or may not have" in found


def test_what_is_certain_is_said_flatly() -> None:
    assert "no azeotrope found" in mix("hexane", "toluene").finding
    assert "no still parts these two" in mix("ethanol", "ethyl acetate").finding
