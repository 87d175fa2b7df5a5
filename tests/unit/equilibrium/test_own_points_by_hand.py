"""Points of one's own: tests of consistency worked out by hand, and files asked for either way."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from forerun.equilibrium import bubble, own_pairs
from forerun.equilibrium.bubble import bubble_temperature, dew_temperature
from forerun.equilibrium.fitting import FitSettings
from forerun.equilibrium.fitting_model import base_points
from forerun.equilibrium.fitting_own import (
    OwnPoints,
    _azeotropes_weighed,
    _exchanged,
    _in_order,
    _one_liquid,
    _table,
    _tests,
    fit_own_points,
)
from forerun.equilibrium.kernels import ln_vapour_pressure
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.equilibrium.own_pairs import OwnPair, own_pair, read_own_pair
from forerun.substances.catalogue import find

ATMOSPHERE = 101325.0
TERM = 0.55


@pytest.fixture(scope="module")
def mixture() -> Mixture:
    return mixture_of([find("hexane"), find("toluene")], corrections=False)


def invented(mixture: Mixture, x: list[float], term: float = TERM) -> OwnPoints:
    """Return boiling points and vapours of a liquid that is the base and one Margules term."""
    correction = np.zeros((2, 2, 1, 2))
    correction[0, 1, 0, 0] = term
    true = replace(mixture, arrays=mixture.arrays._replace(pair_correction=correction))
    rows = [bubble_temperature(np.array([v, 1.0 - v]), ATMOSPHERE, true) for v in x]
    n = len(x)
    return OwnPoints(
        np.array([t for t, _ in rows]), np.full(n, ATMOSPHERE), np.array(x),
        np.array([y[0] for _, y in rows]), tuple(range(n)), ("run",) * n,
    )  # fmt: skip


INNER = [0.04, 0.1, 0.2, 0.3, 0.45, 0.6, 0.75, 0.85, 0.93, 0.97]


def _by_hand(points: OwnPoints, mixture: Mixture) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return x, ln(gamma1/gamma2) and g_E/(RT x1 x2) of what was measured."""
    pure = mixture.arrays.vapour_pressure
    x, ratio, excess = [], [], []
    for t, p, x1, y1 in zip(points.temperature_K, points.pressure_Pa, points.liquid_fraction,
                            points.vapour_fraction, strict=True):  # fmt: skip
        first = np.log(y1 * p / x1) - ln_vapour_pressure(0, pure, float(t))
        second = np.log((1.0 - y1) * p / (1.0 - x1)) - ln_vapour_pressure(1, pure, float(t))
        x.append(x1)
        ratio.append(first - second)
        excess.append((x1 * first + (1.0 - x1) * second) / (x1 * (1.0 - x1)))
    return np.array(x), np.array(ratio), np.array(excess)


def _of(points: OwnPoints, mixture: Mixture) -> dict[str, Any]:
    base = base_points([_table(points, points.temperature_K, "run")], mixture.arrays)
    found = _tests(points, base, mixture, FitSettings(terms=3, spread=0.5), None)
    return {one.test: one for one in found}


def test_consistency_is_judged_by_what_was_measured_between_the_pure_liquids(
    mixture: Mixture,
) -> None:
    """Areas and ends of a cubic through ln(gamma1/gamma2), by integration of its own."""
    points = invented(mixture, INNER)
    x, ratio, excess = _by_hand(points, mixture)
    found = _of(points, mixture)
    cubic = np.polynomial.Polynomial.fit(x, ratio, 3)
    grid = np.linspace(0.0, 1.0, 20001)
    above, below = (np.mean(np.maximum(s * cubic(grid), 0.0)) for s in (1.0, -1.0))
    area = 100.0 * abs(above - below) / (above + below)
    assert found["area"].value == pytest.approx(area, abs=0.3)
    whole = np.polynomial.Polynomial.fit(x, excess, 3)
    for name, end, sign in (
        ("dilute first component", 0.0, 1.0), ("dilute second component", 1.0, -1.0)
    ):  # fmt: skip
        slope = sign * cubic(end)
        assert found[name].value == pytest.approx(
            100.0 * abs(whole(end) - slope) / abs(slope), rel=1e-6
        )
    assert found["point to point"].value < 0.002  # vapours are those of the boiling points
    # what cannot be judged changes nothing: pure ends, and rows without temperature or vapour
    more = invented(mixture, [*INNER, 0.0005, 0.9995, 0.5, 0.55, 0.0, 1.0])
    more.temperature_K[12] = np.nan
    more.vapour_fraction[13] = np.nan
    held = np.isfinite(more.temperature_K)
    part = OwnPoints(*(getattr(more, n)[held] for n in
                       ("temperature_K", "pressure_Pa", "liquid_fraction", "vapour_fraction")),
                     tuple(np.flatnonzero(held)), ("run",) * int(held.sum()))  # fmt: skip
    again = _of(part, mixture)
    assert again["area"].value == pytest.approx(found["area"].value, rel=1e-9)
    for name in ("dilute first component", "dilute second component"):
        assert again[name].value == pytest.approx(found[name].value, rel=1e-9)
    assert found["pure ends"].passed is None
    assert again["pure ends"].value < 0.1  # 0.05 mol% of the other moves it by 0.06 K


