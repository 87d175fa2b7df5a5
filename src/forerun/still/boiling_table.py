"""What does not change while a run boils: the mixture arranged for the still's kernels.

The interaction of the groups, the pure liquids' residual parts and the latent heats stand in
tables of cubics over temperature, so that a stage finds its interval once and evaluates all of
it in one straight loop.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from forerun.equilibrium.arrays import MixtureArrays, scratch_for
from forerun.equilibrium.kernels import ln_activity
from forerun.equilibrium.liquid_liquid_kernels import binary_gap
from forerun.numerics.cubics import cubics
from forerun.still.activity_plane import NO_PLANE, activity_plane
from forerun.still.boiling_type import ENTHALPY_UNIT, LATENT_LOWEST, BoilingArrays
from forerun.substances.liquids import LiquidArrays

__all__ = ["boiling_arrays"]

Floats = npt.NDArray[np.float64]

_LATENT_LINES = 520
_NEAR_CRITICAL = 1.0  # K: the latent heat is held below the critical point by this much
_MIXTURES_KEPT = 8  # as the same arrays, so that an ensemble need not compare them
_GROUPS_KEPT = 16  # as equal arrays; a lab rarely distils more at once
_GAP_LOWEST, _GAP_WIDTH, _GAP_LINES = 273.15, 4.0, 45  # K, K: to 180 °C


_DISSOLVED = 1e-3  # mole fraction, a choice of this engine
_NEXT_TO_NOTHING = 4e-3  # mole fraction, at any temperature: then the same
_BEYOND = 1e9


def boiling_arrays(
    mixture: MixtureArrays,
    liquids: LiquidArrays,
    diluent: float = 0.0,
    two_liquids: bool = False,
) -> BoilingArrays:
    """Return the mixture arranged for the still.

    Args:
        mixture: as the equilibrium room gives it.
        liquids: latent heats of the components.
        diluent: what does not distil, in the pot [mol].
        two_liquids: whether a pair of components may stand as two liquids.

    Returns:
        Its arrays, C-contiguous. Latent heats err by less than 1e-9 between nodes, by 1e-6 within
        30 K of the critical point. What belongs to the groups is made once for all mixtures whose
        arrays are equal, as those of the members of an ensemble are.

    Source: Watson, Ind. Eng. Chem. 35 (1943) 398, doi:10.1021/ie50400a004, for the latent heats.
    """
    same = _Same(mixture)
    pair = two_liquids and mixture.volumes.shape[1] == 2
    gap = _gap(mixture) if pair else np.zeros((0, 4, 4))
    plane, plane_grid = NO_PLANE if pair else _plane(same)
    return _groups(same)._replace(
        vapour_pressure=np.ascontiguousarray(mixture.vapour_pressure),
        dimerisation=np.ascontiguousarray(mixture.dimerisation),
        pair_correction=np.ascontiguousarray(mixture.pair_correction),
        latent=_latent(_SameHeats(liquids.latent_heat)),
        gap_grid=np.array([_GAP_LOWEST, _GAP_WIDTH, *_saturated(gap)]),
        gap=gap,
        diluent=diluent,
        plane=plane,
        plane_grid=plane_grid,
    )


_SHARED = (
    "weights",
    "exponents",
    "volumes",
    "surfaces",
    "group_surfaces",
    "grid",
    "interaction",
    "pure_residual",
)
"""What of a mixture belongs to the groups, so that members of an ensemble share it."""


class _Same:
    """A mixture that counts as the same while its arrays for the groups are the same objects."""

    def __init__(self, mixture: MixtureArrays) -> None:
        self.mixture = mixture
        self._key = tuple([id(getattr(mixture, name)) for name in _SHARED])

    def __hash__(self) -> int:
        return hash(self._key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and self._key == other._key


class _Equal:
    """A mixture that counts as the same while its arrays for the groups are equal.

    Each time a sheet is made ready its arrays are made anew, with the same numbers in them.
    """

    def __init__(self, mixture: MixtureArrays) -> None:
        self.mixture = mixture
        small = (mixture.weights, mixture.volumes, mixture.group_surfaces)
        self._hash = hash(tuple(part.tobytes() for part in small))

    def __hash__(self) -> int:
        return self._hash

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Equal) and all(
            np.array_equal(getattr(self.mixture, name), getattr(other.mixture, name))
            for name in _SHARED
        )


class _SameHeats:
    """Latent heats that count as the same while they are equal."""

    def __init__(self, heats: Floats) -> None:
        self.heats = heats
        self._key = heats.tobytes()

    def __hash__(self) -> int:
        return hash(self._key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _SameHeats) and self._key == other._key


@lru_cache(maxsize=_MIXTURES_KEPT)
def _groups(same: _Same) -> BoilingArrays:
    """Return what belongs to the groups, and nothing yet of what differs between members."""
    return _groups_of(_Equal(same.mixture))


@lru_cache(maxsize=_GROUPS_KEPT)
def _groups_of(equal: _Equal) -> BoilingArrays:
    mixture = equal.mixture
    used = np.flatnonzero(mixture.weights != 0.0)
    weights = mixture.weights[used]
    surfaces = mixture.group_surfaces[used]
    groups = np.flatnonzero(surfaces.any(axis=(0, 1)))
    surfaces = surfaces[:, :, groups]
    r, q = mixture.volumes[used], mixture.surfaces[used]
    power = r ** mixture.exponents[used][:, None]
    by_model = [r, q, power, np.log(power), np.log(r / q), surfaces.sum(axis=2)]
    interaction = mixture.interaction[:, :, used][..., groups, :][..., groups]
    reach = np.einsum("mih,nkmhg->nkimg", surfaces, interaction)
    pure = np.einsum("m,nkmi->nki", weights, mixture.pure_residual[:, :, used])
    lines, components = interaction.shape[0], surfaces.shape[1]
    plane, plane_grid = NO_PLANE
    return BoilingArrays(
        vapour_pressure=np.zeros((components, 6)),
        dimerisation=np.zeros((components, 3)),
        grid=np.ascontiguousarray(mixture.grid),
        table=np.concatenate([reach.reshape(lines, 4, -1), pure], axis=2),
        areas=np.ascontiguousarray(surfaces.transpose(1, 0, 2).reshape(components, -1)),
        weight=np.repeat(weights, groups.size),
        models=np.ascontiguousarray(np.concatenate([weights[:, None], *by_model], axis=1)),
        pair_correction=np.zeros((components, components, 0, 2)),
        latent=np.zeros((1, 4, components)),
        gap_grid=np.zeros(4),
        gap=np.zeros((0, 4, 4)),
        diluent=0.0,
        plane=plane,
        plane_grid=plane_grid,
    )


@lru_cache(maxsize=_MIXTURES_KEPT)
def _plane(same: _Same) -> tuple[Floats, Floats]:
    """Return `plane` and `plane_grid` of `BoilingArrays`."""
    return _plane_of(_Equal(same.mixture))


@lru_cache(maxsize=_GROUPS_KEPT)
def _plane_of(equal: _Equal) -> tuple[Floats, Floats]:
    return activity_plane(_groups_of(equal))


@lru_cache(maxsize=_MIXTURES_KEPT)
def _latent(same: _SameHeats) -> Floats:
    """Return (L, 4, C) cubics of the latent heats by Watson's rule [`ENTHALPY_UNIT`]."""
    value, reference, critical, exponent = (column[None, :] for column in same.heats.T)
    nodes = LATENT_LOWEST + np.arange(_LATENT_LINES + 1)[:, None]
    below = np.maximum(critical - nodes, _NEAR_CRITICAL)
    values = value * (below / (critical - reference)) ** exponent / ENTHALPY_UNIT
    slopes = np.where(critical - nodes <= _NEAR_CRITICAL, 0.0, -exponent / below * values)
    return cubics(values, slopes)


