"""Solubilities and enthalpies as rows of a fit: laws, and a fit that finds what was put in."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.equilibrium import fitting_evidence as own
from forerun.equilibrium.arrays import MixtureArrays
from forerun.equilibrium.fitting import FitSettings, fit_points
from forerun.equilibrium.fitting_evidence import (
    GAS_CONSTANT,
    ExcessEnthalpy,
    MutualSolubility,
    no_evidence,
    rows_of,
)
from forerun.equilibrium.fitting_left_out import leave_out_layers
from forerun.equilibrium.fitting_model import no_points
from forerun.equilibrium.liquid_liquid import miscibility_gap
from forerun.equilibrium.mixture import mixture_of
from forerun.substances.catalogue import find
from unit.equilibrium.test_fitting import pair as made_up

TRUE_TERMS = np.array([[0.10, 0.05], [-0.05, 0.02]])
LOOSE = FitSettings(terms=2, spread=1.0, spread_ratio=1.0)


def pair(*names: str) -> MixtureArrays:
    return mixture_of([find(n) for n in names], corrections=False).arrays


def corrected(base: MixtureArrays, terms: np.ndarray) -> MixtureArrays:
    correction = np.zeros((2, 2, len(terms), 2))
    correction[0, 1] = terms
    return base._replace(pair_correction=correction)


def layers_of(mixture: MixtureArrays, paper: str, temperatures: list[float]) -> MutualSolubility:
    gaps = [miscibility_gap(t, mixture) for t in temperatures]
    sides = np.sort([[float(g.first[0]), float(g.second[0])] for g in gaps if g], axis=1)
    assert len(sides) == len(temperatures)
    return MutualSolubility(paper, np.array(temperatures), sides[:, 0], sides[:, 1])


def test_layers_that_the_base_computes_leave_no_gap():
    base = pair("1-butanol", "water")
    rows = rows_of([layers_of(base, "a", [290.0, 320.0])], [], base)
    assert rows.gap.size == 4
    assert np.abs(rows.gap).max() < 1e-4


def test_layers_of_a_corrected_pair_give_the_correction_back():
    base = pair("1-butanol", "water")
    made = layers_of(corrected(base, TRUE_TERMS), "a", [280.0, 300.0, 320.0, 340.0, 360.0])
    rows = rows_of([made], [], base)
    assert np.abs(rows.miss_K(np.zeros((1, 2)))).max() > 0.5
    fit = fit_points(no_points(), LOOSE, None, rows)
    assert np.abs(rows.miss_K(fit.terms)).max() < 0.05
    again = miscibility_gap(310.0, corrected(base, fit.terms))
    wanted = miscibility_gap(310.0, corrected(base, TRUE_TERMS))
    assert again is not None
    assert wanted is not None
    assert np.allclose(again.first, wanted.first, atol=3e-3)
    assert np.allclose(again.second, wanted.second, atol=3e-3)


def test_enthalpies_fix_the_slope_with_temperature_and_nothing_else():
    """h_E = R 350 K x1 x2 sum b_k (x1 - x2)^k on top of the base."""
    base = pair("ethanol", "water")
    x = np.linspace(0.1, 0.9, 9)
    t = np.full(9, 330.0)
    own = rows_of([], [ExcessEnthalpy("a", t, x, np.zeros(9))], base)
    noise = x * (1.0 - x) * 350.0 / t / own.design[:, 1]  # of h_E/RT, one for all
    assert np.ptp(noise) < 1e-12
    base_enthalpy = -own.gap * noise * GAS_CONSTANT * t
    added = GAS_CONSTANT * 350.0 * x * (1.0 - x) * (0.3 - 0.2 * (2.0 * x - 1.0))
    rows = rows_of([], [ExcessEnthalpy("a", t, x, base_enthalpy + added)], base)
    fit = fit_points(no_points(), LOOSE, None, rows)
    assert fit.terms[:, 1] == pytest.approx([0.3, -0.2], abs=0.03)
    assert fit.terms[:, 0] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert not rows.solubility.any()


def test_the_base_enthalpy_is_minus_t_times_the_slope_of_the_gibbs_energy():
    base = pair("ethanol", "water")
    mixture = mixture_of([find("ethanol"), find("water")], corrections=False)
    x = np.array([0.3])
    share = np.array([0.3, 0.7])
    g = [float(share @ mixture.ln_activity(t, share)) for t in (318.0, 322.0)]
    wanted = -GAS_CONSTANT * 320.0**2 * (g[1] - g[0]) / 4.0
    rows = rows_of([], [ExcessEnthalpy("a", np.array([320.0]), x, np.array([wanted]))], base)
    assert abs(float(rows.gap[0])) < 0.02


@pytest.mark.parametrize("temperature", [290.0, 330.0, 380.0])
@pytest.mark.parametrize("names", [("ethanol", "water"), ("acetone", "hexane")])
def test_the_base_enthalpy_is_met_to_a_thousandth(names: tuple[str, str], temperature: float):
    """Gibbs-Helmholtz by a step that differs from the one inside: 0.2 K instead of 0.5 K."""
    base = pair(*names)
    mixture = mixture_of([find(name) for name in names], corrections=False)
    share = np.array([0.4, 0.6])
    g = [float(share @ mixture.ln_activity(temperature + s, share)) for s in (-0.2, 0.2)]
    wanted = -GAS_CONSTANT * temperature**2 * (g[1] - g[0]) / 0.4
    t = np.array([temperature])
    found, none = (
        float(rows_of([], [ExcessEnthalpy("a", t, np.array([0.4]), np.array([h]))], base).gap[0])
        for h in (wanted, 0.0)
    )
    assert abs(none) > 0.1
    assert abs(found) < 1e-3 * abs(none)


def test_leaving_out_papers_tells_a_good_correction_from_none():
    base = pair("1-butanol", "water")
    true = corrected(base, TRUE_TERMS)
    papers = [layers_of(true, name, [t, t + 15.0]) for name, t in (("a", 285.0), ("b", 320.0))]
    result = leave_out_layers(rows_of(papers, [], base), FitSettings())
    assert result.kind == "solubility"
    assert result.groups == (0, 1)
    assert result.mean_after_K < 0.5 * result.mean_before_K


def test_a_single_pair_of_layers_cannot_be_judged():
    base = pair("1-butanol", "water")
    lone = rows_of([layers_of(base, "a", [300.0])], [], base)
    assert leave_out_layers(lone, FitSettings()).groups == ()


def test_no_evidence_changes_nothing():
    fit = fit_points(no_points(), FitSettings(), None, no_evidence())
    assert np.all(fit.terms == 0.0)


def test_layers_out_of_order_are_refused():
    with pytest.raises(BadInput, match="poor"):
        MutualSolubility("a", np.array([300.0]), np.array([0.6]), np.array([0.1]))


def test_rows_of_layers_of_an_ideal_base_are_those_of_paper():
    """Ln(rich/poor) of each component, by noises of an activity and of a solubility; by kelvins."""
    ideal = made_up()
    t, poor, rich = np.array([300.0, 340.0]), np.array([0.02, 0.1]), np.array([0.7, 0.6])
    rows = rows_of([MutualSolubility("a", t, poor, rich)], [], ideal)
    terms = np.array([[0.4, 0.2], [-0.1, 0.3], [0.05, 0.0], [0.02, 0.1], [-0.03, 0.2]])
    n = 0
    for k in range(2):
        for i in range(2):
            low, high = (v if i == 0 else 1.0 - v for v in (poor[k], rich[k]))
            noise = np.hypot(own._ACTIVITY_NOISE, own._SOLUBILITY_NOISE / min(low, high))
            assert rows.gap[n] == pytest.approx(np.log(high / low) / noise)
            change = _ln_gamma(poor[k], t[k], terms)[i] - _ln_gamma(rich[k], t[k], terms)[i]
            assert rows.design[n] @ terms.reshape(-1) == pytest.approx(change / noise)
            slope = (4000.0, 4430.0)[i] / t[k] ** 2  # of ln P = a - b/T
            assert rows.per_K[n] == pytest.approx(slope / own._ACTIVITY_NOISE, rel=1e-4)
            n += 1
    assert rows.gap.size == n
    assert rows.solubility.all()
    both = rows.joined(rows)
    assert both.paper.tolist() == [0] * 4 + [1] * 4
    assert both.papers == ("a", "a")
    assert both.take(both.paper == 1).gap == pytest.approx(rows.gap)
    zero = rows.miss_K(np.zeros((1, 2)))
    moved = rows.miss_K(terms)
    left = rows.gap - rows.design @ terms.reshape(-1)
    assert zero == pytest.approx(rows.gap / rows.per_K)
    assert moved == pytest.approx(left / rows.per_K)


def _ln_gamma(x: float, t: float, terms: np.ndarray) -> np.ndarray:
    """From g_E/RT = x1 x2 sum A_k (x1 - x2)^k by differences of n g."""

    def excess(n1: float, n2: float) -> float:
        total = n1 + n2
        x1, x2 = n1 / total, n2 / total
        a = terms[:, 0] + terms[:, 1] * (350.0 / t - 1.0)
        return float(total * x1 * x2 * np.sum(a * (x1 - x2) ** np.arange(terms.shape[0])))

    h = 1e-6
    first = excess(x + h, 1.0 - x) - excess(x - h, 1.0 - x)
    second = excess(x, 1.0 - x + h) - excess(x, 1.0 - x - h)
    return np.array([first, second]) / (2.0 * h)
