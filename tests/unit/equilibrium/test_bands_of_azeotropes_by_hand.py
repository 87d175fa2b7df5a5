"""Bands of azeotropes and what may stand close to them, from models laid down by hand."""

from __future__ import annotations

import math
from statistics import NormalDist, stdev
from typing import Any

import numpy as np
import pytest

from forerun.equilibrium import azeotropes_border, fragments
from forerun.equilibrium.azeotropes_bands import end_half_width, existence, scatter_of
from forerun.equilibrium.azeotropes_border import near_borders
from forerun.equilibrium.azeotropes_search import SingularPoint
from forerun.equilibrium.band_rules import (
    AZEOTROPE_SHIFT,
    EIGHTY,
    ln_volatility_half_width,
    rule_of,
    top_half_width,
)
from forerun.equilibrium.coverage import PairBasis
from forerun.equilibrium.groups import _of_structure
from forerun.equilibrium.liquid_liquid import miscibility_gap, split_liquid, stability
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.substances.catalogue import find
from unit.equilibrium.azeotropes_beds import margules


def point(
    members: tuple[int, ...], x: list[float], ratios: tuple[float, ...] = (), *,
    inside: tuple[float, ...] = (), temperature: float = 350.0, liquids: Any = None,
) -> SingularPoint:  # fmt: skip
    """Return a point with the volatilities y/x of those that it lacks."""
    values = (*inside, *(1.0 - r for r in ratios))
    return SingularPoint(members, temperature, np.array(x), liquids, values)


@pytest.fixture(scope="module")
def three() -> Mixture:
    return mixture_of([find(n) for n in ("heptane", "toluene", "octane")], corrections=False)


MODELS = [
    [point((0,), [1.0, 0.0, 0.0], (a, 0.5)), point((1,), [0.0, 1.0, 0.0], (b, 0.7)),
     point((0, 1), [0.4, 0.6, 0.0], (0.3,), inside=(0.2,), temperature=t)]
    for a, b, t in ((1.4, 2.0, 349.0), (1.7, 2.2, 351.0), (1.1, 2.1, 350.5))
]  # fmt: skip


def _pair(mixture: Mixture, members: tuple[int, int]) -> PairBasis:
    return next(p for p in mixture.pairs if p.components == members)


def test_an_end_is_as_wide_as_models_differ_there(three: Mixture) -> None:
    pair = _pair(three, (0, 1))
    for pure, ratios in ((0, (1.4, 1.7, 1.1)), (1, (2.0, 2.2, 2.1))):
        expected = ln_volatility_half_width(rule_of(pair), stdev(math.log(r) for r in ratios))
        assert end_half_width(three, pair, pure, MODELS) == pytest.approx(expected)
    lone = ln_volatility_half_width(rule_of(pair), None)
    assert end_half_width(three, pair, 0, MODELS[:1]) == lone
    assert end_half_width(three, pair, 0, ()) == lone
    other = ln_volatility_half_width(rule_of(_pair(three, (0, 2))), stdev([0.0, 0.0, 0.0]))
    assert end_half_width(three, _pair(three, (0, 2)), 0, MODELS) == pytest.approx(other)


@pytest.mark.parametrize(("papers", "better"), [(0, 1.0), (1, 1.0), (4, 2.0), (9, 3.0)])
def test_the_truth_is_known_better_by_the_root_of_the_papers(
    three: Mixture, papers: int, better: float
) -> None:
    pair = PairBasis((0, 1), "fitted", ("a", "b"), 0.5, papers=papers)
    next_one = end_half_width(three, pair, 0, ())
    truth = end_half_width(three, pair, 0, (), of_truth=True)
    assert truth == pytest.approx(next_one / better)


def test_an_azeotrope_is_as_wide_as_its_twins_differ(three: Mixture) -> None:
    """Temperature by the twins' spread, composition by the flatter, the more; both by hand."""
    here = point((0, 1), [0.35, 0.65, 0.0], (0.3,), inside=(0.25,))
    found = scatter_of(three, here, MODELS)
    rule = rule_of(_pair(three, (0, 1)))
    f = 2.0 * (1.0 - 0.35**2 - 0.65**2)
    expected = top_half_width([rule], stdev([349.0, 351.0, 350.5]), f)
    assert found.temperature == pytest.approx(expected)
    widest = max(end_half_width(three, _pair(three, (0, 1)), k, MODELS) for k in (0, 1))
    assert found.ln_volatility == pytest.approx(widest)
    shift = AZEOTROPE_SHIFT * widest * 0.35 * 0.65 / 0.25
    assert found.composition == pytest.approx([shift, shift, 0.0])
    assert (found.basis, found.agreeing) == ("predicted", (3, 3))
    two = scatter_of(three, here, [*MODELS[:2], MODELS[2][:2]])
    assert two.agreeing == (2, 3)
    assert two.temperature == pytest.approx(top_half_width([rule], stdev([349.0, 351.0]), f))
    one = scatter_of(three, here, [MODELS[0], MODELS[1][:2]])
    assert one.agreeing == (1, 2)
    assert one.temperature == pytest.approx(top_half_width([rule], None, f))
    assert scatter_of(three, here, ()).agreeing is None


