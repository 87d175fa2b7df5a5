"""Azeotropes in print as rows of a fit, beside measured boiling points.

An azeotrope of one liquid with its temperature and composition is a boiling point whose vapour is
its liquid: it tells the level of the activity coefficients there and their ratio.  One of two
liquids is the boiling of the two layers into which the fit parts there, with its vapour; where the
fit does not part, it is a boiling point of the rich layer that mutual solubilities tell.  One of
which only the kind is printed tells on which side of 1 the relative volatility lies at both pure
ends; that an azeotrope does not exist tells the same.  Such rows count only where the fit
contradicts them.  Rows are straight in the coefficients about the base, or about a fit that went
before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from forerun.core.errors import BadInput
from forerun.equilibrium.arrays import MixtureArrays
from forerun.equilibrium.azeotropes_search import boiling_points
from forerun.equilibrium.fitting_evidence import Evidence, MutualSolubility, no_evidence
from forerun.equilibrium.fitting_layers import MovingLayer, moving_layer
from forerun.equilibrium.fitting_model import (
    MOST_TERMS,
    BasePoints,
    MeasuredTable,
    bare_base,
    base_points,
    corrected,
    no_points,
)
from forerun.equilibrium.kernels import ln_vapour_pressure
from forerun.equilibrium.printed import PrintedAzeotrope

__all__ = ["printed_points", "printed_rows"]

Floats = npt.NDArray[np.float64]

# Standard deviations: what handbooks and papers differ by for one azeotrope; own judgement after
# comparing rows of the same pair in several of them.
_TEMPERATURE_NOISE_K = 0.3
_DEPTH_NOISE = (0.05, 0.3)  # K, and share of the distance from the nearer pure boiling point
_FRACTION_NOISE = 0.012  # mole fraction
# Mole fraction of a layer carried to the azeotrope's temperature: at most, share of the lesser.
_LAYER_NOISE = (0.02, 0.2)
_CARRIED_K = 25.0  # how far beyond measured solubilities a layer is carried
_VOLATILITY_NOISE = 0.01  # of ln(relative volatility): what a few terms cannot follow [-]
_END_NOISE = 0.03  # the same at infinite dilution [-]
_MARGIN = 0.03  # of ln(relative volatility) on the right side of 0, for a kind alone [-]
_END = 1e-6  # mole fraction that stands for infinite dilution
_STEP = 0.01  # mole fraction, half the step across which the volatility's slope is taken
_LAYER_STEP = 1e-3  # share of the lesser mole fraction of a layer, the same
# A printed vapour counts only if it leaves the nearly pure liquid an activity near 1; judgements.
_NEARLY_PURE, _PURE_ACTIVITY = 0.95, (0.9, 1.05)
_BARE = np.zeros((MOST_TERMS, 2))


def printed_rows(
    printed: Sequence[PrintedAzeotrope],
    mixture: MixtureArrays,
    solubilities: Sequence[MutualSolubility] = (),
    about: Floats | None = None,
) -> Evidence:
    """Return the rows of printed azeotropes of a pair.

    Args:
        printed: azeotropes and non-azeotropes, mole fractions in the order of the mixture.
        mixture: a mixture of two components; its pair correction is left out.
        solubilities: measured ones of the pair, which tell the layers of two liquids where the
            fit does not part.
        about: (K, 2) coefficients about which the rows are straight; None for the base alone [-].

    Returns:
        Two rows for a temperature and composition, one for either alone where it tells something,
        and two one-sided ones for the kind at the pure ends; none for those where dimers forbid to
        judge.

    Raises:
        BadInput: the mixture does not have two components.

    Source:
        Each printed row carries its own; equations as `fitting_model.corrected`.
    """
    if mixture.vapour_pressure.shape[0] != 2:
        raise BadInput("mixture", mixture.vapour_pressure.shape[0], "two components")
    base = bare_base(mixture)
    near = np.zeros((MOST_TERMS, 2))
    if about is not None:
        near[: about.shape[0]] = about
    sources = tuple(dict.fromkeys(p.source for p in printed))
    total = no_evidence()
    for row in printed:
        paper = sources.index(row.source)
        layer = None
        if row.liquids == 2 and row.temperature_K is not None:
            layer = moving_layer(row.temperature_K, base, near)
        if layer is not None:
            total = total.joined(_parted(row, layer, base, paper, near))
        else:
            x = row.mole_fraction if row.liquids == 1 else _rich_layer(row, solubilities)
            if x is not None:
                total = total.joined(_stated(row, x, base, paper, near))
        total = total.joined(_ends(row, base, paper))
    return replace(total, papers=sources if total.gap.size else ())


def _rich_layer(row: PrintedAzeotrope, solubilities: Sequence[MutualSolubility]) -> float | None:
    """Mole fraction of the first in the layer rich in it at the azeotrope, from solubilities."""
    if row.temperature_K is None or not solubilities:
        return row.rich_layer if row.temperature_K is not None else None
    t = np.concatenate([s.temperature_K for s in solubilities])
    rich = np.concatenate([s.rich for s in solubilities])
    beyond = max(float(t.min()) - row.temperature_K, row.temperature_K - float(t.max()))
    if beyond > _CARRIED_K:
        return None
    degree = 2 if np.unique(np.round(t)).size > 4 else min(np.unique(np.round(t)).size - 1, 1)
    line = np.polynomial.Polynomial.fit(t, rich, degree)
    return float(np.clip(line(row.temperature_K), _END, 1.0 - _END))


def printed_points(printed: Sequence[PrintedAzeotrope], mixture: MixtureArrays) -> BasePoints:
    """Return the printed azeotropes of one liquid whose temperature and composition are printed.

    Args:
        printed: mole fractions in the order of the mixture.
        mixture: a mixture of two components; its pair correction is left out.

    Returns:
        One boiling point for each, the vapour left out.
    """
    rows = [
        (r.mole_fraction, r.temperature_K, r.pressure_Pa)
        for r in printed
        if r.liquids == 1 and r.mole_fraction is not None and r.temperature_K is not None
    ]
    if not rows:
        return no_points()
    x, temperature, pressure = (np.array(column) for column in zip(*rows, strict=True))
    table = MeasuredTable("printed azeotropes", "", temperature, pressure, x)
    return base_points([table], bare_base(mixture))


def _rows(design: Floats, gap: Floats, noise: Floats, paper: int, *, one_sided: bool) -> Evidence:
    return Evidence(
        design / noise[:, None],
        gap / noise,
        np.full(gap.size, paper, dtype=np.int64),
        np.full(gap.size, np.nan),
        (),
        np.full(gap.size, one_sided),
    )


def _stated(
    row: PrintedAzeotrope, x: float, base: MixtureArrays, paper: int, near: Floats
) -> Evidence:
    """The level and the ratio of the activity coefficients in a liquid of a printed azeotrope."""
    temperature, y = row.temperature_K, row.mole_fraction
    if temperature is None:
        temperature = _boiling(x, row.pressure_Pa, base, near)
    places = np.clip([x, x - _STEP, x + _STEP], _END, 1.0 - _END)
    points = _points(places, temperature, row.pressure_Pa, base)
    level, slope, _, _ = corrected(points, near)
    value, design = _ln_volatility(points, near)
    across = (value[2] - value[1]) / (places[2] - places[1])
    gaps, designs, noises = [], [], []
    in_x = _FRACTION_NOISE
    if row.liquids == 2:
        in_x = min(_LAYER_NOISE[0], _LAYER_NOISE[1] * min(x, 1.0 - x))
    if row.temperature_K is not None:
        noise = float(np.hypot(_noise_K(row, base), points.fraction_slope[0] * in_x))
        gaps.append(np.log(row.pressure_Pa) - level[0])
        designs.append(slope[0])
        noises.append(float(points.slope[0]) * noise)
    if y is not None:
        wanted = np.log(y * (1.0 - x) / ((1.0 - y) * x))
        own = across * in_x
        if row.liquids == 2:
            own = np.hypot(_FRACTION_NOISE / (y * (1.0 - y)), in_x / (x * (1.0 - x)))
        gaps.append(wanted - value[0])
        designs.append(design[0])
        noises.append(float(np.hypot(_VOLATILITY_NOISE, own)))
    rows = np.array(designs)
    gap = np.array(gaps) + rows @ near.reshape(-1)
    return _rows(rows, gap, np.array(noises), paper, one_sided=False)


def _parted(
    row: PrintedAzeotrope, layer: MovingLayer, base: MixtureArrays, paper: int, near: Floats
) -> Evidence:
    """Pressure and vapour over the two liquids of the fit at the printed temperature."""
    assert row.temperature_K is not None
    x = layer.fraction
    step = _LAYER_STEP * min(x, 1.0 - x)
    points = _points(np.array([x, x - step, x + step]), row.temperature_K, row.pressure_Pa, base)
    level, slope, vapour, change = corrected(points, near)
    odds = np.log(vapour / (1.0 - vapour))
    moved = layer.slope / (2.0 * step)
    # Two liquids boil at less than the sum of their vapour pressures; print above it is capped.
    most = sum(_pure_pressure(i, row.temperature_K, base) for i in (0, 1))
    gaps = [np.log(min(row.pressure_Pa, most)) - level[0]]
    designs = [slope[0] + (level[2] - level[1]) * moved]
    noises = [float(points.slope[0]) * _noise_K(row, base)]
    y = row.mole_fraction
    if y is not None and _believable(row, y, layer, base):
        gaps.append(np.log(y / (1.0 - y)) - odds[0])
        designs.append(change[0] / (vapour[0] * (1.0 - vapour[0])) + (odds[2] - odds[1]) * moved)
        noises.append(_FRACTION_NOISE / (y * (1.0 - y)))
    rows = np.array(designs)
    gap = np.array(gaps) + rows @ near.reshape(-1)
    return _rows(rows, gap, np.array(noises), paper, one_sided=False)


def _believable(row: PrintedAzeotrope, y: float, layer: MovingLayer, base: MixtureArrays) -> bool:
    """Whether a printed vapour leaves the nearly pure liquid about the activity of a pure one."""
    assert row.temperature_K is not None
    if layer.purest < _NEARLY_PURE:
        return True
    share = y if layer.main == 0 else 1.0 - y
    pure = _pure_pressure(layer.main, row.temperature_K, base)
    low, high = _PURE_ACTIVITY
    return bool(low <= share * row.pressure_Pa / pure <= high)


def _pure_pressure(i: int, temperature: float, base: MixtureArrays) -> float:
    return float(np.exp(ln_vapour_pressure(i, base.vapour_pressure, temperature)))


def _noise_K(row: PrintedAzeotrope, base: MixtureArrays) -> float:
    """Standard deviation of a printed temperature: less beside a pure boiling point."""
    assert row.temperature_K is not None
    depth = float(np.min(np.abs(boiling_points(base, row.pressure_Pa) - row.temperature_K)))
    return min(_TEMPERATURE_NOISE_K, _DEPTH_NOISE[0] + _DEPTH_NOISE[1] * depth)


def _ends(row: PrintedAzeotrope, base: MixtureArrays, paper: int) -> Evidence:
    """On which side of 1 the volatility of either lies where it is infinitely dilute."""
    if np.any(base.dimerisation[:, 0] != 0.0):  # an azeotrope may stand between two equal signs
        return no_evidence()
    boiling = boiling_points(base, row.pressure_Pa)
    hotter = int(np.argmax(boiling))
    rows = []
    for pure in (0, 1):
        x = _END if pure == 1 else 1.0 - _END
        points = _points(np.array([x]), float(boiling[pure]), row.pressure_Pa, base)
        value, design = _ln_volatility(points, _BARE)
        own = 1.0 if pure == 1 else -1.0  # the volatility of the absent one over the pure one
        wanted = {"minimum": 1.0, "maximum": -1.0, "none": 1.0 if pure == hotter else -1.0}
        sign = wanted[row.kind] * own
        rows.append((sign * design[0], _MARGIN - sign * value[0]))
    designs, gaps = (np.array(column) for column in zip(*rows, strict=True))
    return _rows(designs, gaps, np.full(2, _END_NOISE), paper, one_sided=True)


def _ln_volatility(points: BasePoints, terms: Floats) -> tuple[Floats, Floats]:
    """Ln of the volatility of the first relative to the second, and its derivatives."""
    _, _, y, slope = corrected(points, terms)
    x = points.liquid_fraction
    return np.log(y * (1.0 - x) / ((1.0 - y) * x)), slope / (y * (1.0 - y))[:, None]


def _points(x: Floats, temperature: float, pressure: float, base: MixtureArrays) -> BasePoints:
    same = np.ones_like(x)
    table = MeasuredTable("printed azeotrope", "", temperature * same, pressure * same, x)
    return base_points([table], base)


def _boiling(x: float, pressure: float, base: MixtureArrays, terms: Floats) -> float:
    """Boiling temperature at a composition [K], by Newton's steps in ln P."""
    temperature = float(np.mean(boiling_points(base, pressure)))
    for _ in range(20):
        points = _points(np.array([x]), temperature, pressure, base)
        step = (np.log(pressure) - corrected(points, terms)[0][0]) / points.slope[0]
        temperature += float(np.clip(step, -30.0, 30.0))
        if abs(step) < 1e-6:
            break
    return temperature
