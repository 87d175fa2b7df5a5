"""Azeotropes in print: what the file holds, and what it does to a fit and to an answer."""

from dataclasses import replace

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.equilibrium.azeotropes import find_azeotropes
from forerun.equilibrium.azeotropes_search import singular_points
from forerun.equilibrium.fitting import FitSettings, fit_points
from forerun.equilibrium.fitting_layers import corrected_arrays, moving_layer
from forerun.equilibrium.fitting_model import no_points
from forerun.equilibrium.fitting_printed import printed_points, printed_rows
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.equilibrium.pairs import find_pair
from forerun.equilibrium.printed import PrintedAzeotrope, all_printed, printed_azeotropes
from forerun.substances.catalogue import find
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, printed_row


def bare(*names: str) -> Mixture:
    return mixture_of([find(name) for name in names], corrections=False)


def stated(mixture: Mixture, **changed: object) -> PrintedAzeotrope:
    first, second = (s.inchikey for s in mixture.substances)
    return printed_row(components=(first, second), **changed)


def test_every_printed_row_has_a_source_and_possible_numbers() -> None:
    rows = all_printed()
    assert len(rows) >= 200
    for row in rows:
        assert row.source
        assert row.provenance
        assert row.kind in {"minimum", "maximum", "none"}
        assert row.liquids in {1, 2}
        assert 100.0 < row.pressure_Pa < 1e6
        assert row.mole_fraction is None or 0.0 < row.mole_fraction < 1.0
        assert row.kind != "none" or (row.temperature_K, row.mole_fraction) == (None, None)
        assert {find(key).inchikey for key in row.components} == set(row.components)


def test_rows_come_in_the_order_of_the_question() -> None:
    ethanol, water = find("ethanol").inchikey, find("water").inchikey
    one, other = printed_azeotropes(ethanol, water), printed_azeotropes(water, ethanol)
    assert len(one) == len(other) >= 5
    for first, second in zip(one, other, strict=True):
        assert first.components == second.components[::-1]
        if first.mole_fraction is not None and second.mole_fraction is not None:
            assert first.mole_fraction == pytest.approx(1.0 - second.mole_fraction)


def test_an_azeotrope_the_base_shows_already_asks_for_nothing() -> None:
    """Temperature and composition taken from the base itself leave no gap."""
    mixture = bare("ethanol", "benzene")
    (own,) = find_azeotropes(mixture, ATMOSPHERE).azeotropes
    row = stated(
        mixture, temperature_K=own.temperature_K, mole_fraction=float(own.mole_fraction[0])
    )
    rows = printed_rows([row], mixture.arrays)
    assert rows.gap.size == 4
    assert np.abs(rows.gap[~rows.one_sided]).max() < 0.02
    assert np.all(rows.gap[rows.one_sided] < 0.0)
    composition = printed_rows([stated(mixture, mole_fraction=row.mole_fraction)], mixture.arrays)
    assert np.abs(composition.gap[~composition.one_sided]).max() < 0.02


def test_a_fit_to_a_shifted_azeotrope_moves_there() -> None:
    """0.8 K lower and 6 mol% richer than the base: rows straightened about the fit before."""
    mixture = bare("acetone", "hexane")
    (own,) = find_azeotropes(mixture, ATMOSPHERE).azeotropes
    wanted = (own.temperature_K - 0.8, float(own.mole_fraction[0]) + 0.06)
    row = stated(mixture, temperature_K=wanted[0], mole_fraction=wanted[1])
    settings, about = FitSettings(spread=0.32, spread_ratio=1.0), np.zeros((3, 2))
    for _ in range(6):
        evidence = printed_rows([row], mixture.arrays, about=about)
        about = fit_points(no_points(), settings, None, evidence).terms
    correction = np.zeros((2, 2, 3, 2))
    correction[0, 1] = about
    arrays = mixture.arrays._replace(pair_correction=correction)
    points = printed_points([row], mixture.arrays)
    assert points.temperature_K[0] == wanted[0]
    found = next(p for p in singular_points(arrays, ATMOSPHERE) if len(p.components) == 2)
    assert found.temperature_K == pytest.approx(wanted[0], abs=0.15)
    assert found.mole_fraction[0] == pytest.approx(wanted[1], abs=0.01)


@pytest.mark.parametrize(("kind", "violated"), [("minimum", 0), ("none", 1), ("maximum", 2)])
def test_a_kind_alone_speaks_at_the_ends_it_contradicts(kind: str, violated: int) -> None:
    """Ethanol + benzene has a plain minimum: denying it is wrong at one end, a maximum at both."""
    mixture = bare("ethanol", "benzene")
    rows = printed_rows([stated(mixture, kind=kind)], mixture.arrays)
    assert rows.one_sided.all()
    assert int(np.sum(rows.gap > 0.0)) == violated