def _gap(mixture: MixtureArrays) -> Floats:
    """Return (L, 4, 4) cubics of the two liquids of a pair and of the activities in both."""
    scratch = scratch_for(mixture)
    nodes = _GAP_LOWEST + _GAP_WIDTH * np.arange(_GAP_LINES + 1)
    values = np.full((nodes.size, 4), np.nan)
    ln_gamma, ends = np.zeros(2), np.zeros(2)
    for row, temperature in zip(values, nodes, strict=True):
        if not binary_gap(float(temperature), mixture, scratch, ends):
            continue
        row[:2] = ends
        # each activity from the liquid that is rich in it, where it is best known
        for i, end in enumerate((ends[1], ends[0])):
            x = np.array([1.0 / (1.0 + np.exp(-end)), 1.0 / (1.0 + np.exp(end))])
            ln_activity(float(temperature), x, mixture, scratch, ln_gamma)
            row[2 + i] = np.log(x[i]) + ln_gamma[i]
    if np.all(np.isnan(values)):
        return np.zeros((0, 4, 4))
    return cubics(values, np.gradient(values, axis=0))


def _saturated(gap: Floats) -> tuple[float, float]:
    """Return ln(x1/x2) beyond which a liquid that dissolves next to nothing counts as saturated.

    Where less than a thousandth dissolves, a stage of a millimole would pass from one liquid to
    two within microseconds; up to a thousandth is taken as dissolved there, at an activity in
    proportion.  What is in the vapour errs by no more than that share of the liquid.
    """
    ends = gap[:, 0, :2]
    if ends.size == 0 or not np.all(np.isfinite(ends)):
        return -_BEYOND, _BEYOND
    least = -math.log(_DISSOLVED)
    found = []
    for worst in (float(-ends[:, 0].max()), float(ends[:, 1].min())):
        found.append(min(least, worst) if worst > -math.log(_NEXT_TO_NOTHING) else _BEYOND)
    return -found[0], found[1]
