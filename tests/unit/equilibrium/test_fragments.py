"""Groups of a new structure: the same patterns, the same answers as the shipped file."""

from __future__ import annotations

import pytest

from forerun.equilibrium.datafiles import load_data
from forerun.equilibrium.fragments import groups_of_structure, uncovered
from forerun.equilibrium.groups import group_model, groups_of
from forerun.equilibrium.mixture import mixture_of
from forerun.substances.catalogue import find


def test_every_liquid_of_the_file_is_cut_as_the_file_says():
    """The file was cut by a general-purpose library, this here is ours."""
    tables = load_data("groups.json.gz")
    for entry in tables["molecules"].values():
        wanted = {
            model: {int(n): k for n, k in counts.items()}
            for model, counts in entry.items()
            if model != "smiles"
        }
        found = {
            model: counts
            for model, counts in groups_of_structure(entry["smiles"]).items()
            if all(number in group_model(model).subgroups for number in counts)
        }
        assert found == wanted, entry["smiles"]


def test_a_new_structure_has_groups_and_can_be_mixed():
    stranger = find("CCCCCCCCOC(C)C")
    assert set(groups_of(stranger)) == {"unifac", "dortmund", "nist"}
    mixture = mixture_of([stranger, find("ethanol")])
    assert mixture.models == ("unifac", "dortmund", "nist")
    assert any("estimated from its structure" in w for w in mixture.warnings)
    assert any("do not hold the error of the vapour pressure" in w for w in mixture.warnings)


def test_groups_of_a_branched_ether_counted_by_hand():
    """Three CH3, six CH2, one CH, and CH2O with the last of the octyl chain."""
    assert groups_of(find("CCCCCCCCOC(C)C"))["unifac"] == {1: 3, 2: 6, 3: 1, 25: 1}


def test_what_no_model_knows_is_named():
    imine = find("CC(C)=NCCC")
    assert groups_of(imine) == {}
    assert set(uncovered(imine.smiles, "nist")) == {"C bound to C, C, N", "N bound to C, C"}
    warnings = mixture_of([imine, find("hexane")]).warnings
    assert any(f"has groups for {imine.name}: N bound to C, C" in w for w in warnings)
    assert any("taken as ideal" in w for w in warnings)


@pytest.mark.parametrize("model", ["unifac", "dortmund", "nist"])
def test_nothing_is_uncovered_in_a_plain_alcohol(model: str):
    assert uncovered("CCCCO", model) == ()
