"""Points of one's own: fitted, tested for consistency, kept, handed on."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from forerun.core.errors import BadInput
from forerun.equilibrium.bubble import bubble_temperature
from forerun.equilibrium.consistency import area_test, dilute_ends_test, pure_ends_test, vapour_test
from forerun.equilibrium.fitting_own import OwnFit, OwnPoints, fit_own_points
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.equilibrium.own_pairs import OwnPair, own_pair, own_pair_file, read_own_pair
from forerun.substances.catalogue import find

ATMOSPHERE = 101325.0
TRUE_TERMS = np.array([[0.25, 0.0], [0.08, 0.0]])


def pair(first: str = "hexane", second: str = "toluene") -> Mixture:
    return mixture_of([find(first), find(second)], corrections=False)


def invented(mixture: Mixture, terms: np.ndarray = TRUE_TERMS, noise: float = 0.0) -> OwnPoints:
    """Points of a mixture whose activity is known: the base and some terms."""
    correction = np.zeros((2, 2, len(terms), 2))
    correction[0, 1] = terms
    from dataclasses import replace  # noqa: PLC0415 -- only here

    true = replace(mixture, arrays=mixture.arrays._replace(pair_correction=correction))
    x = np.linspace(0.04, 0.96, 14)
    rows = [bubble_temperature(np.array([v, 1.0 - v]), ATMOSPHERE, true) for v in x]
    random = np.random.default_rng(4)
    t = np.array([r[0] for r in rows]) + noise * random.standard_normal(x.size)
    y = np.array([r[1][0] for r in rows])
    n = tuple(range(2, 2 + x.size))
    return OwnPoints(t, np.full(x.size, ATMOSPHERE), x, y, n, ("run",) * x.size)


def test_a_known_correction_is_found_again():
    mixture = pair()
    found = fit_own_points(invented(mixture), mixture)
    assert found.rms_before_K is not None
    assert found.rms_before_K > 1.0
    assert found.rms_after_K == pytest.approx(0.0, abs=0.05)
    assert found.rms_vapour_after == pytest.approx(0.0, abs=0.003)
    assert found.fit.terms[0, 0] == pytest.approx(0.25, abs=0.03)


def test_scatter_of_the_points_is_left_over_not_followed():
    mixture = pair()
    found = fit_own_points(invented(mixture, noise=0.15), mixture)
    assert found.rms_after_K == pytest.approx(0.15, rel=0.5)
    sigma = np.sqrt(np.diag(found.fit.covariance))
    assert abs(found.fit.terms[0, 0] - 0.25) < 4.0 * sigma[0]


def test_vapour_alone_suffices():
    mixture = pair()
    points = invented(mixture)
    blind = OwnPoints(
        np.full(points.rows.__len__(), np.nan),
        points.pressure_Pa,
        points.liquid_fraction,
        points.vapour_fraction,
        points.rows,
        points.runs,
    )
    found = fit_own_points(blind, mixture)
    assert found.rms_after_K is None
    assert found.rms_vapour_before is not None
    assert found.rms_vapour_after is not None
    assert found.rms_vapour_after < 0.2 * found.rms_vapour_before


def test_good_points_are_consistent_and_a_shifted_vapour_is_not():
    mixture = pair()
    points = invented(mixture)
    assert all(t.passed is not False for t in fit_own_points(points, mixture).tests)
    wrong = OwnPoints(
        points.temperature_K,
        points.pressure_Pa,
        points.liquid_fraction,
        np.clip(points.vapour_fraction + 0.06, 0.0, 1.0),
        points.rows,
        points.runs,
    )
    by_name = {t.test: t for t in fit_own_points(wrong, mixture).tests}
    assert by_name["point to point"].passed is False


def test_exchanged_components_are_asked_about():
    mixture = pair("ethanol", "water")
    good = invented(mixture, np.zeros((1, 2)))
    turned = OwnPoints(
        good.temperature_K,
        good.pressure_Pa,
        1.0 - good.liquid_fraction,
        1.0 - good.vapour_fraction,
        good.rows,
        good.runs,
    )
    notes = fit_own_points(turned, mixture).notes
    assert any("is x1 the fraction of ethanol?" in n for n in notes)
    assert not fit_own_points(good, mixture).notes


@pytest.mark.parametrize(("inner", "terms"), [(3, 1), (4, 2), (5, 2), (6, 3), (12, 3)])
def test_two_points_for_each_term_and_three_terms_at_most(inner: int, terms: int):
    mixture = pair()
    made = invented(mixture)
    keep = np.linspace(0, made.liquid_fraction.size - 1, inner).astype(int)
    few = OwnPoints(
        *(v[keep] for v in (made.temperature_K, made.pressure_Pa, made.liquid_fraction,
                            made.vapour_fraction)),
        tuple(range(inner)), ("run",) * inner,
    )  # fmt: skip
    assert fit_own_points(few, mixture).fit.terms.shape == (terms, 2)


def test_too_few_points_are_refused():
    mixture = pair()
    points = invented(mixture)
    few = OwnPoints(*(getattr(points, f)[:2] for f in points.__dataclass_fields__))
    with pytest.raises(BadInput, match="at least three points"):
        fit_own_points(few, mixture)


def test_tests_by_hand():
    """A pair with ln gamma1 = A x2^2, ln gamma2 = A x1^2 is consistent: the areas are equal."""
    x = np.linspace(0.05, 0.95, 13)
    ratio = 0.8 * ((1.0 - x) ** 2 - x**2)
    excess = np.full(x.size, 0.8)
    assert area_test(np.full(x.size, 350.0), x, ratio).value == pytest.approx(0.0, abs=0.1)
    one, two = dilute_ends_test(x, excess, ratio)
    assert (one.passed, two.passed) == (True, True)
    shifted = area_test(np.full(x.size, 350.0), x, ratio + 0.2)
    assert shifted.passed is False
    assert dilute_ends_test(x, excess, ratio + 0.5)[0].passed is False
    assert vapour_test(x, x + 0.005).value == pytest.approx(0.005)
    assert vapour_test(x, x + 0.02).passed is False
    ends = np.array([0.0, 0.5, 1.0])
    assert pure_ends_test(ends, np.array([0.1, 3.0, -0.2])).value == pytest.approx(0.2)
    assert pure_ends_test(x, x).passed is None


def own_of(mixture: Mixture, found: OwnFit) -> OwnPair:
    first, second = mixture.substances
    return OwnPair(
        components=(first.inchikey, second.inchikey),
        names=(first.name, second.name),
        smiles=(first.smiles, second.smiles),
        terms=tuple((float(a), float(b)) for a, b in found.fit.terms),
        covariance=tuple(tuple(row) for row in found.fit.covariance.tolist()),
        base_models=mixture.models,
        scatter_K=found.scatter_K,
        label="a run of May",
        points=(),
        rms={},
        consistency=(),
        probe=(),
    )


def test_a_kept_fit_is_used_whatever_the_order(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path))
    mixture = pair()
    own = own_of(mixture, fit_own_points(invented(mixture), mixture))
    before = mixture_of([find("hexane"), find("toluene")]).pairs[0]
    assert before.origin != "own points"
    file = own_pair_file(*own.components)
    file.parent.mkdir()
    file.write_text(own.text(), encoding="utf-8")
    x = np.array([0.3, 0.7])
    one = mixture_of([find("hexane"), find("toluene")])
    two = mixture_of([find("toluene"), find("hexane")])
    assert (one.pairs[0].basis, one.pairs[0].origin) == ("fitted", "own points")
    assert any("own points: a run of May" in r.citation for r in one.references)
    assert bubble_temperature(x, ATMOSPHERE, one)[0] == pytest.approx(
        bubble_temperature(x[::-1].copy(), ATMOSPHERE, two)[0], abs=1e-9
    )
    three = mixture_of([find("hexane"), find("toluene"), find("octane")])
    assert three.pairs[0].origin == "own points"


def test_reading_back_gives_the_same_and_turning_twice_too(tmp_path: Path):
    mixture = pair()
    own = own_of(mixture, fit_own_points(invented(mixture), mixture))
    file = tmp_path / "pair.json"
    file.write_text(own.text(), encoding="utf-8")
    assert read_own_pair(file) == own
    assert own.flipped().flipped() == own
    assert own.flipped().terms[1][0] == -own.terms[1][0]


@pytest.mark.parametrize(
    "damage",
    [
        lambda body: body.update(format="something else"),
        lambda body: body.pop("terms"),
        lambda body: body.update(terms=[[99.0, 0.0]]),
        lambda body: body.update(terms=[]),
        lambda body: body.update(covariance=[[1.0]]),
        lambda body: body.update(scatter_K=-1.0),
    ],
)
def test_a_damaged_file_is_refused(tmp_path: Path, damage):
    mixture = pair()
    body = json.loads(own_of(mixture, fit_own_points(invented(mixture), mixture)).text())
    damage(body)
    file = tmp_path / "pair.json"
    file.write_text(json.dumps(body), encoding="utf-8")
    with pytest.raises(BadInput):
        read_own_pair(file)


def test_no_fit_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("FORERUN_DATA", str(tmp_path / "nothing here"))
    assert own_pair("A", "B") is None


def test_a_fit_on_other_models_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    from dataclasses import replace  # noqa: PLC0415 -- only here

    from forerun.equilibrium.pairs import base_probe  # noqa: PLC0415 -- only here

    monkeypatch.setenv("FORERUN_DATA", str(tmp_path))
    mixture = pair()
    own = own_of(mixture, fit_own_points(invented(mixture), mixture))
    probe = base_probe(mixture.arrays)
    now = replace(own, probe=probe)
    then = replace(own, probe=tuple(v + 0.01 for v in probe))
    for kept, said in ((now, False), (then, True)):
        for order in (("hexane", "toluene"), ("toluene", "hexane")):
            warnings = mixture_of([find(n) for n in order], own=kept).warnings
            assert any("fit them again" in w for w in warnings) is said
