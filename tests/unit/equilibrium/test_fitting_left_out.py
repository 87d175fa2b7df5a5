"""What is left out of a fit, and by how much it is missed then."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from forerun.equilibrium.fitting import FitSettings, fit_pair
from forerun.equilibrium.fitting_evidence import Evidence
from forerun.equilibrium.fitting_left_out import (
    LeftOut,
    leave_out,
    leave_out_groups,
    leave_out_layers,
)
from forerun.equilibrium.fitting_model import MeasuredTable, base_points
from unit.equilibrium.test_fitting import boiling, pair, table

TRUTH = np.array([[0.30, 0.1], [-0.08, 0.0], [0.0, 0.0]])
SETTINGS = FitSettings(terms=2, spread=0.5, one_liquid=False)


def measured(paper: str, **changed: Any) -> MeasuredTable:
    return table(pair(TRUTH), paper, **changed)


def test_papers_go_first_then_tables_then_stretches_of_the_liquid() -> None:
    base = pair()
    two = base_points([measured("a", count=4), measured("b", count=5)], base)
    kind, group = leave_out_groups(two)
    assert kind == "paper"
    assert group.tolist() == [0] * 4 + [1] * 5
    one = base_points([measured("a", count=4), measured("a", count=5, pressure=5e4)], base)
    kind, group = leave_out_groups(one)
    assert kind == "table"
    assert group.tolist() == [0] * 4 + [1] * 5
    lone = measured("a", count=8)
    turned = np.array([6, 0, 3, 7, 1, 4, 2, 5])
    mixed = MeasuredTable(
        "a", "a", *(c[turned] for c in (lone.temperature_K, lone.pressure_Pa, lone.liquid_fraction))
    )
    kind, group = leave_out_groups(base_points([mixed], base))
    assert kind == "stretch"
    assert group.tolist() == [3, 0, 1, 3, 0, 2, 1, 2]  # quarters of the ranks, not of the fraction


def _misses(held: MeasuredTable, terms: np.ndarray | None) -> float:
    """Root mean square of what is wrong with boiling points by bisection [K]."""
    corrected = pair(terms)
    miss = [
        boiling(corrected, float(x), float(p))[0] - t
        for x, p, t in zip(held.liquid_fraction, held.pressure_Pa, held.temperature_K, strict=True)
    ]
    return float(np.sqrt(np.mean(np.square(miss))))


def test_each_paper_is_predicted_by_a_fit_of_the_others() -> None:
    papers = [measured(n, offset=o) for n, o in (("a", 0.4), ("b", -0.3), ("c", 0.9))]
    found = leave_out(base_points(papers, pair()), SETTINGS)
    assert found.kind == "paper"
    assert found.groups == (0, 1, 2)
    for k, held in enumerate(papers):
        fit = fit_pair([t for t in papers if t is not held], pair(), SETTINGS)
        terms = np.vstack([fit.terms, np.zeros((1, 2))])
        assert found.before_K[k] == pytest.approx(_misses(held, None), rel=0.02)
        assert found.after_K[k] == pytest.approx(_misses(held, terms), rel=0.02, abs=2e-3)
        assert found.after_K[k] < found.before_K[k]


def test_a_group_of_two_points_helps_to_fit_but_is_not_judged() -> None:
    papers = [measured("a"), measured("b"), measured("c", count=2)]
    assert leave_out(base_points(papers, pair()), SETTINGS).groups == (0, 1)
    papers[2] = measured("c", count=3)
    assert leave_out(base_points(papers, pair()), SETTINGS).groups == (0, 1, 2)
    # one alone can be judged where what is left is fitted
    few = [measured("a"), measured("b", count=2)]
    assert leave_out(base_points(few, pair()), SETTINGS).groups == (0,)


def test_groups_of_ones_own_are_taken_and_one_group_is_none() -> None:
    points = base_points([measured("a", count=8)], pair())
    halves = np.array([0, 1] * 4, dtype=np.int64)
    assert leave_out(points, SETTINGS, group=halves).groups == (0, 1)
    alone = leave_out(points, SETTINGS, group=np.zeros(8, dtype=np.int64))
    assert alone.groups == ()
    assert alone.before_K.size == alone.after_K.size == 0


@pytest.mark.parametrize("kind", ["paper", "solubility", "table", "stretch"])
def test_one_bad_paper_does_not_decide_but_a_part_of_one_does(kind: Any) -> None:
    """A mean of misses, of which none of a paper counts as more than a gross one, 2 K."""
    good = LeftOut(kind, (0, 1), np.array([1.0, 1.5]), np.array([0.2, 0.6]))
    assert (good.mean_before_K, good.mean_after_K) == pytest.approx((1.25, 0.4))
    bad = LeftOut(kind, (0, 1), np.array([1.0, 5.0]), np.array([6.0, 0.2]))
    if kind in {"paper", "solubility"}:
        assert (bad.mean_before_K, bad.mean_after_K) == pytest.approx((1.5, 1.1))
    else:
        assert (bad.mean_before_K, bad.mean_after_K) == pytest.approx((3.0, 3.1))


def _layers(papers: list[int], gap: list[float]) -> Evidence:
    """Rows that ask for a of the first term, each with a standard deviation of 1."""
    n = len(papers)
    design = np.zeros((n, 10))
    design[:, 0] = 1.0
    return Evidence(
        design, np.array(gap), np.array(papers, dtype=np.int64), np.full(n, 0.5), ("a",) * 4,
        np.zeros(n, dtype=bool),
    )  # fmt: skip


def test_solubilities_are_left_out_by_paper_or_of_one_paper_by_temperature() -> None:
    loose = FitSettings(terms=1, spread=100.0, freedom=1e9, one_liquid=False)
    papers = leave_out_layers(_layers([0, 0, 2, 2, 3, 3], [1.0, 1.0, 2.0, 2.0, 3.0, 3.0]), loose)
    assert papers.groups == (0, 2, 3)
    # what is left out is missed by its distance from the mean of the others
    by_one = papers.after_K[0] / 1.5
    assert papers.after_K == pytest.approx(by_one * np.array([1.5, 0.0, 1.5]), abs=1e-3 * by_one)
    assert papers.before_K == pytest.approx(by_one * np.array([1.0, 2.0, 3.0]), rel=1e-3)
    lone = leave_out_layers(_layers([1, 1, 1, 1], [1.0, 1.0, 2.0, 2.0]), loose)
    assert lone.groups == (0, 1)
    assert lone.after_K == pytest.approx([by_one, by_one], rel=1e-3)
    assert leave_out_layers(_layers([1, 1], [1.0, 1.0]), loose).groups == ()
