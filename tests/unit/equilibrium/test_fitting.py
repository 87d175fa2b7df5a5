"""The fitter on points made from known coefficients: what went in must come out."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize

from forerun.core.errors import BadInput
from forerun.equilibrium.arrays import MixtureArrays, scratch_for, sizes_of
from forerun.equilibrium.fitting import FitSettings, PairFit, fit_pair, settings_for
from forerun.equilibrium.fitting_model import (
    MeasuredTable,
    base_points,
    corrected,
    redlich_kister_design,
    temperature_miss,
)
from forerun.equilibrium.fitting_stability import dilute_corrections, stability_grid
from forerun.equilibrium.kernels import bubble_pressure, ln_activity

KNOWN = np.array([[0.32, 0.12], [-0.1, 0.0], [0.05, 0.0]])
LOOSE = FitSettings(spread=0.5, tilt_spread=0.5)


def pair(terms: np.ndarray | None = None, dimer: bool = False) -> MixtureArrays:
    """An ideal base with two made-up liquids that boil near 350 and 373 K."""
    vapour = np.array(
        [[22.9, -4000.0, 0.0, 0.0, 250.0, 450.0], [23.4, -4430.0, 0.0, 0.0, 250.0, 450.0]]
    )
    correction = np.zeros((2, 2, 3, 2))
    if terms is not None:
        correction[0, 1] = terms
    return MixtureArrays(
        vapour_pressure=vapour,
        weights=np.zeros(1),
        exponents=np.ones(1),
        volumes=np.ones((1, 2)),
        surfaces=np.ones((1, 2)),
        group_surfaces=np.ones((1, 2, 1)),
        grid=np.array([200.0, 300.0]),
        interaction=np.zeros((1, 4, 1, 1, 1)),
        pure_residual=np.zeros((1, 4, 1, 2)),
        pair_correction=correction,
        dimerisation=np.array([[float(dimer), -19.0, 7000.0], [0.0, 0.0, 0.0]]),
        sizes=sizes_of(np.ones((1, 2)), np.ones((1, 2)), np.ones(1)),
    )


def boiling(mixture: MixtureArrays, x1: float, pressure: float) -> tuple[float, float]:
    """Boiling temperature [K] and vapour fraction by plain bisection."""
    scratch, y = scratch_for(mixture), np.zeros(2)
    low, high = 250.0, 450.0
    while high - low > 1e-9:
        middle = 0.5 * (low + high)
        p = bubble_pressure(middle, np.array([x1, 1.0 - x1]), mixture, scratch, y)
        low, high = (middle, high) if p < pressure else (low, middle)
    return 0.5 * (low + high), float(y[0])


def table(
    mixture: MixtureArrays,
    paper: str,
    pressure: float = 101325.0,
    offset: float = 0.0,
    noise: float = 0.0,
    seed: int = 0,
    count: int = 19,
    vapour: bool = False,
) -> MeasuredTable:
    x = np.linspace(0.03, 0.97, count)
    found = np.array([boiling(mixture, v, pressure) for v in x])
    scatter = np.random.default_rng(seed).normal(0.0, noise, count) if noise else np.zeros(count)
    return MeasuredTable(
        f"{paper} at {pressure:.0f} Pa",
        paper,
        found[:, 0] + offset + scatter,
        np.full(count, pressure),
        x,
        found[:, 1] if vapour else None,
    )


def curve(terms: np.ndarray, mixture: MixtureArrays, x: np.ndarray) -> np.ndarray:
    """ln P at 350 K over composition with these terms."""
    changed = pair(terms)._replace(dimerisation=mixture.dimerisation)
    scratch, y = scratch_for(changed), np.zeros(2)
    return np.array(
        [math.log(bubble_pressure(350.0, np.array([v, 1 - v]), changed, scratch, y)) for v in x]
    )


@pytest.fixture(scope="module")
def papers() -> list[MeasuredTable]:
    truth = pair(KNOWN)
    offsets = [0.4, -0.3, 0.1, -0.2, 0.0]
    return [
        table(truth, f"paper {i}", p, offset, noise=0.05, seed=i)
        for i, (offset, p) in enumerate(
            zip(offsets, [101325.0, 101325.0, 50000.0, 20000.0, 101325.0], strict=True)
        )
    ]


@pytest.fixture(scope="module")
def fitted(papers: list[MeasuredTable]) -> PairFit:
    return fit_pair(papers, pair(), LOOSE)


def test_known_coefficients_come_back_within_their_covariance(fitted: PairFit) -> None:
    gap = (fitted.terms - KNOWN).reshape(-1)
    distance = gap @ np.linalg.solve(fitted.covariance, gap)
    assert distance < 16.8  # 99 % of chi-square with six degrees of freedom
    assert np.abs(fitted.terms[:, 0] - KNOWN[:, 0]).max() < 0.03


def test_covariance_is_neither_zero_nor_useless(fitted: PairFit) -> None:
    sigma = np.sqrt(np.diag(fitted.covariance))
    assert np.all(np.linalg.eigvalsh(fitted.covariance) > 0.0)
    assert 0.005 < sigma[0] < 0.05


def test_paper_biases_come_back(fitted: PairFit) -> None:
    expected = np.array([0.4, -0.3, 0.1, -0.2, 0.0])
    assert np.abs(fitted.paper_offset_K - expected).max() < 0.2
    assert fitted.papers == tuple(f"paper {i}" for i in range(5))


def test_fit_is_closer_to_the_points(fitted: PairFit) -> None:
    assert fitted.rms_after_K < 0.35
    assert fitted.rms_before_K > 1.0


def test_intervals_cover_what_they_claim() -> None:
    """Over many draws from the very model, 80 % intervals of a0 hold it 80 % of the time."""
    chosen = FitSettings(terms=2, spread=0.3, tilt_spread=0.5, freedom=200.0, paper_spread=0.03)
    generator = np.random.default_rng(20)
    inside = 0
    draws = 60
    for _ in range(draws):
        truth = generator.normal(0.0, [[0.3, 0.15], [0.18, 0.09]])
        tables = []
        for i in range(3):
            own = truth.copy()
            own[0, 0] += generator.normal(0.0, 0.03)
            made = table(pair(np.vstack([own, [[0.0, 0.0]]])), f"{i}", count=9)
            noise = generator.normal(0.0, 0.15, 9) + generator.normal(0.0, 0.3)
            tables.append(
                MeasuredTable("t", f"{i}", made.temperature_K + noise, made.pressure_Pa,
                              made.liquid_fraction)
            )  # fmt: skip
        fit = fit_pair(tables, pair(), chosen)
        inside += abs(fit.terms[0, 0] - truth[0, 0]) < 1.2816 * math.sqrt(fit.covariance[0, 0])
    assert 0.62 <= inside / draws <= 0.95  # 80 % less and plus three standard errors


def test_a_bad_table_among_good_ones_is_ignored(papers: list[MeasuredTable]) -> None:
    bad = table(pair(np.array([[-0.9, 0.0], [0.6, 0.0], [0.0, 0.0]])), "bad", offset=3.0)
    with_bad = fit_pair([*papers, bad], pair(), LOOSE)
    x = np.linspace(0.05, 0.95, 19)
    gap = curve(with_bad.terms, pair(), x) - curve(KNOWN, pair(), x)
    assert np.abs(gap).max() < 0.04  # the bad table alone lies 0.35 away
    assert with_bad.paper_weight[-1] < 0.5 * with_bad.paper_weight[:-1].min()


def test_a_bad_point_is_ignored(papers: list[MeasuredTable]) -> None:
    first = papers[0]
    spoilt = first.temperature_K.copy()
    spoilt[9] += 6.0
    changed = MeasuredTable("x", first.paper, spoilt, first.pressure_Pa, first.liquid_fraction)
    fit = fit_pair([changed, *papers[1:]], pair(), LOOSE)
    clean = fit_pair(papers, pair(), LOOSE)
    assert np.abs(fit.terms - clean.terms)[:, 0].max() < 0.02
    assert fit.point_weight[9] < 0.05


def test_order_of_the_components_only_changes_odd_signs(papers: list[MeasuredTable]) -> None:
    flipped_base = pair()._replace(vapour_pressure=pair().vapour_pressure[::-1].copy())
    flipped = [
        MeasuredTable(t.name, t.paper, t.temperature_K, t.pressure_Pa, 1.0 - t.liquid_fraction)
        for t in papers
    ]
    one, other = fit_pair(papers, pair(), LOOSE), fit_pair(flipped, flipped_base, LOOSE)
    sign = np.array([1.0, -1.0, 1.0])[:, None]
    assert other.terms == pytest.approx(one.terms * sign, abs=2e-5)


def test_dimers_in_the_vapour_are_part_of_the_fit() -> None:
    truth = pair(KNOWN, dimer=True)
    made = [table(truth, f"{i}", p) for i, p in enumerate([101325.0, 40000.0])]
    with_dimer = fit_pair(made, pair(dimer=True), LOOSE)
    without = fit_pair(made, pair(), LOOSE)
    assert with_dimer.rms_after_K < 0.1 < without.rms_after_K


def test_measured_vapour_tells_what_loose_temperatures_cannot() -> None:
    loose = FitSettings(spread=0.5, tilt_spread=0.1, temperature_noise_K=30.0, fraction_noise=0.0)
    blind = fit_pair([table(pair(KNOWN), "p")], pair(), loose)
    seeing = fit_pair([table(pair(KNOWN), "p", vapour=True)], pair(), loose)
    x = np.linspace(0.1, 0.9, 9)
    truth = curve(KNOWN, pair(), x)
    assert np.abs(curve(seeing.terms, pair(), x) - truth).max() < 0.03
    assert np.abs(curve(blind.terms, pair(), x) - truth).max() > 0.06


def test_without_information_the_base_stays() -> None:
    ends = MeasuredTable(
        "ends", "p", np.array([350.0, 373.0]), np.full(2, 101325.0), np.array([1.0, 0.0])
    )
    fit = fit_pair([ends], pair())
    assert np.abs(fit.terms).max() < 1e-9
    assert fit.covariance[0, 0] == pytest.approx(settings_for(1).spread ** 2, rel=1e-6)


def test_a_mixing_pair_is_kept_in_one_liquid() -> None:
    made = table(pair(np.array([[2.6, 0.0], [0.0, 0.0], [0.0, 0.0]])), "p")
    wide = FitSettings(spread=2.0, tilt_spread=0.1)
    kept = fit_pair([made], pair(), wide)
    free = fit_pair([made], pair(), FitSettings(spread=2.0, tilt_spread=0.1, one_liquid=False))
    grid = stability_grid(pair())
    assert grid.stability(kept.terms).min() > 0.0
    assert grid.stability(free.terms).min() < -0.1


def test_stability_of_a_one_constant_mixture_is_the_textbook_one() -> None:
    """g_E/RT = A x1 x2 gives d ln a1/d ln x1 = 1 - 2 A x1 x2: exact, splits beyond A = 2."""
    grid = stability_grid(pair())
    x = grid.liquid_fraction
    assert sorted(set(grid.temperature_K)) == np.arange(280.0, 421.0, 20.0).tolist()
    assert x.size == 8 * 55
    assert (x.min(), x.max()) == (0.001, 0.999)
    found = grid.stability(np.array([[1.9, 0.0]]))
    assert found == pytest.approx(1.0 - 2.0 * 1.9 * x * (1.0 - x), abs=1e-6)


def test_dilute_corrections_are_the_limits_of_the_kernel() -> None:
    limits = dilute_corrections(KNOWN)
    mixture, ln_gamma = pair(KNOWN), np.zeros(2)
    assert limits.shape == (8, 2)
    for row, temperature in enumerate(np.arange(280.0, 421.0, 20.0)):
        for i, x1 in enumerate((0.0, 1.0)):
            x = np.array([x1, 1.0 - x1])
            ln_activity(temperature, x, mixture, scratch_for(mixture), ln_gamma)
            assert limits[row, i] == pytest.approx(ln_gamma[i], abs=1e-12)


@given(
    st.lists(st.floats(-1.0, 1.0), min_size=6, max_size=6),
    st.floats(0.0, 1.0),
    st.floats(290.0, 420.0),
    st.booleans(),
)
@settings(max_examples=60, deadline=None)
def test_the_fitter_sees_what_the_kernel_computes(
    flat: list[float], x1: float, temperature: float, dimer: bool
) -> None:
    terms = np.array(flat).reshape(3, 2)
    one = MeasuredTable("t", "p", np.array([temperature]), np.array([1e5]), np.array([x1]))
    points = base_points([one], pair(dimer=dimer))
    ln_pressure, ln_slope, vapour, vapour_slope = corrected(points, terms)
    mixture, y = pair(terms, dimer), np.zeros(2)
    x = np.array([x1, 1.0 - x1])
    pressure = bubble_pressure(temperature, x, mixture, scratch_for(mixture), y)
    assert ln_pressure[0] == pytest.approx(math.log(pressure), abs=1e-10)
    assert vapour[0] == pytest.approx(y[0], abs=1e-10)
    for c in range(6):
        step = np.zeros(6)
        step[c] = 1e-5
        up = corrected(points, terms + step.reshape(3, 2))
        down = corrected(points, terms - step.reshape(3, 2))
        assert ln_slope[0, c] == pytest.approx((up[0][0] - down[0][0]) / 2e-5, abs=1e-6)
        assert vapour_slope[0, c] == pytest.approx((up[2][0] - down[2][0]) / 2e-5, abs=1e-6)


@given(st.floats(0.01, 0.99), st.integers(1, 3))
@settings(max_examples=40, deadline=None)
def test_terms_obey_gibbs_duhem(x1: float, terms: int) -> None:
    step = 1e-6
    up, down = (redlich_kister_design(np.array([x1 + s * step]), terms)[0] for s in (1, -1))
    slope = (up - down) / (2.0 * step)
    assert x1 * slope[0] + (1.0 - x1) * slope[1] == pytest.approx(np.zeros(terms), abs=1e-7)


def test_temperature_miss_is_that_of_the_boiling_point() -> None:
    mixture = pair(KNOWN)
    made = table(mixture, "p", offset=2.0)
    points = base_points([made], pair())
    miss = temperature_miss(points, corrected(points, KNOWN)[0])
    assert miss == pytest.approx(-2.0, abs=0.02)


@pytest.mark.parametrize(
    ("columns", "named"),
    [
        ((np.array([350.0, 351.0]), np.array([1e5]), np.array([0.5])), "one length"),
        ((np.array([-1.0]), np.array([1e5]), np.array([0.5])), "above 0"),
        ((np.array([350.0]), np.array([1e5]), np.array([1.5])), "from 0 to 1"),
    ],
)
def test_bad_columns_are_refused(columns: tuple[np.ndarray, ...], named: str) -> None:
    with pytest.raises(BadInput, match=named):
        MeasuredTable("t", "p", *columns)


def test_no_tables_and_three_components_are_refused() -> None:
    with pytest.raises(BadInput, match="at least one table"):
        fit_pair([], pair())
    three = pair()._replace(vapour_pressure=np.vstack([pair().vapour_pressure] * 2)[:3].copy())
    with pytest.raises(BadInput, match="two components"):
        fit_pair([table(pair(), "p")], three)


@pytest.mark.parametrize("freedom", [4.0, 50.0])
def test_a_fit_is_where_a_general_minimiser_ends(freedom: float) -> None:
    """The penalised likelihood written out: Student's t of points and papers, normal priors.

    Lange, Little & Taylor (1989) for points; for the two shifts of a paper, t of two dimensions.
    """
    chosen = FitSettings(
        terms=2, spread=0.4, spread_ratio=0.5, tilt_spread=0.7, freedom=freedom, one_liquid=False
    )
    truth = pair(np.array([[0.5, 0.2], [-0.15, 0.1], [0.0, 0.0]]))
    tables = [
        table(truth, "a", noise=0.2, seed=1, count=9, vapour=True),
        table(truth, "b", 3e4, offset=0.6, noise=0.2, seed=2, count=9),
        table(truth, "c", 101325.0, offset=-0.4, noise=0.3, seed=3, count=9),
    ]
    points = base_points(tables, pair())
    noise = np.hypot(chosen.temperature_noise_K, points.fraction_slope * chosen.fraction_noise)
    sizes = np.array([0.4, 0.4 * 0.7, 0.2, 0.2 * 0.7])
    seen = np.isfinite(points.vapour_fraction)
    y = points.vapour_fraction[seen]
    sure = chosen.vapour_noise * np.maximum(4.0 * y * (1.0 - y), 0.2)

    def cost(unknown: np.ndarray) -> float:
        terms, offset, shift = unknown[:4], unknown[4:7], unknown[7:]
        ln_p, ln_slope, vapour, vapour_slope = corrected(points, terms.reshape(2, 2))
        of = points.paper
        gap = np.log(points.pressure_Pa) - ln_p - ln_slope[:, 0] * shift[of]
        gap = (gap + points.slope * offset[of]) / (points.slope * noise)
        other = (y - vapour[seen] - vapour_slope[seen, 0] * shift[of][seen]) / sure
        tails = 0.5 * (freedom + 1.0) * np.log1p(np.concatenate([gap, other]) ** 2 / freedom)
        strain = (offset / chosen.paper_offset_K) ** 2 + (shift / chosen.paper_spread) ** 2
        papers = 0.5 * (freedom + 2.0) * np.log1p(strain / freedom)
        return float(tails.sum() + papers.sum() + 0.5 * np.sum((terms / sizes) ** 2))

    found = minimize(cost, np.zeros(10), method="BFGS", options={"gtol": 1e-5}).x
    fit = fit_pair(tables, pair(), chosen)
    sigma = np.sqrt(np.diag(fit.covariance))
    assert np.abs(fit.terms.reshape(-1) - found[:4]).max() < 0.05 * sigma.min()
    assert fit.paper_offset_K == pytest.approx(found[4:7], abs=0.01)


def test_one_paper_is_doubted_more_than_several() -> None:
    one, several = settings_for(1), settings_for(2)
    assert several == FitSettings()
    assert one.spread < several.spread
    assert one.paper_spread > several.paper_spread
