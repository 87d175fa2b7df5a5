"""Shares of variance against a function whose Sobol indices are known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.forecast.drawing import normal_points
from forerun.forecast.ensemble import foresee
from forerun.forecast.product import collected
from forerun.forecast.sensitivity import variance_shares
from forerun.sheets.resolving import load

SHEET = """
[[charge]]
substance = "cyclohexane"
amount = "10 mL"
[[charge]]
substance = "toluene"
amount = "10 mL"
[rig]
flask = "50 mL"
plates = 2
holdup = "0.5 mL"
heat_loss = "0.04 W/K"
[programme]
pressure = "760 mmHg"
bath = [["0 min", "25 °C"], ["5 min", "140 °C"]]
stop = { residue = "4 mL", time = "80 min" }
[[switch]]
volume = "6 mL"
[aim]
substance = "cyclohexane"
purity = "70 mol%"
[uncertain]
heat_transfer = "30 %"
heat_loss = "1 %"
"""


def test_shares_of_a_line_a_parabola_and_an_interplay() -> None:
    z = normal_points(4, 512, seed=1)
    values = 3.0 * z[:, 0] + 2.0 * (z[:, 1] ** 2 - 1.0) / np.sqrt(2.0) + 1.0 * z[:, 2] * z[:, 0]
    found = variance_shares(z, values)
    assert found is not None
    shares, slopes, explained = found
    np.testing.assert_allclose(shares, [9 / 14, 4 / 14, 0.0, 0.0], atol=0.03)
    assert slopes[0] == pytest.approx(3.0, abs=0.1)
    assert explained == pytest.approx(13 / 14, abs=0.03)


def test_too_few_members_say_nothing_and_noise_is_not_explained() -> None:
    z = normal_points(5, 64, seed=1)
    assert variance_shares(z[:10], z[:10, 0]) is None
    assert variance_shares(z, np.ones(64)) is None
    noise = variance_shares(z, np.random.default_rng(2).standard_normal(64))
    assert noise is not None
    assert noise[2] < 0.2


def test_heat_moves_the_first_drop_and_the_front_is_one() -> None:
    found = foresee(load(SHEET), members=48, seed=1)
    first = next(s for s in found.sensitivities if s.result == "first drop")
    assert first.shares[0].name == "heat_transfer"
    assert first.shares[0].share > 0.7
    assert first.shares[0].effect < 0.0  # more heat, an earlier drop
    product = found.product
    assert product is not None
    assert product.asked == pytest.approx(0.7)
    for odds in product.cuts:
        assert odds.probability is not None
        assert 0.0 < odds.probability < 1.0
        assert odds.purity is not None
    first_cut, second_cut = (odds.probability or 0.0 for odds in product.cuts)
    assert first_cut > second_cut
    purities = [w.purity for w in product.front]
    assert purities == sorted(purities, reverse=True)
    for one in product.front:
        assert not any(
            other.purity > one.purity
            and other.recovery > one.recovery
            and other.time_s < one.time_s
            for other in product.front
        )
        assert one.purity_band is not None
        assert one.purity_band.low <= one.purity_band.high


def test_what_was_collected_is_what_the_receivers_hold() -> None:
    run = foresee(load(SHEET)).run
    total = run.trace.distillate_volume_m3[-1]
    np.testing.assert_allclose(
        collected(run, np.array([0.0, total])), [np.zeros(2), run.ledger.cuts_mol], rtol=1e-4
    )
    first = collected(run, np.array([run.cuts[0].volume_m3]))[0]
    np.testing.assert_allclose(first, run.cuts[0].mole_fraction * run.cuts[0].amount_mol, rtol=0.03)