def test_a_likelier_minimum_has_both_ends_above_and_the_nearer_end_decides() -> None:
    sigma = [0.2 / EIGHTY, 0.5 / EIGHTY]
    for ends in ((0.1, 0.9), (0.9, 0.1), (-0.3, 0.2), (-0.4, -0.1)):
        minimum, maximum = existence(ends, (0.2, 0.5))
        low, high = (0, 1) if ends[0] < ends[1] else (1, 0)
        assert minimum == pytest.approx(NormalDist(0.0, sigma[low]).cdf(ends[low]))
        assert maximum == pytest.approx(NormalDist(0.0, sigma[high]).cdf(-ends[high]))


def test_what_may_stand_close_to_an_azeotrope_is_as_likely_as_its_sign_may_turn(
    three: Mixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ln(y/x) of the absent over its width: those at the pure ends by their shares."""
    widths = {(0, 2, 0): 0.4, (1, 2, 1): 0.6, (0, 1, 0): 0.3, (0, 2, 2): 0.2, (0, 1, 1): 0.5,
              (1, 2, 2): 0.1}  # fmt: skip
    monkeypatch.setattr(
        azeotropes_border,
        "end_half_width",
        lambda _m, pair, own, _b, *, of_truth: widths[*pair.components, own] if of_truth else None,
    )
    near = point((0, 1), [0.25, 0.75, 0.0], (1.2,), inside=(0.2,))
    far = point((0, 2), [0.5, 0.0, 0.5], (3.0,), inside=(-0.2,))
    (border,) = near_borders(three, (point((0,), [1.0, 0.0, 0.0], (1.0, 1.0)), far, near), ())
    assert border.components == (0, 1, 2)
    assert border.close_to == (0, 1)
    assert border.kind == "minimum"
    width = 0.25 * 0.4 + 0.75 * 0.6
    assert border.probability == pytest.approx(NormalDist(0.0, width / EIGHTY).cdf(-math.log(1.2)))
    (other,) = near_borders(three, (far,), ())
    assert (other.close_to, other.kind) == ((0, 2), "maximum")
    wide = 0.5 * 0.3 + 0.5 * 0.1
    assert other.probability == pytest.approx(NormalDist(0.0, wide / EIGHTY).cdf(-math.log(3.0)))
    layers = (np.ones(3), np.ones(3))
    parted = point((0, 1), [0.25, 0.75, 0.0], (1.2,), inside=(0.2,), liquids=layers)
    assert near_borders(three, (parted,), ()) == []
    whole = point((0, 1, 2), [0.3, 0.3, 0.4], inside=(0.2, 0.1))
    assert near_borders(three, (near, whole), ()) == []


def test_a_structure_with_one_group_that_a_model_lacks_is_not_in_that_model(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    held = {"unifac": {1: 2}, "dortmund": {1: 2, 9999: 1}, "nist": {9999: 1}}
    monkeypatch.setattr(fragments, "groups_of_structure", lambda _: held)
    assert _of_structure("a structure of this test") == {"unifac": {1: 2}}
    assert _of_structure("") == {}


def test_a_pair_is_stable_outside_of_its_gap_and_at_its_pure_ends() -> None:
    mixture = margules([350.0, 360.0], {(0, 1): [2.8, 0.4]})
    gap = miscibility_gap(350.0, mixture)
    assert gap is not None
    poor, rich = float(gap.first[0]), float(gap.second[0])
    for x in (0.9 * poor, 1.0 - 0.9 * (1.0 - rich)):
        assert stability([x, 1.0 - x], 350.0, mixture).stable
        assert split_liquid([x, 1.0 - x], 350.0, mixture) is None
    for x in (1.1 * poor, 0.5, 1.0 - 1.1 * (1.0 - rich)):
        seen = stability([x, 1.0 - x], 350.0, mixture)
        assert not seen.stable
        assert seen.trial == pytest.approx(gap.first)
        split = split_liquid([4.0 * x, 4.0 * (1.0 - x)], 350.0, mixture)
        assert split is not None
        assert split.second_share == pytest.approx((x - poor) / (rich - poor))
        assert split.temperature_K == 350.0
    for end in ([1.0, 0.0], [0.0, 1.0]):
        assert stability(end, 350.0, mixture).stable
    mixes = margules([350.0, 360.0], {(0, 1): [1.5]})
    assert stability([0.5, 0.5], 350.0, mixes).stable
