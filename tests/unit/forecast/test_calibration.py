"""Calibration: it finds a known truth, says what it did not learn, and its two ways agree."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from forerun.core.errors import BadInput, CalculationFailed
from forerun.forecast import calibration
from forerun.forecast.calibration import Calibrated, calibrate, forecast_from, profile
from forerun.forecast.circumstances import member_of, with_circumstances
from forerun.forecast.drawing import draw_member, prior_of
from forerun.forecast.least_squares import minimised, profiled
from forerun.forecast.observing import Readings, observed_until, seen_in
from forerun.forecast.outlook import outlook_of
from forerun.forecast.posterior import nominal_of, tied_in
from forerun.forecast.smoother import smoothed
from forerun.forecast.stepping import fit_doubt
from forerun.sheets.resolving import load
from forerun.still.from_sheet import Prepared, prepare
from forerun.still.results import Run
from forerun.still.run import run_still
from unit.small_still import SHEET

NOW = 900.0  # the first drop falls at 800 s, the receiver is changed at 1070 s


@cache
def prepared(text: str = SHEET) -> Prepared:
    return prepare(load(text))


@cache
def truth(heat: float = 0.8, thermometer: float = 1.5, text: str = SHEET) -> Run:
    prior = prior_of(prepared(text))
    z = np.zeros(len(prior.unknowns))
    names = [u.name for u in prior.unknowns]
    z[names.index("heat_transfer")] = heat
    z[names.index("thermometer")] = thermometer
    return run_still(draw_member(prior, z))


def readings(run: Run, every: float = 1.0, noise: float = 0.1, volume: bool = False) -> Readings:
    random = np.random.default_rng(7)
    time = np.arange(0.0, float(run.trace.time_s[-1]), every)
    head = np.interp(time, run.trace.time_s, run.trace.head_temperature_K)
    head = head + noise * random.standard_normal(time.size)
    over = np.interp(time, run.trace.time_s, run.trace.distillate_volume_m3) if volume else None
    return Readings(time, head, over, noise_K=max(noise, 0.05))


def as_supposed(_away: np.ndarray) -> float:
    return 1.0


@cache
def fitted(method: str = "smoother") -> Calibrated:
    return calibrate(prepared(), readings(truth()), NOW, members=48, seed=2, method=method)  # type: ignore[arg-type]


def deviates(found: Calibrated, name: str) -> tuple[float, float]:
    k = [u.name for u in found.prior.unknowns].index(name)
    return float(found.z[:, k].mean()), float(found.z[:, k].std(ddof=1))


def test_the_linear_problem_has_its_exact_posterior_by_both_ways() -> None:
    random = np.random.default_rng(3)
    matrix = random.standard_normal((6, 3))
    sigma = np.array([0.5, 1.0, 0.3, 0.8, 0.6, 1.2])
    value = matrix @ np.array([0.7, -1.1, 0.4])
    precision = np.eye(3) + matrix.T @ (matrix / sigma[:, None] ** 2)
    mean = np.linalg.solve(precision, matrix.T @ (value / sigma**2))

    def predict(z: np.ndarray) -> np.ndarray:
        return z @ matrix.T

    found = smoothed(3, predict, value, sigma, as_supposed, 64, seed=1)
    assert found.settled
    np.testing.assert_allclose(found.last.mean, mean, atol=0.01)
    np.testing.assert_allclose(found.last.covariance, np.linalg.inv(precision), atol=0.005)
    fit = minimised(predict, value, [sigma], 3)
    np.testing.assert_allclose(fit.z, mean, atol=1e-3)
    np.testing.assert_allclose(fit.covariance, np.linalg.inv(precision), rtol=1e-6)
    sd = np.sqrt(fit.covariance[1, 1])
    rise = profiled(predict, value, sigma, fit, 1, float(fit.z[1] + sd))
    assert rise == pytest.approx(1.0, abs=0.02)


def test_a_smoother_without_survivors_is_an_error() -> None:
    with pytest.raises(CalculationFailed, match="0 members"):
        smoothed(2, lambda _z: np.full((8, 1), np.nan), np.ones(1), np.ones(1), as_supposed, 8, 1)


def test_members_that_fail_are_left_out_and_the_rest_fit() -> None:
    def predict(z: np.ndarray) -> np.ndarray:
        seen = z[:, :1].copy()
        seen[z[:, 1] > 1.5] = np.nan
        return seen

    found = smoothed(2, predict, np.array([1.0]), np.array([0.1]), as_supposed, 64, seed=1)
    assert found.last.mean[0] == pytest.approx(0.99, abs=0.05)
    assert found.last.covariance[1, 1] == pytest.approx(1.0, abs=0.05)


def test_a_still_far_from_its_sheet_is_found() -> None:
    """A front that no member of the prior has anywhere near: whole steps until it is met."""
    moments = np.linspace(0.0, 100.0, 60)

    def predict(z: np.ndarray) -> np.ndarray:
        arrival = 30.0 * np.exp(0.3 * z[:, :1])
        return np.asarray(50.0 / (1.0 + np.exp((arrival - moments) / 1.0)))

    value = predict(np.array([[3.2, 0.0]]))[0]
    sigma = 0.5 + 4.0 * np.abs(np.gradient(value, moments))
    observed = replace(
        observed_until(Readings(moments, value), 100.0), value=value, starts=np.arange(60)
    )
    found = smoothed(2, predict, value, sigma, lambda away: fit_doubt(away, observed), 48, seed=1)
    assert found.last.mean[0] == pytest.approx(3.2, abs=0.3)
    assert found.last.misfit < 1.0


@pytest.mark.parametrize("method", ["smoother", "least_squares"])
def test_the_truth_lies_where_the_fit_says(method: str) -> None:
    found = fitted(method)
    for name, true in (("heat_transfer", 0.8), ("thermometer", 1.5)):
        mean, sd = deviates(found, name)
        assert sd < 0.92 if name == "thermometer" else sd < 0.2
        assert abs(mean - true) < 3.0 * sd + 0.1
    assert found.misfit < 1.0
    assert found.weights.sum() == pytest.approx(1.0)
    assert len(found.members) == found.z.shape[0]


def test_both_ways_agree() -> None:
    for name in ("heat_transfer", "thermometer"):
        (a, sa), (b, sb) = deviates(fitted(), name), deviates(fitted("least_squares"), name)
        assert abs(a - b) < 1.5 * max(sa, sb) + 0.1
        assert 0.4 < sa / sb < 4.0  # the smoother spreads wider where the still is curved


def test_no_precise_claim_for_what_was_not_learned() -> None:
    found = {entry.name: entry for entry in fitted().learned}
    assert found["heat_transfer"].learned
    amount = found["charge:toluene"]
    assert not amount.learned
    assert "not learned from this record" in amount.says
    assert f"{amount.median:.3g}" not in amount.says.replace(f"{amount.prior_low:.3g}", "").replace(
        f"{amount.prior_high:.3g}", ""
    )
    assert any("charge:toluene" in w for w in fitted().warnings)


def test_before_vapour_comes_a_record_teaches_nothing() -> None:
    first = truth().first_drop_s
    assert first is not None
    found = calibrate(prepared(), readings(truth()), 0.3 * first, members=48, seed=2)
    assert all(entry.width_ratio > 0.6 for entry in found.learned)
    assert not next(e for e in found.learned if e.name == "thermometer").learned


def test_more_of_the_record_makes_narrower_bands_around_the_switch() -> None:
    true = truth().cuts[0].end_s
    widths = []
    for now in (0.3 * NOW, NOW):
        found = forecast_from(calibrate(prepared(), readings(truth()), now, members=48, seed=2))
        outlook = found.outlook
        assert outlook is not None
        assert outlook.switch == 1
        assert outlook.probability > (0.5 if now < NOW else 0.95)
        assert outlook.time_s is not None
        widths.append(outlook.time_s.high - outlook.time_s.low)
        middle = outlook.now_s + outlook.time_s.median
        assert abs(middle - true) < 2.0 * widths[-1]
    assert widths[1] < 0.6 * widths[0]


@pytest.mark.parametrize("method", ["smoother", "least_squares"])
def test_a_record_that_is_not_explained_widens_what_is_said(method: str) -> None:
    right = readings(truth())
    cooled = right.head_temperature_K.copy()
    cooled[840:880] -= 30.0  # a draught, or a thermometer lifted out
    wrong = Readings(right.time_s, cooled)
    found = calibrate(prepared(), wrong, 1000.0, members=32, seed=2, method=method)  # type: ignore[arg-type]
    fine = calibrate(prepared(), right, 1000.0, members=32, seed=2, method=method)  # type: ignore[arg-type]
    assert fine.doubt < 1.0
    assert fine.widening == 1.0
    assert not any("does not explain" in w for w in fine.warnings)
    assert found.doubt > 2.0
    assert found.widening > 1.2
    (said,) = [w for w in found.warnings if "does not explain" in w]
    assert f"{found.widening:.1f} times as wide" in said
    assert deviates(found, "heat_transfer")[1] > deviates(fine, "heat_transfer")[1]


def test_a_slow_thermometer_in_a_cold_room_is_not_learned_as_a_heat_path(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    usual = prepared().still
    slow = replace(
        usual,
        thermometer_lag_s=3.0 * usual.thermometer_lag_s,
        room_temperature_K=usual.room_temperature_K - 7.0,
    )
    seen = readings(run_still(slow))
    found = calibrate(prepared(), seen, NOW, members=48, seed=2)
    mean, sd = deviates(found, "heat_transfer")
    assert abs(mean) < 2.5 * sd
    monkeypatch.setattr(calibration, "with_circumstances", lambda prior, **_read: prior)
    sure, firm = deviates(calibrate(prepared(), seen, NOW, members=48, seed=2), "heat_transfer")
    assert abs(sure) > 2.5 * firm
    assert firm < 0.7 * sd


def test_circumstances_move_what_they_are_called_after() -> None:
    prior = with_circumstances(prior_of(prepared()), bath_read=True)
    names = [u.name for u in prior.unknowns]
    z = np.zeros(len(names))
    for name in ("room", "charge_temperature", "thermometer_lag", "bath"):
        z[names.index(name)] = 1.0
    usual, moved = prepared().still, member_of(prior, z)
    assert moved.room_temperature_K == pytest.approx(usual.room_temperature_K + 4.0)
    assert moved.charge_temperature_K == pytest.approx(usual.charge_temperature_K + 2.0)
    assert moved.thermometer_lag_s == pytest.approx(usual.thermometer_lag_s * np.exp(0.5))
    np.testing.assert_allclose(moved.bath_temperature - usual.bath_temperature, [[0.0, 0.5]] * 2)
    planned = with_circumstances(prior_of(prepared()), bath_read=False)
    assert planned.unknowns[-1].sigma > prior.unknowns[-1].sigma


def test_errors_are_learned_from_what_is_missed_and_how_long_it_lasts() -> None:
    observed = observed_until(readings(truth()), NOW)
    none = np.zeros(observed.value.size)
    assert 0.6 < fit_doubt(none, observed) < 1.0
    signs = np.where(np.arange(none.size) % 2, 1.0, -1.0)
    assert fit_doubt(3.0 * signs, observed) == pytest.approx(3.0)
    lasting = np.where(np.arange(none.size) < none.size // 2, 3.0, -3.0)
    assert fit_doubt(lasting, observed) > 1.5 * fit_doubt(3.0 * signs, observed)


def test_some_unknowns_alone_and_the_others_keep_their_spread() -> None:
    found = calibrate(
        prepared(), readings(truth()), NOW, members=48, method="least_squares",
        unknowns=["heat_transfer", "thermometer"],
    )  # fmt: skip
    assert deviates(found, "charge:toluene")[1] == pytest.approx(1.0, abs=0.1)
    assert deviates(found, "heat_transfer")[1] < 0.5
    with pytest.raises(BadInput, match="unknowns"):
        calibrate(prepared(), readings(truth()), NOW, unknowns=["colour"])
    with pytest.raises(BadInput, match="members"):
        calibrate(prepared(), readings(truth()), NOW, members=2)


def test_a_profile_rises_to_both_sides() -> None:
    found = fitted("least_squares")
    points = profile(found, "heat_transfer")
    rises = [rise for _, rise in points]
    assert rises[2] == 0.0
    assert min(rises[0], rises[4]) > 1.0
    with pytest.raises(BadInput, match="name"):
        profile(fitted(), "heat_transfer")


def test_plates_are_fitted_between_whole_numbers() -> None:
    text = SHEET.replace('flask = "50 mL"', 'flask = "50 mL"\nplates = 3\nholdup = "0.5 mL"')
    found = calibrate(
        prepared(text), readings(truth(0.5, 0.0, text)), 1500.0, members=32,
        method="least_squares", unknowns=["plates", "heat_transfer"],
    )  # fmt: skip
    assert found.fit is not None
    assert np.any(found.fit.jacobian[:, 1] != 0.0)
    assert np.any(found.fit.jacobian[:, 0] != 0.0)
    assert deviates(found, "heat_transfer")[1] < 0.5


def test_readings_in_blocks_are_the_means_of_what_a_run_would_show() -> None:
    run = truth()
    exact = readings(run, noise=0.0, volume=True)
    observed = observed_until(exact, 1000.0)
    assert observed.until_s == pytest.approx(1000.0, abs=1.0)
    assert observed.value.size <= 120
    np.testing.assert_allclose(seen_in(run, observed), observed.value, rtol=1e-12)
    steep = int(np.argmax(observed.slope[: observed.heads]))
    assert observed.sigma()[steep] > 5.0 * observed.sigma(0.0)[steep]


def test_readings_that_cannot_be_used() -> None:
    with pytest.raises(BadInput, match="as many"):
        Readings(np.arange(3.0), np.arange(2.0))
    with pytest.raises(BadInput, match="rising"):
        Readings(np.array([2.0, 1.0]), np.array([300.0, 300.0]))
    with pytest.raises(BadInput, match="noise_K"):
        Readings(np.arange(3.0), np.full(3, 300.0), noise_K=0.0)
    with pytest.raises(BadInput, match="three"):
        observed_until(Readings(np.arange(3.0), np.array([300.0, np.nan, 300.0])), 10.0)


def test_tied_pairs_are_named() -> None:
    prior = prior_of(prepared())
    z = np.random.default_rng(1).standard_normal((100, len(prior.unknowns)))
    assert tied_in(prior, z) == ()
    z[:, 1] = -z[:, 0] + 0.1 * z[:, 1]
    (tie,) = tied_in(prior, z)
    assert tie.correlation < -0.9
    assert tie.first in tie.says
    assert tie.second in tie.says


def test_nominal_values_have_their_units() -> None:
    prior = prior_of(prepared())
    found = {u.name: nominal_of(prior, u) for u in prior.unknowns}
    assert found["heat_loss"] == (pytest.approx(0.04), "W/K")
    assert found["pressure"] == (pytest.approx(101325.0), "Pa")
    assert found["charge:toluene"][1] == "mol"
    assert found["vapour_pressure:toluene"] == (0.0, "")


def test_an_outlook_past_the_last_switch() -> None:
    run = truth()
    late = outlook_of([run], float(run.trace.time_s[-1]))
    assert late.switch is None
    assert late.probability == 0.0
    assert late.time_s is None
    early = outlook_of([run], 0.0)
    assert early.switch == 1
    assert early.time_s is not None
    assert early.time_s.median == pytest.approx(run.cuts[0].end_s)
    assert early.volume_m3 is not None
    assert early.volume_m3.median == pytest.approx(run.cuts[0].volume_m3, rel=1e-3)
