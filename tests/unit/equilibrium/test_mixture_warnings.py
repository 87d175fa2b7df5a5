"""What is said beside a mixture: each sentence where it is due, and nowhere else."""

from __future__ import annotations

from statistics import NormalDist
from types import SimpleNamespace
from typing import Any

import pytest

from forerun.equilibrium.coverage import Coverage, PairBasis
from forerun.equilibrium.groups import groups_of
from forerun.equilibrium.mixture_warnings import warnings_for
from forerun.substances.catalogue import find

A, B = "one model", "another model"


def liquid(name: str, **known: Any) -> Any:
    values = {"origin": "file", "notes": (), "dimerisation": None, "smiles": "CCO"}
    spread = SimpleNamespace(temperature_spread=known.pop("spread", 0.1))
    return SimpleNamespace(name=name, vapour_pressure=spread, **{**values, **known})


def pair(basis: str = "predicted", components: tuple[int, int] = (0, 1)) -> PairBasis:
    return PairBasis(components, basis, (A, B))  # type: ignore[arg-type]


def said(
    liquids: list[Any],
    basis: tuple[PairBasis, ...] = (),
    *,
    splits: Any = None,
    used: tuple[str, ...] = (A, B),
    missing: dict[str, set[tuple[int, int]]] | None = None,
    groups: Any = None,
) -> list[str]:
    lacking = {A: set(), B: set()} if missing is None else missing
    known = Coverage(
        groups or tuple({} for _ in liquids), dict.fromkeys(lacking), lacking  # type: ignore[arg-type]
    )  # fmt: skip
    return warnings_for(liquids, basis, splits or {}, used, (A, B), known)


HEXANE, ETHANOL, WATER = liquid("hexane"), liquid("ethanol"), liquid("water")


def test_a_mixture_that_all_models_know_needs_no_words() -> None:
    assert said([ETHANOL, WATER], (pair(),)) == []
    assert said([ETHANOL, WATER], (pair("fitted"),)) == []
    assert said([ETHANOL]) == []


def test_notes_of_the_substances_come_first() -> None:
    spirit = liquid("spirit", notes=("It is poisonous.", "It is dear."))
    found = said([spirit, WATER], (pair("ideal"),))
    assert found[:2] == ["It is poisonous.", "It is dear."]
    assert len(found) == 3


def test_a_structure_says_how_well_its_boiling_point_is_known_where_it_is_mixed() -> None:
    """The middle 80 % of a normal distribution ends at its ninth tenth."""
    made = liquid("new", origin="structure", spread=20.0)
    groups = (groups_of(find("ethanol")), {})
    (sentence,) = said([made, WATER], (pair(),), groups=groups)
    assert f"of new, whose boiling point is good to {NormalDist(0, 20).inv_cdf(0.9):.0f} K." in (
        sentence
    )
    assert said([made], groups=groups[:1]) == []


def test_a_structure_without_groups_says_what_keeps_it_out() -> None:
    found = said([liquid("silane", origin="structure", smiles="[SiH4]")])
    assert len(found) == 1
    assert found[0].startswith("No activity model has groups for silane: ")
    assert "Si" in found[0]
    whole = said([liquid("alcohol", origin="structure", smiles="CCO")])
    assert whole == ["No activity model has groups for alcohol: its atoms taken together."]
    assert said([liquid("silane", smiles="[SiH4]")]) == []  # of the file: nothing was cut


def test_a_pair_that_no_model_knows_is_named() -> None:
    basis = (pair(), pair("ideal", (0, 2)), pair("fitted", (1, 2)))
    (sentence,) = said([HEXANE, ETHANOL, WATER], basis)
    assert sentence.startswith("No model knows hexane and water: they are taken as ideal")


@pytest.mark.parametrize("basis", ["predicted", "fitted"])
def test_a_mixture_put_together_from_pairs_says_so(basis: str) -> None:
    liquids, pairs = [HEXANE, ETHANOL, WATER], (pair(basis), pair("ideal", (0, 2)))
    none = said(liquids, pairs, used=())
    assert len(none) == 2
    assert none[1].startswith("No model knows the whole mixture")
    assert len(said(liquids, pairs)) == 1
    only = (pair("ideal"), pair("ideal", (0, 2)))
    assert not any("the whole mixture" in s for s in said(liquids, only, used=()))
    assert said([HEXANE], (pair(basis),), used=()) == []


def test_a_model_without_parameters_is_named_with_those_that_speak() -> None:
    lacking = {A: set(), B: {(0, 1)}}
    assert said([ETHANOL, WATER], (pair(),), used=(A,), missing=lacking) == [
        f"Left out for want of parameters: {B}; the spread between models rests on {A} alone."
    ]
    assert said([ETHANOL, WATER], (pair(),), missing={A: set(), B: set()}) == []
    # a model that was never asked is not missed
    assert said([ETHANOL, WATER], (pair(),), used=(A,), missing={A: set()}) == []


def test_a_model_left_out_because_it_splits_what_mixes_is_named_with_the_pair() -> None:
    splits = {(0, 1): frozenset({frozenset({A, B})}), (1, 2): frozenset()}
    basis = (pair(), pair("predicted", (0, 2)), pair("fitted", (1, 2)))
    (sentence,) = said([HEXANE, ETHANOL, WATER], basis, splits=splits, used=(A,))
    assert sentence == (
        f"Left out: {B}, which with the others would split hexane and ethanol into two liquids, "
        "although they mix."
    )
    assert said([HEXANE, ETHANOL, WATER], basis, splits=splits, used=())[0].startswith("No model")


def test_a_split_that_all_models_at_hand_show_is_named_unless_the_pair_was_fitted() -> None:
    splits = {(0, 1): frozenset({frozenset({A, B})})}
    (sentence,) = said([HEXANE, ETHANOL], (pair(),), splits=splits)
    assert sentence.startswith("hexane and ethanol mix in all proportions, but every model")
    assert said([HEXANE, ETHANOL], (pair("fitted"),), splits=splits) == []
    other = {(0, 1): frozenset({frozenset({A})})}
    assert said([HEXANE, ETHANOL], (pair(),), splits=other) == []


@pytest.mark.parametrize("base", ["pyridine", "triethylamine", "dimethylformamide"])
@pytest.mark.parametrize("turned", [False, True])
def test_an_acid_that_pairs_up_and_a_base_are_pointed_out_in_either_order(
    base: str, turned: bool
) -> None:
    acid, other = liquid("acetic acid", dimerisation=object()), liquid(base)
    groups = ({}, groups_of(find(base)))
    liquids = [acid, other][:: -1 if turned else 1]
    given = groups[:: -1 if turned else 1]
    names = " and ".join(one.name for one in liquids)
    (sentence,) = said(liquids, (pair(),), groups=given)
    assert sentence.startswith(f"{names} form an acid-base complex")
    assert said(liquids, (pair("fitted"),), groups=given) == []


def test_two_acids_two_bases_or_a_neutral_liquid_form_no_such_complex() -> None:
    acid, base, plain = (
        (liquid("acid", dimerisation=object()), {}),
        (liquid("pyridine"), groups_of(find("pyridine"))),
        (liquid("toluene"), groups_of(find("toluene"))),
    )
    for one, other in ((acid, acid), (base, base), (acid, plain), (base, plain), (plain, acid)):
        assert said([one[0], other[0]], (pair(),), groups=(one[1], other[1])) == []