def test_two_liquids_speak_through_the_layers_of_the_fit() -> None:
    """Straightened about each fit anew, the corrected pair boils as it is printed."""
    mixture = bare("triethylamine", "water")
    row = stated(mixture, temperature_K=348.95, mole_fraction=0.616, liquids=2)
    terms = np.zeros((3, 2))
    for _ in range(8):
        rows = printed_rows([row], mixture.arrays, about=terms)
        assert np.sum(~rows.one_sided) == 2
        terms = fit_points(no_points(), FitSettings(spread=0.6, spread_ratio=1.0), None, rows).terms
    arrays = corrected_arrays(mixture.arrays, terms)
    found = next(p for p in singular_points(arrays, ATMOSPHERE) if len(p.components) == 2)
    assert found.temperature_K == pytest.approx(348.95, abs=0.2)
    assert found.mole_fraction[0] == pytest.approx(0.616, abs=0.02)


def test_how_a_layer_moves_is_what_another_fit_gives() -> None:
    mixture = bare("isopropyl acetate", "water")
    terms = np.array([[0.2, 0.1], [0.1, 0.0]])
    layer = moving_layer(349.0, mixture.arrays, terms)
    assert layer is not None
    for k, change in enumerate((1e-4, 1e-4)):
        other = terms.copy()
        other[k, 0] += change
        moved = moving_layer(349.0, mixture.arrays, other)
        assert moved is not None
        wanted = layer.fraction + change * layer.slope[2 * k]
        assert moved.fraction == pytest.approx(wanted, abs=2e-7)
    assert layer.main == 1
    assert layer.purest > 0.99


def test_print_that_no_two_liquids_can_reach_is_capped() -> None:
    """Chlorobenzene + water at 90.2 °C is below the sum of both vapour pressures."""
    mixture = bare("chlorobenzene", "water")
    reachable = printed_rows([stated(mixture, temperature_K=363.95, liquids=2)], mixture.arrays)
    beyond = printed_rows([stated(mixture, temperature_K=363.35, liquids=2)], mixture.arrays)
    assert beyond.gap[0] == pytest.approx(reachable.gap[0], rel=0.1)


def test_a_vapour_that_no_pure_layer_gives_is_not_believed() -> None:
    """Dichloromethane + water with 0.4 % of water: a copying error of old tables."""
    mixture = bare("dichloromethane", "water")
    for y, rows in ((0.9814, 1), (0.936, 2)):
        row = stated(mixture, temperature_K=311.3, mole_fraction=y, liquids=2)
        assert np.sum(~printed_rows([row], mixture.arrays).one_sided) == rows


def test_two_liquids_that_the_fit_mixes_need_a_layer() -> None:
    mixture = bare("ethanol", "water")
    row = stated(mixture, temperature_K=351.0, mole_fraction=0.9, liquids=2)
    assert printed_rows([row], mixture.arrays).one_sided.all()
    given = replace(row, rich_layer=0.93)
    rows = printed_rows([given], mixture.arrays)
    assert np.sum(~rows.one_sided) == 2
    assert rows.papers == ("a handbook",)


def test_more_than_two_are_refused() -> None:
    with pytest.raises(BadInput, match="two components"):
        printed_rows([], bare("ethanol", "water", "benzene").arrays)


def test_a_fit_to_print_is_right_there_and_names_its_source() -> None:
    mixture = mixture_of([find("methyl acetate"), find("water")])
    (found,) = find_azeotropes(mixture, ATMOSPHERE).azeotropes
    assert found.certainty == "certain"
    assert found.temperature_K - 273.15 == pytest.approx(56.1, abs=0.3)
    assert any("azeotrope in print" in str(r) for r in mixture.references)
    pair = find_pair(*(s.inchikey for s in mixture.substances))
    assert pair is not None
    assert pair.printed
    assert pair.left_out == "printed"


def test_a_printed_absence_closes_the_question_at_its_pressure_only() -> None:
    mixture = mixture_of([find("ethyl acetate"), find("benzene")])
    closed = find_azeotropes(mixture, ATMOSPHERE)
    assert closed.possible == ()
    assert any("print: no azeotrope (Horsley" in sentence for sentence in closed.warnings)
    assert find_azeotropes(mixture, 98000.0).possible == ()
    (found,) = find_azeotropes(mixture, 30000.0).azeotropes
    assert found.certainty == "doubtful"
    assert "print" not in found.note


def test_prints_that_disagree_are_both_shown() -> None:
    (found,) = find_azeotropes(
        mixture_of([find("2-butanol"), find("water")]), ATMOSPHERE
    ).azeotropes
    assert "88.5 °C" in found.note
    assert "87 °C" in found.note


def test_what_print_alone_decides_is_said() -> None:
    """The models leave it open; where they are sure and print agrees, nothing needs saying."""
    mixture = mixture_of([find("isobutanol"), find("chlorobenzene")])
    (found,) = find_azeotropes(mixture, ATMOSPHERE).azeotropes
    assert found.certainty == "certain"
    assert "print: a minimum (Horsley" in found.note
    (agreed,) = find_azeotropes(
        mixture_of([find("ethanol"), find("benzene")]), ATMOSPHERE
    ).azeotropes
    assert agreed.note == ""


def test_a_base_alone_knows_of_no_print() -> None:
    (found,) = find_azeotropes(bare("ethanol", "benzene"), ATMOSPHERE).azeotropes
    assert found.note == ""
