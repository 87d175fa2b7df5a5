"""Rows of azeotropes in print over an ideal pair, where each is worked out on paper."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from forerun.equilibrium import azeotropes_printed as said
from forerun.equilibrium import fitting_printed as own
from forerun.equilibrium.azeotropes_printed import Printed, printed_of, printed_words
from forerun.equilibrium.fitting_evidence import MutualSolubility
from forerun.equilibrium.fitting_printed import printed_points, printed_rows
from forerun.equilibrium.mixture import Mixture, mixture_of
from forerun.equilibrium.printed import PrintedAzeotrope
from forerun.substances.catalogue import find
from unit.equilibrium.azeotropes_beds import ATMOSPHERE, printed_row
from unit.equilibrium.test_fitting import pair


def pure(temperature: float) -> tuple[float, float]:
    """Return the vapour pressures of the made-up pair of the fits [Pa]."""
    return math.exp(22.9 - 4000.0 / temperature), math.exp(23.4 - 4430.0 / temperature)


BOILING = 4000.0 / (22.9 - math.log(ATMOSPHERE)), 4430.0 / (23.4 - math.log(ATMOSPHERE))


def gamma(x: float, a: float) -> tuple[float, float]:
    """Return activity coefficients of one Margules term [-]."""
    return math.exp(a * (1.0 - x) ** 2), math.exp(a * x * x)


def over(x: float, temperature: float, a: float = 0.0) -> float:
    """Return the bubble pressure [Pa]."""
    (p, q), (g, h) = pure(temperature), gamma(x, a)
    return x * g * p + (1.0 - x) * h * q


def slopes(x: float, t: float, a: float = 0.0) -> tuple[float, float]:
    """Return d ln P/dT [1/K] and dT/dx of the bubble line [K], by differences."""
    by_t = (math.log(over(x, t + 1e-3, a)) - math.log(over(x, t - 1e-3, a))) / 2e-3
    by_x = (math.log(over(x + 1e-5, t, a)) - math.log(over(x - 1e-5, t, a))) / 2e-5
    return by_t, -by_x / by_t


def ln_volatility(x: float, temperature: float, a: float = 0.0) -> float:
    (p, q), (g, h) = pure(temperature), gamma(x, a)
    return math.log(g * p / (h * q))


@pytest.mark.parametrize("a", [0.0, 0.6])
@pytest.mark.parametrize(("x", "colder"), [(0.3, 6.0), (0.62, 0.4)])
def test_temperature_and_composition_tell_the_level_and_the_ratio(
    x: float, colder: float, a: float
) -> None:
    """Gaps from the base alone, whatever the rows are straight about; noise in kelvin and in x."""
    t = BOILING[0] - colder
    near = np.array([[a, 0.0]])
    printed = printed_row(temperature_K=t, mole_fraction=x)
    found = printed_rows([printed], pair(), about=near)
    level, ratio = found.design[0], found.design[1]
    depth = min(own._TEMPERATURE_NOISE_K, own._DEPTH_NOISE[0] + own._DEPTH_NOISE[1] * colder)
    by_t, by_x = slopes(x, t)
    noise = by_t * math.hypot(depth, by_x * own._FRACTION_NOISE)
    # d ln P/da = sum y_i d ln gamma_i/da
    (p, _), (g, _) = pure(t), gamma(x, a)
    y = x * g * p / over(x, t, a)
    by_a = y * (1.0 - x) ** 2 + (1.0 - y) * x * x
    assert level[0] == pytest.approx(by_a / noise, rel=1e-3)
    assert level[1] == pytest.approx(level[0] * (350.0 / t - 1.0), rel=1e-9)
    gap = math.log(ATMOSPHERE) - math.log(over(x, t, a)) + by_a * a
    assert found.gap[0] == pytest.approx(gap / noise, rel=1e-3)
    step = own._STEP
    across = (ln_volatility(x + step, t, a) - ln_volatility(x - step, t, a)) / (2.0 * step)
    noise = math.hypot(own._VOLATILITY_NOISE, across * own._FRACTION_NOISE)
    assert ratio[0] == pytest.approx((1.0 - 2.0 * x) / noise, rel=1e-6)
    gap = -ln_volatility(x, t, a) + (1.0 - 2.0 * x) * a
    assert found.gap[1] == pytest.approx(gap / noise, rel=1e-6)
    assert found.one_sided.tolist() == [False, False, True, True]
    assert np.isnan(found.per_K).all()


def test_a_composition_alone_is_judged_where_it_boils() -> None:
    """One row, at the boiling point of the model about which it is straight."""
    x, a = 0.45, 0.5
    found = printed_rows([printed_row(mole_fraction=x)], pair(), about=np.array([[a, 0.0]]))
    assert found.one_sided.tolist() == [False, True, True]
    low, high = 300.0, 400.0
    while high - low > 1e-9:
        t = 0.5 * (low + high)
        low, high = (t, high) if over(x, t, a) < ATMOSPHERE else (low, t)
    assert found.design[0, 1] / found.design[0, 0] == pytest.approx(350.0 / t - 1.0, rel=1e-5)
    noise = (1.0 - 2.0 * x) / found.design[0, 0]
    gap = -ln_volatility(x, t, a) + (1.0 - 2.0 * x) * a
    assert found.gap[0] * noise == pytest.approx(gap, rel=1e-6)


def test_a_temperature_alone_and_a_kind_alone_tell_less() -> None:
    assert printed_rows([printed_row(temperature_K=345.0)], pair()).one_sided.all()
    assert printed_rows([printed_row()], pair()).gap.size == 2
    none = printed_rows([], pair())
    assert none.gap.size == 0
    assert none.papers == ()


@pytest.mark.parametrize("rich", [0.7, 0.97])
def test_two_liquids_are_a_boiling_point_of_the_rich_layer_with_its_vapour(rich: float) -> None:
    t, y = 340.0, 0.55
    printed = printed_row(temperature_K=t, mole_fraction=y, liquids=2, rich_layer=rich)
    found = printed_rows([printed], pair())
    p, q = pure(t)
    lesser = min(rich, 1.0 - rich)
    in_x = min(own._LAYER_NOISE[0], own._LAYER_NOISE[1] * lesser)
    part = (
        own._VOLATILITY_NOISE,
        own._FRACTION_NOISE / (y * (1.0 - y)),
        in_x / (rich * (1.0 - rich)),
    )
    noise = math.hypot(*part)
    wanted = math.log(y * (1.0 - rich) / ((1.0 - y) * rich))
    assert found.gap[1] == pytest.approx((wanted - math.log(p / q)) / noise, rel=1e-6)
    assert found.design[1, 0] == pytest.approx((1.0 - 2.0 * rich) / noise, rel=1e-6)
    by_t, by_x = slopes(rich, t)
    depth = min(
        own._TEMPERATURE_NOISE_K, own._DEPTH_NOISE[0] + own._DEPTH_NOISE[1] * (BOILING[0] - t)
    )
    noise = by_t * math.hypot(depth, by_x * in_x)
    gap = math.log(ATMOSPHERE / over(rich, t))
    assert found.gap[0] == pytest.approx(gap / noise, rel=1e-3)


def _layers(temperatures: list[float], rich: list[float]) -> MutualSolubility:
    t, r = np.array(temperatures), np.array(rich)
    return MutualSolubility("a paper", t, np.full(t.size, 0.02), r)


def _rich(found: Any, t: float) -> float:
    """Read the layer back: d = 2x - 1; g = x(1 - x) d^k changes by -d and by 2x(1 - x) - d d."""
    level, ratio = found.design[:2]
    assert level[1] == pytest.approx(level[0] * (350.0 / t - 1.0), rel=1e-9)
    x = np.linspace(0.5001, 0.9999, 4000)
    d = 2.0 * x - 1.0
    expected = (2.0 * x * (1.0 - x) - d * d) / -d
    return float(x[np.argmin(np.abs(expected - ratio[2] / ratio[0]))])


@pytest.mark.parametrize(
    ("temperatures", "layers", "expected"),
    [
        ([300.0, 310.0, 320.0, 330.0, 336.0], [0.80 - 1e-4 * k * k for k in (0, 10, 20, 30, 36)],
         0.80 - 1e-4 * 40.0**2),  # five temperatures: a parabola
        ([300.0, 320.0], [0.80, 0.76], 0.72),  # two: a straight line
        ([330.0], [0.7], 0.7),  # one: as it is
        ([330.2, 329.9], [0.6, 0.8], 0.7),  # the same degree twice: their mean
    ],
)  # fmt: skip
def test_a_layer_is_carried_to_the_azeotrope_by_what_its_measurements_allow(
    temperatures: list[float], layers: list[float], expected: float
) -> None:
    printed = printed_row(temperature_K=340.0, mole_fraction=0.55, liquids=2)
    found = printed_rows([printed], pair(), [_layers(temperatures, layers)])
    assert _rich(found, 340.0) == pytest.approx(expected, abs=2e-3)


def test_a_layer_is_not_carried_far_beyond_what_was_measured() -> None:
    printed = printed_row(temperature_K=340.0, mole_fraction=0.55, liquids=2)
    for temperatures, rows in (
        ([300.0, 316.0], 4),
        ([300.0, 314.0], 2),
        ([364.0, 380.0], 4),
        ([366.0, 380.0], 2),
    ):
        layers = [_layers(temperatures, [0.8, 0.78])]
        assert printed_rows([printed], pair(), layers).gap.size == rows, temperatures
    without = printed_row(mole_fraction=0.55, liquids=2, rich_layer=0.8)
    assert printed_rows([without], pair()).gap.size == 2  # no temperature, no layer
    steep = [_layers([310.0, 320.0], [0.9, 0.97])]
    high = printed_rows([printed], pair(), steep)  # 1.11 by the line: never above a pure liquid
    assert np.isfinite(high.gap).all()


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("kind", ["minimum", "maximum", "none"])
def test_a_kind_asks_for_a_volatility_on_its_side_at_both_pure_ends(
    kind: str, turned: bool
) -> None:
    """Where the first is pure ln(alpha) = ln(P1/P2) at its boiling point, and likewise turned."""
    base = pair()
    if turned:
        base = base._replace(vapour_pressure=np.ascontiguousarray(base.vapour_pressure[::-1]))
    found = printed_rows([printed_row(kind=kind)], base)
    sign = -1.0 if turned else 1.0
    order = (1, 0) if turned else (0, 1)
    lighter = order.index(0)
    for n in (0, 1):
        p, q = pure(BOILING[order[n]])
        value = sign * math.log(p / q)  # of the first over the second
        absent = -value if n == 0 else value  # of the absent one over the pure one
        more = {"minimum": True, "maximum": False, "none": n != lighter}[kind]
        side = 1.0 if more else -1.0
        gap = (own._MARGIN - side * absent) / own._END_NOISE
        assert found.gap[n] == pytest.approx(gap, rel=1e-4)
        # a Margules term raises the absent one's volatility at either end
        assert found.design[n, 0] * own._END_NOISE == pytest.approx(side, rel=1e-4)
    assert found.papers == ("a handbook",)


def test_dimers_forbid_to_judge_the_ends_and_papers_are_counted() -> None:
    assert printed_rows([printed_row()], pair(dimer=True)).gap.size == 0
    rows = [printed_row(), printed_row(source="another"), printed_row()]
    found = printed_rows(rows, pair())
    assert found.paper.tolist() == [0, 0, 1, 1, 0, 0]
    assert found.papers == ("a handbook", "another")


def test_points_are_the_rows_of_one_liquid_that_are_printed_in_full() -> None:
    whole = printed_row(temperature_K=345.0, mole_fraction=0.4)
    rest = [
        printed_row(temperature_K=345.0),
        printed_row(mole_fraction=0.4),
        printed_row(temperature_K=345.0, mole_fraction=0.4, liquids=2),
    ]
    assert printed_points(rest, pair()).paper.size == 0
    points = printed_points([*rest, whole], pair(np.full((3, 2), 0.3)))
    assert points.temperature_K.tolist() == [345.0]
    assert points.liquid_fraction.tolist() == [0.4]
    assert points.pressure_Pa.tolist() == [ATMOSPHERE]
    assert np.isnan(points.vapour_fraction).all()
    assert points.ln_partial[0] == pytest.approx(np.log(pure(345.0)))  # the pair's own is left out


# what is said of them

ETHANOL, BENZENE = find("ethanol"), find("benzene")


@pytest.fixture(scope="module")
def spirit() -> Mixture:
    return mixture_of([ETHANOL, BENZENE])


@pytest.fixture
def in_print(monkeypatch: pytest.MonkeyPatch) -> list[PrintedAzeotrope]:
    rows: list[PrintedAzeotrope] = []
    monkeypatch.setattr(said, "printed_azeotropes", lambda *_: tuple(rows))
    return rows


def test_print_speaks_at_its_own_pressure(
    spirit: Mixture, in_print: list[PrintedAzeotrope]
) -> None:
    in_print += [printed_row(), printed_row(pressure_Pa=5e4, kind="none")]
    found = printed_of(spirit, (0, 1), 1.04 * ATMOSPHERE)
    assert found is not None
    assert (found.rows, found.kind) == ((in_print[0],), "minimum")
    assert printed_of(spirit, (0, 1), 1.1 * ATMOSPHERE) is None
    low = printed_of(spirit, (0, 1), 4.8e4)
    assert low is not None
    assert low.kind == "none"
    assert printed_of(spirit, (0, 1), 4.6e4) is None


def test_prints_that_disagree_have_no_kind(
    spirit: Mixture, in_print: list[PrintedAzeotrope]
) -> None:
    in_print += [printed_row(), printed_row(kind="none", source="another")]
    found = printed_of(spirit, (0, 1), ATMOSPHERE)
    assert found is not None
    assert found.kind is None
    assert len(found.rows) == 2
    in_print[1] = printed_row(source="another")
    again = printed_of(spirit, (0, 1), ATMOSPHERE)
    assert again is not None
    assert again.kind == "minimum"


def test_print_is_not_asked_beside_ones_own_points_or_the_base_alone(
    in_print: list[PrintedAzeotrope],
) -> None:
    in_print += [printed_row()]
    bare = mixture_of([ETHANOL, BENZENE], corrections=False)
    assert printed_of(bare, (0, 1), ATMOSPHERE) is None
    three = mixture_of([ETHANOL, BENZENE, find("hexane")])
    assert printed_of(three, (0, 2), ATMOSPHERE) is not None


def test_print_differs_by_its_kind_or_by_a_number_outside_of_the_band() -> None:
    band = {"temperature_K": (340.0, 342.0), "fraction": (0.4, 0.5)}
    whole = Printed((printed_row(temperature_K=341.0, mole_fraction=0.45),), "minimum")
    assert not whole.differs("minimum", **band)
    assert whole.differs("maximum", **band)
    assert Printed(whole.rows, None).differs("minimum", **band)
    for off in ({"temperature_K": 339.0}, {"temperature_K": 343.0}, {"mole_fraction": 0.39},
                {"mole_fraction": 0.51}):  # fmt: skip
        assert Printed((*whole.rows, printed_row(**off)), "minimum").differs("minimum", **band), off
    assert not Printed((printed_row(),), "minimum").differs(
        "minimum", **band
    )  # nothing else is printed
    assert not Printed((printed_row(temperature_K=340.0),), "minimum").differs("minimum", **band)


def test_what_is_printed_is_told_row_by_row_each_once() -> None:
    rows = (
        printed_row(temperature_K=341.0, mole_fraction=0.4484),
        printed_row(temperature_K=341.0, mole_fraction=0.4484),
        printed_row(kind="none", source="another", provenance="from memory"),
        printed_row(kind="maximum", mole_fraction=0.1, source="a third"),
    )
    assert printed_words(Printed(rows, None), "ethanol") == (
        "print: a minimum, 67.85 °C, 44.8 mol% ethanol (a handbook); "
        "no azeotrope (another, from memory); a maximum, 10 mol% ethanol (a third)"
    )
