"""A mixture sold as one bottle as a line of the charge: opened, with the doubt about bottles."""

from __future__ import annotations

import pytest

from forerun.core.errors import BadInput, NotCovered
from forerun.sheets.resolving import load
from forerun.substances.bottles import bottle_named


def sheet(*lines: tuple[str, str]) -> str:
    return "\n".join(f'[[charge]]\nsubstance = "{s}"\namount = "{a}"' for s, a in lines)


def test_a_bottle_becomes_its_components():
    found = load(sheet(("hexanes", "60 mL"), ("toluene", "40 mL")))
    bottle = bottle_named("hexanes")
    assert bottle is not None
    assert found.names == (*(p.substance.name for p in bottle.parts), "toluene")
    opened = found.charge[: len(bottle.parts)]
    assert sum(p.volume_m3 for p in opened) == pytest.approx(60e-6)
    assert sum(p.mass_kg for p in opened) == pytest.approx(60e-6 * bottle.density)
    for portion, part in zip(opened, bottle.parts, strict=True):
        expected = part.spread / part.mass_fraction
        assert portion.amount_mol.sigma / portion.amount_mol.value == pytest.approx(expected)
    assert any("hexanes is a mixture" in w for w in found.warnings)


@pytest.mark.parametrize("amount", ["50 g", "0.5 mol", "50 ± 5 mL"])
def test_any_kind_of_amount(amount: str):
    found = load(sheet(("xylenes", amount)))
    mass = sum(p.mass_kg for p in found.charge)
    moles = sum(p.amount_mol.value for p in found.charge)
    if amount.endswith("g"):
        assert mass == pytest.approx(0.050)
    elif amount.endswith("mol"):
        assert moles == pytest.approx(0.5)
    else:
        plain = load(sheet(("xylenes", "50 mL")))
        pairs = zip(found.charge, plain.charge, strict=True)
        assert all(a.amount_mol.sigma > b.amount_mol.sigma for a, b in pairs)


def test_a_component_twice_is_refused_with_where_it_was():
    with pytest.raises(BadInput, match=r"hexane is in hexanes, charge\[1\] already"):
        load(sheet(("hexanes", "60 mL"), ("hexane", "10 mL")))


def test_too_many_components_are_refused():
    with pytest.raises(BadInput, match="mixtures opened"):
        load(sheet(("pet ether", "50 mL"), ("xylenes", "20 mL")))


def test_a_new_structure_can_be_charged_and_says_what_it_is():
    found = load(sheet(("CCCCCCCCOC(C)C", "40 mL"), ("ethanol", "40 mL")))
    assert found.names[0] == "CCCCCCCCOC(C)C"
    assert any("estimated from its structure" in w for w in found.warnings)


def test_a_structure_without_estimates_names_its_line():
    with pytest.raises(NotCovered, match=r"charge\[2\].substance: the structure CCS"):
        load(sheet(("ethanol", "40 mL"), ("CCS(=O)CC", "40 mL")))
