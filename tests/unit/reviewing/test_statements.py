"""Assays as statements on mass fractions: converted only where that can be done."""

from __future__ import annotations

import numpy as np
import pytest

from forerun.core.references import Reference
from forerun.records.assays import read_assays
from forerun.reviewing.assays import Statements, statements_of
from forerun.reviewing.mixture_curves import MeasuredCurve, density_ideal, index_lorentz_lorenz
from forerun.substances.catalogue import find
from forerun.substances.correlations import density

PAIR = ("heptane", "toluene")
HEAD = "cut,method,substance,value,unit,response,sigma,temperature_C\n"


def _said(text: str, names: tuple[str, ...] = PAIR) -> Statements:
    file = read_assays(HEAD + text)
    assert file.flags == ()
    return statements_of(file, [find(name) for name in names])


def test_area_with_response_factors() -> None:
    (said,) = _said("1,gc_area,heptane,40,%,1.0,,\n1,gc_area,toluene,60,%,1.2,,\n").rows
    assert said.fraction == pytest.approx(0.4 / (0.4 + 0.5))
    np.testing.assert_allclose(said.weights, [1.0, 0.0])
    assert 0.005 < said.sigma < 0.02


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("1,gc_area,heptane,40,%,,,\n1,gc_area,toluene,60,%,1.2,,\n", "no response factor"),
        ("1,gc_area,heptane,40,%,1,,\n", "add up to 100"),
        ("1,gc_area,heptane,40,%,1,,\n1,gc_area,xenon,60,%,1,,\n", "not in the charge"),
        ("1,gc_mass,acetone,40,wt%,,,\n", "not in the charge"),
        ("1,density,,0.7,g/mL,,0.1,\n", "too near"),
    ],
)
def test_what_cannot_be_converted_is_said(text: str, reason: str) -> None:
    found = _said(text)
    assert found.rows == ()
    assert len(found.not_used) == 1
    assert reason in found.not_used[0]
    assert "ine 2" in found.not_used[0]


def test_own_sigma_is_used() -> None:
    (said,) = _said("2,gc_mass,toluene,12.5,wt%,,0.7,\n").rows
    assert (said.cut, said.fraction, said.component) == ("2", 0.125, 1)
    assert said.sigma == pytest.approx(0.007)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.85])
def test_density_and_refractive_index_of_an_ideal_mixture_come_back(share: float) -> None:
    pair = [find(name) for name in PAIR]
    w = np.array([share, 1.0 - share])
    pure = np.array([density(293.15, s) for s in pair])
    indices = np.array([s.refractive_index.value for s in pair if s.refractive_index])
    rho = density_ideal(w, pure)
    index = index_lorentz_lorenz(w, pure, indices, rho)
    said = _said(
        f"1,density,,{rho / 1e3:.9f},g/mL,,,20\n2,refractive_index,,{index:.9f},,,,\n"
    ).rows
    for statement in said:
        assert statement.fraction == pytest.approx(share, abs=1e-5)
        assert statement.weights @ w == pytest.approx(statement.value, abs=1e-9)
    assert [s.label for s in said] == ["density of cut 1", "refractive index of cut 2"]


def test_three_components_share_one_density() -> None:
    names = ("acetone", "ethanol", "toluene")
    trio = [find(name) for name in names]
    w = np.array([0.2, 0.3, 0.5])
    rho = density_ideal(w, np.array([density(293.15, s) for s in trio]))
    (said,) = _said(f"1,density,,{rho / 1e3:.9f},g/mL,,,\n", names).rows
    assert np.isnan(said.fraction)
    assert said.weights @ w == pytest.approx(said.value, rel=1e-9)


def test_titration_is_of_water() -> None:
    (said,) = _said("1,titration,,350,ppm,,,\n", ("ethyl acetate", "water")).rows
    assert said.fraction == pytest.approx(3.5e-4)
    assert said.component == 1


def test_spirit_by_density() -> None:
    found = _said("1,density,,0.82918,g/mL,,,15\n", ("water", "ethanol"))
    (said,) = found.rows
    assert said.component == 1
    assert 0.8 < said.fraction < 0.9
    assert [r.key for r in found.references] == ["oiml_r22"]


def test_a_measured_curve_goes_before_the_ideal_one() -> None:
    curve = MeasuredCurve(
        np.linspace(0.0, 1.0, 5),
        np.array([1.3330, 1.3470, 1.3600, 1.3660, 1.3610]),
        0.0002,
        293.15,
        Reference("own", "made up for this test"),
    )
    pair = [find("ethanol"), find("water")]
    file = read_assays(
        HEAD + "1,refractive_index,,1.3535,,,,\n2,refractive_index,,1.3640,,,,\n"
        "3,refractive_index,,1.3535,,,,25\n"
    )
    found = statements_of(file, pair, {"refractive_index": curve})
    (said,) = found.rows
    assert (said.cut, said.component) == ("1", 0)
    assert said.fraction == pytest.approx(0.375)
    assert said.sigma == pytest.approx(np.hypot(0.0003, 0.0002) / 0.052)
    assert "two" not in found.not_used[0]
    assert "have it" in found.not_used[0]
    assert "another temperature" in found.not_used[1]
    assert [r.key for r in found.references] == ["own"]