def test_a_vapour_that_pairs_up_is_not_judged_and_few_points_are_not_either(
    mixture: Mixture,
) -> None:
    acid = mixture_of([find("acetic acid"), find("toluene")], corrections=False)
    found = _of(invented(acid, INNER, 0.1), acid)
    assert {n: t.passed for n, t in found.items()} == dict.fromkeys(found)
    assert len(found) == 5
    few = _of(invented(mixture, [0.3, 0.5, 0.7, 0.8]), mixture)
    assert few["area"].passed is None
    none = invented(mixture, [0.3, 0.5, 0.7])
    none.vapour_fraction[:] = np.nan
    assert _of(none, mixture)["point to point"].passed is None


def test_runs_that_are_mixed_in_the_file_keep_their_rows(mixture: Mixture) -> None:
    plain = invented(mixture, [0.1, 0.3, 0.5, 0.7, 0.9])
    points = replace(plain, runs=("b", "a", "b", "a", "c"))
    tables = [_table(points, points.temperature_K, run) for run in ("b", "a", "c")]
    lacking = np.array([False, False, True, False, False])
    base = _in_order(base_points(tables, mixture.arrays), points, lacking)
    assert base.liquid_fraction.tolist() == [0.1, 0.3, 0.5, 0.7, 0.9]
    assert base.temperature_K == pytest.approx(plain.temperature_K)
    assert base.paper.tolist() == [0, 1, 0, 1, 2]
    assert np.isnan(base.pressure_Pa).tolist() == lacking.tolist()


def test_what_is_written_as_an_azeotrope_weighs_more_and_a_pure_liquid_does_not(
    mixture: Mixture,
) -> None:
    points = invented(mixture, [0.0, 0.2, 0.5, 0.8, 1.0])
    points.vapour_fraction[2] = 0.5002
    base = base_points([_table(points, points.temperature_K, "run")], mixture.arrays)
    weighed = _azeotropes_weighed(base)
    counts = [int(np.sum(weighed.liquid_fraction == x)) for x in (0.0, 0.2, 0.5, 0.8, 1.0)]
    assert counts[0] == counts[1] == counts[3] == counts[4] == 1
    assert counts[2] > 8


def test_exchanged_columns_are_asked_about_only_where_that_mends_much(mixture: Mixture) -> None:
    good = invented(mixture, INNER, 0.0)
    turned = replace(good, liquid_fraction=1.0 - good.liquid_fraction,
                     vapour_fraction=1.0 - good.vapour_fraction)  # fmt: skip
    (asked,) = _exchanged(turned, mixture, 9.0)
    assert "within 9.0 K as given: is x1 the fraction of hexane?" in asked
    assert "within 0.0 K with the two substances exchanged" in asked
    assert _exchanged(turned, mixture, 1.9) == []
    assert _exchanged(turned, mixture, None) == []
    assert _exchanged(good, mixture, 9.0) == []  # turned round it would be worse
    blind = replace(turned, temperature_K=np.append(turned.temperature_K[:-1], np.nan))
    assert _exchanged(blind, mixture, 9.0) == []


def test_a_pair_stays_one_liquid_where_that_is_known_or_no_model_parts_it(mixture: Mixture) -> None:
    notes: list[str] = []
    assert _one_liquid(mixture, notes) is not None
    known = mixture_of([find("tert-butanol"), find("water")], corrections=False)
    assert _one_liquid(known, notes) is not None  # known to mix, whatever the models say
    parts = mixture_of([find("1-butanol"), find("water")], corrections=False)
    assert _one_liquid(parts, notes) is None
    assert notes == []
    with pytest.raises(Exception, match="at least three points between"):
        fit_own_points(invented(mixture, [0.001, 0.3, 0.5, 0.999]), mixture)


def test_a_pair_on_file_is_turned_as_it_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(own_pairs, "own_pairs_folder", lambda: tmp_path)
    made = OwnPair(
        components=("A", "B"), names=("a", "b"), smiles=("C", "CC"),
        terms=((0.3, 0.1), (-0.2, 0.05)), covariance=tuple(tuple(r) for r in np.eye(4).tolist()),
        base_models=(), scatter_K=0.3, label="long " * 100, points=(), rms={}, consistency=(),
        probe=(),
    )  # fmt: skip
    assert own_pair("A", "B") is None
    file = own_pairs.own_pair_file("A", "B")
    file.write_text(made.text(), "utf-8")
    cut = replace(made, label=read_own_pair(file).label)
    assert made.label.startswith(cut.label)
    assert 150 < len(cut.label) <= 200
    assert own_pair("A", "B") == cut
    assert own_pair("B", "A") == cut.flipped()


@pytest.mark.parametrize("y", [[0.2, 0.3, 0.5], [0.6, 0.1, 0.3], [0.03, 0.9, 0.07]])
def test_a_dew_point_is_met_in_a_few_steps(y: list[float], monkeypatch: pytest.MonkeyPatch) -> None:
    """Newton's: the miss is squared at each; substitution alone would take tens of rounds."""
    liquids = mixture_of([find(n) for n in ("acetone", "methanol", "toluene")])
    walked = []
    whole = bubble._walk

    def counted(*given: Any) -> Any:
        walked.append(float(np.abs(given[2]).max()))
        return whole(*given)

    monkeypatch.setattr(bubble, "_walk", counted)
    dew, x = dew_temperature(y, 60e3, liquids)
    assert len(walked) <= 6
    assert bubble_temperature(x, 60e3, liquids)[1] == pytest.approx(y, abs=1e-9)
    assert bubble_temperature(x, 60e3, liquids)[0] == pytest.approx(dew, abs=1e-7)
